/*
 * The emulated V4L2: device nodes, ioctls and buffers by libumockdev. The kernel's part is modelled after
 * Documentation/userspace-api/media/v4l and linux/videodev2.h, as an analog grabber's driver would answer; no
 * kernel takes part, so how one behaves is an assumption here. tests/video/uvc.c has a real one.
 *
 * A node is a regular file with contents, so that what the program maps are pages that are shared with us:
 * the buffers lie in it one after the other. DQBUF is answered when there is a buffer, or at once where the
 * node was opened with O_NONBLOCK. poll() is not modelled: a regular file is always ready.
 */
#include "video/stage.h"

#if __has_include(<umockdev.h>)

#include "usb/usbfs.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/videodev2.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <umockdev.h>
#include <unistd.h>

enum { BUFFERS = 8, CLIENTS = 16, TUNER_UNIT_HZ = 62500, DEFERRED = -1 };

enum buffer_state { BUFFER_IDLE, BUFFER_QUEUED, BUFFER_DONE };

struct buffer {
    enum buffer_state state;
    uint64_t order; /* among those in the same state */
    uint32_t used, number, flags;
    uint64_t time_us;
};

struct node {
    struct grabber_device *device;
    UMockdevIoctlBase *handler;
    char *syspath;
    char path[32]; /* as the program opens it */
    char file[300];
    pthread_mutex_t lock;
    bool gone;
    UMockdevIoctlClient *clients[CLIENTS]; /* that have it open */
    int width, height;
    int input;
    v4l2_std_id standard;
    uint32_t pixels; /* V4L2_PIX_FMT_ */
    uint32_t frequency;
    const void *owner; /* client that has the buffers; NULL: nobody */
    bool streaming, nonblocking;
    struct buffer buffers[BUFFERS];
    uint32_t buffer_count;
    uint64_t orders;
    uint8_t *pages;
    size_t mapped;
    UMockdevIoctlClient *waiting; /* in DQBUF */
    UMockdevIoctlData *waiting_data;
    struct node *earlier; /* the same device, before it was unplugged */
    struct node *next;
};

/* All that ever were: small, and kept until the process ends, since whoever has one open may still ask. */
static struct node *nodes;

/* As v4l2_norm_to_name() of the kernel spells them; those that the device's inputs know. */
static const struct {
    v4l2_std_id id;
    const char *name;
    int lines, rate_num, rate_den;
} standards[] = {{V4L2_STD_NTSC, "NTSC", 525, 30000, 1001},
                 {V4L2_STD_NTSC_M, "NTSC-M", 525, 30000, 1001},
                 {V4L2_STD_NTSC_M_JP, "NTSC-M-JP", 525, 30000, 1001},
                 {V4L2_STD_PAL, "PAL", 625, 25, 1},
                 {V4L2_STD_PAL_BG, "PAL-BG", 625, 25, 1},
                 {V4L2_STD_SECAM, "SECAM", 625, 25, 1}};
enum { STANDARDS = sizeof standards / sizeof standards[0] };
static const v4l2_std_id all_standards = V4L2_STD_NTSC | V4L2_STD_PAL | V4L2_STD_SECAM;

static v4l2_std_id id_of(enum standard standard) {
    static const v4l2_std_id ids[STANDARD_COUNT] = {
        [STANDARD_NTSC] = V4L2_STD_NTSC, [STANDARD_PAL] = V4L2_STD_PAL, [STANDARD_SECAM] = V4L2_STD_SECAM};
    return ids[standard];
}

static bool right_standard(const struct node *node) {
    return (node->standard & id_of(node->device->feed.standard)) != 0;
}

static int frame_height(const struct node *node) {
    const bool short_frame = (node->standard & V4L2_STD_525_60) != 0;
    return right_standard(node) ? node->height
                                : standard_table[short_frame ? STANDARD_NTSC : STANDARD_PAL].frame_height;
}

static uint32_t image_size(const struct node *node) {
    return (uint32_t)(node->width * frame_height(node) * 2);
}

static size_t buffer_pitch(const struct node *node) {
    const size_t page = (size_t)sysconf(_SC_PAGESIZE);
    return (image_size(node) + page - 1) / page * page;
}

