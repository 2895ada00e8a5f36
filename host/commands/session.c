#include "commands/session.h"

#include "base/stop.h"

#include <stdio.h>
#include <time.h>

/* A run of the loop. */
struct watching {
    struct session *session;
    const struct video_source *source;
    uint64_t fields;
    bool any_judged, waiting;
    struct timespec silent_since;
};

static void show_progress(const struct watching *watching, bool last) {
    const struct session *session = watching->session;
    if (!session->progress || (!last && !watching->waiting && watching->fields % 64 != 0)) {
        return;
    }
    size_t owed = judge_owed(session->judge);
    fprintf(stderr, "\r  %llu fields, step %ld, %zu of %zu pictures have their fields%s\033[K%s",
            (unsigned long long)watching->fields, judge_last_step(session->judge),
            plan_pictures(session->plan) - owed, (size_t)plan_pictures(session->plan),
            watching->waiting ? "; waiting for the video device" : "", last ? "\r\033[K" : "");
    fflush(stderr);
}

uint64_t session_passed(uint64_t fields, const struct frames_facts *facts) {
    const uint64_t most = fields / 4 * 3;
    return fields - (facts->doubled < most ? facts->doubled : most);
}

/* A live source is given up after a whole round without one judged field, and after SESSION_ROUNDS_MAX rounds
 * in any case. */
static bool enough(const struct watching *watching) {
    const struct session *session = watching->session;
    if (session->hold == 0) {
        return false;
    }
    uint64_t round = (uint64_t)plan_pictures(session->plan) * (uint64_t)session->hold + 128;
    round += (uint64_t)session->dark;
    uint64_t fields = session_passed(watching->fields, frames_facts(session->frames));
    return judge_complete(session->judge) || fields >= round * SESSION_ROUNDS_MAX ||
           (!watching->any_judged && fields >= round);
}

static bool one_frame(struct watching *watching, const struct frame *frame, struct problem *problem) {
    struct session *session = watching->session;
    struct field fields[2];
    struct reading readings[2];
    int count = frames_read(session->frames, frame, fields, readings);
    bool failing = false;
    for (int i = 0; i < count; i++) {
        enum judged judged = judge_reading(session->judge, &readings[i], fields[i].frame_lines);
        watching->any_judged |= judged != JUDGED_NOT;
        failing |= judged == JUDGED_FAIL;
        if (session->keeper != NULL && judged != JUDGED_NOT &&
            !keeper_field(session->keeper, &fields[i], &readings[i], judged == JUDGED_FAIL, problem)) {
            return false;
        }
    }
    /* A frame out of which no field was given is time that passed all the same. */
    watching->fields += count > 0 ? (uint64_t)count : 1;
    return session->keeper == NULL || keeper_frame(session->keeper, frame, failing, problem);
}

/* False once the source has been without a frame for too long. */
static bool bear_silence(struct watching *watching) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    if (!watching->waiting) {
        watching->waiting = true;
        watching->silent_since = now;
    }
    const double silent = (double)(now.tv_sec - watching->silent_since.tv_sec) +
                          (double)(now.tv_nsec - watching->silent_since.tv_nsec) * 1e-9;
    const double patience = watching->session->silence_s;
    return silent < (patience > 0 ? patience : SESSION_SILENCE_S);
}

/* False when the source or the disk was lost. */
static bool watch(struct watching *watching, struct problem *problem) {
    while (!enough(watching) && !stop_asked()) {
        struct frame frame;
        enum next next = watching->source->next(watching->source->state, &frame, problem);
        if (next == NEXT_FRAME) {
            if (watching->waiting) {
                frames_paused(watching->session->frames);
            }
            watching->waiting = false;
            if (!one_frame(watching, &frame, problem)) {
                return false;
            }
        } else if (next != NEXT_NOTHING) {
            return next == NEXT_END;
        } else if (!bear_silence(watching)) {
            return true; /* no video: the judge says so */
        }
        show_progress(watching, false);
    }
    return true;
}

/* What went on before the session, while a board was pushed to, is none of its business. */
static void subtract(struct video_counts *counts, const struct video_counts *before) {
    counts->delivered -= before->delivered;
    counts->lost -= before->lost;
    counts->empty -= before->empty;
    counts->broken -= before->broken;
    counts->repeated -= before->repeated;
    counts->overrun -= before->overrun;
    counts->gone -= before->gone;
}

static void say_owed(const struct session *session, struct problem *problem) {
    const struct problem lost = *problem;
    problem_set(problem, lost.kind, "%.480s; until then %zu of %zu steps had their fields", lost.text,
                plan_pictures(session->plan) - judge_owed(session->judge),
                (size_t)plan_pictures(session->plan));
}

bool session_run(struct session *session, const struct video_source *source, struct problem *problem) {
    struct watching watching = {.session = session, .source = source};
    const enum plan_kind kind = session->plan->kind;
    struct picture_options options = {.standard = session->plan->standard,
                                      .unclear_below = PICTURE_UNCLEAR,
                                      .detail = kind == PLAN_MOMENTS || kind == PLAN_COLOURS};
    struct video_counts before;
    session->result = NULL;
    session->judge = judge_new(session->plan, session->hash);
    session->frames = frames_new(&options);
    if (session->judge == NULL || session->frames == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the judge of plan %s",
                           session->plan->name);
    }
    video_tell(source, NULL, &before);
    stop_catch(); /* what was seen until then is told, and kept */
    const bool good = watch(&watching, problem);
    session->stopped = stop_asked();
    stop_release();
    show_progress(&watching, true);
    video_tell(source, &session->about, &session->counts);
    subtract(&session->counts, &before);
    judge_capture(session->judge, frames_facts(session->frames), &session->counts);
    session->result = judge_result(session->judge);
    if (!good) {
        say_owed(session, problem);
    }
    return good;
}

void session_free(struct session *session) {
    judge_free(session->judge);
    frames_free(session->frames);
    session->judge = NULL;
    session->frames = NULL;
}
