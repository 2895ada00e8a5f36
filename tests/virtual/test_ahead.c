/* A bench that runs ahead gives the same frames, with threads and without, and can be closed at any time. */
#include "commands/virtual_stand.h"
#include "link/link.h"
#include "rom/rom.h"
#include "virtual/bench.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum way { AT_ONCE, AHEAD, AHEAD_WITH_THREADS };
enum { FRAMES = 60 };

static struct image *image;

static bool small(void) {
    const char *text = getenv("SLOTJIG_TEST_SMALL");
    return text != NULL && strcmp(text, "1") == 0;
}

static int make_image(void **state) {
    (void)state;
    struct plan *plan;
    struct problem problem;
    const struct rom_options options = {.hold = 4};
    const bool good =
        plan_open("bits", STANDARD_NTSC, &plan, &problem) && rom_build(plan, &options, &image, &problem);
    plan_free(plan);
    return good ? 0 : -1;
}

static int free_image(void **state) {
    (void)state;
    rom_free(image);
    return 0;
}

static uint32_t sum_plane(uint32_t crc, const struct plane *plane, int width, int height) {
    for (int y = 0; y < height && plane->data != NULL; y++) {
        for (int x = 0; x < width; x++) {
            crc = (uint32_t)crc32(crc, plane->data + y * plane->stride + (ptrdiff_t)x * plane->step, 1);
        }
    }
    return crc;
}

/* Of all its samples; packed ones at one go. */
static uint32_t sum_of(const struct frame *frame) {
    uint32_t crc = (uint32_t)frame->number;
    if (frame->y.step == 2) {
        for (int y = 0; y < frame->height; y++) {
            crc = (uint32_t)crc32(crc, frame->y.data + y * frame->y.stride, (uInt)(2 * frame->width));
        }
        return crc;
    }
    crc = sum_plane(crc, &frame->y, frame->width, frame->height);
    crc = sum_plane(crc, &frame->cb, frame->width >> frame->chroma_x, frame->height >> frame->chroma_y);
    return sum_plane(crc, &frame->cr, frame->width >> frame->chroma_x, frame->height >> frame->chroma_y);
}

static void look(const struct video_source *source, int frames, uint32_t *sums) {
    struct problem problem;
    struct frame frame;
    for (int i = 0; i < frames; i++) {
        assert_int_equal(source->next(source->state, &frame, &problem), NEXT_FRAME);
        sums[i] = sum_of(&frame);
    }
}

static void start(struct video_source *source, const struct virtual_options *options, enum way way) {
    struct problem problem;
    assert_true(virtual_open(options, image->bytes, image->size, source, &problem));
    assert_true(way == AT_ONCE || virtual_run_ahead(source, way == AHEAD_WITH_THREADS, &problem));
}

/* ---- the same frames ---- */

static void compare(const char *name, const struct virtual_options *options, int frames) {
    uint32_t sums[3][FRAMES];
    for (int way = AT_ONCE; way <= AHEAD_WITH_THREADS; way++) {
        struct video_source source;
        start(&source, options, (enum way)way);
        look(&source, frames, sums[way]);
        source.close(source.state);
    }
    for (int i = 0; i < frames; i++) {
        if (sums[AHEAD][i] != sums[AT_ONCE][i] || sums[AHEAD_WITH_THREADS][i] != sums[AT_ONCE][i]) {
            fail_msg("%s: frame %d: %08X, ahead %08X, with threads %08X", name, i, sums[AT_ONCE][i],
                     sums[AHEAD][i], sums[AHEAD_WITH_THREADS][i]);
        }
    }
}

static void test_every_kind_of_grabber(void **state) {
    (void)state;
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++) {
        struct virtual_options options;
        struct problem problem;
        virtual_defaults(STANDARD_NTSC, &options);
        assert_true(virtual_use_set(&options, set->name, &problem));
        compare(set->name, &options, small() ? 6 : 12);
    }
}

/* Where more fields are lost in a row than the console is ahead, it has to be let on. */
static void test_lost_fields(void **state) {
    (void)state;
    static const char *const texts[] = {"burst=3:200", "burst=0:31", "burst=0:32", "burst=0:33",
                                        "burst=40:65", "drop=0.5",   "pairs"};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        struct virtual_options options;
        struct problem problem;
        virtual_defaults(STANDARD_NTSC, &options);
        assert_true(virtual_add_impairment(&options, texts[i], &problem));
        compare(texts[i], &options, small() ? 30 : FRAMES);
    }
}

static void test_faults(void **state) {
    (void)state;
    static const char *const texts[] = {"frozen=7", "frozen=60", "no-video", "no-console", "no-supply"};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        struct virtual_options options;
        struct problem problem;
        virtual_defaults(STANDARD_NTSC, &options);
        if (!virtual_add_fault(&options, texts[i], &problem)) {
            fail_msg("%s", problem.text);
        }
        compare(texts[i], &options, small() ? 10 : 40);
    }
}

