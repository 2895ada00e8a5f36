/* Independent pieces of work over the processors: each in a process of its own, results by index. */
#ifndef SLOTJIG_TESTS_PROOF_POOL_H
#define SLOTJIG_TESTS_PROOF_POOL_H

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { POOL_MAX = 64 };

/* Fills the result of piece `index`. */
typedef void (*pool_work)(size_t index, void *result);

/* How many processes: SLOTJIG_JOBS, or one for each processor. */
static inline int pool_jobs(void) {
    const char *told = getenv("SLOTJIG_JOBS");
    long jobs = told != NULL ? atol(told) : sysconf(_SC_NPROCESSORS_ONLN);
    return jobs < 1 ? 1 : jobs > POOL_MAX ? POOL_MAX : (int)jobs;
}

static inline bool pool_write(int file, const void *bytes, size_t size) {
    for (const char *at = bytes; size > 0;) {
        ssize_t done = write(file, at, size);
        if (done <= 0) {
            return false;
        }
        at += done;
        size -= (size_t)done;
    }
    return true;
}

static inline bool pool_read(int file, void *bytes, size_t size) {
    for (char *at = bytes; size > 0;) {
        ssize_t done = read(file, at, size);
        if (done <= 0) {
            return false;
        }
        at += done;
        size -= (size_t)done;
    }
    return true;
}

static inline void pool_child(int file, int job, int jobs, size_t count, pool_work work, size_t size) {
    void *result = calloc(1, size);
    for (size_t i = (size_t)job; result != NULL && i < count; i += (size_t)jobs) {
        memset(result, 0, size);
        work(i, result);
        if (!pool_write(file, result, size)) {
            break;
        }
    }
    fflush(stdout);
    _exit(0);
}

/* results: room for count of size bytes. False when a process ended early. */
static inline bool pool_run(size_t count, pool_work work, void *results, size_t size) {
    int jobs = pool_jobs(), files[POOL_MAX];
    bool good = true;
    fflush(stdout);
    for (int job = 0; job < jobs; job++) {
        int ends[2];
        if (pipe(ends) != 0) {
            return false;
        }
        pid_t child = fork();
        if (child == 0) {
            close(ends[0]);
            pool_child(ends[1], job, jobs, count, work, size);
        }
        close(ends[1]);
        files[job] = ends[0];
    }
    for (size_t i = 0; i < count; i++) {
        good = good && pool_read(files[i % (size_t)jobs], (char *)results + i * size, size);
    }
    for (int job = 0; job < jobs; job++) {
        close(files[job]);
    }
    while (wait(NULL) > 0) {
    }
    return good;
}

#endif
