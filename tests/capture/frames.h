/* Frames of random YUYV from a seed, and a folder of its own for each test. */
#ifndef SLOTJIG_TESTS_CAPTURE_FRAMES_H
#define SLOTJIG_TESTS_CAPTURE_FRAMES_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "capture/video.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { FRAMES_SEED = 20231, FRAMES_MAX = 8, FOLDER_SIZE = 300, NAME_SIZE = 400, COMMAND_SIZE = 1200 };

struct frames {
    int width, height, count;
    size_t size; /* of one */
    uint8_t *bytes[FRAMES_MAX];
};

/* xorshift64: any even spread of bytes will do. */
static inline uint64_t frames_random(uint64_t *state) {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    return *state;
}

static inline void frames_make(struct frames *frames, int width, int height, int count) {
    uint64_t state = FRAMES_SEED;
    *frames = (struct frames){
        .width = width, .height = height, .count = count, .size = (size_t)2 * (size_t)width * (size_t)height};
    for (int i = 0; i < count; i++) {
        frames->bytes[i] = malloc(frames->size);
        assert_non_null(frames->bytes[i]);
        for (size_t k = 0; k < frames->size; k++) {
            frames->bytes[i][k] = (uint8_t)(frames_random(&state) >> 32);
        }
    }
}

static inline void frames_free(struct frames *frames) {
    for (int i = 0; i < frames->count; i++) {
        free(frames->bytes[i]);
    }
}

static inline struct frame frames_view(const struct frames *frames, int index) {
    const uint8_t *bytes = frames->bytes[index];
    ptrdiff_t stride = (ptrdiff_t)2 * frames->width;
    return (struct frame){
        .width = frames->width,
        .height = frames->height,
        .y = {bytes, stride, 2},
        .cb = {bytes + 1, stride, 4},
        .cr = {bytes + 3, stride, 4},
        .chroma_x = 1,
        .number = (uint64_t)index,
    };
}

static inline int plane_at(const struct plane *plane, int x, int y) {
    return plane->data[(ptrdiff_t)y * plane->stride + (ptrdiff_t)x * plane->step];
}

/* Whether every sample of a 4:2:2 frame is the one of the packed original. */
static inline bool frames_same(const struct frames *frames, int index, const struct frame *seen) {
    const uint8_t *bytes = frames->bytes[index];
    if (seen->width != frames->width || seen->height != frames->height || seen->chroma_x != 1 ||
        seen->chroma_y != 0 || seen->cb.data == NULL || seen->cr.data == NULL) {
        return false;
    }
    for (int y = 0; y < frames->height; y++) {
        const uint8_t *line = bytes + (ptrdiff_t)2 * frames->width * y;
        for (int x = 0; x < frames->width; x++) {
            if (plane_at(&seen->y, x, y) != line[2 * x]) {
                return false;
            }
        }
        for (int x = 0; x < frames->width / 2; x++) {
            if (plane_at(&seen->cb, x, y) != line[4 * x + 1] ||
                plane_at(&seen->cr, x, y) != line[4 * x + 3]) {
                return false;
            }
        }
    }
    return true;
}

static inline void frames_record(const struct frames *frames, const char *path, enum standard standard) {
    struct problem problem = {0};
    struct video_sink sink;
    if (!video_create_file(path, frames->width, frames->height, standard, &sink, &problem)) {
        fail_msg("create: %s", problem.text);
    }
    for (int i = 0; i < frames->count; i++) {
        struct frame frame = frames_view(frames, i);
        if (!sink.write(sink.state, &frame, &problem)) {
            fail_msg("write of frame %d: %s", i, problem.text);
        }
    }
    if (!sink.finish(sink.state, &problem)) {
        fail_msg("finish: %s", problem.text);
    }
    sink.close(sink.state);
}

static inline bool file_open(const char *path, enum standard standard, struct video_source *source,
                             struct problem *problem) {
    struct video_request request = {.where = path, .standard = standard};
    return video_open(&request, source, problem);
}

struct folder {
    char path[FOLDER_SIZE];
};

static inline void folder_make(struct folder *folder) {
    const char *above = getenv("TMPDIR");
    snprintf(folder->path, sizeof folder->path, "%s/slotjig-capture-XXXXXX", above != NULL ? above : "/tmp");
    assert_non_null(mkdtemp(folder->path));
}

static inline const char *folder_name(const struct folder *folder, const char *name, char path[NAME_SIZE]) {
    snprintf(path, NAME_SIZE, "%s/%s", folder->path, name);
    return path;
}

/* Counts what lies in it, and removes it if told. */
static inline int folder_count(const struct folder *folder, bool removes) {
    DIR *listing = opendir(folder->path);
    assert_non_null(listing);
    int count = 0;
    for (const struct dirent *entry = readdir(listing); entry != NULL; entry = readdir(listing)) {
        if (entry->d_name[0] == '.' && (entry->d_name[1] == '\0' || entry->d_name[1] == '.')) {
            continue;
        }
        count++;
        if (removes) {
            char path[FOLDER_SIZE + 260];
            snprintf(path, sizeof path, "%s/%s", folder->path, entry->d_name);
            unlink(path);
        }
    }
    closedir(listing);
    return count;
}

static inline void folder_remove(const struct folder *folder) {
    folder_count(folder, true);
    rmdir(folder->path);
}

static inline uint8_t *file_read(const char *path, size_t *size) {
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        fail_msg("%s: cannot be read", path);
        return NULL;
    }
    fseek(file, 0, SEEK_END);
    *size = (size_t)ftell(file);
    rewind(file);
    uint8_t *bytes = malloc(*size + 1);
    assert_non_null(bytes);
    assert_int_equal(fread(bytes, 1, *size, file), *size);
    fclose(file);
    return bytes;
}

static inline void file_write(const char *path, const void *bytes, size_t size) {
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, size, file), size);
    assert_int_equal(fclose(file), 0);
}

#endif
