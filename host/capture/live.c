#include "base/stop.h"
#include "capture/blocks.h"
#include "capture/inside.h"

#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum {
    SLOTS = 16,       /* a quarter of a second of fields, half a second of frames */
    GLANCE_MS = 50,   /* how soon a wish to stop is seen */
    RETRY_MS = 500,   /* between two tries to open a device that went away */
    CLOSING_MS = 3000 /* for the thread to come back from the device */
};

struct live {
    struct live_opener opener;
    double wait_s;
    /* Of the thread alone. */
    struct video_source inner;
    bool is_open;
    struct video_counts before; /* of the times it was open before this one */
    int newest;                 /* slot written last, if the frame before this one was kept; -1 else */
    /* Written by the thread before the first frame is given out, then fixed. */
    uint8_t *memory;
    size_t slot_bytes;
    /* A slot is the thread's until it is counted, and the judge's from then until it is let go. */
    struct frame slots[SLOTS];
    /* Below, all under the lock. */
    pthread_mutex_t lock;
    pthread_cond_t changed;
    int oldest, filled;
    bool lent; /* the oldest is in the judge's hands */
    enum next ending;
    bool ended, quits, finished;
    struct problem problem;
    struct video_about about;
    struct video_counts counts;
    pthread_t thread;
    char told[256];
};

static struct timespec after_ms(long ms) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    time.tv_sec += ms / 1000;
    time.tv_nsec += ms % 1000 * 1000000;
    if (time.tv_nsec >= 1000000000) {
        time.tv_sec++;
        time.tv_nsec -= 1000000000;
    }
    return time;
}

static bool is_past(const struct timespec *time) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec != time->tv_sec ? now.tv_sec > time->tv_sec : now.tv_nsec >= time->tv_nsec;
}

/* Under the lock. */
static void wait_ms(struct live *live, long ms) {
    struct timespec until = after_ms(ms);
    pthread_cond_timedwait(&live->changed, &live->lock, &until);
}

/* The thread's half. */

static void end(struct live *live, enum next how, const struct problem *problem) {
    pthread_mutex_lock(&live->lock);
    live->ended = true;
    live->ending = how;
    live->problem = *problem;
    pthread_mutex_unlock(&live->lock);
}

static void note_counts(struct live *live) {
    struct video_about about;
    struct video_counts counts;
    video_tell(&live->inner, &about, &counts);
    pthread_mutex_lock(&live->lock);
    live->about = about;
    live->counts.lost = live->before.lost + counts.lost;
    live->counts.empty = live->before.empty + counts.empty;
    live->counts.broken = live->before.broken + counts.broken;
    pthread_mutex_unlock(&live->lock);
}

static bool take_memory(struct live *live, const struct frame *frame) {
    live->slot_bytes = frame_bytes(frame);
    live->memory = calloc(SLOTS, live->slot_bytes);
    return live->memory != NULL;
}

static bool check_shape(struct live *live, const struct frame *frame, struct problem *problem) {
    if (live->memory == NULL) {
        return take_memory(live, frame) ||
               problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", live->told);
    }
    const struct frame *first = &live->slots[0];
    return frame_alike(first, frame) ||
           problem_set(
               problem, PROBLEM_VIDEO,
               "%s: its frames change from %d by %d to %d by %d or another kind of pixel; give size and "
               "pixel in the benches file, and start again",
               live->told, first->width, first->height, frame->width, frame->height);
}

static bool is_repeat(const struct live *live, const struct frame *frame) {
    if (live->newest < 0) {
        return false;
    }
    const struct frame *last = &live->slots[live->newest];
    return (frame->time_us != 0 && frame->time_us == last->time_us) || frame_same(last, frame);
}

/* Into the queue; the newest is the one that is dropped where there is no room, so that what the judge has
 * begun to see stays whole. */
static bool put(struct live *live, const struct frame *frame, struct problem *problem) {
    if (!check_shape(live, frame, problem)) {
        return false;
    }
    bool repeated = is_repeat(live, frame);
    pthread_mutex_lock(&live->lock);
    live->counts.repeated += repeated;
    bool full = live->filled == SLOTS;
    live->counts.overrun += full;
    int slot = (live->oldest + live->filled) % SLOTS;
    pthread_mutex_unlock(&live->lock);
    live->newest = full ? -1 : slot;
    if (full) {
        return true;
    }
    frame_copy(frame, live->memory + (size_t)slot * live->slot_bytes, &live->slots[slot]);
    pthread_mutex_lock(&live->lock);
    live->filled++;
    pthread_cond_broadcast(&live->changed);
    pthread_mutex_unlock(&live->lock);
    return true;
}

static void shut_inner(struct live *live) {
    if (!live->is_open) {
        return;
    }
    struct video_counts counts;
    video_tell(&live->inner, NULL, &counts);
    live->before.lost += counts.lost;
    live->before.empty += counts.empty;
    live->before.broken += counts.broken;
    live->inner.close(live->inner.state);
    live->is_open = false;
}

