/* The present, with a clock of the test's own: what is said of which fields, and how soon. */
#include "commands/watch_json.h"
#include "commands/watch_now.h"

#include "expect/expect.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

enum { HASH = 0x4A17, FIELD_US = 16688 /* 262 lines of 228 clocks at 3.579545 MHz [A] */, HOLD = 20 };

struct bench {
    struct plan *plan;
    struct watch_now *now;
    struct watch_view view;
    struct frames_facts facts;
    struct video_counts counts;
    uint64_t time_us;
    unsigned field; /* drawn so far: the slate's counter, and with HOLD the step */
    double margin;
    enum field_state state;
    uint16_t hash;
    uint64_t stuck; /* cells that stay dark */
    uint64_t torn;  /* cells that are the other way round on one line */
    int lines;
};

static int setup(void **state) {
    struct bench *bench = calloc(1, sizeof *bench);
    struct problem problem;
    assert_true(plan_open("bits", STANDARD_NTSC, &bench->plan, &problem));
    bench->now = watch_now_new(bench->plan, HASH);
    assert_non_null(bench->now);
    bench->time_us = 5000000;
    bench->margin = 0.9;
    bench->hash = HASH;
    bench->facts = (struct frames_facts){.layout = LAYOUT_WOVEN, .older = 0, .stale = -1};
    bench->lines = standard_plan_lines(STANDARD_NTSC);
    *state = bench;
    return 0;
}

static int teardown(void **state) {
    struct bench *bench = *state;
    watch_now_free(bench->now);
    plan_free(bench->plan);
    free(bench);
    return 0;
}

static void draw(const struct bench *bench, struct reading *reading) {
    static struct expectation expect;
    const uint32_t step = bench->field / HOLD % (uint32_t)bench->plan->step_count;
    *reading = (struct reading){.state = bench->state};
    if (bench->state != FIELD_READ) {
        return;
    }
    expect_step(&bench->plan->steps[step], standard_plan_lines(STANDARD_NTSC), &expect);
    reading->slate = (struct slate){bench->hash, step, (uint8_t)(bench->field & 63)};
    reading->raster =
        (struct raster){.left = 74, .top = 19, .clock_width = 3.7714, .black = 16, .white = 235};
    reading->lines = bench->lines;
    reading->margin = bench->margin;
    for (int line = 0; line < bench->lines; line++) {
        reading->lit[line] = expect.lit[line] & ~bench->stuck;
    }
    reading->lit[bench->lines / 2] ^= bench->torn;
}

/* A bin that has only begun is never told to be empty: the strip would blink. */
static void check_strip(const struct bench *bench) {
    const double last = bench->view.strip[WATCH_BINS - 1];
    if (bench->state == FIELD_READ && bench->hash == HASH) {
        assert_true(bench->view.kind < WATCH_CUT_OFF || last > WATCH_NOTHING_READ || last == WATCH_NOT_YET);
    }
}

/* So many milliseconds of fields; the state is looked at after each frame of two. */
static void run(struct bench *bench, int ms) {
    struct reading reading;
    const uint64_t end = bench->time_us + (uint64_t)ms * 1000;
    while (bench->time_us < end) {
        watch_now_frame(bench->now, bench->time_us);
        for (int i = 0; i < 2; i++, bench->field++) {
            draw(bench, &reading);
            watch_now_field(bench->now, bench->time_us, &reading, 2);
            bench->facts.read += bench->state == FIELD_READ;
            bench->facts.fresh += bench->state == FIELD_READ;
        }
        bench->facts.frames++;
        bench->counts.delivered++;
        bench->time_us += 2 * FIELD_US;
        watch_now_facts(bench->now, bench->time_us, &bench->facts, &bench->counts);
        watch_now_look(bench->now, bench->time_us, &bench->view);
        check_strip(bench);
    }
}

/* The same without any frame. */
static void silence(struct bench *bench, int ms) {
    bench->time_us += (uint64_t)ms * 1000;
    watch_now_look(bench->now, bench->time_us, &bench->view);
}

static void test_well(void **state) {
    struct bench *bench = *state;
    watch_now_look(bench->now, bench->time_us, &bench->view);
    assert_int_equal(bench->view.kind, WATCH_NO_FRAMES);
    assert_false(bench->view.has_margin);
    run(bench, 5000);
    assert_int_equal(bench->view.kind, WATCH_WELL);
    assert_true(bench->view.has_margin);
    assert_float_equal(bench->view.margin, 0.9, 1e-6);
    assert_int_equal(bench->view.wrong_count, 0);
    for (int check = 0; check < WATCH_CHECKS; check++) {
        assert_int_equal(bench->view.checks[check], WATCH_GOOD);
    }
    /* 59.92 fields and 29.96 frames a second [A]; bins of half a second count whole frames */
    assert_float_equal(bench->view.fields_a_second, 59.92, 1.1);
    assert_float_equal(bench->view.frames_a_second, 29.96, 0.6);
    assert_float_equal(bench->view.strip[WATCH_BINS - 2], 0.9, 1e-6);
    assert_float_equal(bench->view.strip[0], WATCH_NOT_YET, 1e-6);
}

