/* The benches file: whatever it holds, each bench of it is found or refused with one line that says why. */
#include "commands/benches.h"
#include "fuzz/fuzz.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

static void must(bool truth) {
    if (!truth) {
        abort();
    }
}

static void find(const char *name, const char *file) {
    struct bench_settings bench;
    struct problem problem = {0};
    memset(&bench, 0, sizeof bench);
    const bool found = bench_find(name, file, STANDARD_NTSC, false, &bench, &problem);
    if (!found) {
        must(problem.kind != PROBLEM_NONE && problem.text[0] != '\0' && strchr(problem.text, '\n') == NULL);
    } else {
        must(strlen(bench.name) < BENCH_NAME_MAX);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count) {
    char path[64];
    const int file = memfd_create("benches", MFD_CLOEXEC);
    if (file < 0) {
        return 0;
    }
    must(write(file, bytes, count) == (ssize_t)count);
    snprintf(path, sizeof path, "/proc/self/fd/%d", file);
    find("a", path);
    find("a bench", path);
    find("virtual", path);
    close(file);
    return 0;
}
