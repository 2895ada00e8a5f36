#include "base/output.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static bool write_standard_output(const void *bytes, size_t size, struct problem *problem) {
    if (fwrite(bytes, 1, size, stdout) != size || fflush(stdout) != 0) {
        return problem_set(problem, PROBLEM_BENCH, "standard output: %s; check where it is redirected to",
                           strerror(errno));
    }
    return true;
}

static bool write_all(int file, const char *bytes, size_t size) {
    while (size > 0) {
        ssize_t done = write(file, bytes, size);
        if (done < 0 && errno == EINTR) {
            continue;
        }
        if (done <= 0) {
            return false;
        }
        bytes += done;
        size -= (size_t)done;
    }
    return true;
}

/* Closes whatever happens; the first error is the one that counts. */
static bool write_and_close(int file, const void *bytes, size_t size, int *error) {
    bool good = write_all(file, bytes, size);
    *error = errno;
    if (close(file) != 0 && good) {
        *error = errno;
        good = false;
    }
    return good;
}

/* A device or pipe that stands there is written to, never replaced. */
static bool write_into(const char *path, const void *bytes, size_t size, struct problem *problem) {
    int error = 0, file = open(path, O_WRONLY | O_CLOEXEC);
    if (file < 0) {
        return problem_set(problem, PROBLEM_INPUT, "%s: cannot be written to: %s; choose another name", path,
                           strerror(errno));
    }
    if (!write_and_close(file, bytes, size, &error)) {
        return problem_set(problem, PROBLEM_BENCH, "%s: writing failed: %s; make room or choose another disk",
                           path, strerror(error));
    }
    return true;
}

static bool write_anew(const char *path, char *temporary, const void *bytes, size_t size,
                       struct problem *problem) {
    int file = mkstemp(temporary);
    if (file < 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: cannot be created: %s; choose a folder that can be written to", path,
                           strerror(errno));
    }
    int error = 0;
    fchmod(file, 0644);
    bool good = write_and_close(file, bytes, size, &error);
    if (good && rename(temporary, path) != 0) {
        error = errno;
        good = false;
    }
    if (!good) {
        unlink(temporary);
        problem_set(problem, PROBLEM_BENCH, "%s: writing failed: %s; make room or choose another disk", path,
                    strerror(error));
    }
    return good;
}

static bool refuse_empty(struct problem *problem) {
    return problem_set(problem, PROBLEM_INPUT, "a file's name is empty; give one, or leave the option out");
}

/* A store of records may be all there is of many months: it is named for something else only by mistake. A
 * file that does not begin so is no database [S sqlite.org, file format, 1.3]. */
bool output_is_database(const char *path) {
    static const char magic[16] = "SQLite format 3";
    char head[sizeof magic] = "";
    const int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    const bool read_it = file >= 0 && read(file, head, sizeof head) == (ssize_t)sizeof head;
    if (file >= 0) {
        close(file);
    }
    return read_it && memcmp(head, magic, sizeof magic) == 0;
}

bool output_same(const char *one, const char *other) {
    struct stat a, b;
    if (one == NULL || other == NULL || strcmp(one, "-") == 0 || strcmp(other, "-") == 0) {
        return false;
    }
    return strcmp(one, other) == 0 || (stat(one, &a) == 0 && stat(other, &b) == 0 && S_ISREG(a.st_mode) &&
                                       a.st_dev == b.st_dev && a.st_ino == b.st_ino);
}

bool output_spares(const char *path, const char *const *needed, size_t count, struct problem *problem) {
    for (size_t i = 0; i < count; i++) {
        if (output_same(path, needed[i])) {
            return problem_set(problem, PROBLEM_INPUT,
                               "%s: is named for what is needed and for what is written; give another name "
                               "for what is written",
                               path);
        }
    }
    return true;
}

static bool keep_database(const char *path, struct problem *problem) {
    return !output_is_database(path) ||
           problem_set(
               problem, PROBLEM_INPUT,
               "%s: a store of records, or another database, is never written over; choose another name",
               path);
}

bool output_write(const char *path, const void *bytes, size_t size, struct problem *problem) {
    struct stat facts;
    if (strcmp(path, "-") == 0) {
        return write_standard_output(bytes, size, problem);
    }
    if (*path == '\0') {
        return refuse_empty(problem);
    }
    if (stat(path, &facts) == 0 && !S_ISREG(facts.st_mode)) {
        return write_into(path, bytes, size, problem);
    }
    if (!keep_database(path, problem)) {
        return false;
    }
    char *target = realpath(path, NULL), *temporary = NULL; /* a link stays one: its target is replaced */
    const char *place = target == NULL ? path : target;
    if (asprintf(&temporary, "%s.part-XXXXXX", place) < 0) {
        free(target);
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
    }
    bool good = write_anew(place, temporary, bytes, size, problem);
    free(temporary);
    free(target);
    return good;
}

