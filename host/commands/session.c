#include "commands/session.h"

#include "base/stop.h"
#include "flash/flash.h"
#include "verdict/check.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

enum {
    MANY_BROKEN = 64,
    FEED_EVERY = 32, /* fields between two messages to the board */
    FEED_AIM = 40,   /* fields' worth of values that wait for the console: two thirds of a second, and with
                        what is on its way through the grabber fewer than the judge takes for lost */
    FEED_ON_ITS_WAY = 24, /* fields that the console comes to be ahead of what is judged, between the first
                             message and the second: that many values more go with the first */
    FEED_LEAST = 4        /* values */
};

/* A run of the loop. */
struct watching {
    struct session *session;
    const struct video_source *source;
    uint64_t fields, judged, broken; /* broken: their slate was there, and made no sense */
    uint64_t judged_at;              /* fields at the last judged one */
    uint64_t read_at;                /* fields at the last one with this image's slate; 0: none yet */
    bool waiting;
    uint32_t asked[FEED_AIM + FEED_ON_ITS_WAY]; /* for by the judge, and not taken by the feed yet */
    size_t asked_count;
    size_t queued;        /* values that waited for the console at the last message */
    uint64_t fed_at;      /* fields at the last message */
    uint64_t last_chance; /* fields after which what is owed is given up, though the console is told; 0: not
                             known yet */
    struct timespec silent_since;
};

static void show_rounds(const struct watching *watching, const struct check_seen *check, bool last) {
    const size_t owed = judge_owed(watching->session->judge);
    fprintf(stderr, "\r  %llu fields, round %u, %zu of %zu items read in two rounds, %u errors%s\033[K%s",
            (unsigned long long)watching->fields, check->rounds + 1, check->item_count - owed,
            check->item_count, check->errors, watching->waiting ? "; waiting for the video device" : "",
            last ? "\r\033[K" : "");
    fflush(stderr);
}

static void show_progress(const struct watching *watching, bool last) {
    const struct session *session = watching->session;
    if (!session->progress || (!last && !watching->waiting && watching->fields % 64 != 0)) {
        return;
    }
    const enum plan_kind kind = session->plan->kind;
    const struct check_seen *const check = judge_check(session->judge);
    if (check != NULL) {
        show_rounds(watching, check, last);
        return;
    }
    const char *const what = kind == PLAN_EVERY ? "base" : kind == PLAN_MOMENTS ? "moment" : "step";
    size_t owed = judge_owed(session->judge);
    fprintf(stderr, "\r  %llu fields, %s %ld, %zu of %zu %ss have their fields%s\033[K%s",
            (unsigned long long)watching->fields, what, judge_last_step(session->judge),
            plan_pictures(session->plan) - owed, (size_t)plan_pictures(session->plan), what,
            watching->waiting ? "; waiting for the video device" : "", last ? "\r\033[K" : "");
    fflush(stderr);
}

uint64_t session_passed(uint64_t fields, const struct frames_facts *facts) {
    const uint64_t most = fields / 4 * 3;
    return fields - (facts->doubled < most ? facts->doubled : most);
}

/* Two bases mixed make a slate that cannot be read; where they are of one, it can. */
static bool mixes_fields(const struct watching *watching) {
    return frames_facts(watching->session->frames)->layout == LAYOUT_BLENDED ||
           (watching->broken >= MANY_BROKEN && watching->broken > MANY_BROKEN / 8 * watching->judged);
}

/* Round after round the same items of a check are lost: as many as where every other field is. */
static bool is_starved(const struct session *session) {
    enum { ROUNDS = 4, SHARE = 8 };
    const struct check_seen *check = judge_check(session->judge);
    return check != NULL && check->rounds_watched >= ROUNDS &&
           judge_owed(session->judge) * SHARE > check->item_count && check->restarts == 0;
}

static enum session_again again(const struct watching *watching) {
    const struct session *session = watching->session;
    if (session->may_hold && session->hold < SESSION_HOLD_BLENDED && mixes_fields(watching)) {
        return AGAIN_HOLD;
    }
    if (session->may_hold && session->hold < SESSION_HOLD_BLENDED && is_starved(session)) {
        return AGAIN_HOLD;
    }
    return session->may_lines && judge_repeat_wanted(session->judge) > 0 ? AGAIN_LINES : AGAIN_NOT;
}

