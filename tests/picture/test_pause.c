/*
 * A device that was away: the console went on meanwhile, and its counter, of six bits, may stand anywhere. A
 * step forward of 48 looks like one back of 16.
 */
#include "picture/frames.h"
#include "plan/plan.h"
#include "rom/rom.h"
#include "virtual/bench.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { FRAMES_EACH = 40, FIELDS_AWAY = 48 };

static void read_frames(struct frames *frames, const struct video_source *source) {
    struct problem problem = {0};
    for (int i = 0; i < FRAMES_EACH; i++) {
        struct frame frame;
        struct field fields[2];
        struct reading readings[2];
        assert_int_equal(source->next(source->state, &frame, &problem), NEXT_FRAME);
        frames_read(frames, &frame, fields, readings);
    }
}

/* What frames think of a console that was unseen for that many fields. */
static struct frames_facts after_pause(int fields, bool told) {
    const struct picture_options picture = {.standard = STANDARD_NTSC, .unclear_below = PICTURE_UNCLEAR};
    const struct rom_options rom = {.hold = 4};
    struct virtual_options options;
    struct plan *plan = NULL;
    struct image *image = NULL;
    struct video_source source;
    struct problem problem = {0};
    virtual_defaults(STANDARD_NTSC, &options);
    assert_true(plan_open("bits", STANDARD_NTSC, &plan, &problem));
    assert_true(rom_build(plan, &rom, &image, &problem));
    assert_true(virtual_open(&options, image->bytes, image->size, &source, &problem));
    struct frames *frames = frames_new(&picture);
    assert_non_null(frames);
    read_frames(frames, &source);
    for (int i = 0; i < fields; i++) {
        virtual_run_field(&source);
    }
    if (told) {
        frames_paused(frames);
    }
    read_frames(frames, &source);
    const struct frames_facts facts = *frames_facts(frames);
    frames_free(frames);
    source.close(source.state);
    rom_free(image);
    plan_free(plan);
    return facts;
}

static void told_of_a_pause(void **state) {
    (void)state;
    const struct frames_facts facts = after_pause(FIELDS_AWAY, true);
    assert_int_equal(facts.swapped, 0);
    assert_int_equal(facts.doubled, 0);
    assert_int_equal(facts.lost, 0);
}

/* The same fields away, and nobody says so: they are missed, and counted. */
static void not_told(void **state) {
    (void)state;
    const struct frames_facts facts = after_pause(12, false);
    assert_int_equal(facts.lost, 12);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(told_of_a_pause), cmocka_unit_test(not_told)};
    return cmocka_run_group_tests_name("pause", tests, NULL, NULL);
}
