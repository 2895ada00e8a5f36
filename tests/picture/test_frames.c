/* What a source packs into its frames is found out, and each of the console's fields comes out once and in
 * order: against frames put together by hand. */
#include "film.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static struct film film;
static struct frames *frames;
static const struct frames_facts *facts;
static struct field fields[2];
static struct reading readings[2];
static int count;

static int open_film(void **state) {
    (void)state;
    film_open(&film);
    return 0;
}

static int close_film(void **state) {
    (void)state;
    film_close(&film);
    return 0;
}

static int start(void **state) {
    (void)state;
    const struct picture_options options = {.standard = STANDARD_NTSC};
    frames = frames_new(&options);
    facts = frames_facts(frames);
    return frames != NULL ? 0 : -1;
}

static int end(void **state) {
    (void)state;
    frames_free(frames);
    return 0;
}

static void read_film(void) {
    count = frames_read(frames, &film.frame, fields, readings);
}

/* What came out is these counters, and nothing else. */
static void expect_out(int wanted, int first, int second) {
    const int counters[2] = {first, second};
    if (count != wanted) {
        fail_msg("frame %d: %d fields, wanted %d", (int)film.frame.number, count, wanted);
    }
    for (int i = 0; i < wanted; i++) {
        if (readings[i].state != FIELD_READ || readings[i].slate.counter != counters[i] % 64 ||
            readings[i].slate.value != FILM_STEP || readings[i].margin < 0.25) {
            fail_msg("frame %d, field %d: state %d, counter %d, wanted %d, margin %.2f",
                     (int)film.frame.number, i, (int)readings[i].state, readings[i].slate.counter,
                     counters[i] % 64, readings[i].margin);
        }
    }
}

/* Nothing was lost, and nothing came twice. */
static void expect_facts(enum layout layout, int older, int stale, uint64_t fresh) {
    if (facts->layout != layout || facts->older != older || facts->stale != stale || facts->fresh != fresh ||
        facts->lost + facts->doubled + facts->swapped + facts->relocks != 0 || facts->changes != 0) {
        fail_msg("%s, older %d, stale %d, fresh %d, lost %d, doubled %d, swapped %d, changes %d, relocks %d",
                 layout_name(facts->layout), facts->older, facts->stale, (int)facts->fresh, (int)facts->lost,
                 (int)facts->doubled, (int)facts->swapped, facts->changes, (int)facts->relocks);
    }
}

static void woven_of_either_order(void **state) {
    (void)state;
    for (int older = 0; older < 2; older++) {
        end(NULL);
        start(NULL);
        for (int n = 0; n < 80; n += 2) {
            film_weave(&film, older == 0 ? n : n + 1, older == 0 ? n + 1 : n);
            read_film();
            expect_out(2, n, n + 1);
            assert_int_equal(fields[0].parity, older);
            assert_int_equal(fields[0].frame_lines, 2);
        }
        expect_facts(LAYOUT_WOVEN, older, -1, 80);
        assert_int_equal(facts->frames, 40);
        assert_int_equal(facts->half_black + facts->frames_repeated + facts->blended, 0);
    }
}

static void stacked_of_either_order(void **state) {
    (void)state;
    for (int older = 0; older < 2; older++) {
        end(NULL);
        start(NULL);
        for (int n = 0; n < 80; n += 2) {
            film_stack(&film, older == 0 ? n : n + 1, older == 0 ? n + 1 : n);
            read_film();
            expect_out(2, n, n + 1);
            assert_int_equal(fields[0].frame_lines, 1);
            assert_int_equal(readings[0].lines, 168);
        }
        expect_facts(LAYOUT_STACKED, older, -1, 80);
    }
}

static void a_field_a_frame(void **state) {
    (void)state;
    for (int n = 0; n < 80; n++) {
        film_single(&film, n);
        read_film();
        expect_out(1, n, 0);
    }
    expect_facts(LAYOUT_SINGLE, -1, -1, 80);
}

/* Doubled lines are woven of a field with itself. */
static void lines_doubled(void **state) {
    (void)state;
    for (int n = 0; n < 80; n++) {
        film_weave(&film, n, n);
        read_film();
        expect_out(1, n, 0);
    }
    expect_facts(LAYOUT_BOBBED, -1, -1, 80);
}