/* "a/b/c": "a/b"; "c": "."; "/c": "/". To be freed. */
static char *folder_of(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash == NULL ? strdup(".") : slash == path ? strdup("/") : strndup(path, (size_t)(slash - path));
}

/* Standard output, a device or a pipe. */
static bool open_as_it_stands(const char *path, struct output *output, struct problem *problem) {
    output->stream = strcmp(path, "-") == 0 ? stdout : fopen(path, "we");
    return output->stream != NULL ||
           problem_set(problem, PROBLEM_INPUT, "%s: cannot be written to: %s; choose another name", path,
                       strerror(errno));
}

static bool open_anew(const char *path, struct output *output, struct problem *problem) {
    char *target = realpath(path, NULL);
    output->place = target == NULL ? strdup(path) : target;
    if (output->place == NULL || asprintf(&output->temporary, "%s.part-XXXXXX", output->place) < 0) {
        output->temporary = NULL;
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
    }
    const int file = mkstemp(output->temporary);
    if (file < 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: cannot be created: %s; choose a folder that can be written to", path,
                           strerror(errno));
    }
    fchmod(file, 0644);
    output->stream = fdopen(file, "w");
    if (output->stream == NULL) {
        close(file);
        unlink(output->temporary);
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
    }
    return true;
}

static void output_free(struct output *output) {
    free(output->place);
    free(output->temporary);
    *output = (struct output){0};
}

bool output_open(const char *path, struct output *output, struct problem *problem) {
    struct stat facts;
    *output = (struct output){0};
    if (*path == '\0') {
        return refuse_empty(problem);
    }
    const bool stands = strcmp(path, "-") == 0 || (stat(path, &facts) == 0 && !S_ISREG(facts.st_mode));
    if (stands ? open_as_it_stands(path, output, problem)
               : keep_database(path, problem) && open_anew(path, output, problem)) {
        return true;
    }
    output_free(output);
    return false;
}

bool output_close(struct output *output, bool keep, struct problem *problem) {
    const char *name = output->stream == stdout ? "standard output"
                       : output->place != NULL  ? output->place
                                                : "the output";
    errno = 0;
    bool good = fflush(output->stream) == 0 && !ferror(output->stream);
    good = (output->stream == stdout || fclose(output->stream) == 0) && good;
    if (output->temporary != NULL) {
        good = good && (!keep || rename(output->temporary, output->place) == 0);
        if (!good || !keep) {
            unlink(output->temporary);
        }
    }
    if (!good && keep) {
        problem_set(problem, PROBLEM_BENCH, "%s: writing failed: %s; make room or choose another disk", name,
                    errno != 0 ? strerror(errno) : "not all of it arrived");
    }
    output_free(output);
    return good && keep;
}

bool output_ready(const char *path, struct problem *problem) {
    struct stat facts;
    if (path == NULL || strcmp(path, "-") == 0) {
        return true;
    }
    if (*path == '\0') {
        return refuse_empty(problem);
    }
    if (stat(path, &facts) == 0 && !S_ISREG(facts.st_mode)) {
        errno = S_ISDIR(facts.st_mode) ? EISDIR : 0;
        return (errno == 0 && access(path, W_OK) == 0) ||
               problem_set(problem, PROBLEM_INPUT, "%s: cannot be written to: %s; choose another name", path,
                           strerror(errno));
    }
    if (!keep_database(path, problem)) {
        return false;
    }
    char *target = realpath(path, NULL);
    char *folder = folder_of(target == NULL ? path : target);
    bool good = folder != NULL && access(folder, W_OK | X_OK) == 0;
    if (!good) {
        problem_set(problem, PROBLEM_INPUT,
                    "%s: cannot be created: %s; choose a folder that can be written to", path,
                    strerror(errno));
    }
    free(folder);
    free(target);
    return good;
}

static bool make_one(const char *path) {
    struct stat facts;
    if (mkdir(path, 0777) == 0) {
        return true;
    }
    if (errno != EEXIST) {
        return false;
    }
    if (stat(path, &facts) == 0 && S_ISDIR(facts.st_mode)) {
        return true;
    }
    errno = ENOTDIR;
    return false;
}

bool output_folder(const char *path, struct problem *problem) {
    char *part = strdup(path);
    if (part == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
    }
    bool good = true;
    for (char *slash = strchr(part + 1, '/'); good && slash != NULL; slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        good = make_one(part);
        *slash = '/';
    }
    good = good && make_one(part);
    if (!good) {
        problem_set(problem, PROBLEM_INPUT, "%s: the folder cannot be made: %s; choose one that can", path,
                    strerror(errno));
    }
    free(part);
    return good;
}
