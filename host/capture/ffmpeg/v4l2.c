#include "capture/ffmpeg/v4l2.h"

#ifdef __linux__

#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/videodev2.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/ioctl.h>
#include <unistd.h>

enum { ENTRIES_MAX = 64 /* of a driver's lists */, WIDTH = 720 /* [S ITU-R BT.601] */, WIDTH_LEAST = 320 };

struct device {
    int file;
    const char *told;
    const struct video_request *request;
    struct v4l2_input input;
    bool has_input;
    struct v4l2_found *found;
};

static int ask(int file, unsigned long what, void *with) {
    int code;
    do {
        code = ioctl(file, what, with);
    } while (code < 0 && errno == EINTR);
    return code;
}

static bool refuse(const struct device *device, const char *what, struct problem *problem) {
    int code = errno;
    if (code == EBUSY) {
        return problem_set(problem, PROBLEM_BENCH,
                           "%s: %s: the device is busy; end the other program that uses it", device->told,
                           what);
    }
    if (code == ENODEV || code == ENXIO) {
        return problem_set(problem, PROBLEM_BENCH, "%s: %s: the device is gone; see to its plug and cable",
                           device->told, what);
    }
    return problem_set(problem, PROBLEM_BENCH, "%s: %s: %s; unplug the device and plug it in again",
                       device->told, what, strerror(code));
}

/* The inputs' names, for a message. */
static void list_inputs(const struct device *device, char *text, size_t size) {
    size_t length = 0;
    text[0] = '\0';
    for (unsigned i = 0; i < ENTRIES_MAX && length < size; i++) {
        struct v4l2_input input = {.index = i};
        if (ask(device->file, VIDIOC_ENUMINPUT, &input) < 0) {
            break;
        }
        length += (size_t)snprintf(text + length, size - length, "%s%u (%.31s)", i > 0 ? ", " : "", i,
                                   (const char *)input.name);
    }
}

/* By number, or by name whatever its case. */
static bool is_named(const struct v4l2_input *input, const char *name) {
    char *end;
    unsigned long number = strtoul(name, &end, 10);
    bool is_number = isdigit((unsigned char)name[0]) && *end == '\0';
    return is_number ? number == input->index : strcasecmp(name, (const char *)input->name) == 0;
}

static bool find_input(const struct device *device, struct v4l2_input *input, struct problem *problem) {
    char list[300];
    for (unsigned i = 0; i < ENTRIES_MAX; i++) {
        *input = (struct v4l2_input){.index = i};
        if (ask(device->file, VIDIOC_ENUMINPUT, input) < 0) {
            break;
        }
        if (is_named(input, device->request->input)) {
            return true;
        }
    }
    list_inputs(device, list, sizeof list);
    return problem_set(problem, PROBLEM_INPUT, "%s: no input `%s'; it has: %s", device->told,
                       device->request->input, list[0] != '\0' ? list : "none to choose");
}

static bool choose_input(struct device *device, struct problem *problem) {
    int index = 0;
    bool asked = device->request->input != NULL && device->request->input[0] != '\0';
    bool known = ask(device->file, VIDIOC_G_INPUT, &index) == 0;
    if (asked) {
        if (!find_input(device, &device->input, problem)) {
            return false;
        }
        if (!known || index != (int)device->input.index) {
            index = (int)device->input.index;
            if (ask(device->file, VIDIOC_S_INPUT, &index) < 0) {
                return refuse(device, "its input cannot be chosen", problem);
            }
        }
        known = true;
    }
    device->input = (struct v4l2_input){.index = (unsigned)index};
    device->has_input = known && ask(device->file, VIDIOC_ENUMINPUT, &device->input) == 0;
    if (device->has_input) {
        snprintf(device->found->input, sizeof device->found->input, "%s", (const char *)device->input.name);
    }
    return true;
}

