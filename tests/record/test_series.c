/* Colours and delays out of records' own JSON, of runs and of consoles. */
#include "commands/series.h"
#include "record/invented.h"
#include "report/moments_report.h"
#include "report/palette_report.h"
#include "verdict/moments_ideal.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { RUNS = 8 };

/* Runs of a measuring plan, four a side; consoles "one", "one", "two", "two" on each. */
struct shelf {
    struct record_plan plan;
    struct record_run runs[RUNS];
    struct record_run *order[RUNS];
    struct record_blob blobs[RUNS][2];
    char *texts[RUNS];
    struct record_list before, now;
};

static void shelf_open(struct shelf *shelf, enum plan_kind kind) {
    memset(shelf, 0, sizeof *shelf);
    shelf->plan =
        (struct record_plan){.name = "measured", .text = "", .standard = STANDARD_NTSC, .kind = kind};
    for (int i = 0; i < RUNS; i++) {
        shelf->runs[i] = (struct record_run){.id = i + 1, .plan = &shelf->plan, .problem = ""};
        shelf->runs[i].console.name = i / 2 % 2 == 0 ? "one" : "two";
        shelf->runs[i].end = RECORD_PASS;
        shelf->runs[i].bench = "table";
        shelf->runs[i].blobs = shelf->blobs[i];
        shelf->order[i] = &shelf->runs[i];
    }
    shelf->before = (struct record_list){RUNS / 2, shelf->order};
    shelf->now = (struct record_list){RUNS / 2, shelf->order + RUNS / 2};
}

static void put(struct shelf *shelf, int run, const char *name, json_t *json) {
    shelf->texts[run] = json_dumps(json, JSON_COMPACT);
    json_decref(json);
    shelf->blobs[run][0] = (struct record_blob){.name = "field", .type = "image/png", .bytes = NULL};
    shelf->blobs[run][1] = (struct record_blob){.name = name,
                                                .type = "application/json",
                                                .bytes = (const uint8_t *)shelf->texts[run],
                                                .size = strlen(shelf->texts[run])};
    shelf->runs[run].blob_count = 2;
}

static void shelf_close(struct shelf *shelf) {
    for (int i = 0; i < RUNS; i++) {
        free(shelf->texts[i]);
    }
}

/* Score, which changes at once, is later now; PF1's cells are latched. */
static json_t *moments_of(double score) {
    struct ideal ideal = {.delay = {{0}}};
    struct moments *moments = malloc(sizeof *moments);
    assert_non_null(moments);
    for (int phase = 0; phase < MOMENT_PHASES; phase++) {
        ideal.delay[MOMENT_SCORE][phase] = score;
    }
    ideal_seen(&ideal, moments);
    json_t *json = moments_json(moments);
    free(moments);
    return json;
}

static const struct series *find(const struct series_list *list, const char *name, enum quantity quantity) {
    for (size_t i = 0; i < list->count; i++) {
        if (strcmp(list->list[i].name, name) == 0 && list->list[i].quantity == quantity) {
            return &list->list[i];
        }
    }
    fail_msg("no series %s", name);
    return NULL;
}

static void delays_come_back_and_drift(void **state) {
    struct shelf shelf;
    struct series_list list;
    struct problem problem = {0};
    struct differ *differ = NULL;
    (void)state;
    shelf_open(&shelf, PLAN_MOMENTS);
    for (int i = 0; i < RUNS; i++) {
        put(&shelf, i, "moments", moments_of((i < RUNS / 2 ? 2 : 3) + 0.001 * i));
    }
    assert_true(series_of_runs(&shelf.before, &shelf.now, &list, &problem));
    assert_int_equal(list.count, MOMENT_REGISTERS * MOMENT_PHASES);
    const struct series *score = find(&list, "CTRLPF.D1, phase 2", QUANTITY_DELAY);
    assert_int_equal(score->before_count, 4);
    assert_int_equal(score->now_count, 4);
    for (int i = 0; i < 4; i++) {
        assert_true(fabs(score->before[i] - (2 + 0.001 * i)) < 1e-4);
        assert_true(fabs(score->now[i] - (3 + 0.001 * (i + 4))) < 1e-4);
    }
    /* [A] A write 1 clock after a cell's edge shows at the next edge, 3 clocks later, for any delay of 0 to
     * 3: the middle of what the pictures leave open. */
    assert_true(find(&list, "PF1, phase 1", QUANTITY_DELAY)->before[0] == 1.5);
    assert_true(differ_runs(&shelf.before, &shelf.now, list.list, list.count, &differ, &problem));
    int called = 0;
    for (size_t i = 0; i < differ->drift_count; i++) {
        assert_int_equal(differ->drifts[i].called, strncmp(differ->drifts[i].name, "CTRLPF.D1", 9) == 0);
        called += differ->drifts[i].called;
    }
    assert_int_equal(called, MOMENT_PHASES);
    assert_true(differ->regression);
    differ_free(differ);
    series_free(&list);
    /* A run that could not be judged has no values, whatever lies beside it. */
    shelf.runs[1].end = RECORD_TROUBLE;
    assert_true(series_of_runs(&shelf.before, &shelf.now, &list, &problem));
    assert_true(isnan(find(&list, "CTRLPF.D1, phase 2", QUANTITY_DELAY)->before[1]));
    series_free(&list);
    shelf_close(&shelf);
}

