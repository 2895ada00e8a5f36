#include "link/pty.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

enum { AWAY_MS = 30 };

struct pty {
    struct virtual_board *board;
    pthread_mutex_t *lock;
    pthread_t thread;
    atomic_bool ending, unplugging;
    int master;
    uint64_t last_us;
    char folder[256], name[300];
};

static uint64_t now_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000 + (uint64_t)now.tv_nsec / 1000;
}

static bool open_pty(struct pty *pty) {
    char slave[128];
    pty->master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (pty->master < 0 || grantpt(pty->master) != 0 || unlockpt(pty->master) != 0 ||
        ptsname_r(pty->master, slave, sizeof slave) != 0) {
        return false;
    }
    unlink(pty->name);
    return symlink(slave, pty->name) == 0;
}

static void write_all(int file, const uint8_t *bytes, size_t count) {
    while (count > 0) {
        const ssize_t wrote = write(file, bytes, count);
        if (wrote < 0 && errno != EINTR && errno != EAGAIN) {
            return;
        }
        bytes += wrote > 0 ? wrote : 0;
        count -= wrote > 0 ? (size_t)wrote : 0;
    }
}

static void serve(struct pty *pty) {
    uint8_t bytes[4096];
    struct pollfd file = {.fd = pty->master, .events = POLLIN};
    poll(&file, 1, 1);
    ssize_t got = 0;
    if ((file.revents & POLLIN) != 0) {
        got = read(pty->master, bytes, sizeof bytes);
    } else if ((file.revents & POLLHUP) != 0) {
        poll(NULL, 0, 1); /* nobody has opened it: poll() would not wait */
    }
    pthread_mutex_lock(pty->lock);
    if (got > 0) {
        virtual_board_receive(pty->board, bytes, (size_t)got);
    }
    const uint64_t now = now_us();
    virtual_board_advance(pty->board, now - pty->last_us);
    pty->last_us = now;
    const size_t count = virtual_board_take(pty->board, bytes, sizeof bytes);
    pthread_mutex_unlock(pty->lock);
    write_all(pty->master, bytes, count);
}

static void hang_up(struct pty *pty) {
    close(pty->master);
    unlink(pty->name);
    pthread_mutex_lock(pty->lock);
    virtual_board_unplug(pty->board);
    pthread_mutex_unlock(pty->lock);
    poll(NULL, 0, AWAY_MS);
    open_pty(pty);
    pty->unplugging = false;
}

static void *run(void *argument) {
    struct pty *pty = argument;
    while (!pty->ending) {
        if (pty->unplugging) {
            hang_up(pty);
        }
        serve(pty);
    }
    return NULL;
}

static void clear(struct pty *pty) {
    if (pty->master >= 0) {
        close(pty->master);
    }
    unlink(pty->name);
    rmdir(pty->folder);
    free(pty);
}

struct pty *pty_start(struct virtual_board *board, pthread_mutex_t *lock) {
    struct pty *pty = calloc(1, sizeof *pty);
    const char *folder = getenv("TMPDIR");
    if (pty == NULL) {
        return NULL;
    }
    pty->board = board;
    pty->lock = lock;
    pty->master = -1;
    pty->last_us = now_us();
    snprintf(pty->folder, sizeof pty->folder, "%.200s/slotjig-XXXXXX", folder != NULL ? folder : "/tmp");
    const bool made = mkdtemp(pty->folder) != NULL;
    snprintf(pty->name, sizeof pty->name, "%s/tty", pty->folder);
    if (!made || !open_pty(pty) || pthread_create(&pty->thread, NULL, run, pty) != 0) {
        clear(pty);
        return NULL;
    }
    return pty;
}

void pty_stop(struct pty *pty) {
    if (pty != NULL) {
        pty->ending = true;
        pthread_join(pty->thread, NULL);
        clear(pty);
    }
}

const char *pty_name(const struct pty *pty) {
    return pty->name;
}

void pty_unplug(struct pty *pty) {
    pty->unplugging = true;
    while (pty->unplugging) {
        poll(NULL, 0, 1);
    }
}