/* Fields after which what is still owed is given up. */
static uint64_t most_fields(struct watching *watching, uint64_t round, uint64_t fields) {
    const struct session *session = watching->session;
    const bool every = session->plan->kind == PLAN_EVERY;
    if (!session->fed) {
        return round * (every ? SESSION_ROUNDS_EVERY : SESSION_ROUNDS_MAX);
    }
    if (watching->last_chance == 0 && fields >= SESSION_ROUNDS_FED * round) {
        watching->last_chance = fields + 2 * judge_owed(session->judge) * (uint64_t)session->hold + 256;
    }
    return watching->last_chance > 0 ? watching->last_chance : UINT64_MAX;
}

/* A check goes on for as long as it was asked to; everything was read by then, or is given up a few rounds
 * later. */
static bool is_complete(const struct session *session) {
    const struct check_seen *check = judge_check(session->judge);
    if (check == NULL) {
        return judge_complete(session->judge);
    }
    const uint32_t wanted = (uint32_t)session->rounds;
    return wanted > 0 && ((judge_complete(session->judge) && check->rounds_watched >= wanted) ||
                          check->rounds_watched >= wanted + SESSION_ROUNDS_CHECK);
}

static bool is_gone(const struct watching *watching) {
    return judge_check(watching->session->judge) != NULL && watching->session->hold > 0 &&
           watching->read_at > 0 && watching->fields - watching->read_at >= SESSION_PULLED;
}

/* How long a check is watched at most; its own count of rounds comes first, unless that is never read. */
static bool enough_checked(struct watching *watching) {
    const struct session *session = watching->session;
    const struct check_seen *check = judge_check(session->judge);
    const uint64_t fields = session_passed(watching->fields, frames_facts(session->frames));
    const uint64_t longest = 6 * (uint64_t)check->item_count * (uint64_t)session->hold + 256;
    const uint64_t rounds = (uint64_t)session->rounds + SESSION_ROUNDS_CHECK;
    const double seconds = (double)fields / flash_rate(session->plan->standard);
    return is_complete(session) || is_gone(watching) || (session->rounds > 0 && fields >= rounds * longest) ||
           (session->seconds > 0 && seconds >= session->seconds) ||
           watching->fields - watching->judged_at >= CHECK_STILL || check->still >= CHECK_STILL ||
           (watching->judged == 0 && fields >= SESSION_STARTS + (uint64_t)session->dark) ||
           again(watching) != AGAIN_NOT;
}

/* A live source is given up after a whole round without one judged field, where what was judged once is
 * judged no more, and after some rounds in any case. */
static bool enough(struct watching *watching) {
    const struct session *session = watching->session;
    if (session->hold == 0) {
        return false;
    }
    if (judge_check(session->judge) != NULL) {
        return enough_checked(watching);
    }
    uint64_t round = (uint64_t)plan_pictures(session->plan) * (uint64_t)session->hold + 128;
    round += (uint64_t)session->dark;
    const struct frames_facts *facts = frames_facts(session->frames);
    uint64_t fields = session_passed(watching->fields, facts);
    fields += session->plan->kind == PLAN_EVERY ? facts->lost : 0; /* what they showed has gone by */
    return judge_complete(session->judge) || fields >= most_fields(watching, round, fields) ||
           watching->fields - watching->judged_at >= SESSION_UNJUDGED_MAX ||
           (watching->judged == 0 && fields >= round) || again(watching) != AGAIN_NOT;
}

/* What the console has gone through since the last message is an estimate, which the answer corrects. */
static size_t still_queued(const struct watching *watching) {
    const uint64_t shown =
        (watching->fields - watching->fed_at) / (watching->session->hold > 0 ? watching->session->hold : 1);
    return watching->queued > shown ? watching->queued - (size_t)shown : 0;
}

static size_t values_worth(const struct watching *watching, int fields) {
    const int hold = watching->session->hold > 0 ? watching->session->hold : 1;
    return (size_t)(fields / hold > FEED_LEAST ? fields / hold : FEED_LEAST);
}

static void drop_taken(struct watching *watching, size_t taken) {
    watching->asked_count -= taken;
    memmove(watching->asked, watching->asked + taken, watching->asked_count * sizeof *watching->asked);
    watching->session->fed |= taken > 0;
}

