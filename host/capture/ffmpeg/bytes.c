#include "capture/ffmpeg/bytes.h"

#include <errno.h>
#include <libavutil/error.h>
#include <libavutil/mem.h>
#include <poll.h>
#include <stdint.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum { BUFFER_BYTES = 1 << 16, GLANCE_MS = 100, OPENING_SILENCES = 4 };

static double now(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

static bool wait_bytes(struct bytes *bytes) {
    double until = now() + bytes->silent_s;
    for (;;) {
        double time = now();
        bytes->was_stopped = bytes->stopped();
        bytes->was_silent = time >= until;
        bytes->was_slow = bytes->until > 0 && time >= bytes->until;
        if (bytes->was_stopped || bytes->was_silent || bytes->was_slow) {
            return false;
        }
        struct pollfd wait = {.fd = bytes->file, .events = POLLIN};
        if (poll(&wait, 1, GLANCE_MS) > 0) {
            return true;
        }
    }
}

static int get_bytes(void *state, uint8_t *to, int size) {
    struct bytes *bytes = state;
    for (;;) {
        if (bytes->is_pipe && !wait_bytes(bytes)) {
            return bytes->was_stopped ? AVERROR_EXIT : AVERROR(ETIMEDOUT);
        }
        ssize_t got = read(bytes->file, to, (size_t)size);
        if (got > 0) {
            return (int)got;
        }
        if (got == 0) {
            return AVERROR_EOF;
        }
        if (errno != EINTR && errno != EAGAIN) {
            return AVERROR(errno);
        }
    }
}

static int64_t seek_to(void *state, int64_t offset, int whence) {
    const struct bytes *bytes = state;
    struct stat facts;
    if ((whence & AVSEEK_SIZE) != 0) {
        return fstat(bytes->file, &facts) == 0 ? facts.st_size : AVERROR(errno);
    }
    off_t at = lseek(bytes->file, offset, whence & ~AVSEEK_FORCE);
    return at >= 0 ? at : AVERROR(errno);
}

bool bytes_open(struct bytes *bytes, int file, double silent_s, bool (*stopped)(void)) {
    struct stat facts;
    *bytes = (struct bytes){.file = file,
                            .silent_s = silent_s,
                            .stopped = stopped,
                            .until = now() + OPENING_SILENCES * silent_s,
                            .is_pipe = fstat(file, &facts) != 0 || !S_ISREG(facts.st_mode)};
    uint8_t *buffer = av_malloc(BUFFER_BYTES);
    if (buffer == NULL) {
        return false;
    }
    bytes->stream =
        avio_alloc_context(buffer, BUFFER_BYTES, 0, bytes, get_bytes, NULL, bytes->is_pipe ? NULL : seek_to);
    if (bytes->stream == NULL) {
        av_free(buffer);
        return false;
    }
    return true;
}

void bytes_opened(struct bytes *bytes) {
    bytes->until = 0;
}

bool bytes_gave_up(const struct bytes *bytes, const char *told, struct problem *problem) {
    if (bytes->stream == NULL || !(bytes->was_silent || bytes->was_slow || bytes->was_stopped)) {
        return false;
    }
    if (bytes->was_stopped) {
        problem_set(problem, PROBLEM_VIDEO, "%s: stopped on the way", told);
    } else if (bytes->was_silent) {
        problem_set(problem, PROBLEM_VIDEO,
                    "%s: the pipe was silent for %g s; see to the program that feeds it", told,
                    bytes->silent_s);
    } else {
        problem_set(problem, PROBLEM_VIDEO,
                    "%s: no video came out of the pipe within %g s; see to the program that feeds it", told,
                    OPENING_SILENCES * bytes->silent_s);
    }
    return true;
}

void bytes_close(struct bytes *bytes) {
    if (bytes->stream != NULL) {
        av_freep(&bytes->stream->buffer);
        avio_context_free(&bytes->stream);
        if (bytes->file >= 0) {
            close(bytes->file);
        }
    }
}
