/* A folder for a test's files, under TMPDIR, and a bounded command in it. */
#ifndef TESTS_ROM_SCRATCH_H
#define TESTS_ROM_SCRATCH_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

enum { SCRATCH_MAX = 400, SCRATCH_SECONDS = 20 };

static inline void scratch_make(char folder[SCRATCH_MAX]) {
    const char *above = getenv("TMPDIR");
    snprintf(folder, SCRATCH_MAX, "%s/slotjig-XXXXXX", above == NULL ? "/tmp" : above);
    if (mkdtemp(folder) == NULL) {
        perror(folder);
        abort();
    }
}

static inline void scratch_path(const char *folder, const char *name, char path[SCRATCH_MAX + 64]) {
    snprintf(path, SCRATCH_MAX + 64, "%s/%s", folder, name);
}

static inline void scratch_write(const char *folder, const char *name, const void *bytes, size_t size) {
    char path[SCRATCH_MAX + 64];
    scratch_path(folder, name, path);
    FILE *out = fopen(path, "wb");
    if (out == NULL || fwrite(bytes, 1, size, out) != size || fclose(out) != 0) {
        perror(path);
        abort();
    }
}

/* Bytes read, at most `most`; 0 when there is no such file. */
static inline size_t scratch_read(const char *folder, const char *name, uint8_t *bytes, size_t most) {
    char path[SCRATCH_MAX + 64];
    scratch_path(folder, name, path);
    FILE *in = fopen(path, "rb");
    if (in == NULL) {
        return 0;
    }
    size_t size = fread(bytes, 1, most, in);
    fclose(in);
    return size;
}

static inline void scratch_remove(const char *folder, const char *const *names, int count) {
    for (int i = 0; i < count; i++) {
        char path[SCRATCH_MAX + 64];
        scratch_path(folder, names[i], path);
        unlink(path);
    }
    rmdir(folder);
}

static inline bool have_program(const char *name) {
    char command[80];
    snprintf(command, sizeof command, "command -v %s >/dev/null 2>&1", name);
    return system(command) == 0;
}

#endif