/* The grabber's own lines are now the upper ones of a pair, now the lower ones, as the fields come. */
static void lines_filled_in(void **state) {
    (void)state;
    for (int n = 0; n < 80; n++) {
        film_fill_in(&film, n, n % 2);
        read_film();
        expect_out(1, n, 0);
        assert_int_equal(fields[0].parity, n % 2);
    }
    expect_facts(LAYOUT_BOBBED, -1, -1, 80);
    assert_true(facts->mixing < 0.02);
}

static void blended_frames(void **state) {
    (void)state;
    static const int weights[][3] = {{1, 2, 1}, {0, 1, 1}, {1, 1, 0}};
    for (size_t i = 0; i < sizeof weights / sizeof weights[0]; i++) {
        end(NULL);
        start(NULL);
        for (int n = 0; n < 128; n += 2) {
            film_blend(&film, n + 1, n, weights[i]);
            read_film();
            expect_out(1, n, 0);
            assert_true(readings[0].blended);
        }
        expect_facts(LAYOUT_BLENDED, -1, -1, 64);
        assert_int_equal(facts->blended, 64);
    }
}

/* Up to a third of the other field is read through: two fields a frame, each its own. */
static void weakly_mixed_reads_as_woven(void **state) {
    (void)state;
    static const int weights[3] = {1, 4, 1};
    for (int n = 0; n < 80; n += 2) {
        film_blend(&film, n + 1, n, weights);
        read_film();
        expect_out(2, n, n + 1);
        assert_false(readings[0].blended || readings[1].blended);
    }
    expect_facts(LAYOUT_WOVEN, 1, -1, 80);
}

/* An old field in every frame comes out once, when it is first seen. */
static void stale_field(void **state) {
    (void)state;
    for (int place = 0; place < 2; place++) {
        end(NULL);
        start(NULL);
        for (int n = 10; n < 90; n++) {
            film_weave(&film, place == 0 ? 7 : n, place == 0 ? n : 7);
            read_film();
            if (n > 10) {
                expect_out(1, n, 0);
            }
        }
        assert_int_equal(facts->stale, place);
        assert_int_equal(facts->layout, LAYOUT_WOVEN);
        assert_int_equal(facts->fresh, 81);
        assert_int_equal(facts->doubled, 0);
    }
}

/* Refreshed now and then with the field before: it comes out once then, in its order. */
static void stale_field_refreshed(void **state) {
    (void)state;
    int old = 9;
    for (int n = 10; n < 90; n++) {
        bool refreshed = n % 20 == 0;
        old = refreshed ? n - 1 : old;
        film_weave(&film, old, n);
        read_film();
        if (n > 10 && !refreshed) {
            expect_out(1, n, 0);
        }
    }
    assert_int_equal(facts->stale, 0);
    assert_int_equal(facts->lost, 0);
}

/* Each new field is woven with the one before it. */
static void every_field_in_two_frames(void **state) {
    (void)state;
    for (int n = 0; n < 80; n++) {
        film_weave(&film, n % 2 == 0 ? n : n + 1, n % 2 == 0 ? n + 1 : n);
        read_film();
        if (n > 0) {
            expect_out(1, n + 1, 0);
        }
    }
    expect_facts(LAYOUT_WOVEN, facts->older, -1, 81);
}

static void frames_in_pairs(void **state) {
    (void)state;
    for (int n = 0; n < 80; n++) {
        int first = n / 2 * 2;
        film_weave(&film, first, first + 1);
        read_film();
        expect_out(2, first, first + 1);
    }
    assert_int_equal(facts->frames_repeated, 40);
    assert_int_equal(facts->fresh, 80);
    assert_int_equal(facts->doubled, 80);
    assert_int_equal(facts->lost + facts->swapped, 0);
    assert_int_equal(facts->stale, -1);
}

static void half_black(void **state) {
    (void)state;
    for (int kind = 0; kind < 4; kind++) {
        end(NULL);
        start(NULL);
        for (int n = 0; n < 40; n++) {
            int first = kind % 2 == 0 ? n : -1, second = kind % 2 == 0 ? -1 : n;
            if (kind < 2) {
                film_weave(&film, first, second);
            } else {
                film_stack(&film, first, second);
            }
            read_film();
            expect_out(1, n, 0);
        }
        assert_int_equal(facts->half_black, 40);
        expect_facts(kind < 2 ? LAYOUT_WOVEN : LAYOUT_STACKED, -1, -1, 40);
    }
}

