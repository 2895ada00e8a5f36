/* Colours written and read back, and two consoles held against each other at the stated bounds [A]. */
#include "report/palette_report.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static struct palette first, second;
static struct palette_difference difference;

static void make(struct palette *palette) {
    memset(palette, 0, sizeof *palette);
    palette->has_chroma = true;
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        const int code = i % COLOUR_CODES, hue = code / COLOUR_LEVELS;
        const double angle = (hue - 1) * 24.0, saturation = hue > 0 ? 40 : 0;
        palette->colour[i / COLOUR_CODES][code] =
            (struct palette_colour){.fields = 4,
                                    .level = code % COLOUR_LEVELS / 7.0,
                                    .cb = -saturation * cos(angle * M_PI / 180),
                                    .cr = -saturation * sin(angle * M_PI / 180),
                                    .saturation = saturation,
                                    .hue = hue > 0 ? angle : 0};
        palette->hue[i / COLOUR_CODES][hue] = (struct palette_hue){.known = true,
                                                                   .hue = hue > 0 ? angle : 0,
                                                                   .saturation = saturation,
                                                                   .slope = 1 / 7.0,
                                                                   .nonlinearity = 0.01,
                                                                   .ordered = true,
                                                                   .to_next = hue > 0 ? 24 : 0};
    }
}

static int make_both(void **state) {
    (void)state;
    make(&first);
    make(&second);
    return 0;
}

/* ---- there and back ---- */

static json_t *written(const struct palette *palette) {
    json_t *json = palette_json(palette);
    char *text = json_dumps(json, JSON_REAL_PRECISION(6));
    json_decref(json);
    json = json_loads(text, 0, NULL);
    free(text);
    assert_non_null(json);
    return json;
}

static void test_there_and_back(void **state) {
    (void)state;
    struct problem problem = {0};
    first.colour[PALETTE_COLUPF][17] = (struct palette_colour){.fields = 0};
    first.colour[PALETTE_COLUBK][9].clipped = true;
    first.hue[PALETTE_COLUPF][2] = (struct palette_hue){.known = false};
    first.hue[PALETTE_COLUPF][1].to_next = 0; /* to one that is not known */
    json_t *json = written(&first);
    if (!palette_from_json(json, "here", &second, &problem)) {
        fail_msg("%s", problem.text);
    }
    json_decref(json);
    assert_true(second.has_chroma);
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        const struct palette_colour *a = &first.colour[i / COLOUR_CODES][i % COLOUR_CODES],
                                    *b = &second.colour[i / COLOUR_CODES][i % COLOUR_CODES];
        assert_int_equal(a->fields, b->fields);
        assert_int_equal(a->clipped, b->clipped);
        assert_float_equal((float)a->level, (float)b->level, 1e-5F);
        assert_float_equal((float)a->cr, (float)b->cr, 1e-3F);
        assert_float_equal((float)a->hue, (float)b->hue, 1e-3F);
    }
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_HUES; i++) {
        const struct palette_hue *a = &first.hue[i / COLOUR_HUES][i % COLOUR_HUES],
                                 *b = &second.hue[i / COLOUR_HUES][i % COLOUR_HUES];
        assert_int_equal(a->known, b->known);
        assert_int_equal(a->ordered, b->ordered);
        assert_float_equal((float)a->to_next, (float)b->to_next, 1e-3F);
        assert_float_equal((float)a->slope, (float)b->slope, 1e-5F);
    }
}

/* Without colour hues are null, and stay unknown. */
static void test_grey(void **state) {
    (void)state;
    struct problem problem = {0};
    first.has_chroma = false;
    json_t *json = written(&first);
    assert_true(json_is_null(json_object_get(json_array_get(json_object_get(json, "hues"), 5), "degrees")));
    assert_true(palette_from_json(json, "here", &second, &problem));
    assert_false(second.has_chroma);
    json_decref(json);
}

/* A hue that came out grey (a hue bit stuck low) has no angle, and none lies so far from it. */
static void test_grey_hue(void **state) {
    (void)state;
    first.hue[PALETTE_COLUBK][2].saturation = 0.4;
    json_t *json = written(&first), *hues = json_object_get(json, "hues");
    json_t *before = json_array_get(hues, 1), *grey = json_array_get(hues, 2),
           *behind = json_array_get(hues, 3);
    assert_true(json_is_real(json_object_get(before, "degrees")));
    assert_true(json_is_null(json_object_get(before, "to_next")));
    assert_true(json_is_null(json_object_get(grey, "degrees")));
    assert_true(json_is_null(json_object_get(grey, "to_next")));
    assert_true(json_is_real(json_object_get(behind, "to_next")));
    json_decref(json);
}

/* Each number of an object replaced by something else: refused, in one line that names the place. */
static void test_replaced(void **state) {
    (void)state;
    json_t *json = written(&first), *colour = json_array_get(json_object_get(json, "colours"), 40);
    const char *key;
    json_t *value;
    void *next;
    json_object_foreach_safe(colour, next, key, value) {
        json_t *kept = json_incref(value);
        struct problem problem = {0};
        json_object_set_new(colour, key, json_pack("[i]", 3));
        assert_false(palette_from_json(json, "here", &second, &problem));
        assert_int_equal(problem.kind, PROBLEM_INPUT);
        assert_non_null(strstr(problem.text, "here: colours 40: "));
        char named[64];
        snprintf(named, sizeof named, "\"%s\" should be", key);
        assert_non_null(strstr(problem.text, named));
        assert_null(strchr(problem.text, '\n'));
        json_object_set_new(colour, key, kept);
    }
    json_decref(json);
}

