#include "capture/module.h"

#include <dlfcn.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

enum { RAW_WIDTH = 720 }; /* [S ITU-R BT.601] */

/* Stays loaded to the end: FFmpeg's libraries are not made to be unloaded. */
static const struct video_module *loaded;

static bool program_folder(char *folder, size_t size) {
    ssize_t length = readlink("/proc/self/exe", folder, size - 1);
    if (length <= 0) {
        return false;
    }
    folder[length] = '\0';
    char *slash = strrchr(folder, '/');
    if (slash == NULL) {
        return false;
    }
    *slash = '\0';
    return true;
}

/* Beside the program, above it (tests lie in folders below), or where `make install` puts it. */
static bool find_module(char *path, size_t size, struct problem *problem) {
    static const char *const places[] = {"", "/..", "/../..", "/../lib/slotjig"};
    char folder[PATH_MAX];
    if (!program_folder(folder, sizeof folder)) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "/proc/self/exe: cannot be read, so the video module cannot be found; give its path "
            "in SLOTJIG_VIDEO_MODULE");
    }
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        int length = snprintf(path, size, "%s%s/%s", folder, places[i], VIDEO_MODULE_FILE);
        if (length > 0 && (size_t)length < size && access(path, F_OK) == 0) {
            return true;
        }
    }
    return problem_set(
        problem, PROBLEM_BENCH,
        "%s: the video module is not in %.200s, nor in .., ../.. or ../lib/slotjig from there; build it "
        "with `make`, or give its path in SLOTJIG_VIDEO_MODULE",
        VIDEO_MODULE_FILE, folder);
}

static bool load_from(const char *path, struct problem *problem) {
    void *handle = dlopen(path, RTLD_NOW | RTLD_LOCAL);
    if (handle == NULL) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "the video module cannot be loaded: %.300s; install FFmpeg's libraries or build it again "
            "with `make`",
            dlerror());
    }
    const struct video_module *module = (const struct video_module *)dlsym(handle, VIDEO_MODULE_SYMBOL);
    if (module == NULL || module->abi != VIDEO_MODULE_ABI) {
        dlclose(handle);
        return problem_set(problem, PROBLEM_BENCH,
                           "%.300s: not the video module of this version; build it again with `make`", path);
    }
    loaded = module;
    return true;
}

static bool load_module(struct problem *problem) {
    if (loaded != NULL) {
        return true;
    }
    const char *told = getenv("SLOTJIG_VIDEO_MODULE");
    if (told != NULL && told[0] != '\0') {
        return load_from(told, problem);
    }
    char path[PATH_MAX];
    return find_module(path, sizeof path, problem) && load_from(path, problem);
}

static bool ends_in(const char *path, const char *ending) {
    size_t length = strlen(path);
    size_t tail = strlen(ending);
    return length > tail && strcasecmp(path + length - tail, ending) == 0;
}

static bool kind_of(const char *path, enum video_kind *kind) {
    static const struct {
        const char *ending;
        enum video_kind kind;
    } endings[] = {{".mkv", VIDEO_MATROSKA}, {".y4m", VIDEO_Y4M}, {".yuv", VIDEO_RAW}, {".raw", VIDEO_RAW}};
    for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++) {
        if (ends_in(path, endings[i].ending)) {
            *kind = endings[i].kind;
            return true;
        }
    }
    return false;
}

static struct video_shape standard_shape(enum standard standard) {
    const struct standard_facts *facts = &standard_table[standard];
    return (struct video_shape){
        .width = RAW_WIDTH,
        .height = facts->frame_height,
        .rate_num = facts->frame_rate_num,
        .rate_den = facts->frame_rate_den,
        .top_first = facts->top_first,
    };
}

bool video_open_file(const char *path, enum standard standard, struct video_source *source,
                     struct problem *problem) {
    if (!load_module(problem)) {
        return false;
    }
    struct video_shape shape = standard_shape(standard);
    enum video_kind kind;
    bool raw = kind_of(path, &kind) && kind == VIDEO_RAW;
    return loaded->open(path, raw ? &shape : NULL, source, problem);
}

bool video_create_file(const char *path, int width, int height, enum standard standard,
                       struct video_sink *sink, struct problem *problem) {
    struct video_shape shape = standard_shape(standard);
    enum video_kind kind;
    if (!kind_of(path, &kind)) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s: no such kind of recording; let the name end in .mkv (FFV1, lossless), .y4m, .yuv or "
            ".raw",
            path);
    }
    if (kind == VIDEO_RAW && (width != shape.width || height != shape.height)) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s: bare frames of %s are %d by %d, not %d by %d, and the file could not say so; let the "
            "name end in .mkv or .y4m",
            path, standard_table[standard].name, shape.width, shape.height, width, height);
    }
    shape.width = width;
    shape.height = height;
    return load_module(problem) && loaded->create(path, kind, &shape, sink, problem);
}