/* Each within half a second, so that with the page's own 200 ms it shows within one. */
static void test_each_loss(void **state) {
    struct bench *bench = *state;
    static const struct {
        enum field_state state;
        uint16_t hash;
        enum watch_kind kind;
        enum watch_check check;
    } rows[] = {{FIELD_NO_SIGNAL, HASH, WATCH_NO_SIGNAL, CHECK_SIGNAL},
                {FIELD_NO_SLATE, HASH, WATCH_NO_SLATE, CHECK_SLATE},
                {FIELD_BAD_SLATE, HASH, WATCH_BAD_SLATE, CHECK_SLATE},
                {FIELD_READ, SLATE_HASH_IDLE, WATCH_IDLE, CHECK_SLATE},
                {FIELD_READ, 0x1234, WATCH_OTHER_IMAGE, CHECK_SLATE}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        bench->state = FIELD_READ;
        bench->hash = HASH;
        run(bench, 2000);
        assert_int_equal(bench->view.kind, WATCH_WELL);
        bench->state = rows[i].state;
        bench->hash = rows[i].hash;
        run(bench, 500);
        assert_int_equal(bench->view.kind, rows[i].kind);
        assert_string_equal(bench->view.words.level, "blind");
        assert_true(bench->view.words.next[0] != '\0');
        assert_false(bench->view.has_margin);
        assert_int_equal(bench->view.checks[rows[i].check], WATCH_BAD);
        assert_int_equal(bench->view.checks[CHECK_FRAMES], WATCH_GOOD);
        assert_int_equal(bench->view.checks[CHECK_CELLS], WATCH_UNKNOWN);
        assert_int_equal(bench->view.steps_seen, 0);
        run(bench, 1000);
        assert_float_equal(bench->view.strip[WATCH_BINS - 2], WATCH_NOTHING_READ, 1e-6);
    }
}

static void test_single_fields_lost(void **state) {
    struct bench *bench = *state;
    run(bench, 2000);
    for (int i = 0; i < 10; i++) {
        bench->state = FIELD_NO_SIGNAL;
        run(bench, 30);
        assert_int_equal(bench->view.kind, WATCH_WELL);
        bench->state = FIELD_READ;
        run(bench, 300);
    }
}

static void test_silence(void **state) {
    struct bench *bench = *state;
    run(bench, 2000);
    silence(bench, 200);
    assert_int_equal(bench->view.kind, WATCH_WELL);
    silence(bench, 300);
    assert_int_equal(bench->view.kind, WATCH_NO_FRAMES);
    silence(bench, 70000); /* longer than the strip */
    assert_int_equal(bench->view.kind, WATCH_NO_FRAMES);
    assert_float_equal(bench->view.strip[5], WATCH_NOTHING_READ, 1e-6);
    assert_string_equal(bench->view.silent.headline, bench->view.words.headline);
    run(bench, 1500);
    assert_int_equal(bench->view.kind, WATCH_WELL);
}

/* The two fields of a frame again and again: how a grabber hangs. */
static void test_stands_still(void **state) {
    struct bench *bench = *state;
    run(bench, 2000);
    for (int i = 0; i < 30; i++) {
        bench->field = 40;
        run(bench, 30);
    }
    assert_int_equal(bench->view.kind, WATCH_STANDS_STILL);
    run(bench, 1500);
    assert_int_equal(bench->view.kind, WATCH_WELL);
}

static void test_margin(void **state) {
    struct bench *bench = *state;
    run(bench, 2000);
    bench->margin = 0.3;
    run(bench, 300);
    assert_int_equal(bench->view.kind, WATCH_THIN);
    assert_int_equal(bench->view.checks[CHECK_MARGIN], WATCH_BAD);
    bench->margin = 0.1;
    run(bench, 300);
    assert_int_equal(bench->view.kind, WATCH_UNCLEAR);
    assert_float_equal(bench->view.margin, 0.1, 1e-6);
    bench->margin = 0.9;
    run(bench, 3000);
    assert_int_equal(bench->view.kind, WATCH_WELL);
    bench->lines = 100;
    run(bench, 1200);
    assert_int_equal(bench->view.kind, WATCH_CUT_OFF);
}

