/*
 * Pictures whose bands are single lines (drawings): one wrong line is a fail once two different fields say
 * so, a wrong column in one field is; and nothing that noise or a capture chain does is. Readings are made
 * here, from the picture's own cells.
 */
#include "plan/drawing.h"
#include "plan/sketch.h"
#include "rom/scratch.h"
#include "verdict/verdict.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

enum { HASH = 0x5A17, LINES = 168 };

static char folder[SCRATCH_MAX], path[SCRATCH_MAX + 64];
static struct sketch sketch;
static struct plan *plan;

/* A whole picture of random cells, white on black. */
static int start(void **state) {
    (void)state;
    struct write_windows windows;
    struct problem problem = {0};
    uint64_t random = 11;
    scratch_make(folder);
    scratch_path(folder, "drawing.txt", path);
    windows_handbook(&windows);
    sketch.rows = LINES;
    for (int line = 0; line < LINES; line++) {
        sketch.lit[line] = sketch_random(&random) & CELLS_ALL;
        sketch.lit_colour[line] = 0x0E;
    }
    /* Somewhere a cell lies between cells like it. */
    sketch.lit[49] |= 1;
    sketch.lit[50] |= 1;
    sketch.lit[51] |= 1;
    return !(sketch_write(&sketch, path) && drawing_plan(path, STANDARD_NTSC, &windows, &plan, &problem));
}

static int stop(void **state) {
    (void)state;
    static const char *const names[] = {"drawing.txt"};
    plan_free(plan);
    scratch_remove(folder, names, 1);
    return 0;
}

static struct reading good(unsigned counter) {
    struct reading reading = {.state = FIELD_READ,
                              .slate = {.hash = HASH, .value = 0, .counter = (uint8_t)(counter & 63)},
                              .margin = 1,
                              .lines = LINES,
                              .raster = {.clock_width = 3.77, .black = 16, .white = 235}};
    memcpy(reading.lit, sketch.lit, sizeof sketch.lit);
    return reading;
}

/* What is done to field n of a run. */
typedef void (*change)(struct reading *reading, unsigned n, uint64_t *random);

static enum verdict judge_fields(change make, unsigned fields, uint64_t seed, int *wrong_line) {
    struct judge *judge = judge_new(plan, HASH);
    uint64_t random = seed;
    assert_non_null(judge);
    for (unsigned n = 0; n < fields; n++) {
        struct reading reading = good(n);
        make(&reading, n, &random);
        judge_reading(judge, &reading, 2);
    }
    const struct result *result = judge_result(judge);
    const enum verdict verdict = result->verdict;
    if (wrong_line != NULL) {
        *wrong_line = result->steps[0].wrong_line;
    }
    judge_free(judge);
    return verdict;
}

static void nothing(struct reading *reading, unsigned n, uint64_t *random) {
    (void)reading, (void)n, (void)random;
}

static void test_good(void **state) {
    (void)state;
    assert_int_equal(judge_fields(nothing, 3, 1, NULL), VERDICT_PASS);
    assert_int_equal(judge_fields(nothing, 2, 1, NULL), VERDICT_INCONCLUSIVE); /* the first is not judged */
}

static int wrong_at;

static void one_cell(struct reading *reading, unsigned n, uint64_t *random) {
    (void)n, (void)random;
    reading->lit[wrong_at] ^= UINT64_C(1) << 17;
}

/* The first and the last line are lines like all others. */
static void test_one_line_wrong(void **state) {
    (void)state;
    static const int lines[] = {0, 1, 77, 166, 167};
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        int line = -1;
        wrong_at = lines[i];
        assert_int_equal(judge_fields(one_cell, 5, 1, &line), VERDICT_FAIL);
        assert_int_equal(line, wrong_at);
    }
}

static void one_cell_once(struct reading *reading, unsigned n, uint64_t *random) {
    if (n == 3) {
        one_cell(reading, n, random);
    }
}

static void test_one_line_wrong_once(void **state) {
    (void)state;
    wrong_at = 40;
    assert_int_equal(judge_fields(one_cell_once, 8, 1, NULL), VERDICT_PASS);
}

/* Cells here and there, others in each field: up to one in a hundred, as 6 dB of noise would do [A: 2.5
 * standard deviations]. */
static void scattered(struct reading *reading, unsigned n, uint64_t *random) {
    (void)n;
    const uint64_t count = sketch_random(random) % 68;
    for (uint64_t i = 0; i < count; i++) {
        reading->lit[sketch_random(random) % LINES] ^= UINT64_C(1) << sketch_random(random) % CELLS;
    }
}

static void few(struct reading *reading, unsigned n, uint64_t *random) {
    (void)n;
    if (sketch_random(random) % 2 == 0) {
        reading->lit[sketch_random(random) % LINES] ^= UINT64_C(1) << sketch_random(random) % CELLS;
    }
}