/* Of a set of standards that a driver means as one thing. */
static const char *standard_text(v4l2_std_id set) {
    static const struct {
        v4l2_std_id set;
        const char *name;
    } names[] = {{V4L2_STD_NTSC, "NTSC"},     {V4L2_STD_NTSC_443, "NTSC-443"},
                 {V4L2_STD_PAL_M, "PAL-M"},   {V4L2_STD_PAL_N | V4L2_STD_PAL_Nc, "PAL-N"},
                 {V4L2_STD_PAL_60, "PAL-60"}, {V4L2_STD_PAL, "PAL"},
                 {V4L2_STD_SECAM, "SECAM"},   {V4L2_STD_525_60, "525/60"},
                 {V4L2_STD_625_50, "625/50"}};
    for (size_t i = 0; set != 0 && i < sizeof names / sizeof names[0]; i++) {
        if ((set & ~names[i].set) == 0) {
            return names[i].name;
        }
    }
    return "";
}

/* What the console's standard is to the device. SECAM's frames are PAL's but for the colour, so where a
 * device has no SECAM, PAL shows the cells. */
static v4l2_std_id wanted_set(enum standard standard, v4l2_std_id offered) {
    static const v4l2_std_id sets[STANDARD_COUNT] = {
        [STANDARD_NTSC] = V4L2_STD_NTSC, [STANDARD_PAL] = V4L2_STD_PAL, [STANDARD_SECAM] = V4L2_STD_SECAM};
    v4l2_std_id set = sets[standard];
    if (standard == STANDARD_SECAM && offered != 0 && (set & offered) == 0) {
        set = V4L2_STD_PAL;
    }
    return offered != 0 ? set & offered : set;
}

/* A device that knows no standards (many that digitise by themselves) is left as it is. */
static bool set_standard(struct device *device, struct problem *problem) {
    v4l2_std_id now = 0;
    v4l2_std_id offered = device->has_input ? device->input.std : 0;
    bool knows = ask(device->file, VIDIOC_G_STD, &now) == 0;
    if (!knows && offered == 0) {
        return true;
    }
    v4l2_std_id wanted = wanted_set(device->request->standard, offered);
    if (wanted == 0) {
        return problem_set(
            problem, PROBLEM_INPUT, "%s: input %s cannot take %s; choose another input, or another grabber",
            device->told, device->found->input, standard_table[device->request->standard].name);
    }
    if ((!knows || (now & wanted) == 0 || (now & ~wanted) != 0) &&
        ask(device->file, VIDIOC_S_STD, &wanted) < 0 && errno != ENOTTY) {
        return refuse(device, "its standard cannot be set", problem);
    }
    now = wanted;
    if (ask(device->file, VIDIOC_G_STD, &now) < 0) {
        now = wanted;
    }
    snprintf(device->found->standard, sizeof device->found->standard, "%s", standard_text(now));
    v4l2_std_id seen = 0;
    if (ask(device->file, VIDIOC_QUERYSTD, &seen) == 0) {
        snprintf(device->found->detected, sizeof device->found->detected, "%s", standard_text(seen));
    }
    return true;
}

/* Units are 62.5 kHz, or 62.5 Hz where the tuner says so [Linux media documentation, VIDIOC_G_FREQUENCY]. */
static bool set_frequency(struct device *device, struct problem *problem) {
    double megahertz = device->request->frequency_mhz;
    if (megahertz == 0) {
        return true;
    }
    if (!device->has_input || device->input.type != V4L2_INPUT_TYPE_TUNER) {
        char list[300];
        list_inputs(device, list, sizeof list);
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: a frequency is set, but input %s has no tuner; choose one of: %s",
                           device->told, device->found->input, list);
    }
    struct v4l2_tuner tuner = {.index = device->input.tuner};
    if (ask(device->file, VIDIOC_G_TUNER, &tuner) < 0) {
        return refuse(device, "its tuner does not answer", problem);
    }
    double unit = (tuner.capability & V4L2_TUNER_CAP_LOW) != 0 ? 62.5e-6 : 62.5e-3;
    double units = round(megahertz / unit);
    if (units < tuner.rangelow || (tuner.rangehigh > 0 && units > tuner.rangehigh)) {
        return problem_set(problem, PROBLEM_INPUT, "%s: its tuner takes %.2f to %.2f MHz, not %.2f",
                           device->told, tuner.rangelow * unit, tuner.rangehigh * unit, megahertz);
    }
    struct v4l2_frequency frequency = {
        .tuner = device->input.tuner, .type = V4L2_TUNER_ANALOG_TV, .frequency = (unsigned)units};
    return ask(device->file, VIDIOC_S_FREQUENCY, &frequency) == 0 ||
           refuse(device, "its tuner cannot be set", problem);
}