/* ---- differences ---- */

static int differing(void) {
    palette_differ(&first, &second, &difference);
    return difference.differing;
}

static void test_levels(void **state) {
    (void)state;
    assert_int_equal(differing(), 0);
    assert_int_equal(difference.compared, PALETTE_REGISTERS * COLOUR_CODES);
    second.colour[PALETTE_COLUBK][30].level += 0.0199;
    assert_int_equal(differing(), 0);
    second.colour[PALETTE_COLUBK][30].level += 0.0002;
    assert_int_equal(differing(), 1);
    assert_true(difference.colour[PALETTE_COLUBK][30].level_differs);
    second.colour[PALETTE_COLUPF][30].level -= 0.0201;
    assert_int_equal(differing(), 2);
    second.colour[PALETTE_COLUPF][30].clipped = true;
    assert_int_equal(differing(), 1); /* what is cut off says nothing */
    first.colour[PALETTE_COLUBK][30].white_clipped = true;
    assert_int_equal(differing(), 0);
}

static void test_hues(void **state) {
    (void)state;
    struct palette_colour *last = &second.colour[PALETTE_COLUPF][8 + 3]; /* hue 1, at 0 degrees */
    last->hue = 357.1;                                                   /* 2.9 below none [A] */
    assert_int_equal(differing(), 0);
    last->hue = 356.9;
    assert_int_equal(differing(), 1);
    assert_float_equal((float)difference.colour[PALETTE_COLUPF][11].hue, -3.1F, 1e-4F);
    last->saturation = 0; /* grey on one of them */
    assert_int_equal(differing(), 1);
    assert_true(difference.colour[PALETTE_COLUPF][11].hue_differs);
    second.has_chroma = false; /* a grabber without colour rules out no hue */
    assert_int_equal(differing(), 0);
}

/* Spread of single fields s on both, of 4 fields each: 4 sigma of the difference is 4 s sqrt(1/4 + 1/4) [A];
 * an rms round the mean of 4 is sqrt(3/4) of s. */
static void test_sigmas(void **state) {
    (void)state;
    const double s = 0.02, bound = 4 * s * sqrt(0.5);
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        first.colour[i / COLOUR_CODES][i % COLOUR_CODES].level_spread = s * sqrt(0.75);
        second.colour[i / COLOUR_CODES][i % COLOUR_CODES].level_spread = s * sqrt(0.75);
    }
    second.colour[PALETTE_COLUBK][77].level += 0.99 * bound;
    assert_int_equal(differing(), 0);
    assert_float_equal((float)difference.colour[PALETTE_COLUBK][77].level_bound, (float)bound, 1e-6F);
    second.colour[PALETTE_COLUBK][77].level += 0.02 * bound;
    assert_int_equal(differing(), 1);
}

static void test_turn(void **state) {
    (void)state;
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        second.colour[i / COLOUR_CODES][i % COLOUR_CODES].hue += 7;
    }
    assert_int_equal(differing(), PALETTE_REGISTERS * (COLOUR_CODES - COLOUR_LEVELS)); /* greys have no hue */
    assert_float_equal((float)difference.turn, 7, 1e-4F);
}

static void test_missing(void **state) {
    (void)state;
    second.colour[PALETTE_COLUBK][3].fields = 1;
    second.colour[PALETTE_COLUBK][3].level = 0;
    assert_int_equal(differing(), 0);
    assert_int_equal(difference.missing, 1);
    assert_int_equal(difference.compared, PALETTE_REGISTERS * COLOUR_CODES - 1);
}

/* ---- written out ---- */

static void test_files(void **state) {
    (void)state;
    char folder[] = "/tmp/slotjig-palette-XXXXXX", path[64], line[256];
    struct problem problem = {0};
    int rows = 0;
    assert_non_null(mkdtemp(folder));
    assert_true(palette_write(&first, "bench one", folder, &problem));
    snprintf(path, sizeof path, "%s/colours.csv", folder);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    while (fgets(line, sizeof line, file) != NULL) {
        int commas = 0;
        for (const char *c = line; *c != '\0'; c++) {
            commas += *c == ',';
        }
        assert_int_equal(commas, 10);
        if (rows++ == 1 + COLOUR_CODES + 0x4A / 2) { /* hue 4 at 72 degrees, level 5 of 7 [A] */
            assert_string_equal(line, "COLUPF,74,4,5,4,0.71429,0.00000,40.000,72.000,0.000,0\n");
        }
    }
    assert_int_equal(rows, 1 + PALETTE_REGISTERS * COLOUR_CODES);
    fclose(file);
    unlink(path);
    snprintf(path, sizeof path, "%s/colours.txt", folder);
    assert_int_equal(unlink(path), 0);
    snprintf(path, sizeof path, "%s/colours.svg", folder);
    assert_int_equal(unlink(path), 0);
    assert_int_equal(rmdir(folder), 0);
    assert_false(palette_write(&first, "bench one", folder, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_there_and_back, make_both),
        cmocka_unit_test_setup(test_grey_hue, make_both),
        cmocka_unit_test_setup(test_grey, make_both),
        cmocka_unit_test_setup(test_replaced, make_both),
        cmocka_unit_test_setup(test_levels, make_both),
        cmocka_unit_test_setup(test_hues, make_both),
        cmocka_unit_test_setup(test_sigmas, make_both),
        cmocka_unit_test_setup(test_turn, make_both),
        cmocka_unit_test_setup(test_missing, make_both),
        cmocka_unit_test_setup(test_files, make_both),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
