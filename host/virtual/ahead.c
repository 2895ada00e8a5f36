/*
 * The console may run up to `target`: FIELDS beyond those that went into the last frame given. The grabber
 * takes them from a ring; where it needs more of them for one frame (fields lost in a row), the target goes
 * on by half a ring at a time, but only while a frame is waited for, and never beyond where that frame will
 * put it.
 */
#include "virtual/ahead.h"

#include "capture/blocks.h"
#include "virtual/assemble.h"

#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum {
    FIELDS = VIRTUAL_AHEAD_FIELDS,
    FRAMES = 14, /* as many as the fields make, so that the grabber is not idle while the console catches up;
                    one is lent and one under way */
    WORTH_WAKING = 2,                     /* fields there, before a grabber that sleeps is woken for them */
    PLANAR_BYTES = (768 + 2 * 384) * 576, /* 4:2:2 in planes, lines filled up to 64 bytes */
    SLOT_BYTES = (int)sizeof(struct canvas) > PLANAR_BYTES ? (int)sizeof(struct canvas) : PLANAR_BYTES
};

struct kept_field {
    bool signal;
    struct tia_field field;
};

struct kept_frame {
    struct frame frame;
    uint8_t *bytes;
    uint64_t fields; /* of the console that went into it and those before */
    bool good;
    struct problem problem;
};

struct ahead {
    struct ahead_bench bench;
    bool threads, direct;
    uint8_t *memory;
    struct kept_field fields[FIELDS]; /* a slot is the console's until it is counted in `run`, and the
                                         grabber's until it is in `taken` */
    struct kept_frame frames[FRAMES]; /* the grabber's until it is in `made`, the caller's until in `freed` */
    /* Under the lock. */
    pthread_mutex_t lock;
    pthread_cond_t console_may, field_there, frame_there, frame_free, at_rest;
    uint64_t run, taken, target; /* fields */
    uint64_t made, given, freed; /* frames */
    uint64_t fields_given;
    bool hungry; /* the grabber waits for a field */
    bool frozen; /* no further frame will be made */
    bool quits;
    pthread_t console, grabbing;
    int started; /* threads */
};

/* ---- the two stages ---- */

static void keep_field(struct kept_field *kept, const struct tia_field *field) {
    kept->signal = field != NULL;
    if (field == NULL) {
        return;
    }
    struct tia_field *copy = &kept->field;
    copy->lines = field->lines;
    copy->synced = field->synced;
    copy->sync_lines = field->sync_lines;
    memcpy(copy->pixel, field->pixel, (size_t)field->lines * sizeof field->pixel[0]);
    memcpy(copy->same_as_above, field->same_as_above, (size_t)field->lines);
}

static void run_field(struct ahead *ahead, uint64_t number) {
    keep_field(&ahead->fields[number % FIELDS], ahead->bench.field(ahead->bench.user));
}

static void take_field(struct ahead *ahead, uint64_t number) {
    const struct kept_field *kept = &ahead->fields[number % FIELDS];
    grabber_take(ahead->bench.grabber, kept->signal ? &kept->field : NULL);
}

/* Fields were taken; the frame is there. */
static void make_frame(struct ahead *ahead, struct kept_frame *kept) {
    struct frame frame = {0};
    kept->good = grabber_frame(ahead->bench.grabber, &frame, &kept->problem);
    if (!kept->good || ahead->direct) {
        kept->frame = frame;
    } else {
        frame_copy(&frame, kept->bytes, &kept->frame);
    }
}

static void begin_frame(struct ahead *ahead, const struct kept_frame *kept) {
    if (ahead->direct) {
        grabber_draw_into(ahead->bench.grabber, (struct canvas *)kept->bytes);
    }
}

static bool is_frozen(const struct ahead *ahead) {
    const long after = ahead->bench.frozen_after;
    return ahead->made > 0 && after >= 0 && ahead->taken >= (uint64_t)after;
}

/* ---- threads ---- */

static bool may_run(const struct ahead *ahead) {
    return ahead->run < ahead->target && ahead->run - ahead->taken < FIELDS;
}