static const struct {
    unsigned code;
    const char *name; /* FFmpeg's */
} pixels[] = {
    {V4L2_PIX_FMT_YUYV, "yuyv422"},    {V4L2_PIX_FMT_UYVY, "uyvy422"},   {V4L2_PIX_FMT_MJPEG, "mjpeg"},
    {V4L2_PIX_FMT_JPEG, "mjpeg"},      {V4L2_PIX_FMT_YUV420, "yuv420p"}, {V4L2_PIX_FMT_NV12, "nv12"},
    {V4L2_PIX_FMT_YUV422P, "yuv422p"}, {V4L2_PIX_FMT_YVU420, "yuv420p"}, {V4L2_PIX_FMT_GREY, "gray"}};

static const char *pixel_name(unsigned code) {
    for (size_t i = 0; i < sizeof pixels / sizeof pixels[0]; i++) {
        if (pixels[i].code == code) {
            return pixels[i].name;
        }
    }
    return NULL;
}

static unsigned pixel_code(const char *name) {
    for (size_t i = 0; i < sizeof pixels / sizeof pixels[0]; i++) {
        if (strcmp(pixels[i].name, name) == 0) {
            return pixels[i].code;
        }
    }
    return 0;
}

/* Whether a device stands at a size that a picture of the standard can be found in. */
static bool is_sensible(const struct v4l2_pix_format *pix, int frame_height) {
    int height = (int)pix->height;
    bool fits = height == frame_height || height == frame_height / 2;
    return fits && pix->width >= WIDTH_LEAST;
}

static void wish_format(const struct device *device, struct v4l2_pix_format *pix) {
    const struct video_request *request = device->request;
    int height = standard_table[request->standard].frame_height;
    bool sensible = is_sensible(pix, height);
    pix->width = request->width > 0 ? (unsigned)request->width : sensible ? pix->width : WIDTH;
    pix->height = request->height > 0 ? (unsigned)request->height : sensible ? pix->height : (unsigned)height;
    if (request->pixel != NULL && request->pixel[0] != '\0') {
        unsigned code = pixel_code(request->pixel);
        pix->pixelformat = code != 0 ? code : pix->pixelformat;
    } else if (pixel_name(pix->pixelformat) == NULL) {
        pix->pixelformat = V4L2_PIX_FMT_YUYV;
    }
    if (pix->height > FIELD_LINES_MAX) {
        pix->field = V4L2_FIELD_INTERLACED; /* where it has a say */
    }
    pix->bytesperline = 0;
    pix->sizeimage = 0;
}

/* What the device makes of the wishes counts; FFmpeg is told that. */
static bool set_format(struct device *device, struct problem *problem) {
    struct v4l2_format format = {.type = V4L2_BUF_TYPE_VIDEO_CAPTURE};
    if (ask(device->file, VIDIOC_G_FMT, &format) < 0) {
        return refuse(device, "its size cannot be read", problem);
    }
    wish_format(device, &format.fmt.pix);
    if (ask(device->file, VIDIOC_S_FMT, &format) < 0) {
        if (errno == EBUSY || errno == ENODEV) {
            return refuse(device, "its size cannot be set", problem);
        }
        if (ask(device->file, VIDIOC_G_FMT, &format) < 0) {
            return refuse(device, "its size cannot be read", problem);
        }
    }
    const char *name = pixel_name(format.fmt.pix.pixelformat);
    device->found->width = (int)format.fmt.pix.width;
    device->found->height = (int)format.fmt.pix.height;
    snprintf(device->found->pixel, sizeof device->found->pixel, "%s", name != NULL ? name : "");
    return true;
}

static bool check_request(const struct device *device, struct problem *problem) {
    const struct video_request *request = device->request;
    const struct v4l2_found *found = device->found;
    bool size_asked = request->width > 0 && request->height > 0;
    if (size_asked && (found->width != request->width || found->height != request->height)) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s: it gives frames of %d by %d, not of %d by %d; leave the size out, or give that",
            device->told, found->width, found->height, request->width, request->height);
    }
    bool pixel_asked = request->pixel != NULL && request->pixel[0] != '\0' && pixel_code(request->pixel) != 0;
    if (pixel_asked && strcmp(request->pixel, found->pixel) != 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: it gives %s, not %s; leave the kind of pixel out, or give that", device->told,
                           found->pixel[0] != '\0' ? found->pixel : "another kind of pixel", request->pixel);
    }
    return true;
}

