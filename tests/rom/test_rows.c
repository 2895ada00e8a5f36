/*
 * Drawings, from the file to what the console model draws: every clock of every line has the colour that the
 * picture has there, so neither expect/ nor the schedule is believed. The chip's own delays are the model's;
 * that the stores lie where a chip by the handbook shows whole cells is test_windows.c's.
 */
#include "plan/drawing.h"
#include "plan/plan_file.h"
#include "plan/plan_text.h"
#include "plan/sketch.h"
#include "plan/sketch_file.h"
#include "rom/kernel.h"
#include "rom/rom.h"
#include "rom/rows.h"
#include "virtual/console.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

static struct console console;
static const struct image *served;

static uint8_t read_image(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    (void)bus;
    return served->bytes[address & (served->size - 1)];
}

static struct image *build(const struct plan *plan, uint64_t seed) {
    struct image *image = NULL;
    struct problem problem = {0};
    const struct rom_options options = {.hold = 4};
    if (!rom_build(plan, &options, &image, &problem)) {
        fail_msg("seed %llu: %s", (unsigned long long)seed, problem.text);
    }
    return image;
}

/* A field after the one that power-on falls into. */
static void run(const struct image *image, enum standard standard) {
    struct tia_chip chip;
    const struct cartridge cartridge = {.read = read_image};
    served = image;
    tia_chip_default(&chip);
    console_power_on(&console, &chip, &cartridge, 3);
    for (int field = 0; field < 3; field++) {
        console_run_field(&console, TIA_LINES_MAX);
    }
    assert_int_equal(console.tia.field.lines, standard_lines(standard));
}

static void compare(const struct sketch *sketch, enum standard standard, uint64_t seed) {
    const struct standard_facts *facts = &standard_table[standard];
    const int lines = standard_plan_lines(standard);
    const int top = facts->sync_lines + facts->blank_lines + facts->picture_lines - lines;
    for (int line = 0; line < lines; line++) {
        const uint8_t *pixel = console.tia.field.pixel[top + line];
        for (int clock = 0; clock < TIA_VISIBLE; clock++) {
            const uint8_t wanted = sketch_pixel(sketch, standard, line, clock / CELL_CLOCKS);
            if (pixel[clock] != wanted) {
                fail_msg("seed %llu, %s: line %d, clock %d shows $%02X, the picture has $%02X",
                         (unsigned long long)seed, facts->name, line, clock, pixel[clock], wanted);
            }
        }
    }
}

/* The plan that `run --out` leaves gives the same steps, and so the same image. */
static void read_again(const struct plan *plan, const struct image *image, uint64_t seed) {
    struct problem problem = {0};
    struct plan *again = NULL;
    char *text = plan_text(plan);
    assert_non_null(text);
    if (!plan_file_text("plan.ini", text, plan->standard, &again, &problem)) {
        fail_msg("seed %llu: %s", (unsigned long long)seed, problem.text);
    }
    assert_int_equal(again->steps[0].band_count, plan->steps[0].band_count);
    assert_int_equal(again->steps[0].vouched, plan->steps[0].vouched);
    assert_string_equal(again->steps[0].name, plan->steps[0].name);
    for (size_t i = 0; i < plan->steps[0].band_count; i++) {
        const struct band *one = &plan->steps[0].bands[i], *other = &again->steps[0].bands[i];
        assert_int_equal(one->count, other->count);
        for (int w = 0; w < one->count; w++) {
            assert_int_equal(one->writes[w].reg, other->writes[w].reg);
            assert_int_equal(one->writes[w].value, other->writes[w].value);
            assert_int_equal(one->writes[w].cycle, other->writes[w].cycle);
        }
    }
    struct image *second = build(again, seed);
    assert_int_equal(second->hash, image->hash);
    assert_int_equal(second->size, image->size);
    assert_memory_equal(second->bytes, image->bytes, image->size);
    rom_free(second);
    plan_free(again);
    free(text);
}