static bool is_lit(const struct node *node) {
    const struct grabber_device *device = node->device;
    const double tuned = node->frequency * (TUNER_UNIT_HZ / 1e6);
    return !device->no_signal && right_standard(node) && node->input == (int)device->cable &&
           (device->cable != INPUT_TUNER || fabs(tuned - device->channel_mhz) < 0.1);
}

/* ---- what it is, and what it is set to ---- */

static int query_capability(struct v4l2_capability *capability) {
    *capability = (struct v4l2_capability){
        .driver = "model",
        .card = "grabber",
        .bus_info = "usb-0000:00:14.0-3",
        .version = 0x060100,
        .capabilities = V4L2_CAP_VIDEO_CAPTURE | V4L2_CAP_STREAMING | V4L2_CAP_TUNER | V4L2_CAP_DEVICE_CAPS,
        .device_caps = V4L2_CAP_VIDEO_CAPTURE | V4L2_CAP_STREAMING | V4L2_CAP_TUNER};
    return 0;
}

static int enum_input(const struct node *node, struct v4l2_input *input) {
    const uint32_t index = input->index;
    if (index >= INPUTS) {
        return EINVAL;
    }
    *input =
        (struct v4l2_input){.index = index,
                            .type = index == INPUT_TUNER ? V4L2_INPUT_TYPE_TUNER : V4L2_INPUT_TYPE_CAMERA,
                            .std = all_standards,
                            .capabilities = V4L2_IN_CAP_STD};
    snprintf((char *)input->name, sizeof input->name, "%s", grabber_input_names[index]);
    if ((int)index == node->input && !is_lit(node)) {
        input->status = V4L2_IN_ST_NO_SIGNAL;
    }
    return 0;
}

static int set_input(struct node *node, int input) {
    if (input < 0 || input >= INPUTS) {
        return EINVAL;
    }
    node->input = input;
    return 0;
}

/* The core lists those of the input that it has words for. */
static int enum_standard(struct v4l2_standard *standard) {
    const uint32_t index = standard->index;
    if (index >= STANDARDS) {
        return EINVAL;
    }
    *standard = (struct v4l2_standard){
        .index = index,
        .id = standards[index].id,
        .frameperiod = {(uint32_t)standards[index].rate_den, (uint32_t)standards[index].rate_num},
        .framelines = (uint32_t)standards[index].lines};
    snprintf((char *)standard->name, sizeof standard->name, "%s", standards[index].name);
    return 0;
}

/* The frame's size follows it, so not while there are buffers. */
static int set_standard(struct node *node, v4l2_std_id standard) {
    if ((standard & all_standards) == 0) {
        return EINVAL;
    }
    if (node->owner != NULL && standard != node->standard) {
        return EBUSY;
    }
    node->standard = standard;
    return 0;
}

static void tell_format(const struct node *node, struct v4l2_format *format) {
    const bool compressed = node->pixels == V4L2_PIX_FMT_MJPEG;
    format->fmt.pix = (struct v4l2_pix_format){
        .width = (uint32_t)node->width,
        .height = (uint32_t)frame_height(node),
        .pixelformat = node->pixels,
        .field = frame_height(node) > FIELD_LINES_MAX ? V4L2_FIELD_INTERLACED : V4L2_FIELD_TOP,
        .bytesperline = compressed ? 0 : (uint32_t)node->width * 2,
        .sizeimage = image_size(node),
        .colorspace = V4L2_COLORSPACE_SMPTE170M};
}

static uint32_t own_pixels(const struct node *node) {
    return node->device->mjpeg ? V4L2_PIX_FMT_MJPEG : V4L2_PIX_FMT_YUYV;
}

/* It knows one size and one kind of pixel; a driver that is asked for another says what it has instead. */
static int try_format(const struct node *node, struct v4l2_format *format) {
    if (format->type != V4L2_BUF_TYPE_VIDEO_CAPTURE) {
        return EINVAL;
    }
    tell_format(node, format);
    return 0;
}

static int set_format(struct node *node, struct v4l2_format *format, const void *client) {
    if (node->owner != NULL && node->owner != client) {
        return EBUSY;
    }
    return try_format(node, format);
}