/* Now and then, the values that are owed; false: the board was lost. */
static bool feed(struct watching *watching, struct problem *problem) {
    struct session *session = watching->session;
    if (session->feed.user == NULL ||
        (watching->fields > 0 && watching->fields - watching->fed_at < FEED_EVERY)) {
        return true;
    }
    const size_t queued = still_queued(watching), under_way = queued + watching->asked_count;
    const bool first = watching->fields == 0;
    const size_t usual = values_worth(watching, FEED_AIM),
                 aim = first ? values_worth(watching, FEED_AIM + FEED_ON_ITS_WAY) : usual;
    if (under_way < aim) {
        watching->asked_count +=
            judge_ask(session->judge, watching->asked + watching->asked_count, aim - under_way);
    }
    struct session_queue queue = {.waiting = queued};
    if (watching->asked_count > 0 &&
        !session->feed.offer(session->feed.user, watching->asked, watching->asked_count, &queue, problem)) {
        return false;
    }
    drop_taken(watching, queue.taken);
    watching->queued = first && queue.waiting > usual ? usual : queue.waiting;
    watching->fed_at = watching->fields;
    return true;
}

/* A live source is watched no longer than it has to be; a file is read to its end. */
static bool is_over(const struct session *session) {
    return session->hold > 0 && is_complete(session);
}

static bool is_own(const struct session *session, const struct reading *reading) {
    return reading->state == FIELD_READ && reading->slate.hash == session->hash;
}

static bool one_frame(struct watching *watching, const struct frame *frame, struct problem *problem) {
    struct session *session = watching->session;
    struct field fields[2];
    struct reading readings[2];
    int count = frames_read(session->frames, frame, fields, readings);
    bool failing = false;
    for (int i = 0; i < count && !is_over(session); i++) {
        enum judged judged = judge_reading(session->judge, &readings[i], fields[i].frame_lines);
        watching->judged += judged != JUDGED_NOT;
        watching->judged_at = judged != JUDGED_NOT ? watching->fields : watching->judged_at;
        watching->read_at = is_own(session, &readings[i]) ? watching->fields + 1 : watching->read_at;
        watching->broken += readings[i].state == FIELD_BAD_SLATE;
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
        if (!feed(watching, problem)) {
            return false;
        }
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

static bool say_gone(const struct session *session, struct problem *problem) {
    const struct check_seen *check = judge_check(session->judge);
    return problem_set(problem, PROBLEM_BENCH,
                       "the cartridge's check stopped after %u finished round%s and %u error%s: its picture "
                       "went away. Was the cartridge pulled out or its contact lost, or the console switched "
                       "off? If nobody did, its program ran astray. Power off, seat the cartridge, run again",
                       check->rounds, check->rounds == 1 ? "" : "s", check->errors,
                       check->errors == 1 ? "" : "s");
}

static void say_owed(const struct session *session, struct problem *problem) {
    if (judge_check(session->judge) != NULL) {
        return;
    }
    const struct problem lost = *problem;
    problem_set(problem, lost.kind, "%.480s; until then %zu of %zu %s had their fields", lost.text,
                plan_pictures(session->plan) - judge_owed(session->judge),
                (size_t)plan_pictures(session->plan), plan_counts(session->plan) ? "pictures" : "steps");
}

bool session_run(struct session *session, const struct video_source *source, struct problem *problem) {
    struct watching watching = {.session = session, .source = source};
    const enum plan_kind kind = session->plan->kind;
    struct picture_options options = {.standard = session->plan->standard,
                                      .unclear_below = PICTURE_UNCLEAR,
                                      .profiles = kind == PLAN_MOMENTS,
                                      .whole = kind == PLAN_COLOURS};
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
    const bool good = watch(&watching, problem) && (!is_gone(&watching) || say_gone(session, problem));
    session->stopped = stop_asked();
    session->again = session->stopped ? AGAIN_NOT : again(&watching);
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

bool session_was_stopped(const struct session *session, struct problem *problem) {
    if (session->stopped && judge_check(session->judge) != NULL && session->rounds == 0 &&
        judge_complete(session->judge)) {
        return false; /* that is how it ends */
    }
    const size_t all = plan_pictures(session->plan), owed = session->stopped ? judge_owed(session->judge) : 0;
    if (owed > 0) {
        problem_set(problem, PROBLEM_VIDEO, "ended by a person; until then %zu of %zu %s had their fields",
                    all - owed, all, plan_counts(session->plan) ? "pictures" : "steps");
    }
    return owed > 0;
}

void session_free(struct session *session) {
    judge_free(session->judge);
    frames_free(session->frames);
    session->judge = NULL;
    session->frames = NULL;
    session->result = NULL;
}
