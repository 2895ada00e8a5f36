#include "commands/session.h"

#include <stdio.h>

static void show_progress(const struct session *session, uint64_t fields, bool last) {
    if (!session->progress || (!last && fields % 64 != 0)) {
        return;
    }
    size_t owed = judge_owed(session->judge);
    fprintf(stderr, "\r  %llu fields, step %ld, %zu of %zu steps have their fields   %s",
            (unsigned long long)fields, judge_last_step(session->judge), session->plan->step_count - owed,
            session->plan->step_count, last ? "\r\033[K" : "");
    fflush(stderr);
}

/* A live source is given up after a whole round without one judged field, and after SESSION_ROUNDS_MAX rounds
 * in any case. */
static bool enough(const struct session *session, uint64_t fields, bool any_judged) {
    if (session->hold == 0) {
        return false;
    }
    uint64_t round = (uint64_t)session->plan->step_count * (uint64_t)session->hold + 128;
    return judge_complete(session->judge) || fields >= round * SESSION_ROUNDS_MAX ||
           (!any_judged && fields >= round);
}

static bool one_frame(struct session *session, const struct frame *frame, bool *any_judged, uint64_t *seen,
                      struct problem *problem) {
    struct field fields[2];
    struct reading readings[2];
    int count = frames_read(session->frames, frame, fields, readings);
    bool failing = false;
    for (int i = 0; i < count; i++) {
        enum judged judged = judge_reading(session->judge, &readings[i], fields[i].frame_lines);
        *any_judged |= judged != JUDGED_NOT;
        failing |= judged == JUDGED_FAIL;
        if (session->keeper != NULL && judged != JUDGED_NOT &&
            !keeper_field(session->keeper, frame, &fields[i], &readings[i], judged == JUDGED_FAIL, problem)) {
            return false;
        }
    }
    *seen += (uint64_t)count;
    return session->keeper == NULL || keeper_frame(session->keeper, frame, failing, problem);
}

static bool watch(struct session *session, const struct video_source *source, struct problem *problem) {
    bool any_judged = false;
    uint64_t seen = 0;
    enum next next = NEXT_FRAME;
    while (next == NEXT_FRAME && !enough(session, seen, any_judged)) {
        struct frame frame;
        next = source->next(source->state, &frame, problem);
        if (next == NEXT_FRAME && !one_frame(session, &frame, &any_judged, &seen, problem)) {
            next = NEXT_ERROR;
        }
        show_progress(session, seen, false);
    }
    show_progress(session, seen, true);
    return next != NEXT_ERROR;
}

bool session_run(struct session *session, const struct video_source *source, struct problem *problem) {
    session->result = NULL;
    session->judge = judge_new(session->plan, session->hash);
    struct picture_options options = {.standard = session->plan->standard, .unclear_below = PICTURE_UNCLEAR};
    session->frames = frames_new(&options);
    if (session->judge == NULL || session->frames == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the judge of plan %s",
                           session->plan->name);
    }
    bool good = watch(session, source, problem);
    struct video_counts counts;
    video_tell(source, NULL, &counts);
    judge_capture(session->judge, frames_facts(session->frames), &counts);
    session->result = judge_result(session->judge);
    return good;
}

void session_free(struct session *session) {
    judge_free(session->judge);
    frames_free(session->frames);
    session->judge = NULL;
    session->frames = NULL;
}
