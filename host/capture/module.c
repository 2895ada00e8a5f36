#include "capture/module.h"

#include <dlfcn.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

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

const struct video_module *video_module_load(struct problem *problem) {
    if (loaded != NULL) {
        return loaded;
    }
    const char *told = getenv("SLOTJIG_VIDEO_MODULE");
    char path[PATH_MAX];
    bool good = told != NULL && told[0] != '\0'
                    ? load_from(told, problem)
                    : find_module(path, sizeof path, problem) && load_from(path, problem);
    return good ? loaded : NULL;
}