static void test_noise(void **state) {
    (void)state;
    const uint64_t runs = getenv("SLOTJIG_TEST_SMALL") != NULL ? 40 : 400;
    for (uint64_t seed = 1; seed <= runs; seed++) {
        assert_int_not_equal(judge_fields(scattered, 12, seed, NULL), VERDICT_FAIL);
        assert_int_not_equal(judge_fields(few, 12, seed, NULL), VERDICT_FAIL);
    }
}

/* PF1 D7's cells are 4 and 24 in copy [H TIA 1A]; stuck low in one field of many. */
static void column_once(struct reading *reading, unsigned n, uint64_t *random) {
    (void)random;
    for (int line = 0; line < LINES && n == 4; line++) {
        reading->lit[line] &= ~(UINT64_C(1) << 4 | UINT64_C(1) << 24);
    }
}

static void test_a_column_in_one_field(void **state) {
    (void)state;
    assert_int_equal(judge_fields(column_once, 8, 1, NULL), VERDICT_FAIL);
}

/* 6 dB: rms of half the black-white distance [A]. Edges that noise made lie beside the raster, all of them.
 */
static void column_in_noise(struct reading *reading, unsigned n, uint64_t *random) {
    column_once(reading, 4, random);
    reading->noise = (reading->raster.white - reading->raster.black) / 2;
    reading->edges = 400;
    reading->offset = -1.5;
    reading->unclear[n % LINES] = CELLS_ALL;
}

static void test_a_column_in_noise(void **state) {
    (void)state;
    assert_int_equal(judge_fields(column_in_noise, 40, 1, NULL), VERDICT_INCONCLUSIVE);
}

/* A label of the grabber's over cells 10 to 14 of some lines: in a drawing that uses those cells above and
 * below it too. */
static bool label_lit;

static void label(struct reading *reading, unsigned n, uint64_t *random) {
    (void)n;
    (void)random;
    const uint64_t cells = UINT64_C(0x1F) << 10;
    for (int line = 60; line < 90; line++) {
        reading->lit[line] = label_lit ? reading->lit[line] | cells : reading->lit[line] & ~cells;
    }
}

static void test_a_label(void **state) {
    (void)state;
    for (int i = 0; i < 2; i++) {
        label_lit = i != 0;
        assert_int_equal(judge_fields(label, 40, 1, NULL), VERDICT_INCONCLUSIVE);
    }
}

static void column_high(struct reading *reading, unsigned n, uint64_t *random) {
    (void)random;
    for (int line = 0; line < LINES && n > 2; line++) {
        reading->lit[line] |= UINT64_C(1) << 39;
    }
}

static void test_a_lit_column(void **state) {
    (void)state;
    assert_int_equal(judge_fields(column_high, 8, 1, NULL), VERDICT_FAIL);
}

static void dark_throughout(struct reading *reading, unsigned n, uint64_t *random) {
    (void)n, (void)random;
    memset(reading->lit, 0, sizeof reading->lit);
}

static void test_dark_throughout(void **state) {
    (void)state;
    assert_int_equal(judge_fields(dark_throughout, 8, 1, NULL), VERDICT_FAIL);
}

/* ---- what capture chains do ---- */

static int from_line, moved;

static void black_from(struct reading *reading, unsigned n, uint64_t *random) {
    (void)n, (void)random;
    for (int line = from_line; line < LINES; line++) {
        reading->lit[line] = 0;
    }
}

static void moved_from(struct reading *reading, unsigned n, uint64_t *random) {
    (void)n, (void)random;
    for (int line = from_line; line < LINES; line++) {
        const int of = line + moved;
        reading->lit[line] = of >= 0 && of < LINES ? sketch.lit[of] : 0;
    }
}

static int to_line;

static void black_strip(struct reading *reading, unsigned n, uint64_t *random) {
    (void)n, (void)random;
    for (int line = from_line; line < to_line; line++) {
        reading->lit[line] = 0;
    }
}

/* Lines of something else, in one field of many. */
static void other_strip_once(struct reading *reading, unsigned n, uint64_t *random) {
    for (int line = from_line; line < to_line && n == 4; line++) {
        reading->lit[line] = sketch_random(random) & CELLS_ALL;
    }
}

static void test_strips(void **state) {
    (void)state;
    static const int ends[][2] = {{0, 60}, {1, 100}, {40, 100}, {100, 167}};
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        from_line = ends[i][0];
        to_line = ends[i][1];
        assert_int_equal(judge_fields(black_strip, 12, 1, NULL), VERDICT_INCONCLUSIVE);
        assert_int_equal(judge_fields(other_strip_once, 12, 1, NULL), VERDICT_PASS);
    }
    /* A dark line or two may be the console's. */
    from_line = 77;
    to_line = 79;
    assert_int_equal(judge_fields(black_strip, 12, 1, NULL), VERDICT_FAIL);
}

static void test_torn(void **state) {
    (void)state;
    static const int lines[] = {1, 30, 84, 150, 160};
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        from_line = lines[i];
        assert_int_equal(judge_fields(black_from, 12, 1, NULL), VERDICT_INCONCLUSIVE);
        for (moved = -2; moved <= 2; moved++) {
            const enum verdict verdict = judge_fields(moved_from, 12, 1, NULL);
            assert_int_equal(verdict, moved == 0 ? VERDICT_PASS : VERDICT_INCONCLUSIVE);
        }
    }
}