/* One hue only, near where the circle closes. */
static json_t *colours_of(double hue, double level, bool clipped) {
    struct palette *palette = calloc(1, sizeof *palette);
    assert_non_null(palette);
    palette->has_chroma = true;
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        for (int code = 0; code < COLOUR_CODES; code++) {
            const bool grey = code < COLOUR_LEVELS;
            palette->colour[reg][code] = (struct palette_colour){.fields = 2,
                                                                 .level = level,
                                                                 .saturation = grey ? 0 : 40,
                                                                 .hue = grey ? 0 : hue,
                                                                 .clipped = clipped};
        }
        for (int number = 1; number < COLOUR_HUES; number++) {
            palette->hue[reg][number] = (struct palette_hue){.known = true, .hue = hue, .saturation = 40};
        }
    }
    json_t *json = palette_json(palette);
    free(palette);
    return json;
}

static void hues_do_not_jump_round_the_circle(void **state) {
    static const double hues[RUNS] = {359, 1, 358, 2, 7, 9, 8, 6};
    struct shelf shelf;
    struct series_list list;
    struct problem problem = {0};
    (void)state;
    shelf_open(&shelf, PLAN_COLOURS);
    for (int i = 0; i < RUNS; i++) {
        put(&shelf, i, "colours", colours_of(hues[i], 0.5 + 0.01 * i, i == 3));
    }
    assert_true(series_of_runs(&shelf.before, &shelf.now, &list, &problem));
    const struct series *hue = find(&list, "COLUPF $1C", QUANTITY_COLOUR_HUE);
    for (int i = 0; i < 4; i++) {
        /* [A] within a few degrees of 360, not of 0 */
        assert_true(fabs(hue->before[i] - (hues[i] < 180 ? hues[i] + 360 : hues[i])) < 0.01);
        assert_true(fabs(hue->now[i] - (hues[i + 4] + 360)) < 0.01);
    }
    assert_true(isnan(find(&list, "COLUBK $0E", QUANTITY_COLOUR_HUE)->before[0])); /* grey */
    const struct series *level = find(&list, "COLUBK $46", QUANTITY_COLOUR_LEVEL);
    assert_true(fabs(level->before[2] - 0.52) < 1e-5 && isnan(level->before[3])); /* cut off */
    series_free(&list);
    /* Consoles: the mean of their runs, "one" then "two"; what one run lacks the other has. */
    assert_true(series_of_consoles(&shelf.before, &shelf.now, &list, &problem));
    hue = find(&list, "COLUPF $1C", QUANTITY_COLOUR_HUE);
    assert_int_equal(hue->before_count, 2);
    assert_int_equal(hue->now_count, 2);
    assert_true(fabs(hue->before[0] - 360) < 0.01 && fabs(hue->before[1] - 360) < 0.01);
    assert_true(fabs(hue->now[0] - 368) < 0.01 && fabs(hue->now[1] - 367) < 0.01);
    level = find(&list, "COLUBK $46", QUANTITY_COLOUR_LEVEL);
    assert_true(fabs(level->before[0] - 0.505) < 1e-5 && fabs(level->before[1] - 0.52) < 1e-5);
    assert_true(fabs(level->now[0] - 0.545) < 1e-5 && fabs(level->now[1] - 0.565) < 1e-5);
    series_free(&list);
    shelf_close(&shelf);
}

static void plans_of_cells_have_none(void **state) {
    struct invented *invented = invented_new(1, 2, 10, 2);
    const struct record_list none = {0, NULL};
    struct series_list list;
    struct problem problem = {0};
    (void)state;
    assert_true(series_of_runs(&invented->runs, &none, &list, &problem));
    assert_int_equal(list.count, 0);
    assert_true(series_of_runs(&none, &none, &list, &problem));
    assert_int_equal(list.count, 0);
    series_free(&list);
    invented_free(invented);
}

static void damage_is_named(void **state) {
    struct shelf shelf;
    struct series_list list;
    struct problem problem = {0};
    (void)state;
    shelf_open(&shelf, PLAN_COLOURS);
    put(&shelf, 5, "colours", json_object());
    shelf.blobs[5][1].size = 1;
    assert_false(series_of_runs(&shelf.before, &shelf.now, &list, &problem));
    assert_non_null(strstr(problem.text, "run 6 of the records"));
    assert_int_equal(list.count, 0);
    free(shelf.texts[5]);
    put(&shelf, 5, "colours", json_object());
    assert_false(series_of_runs(&shelf.before, &shelf.now, &list, &problem));
    assert_non_null(strstr(problem.text, "run 6 of the records"));
    shelf_close(&shelf);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(delays_come_back_and_drift), cmocka_unit_test(hues_do_not_jump_round_the_circle),
        cmocka_unit_test(plans_of_cells_have_none), cmocka_unit_test(damage_is_named)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
