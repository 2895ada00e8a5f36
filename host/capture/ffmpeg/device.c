#include "capture/ffmpeg/decode.h"
#include "capture/ffmpeg/v4l2.h"

#include <libavdevice/avdevice.h>
#include <libavformat/avformat.h>
#include <libavutil/avstring.h>
#include <libavutil/pixdesc.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum {
    TURN_MS = 200, /* longest stay in one call */
    POLL_MS = 50,
    PAUSE_MS = 2,   /* between two looks where poll() is no help */
    SICK_S = 2,     /* a device that fails so long is taken for gone: EIO may be a signal lost */
    LOOK_S = 1,     /* between two looks at the signal */
    INTERVALS = 15, /* of which the median is the time of a frame */
    GAP_MAX_S = 1,  /* silence longer than that is a picture that was away, not frames that were lost */
    FAILURES_MAX = 64
};

struct device {
    char told[256], name[256], kind[16];
    bool is_v4l2;
    AVFormatContext *input;
    struct decode decode;
    AVPacket *packet;
    int stream;
    int file;          /* FFmpeg's descriptor, as far as it is known; its own to close */
    bool pictures_due; /* the decoder may hold a picture */
    bool ends;
    double sick_since, looked;
    struct v4l2_found found;
    struct video_about about;
    struct video_counts counts;
    int64_t last_us, intervals[INTERVALS];
    int interval_count;
};

