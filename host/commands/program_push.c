#include "commands/program_push.h"

#include "link/command.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { PROGRAM_SECONDS = 120 }; /* erasing and filling a chip takes its time */

/* A new file of ours in the folder for temporary files. */
static bool write_image(const struct link_image *image, char *path, size_t size, struct problem *problem) {
    const char *folder = getenv("TMPDIR");
    snprintf(path, size, "%s/slotjig-image-XXXXXX", folder != NULL && *folder != '\0' ? folder : "/tmp");
    const int file = mkstemp(path);
    if (file < 0) {
        return problem_set(problem, PROBLEM_BENCH, "%s: cannot be made: %s; check the folder in TMPDIR", path,
                           strerror(errno));
    }
    const ssize_t wrote = write(file, image->bytes, image->size);
    const int error = errno;
    if (close(file) == 0 && wrote == (ssize_t)image->size) {
        return true;
    }
    unlink(path);
    return problem_set(problem, PROBLEM_BENCH, "%s: cannot be written: %s; make room there", path,
                       wrote < 0 ? strerror(error) : "it ended short");
}

bool program_push(const char *program, const struct link_image *image, struct problem *problem) {
    char path[4096];
    char **words = NULL;
    if (!command_split(program, &words, problem)) {
        return false;
    }
    bool good = write_image(image, path, sizeof path, problem);
    if (good) {
        good = command_push(words, path, PROGRAM_SECONDS, problem);
        unlink(path);
    }
    command_free(words);
    return good;
}
