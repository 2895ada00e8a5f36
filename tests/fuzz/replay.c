/* Runs a fuzz target over files and folders of files, without libFuzzer. Usage: replay_NAME PATH... */
#include "fuzz/fuzz.h"

#include <dirent.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FILE_MAX = 1 << 20 };

static uint8_t bytes[FILE_MAX];

static bool run_file(const char *path) {
    FILE *in = fopen(path, "rb");
    if (!in) {
        return false;
    }
    size_t count = fread(bytes, 1, sizeof bytes, in);
    bool good = !ferror(in);
    fclose(in);
    /* Of its own size, so that a sanitizer sees reads behind the end. */
    uint8_t *copy = malloc(count ? count : 1);
    if (!good || !copy) {
        free(copy);
        return false;
    }
    memcpy(copy, bytes, count);
    printf("%s\n", path);
    fflush(stdout); /* a crash then shows which file it was */
    LLVMFuzzerTestOneInput(copy, count);
    free(copy);
    return true;
}

/* Returns the number of files run, or -1. */
static int run_folder(const char *path) {
    DIR *folder = opendir(path);
    if (!folder) {
        return run_file(path) ? 1 : -1;
    }
    int done = 0;
    for (struct dirent *entry = readdir(folder); entry && done >= 0; entry = readdir(folder)) {
        char name[4096];
        if (entry->d_name[0] == '.') {
            continue;
        }
        snprintf(name, sizeof name, "%s/%s", path, entry->d_name);
        done = run_file(name) ? done + 1 : -1;
    }
    closedir(folder);
    return done;
}

int main(int argc, char **argv) {
    int total = 0;
    for (int i = 1; i < argc; i++) {
        int done = run_folder(argv[i]);
        if (done < 0) {
            fprintf(stderr, "%s: cannot be read\n", argv[i]);
            return 1;
        }
        total += done;
    }
    printf("%d inputs\n", total);
    return total > 0 ? 0 : 1;
}