static bool check_device(const struct device *device, struct problem *problem) {
    struct v4l2_capability capability = {0};
    if (ask(device->file, VIDIOC_QUERYCAP, &capability) < 0) {
        return errno == ENODEV
                   ? refuse(device, "it does not answer", problem)
                   : problem_set(problem, PROBLEM_INPUT,
                                 "%s: no video device; name one, as in v4l2:/dev/video0", device->told);
    }
    unsigned can = (capability.capabilities & V4L2_CAP_DEVICE_CAPS) != 0 ? capability.device_caps
                                                                         : capability.capabilities;
    if ((can & V4L2_CAP_VIDEO_CAPTURE) == 0 || (can & V4L2_CAP_STREAMING) == 0) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s: it does not capture video (some devices have a second node for other data); try "
            "the next /dev/video",
            device->told);
    }
    return true;
}

static bool open_file(struct device *device, const char *path, struct problem *problem) {
    device->file = open(path, O_RDWR | O_NONBLOCK | O_CLOEXEC);
    if (device->file >= 0) {
        return true;
    }
    if (errno == ENOENT || errno == ENODEV || errno == ENXIO) {
        return problem_set(problem, PROBLEM_BENCH,
                           "%s: no such device: %s; plug it in, or see `ls /dev/video*'", device->told,
                           strerror(errno));
    }
    if (errno == EACCES || errno == EPERM) {
        return problem_set(problem, PROBLEM_BENCH,
                           "%s: %s; join the group that may use it (often `video'), and log in again",
                           device->told, strerror(errno));
    }
    return refuse(device, "it cannot be opened", problem);
}

bool v4l2_prepare(const char *path, const char *told, const struct video_request *request,
                  struct v4l2_found *found, struct problem *problem) {
    *found = (struct v4l2_found){0};
    struct device device = {.told = told, .request = request, .found = found};
    if (!open_file(&device, path, problem)) {
        return false;
    }
    bool good = check_device(&device, problem) && choose_input(&device, problem) &&
                set_standard(&device, problem) && set_frequency(&device, problem) &&
                set_format(&device, problem) && check_request(&device, problem);
    close(device.file);
    return good;
}

void v4l2_signal(int file, char *text, size_t size) {
    static const struct {
        unsigned bit;
        const char *word;
    } states[] = {{V4L2_IN_ST_NO_POWER, "no power"},       {V4L2_IN_ST_NO_SIGNAL, "no signal"},
                  {V4L2_IN_ST_NO_SYNC, "no sync"},         {V4L2_IN_ST_NO_H_LOCK, "no line lock"},
                  {V4L2_IN_ST_NO_V_LOCK, "no field lock"}, {V4L2_IN_ST_NO_COLOR, "no colour"},
                  {V4L2_IN_ST_COLOR_KILL, "colour killed"}};
    int index = 0;
    struct v4l2_input input = {0};
    text[0] = '\0';
    if (ask(file, VIDIOC_G_INPUT, &index) < 0) {
        return;
    }
    input.index = (unsigned)index;
    if (ask(file, VIDIOC_ENUMINPUT, &input) < 0) {
        return;
    }
    for (size_t i = 0; i < sizeof states / sizeof states[0]; i++) {
        if ((input.status & states[i].bit) != 0) {
            snprintf(text, size, "%s", states[i].word);
            return;
        }
    }
    if (input.std != 0) { /* a device that digitises by itself never tells, and says 0 to all */
        snprintf(text, size, "locked");
    }
}

bool v4l2_is_there(int file) {
    struct v4l2_capability capability = {0};
    return ask(file, VIDIOC_QUERYCAP, &capability) == 0;
}

#else

bool v4l2_prepare(const char *path, const char *told, const struct video_request *request,
                  struct v4l2_found *found, struct problem *problem) {
    (void)path;
    (void)request;
    (void)found;
    return problem_set(problem, PROBLEM_INPUT, "%s: V4L2 is Linux's; name a device of this system", told);
}

void v4l2_signal(int file, char *text, size_t size) {
    (void)file;
    (void)size;
    text[0] = '\0';
}

bool v4l2_is_there(int file) {
    (void)file;
    return false;
}

#endif
