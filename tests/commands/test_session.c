/* A live source that says nothing for a while, goes away for good, or ends: what the session makes of it. */
#include "commands/loop.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

/* What comes after so many frames, and how often; then frames again. */
struct script {
    struct video_source inner;
    int frames; /* before it */
    enum next then;
    int times; /* -1: for ever */
    int asked_after;
    bool interrupt; /* instead: a signal as Ctrl-C sends it */
    uint64_t count; /* that tell() says, of everything */
};

static struct script script;

static enum next play(void *state, struct frame *frame, struct problem *problem) {
    (void)state;
    if (script.frames > 0) {
        script.frames--;
        return script.inner.next(script.inner.state, frame, problem);
    }
    if (script.interrupt) {
        script.interrupt = false;
        raise(SIGINT);
    }
    if (script.times == 0) {
        return script.inner.next(script.inner.state, frame, problem);
    }
    script.asked_after++;
    script.times -= script.times > 0;
    if (script.then == NEXT_NOTHING) {
        const struct timespec moment = {.tv_nsec = 1000000};
        nanosleep(&moment, NULL);
    }
    if (script.then == NEXT_GONE || script.then == NEXT_ERROR) {
        problem_set(problem, PROBLEM_BENCH, "/dev/video9: went away; plug it in again");
    }
    return script.then;
}

static void close_script(void *state) {
    (void)state;
    script.inner.close(script.inner.state);
}

static void tell(void *state, struct video_about *about, struct video_counts *counts) {
    (void)state;
    video_tell(&script.inner, about, counts);
    if (counts != NULL) {
        const uint64_t count = script.count;
        *counts = (struct video_counts){count, count, count, count, count, count, count};
        script.count += 5;
    }
}

static void decorate(struct loop *loop, uint64_t seed) {
    (void)seed;
    script.inner = loop->source;
    loop->source = (struct video_source){.state = &script, .next = play, .close = close_script, .tell = tell};
}

static bool run(struct loop *loop, int frames, enum next then, int times) {
    struct virtual_options options;
    virtual_defaults(STANDARD_NTSC, &options);
    const bool interrupt = script.interrupt;
    script =
        (struct script){.frames = frames, .then = then, .times = times, .interrupt = interrupt, .count = 7};
    return loop_run(loop, "bits", &options, NULL, decorate);
}

static size_t open_steps(const struct loop *loop) {
    size_t open = 0;
    for (size_t i = 0; i < loop->session.result->step_count; i++) {
        open += loop->session.result->steps[i].verdict == VERDICT_INCONCLUSIVE;
    }
    return open;
}

/* A silence that ends costs nothing. */
static void silence_that_ends(void **unused) {
    (void)unused;
    struct loop loop;
    assert_true(run(&loop, 50, NEXT_NOTHING, 40));
    assert_int_equal(loop.session.result->verdict, VERDICT_PASS);
    assert_int_equal(script.asked_after, 40);
    loop_end(&loop);
}

/* One that does not is no video, after the time that was set; the steps seen until then stay seen. */
static void silence_without_an_end(void **unused) {
    (void)unused;
    struct loop loop;
    assert_true(run(&loop, 50, NEXT_NOTHING, -1)); /* LOOP_SILENCE_S of it */
    assert_int_equal(loop.session.result->verdict, VERDICT_INCONCLUSIVE);
    assert_in_range(open_steps(&loop), 60, 90);
    loop_end(&loop);
}

/* Lost for good: told as such, with the steps that are still owed; what was seen until then is kept. */
static void device_that_is_gone(void **unused) {
    (void)unused;
    struct loop loop;
    assert_false(run(&loop, 50, NEXT_GONE, -1));
    assert_int_equal(loop.problem.kind, PROBLEM_BENCH);
    assert_non_null(strstr(loop.problem.text, "/dev/video9: went away"));
    assert_int_equal(script.asked_after, 1); /* and not asked again */
    const size_t open = open_steps(&loop);
    char told[64];
    snprintf(told, sizeof told, "until then %zu of 98 steps", 98 - open);
    if (strstr(loop.problem.text, told) == NULL) {
        fail_msg("'%s' is not in: %s", told, loop.problem.text);
    }
    assert_in_range(open, 60, 90);
    loop_end(&loop);
}

static void end_of_a_source(void **unused) {
    (void)unused;
    struct loop loop;
    assert_true(run(&loop, 50, NEXT_END, -1));
    assert_int_equal(loop.session.result->verdict, VERDICT_INCONCLUSIVE);
    assert_int_equal(script.asked_after, 1);
    loop_end(&loop);
}

/* Ctrl-C ends the loop, not the program: what was seen is told. */
static void person_who_stops(void **unused) {
    (void)unused;
    struct loop loop;
    script.interrupt = true;
    assert_true(run(&loop, 50, NEXT_NOTHING, 1));
    assert_true(loop.session.stopped);
    assert_int_equal(loop.session.result->verdict, VERDICT_INCONCLUSIVE);
    assert_int_equal(script.asked_after, 1);
    assert_in_range(loop.session.result->fields_seen, 90, 110);
    loop_end(&loop);
}

/* What the source counted before the session began is none of the session's. */
static void counts_of_the_session_alone(void **unused) {
    (void)unused;
    struct loop loop;
    assert_true(run(&loop, 50, NEXT_NOTHING, 0));
    static const struct video_counts wanted = {5, 5, 5, 5, 5, 5, 5};
    assert_memory_equal(&loop.session.counts, &wanted, sizeof wanted);
    assert_string_equal(loop.session.about.kind, "virtual");
    loop_end(&loop);
}

static uint64_t fields_seen_with(const char *fault) {
    struct virtual_options options;
    struct loop loop;
    virtual_defaults(STANDARD_NTSC, &options);
    assert_true(loop_run(&loop, "bits", &options, fault, NULL));
    assert_int_equal(loop.session.result->verdict, VERDICT_INCONCLUSIVE);
    const uint64_t seen = loop.session.result->fields_seen;
    loop_end(&loop);
    return seen;
}

/* A source that goes on for ever is given up: after a round of the plan and 128 fields where nothing can be
 * judged; after three such rounds where something was, and of frozen video, whose fields count a quarter,
 * after four times as many. */
static void source_without_an_end(void **unused) {
    (void)unused;
    const uint64_t round = 98 * LOOP_HOLD + 128;
    assert_in_range(fields_seen_with("no-video"), round - 16, round + 2);
    assert_in_range(fields_seen_with("frozen=60"), 4 * 3 * round - 16, 4 * 3 * round + 2);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(silence_that_ends),
        cmocka_unit_test(silence_without_an_end),
        cmocka_unit_test(device_that_is_gone),
        cmocka_unit_test(end_of_a_source),
        cmocka_unit_test(counts_of_the_session_alone),
        cmocka_unit_test(source_without_an_end),
        cmocka_unit_test(person_who_stops), /* the last: the wish to stop stays known */
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