/* Both fields fresh again after a while: that is noticed, and nothing is left out. */
static void stale_no_more(void **state) {
    (void)state;
    int n = 10;
    for (; n < 30; n++) {
        film_weave(&film, 7, n);
        read_film();
    }
    assert_int_equal(facts->stale, 0);
    for (; n < 60; n += 2) {
        film_weave(&film, n, n + 1);
        read_film();
        expect_out(2, n, n + 1);
    }
    assert_int_equal(facts->stale, -1);
    assert_int_equal(facts->older, 0);
}

/* A grabber that takes the blanking too gives fields taller than a field's picture: no halves of two. */
static void tall_single_field(void **state) {
    (void)state;
    const struct picture_options options = {.standard = STANDARD_PAL};
    struct frames *tall = frames_new(&options);
    struct scene scene = scene_usual(STANDARD_PAL);
    scene.height = 312;
    scene.top = 48;
    scene.step = 1;
    for (int n = 0; n < 10; n++) {
        uint8_t *luma;
        scene.slate.counter = (uint8_t)n;
        draw_field(&scene, &luma);
        const struct frame frame = {
            .width = 720, .height = 312, .y = {.data = luma, .stride = 720, .step = 1}};
        assert_int_equal(frames_read(tall, &frame, fields, readings), 1);
        assert_int_equal(readings[0].state, FIELD_READ);
        assert_int_equal(readings[0].lines, standard_plan_lines(STANDARD_PAL));
        free(luma);
    }
    assert_int_equal(frames_facts(tall)->layout, LAYOUT_SINGLE);
    assert_int_equal(frames_facts(tall)->lost, 0);
    frames_free(tall);
}

/* A field that is doubled within its frame looks like doubled lines; a few of them are no change of layout.
 */
static void doubled_within_frames(void **state) {
    (void)state;
    int n = 0;
    for (int i = 0; i < 60; i++) {
        bool doubled = i > 10 && i % 8 < 3;
        film_weave(&film, n, doubled ? n : n + 1);
        read_film();
        expect_out(2, n, doubled ? n : n + 1);
        n += doubled ? 1 : 2;
    }
    assert_int_equal(facts->layout, LAYOUT_WOVEN);
    assert_int_equal(facts->changes, 0);
    assert_int_equal(facts->doubled, 18); /* six times three */
    assert_int_equal(facts->lost, 0);
}

/* Another image's counter says nothing about fields lost of this one. */
static void another_image(void **state) {
    (void)state;
    struct scene scene = scene_usual(STANDARD_NTSC);
    uint8_t *luma;
    scene.step = 1;
    scene.slate = (struct slate){0x1234, 0, 40};
    draw_field(&scene, &luma);
    for (int n = 0; n < 20; n++) {
        film_single(&film, n);
        if (n >= 10) {
            film.frame.y.data = luma;
        }
        read_film();
        assert_int_equal(count, 1);
        assert_int_equal(readings[0].state, FIELD_READ);
    }
    assert_int_equal(facts->lost + facts->swapped, 0);
    assert_int_equal(facts->fresh, 11);
    free(luma);
}

/* A source that changes on the way is followed at once, and no field is lost over it. */
static void layout_changes(void **state) {
    (void)state;
    static const enum layout order[] = {LAYOUT_WOVEN,  LAYOUT_STACKED, LAYOUT_SINGLE, LAYOUT_BOBBED,
                                        LAYOUT_SINGLE, LAYOUT_WOVEN,   LAYOUT_STACKED};
    const int parts = sizeof order / sizeof order[0];
    int n = 0;
    for (int part = 0; part < parts; part++) {
        for (int i = 0; i < 10; i++) {
            bool two = order[part] == LAYOUT_WOVEN || order[part] == LAYOUT_STACKED;
            if (order[part] == LAYOUT_WOVEN) {
                film_weave(&film, n, n + 1);
            } else if (order[part] == LAYOUT_STACKED) {
                film_stack(&film, n, n + 1);
            } else if (order[part] == LAYOUT_SINGLE) {
                film_single(&film, n);
            } else {
                film_weave(&film, n, n);
            }
            read_film();
            /* Until it is sure that lines are doubled, both fields come out: the judge takes one of them. */
            if (order[part] != LAYOUT_BOBBED || i >= 5) {
                expect_out(two ? 2 : 1, n, n + 1);
            }
            n += two ? 2 : 1;
        }
        assert_int_equal(facts->layout, order[part]);
        assert_int_equal(facts->changes, part);
    }
    assert_int_equal(facts->lost + facts->swapped + facts->relocks, 0);
}