static void one_picture(uint64_t seed, enum standard standard) {
    struct sketch sketch;
    struct write_windows windows;
    struct problem problem = {0};
    struct plan *plan = NULL;
    sketch_make(&sketch, seed, standard);
    assert_true(sketch_write(&sketch, sketch_path));
    windows_handbook(&windows);
    if (!drawing_plan(sketch_path, standard, &windows, &plan, &problem)) {
        fail_msg("seed %llu: %s", (unsigned long long)seed, problem.text);
    }
    struct image *image = build(plan, seed);
    assert_true(image->account.line_cycles <= LINE_CYCLES);
    run(image, standard);
    compare(&sketch, standard, seed);
    read_again(plan, image, seed);
    rom_free(image);
    plan_free(plan);
}

static void test_pictures(void **state) {
    (void)state;
    const uint64_t count = getenv("SLOTJIG_TEST_SMALL") != NULL ? 9 : 90;
    for (uint64_t seed = 1; seed <= count; seed++) {
        one_picture(seed, (enum standard)(seed % STANDARD_COUNT));
    }
}

/* A user's own plan file may say the same with registers before each line; then the loop's order is the
 * tool's. */
static void test_before_each_line(void **state) {
    (void)state;
    struct problem problem = {0};
    struct band bands[PICTURE_LINES_MAX];
    struct sketch sketch = {.rows = standard_plan_lines(STANDARD_NTSC)};
    struct plan *plan = plan_new("before", STANDARD_NTSC);
    uint64_t random = 5;
    assert_non_null(plan);
    for (int line = 0; line < sketch.rows; line++) {
        /* PF0 alone: D4-D7 are cells 0-3 and 20-23 in copy [H TIA 1A]. */
        const uint8_t bits = (uint8_t)(sketch_random(&random) & 0x0F);
        const uint8_t back = (uint8_t)(sketch_random(&random) & 0xF0);
        sketch.lit[line] = (uint64_t)bits | (uint64_t)bits << CELLS / 2;
        sketch.lit_colour[line] = 0x0E;
        sketch.dark_colour[line] = back;
        bands[line] = (struct band){
            .lines = 1,
            .count = 2,
            .writes = {{REG_PF0, (uint8_t)(bits << 4), WRITE_BEFORE}, {REG_COLUBK, back, WRITE_BEFORE}}};
    }
    assert_true(plan_add_step(plan, "before", bands, (size_t)sketch.rows, &problem));
    struct rows *rows = malloc(sizeof *rows);
    assert_true(rows != NULL && rows_of(plan, rows));
    free(rows);
    struct image *image = build(plan, 0);
    run(image, STANDARD_NTSC);
    compare(&sketch, STANDARD_NTSC, 0);
    rom_free(image);
    plan_free(plan);
}

/* A register's write before the line comes before its writes in mid-line, or the loop is none. */
static void test_order_of_one_register(void **state) {
    (void)state;
    for (int cycle = 3; cycle <= 40; cycle += 37) {
        struct problem problem = {0};
        struct band bands[PICTURE_LINES_MAX];
        struct plan *plan = plan_new("order", STANDARD_NTSC);
        struct rows *rows = malloc(sizeof *rows);
        assert_true(plan != NULL && rows != NULL);
        for (int line = 0; line < 168; line++) {
            bands[line] =
                (struct band){.lines = 1,
                              .count = 2,
                              .writes = {{REG_PF1, 0x81, WRITE_BEFORE}, {REG_PF1, 0x18, (int16_t)cycle}}};
        }
        assert_true(plan_add_step(plan, "order", bands, 168, &problem));
        assert_int_equal(rows_of(plan, rows), cycle == 40);
        free(rows);
        plan_free(plan);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pictures),
        cmocka_unit_test(test_before_each_line),
        cmocka_unit_test(test_order_of_one_register),
    };
    return cmocka_run_group_tests(tests, sketch_start, sketch_stop);
}
