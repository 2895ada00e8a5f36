/*
 * A handful of drawings, the whole way in one process with 30 dB of noise: good ones pass, on other grabbers
 * they are never failed, and one wrong bit of a table fails at its very line. The hundreds are `make proof`.
 */
#include "commands/loop.h"
#include "plan/drawing.h"
#include "plan/sketch.h"
#include "plan/sketch_file.h"
#include "rom/rows.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

static void run(struct loop *loop, uint64_t seed, const char *set) {
    struct sketch sketch;
    struct write_windows windows;
    struct virtual_options options;
    struct plan *plan = NULL;
    struct problem problem = {0};
    const enum standard standard = (enum standard)(seed % STANDARD_COUNT);
    sketch_make(&sketch, seed, standard);
    windows_handbook(&windows);
    virtual_defaults(standard, &options);
    options.seed = seed;
    options.grabber.noise_db = 30;
    assert_true(set == NULL || virtual_use_set(&options, set, &problem));
    assert_true(sketch_write(&sketch, sketch_path));
    if (!drawing_plan(sketch_path, standard, &windows, &plan, &problem)) {
        fail_msg("seed %llu: %s", (unsigned long long)seed, problem.text);
    }
    if (!loop_run_plan(loop, plan, &options, NULL, NULL)) {
        fail_msg("seed %llu: %s", (unsigned long long)seed, loop->problem.text);
    }
}

static size_t many(size_t all) {
    return getenv("SLOTJIG_TEST_SMALL") != NULL ? 2 : all;
}

static void test_good(void **state) {
    (void)state;
    for (uint64_t seed = 1; seed <= many(9); seed++) {
        struct loop loop;
        run(&loop, seed, NULL);
        if (loop.session.result->verdict != VERDICT_PASS) {
            fail_msg("seed %llu: %s", (unsigned long long)seed, loop_findings(&loop));
        }
        loop_end(&loop);
    }
}

static void test_grabbers(void **state) {
    (void)state;
    static const char *const sets[] = {"comb", "mjpeg", "tuner", "bob", "time-base"};
    for (size_t i = 0; i < many(sizeof sets / sizeof sets[0]); i++) {
        struct loop loop;
        run(&loop, 100 + i, sets[i]);
        if (loop.session.result->verdict == VERDICT_FAIL) {
            fail_msg("seed %zu, %s: %s", 100 + i, sets[i], loop_findings(&loop));
        }
        loop_end(&loop);
    }
}

static int patched_line;

/* The first bit of the last store's table (PF1 or PF2 in most pictures), on the line in its middle. */
static void patch(struct loop *loop) {
    struct rows *rows = malloc(sizeof *rows);
    assert_true(rows != NULL && rows_of(loop->plan, rows));
    for (int store = rows->schedule.count - 1; store >= 0 && patched_line < 0; store--) {
        const enum reg reg = rows->wanted[rows->schedule.stores[store].wanted].reg;
        const size_t size = (size_t)rows->lines + 1;
        uint8_t *table = memmem(loop->image->bytes, loop->image->size, rows->table[store], size);
        if (reg >= REG_PF0 && reg <= REG_PF2 && table != NULL && rows_table_place(rows, store) == store) {
            table[size / 2] ^= 0x10; /* of PF0 too it draws: D4 [H TIA 1A] */
            patched_line = rows->from + rows->lines - (int)(size / 2);
        }
    }
    free(rows);
}

static void test_one_wrong_bit(void **state) {
    (void)state;
    loop_patch = patch;
    for (uint64_t seed = 201; seed < 201 + many(6); seed++) {
        struct loop loop;
        patched_line = -1;
        run(&loop, seed, NULL);
        const struct result *result = loop.session.result;
        assert_true(patched_line >= 0);
        if (result->verdict != VERDICT_FAIL || result->steps[0].wrong_line != patched_line) {
            fail_msg("seed %llu: %s at line %d, patched %d", (unsigned long long)seed,
                     verdict_name(result->verdict), result->steps[0].wrong_line, patched_line);
        }
        loop_end(&loop);
    }
    loop_patch = NULL;
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_good), cmocka_unit_test(test_grabbers),
                                       cmocka_unit_test(test_one_wrong_bit)};
    return cmocka_run_group_tests(tests, sketch_start, sketch_stop);
}