static void *run_console(void *user) {
    struct ahead *ahead = user;
    pthread_mutex_lock(&ahead->lock);
    while (!ahead->quits) {
        if (!may_run(ahead)) {
            pthread_cond_signal(&ahead->at_rest);
            pthread_cond_wait(&ahead->console_may, &ahead->lock);
            continue;
        }
        const uint64_t number = ahead->run;
        pthread_mutex_unlock(&ahead->lock);
        run_field(ahead, number);
        pthread_mutex_lock(&ahead->lock);
        ahead->run++;
        if (ahead->run - ahead->taken >= WORTH_WAKING || !may_run(ahead)) {
            pthread_cond_signal(&ahead->field_there);
        }
    }
    pthread_mutex_unlock(&ahead->lock);
    return NULL;
}

/* Under the lock. False: quit. */
static bool next_field(struct ahead *ahead) {
    while (!ahead->quits && ahead->taken == ahead->run) {
        ahead->hungry = true;
        pthread_cond_signal(&ahead->frame_there); /* who waits for the frame may have to let the console on */
        pthread_cond_wait(&ahead->field_there, &ahead->lock);
    }
    ahead->hungry = false;
    return !ahead->quits;
}

/* Under the lock, which is let go meanwhile. False: quit. */
static bool gather(struct ahead *ahead) {
    while (!grabber_ready(ahead->bench.grabber)) {
        if (!next_field(ahead)) {
            return false;
        }
        const uint64_t number = ahead->taken;
        pthread_mutex_unlock(&ahead->lock);
        take_field(ahead, number);
        pthread_mutex_lock(&ahead->lock);
        ahead->taken++;
        pthread_cond_signal(&ahead->console_may);
    }
    return true;
}

/* Where cores are few the grabber makes way for the console, whose stage is the longest. */
static void make_way(void) {
    enum { NICER = 5 };
    if (nice(NICER) == -1) {
        return; /* of the thread alone on Linux; without it all is the same, only slower */
    }
}

static void *run_grabber(void *user) {
    struct ahead *ahead = user;
    make_way();
    pthread_mutex_lock(&ahead->lock);
    while (!ahead->quits && !ahead->frozen) {
        struct kept_frame *kept = &ahead->frames[ahead->made % FRAMES];
        if (ahead->made - ahead->freed == FRAMES) {
            pthread_cond_wait(&ahead->frame_free, &ahead->lock);
            continue;
        }
        if (is_frozen(ahead)) {
            ahead->frozen = true;
        } else {
            begin_frame(ahead, kept);
            if (!gather(ahead)) {
                break;
            }
            pthread_mutex_unlock(&ahead->lock);
            make_frame(ahead, kept);
            pthread_mutex_lock(&ahead->lock);
            kept->fields = ahead->taken;
            ahead->made++;
        }
        pthread_cond_signal(&ahead->frame_there);
    }
    pthread_mutex_unlock(&ahead->lock);
    return NULL;
}

/* ---- what the caller sees ---- */

/* Under the lock, with threads. */
static void await_frame(struct ahead *ahead) {
    while (ahead->made == ahead->given && !ahead->frozen) {
        if (ahead->hungry && ahead->taken == ahead->target) {
            ahead->target += FIELDS / 2;
            pthread_cond_signal(&ahead->console_may);
        }
        pthread_cond_wait(&ahead->frame_there, &ahead->lock);
    }
}

static void make_here(struct ahead *ahead) {
    struct kept_frame *kept = &ahead->frames[ahead->made % FRAMES];
    if (is_frozen(ahead)) {
        ahead->frozen = true;
        return;
    }
    begin_frame(ahead, kept);
    while (!grabber_ready(ahead->bench.grabber)) {
        if (ahead->taken == ahead->run) {
            run_field(ahead, ahead->run++);
        }
        take_field(ahead, ahead->taken++);
    }
    make_frame(ahead, kept);
    kept->fields = ahead->taken;
    ahead->made++;
}

/* Under the lock. Frozen, the last one again. */
static const struct kept_frame *give(struct ahead *ahead) {
    if (ahead->made > ahead->given) {
        ahead->freed = ahead->given;
        ahead->given++;
        pthread_cond_signal(&ahead->frame_free);
    }
    const struct kept_frame *kept = &ahead->frames[(ahead->given - 1) % FRAMES];
    ahead->fields_given = kept->fields;
    ahead->target = kept->fields + FIELDS;
    pthread_cond_signal(&ahead->console_may);
    return kept;
}