static void picture_away_and_back(void **state) {
    (void)state;
    for (int n = 0; n < 90; n += 2) {
        bool dark = n >= 30 && n < 50;
        film_weave(&film, dark ? -1 : n, dark ? -1 : n + 1);
        read_film();
        if (dark) {
            assert_int_equal(count, 2);
            assert_int_equal(readings[0].state, FIELD_NO_SIGNAL);
        } else if (n == 50) {
            assert_int_equal(count, 2 - FRAMES_SKIPPED);
        } else {
            expect_out(2, n, n + 1);
        }
    }
    assert_int_equal(facts->relocks, 1);
    assert_int_equal(facts->lost, 0);
}

/* Not flat, and no slate. */
static void film_another(void) {
    for (int i = 0; i < 2 * FILM_LINES * FILM_WIDTH; i++) {
        film.luma[i] = i % FILM_WIDTH / 90 % 2 == 0 ? 40 : 200;
    }
    film_frame(&film, 2 * FILM_LINES);
}

/* One frame or two that show something else are torn ones, and the fields after them count; with three the
 * picture was away. */
static void another_picture_for_a_while(void **state) {
    (void)state;
    for (int others = 1; others <= 3; others++) {
        end(NULL);
        start(NULL);
        const int back = 20 + 2 * others;
        for (int n = 0; n < 60; n += 2) {
            bool other = n >= 20 && n < back;
            if (other) {
                film_another();
            } else {
                film_weave(&film, n, n + 1);
            }
            read_film();
            if (other) {
                assert_int_equal(readings[0].state, FIELD_NO_SLATE);
            } else if (n == back && others == 3) {
                assert_int_equal(count, 2 - FRAMES_SKIPPED);
            } else {
                expect_out(2, n, n + 1);
            }
        }
        assert_int_equal(facts->relocks, others == 3);
        assert_int_equal(facts->lost, 0);
    }
}

/* Nothing came back that was never there. */
static void dark_at_first(void **state) {
    (void)state;
    for (int n = 0; n < 40; n += 2) {
        film_weave(&film, n < 10 ? -1 : n, n < 10 ? -1 : n + 1);
        read_film();
    }
    assert_int_equal(facts->relocks, 0);
    assert_int_equal(facts->fresh, 30);
}

/* Levels may still be running in when the picture comes back. */
static void levels_when_it_comes_back(void **state) {
    (void)state;
    for (int n = 0; n < 60; n++) {
        film_single(&film, n >= 20 && n < 30 ? -1 : n);
        for (int i = 0; (n == 30 || n == 31) && i < FILM_LINES * FILM_WIDTH; i++) {
            film.luma[i] = (uint8_t)(film.luma[i] / 2);
        }
        read_film();
    }
    assert_int_equal(facts->relocks, 1);
    assert_true(facts->white_high - facts->white_low < 1);
}

/* Fields dropped, doubled and swapped by a seeded choice, and counted while that is done. */
static void losses_are_counted(void **state) {
    (void)state;
    uint64_t random = 2026, lost = 0, doubled = 0, swapped = 0;
    for (int n = 0; n < 2000; n++) {
        unsigned what = (unsigned)draw_random(&random) % 16;
        int order[2] = {n, n};
        int shown = 1;
        if (what == 0 && n > 0) {
            lost++;
            continue;
        }
        if (what == 1) {
            doubled++;
            shown = 2;
        } else if (what == 2) {
            swapped++;
            order[0] = n + 1;
            order[1] = n++;
            shown = 2;
        }
        for (int i = 0; i < shown; i++) {
            film_single(&film, order[i]);
            read_film();
            expect_out(1, order[i], 0);
        }
    }
    assert_int_equal(facts->lost, lost);
    assert_int_equal(facts->doubled, doubled);
    assert_int_equal(facts->swapped, swapped);
    assert_true(lost > 50 && doubled > 50 && swapped > 50);
}

