/* Frames dropped, doubled and swapped on their way: the verdict stays, and no field is counted twice. */
#include "commands/loop.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

/* A source between the bench and the session that spoils the order of the frames, from a seed. */
struct spoiler {
    struct video_source inner;
    uint64_t random;
    unsigned drop, twice, swap; /* of 100 frames each */
    uint8_t *kept;              /* a frame to be delivered later: again, or after the next one */
    struct frame kept_frame;
    bool kept_due;
    int limit; /* frames in all, so that nothing runs for ever */
};

static unsigned dice(struct spoiler *spoiler) {
    spoiler->random ^= spoiler->random << 13; /* xorshift64, Marsaglia 2003 */
    spoiler->random ^= spoiler->random >> 7;
    spoiler->random ^= spoiler->random << 17;
    return (unsigned)(spoiler->random % 100);
}

static void keep(struct spoiler *spoiler, const struct frame *frame) {
    size_t size = (size_t)frame->y.stride * (size_t)frame->height;
    if (spoiler->kept == NULL) {
        spoiler->kept = malloc(size);
        assert_non_null(spoiler->kept);
    }
    memcpy(spoiler->kept, frame->y.data, size);
    spoiler->kept_frame = *frame;
    spoiler->kept_frame.y.data = spoiler->kept;
    spoiler->kept_frame.cb.data = spoiler->kept + 1;
    spoiler->kept_frame.cr.data = spoiler->kept + 3;
    spoiler->kept_due = true;
}

static enum next spoil(void *state, struct frame *frame, struct problem *problem) {
    struct spoiler *spoiler = state;
    if (spoiler->limit-- == 0) {
        return NEXT_END;
    }
    if (spoiler->kept_due) {
        spoiler->kept_due = false;
        *frame = spoiler->kept_frame;
        return NEXT_FRAME;
    }
    enum next next = spoiler->inner.next(spoiler->inner.state, frame, problem);
    while (next == NEXT_FRAME && dice(spoiler) < spoiler->drop) {
        next = spoiler->inner.next(spoiler->inner.state, frame, problem);
    }
    if (next != NEXT_FRAME) {
        return next;
    }
    if (dice(spoiler) < spoiler->twice) {
        keep(spoiler, frame);
    } else if (dice(spoiler) < spoiler->swap) {
        keep(spoiler, frame);
        next = spoiler->inner.next(spoiler->inner.state, frame, problem);
    }
    return next;
}

static void spoiler_close(void *state) {
    struct spoiler *spoiler = state;
    spoiler->inner.close(spoiler->inner.state);
    free(spoiler->kept);
    free(spoiler);
}

static unsigned want_drop, want_twice, want_swap;

static void decorate(struct loop *loop, uint64_t seed) {
    struct spoiler *spoiler = calloc(1, sizeof *spoiler);
    assert_non_null(spoiler);
    *spoiler = (struct spoiler){.inner = loop->source,
                                .random = seed * 2654435761u + 1,
                                .drop = want_drop,
                                .twice = want_twice,
                                .swap = want_swap,
                                .limit = 100000};
    loop->source = (struct video_source){.state = spoiler, .next = spoil, .close = spoiler_close};
}

static void check(unsigned drop, unsigned twice, unsigned swap, const char *fault, enum verdict wanted) {
    for (uint64_t seed = 1; seed <= 5; seed++) {
        struct loop loop;
        struct virtual_options options;
        virtual_defaults(STANDARD_NTSC, &options);
        options.seed = seed;
        want_drop = drop;
        want_twice = twice;
        want_swap = swap;
        if (!loop_run(&loop, "bits", &options, fault, decorate)) {
            fail_msg("seed %llu: %s", (unsigned long long)seed, loop.problem.text);
        }
        if (loop.session.result->verdict != wanted) {
            fail_msg("seed %llu, drop %u twice %u swap %u: %s, %s", (unsigned long long)seed, drop, twice,
                     swap, verdict_name(loop.session.result->verdict), loop_findings(&loop));
        }
        loop_end(&loop);
    }
}

static void test_dropped(void **state) {
    (void)state;
    check(10, 0, 0, NULL, VERDICT_PASS);
}

static void test_doubled(void **state) {
    (void)state;
    check(0, 20, 0, NULL, VERDICT_PASS);
}

static void test_swapped(void **state) {
    (void)state;
    check(0, 0, 10, NULL, VERDICT_PASS);
}

static void test_all_at_once_with_a_fault(void **state) {
    (void)state;
    check(5, 5, 5, "bit-high=PF1.6", VERDICT_FAIL);
}

/* With every frame doubled, each step still needs two different fields: the counter tells, not the number of
 * frames. */
static void test_every_frame_doubled_counts_once(void **state) {
    (void)state;
    struct loop loop;
    struct virtual_options options;
    virtual_defaults(STANDARD_NTSC, &options);
    want_drop = want_swap = 0;
    want_twice = 100;
    assert_true(loop_run(&loop, "bits", &options, NULL, decorate));
    const struct result *result = loop.session.result;
    assert_int_equal(result->verdict, VERDICT_PASS);
    assert_true(result->fields_judged * 2 <= result->fields_seen);
    loop_end(&loop);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dropped),
        cmocka_unit_test(test_doubled),
        cmocka_unit_test(test_swapped),
        cmocka_unit_test(test_all_at_once_with_a_fault),
        cmocka_unit_test(test_every_frame_doubled_counts_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
