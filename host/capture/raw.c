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

enum { GLANCE_MS = 100, MARK_BYTES = 6 };
#define MARK "FRAME\n"

struct raw {
    int file;
    bool is_pipe;
    double silent_s;
    bool (*stopped)(void);
    struct raw_layout layout;
    size_t frame_bytes;  /* of the file: with the mark */
    uint8_t *buffers[2]; /* the frame before stays good */
    uint64_t number;
    char told[256];
};

static int coarser(int size, int by) {
    return (size + (1 << by) - 1) >> by;
}

static size_t picture_bytes(const struct raw_layout *layout) {
    size_t luma = (size_t)layout->width * (size_t)layout->height;
    if (layout->is_grey) {
        return luma;
    }
    return luma + 2 * (size_t)coarser(layout->width, layout->chroma_x) *
                      (size_t)coarser(layout->height, layout->chroma_y);
}

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

/* That many bytes. */
static enum next fill(const struct raw *raw, uint8_t *bytes, size_t size, struct problem *problem) {
    size_t have = 0;
    while (have < size) {
        if (raw->is_pipe && !wait_bytes(raw, problem)) {
            return NEXT_ERROR;
        }
        ssize_t got = read(raw->file, bytes + have, size - have);
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

/* A mark may hold words of its own: then the picture begins later than usual, and its last bytes are still to
 * come. */
static enum next after_mark(const struct raw *raw, uint8_t *bytes, struct problem *problem) {
    if (memcmp(bytes, MARK, MARK_BYTES - 1) != 0) {
        problem_set(problem, PROBLEM_INPUT, "%s: no frame where frame %llu should begin; record it again",
                    raw->told, (unsigned long long)raw->number);
        return NEXT_ERROR;
    }
    if (bytes[MARK_BYTES - 1] == '\n') {
        return NEXT_FRAME;
    }
    const uint8_t *end = memchr(bytes, '\n', raw->frame_bytes);
    if (end == NULL) {
        return NEXT_END;
    }
    size_t more = (size_t)(end + 1 - bytes) - MARK_BYTES;
    memmove(bytes + MARK_BYTES, end + 1, raw->frame_bytes - MARK_BYTES - more);
    return fill(raw, bytes + raw->frame_bytes - more, more, problem);
}

static void view(const struct raw_layout *layout, const uint8_t *bytes, struct frame *frame) {
    int width = layout->width;
    *frame = (struct frame){
        .width = width, .height = layout->height, .chroma_x = layout->chroma_x, .chroma_y = layout->chroma_y};
    if (layout->is_packed) {
        ptrdiff_t stride = (ptrdiff_t)2 * width;
        frame->y = (struct plane){bytes, stride, 2};
        frame->cb = (struct plane){bytes + 1, stride, 4};
        frame->cr = (struct plane){bytes + 3, stride, 4};
        return;
    }
    frame->y = (struct plane){bytes, width, 1};
    if (!layout->is_grey) {
        ptrdiff_t stride = coarser(width, layout->chroma_x);
        frame->cb = (struct plane){bytes + (ptrdiff_t)width * layout->height, stride, 1};
        frame->cr =
            (struct plane){frame->cb.data + stride * coarser(layout->height, layout->chroma_y), stride, 1};
    }
}

static enum next raw_next(void *state, struct frame *frame, struct problem *problem) {
    struct raw *raw = state;
    uint8_t *bytes = raw->buffers[raw->number % 2];
    enum next next = fill(raw, bytes, raw->frame_bytes, problem);
    if (next == NEXT_FRAME && raw->layout.has_marks) {
        next = after_mark(raw, bytes, problem);
    }
    if (next == NEXT_FRAME) {
        view(&raw->layout, bytes + (raw->layout.has_marks ? MARK_BYTES : 0), frame);
        frame->number = raw->number++;
    }
    return next;
}

static void raw_tell(void *state, struct video_about *about, struct video_counts *counts) {
    const struct raw *raw = state;
    if (about != NULL) {
        snprintf(about->kind, sizeof about->kind, "%s", raw->is_pipe ? "pipe" : "file");
        snprintf(about->name, sizeof about->name, "%s", raw->told);
        snprintf(about->format, sizeof about->format, "rawvideo %s", raw->layout.pixel);
        about->width = raw->layout.width;
        about->height = raw->layout.height;
        about->rate = raw->layout.rate;
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
        return problem_set(problem, PROBLEM_INPUT, "%s: cannot be opened: %s; check its name and permissions",
                           input->told, strerror(errno));
    }
    raw->is_pipe = !S_ISREG(facts.st_mode);
    if (raw->is_pipe) {
        return true;
    }
    if ((size_t)facts.st_size < raw->layout.begins + raw->frame_bytes) {
        return problem_set(problem, PROBLEM_INPUT, "%s: not one whole frame in it; record it again",
                           input->told);
    }
    return lseek(raw->file, (off_t)raw->layout.begins, SEEK_SET) >= 0 ||
           problem_set(problem, PROBLEM_BENCH, "%s: cannot be read: %s; check the disk it lies on",
                       input->told, strerror(errno));
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

bool raw_open(const struct video_input *input, const struct raw_layout *layout, double silent_s,
              struct video_source *source, struct problem *problem) {
    struct raw *raw = calloc(1, sizeof *raw);
    if (raw == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", input->told);
    }
    *raw = (struct raw){.file = -1,
                        .silent_s = silent_s,
                        .stopped = input->stopped,
                        .layout = *layout,
                        .frame_bytes = picture_bytes(layout) + (layout->has_marks ? MARK_BYTES : 0)};
    snprintf(raw->told, sizeof raw->told, "%s", input->told);
    if (!prepare(raw, input, problem)) {
        raw_close(raw);
        return false;
    }
    *source = (struct video_source){.state = raw, .next = raw_next, .close = raw_close, .tell = raw_tell};
    return true;
}

struct raw_layout raw_layout_yuyv(enum standard standard) {
    struct video_shape shape = video_shape_of(standard);
    return (struct raw_layout){.pixel = "yuyv422",
                               .width = shape.width,
                               .height = shape.height,
                               .rate = (double)shape.rate_num / shape.rate_den,
                               .is_packed = true,
                               .chroma_x = 1};
}