bool ahead_frame(struct ahead *ahead, struct frame *frame, struct problem *problem) {
    pthread_mutex_lock(&ahead->lock);
    if (ahead->threads) {
        await_frame(ahead);
    } else {
        make_here(ahead);
    }
    const struct kept_frame *kept = give(ahead);
    pthread_mutex_unlock(&ahead->lock);
    *frame = kept->frame;
    if (!kept->good) {
        *problem = kept->problem;
    }
    return kept->good;
}

uint64_t ahead_fields(const struct ahead *ahead) {
    return ahead->fields_given;
}

void ahead_rest(struct ahead *ahead) {
    pthread_mutex_lock(&ahead->lock);
    while (ahead->run < ahead->target) {
        if (ahead->threads) {
            pthread_cond_wait(&ahead->at_rest, &ahead->lock);
        } else {
            run_field(ahead, ahead->run++);
        }
    }
    pthread_mutex_unlock(&ahead->lock);
}

/* ---- start and end ---- */

static bool start_threads(struct ahead *ahead) {
    sigset_t all, before;
    sigfillset(&all); /* signals are the caller's */
    pthread_sigmask(SIG_SETMASK, &all, &before);
    bool good = pthread_create(&ahead->console, NULL, run_console, ahead) == 0;
    ahead->started += good;
    good = good && pthread_create(&ahead->grabbing, NULL, run_grabber, ahead) == 0;
    ahead->started += good;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return good;
}

static pthread_cond_t *const *conditions(struct ahead *ahead, pthread_cond_t *list[]) {
    pthread_cond_t *all[] = {&ahead->console_may, &ahead->field_there, &ahead->frame_there,
                             &ahead->frame_free,  &ahead->at_rest,     NULL};
    memcpy(list, all, sizeof all);
    return list;
}

struct ahead *ahead_new(const struct ahead_bench *bench, bool threads, struct problem *problem) {
    struct ahead *ahead = calloc(1, sizeof *ahead);
    uint8_t *memory = calloc(FRAMES, SLOT_BYTES);
    if (ahead == NULL || memory == NULL) {
        free(ahead);
        free(memory);
        problem_set(problem, PROBLEM_BENCH, "virtual bench: out of memory; close other programs");
        return NULL;
    }
    ahead->bench = *bench;
    ahead->threads = threads;
    ahead->direct = grabber_draws_into(bench->grabber);
    ahead->memory = memory;
    for (int i = 0; i < FRAMES; i++) {
        ahead->frames[i].bytes = memory + (size_t)i * SLOT_BYTES;
    }
    pthread_cond_t *list[6];
    pthread_mutex_init(&ahead->lock, NULL);
    for (pthread_cond_t *const *condition = conditions(ahead, list); *condition != NULL; condition++) {
        pthread_cond_init(*condition, NULL);
    }
    if (threads && !start_threads(ahead)) {
        ahead_free(ahead);
        problem_set(problem, PROBLEM_BENCH, "virtual bench: no thread to be had; say --threads 1");
        return NULL;
    }
    return ahead;
}

static void stop_threads(struct ahead *ahead) {
    pthread_cond_t *list[6];
    pthread_mutex_lock(&ahead->lock);
    ahead->quits = true;
    for (pthread_cond_t *const *condition = conditions(ahead, list); *condition != NULL; condition++) {
        pthread_cond_broadcast(*condition);
    }
    pthread_mutex_unlock(&ahead->lock);
    if (ahead->started > 0) {
        pthread_join(ahead->console, NULL);
    }
    if (ahead->started > 1) {
        pthread_join(ahead->grabbing, NULL);
    }
}

void ahead_free(struct ahead *ahead) {
    if (ahead == NULL) {
        return;
    }
    stop_threads(ahead);
    pthread_cond_t *list[6];
    for (pthread_cond_t *const *condition = conditions(ahead, list); *condition != NULL; condition++) {
        pthread_cond_destroy(*condition);
    }
    pthread_mutex_destroy(&ahead->lock);
    grabber_draw_into(ahead->bench.grabber, NULL);
    free(ahead->memory);
    free(ahead);
}