/* Waits for a device that went away. False when it stayed away, or when nobody waits any more. */
static bool come_back(struct live *live, struct problem *problem) {
    struct timespec until = after_ms((long)(live->wait_s * 1000));
    shut_inner(live);
    live->newest = -1;
    while (!is_past(&until)) {
        pthread_mutex_lock(&live->lock);
        if (!live->quits) {
            wait_ms(live, RETRY_MS);
        }
        bool quits = live->quits;
        pthread_mutex_unlock(&live->lock);
        if (quits) {
            return false;
        }
        live->is_open = live->opener.open(live->opener.state, &live->inner, problem);
        if (live->is_open) {
            pthread_mutex_lock(&live->lock);
            live->counts.gone++;
            pthread_mutex_unlock(&live->lock);
            return true;
        }
    }
    if (live->wait_s > 0) {
        problem_set(problem, PROBLEM_BENCH,
                    "%s: the device went away and did not come back within %g s; see to its plug and cable",
                    live->told, live->wait_s);
    }
    return false;
}

static bool step(struct live *live) {
    struct frame frame;
    struct problem problem = {0};
    enum next next = live->inner.next(live->inner.state, &frame, &problem);
    note_counts(live);
    if (next == NEXT_GONE && come_back(live, &problem)) {
        return true;
    }
    if (next == NEXT_FRAME && !put(live, &frame, &problem)) {
        next = NEXT_ERROR;
    }
    if (next == NEXT_FRAME || next == NEXT_NOTHING) {
        return true;
    }
    end(live, next, &problem);
    return false;
}

static void *run(void *state) {
    struct live *live = state;
    bool quits = false;
    while (!quits && step(live)) {
        pthread_mutex_lock(&live->lock);
        quits = live->quits;
        pthread_mutex_unlock(&live->lock);
    }
    shut_inner(live);
    pthread_mutex_lock(&live->lock);
    live->finished = true;
    pthread_cond_broadcast(&live->changed);
    pthread_mutex_unlock(&live->lock);
    return NULL;
}

/* The judge's half. */

static enum next take(struct live *live, struct frame *frame, struct problem *problem) {
    if (live->filled > 0) {
        *frame = live->slots[live->oldest];
        frame->number = live->counts.delivered++;
        live->lent = true;
        return NEXT_FRAME;
    }
    if (live->ended) {
        if (problem != NULL && (live->ending == NEXT_ERROR || live->ending == NEXT_GONE)) {
            *problem = live->problem;
        }
        return live->ending;
    }
    return NEXT_NOTHING;
}

static enum next live_next(void *state, struct frame *frame, struct problem *problem) {
    struct live *live = state;
    struct timespec until = after_ms(VIDEO_WAIT_MS);
    pthread_mutex_lock(&live->lock);
    if (live->lent) {
        live->lent = false;
        live->oldest = (live->oldest + 1) % SLOTS;
        live->filled--;
    }
    /* A signal does not wake a waiting thread; so it looks now and then. */
    while (live->filled == 0 && !live->ended && !stop_asked() && !is_past(&until)) {
        wait_ms(live, GLANCE_MS);
    }
    enum next next = take(live, frame, problem);
    pthread_mutex_unlock(&live->lock);
    return next;
}

static void live_tell(void *state, struct video_about *about, struct video_counts *counts) {
    struct live *live = state;
    pthread_mutex_lock(&live->lock);
    if (about != NULL) {
        *about = live->about;
        about->live = true;
    }
    if (counts != NULL) {
        *counts = live->counts;
    }
    pthread_mutex_unlock(&live->lock);
}

static void live_free(struct live *live) {
    live->opener.close(live->opener.state);
    pthread_cond_destroy(&live->changed);
    pthread_mutex_destroy(&live->lock);
    free(live->memory);
    free(live);
}

static void live_close(void *state) {
    struct live *live = state;
    struct timespec until = after_ms(CLOSING_MS);
    pthread_mutex_lock(&live->lock);
    live->quits = true;
    pthread_cond_broadcast(&live->changed);
    while (!live->finished && !is_past(&until)) {
        wait_ms(live, GLANCE_MS);
    }
    bool finished = live->finished;
    pthread_mutex_unlock(&live->lock);
    if (!finished) { /* some driver never comes back: better some memory lost than a program that hangs */
        pthread_detach(live->thread);
        return;
    }
    pthread_join(live->thread, NULL);
    live_free(live);
}

static bool start(struct live *live) {
    sigset_t all, before;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before); /* signals are for the thread that waits */
    bool good = pthread_create(&live->thread, NULL, run, live) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return good;
}

static struct live *live_new(const struct live_opener *opener, const char *told, double wait_s) {
    struct live *live = calloc(1, sizeof *live);
    if (live == NULL) {
        return NULL;
    }
    pthread_condattr_t attributes;
    pthread_condattr_init(&attributes);
    pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
    pthread_mutex_init(&live->lock, NULL);
    pthread_cond_init(&live->changed, &attributes);
    pthread_condattr_destroy(&attributes);
    live->opener = *opener;
    live->wait_s = wait_s;
    live->newest = -1;
    snprintf(live->told, sizeof live->told, "%s", told);
    return live;
}

bool live_open(const struct live_opener *opener, const char *told, double wait_s, struct video_source *source,
               struct problem *problem) {
    struct live *live = live_new(opener, told, wait_s);
    if (live == NULL) {
        opener->close(opener->state);
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", told);
    }
    live->is_open = opener->open(opener->state, &live->inner, problem);
    if (live->is_open) {
        note_counts(live);
        if (start(live)) {
            *source = (struct video_source){
                .state = live, .next = live_next, .close = live_close, .tell = live_tell};
            return true;
        }
        problem_set(problem, PROBLEM_BENCH, "%s: no thread can be started; close other programs", told);
        shut_inner(live);
    }
    live_free(live);
    return false;
}