/* ---- closed at any time ---- */

static void test_closed_at_any_time(void **state) {
    (void)state;
    for (int frames = 0; frames < 24; frames++) {
        struct video_source source;
        struct virtual_options options;
        uint32_t sums[FRAMES];
        virtual_defaults(STANDARD_NTSC, &options);
        start(&source, &options, AHEAD_WITH_THREADS);
        look(&source, frames, sums);
        if (frames % 2 == 0) {
            virtual_rest(&source);
        }
        source.close(source.state);
    }
}

/* ---- the board ---- */

struct seen {
    uint32_t sums[FRAMES], status[FRAMES], watch[FRAMES];
    struct virtual_notes notes;
};

/* Talks to the board between frames: every third asks how it is, some hold a step, one is a power cycle. */
static void talk(enum way way, struct seen *seen) {
    struct virtual_options options;
    struct virtual_stand *stand;
    struct transport wire;
    struct video_source video;
    struct link_options how;
    struct link *link;
    struct link_push push;
    struct problem problem;
    struct link_image pushed = {.bytes = image->bytes, .size = image->size, .flags = WIRE_IMAGE_MAILBOX};
    assert_true(link_scheme(image->size, &pushed.scheme));
    virtual_defaults(STANDARD_NTSC, &options);
    link_defaults(&how);
    assert_true(virtual_stand_open(&options, &stand, &problem));
    assert_true(virtual_stand_transport(stand, &wire, &problem));
    assert_true(link_open(&wire, &how, &link, &problem));
    if (!link_push(link, &pushed, &push, &problem)) {
        fail_msg("%s", problem.text);
    }
    virtual_stand_video(stand, &video);
    assert_true(virtual_stand_run_ahead(stand, way == AHEAD_WITH_THREADS, &problem));
    for (int i = 0; i < FRAMES; i++) {
        look(&video, 1, &seen->sums[i]);
        if (i % 3 == 1) {
            struct link_watch watch;
            struct link_status status;
            assert_true(link_watch(link, &watch, &problem) && link_status(link, &status, &problem));
            seen->watch[i] = watch.cycles;
            seen->status[i] = status.uptime_ms;
        }
        if (i % 7 == 5) {
            assert_true(link_select(link, i % 2 ? WIRE_HOLD_STEP : WIRE_RUN_FREE, i, &problem));
        }
        if (i == 30) {
            virtual_stand_power_cycle(stand);
        }
    }
    virtual_stand_notes(stand, &seen->notes);
    link_close(link);
    virtual_stand_close(stand);
}

static void test_a_board_is_told_at_the_same_field(void **state) {
    (void)state;
    struct seen alone = {0}, threads = {0};
    talk(AHEAD, &alone);
    talk(AHEAD_WITH_THREADS, &threads);
    assert_memory_equal(alone.sums, threads.sums, sizeof alone.sums);
    assert_memory_equal(alone.status, threads.status, sizeof alone.status);
    assert_memory_equal(alone.watch, threads.watch, sizeof alone.watch);
    assert_int_equal(alone.notes.fields, threads.notes.fields);
    assert_int_equal(alone.notes.lines, threads.notes.lines);
    assert_true(alone.status[58] > alone.status[1]);
}

static bool is_flat(const struct frame *frame) {
    for (int y = 0; y < frame->height; y++) {
        for (int x = 0; x < frame->width; x++) {
            if (frame->y.data[y * frame->y.stride + 2 * x] > 60) {
                return false;
            }
        }
    }
    return true;
}

/* While it stands still the console is as far ahead as it may be: what is done to it shows that much later.
 */
static void test_how_far(void **state) {
    (void)state;
    for (int way = AHEAD; way <= AHEAD_WITH_THREADS; way++) {
        struct virtual_options options;
        struct video_source source;
        struct problem problem;
        struct frame frame;
        uint32_t sums[FRAMES];
        virtual_defaults(STANDARD_NTSC, &options);
        start(&source, &options, (enum way)way);
        look(&source, 8, sums);
        virtual_power_cycle(&source); /* a console that is switched on has no picture at once */
        int frames = 0;
        bool flat = false;
        while (!flat && frames < FRAMES) {
            assert_int_equal(source.next(source.state, &frame, &problem), NEXT_FRAME);
            flat = is_flat(&frame);
            frames++;
        }
        assert_in_range(frames, VIRTUAL_AHEAD_FIELDS / 2, VIRTUAL_AHEAD_FIELDS / 2 + 2);
        source.close(source.state);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_kind_of_grabber),
        cmocka_unit_test(test_lost_fields),
        cmocka_unit_test(test_faults),
        cmocka_unit_test(test_closed_at_any_time),
        cmocka_unit_test(test_a_board_is_told_at_the_same_field),
        cmocka_unit_test(test_how_far),
    };
    return cmocka_run_group_tests(tests, make_image, free_image);
}