static double now(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

static void pause_ms(int ms) {
    struct timespec time = {.tv_nsec = (long)ms * 1000000};
    nanosleep(&time, NULL);
}

/* Pictures and packets first: they hold the device's own buffers, which must be back before it is closed. */
static void device_close(void *state) {
    struct device *device = state;
    av_packet_free(&device->packet);
    decode_close(&device->decode);
    avformat_close_input(&device->input);
    free(device);
}

static int compare(const void *a, const void *b) {
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

/* Frames missing between two time stamps. What a device says of its rate is not believed: some say the rate
 * of fields. */
static void note_time(struct device *device, int64_t us) {
    int64_t interval = us - device->last_us;
    bool first = device->last_us == 0;
    device->last_us = us;
    if (first || us <= 0 || interval <= 0 || interval > (int64_t)GAP_MAX_S * 1000000) {
        return;
    }
    if (device->interval_count >= INTERVALS) {
        int64_t sorted[INTERVALS];
        memcpy(sorted, device->intervals, sizeof sorted);
        qsort(sorted, INTERVALS, sizeof sorted[0], compare);
        int64_t usual = sorted[INTERVALS / 2];
        if (2 * interval > 3 * usual) {
            device->counts.lost += (uint64_t)((interval + usual / 2) / usual - 1);
        }
    }
    device->intervals[device->interval_count++ % INTERVALS] = interval;
    if (device->interval_count >= 2 * INTERVALS) {
        device->interval_count = INTERVALS; /* stays past the first round */
    }
}

static void look_at_signal(struct device *device) {
    double time = now();
    if (device->is_v4l2 && device->file >= 0 && time - device->looked >= LOOK_S) {
        device->looked = time;
        v4l2_signal(device->file, device->about.signal, sizeof device->about.signal);
    }
}

static void wait_device(const struct device *device, bool in_vain) {
    if (device->file < 0 || in_vain) {
        pause_ms(PAUSE_MS);
        return;
    }
    struct pollfd wait = {.fd = device->file, .events = POLLIN};
    poll(&wait, 1, POLL_MS);
}

static enum next gone(const struct device *device, int code, struct problem *problem) {
    problem_set(problem, PROBLEM_BENCH, "%s: the device went away: %s; see to its plug and cable",
                device->told, code_text(code));
    return NEXT_GONE;
}

/* What to make of a failing read: a signal that is lost can look so too, for a while. */
static enum next judge_failure(struct device *device, int code, struct problem *problem) {
    if (code == AVERROR_EOF) {
        return NEXT_END;
    }
    bool there = device->is_v4l2 && device->file >= 0 ? v4l2_is_there(device->file) : code == AVERROR(EIO);
    double time = now();
    device->sick_since = device->sick_since == 0 ? time : device->sick_since;
    if (!there || code == AVERROR(ENODEV) || time - device->sick_since > SICK_S) {
        return gone(device, code, problem);
    }
    pause_ms(POLL_MS);
    return NEXT_NOTHING;
}

/* A packet with something in it, or NEXT_NOTHING when there was none at once. */
static enum next read_packet(struct device *device, bool *in_vain, struct problem *problem) {
    av_packet_unref(device->packet);
    int code = av_read_frame(device->input, device->packet);
    enum buffer_trouble trouble = log_buffer_trouble();
    *in_vain = code == AVERROR(EAGAIN);
    if (*in_vain) {
        return NEXT_NOTHING;
    }
    if (code < 0) {
        return judge_failure(device, code, problem);
    }
    device->sick_since = 0;
    if (device->packet->stream_index != device->stream) {
        return NEXT_NOTHING;
    }
    note_time(device, device->packet->pts);
    if (trouble == BUFFER_MARKED || trouble == BUFFER_SHORT ||
        (device->packet->flags & AV_PKT_FLAG_CORRUPT) != 0) {
        device->counts.broken++;
        return NEXT_NOTHING;
    }
    if (device->packet->size == 0) {
        device->counts.empty++;
        return NEXT_NOTHING;
    }
    return NEXT_FRAME;
}

static enum next feed(struct device *device, bool *in_vain, struct problem *problem) {
    enum next next = read_packet(device, in_vain, problem);
    if (next != NEXT_FRAME) {
        return next;
    }
    enum decoded decoded = decode_give(&device->decode, device->packet);
    av_packet_unref(device->packet);
    if (decoded == DECODED_FAILED) {
        problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", device->told);
        return NEXT_ERROR;
    }
    device->counts.broken += decoded == DECODED_BROKEN;
    device->pictures_due = decoded == DECODED_HUNGRY;
    return NEXT_NOTHING;
}

static enum next show(struct device *device, struct frame *frame, struct problem *problem) {
    const AVFrame *picture = device->decode.picture;
    int64_t pts = picture->pts;
    if (!decode_show(&device->decode, device->told, frame, problem)) {
        return NEXT_ERROR;
    }
    device->about.width = frame->width;
    device->about.height = frame->height;
    snprintf(device->about.format, sizeof device->about.format, "%s %s",
             avcodec_get_name(device->decode.context->codec_id),
             av_get_pix_fmt_name(device->decode.shown[device->decode.turn]->format));
    AVRational base = device->input->streams[device->stream]->time_base;
    frame->time_us = pts > 0 ? (uint64_t)av_rescale_q(pts, base, (AVRational){1, 1000000}) : 0;
    return NEXT_FRAME;
}

static enum next device_next(void *state, struct frame *frame, struct problem *problem) {
    struct device *device = state;
    double until = now() + TURN_MS / 1e3;
    enum next next = NEXT_NOTHING;
    bool in_vain = false;
    look_at_signal(device);
    while (next == NEXT_NOTHING && now() < until) {
        if (device->pictures_due) {
            enum decoded decoded = decode_next(&device->decode);
            if (decoded == DECODED_PICTURE) {
                return show(device, frame, problem);
            }
            device->counts.broken += decoded == DECODED_BROKEN || decoded == DECODED_SPOILED;
            device->pictures_due = decoded == DECODED_BROKEN || decoded == DECODED_SPOILED;
            continue;
        }
        wait_device(device, in_vain);
        next = feed(device, &in_vain, problem);
    }
    return next;
}

static void device_tell(void *state, struct video_about *about, struct video_counts *counts) {
    const struct device *device = state;
    if (about != NULL) {
        *about = device->about;
    }
    if (counts != NULL) {
        *counts = device->counts;
    }
}

/* The kinds of device that can be read, for a message. */
static void list_kinds(char *text, size_t size) {
    size_t length = 0;
    text[0] = '\0';
    const AVInputFormat *format = NULL;
    while ((format = av_input_video_device_next(format)) != NULL && length < size) {
        length += (size_t)snprintf(text + length, size - length, "%s%s", length > 0 ? " " : "", format->name);
    }
}

/* av_find_input_format() would find files' formats too. */
static const AVInputFormat *find_kind(const char *kind) {
    const AVInputFormat *format = NULL;
    while ((format = av_input_video_device_next(format)) != NULL) {
        if (av_match_name(kind, format->name)) {
            return format;
        }
    }
    return NULL;
}

static void set_options(const struct device *device, const struct video_request *request,
                        AVDictionary **options) {
    int width = device->found.width > 0 ? device->found.width : request->width;
    int height = device->found.height > 0 ? device->found.height : request->height;
    const char *pixel = device->found.pixel[0] != '\0' ? device->found.pixel : request->pixel;
    char size[32];
    if (width > 0 && height > 0) {
        snprintf(size, sizeof size, "%dx%d", width, height);
        av_dict_set(options, "video_size", size, 0);
    }
    if (pixel != NULL && pixel[0] != '\0') {
        av_dict_set(options, device->is_v4l2 ? "input_format" : "pixel_format", pixel, 0);
    }
}

static bool refuse_open(const struct device *device, int code, struct problem *problem) {
    enum problem_kind kind = code == AVERROR(EINVAL) ? PROBLEM_INPUT : PROBLEM_BENCH;
    const char *advice = code == AVERROR(EBUSY)    ? "end the other program that uses it"
                         : code == AVERROR(EINVAL) ? "leave size and kind of pixel out, or give those it has"
                                                   : "unplug it and plug it in again";
    return problem_set(problem, kind, "%s: the device cannot be opened: %s; %s", device->told,
                       code_text(code), advice);
}

static int open_once(struct device *device, const AVInputFormat *format,
                     const struct video_request *request) {
    AVDictionary *options = NULL;
    device->input = avformat_alloc_context();
    if (device->input == NULL) {
        return AVERROR(ENOMEM);
    }
    device->input->flags |= AVFMT_FLAG_NONBLOCK; /* a read that waits could not be ended */
    set_options(device, request, &options);
    (void)log_device_file();
    int code = avformat_open_input(&device->input, device->name, format, &options);
    device->file = log_device_file();
    av_dict_free(&options);
    return code;
}

static bool open_input(struct device *device, const AVInputFormat *format,
                       const struct video_request *request, struct problem *problem) {
    /* Twice: at the first time a driver may still stand at another size than it says
     * [../shared/LINK-TESTS.md]. */
    for (int tries = 0; tries < 2; tries++) {
        if (device->is_v4l2 && !v4l2_prepare(device->name, device->told, request, &device->found, problem)) {
            return false;
        }
        int code = open_once(device, format, request);
        if (code >= 0) {
            return true;
        }
        if (tries > 0 || code != AVERROR(ENOMEM)) {
            return refuse_open(device, code, problem);
        }
    }
    return false;
}

static void describe(struct device *device) {
    struct video_about *about = &device->about;
    const AVStream *stream = device->input->streams[device->stream];
    snprintf(about->kind, sizeof about->kind, "%s", device->kind);
    snprintf(about->name, sizeof about->name, "%s", device->name);
    snprintf(about->standard, sizeof about->standard, "%s", device->found.standard);
    snprintf(about->detected, sizeof about->detected, "%s", device->found.detected);
    snprintf(about->input, sizeof about->input, "%s", device->found.input);
    const char *pixel = av_get_pix_fmt_name(stream->codecpar->format);
    snprintf(about->format, sizeof about->format, "%s%s%s", avcodec_get_name(stream->codecpar->codec_id),
             pixel != NULL ? " " : "", pixel != NULL ? pixel : "");
    about->width = stream->codecpar->width;
    about->height = stream->codecpar->height;
    about->rate = stream->avg_frame_rate.den > 0 ? av_q2d(stream->avg_frame_rate) : 0;
    about->live = true;
    about->untried = !device->is_v4l2;
}

static bool open_all(struct device *device, const struct video_request *request, struct problem *problem) {
    avdevice_register_all();
    const AVInputFormat *format = find_kind(device->kind);
    if (format == NULL) {
        char list[300];
        list_kinds(list, sizeof list);
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: no such kind of device; this FFmpeg has: %s; of a file write file:PATH",
                           device->told, list);
    }
    device->is_v4l2 = av_match_name("v4l2", format->name) != 0;
    device->packet = av_packet_alloc();
    if (device->packet == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", device->told);
    }
    if (!open_input(device, format, request, problem)) {
        return false;
    }
    const AVCodec *codec = NULL;
    device->stream = av_find_best_stream(device->input, AVMEDIA_TYPE_VIDEO, -1, -1, &codec, 0);
    if (device->stream < 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: no video that can be decoded; set another kind of pixel", device->told);
    }
    describe(device);
    return decode_open(&device->decode, codec, device->input->streams[device->stream]->codecpar, 1,
                       device->told, problem);
}

bool device_open(const struct video_input *input, const struct video_request *request,
                 struct video_source *source, struct problem *problem) {
    log_listen();
    struct device *device = calloc(1, sizeof *device);
    if (device == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", input->told);
    }
    device->file = -1;
    snprintf(device->told, sizeof device->told, "%s", input->told);
    snprintf(device->name, sizeof device->name, "%s", input->name);
    snprintf(device->kind, sizeof device->kind, "%s", input->kind);
    if (!open_all(device, request, problem)) {
        device_close(device);
        return false;
    }
    *source = (struct video_source){
        .state = device, .next = device_next, .close = device_close, .tell = device_tell};
    return true;
}