/* Frozen video is the judge's to see, so it comes out. */
static void frozen_comes_out(void **state) {
    (void)state;
    for (int n = 0; n < 40; n++) {
        film_weave(&film, 4, n < 20 ? 5 : -1);
        read_film();
        expect_out(n < 20 ? 2 : 1, 4, 5);
    }
    assert_int_equal(facts->frames_repeated, 38); /* all but the first, and the first with a half gone */
    assert_int_equal(facts->fresh, 2);
}

static void levels_over_the_fields(void **state) {
    (void)state;
    for (int n = 0; n < 12; n++) {
        film_single(&film, n);
        for (int i = 0; i < FILM_LINES * FILM_WIDTH; i++) {
            film.luma[i] = (uint8_t)(film.luma[i] - (n == 0 ? 15 : n));
        }
        read_film();
        expect_out(1, n, 0);
    }
    /* The first two are not measured; the last is 11 codes darker. */
    assert_true(fabs(facts->white_high - 233) < 1 && fabs(facts->white_low - 224) < 1);
    assert_true(fabs(facts->black_high - 14) < 1 && fabs(facts->black_low - 5) < 1);
}

/* No data, no lines, nothing but noise: no crash, no slate, and never more than two fields. */
static void nothing_to_read(void **state) {
    (void)state;
    static const int heights[] = {0, 1, 2, 24, 25, 47, 48, 49, 50, 240, 288, 289, 312, 480, 525, 576, 960};
    uint64_t random = 5;
    for (size_t i = 0; i < sizeof film.luma; i++) {
        film.luma[i] = (uint8_t)draw_random(&random);
    }
    for (size_t i = 0; i < sizeof heights / sizeof heights[0]; i++) {
        film_frame(&film, heights[i]);
        read_film();
        assert_in_range(count, 1, 2);
        for (int f = 0; f < count; f++) {
            assert_int_not_equal(readings[f].state, FIELD_READ);
        }
        film.frame.y.data = NULL;
        read_film();
        assert_in_range(count, 1, 2);
        assert_int_equal(readings[0].state, FIELD_NO_SIGNAL);
    }
    assert_int_equal(facts->read, 0);
    assert_int_equal(facts->layout, LAYOUT_UNKNOWN);
}

static void names(void **state) {
    (void)state;
    assert_string_equal(layout_name(LAYOUT_UNKNOWN), "unknown");
    assert_string_equal(layout_name(LAYOUT_BLENDED), "blended");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(woven_of_either_order, start, end),
        cmocka_unit_test_setup_teardown(stacked_of_either_order, start, end),
        cmocka_unit_test_setup_teardown(a_field_a_frame, start, end),
        cmocka_unit_test_setup_teardown(lines_doubled, start, end),
        cmocka_unit_test_setup_teardown(lines_filled_in, start, end),
        cmocka_unit_test_setup_teardown(blended_frames, start, end),
        cmocka_unit_test_setup_teardown(weakly_mixed_reads_as_woven, start, end),
        cmocka_unit_test_setup_teardown(stale_field, start, end),
        cmocka_unit_test_setup_teardown(stale_field_refreshed, start, end),
        cmocka_unit_test_setup_teardown(every_field_in_two_frames, start, end),
        cmocka_unit_test_setup_teardown(frames_in_pairs, start, end),
        cmocka_unit_test_setup_teardown(half_black, start, end),
        cmocka_unit_test_setup_teardown(stale_no_more, start, end),
        cmocka_unit_test_setup_teardown(tall_single_field, start, end),
        cmocka_unit_test_setup_teardown(doubled_within_frames, start, end),
        cmocka_unit_test_setup_teardown(another_image, start, end),
        cmocka_unit_test_setup_teardown(layout_changes, start, end),
        cmocka_unit_test_setup_teardown(picture_away_and_back, start, end),
        cmocka_unit_test_setup_teardown(another_picture_for_a_while, start, end),
        cmocka_unit_test_setup_teardown(dark_at_first, start, end),
        cmocka_unit_test_setup_teardown(levels_when_it_comes_back, start, end),
        cmocka_unit_test_setup_teardown(losses_are_counted, start, end),
        cmocka_unit_test_setup_teardown(frozen_comes_out, start, end),
        cmocka_unit_test_setup_teardown(levels_over_the_fields, start, end),
        cmocka_unit_test_setup_teardown(nothing_to_read, start, end),
        cmocka_unit_test_setup_teardown(names, start, end),
    };
    return cmocka_run_group_tests(tests, open_film, close_film);
}
