#include "capture/ffmpeg/part.h"

#include "capture/ffmpeg/inside.h"

#include <errno.h>
#include <libavutil/mem.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { BUFFER_BYTES = 1 << 18 };

static int put_bytes(void *state, uint8_t *bytes, int size) {
    struct part *part = state;
    int left = size;
    while (left > 0) {
        ssize_t done = write(part->file, bytes, (size_t)left);
        if (done < 0 && errno == EINTR) {
            continue;
        }
        if (done <= 0) {
            part->error = part->error != 0 ? part->error : done < 0 ? errno : ENOSPC;
            return AVERROR(part->error);
        }
        bytes += done;
        left -= (int)done;
    }
    return size;
}

static int64_t seek_to(void *state, int64_t offset, int whence) {
    const struct part *part = state;
    struct stat facts;
    if ((whence & AVSEEK_SIZE) != 0) {
        return fstat(part->file, &facts) == 0 ? facts.st_size : AVERROR(errno);
    }
    off_t now = lseek(part->file, offset, whence & ~AVSEEK_FORCE);
    return now >= 0 ? now : AVERROR(errno);
}

static bool make_stream(struct part *part) {
    uint8_t *buffer = av_malloc(BUFFER_BYTES);
    if (buffer == NULL) {
        return false;
    }
    part->stream = avio_alloc_context(buffer, BUFFER_BYTES, 1, part, NULL, put_bytes, seek_to);
    if (part->stream == NULL) {
        av_free(buffer);
        return false;
    }
    return true;
}

static bool make_file(struct part *part) {
    struct stat facts;
    /* A folder of that name would be noticed only by the rename at the very end. */
    if (stat(part->path, &facts) == 0 && S_ISDIR(facts.st_mode)) {
        errno = EISDIR;
        return false;
    }
    if (stat(part->path, &facts) == 0 &&
        !S_ISREG(facts.st_mode)) { /* a device would be replaced by the rename */
        errno = EEXIST;
        return false;
    }
    part->file = mkstemp(part->temporary);
    return part->file >= 0 && fchmod(part->file, 0644) == 0;
}

bool part_create(struct part *part, const char *path, struct problem *problem) {
    *part = (struct part){.file = -1, .path = strdup(path)};
    if (part->path == NULL || asprintf(&part->temporary, "%s.part-XXXXXX", path) < 0) {
        part->temporary = NULL;
        part_close(part);
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", path);
    }
    if (!make_file(part)) {
        problem_set(problem, PROBLEM_INPUT,
                    "%s: cannot be created: %s; choose a folder that can be written to", path,
                    strerror(errno));
        part_close(part);
        return false;
    }
    if (!make_stream(part)) {
        part_close(part);
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", path);
    }
    return true;
}

static bool failed(const struct part *part, int error, struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH, "%s: writing failed: %s; make room or choose another disk",
                       part->path, strerror(error));
}

bool part_check(const struct part *part, struct problem *problem) {
    if (part->error != 0) {
        return failed(part, part->error, problem);
    }
    if (part->stream->error < 0) {
        return problem_set(problem, PROBLEM_BENCH, "%s: writing failed: %s; make room or choose another disk",
                           part->path, code_text(part->stream->error));
    }
    return true;
}

bool part_finish(struct part *part, struct problem *problem) {
    avio_flush(part->stream);
    if (!part_check(part, problem)) {
        return false;
    }
    /* A pipe or an odd file system that cannot fsync is no loss; a disk that reports an error is one. */
    if (fsync(part->file) != 0 && errno != EINVAL && errno != ENOSYS) {
        return failed(part, errno, problem);
    }
    int file = part->file;
    part->file = -1;
    if (close(file) != 0 || rename(part->temporary, part->path) != 0) {
        int error = errno;
        unlink(part->temporary);
        return failed(part, error, problem);
    }
    return true;
}

void part_close(struct part *part) {
    if (part->stream != NULL) {
        av_freep(&part->stream->buffer);
        avio_context_free(&part->stream);
    }
    if (part->file >= 0 && part->temporary != NULL) {
        close(part->file);
        unlink(part->temporary);
    }
    free(part->temporary);
    free(part->path);
    *part = (struct part){.file = -1};
}