/* A cell on its own, where lines are mixed: it may be its neighbours that are seen. */
static void mixed_alone(struct reading *reading, unsigned n, uint64_t *random) {
    (void)n, (void)random;
    reading->mixing = 0.3;
    for (int line = 1; line + 1 < LINES; line++) {
        const uint64_t alone =
            (sketch.lit[line] ^ sketch.lit[line - 1]) & (sketch.lit[line] ^ sketch.lit[line + 1]);
        reading->lit[line] ^= alone;
    }
}

static void mixed_among_its_like(struct reading *reading, unsigned n, uint64_t *random) {
    (void)n, (void)random;
    reading->mixing = 0.3;
    reading->lit[50] ^= 1;
}

static void test_mixed_lines(void **state) {
    (void)state;
    int line = -1;
    assert_int_equal(judge_fields(mixed_alone, 12, 1, NULL), VERDICT_INCONCLUSIVE);
    assert_int_equal(judge_fields(mixed_among_its_like, 12, 1, &line), VERDICT_FAIL);
    assert_int_equal(line, 50);
}

/* Two rows by turns, of which one is shown in the place of the other too: no line has moved. */
static void test_alternating(void **state) {
    (void)state;
    struct sketch stripes = {.rows = LINES};
    struct write_windows windows;
    struct problem problem = {0};
    struct plan *other = NULL;
    windows_handbook(&windows);
    for (int line = 0; line < LINES; line++) {
        stripes.lit[line] = line % 2 == 0 ? UINT64_C(0x0123401234) : UINT64_C(0x0765407654);
        stripes.lit_colour[line] = 0x0E;
    }
    assert_true(sketch_write(&stripes, path));
    assert_true(drawing_plan(path, STANDARD_NTSC, &windows, &other, &problem));
    struct judge *judge = judge_new(other, HASH);
    for (unsigned n = 0; n < 6; n++) {
        struct reading reading = good(n);
        for (int line = 0; line < LINES; line++) {
            reading.lit[line] = stripes.lit[0];
        }
        judge_reading(judge, &reading, 2);
    }
    assert_int_equal(judge_result(judge)->verdict, VERDICT_FAIL);
    judge_free(judge);
    plan_free(other);
}

/* Dim stripes of one line: all dark may be a filter's doing; one of them dark, or bright ones, is the
 * console's. */
static enum verdict judge_stripes(uint8_t colour, int dark_from, int dark_to) {
    struct sketch stripes = {.rows = LINES};
    struct write_windows windows;
    struct problem problem = {0};
    struct plan *other = NULL;
    windows_handbook(&windows);
    for (int line = 0; line < LINES; line++) {
        stripes.lit[line] = line % 3 == 0 ? CELLS_ALL : 0;
        stripes.lit_colour[line] = colour;
    }
    /* Two lines alike in between are shown, so that nothing is black from some line on. */
    stripes.lit[100] = stripes.lit[101] = UINT64_C(0xFF);
    assert_true(sketch_write(&stripes, path));
    assert_true(drawing_plan(path, STANDARD_NTSC, &windows, &other, &problem));
    struct judge *judge = judge_new(other, HASH);
    for (unsigned n = 0; n < 6; n++) {
        struct reading reading = good(n);
        for (int line = 0; line < LINES; line++) {
            const bool dark = line >= dark_from && line < dark_to && (line < 98 || line > 103);
            reading.lit[line] = dark ? 0 : stripes.lit[line];
        }
        judge_reading(judge, &reading, 2);
    }
    const enum verdict verdict = judge_result(judge)->verdict;
    judge_free(judge);
    plan_free(other);
    return verdict;
}

static void test_dim_stripes(void **state) {
    (void)state;
    assert_int_equal(judge_stripes(0x0A, 0, 0), VERDICT_PASS);
    assert_int_equal(judge_stripes(0x0A, 2, LINES), VERDICT_INCONCLUSIVE);
    assert_int_equal(judge_stripes(0x0A, 30, 31), VERDICT_FAIL);
    assert_int_equal(judge_stripes(0x0E, 30, 31), VERDICT_FAIL);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good),
        cmocka_unit_test(test_one_line_wrong),
        cmocka_unit_test(test_one_line_wrong_once),
        cmocka_unit_test(test_noise),
        cmocka_unit_test(test_a_column_in_noise),
        cmocka_unit_test(test_a_label),
        cmocka_unit_test(test_a_column_in_one_field),
        cmocka_unit_test(test_a_lit_column),
        cmocka_unit_test(test_dark_throughout),
        cmocka_unit_test(test_strips),
        cmocka_unit_test(test_torn),
        cmocka_unit_test(test_mixed_lines),
        cmocka_unit_test(test_alternating),
        cmocka_unit_test(test_dim_stripes),
    };
    return cmocka_run_group_tests(tests, start, stop);
}
