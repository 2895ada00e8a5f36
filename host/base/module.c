#include "base/module.h"

#include <dlfcn.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

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
static bool find(const struct module *module, char *path, size_t size, struct problem *problem) {
    static const char *const places[] = {"", "/..", "/../..", "/../lib/slotjig"};
    char folder[PATH_MAX];
    if (!program_folder(folder, sizeof folder)) {
        return problem_set(problem, PROBLEM_BENCH,
                           "/proc/self/exe: cannot be read, so the %s cannot be found; give its path in %s",
                           module->what, module->variable);
    }
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        int length = snprintf(path, size, "%s%s/%s", folder, places[i], module->file);
        if (length > 0 && (size_t)length < size && access(path, F_OK) == 0) {
            return true;
        }
    }
    return problem_set(problem, PROBLEM_BENCH,
                       "%s: the %s is not in %.200s, nor in .., ../.. or ../lib/slotjig from there; build it "
                       "with `make`, or give its path in %s",
                       module->file, module->what, folder, module->variable);
}

/* Never closed again but when it is not the right one: such libraries are not made to be unloaded. */
static const void *load_from(const struct module *module, const char *path, struct problem *problem) {
    void *handle = dlopen(path, RTLD_NOW | RTLD_LOCAL);
    if (handle == NULL) {
        problem_set(problem, PROBLEM_BENCH,
                    "the %s cannot be loaded: %.300s; install %s or build it again with `make`", module->what,
                    dlerror(), module->needs);
        return NULL;
    }
    const int *table = dlsym(handle, module->symbol);
    if (table == NULL || *table != module->abi) {
        dlclose(handle);
        problem_set(problem, PROBLEM_BENCH, "%.300s: not the %s of this version; build it again with `make`",
                    path, module->what);
        return NULL;
    }
    return table;
}

const void *module_load(const struct module *module, struct problem *problem) {
    char path[PATH_MAX];
    const char *told = getenv(module->variable);
    if (told != NULL && told[0] != '\0') {
        return load_from(module, told, problem);
    }
    return find(module, path, sizeof path, problem) ? load_from(module, path, problem) : NULL;
}