static int enum_format(const struct node *node, struct v4l2_fmtdesc *format) {
    if (format->index > 0 || format->type != V4L2_BUF_TYPE_VIDEO_CAPTURE) {
        return EINVAL;
    }
    format->pixelformat = own_pixels(node);
    format->flags = node->device->mjpeg ? V4L2_FMT_FLAG_COMPRESSED : 0;
    snprintf((char *)format->description, sizeof format->description, "%s",
             node->device->mjpeg ? "Motion-JPEG" : "YUYV 4:2:2");
    return 0;
}

static int enum_size(const struct node *node, struct v4l2_frmsizeenum *size) {
    if (size->index > 0 || size->pixel_format != own_pixels(node)) {
        return EINVAL;
    }
    size->type = V4L2_FRMSIZE_TYPE_DISCRETE;
    size->discrete = (struct v4l2_frmsize_discrete){(uint32_t)node->width, (uint32_t)frame_height(node)};
    return 0;
}

static int get_parameters(const struct node *node, struct v4l2_streamparm *parameters) {
    if (parameters->type != V4L2_BUF_TYPE_VIDEO_CAPTURE) {
        return EINVAL;
    }
    const struct standard_facts *facts =
        &standard_table[(node->standard & V4L2_STD_525_60) != 0 ? STANDARD_NTSC : STANDARD_PAL];
    parameters->parm.capture = (struct v4l2_captureparm){
        .readbuffers = 2, .timeperframe = {(uint32_t)facts->frame_rate_den, (uint32_t)facts->frame_rate_num}};
    return 0;
}

static int get_tuner(const struct node *node, struct v4l2_tuner *tuner) {
    if (tuner->index != 0) {
        return EINVAL;
    }
    *tuner = (struct v4l2_tuner){.type = V4L2_TUNER_ANALOG_TV,
                                 .capability = V4L2_TUNER_CAP_NORM,
                                 .rangelow = 44000000 / TUNER_UNIT_HZ,
                                 .rangehigh = 958000000U / TUNER_UNIT_HZ,
                                 .signal = is_lit(node) ? 0xFFFF : 0};
    snprintf((char *)tuner->name, sizeof tuner->name, "Television");
    return 0;
}

static int set_frequency(struct node *node, const struct v4l2_frequency *frequency) {
    if (frequency->tuner != 0 || frequency->type != V4L2_TUNER_ANALOG_TV) {
        return EINVAL;
    }
    node->frequency = frequency->frequency;
    return 0;
}

/* ---- buffers ---- */

