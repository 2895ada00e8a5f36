#include "commands/sweep_lock.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum { LOOK_MS = 50 };

/* The one before may have removed the file between our opening and our locking it. */
static bool still_there(const struct sweep_lock *lock) {
    struct stat ours, named;
    return fstat(lock->file, &ours) == 0 && stat(lock->path, &named) == 0 && ours.st_ino == named.st_ino &&
           ours.st_dev == named.st_dev;
}

static bool try_once(struct sweep_lock *lock) {
    lock->file = open(lock->path, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (lock->file < 0) {
        return false;
    }
    const bool locked = flock(lock->file, LOCK_EX | LOCK_NB) == 0;
    const int why = locked ? EWOULDBLOCK : errno;
    if (locked && still_there(lock)) {
        return true;
    }
    close(lock->file);
    lock->file = -1;
    errno = why;
    return false;
}

bool sweep_lock_take(struct sweep_lock *lock, const char *store, int64_t sweep, struct problem *problem) {
    const struct timespec pause = {.tv_nsec = LOOK_MS * 1000000};
    char *file = realpath(store, NULL); /* whatever name or link it was called by */
    snprintf(lock->path, sizeof lock->path, "%.4096s-sweep-%lld", file != NULL ? file : store,
             (long long)sweep);
    free(file);
    int why = EWOULDBLOCK;
    for (int looks = SWEEP_LOCK_WAIT_S * 1000 / LOOK_MS; looks > 0 && why == EWOULDBLOCK; looks--) {
        if (try_once(lock)) {
            return true;
        }
        why = errno;
        nanosleep(&pause, NULL);
    }
    return why == EWOULDBLOCK
               ? problem_set(
                     problem, PROBLEM_BENCH,
                     "sweep %lld is at work already (%.400s is locked); let it end, or say --anew for "
                     "another one",
                     (long long)sweep, lock->path)
               : problem_set(problem, PROBLEM_BENCH,
                             "%.400s: cannot be made: %s; it keeps a sweep from being "
                             "done twice at once",
                             lock->path, strerror(why));
}

void sweep_lock_give(struct sweep_lock *lock) {
    if (lock->file >= 0) {
        unlink(lock->path);
        close(lock->file);
        lock->file = -1;
    }
}
