#include "capture/inside.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum { GLANCE_MS = 100 };

struct raw {
    int file;
    bool is_pipe;
    double silent_s;
    bool (*stopped)(void);
    int width, height;
    double rate;
    size_t frame_bytes;
    uint8_t *buffers[2]; /* the frame before stays good */
    uint64_t number;
    char told[256];
};

static double now(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

/* Until a pipe has bytes, or its end. */
static bool wait_bytes(const struct raw *raw, struct problem *problem) {
    double until = now() + raw->silent_s;
    while (now() < until && !raw->stopped()) {
        struct pollfd wait = {.fd = raw->file, .events = POLLIN};
        if (poll(&wait, 1, GLANCE_MS) > 0) {
            return true;
        }
    }
    return problem_set(problem, PROBLEM_VIDEO,
                       "%s: the pipe was silent for %g s; see to the program that feeds it", raw->told,
                       raw->silent_s);
}

/* As many bytes of a frame as there are. */
static enum next fill(const struct raw *raw, uint8_t *bytes, struct problem *problem) {
    size_t have = 0;
    while (have < raw->frame_bytes) {
        if (raw->is_pipe && !wait_bytes(raw, problem)) {
            return NEXT_ERROR;
        }
        ssize_t got = read(raw->file, bytes + have, raw->frame_bytes - have);
        if (got == 0) {
            return NEXT_END; /* a frame that is cut off is none */
        }
        if (got > 0) {
            have += (size_t)got;
        } else if (errno != EINTR && errno != EAGAIN) {
            problem_set(problem, PROBLEM_BENCH, "%s: reading failed: %s; check the disk it lies on",
                        raw->told, strerror(errno));
            return NEXT_ERROR;
        }
    }
    return NEXT_FRAME;
}

static enum next raw_next(void *state, struct frame *frame, struct problem *problem) {
    struct raw *raw = state;
    uint8_t *bytes = raw->buffers[raw->number % 2];
    enum next next = fill(raw, bytes, problem);
    if (next != NEXT_FRAME) {
        return next;
    }
    ptrdiff_t stride = (ptrdiff_t)2 * raw->width;
    *frame = (struct frame){
        .width = raw->width,
        .height = raw->height,
        .y = {bytes, stride, 2},
        .cb = {bytes + 1, stride, 4},
        .cr = {bytes + 3, stride, 4},
        .chroma_x = 1,
        .number = raw->number++,
    };
    return NEXT_FRAME;
}

static void raw_tell(void *state, struct video_about *about, struct video_counts *counts) {
    const struct raw *raw = state;
    if (about != NULL) {
        snprintf(about->kind, sizeof about->kind, "%s", raw->is_pipe ? "pipe" : "file");
        snprintf(about->name, sizeof about->name, "%s", raw->told);
        snprintf(about->format, sizeof about->format, "rawvideo yuyv422");
        about->width = raw->width;
        about->height = raw->height;
        about->rate = raw->rate;
    }
    (void)counts;
}

static void raw_close(void *state) {
    struct raw *raw = state;
    if (raw->file >= 0) {
        close(raw->file);
    }
    free(raw->buffers[0]);
    free(raw->buffers[1]);
    free(raw);
}

static bool open_file(struct raw *raw, const struct video_input *input, struct problem *problem) {
    struct stat facts;
    /* Not waiting for a pipe's writer here: wait_bytes() does, for a while. */
    raw->file = open(input->name, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
    if (raw->file < 0 || fstat(raw->file, &facts) != 0) {
        return problem_set(problem, PROBLEM_INPUT, "%s: cannot be opened: %s; check the name", input->told,
                           strerror(errno));
    }
    raw->is_pipe = !S_ISREG(facts.st_mode);
    if (!raw->is_pipe && (size_t)facts.st_size < raw->frame_bytes) {
        return problem_set(problem, PROBLEM_INPUT, "%s: not one whole frame in it; record it again",
                           input->told);
    }
    return true;
}

static bool prepare(struct raw *raw, const struct video_input *input, struct problem *problem) {
    for (int i = 0; i < 2; i++) {
        raw->buffers[i] = malloc(raw->frame_bytes);
        if (raw->buffers[i] == NULL) {
            return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs",
                               input->told);
        }
    }
    return open_file(raw, input, problem);
}

bool raw_open(const struct video_input *input, const struct video_shape *shape, double silent_s,
              struct video_source *source, struct problem *problem) {
    struct raw *raw = calloc(1, sizeof *raw);
    if (raw == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", input->told);
    }
    *raw = (struct raw){.file = -1,
                        .silent_s = silent_s,
                        .stopped = input->stopped,
                        .width = shape->width,
                        .height = shape->height,
                        .rate = (double)shape->rate_num / shape->rate_den,
                        .frame_bytes = (size_t)2 * (size_t)shape->width * (size_t)shape->height};
    snprintf(raw->told, sizeof raw->told, "%s", input->told);
    if (!prepare(raw, input, problem)) {
        raw_close(raw);
        return false;
    }
    *source = (struct video_source){.state = raw, .next = raw_next, .close = raw_close, .tell = raw_tell};
    return true;
}
