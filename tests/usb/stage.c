#include "usb/stage.h"

#include <fcntl.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static const struct stage_carrier *carrier;
static struct stage_port ports[STAGE_PORTS];
static pthread_t ticker;
static bool ticking;

void stage_lock(void) {
    pthread_mutex_lock(&lock);
}

void stage_unlock(void) {
    pthread_mutex_unlock(&lock);
}

void stage_run(struct stage_port *port) {
    model_run(&port->model);
    if (port->model.finished != NULL) {
        carrier->finished(port);
    }
}

static uint64_t now_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000 + (uint64_t)now.tv_nsec / 1000;
}

static void *tick(void *unused) {
    uint64_t before = now_us();
    for (bool go = true; go;) {
        nanosleep(&(struct timespec){.tv_nsec = 500000}, NULL);
        uint64_t now = now_us();
        stage_lock();
        for (int i = 0; i < STAGE_PORTS; i++) {
            if (ports[i].plugged) {
                if (ports[i].advance != NULL) {
                    ports[i].advance(ports[i].model.board.state, now - before);
                }
                stage_run(&ports[i]);
            }
        }
        go = ticking;
        stage_unlock();
        before = now;
    }
    return unused;
}

const char *stage_start(void) {
    carrier = getenv("SLOTJIG_TEST_VHCI") != NULL ? &stage_vhci : &stage_usbfs;
    const char *why = carrier->start();
    if (why != NULL) {
        return why;
    }
    ticking = true;
    if (pthread_create(&ticker, NULL, tick, NULL) != 0) {
        return "no thread for the boards' time";
    }
    return NULL;
}

void stage_stop(void) {
    stage_clear();
    stage_lock();
    ticking = false;
    stage_unlock();
    pthread_join(ticker, NULL);
    carrier->stop();
}

const char *stage_name(void) {
    return carrier->name;
}

bool stage_is_real(void) {
    return carrier == &stage_vhci;
}

bool stage_opens_ports(void) {
    return carrier->opens_ports;
}

bool stage_counts_cancelled(void) {
    return carrier->counts_cancelled;
}

static struct stage_port *plug(int number, const struct model_identity *identity,
                               const struct model_kind *kind, const struct model_board *board,
                               void (*advance)(void *state, uint64_t us)) {
    struct stage_port *port = &ports[number];
    stage_unplug(port);
    stage_lock();
    model_start(&port->model, identity, board);
    port->model.kind = kind;
    port->advance = advance;
    stage_unlock();
    return carrier->plug(port, number) ? port : NULL;
}

struct stage_port *stage_plug(int number, const struct model_identity *identity,
                              const struct model_board *board, void (*advance)(void *state, uint64_t us)) {
    return plug(number, identity, NULL, board, advance);
}

struct stage_port *stage_plug_kind(int number, const struct model_identity *identity,
                                   const struct model_kind *kind, void *state) {
    const struct model_board board = {.state = state};
    return plug(number, identity, kind, &board, NULL);
}

void stage_unplug(struct stage_port *port) {
    if (port->plugged) {
        carrier->unplug(port);
    }
}

void stage_clear(void) {
    for (int i = 0; i < STAGE_PORTS; i++) {
        stage_unplug(&ports[i]);
    }
}

enum { NOBODY = 65534 };

void stage_become(uid_t user) {
    if (seteuid(user) != 0) {
        abort();
    }
}

bool stage_deny(const struct stage_port *port, uid_t *user) {
    const char *folder = getenv("TMPDIR");
    *user = geteuid();
    bool superuser = *user == 0;
    if (superuser) {
        stage_become(NOBODY);
        bool reached = faccessat(AT_FDCWD, folder == NULL ? "/tmp" : folder, X_OK, AT_EACCESS) == 0;
        stage_become(*user);
        if (!reached) {
            printf("SKIP user %d cannot reach %s, where the emulated tree is\n", NOBODY, folder);
            return false;
        }
    }
    if (chmod(port->node, superuser ? 0600 : 0) != 0) {
        abort();
    }
    if (superuser) {
        stage_become(NOBODY);
    }
    return true;
}