/* PF1 D3 is cell 8, in copy mode cell 28 too [H TIA 1A, serial output table]. A cell that a torn line shows
 * wrong is not boxed. */
static void test_wrong_cells(void **state) {
    struct bench *bench = *state;
    bench->stuck = UINT64_C(1) << 8 | UINT64_C(1) << 28;
    bench->torn = UINT64_C(1) << 3;
    run(bench, 98 * HOLD / 2 * 34);
    assert_int_equal(bench->view.kind, WATCH_WRONG);
    assert_int_equal(bench->view.checks[CHECK_CELLS], WATCH_BAD);
    assert_true(bench->view.wrong_count > 5);
    assert_true(bench->view.wrong[0] > bench->view.wrong[1]); /* the latest first */
    assert_true(bench->view.wrong_cells[0] != 0);
    assert_int_equal(bench->view.wrong_cells[0] & ~bench->stuck, 0);
    assert_non_null(strstr(bench->view.words.text, "cells "));
    /* Mended: each step is taken back when it is seen right. */
    bench->stuck = bench->torn = 0;
    run(bench, 98 * HOLD / 2 * 34);
    assert_int_equal(bench->view.kind, WATCH_WELL);
    assert_int_equal(bench->view.steps_good, bench->view.steps_seen);
}

/* A graver word comes at once, a better one only after it has stood for a while. */
static void test_words_do_not_flicker(void **state) {
    struct bench *bench = *state;
    int changes = 0;
    enum watch_kind last = WATCH_WELL;
    run(bench, 2000);
    for (int i = 0; i < 25; i++) { /* ten seconds of a plug that is only half in */
        bench->state = i % 2 == 0 ? FIELD_NO_SIGNAL : FIELD_READ;
        run(bench, 400);
        changes += bench->view.kind != last;
        last = bench->view.kind;
    }
    assert_int_equal(changes, 1);
}

static void test_troubles_pass(void **state) {
    struct bench *bench = *state;
    run(bench, 3000);
    bench->facts.lost += 40;
    run(bench, 300);
    assert_int_equal(bench->view.kind, WATCH_TROUBLE);
    assert_string_equal(bench->view.words.headline, "Fields lost");
    assert_int_equal(bench->view.checks[CHECK_CAPTURE], WATCH_BAD);
    assert_int_equal(bench->view.trouble_count, 1);
    run(bench, 7000);
    assert_int_equal(bench->view.kind, WATCH_WELL);
    assert_int_equal(bench->view.trouble_count, 0);
}

/* The longest state fits, whatever the texts are; and it is JSON. */
static void test_json_fits(void **state) {
    struct bench *bench = *state;
    char text[16 * 1024], name[400];
    memset(name, '"', sizeof name - 1); /* two bytes each in JSON */
    name[sizeof name - 1] = '\0';
    bench->stuck = CELLS_ALL;
    run(bench, 20000);
    struct watch_facts facts = {.bench = name, .plan = bench->plan};
    memset(facts.about.name, '\\', sizeof facts.about.name - 1);
    memset(facts.about.format, 0xC3, sizeof facts.about.format - 1); /* not UTF-8 */
    for (size_t i = 0; i < bench->plan->step_count; i++) {
        memset(bench->plan->steps[i].name, '"', STEP_NAME_MAX - 1);
    }
    watch_now_look(bench->now, bench->time_us, &bench->view);
    const size_t length = watch_json(&bench->view, &facts, text, sizeof text);
    assert_in_range(length, 1000, sizeof text - 1024);
    json_t *json = json_loadb(text, length, 0, NULL);
    assert_non_null(json);
    assert_string_equal(json_string_value(json_object_get(json, "bench")), name);
    assert_int_equal(json_array_size(json_object_get(json, "strip")), WATCH_BINS);
    json_decref(json);
    assert_int_equal(watch_json(&bench->view, &facts, text, length - 1), 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_well, setup, teardown),
        cmocka_unit_test_setup_teardown(test_each_loss, setup, teardown),
        cmocka_unit_test_setup_teardown(test_single_fields_lost, setup, teardown),
        cmocka_unit_test_setup_teardown(test_silence, setup, teardown),
        cmocka_unit_test_setup_teardown(test_stands_still, setup, teardown),
        cmocka_unit_test_setup_teardown(test_margin, setup, teardown),
        cmocka_unit_test_setup_teardown(test_wrong_cells, setup, teardown),
        cmocka_unit_test_setup_teardown(test_words_do_not_flicker, setup, teardown),
        cmocka_unit_test_setup_teardown(test_troubles_pass, setup, teardown),
        cmocka_unit_test_setup_teardown(test_json_fits, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