static int request_buffers(struct node *node, struct v4l2_requestbuffers *request, const void *client) {
    if (request->type != V4L2_BUF_TYPE_VIDEO_CAPTURE || request->memory != V4L2_MEMORY_MMAP) {
        return EINVAL;
    }
    if (node->owner != NULL && node->owner != client) {
        return EBUSY;
    }
    request->count = request->count < BUFFERS ? request->count : BUFFERS;
    if (node->pages != NULL) {
        munmap(node->pages, node->mapped);
        node->pages = NULL;
    }
    memset(node->buffers, 0, sizeof node->buffers);
    node->buffer_count = request->count;
    node->owner = request->count > 0 ? client : NULL;
    if (request->count == 0) {
        return 0;
    }
    node->mapped = buffer_pitch(node) * request->count;
    const int file = open(node->file, O_RDWR | O_CLOEXEC);
    if (file < 0 || ftruncate(file, (off_t)node->mapped) != 0) {
        return ENOMEM;
    }
    void *pages = mmap(NULL, node->mapped, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
    close(file);
    node->pages = pages != MAP_FAILED ? pages : NULL;
    return node->pages != NULL ? 0 : ENOMEM;
}

static void tell_buffer(const struct node *node, uint32_t index, struct v4l2_buffer *out) {
    static const uint32_t flags[] = {
        [BUFFER_IDLE] = 0, [BUFFER_QUEUED] = V4L2_BUF_FLAG_QUEUED, [BUFFER_DONE] = V4L2_BUF_FLAG_DONE};
    const struct buffer *buffer = &node->buffers[index];
    *out = (struct v4l2_buffer){
        .index = index,
        .type = V4L2_BUF_TYPE_VIDEO_CAPTURE,
        .bytesused = buffer->used,
        .flags =
            buffer->flags | flags[buffer->state] | V4L2_BUF_FLAG_MAPPED | V4L2_BUF_FLAG_TIMESTAMP_MONOTONIC,
        .field = V4L2_FIELD_INTERLACED,
        .timestamp = {(time_t)(buffer->time_us / 1000000), (suseconds_t)(buffer->time_us % 1000000)},
        .sequence = buffer->number,
        .memory = V4L2_MEMORY_MMAP,
        .m.offset = (uint32_t)(index * buffer_pitch(node)),
        .length = image_size(node)};
}

static int query_buffer(const struct node *node, struct v4l2_buffer *buffer) {
    if (buffer->index >= node->buffer_count) {
        return EINVAL;
    }
    tell_buffer(node, buffer->index, buffer);
    return 0;
}

static int queue_buffer(struct node *node, struct v4l2_buffer *out) {
    if (out->index >= node->buffer_count || node->buffers[out->index].state != BUFFER_IDLE) {
        return EINVAL;
    }
    node->buffers[out->index].state = BUFFER_QUEUED;
    node->buffers[out->index].order = node->orders++;
    tell_buffer(node, out->index, out);
    return 0;
}

/* Its index, or -1. */
static int oldest(const struct node *node, enum buffer_state state) {
    int found = -1;
    for (uint32_t i = 0; i < node->buffer_count; i++) {
        if (node->buffers[i].state == state &&
            (found < 0 || node->buffers[i].order < node->buffers[found].order)) {
            found = (int)i;
        }
    }
    return found;
}

static int dequeue_buffer(struct node *node, struct v4l2_buffer *out) {
    const int index = oldest(node, BUFFER_DONE);
    if (!node->streaming) {
        return EINVAL;
    }
    if (index < 0) {
        return node->nonblocking ? EAGAIN : DEFERRED;
    }
    node->buffers[index].state = BUFFER_IDLE;
    tell_buffer(node, (uint32_t)index, out);
    return 0;
}

/* Of a descriptor, by its file in /proc. */
static unsigned flags_told(const char *path) {
    char text[200];
    unsigned flags = 0;
    const int file = open(path, O_RDONLY | O_CLOEXEC);
    const ssize_t length = file >= 0 ? read(file, text, sizeof text - 1) : 0;
    if (file >= 0) {
        close(file);
    }
    text[length > 0 ? length : 0] = '\0';
    return sscanf(text, "pos: %*d flags: %o", &flags) == 1 ? flags : 0;
}

/* umockdev does not say how a node was opened; the opener's descriptor does. */
static bool opened_nonblocking(const char *process, const char *file) {
    char path[600], target[300];
    bool found = false;
    snprintf(path, sizeof path, "/proc/%s/fd", process);
    DIR *entries = opendir(path);
    for (struct dirent *entry = entries != NULL ? readdir(entries) : NULL; entry != NULL && !found;
         entry = readdir(entries)) {
        snprintf(path, sizeof path, "/proc/%s/fd/%s", process, entry->d_name);
        const ssize_t length = readlink(path, target, sizeof target - 1);
        if (length <= 0 || strncmp(target, file, (size_t)length) != 0 || file[length] != '\0') {
            continue;
        }
        snprintf(path, sizeof path, "/proc/%s/fdinfo/%s", process, entry->d_name);
        found = (flags_told(path) & O_NONBLOCK) != 0;
    }
    if (entries != NULL) {
        closedir(entries);
    }
    return found;
}

static bool anyone_nonblocking(const char *file) {
    bool found = false;
    DIR *entries = opendir("/proc");
    for (struct dirent *entry = entries != NULL ? readdir(entries) : NULL; entry != NULL && !found;
         entry = readdir(entries)) {
        found = entry->d_name[0] >= '1' && entry->d_name[0] <= '9' && opened_nonblocking(entry->d_name, file);
    }
    if (entries != NULL) {
        closedir(entries);
    }
    return found;
}

static int stream_on(struct node *node) {
    if (node->buffer_count == 0) {
        return EINVAL;
    }
    node->nonblocking = anyone_nonblocking(node->file);
    node->streaming = true;
    return 0;
}

static int stream_off(struct node *node) {
    node->streaming = false;
    for (uint32_t i = 0; i < node->buffer_count; i++) {
        node->buffers[i].state = BUFFER_IDLE;
    }
    return 0;
}

/* umockdev has no word for a client that closed its node (the signal client-vanished is never given), so it
 * is looked for. With the lock held. Returns how many are left. */
static int drop_closed(struct node *node) {
    int left = 0;
    for (int i = 0; i < CLIENTS; i++) {
        UMockdevIoctlClient *client = node->clients[i];
        if (client == NULL) {
            continue;
        }
        if (umockdev_ioctl_client_get_connected(client)) {
            left++;
            continue;
        }
        if (node->owner == client) {
            stream_off(node);
            node->owner = NULL;
            node->buffer_count = 0;
        }
        g_object_unref(client);
        node->clients[i] = NULL;
    }
    return left;
}

static void remember(struct node *node, UMockdevIoctlClient *client) {
    int at = -1;
    drop_closed(node);
    for (int i = 0; i < CLIENTS; i++) {
        if (node->clients[i] == client) {
            return;
        }
        at = node->clients[i] == NULL ? i : at;
    }
    if (at >= 0) {
        node->clients[at] = g_object_ref(client);
    }
}

/* ---- ioctls ---- */

static int answer_buffers(struct node *node, const void *client, unsigned long request, void *data) {
    const bool streams = request != VIDIOC_REQBUFS;
    if (streams && node->owner != client) {
        return node->owner == NULL ? EINVAL : EBUSY;
    }
    switch (request) {
    case VIDIOC_REQBUFS:
        return request_buffers(node, data, client);
    case VIDIOC_QUERYBUF:
        return query_buffer(node, data);
    case VIDIOC_QBUF:
        return queue_buffer(node, data);
    case VIDIOC_DQBUF:
        return dequeue_buffer(node, data);
    case VIDIOC_STREAMON:
        return stream_on(node);
    case VIDIOC_STREAMOFF:
        return stream_off(node);
    default:
        return ENOTTY;
    }
}

static int answer_analog(struct node *node, unsigned long request, void *data) {
    switch (request) {
    case VIDIOC_ENUMINPUT:
        return enum_input(node, data);
    case VIDIOC_G_INPUT:
        *(int *)data = node->input;
        return 0;
    case VIDIOC_S_INPUT:
        return set_input(node, *(int *)data);
    case VIDIOC_ENUMSTD:
        return enum_standard(data);
    case VIDIOC_G_STD:
        *(v4l2_std_id *)data = node->standard;
        return 0;
    case VIDIOC_S_STD:
        return set_standard(node, *(v4l2_std_id *)data);
    case VIDIOC_QUERYSTD: /* what it finds in the signal; 0: nothing */
        *(v4l2_std_id *)data = is_lit(node) ? id_of(node->device->feed.standard) : 0;
        return 0;
    case VIDIOC_G_TUNER:
        return get_tuner(node, data);
    case VIDIOC_G_FREQUENCY:
        *(struct v4l2_frequency *)data =
            (struct v4l2_frequency){.type = V4L2_TUNER_ANALOG_TV, .frequency = node->frequency};
        return 0;
    case VIDIOC_S_FREQUENCY:
        return set_frequency(node, data);
    default:
        return ENOTTY;
    }
}

/* An errno, 0, or DEFERRED. */
static int answer(struct node *node, const void *client, unsigned long request, void *data) {
    switch (request) {
    case VIDIOC_QUERYCAP:
        return query_capability(data);
    case VIDIOC_G_FMT:
    case VIDIOC_TRY_FMT:
        return try_format(node, data);
    case VIDIOC_S_FMT:
        return set_format(node, data, client);
    case VIDIOC_ENUM_FMT:
        return enum_format(node, data);
    case VIDIOC_ENUM_FRAMESIZES:
        return enum_size(node, data);
    case VIDIOC_G_PARM:
    case VIDIOC_S_PARM:
        return get_parameters(node, data);
    case VIDIOC_REQBUFS:
    case VIDIOC_QUERYBUF:
    case VIDIOC_QBUF:
    case VIDIOC_DQBUF:
    case VIDIOC_STREAMON:
    case VIDIOC_STREAMOFF:
        return answer_buffers(node, client, request, data);
    default:
        return answer_analog(node, request, data);
    }
}

/* FFmpeg passes requests as they are; others sign-extend what has bit 31. */
static gboolean on_ioctl(UMockdevIoctlBase *base, UMockdevIoctlClient *client, gpointer user) {
    (void)base;
    struct node *node = user;
    const unsigned long request = umockdev_ioctl_client_get_request(client) & 0xFFFFFFFFUL;
    UMockdevIoctlData *arg = umockdev_ioctl_client_get_arg(client);
    UMockdevIoctlData *data = umockdev_ioctl_data_resolve(arg, 0, _IOC_SIZE(request), NULL);
    int error = EFAULT;
    pthread_mutex_lock(&node->lock);
    remember(node, client);
    if (node->gone) {
        error = ENODEV;
    } else if (data != NULL) {
        error = answer(node, client, request, data->data);
    }
    if (error == DEFERRED) {
        node->waiting = g_object_ref(client);
        node->waiting_data = g_object_ref(data);
    }
    pthread_mutex_unlock(&node->lock);
    if (error != DEFERRED) {
        umockdev_ioctl_client_complete(client, error == 0 ? 0 : -1, error);
    }
    if (data != NULL) {
        g_object_unref(data);
    }
    return TRUE;
}

/* With the lock held: whoever waits in DQBUF goes on. */
static void wake(struct node *node) {
    if (node->waiting == NULL) {
        return;
    }
    const int error = node->gone ? ENODEV : dequeue_buffer(node, (void *)node->waiting_data->data);
    if (error == DEFERRED) {
        return;
    }
    umockdev_ioctl_client_complete(node->waiting, error == 0 ? 0 : -1, error);
    g_object_unref(node->waiting_data);
    g_object_unref(node->waiting);
    node->waiting = NULL;
}

/* ---- frames ---- */

static bool wants(void *state, struct feed_wish *wish) {
    struct grabber_device *device = state;
    struct node *node = device->carried;
    pthread_mutex_lock(&node->lock);
    drop_closed(node);
    const bool wanted = node->streaming && !node->gone;
    *wish = (struct feed_wish){.mjpeg = node->pixels == V4L2_PIX_FMT_MJPEG, .dark = !is_lit(node)};
    pthread_mutex_unlock(&node->lock);
    return wanted;
}

/* A frame may be given twice. */
static bool full(void *state) {
    enum { ROOM = 2 };
    struct grabber_device *device = state;
    struct node *node = device->carried;
    uint32_t queued = 0;
    pthread_mutex_lock(&node->lock);
    for (uint32_t i = 0; i < node->buffer_count; i++) {
        queued += node->buffers[i].state == BUFFER_QUEUED;
    }
    const bool behind = node->streaming && !node->gone && node->buffer_count >= ROOM && queued < ROOM;
    pthread_mutex_unlock(&node->lock);
    return behind;
}

/* A frame of the other standard's size is dark, so that any part of this one will do. */
static void fill(uint8_t *to, const struct feed_frame *frame, size_t size) {
    for (size_t at = 0; at < size; at += frame->size) {
        memcpy(to + at, frame->bytes, size - at < frame->size ? size - at : frame->size);
    }
}

static void give(void *state, const struct feed_frame *frame) {
    struct grabber_device *device = state;
    struct node *node = device->carried;
    pthread_mutex_lock(&node->lock);
    const int index = node->streaming ? oldest(node, BUFFER_QUEUED) : -1;
    if (index >= 0) { /* else nobody had a buffer for it: a gap */
        struct buffer *buffer = &node->buffers[index];
        size_t size = frame->size;
        if (!right_standard(node) && size > 0 && node->pixels == V4L2_PIX_FMT_YUYV) {
            size = image_size(node);
        }
        fill(node->pages + (size_t)index * buffer_pitch(node), frame, size);
        *buffer = (struct buffer){.state = BUFFER_DONE,
                                  .order = node->orders++,
                                  .used = (uint32_t)size,
                                  .number = frame->number,
                                  .flags = frame->marked ? V4L2_BUF_FLAG_ERROR : 0,
                                  .time_us = frame->time_us};
        wake(node);
    }
    pthread_mutex_unlock(&node->lock);
}

/* ---- plugging ---- */

/* The lowest number that no open node has: a kernel keeps that of a device that is gone while somebody still
 * has it open. */
static int free_number(struct node *before) {
    int number = 0;
    for (struct node *node = before; node != NULL; node = node->earlier) {
        const int taken = atoi(node->path + strlen("/dev/video"));
        pthread_mutex_lock(&node->lock);
        number = drop_closed(node) > 0 && taken >= number ? taken + 1 : number;
        pthread_mutex_unlock(&node->lock);
    }
    return number;
}

static bool add_node(struct node *node, int number) {
    UMockdevTestbed *testbed = usbfs_testbed();
    char description[400];
    GError *error = NULL;
    snprintf(node->path, sizeof node->path, "/dev/video%d", number);
    snprintf(description, sizeof description,
             "P: /devices/pci0000:00/0000:00:14.0/grabber/video4linux/video%d\nN: video%d=00\n"
             "E: SUBSYSTEM=video4linux\nE: DEVNAME=%s\nA: name=grabber\\n\nA: index=0\\n\n",
             number, number, node->path);
    node->syspath =
        g_strdup_printf("/sys/devices/pci0000:00/0000:00:14.0/grabber/video4linux/video%d", number);
    char *root = umockdev_testbed_get_root_dir(testbed);
    snprintf(node->file, sizeof node->file, "%s%s", root, node->path);
    g_free(root);
    node->handler = umockdev_ioctl_base_new();
    g_signal_connect(node->handler, "handle-ioctl", G_CALLBACK(on_ioctl), node);
    if (!umockdev_testbed_add_from_string(testbed, description, &error) ||
        !umockdev_testbed_attach_ioctl(testbed, node->path, node->handler, &error)) {
        fprintf(stderr, "%s: %s\n", node->path, error->message);
        g_error_free(error);
        return false;
    }
    umockdev_testbed_uevent(testbed, node->syspath, "add");
    return true;
}

static bool plug(struct grabber_device *device) {
    struct node *node = calloc(1, sizeof *node);
    struct video_about about;
    if (node == NULL) {
        return false;
    }
    video_tell(&device->source, &about, NULL);
    *node = (struct node){.device = device,
                          .width = about.width,
                          .height = about.height,
                          .input = (int)device->stands_on,
                          .standard = id_of(device->stands_at),
                          .earlier = device->carried};
    node->pixels = own_pixels(node);
    pthread_mutex_init(&node->lock, NULL);
    if (!add_node(node, free_number(device->carried))) {
        return false;
    }
    snprintf(device->node, sizeof device->node, "%s", node->path);
    device->carried = node;
    node->next = nodes;
    nodes = node;
    return true;
}

static void unplug(struct grabber_device *device) {
    struct node *node = device->carried;
    pthread_mutex_lock(&node->lock);
    const bool already = node->gone;
    node->gone = true;
    node->streaming = false;
    wake(node);
    pthread_mutex_unlock(&node->lock);
    if (already) {
        return;
    }
    UMockdevTestbed *testbed = usbfs_testbed();
    umockdev_testbed_detach_ioctl(testbed, node->path, NULL);
    umockdev_testbed_uevent(testbed, node->syspath, "remove");
    umockdev_testbed_remove_device(testbed, node->syspath);
}

static void feed_unplug(void *state) {
    unplug(state);
}

static void feed_plug(void *state) {
    plug(state);
}

static struct feed_taker taker(struct grabber_device *device) {
    return (struct feed_taker){.state = device,
                               .wants = wants,
                               .give = give,
                               .full = full,
                               .unplug = feed_unplug,
                               .plug = feed_plug};
}

static void forget(struct grabber_device *device) {
    for (struct node *node = device->carried; node != NULL; node = node->earlier) {
        if (node->pages != NULL) {
            munmap(node->pages, node->mapped);
            node->pages = NULL;
        }
    }
}

#else

static bool plug(struct grabber_device *device) {
    (void)device;
    return false;
}
static void unplug(struct grabber_device *device) {
    (void)device;
}
static struct feed_taker taker(struct grabber_device *device) {
    return (struct feed_taker){.state = device};
}
static void forget(struct grabber_device *device) {
    (void)device;
}

#endif

const struct grabber_carrier grabber_v4l2 = {.name = "emulated V4L2",
                                             .analog = true,
                                             .gives_damaged = true,
                                             .keeps_time = true,
                                             .plug = plug,
                                             .unplug = unplug,
                                             .taker = taker,
                                             .forget = forget};
