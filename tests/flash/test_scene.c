/*
 * A plan's pictures as flashing sees them, against the handbook's table (expect/): steps with writes in
 * mid-line, plan every, plan moments.
 */
#include "expect/expect.h"
#include "flash/scene.h"
#include "plan/check.h"
#include "plan/check_screen.h"
#include "plan/every.h"
#include "plan/moments.h"
#include "slate/slate.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static uint64_t state = 1;
static unsigned draw(unsigned below) {
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return (unsigned)(state >> 33) % below;
}

static const uint64_t *white_of(const struct plan *plan, uint32_t picture) {
    static struct scenes scenes;
    static struct scene scene;
    memset(&scene, 0xFF, sizeof scene);
    scenes_init(&scenes, plan);
    assert_true(scenes.two_level);
    scene_picture(&scenes, picture, &scene);
    return scene.white + SLATE_LINES;
}

static void same(const char *what, int line, uint64_t got, uint64_t wanted) {
    if (got != wanted) {
        char ours[CELLS + 1], theirs[CELLS + 1];
        cells_text(got, 0, ours);
        cells_text(wanted, 0, theirs);
        fail_msg("%s, line %d:\n%s, wanted\n%s", what, line, ours, theirs);
    }
}

/* Playfield writes before and within the line, a few bands. */
static struct plan *drawn(void) {
    struct plan *plan = plan_new("drawn", STANDARD_NTSC);
    int left = standard_plan_lines(STANDARD_NTSC);
    struct band bands[8] = {{0}};
    size_t count = 0;
    assert_non_null(plan);
    for (; left > 0; count++) {
        const int lines = count == 7 ? left : 1 + (int)draw((unsigned)left);
        struct band *band = &bands[count];
        int cycle = WRITE_BEFORE;
        band->lines = (uint16_t)lines;
        left -= lines;
        while (band->count < 6 && cycle < LINE_CYCLES - 4) {
            band->writes[band->count++] =
                (struct write){(enum reg)draw(REG_PF2 + 1), (uint8_t)(draw(256) & 0xF9), (int16_t)cycle};
            cycle = cycle == WRITE_BEFORE && draw(2) != 0 ? WRITE_BEFORE : cycle + 3 + (int)draw(20);
        }
    }
    assert_true(plan_add_step(plan, "drawn", bands, count, NULL));
    return plan;
}

static void steps_are_the_handbooks(void **unused) {
    (void)unused;
    for (int i = 0; i < 200; i++) {
        struct plan *plan = drawn();
        struct expectation expectation;
        expect_step(&plan->steps[0], standard_plan_lines(plan->standard), &expectation);
        const uint64_t *white = white_of(plan, 0);
        for (int line = 0; line < expectation.lines; line++) {
            same("drawn step", line, white[line], expectation.lit[line]);
        }
        plan_free(plan);
    }
}

static void every_is_its_values(void **unused) {
    (void)unused;
    struct plan *plan = NULL;
    assert_true(every_plan(2 * EVERY_VALUES, 5, STANDARD_NTSC, &plan, NULL));
    for (int i = 0; i < 20; i++) {
        const uint32_t bases = plan->every.bases;
        const uint32_t picture = i == 0 ? bases - 1 : i == 1 ? bases : draw(plan_pictures(plan));
        const bool mirror = picture >= plan->every.bases;
        const uint32_t base = every_base(&plan->every, mirror, picture % plan->every.bases);
        const uint64_t *white = white_of(plan, picture);
        for (int line = 0; line < plan->every.lines; line++) {
            const uint32_t value = every_value(base, line / 5);
            same("every", line, white[line],
                 expect_cells((uint8_t)(value >> 16 << 4), (uint8_t)(value >> 8), (uint8_t)value, mirror));
        }
        assert_int_equal(white[plan->every.lines], 0); /* 32 patterns of 5 lines leave 8 [A] */
    }
    plan_free(plan);
}

/* The same picture as a step with one store in mid-line, for the playfield's registers; black and white of
 * the colour registers is the sum of both. */
static void moments_are_steps_with_one_store(void **unused) {
    (void)unused;
    struct plan *moments = NULL;
    assert_true(moments_plan(STANDARD_NTSC, &moments, NULL));
    for (uint32_t value = 0; value < MOMENT_VALUES; value++) {
        const struct moment moment = moment_of(value);
        const struct moment_setting setting = moment_setting(moment.reg, moment.mirror);
        if (moment.reg > MOMENT_REFLECT) {
            continue;
        }
        struct plan *plan = plan_new("one", STANDARD_NTSC);
        struct expectation expectation;
        struct band bands[3] = {{.lines = 1, .count = 4}, {.lines = 2, .count = 1}, {.lines = 165}};
        assert_non_null(plan);
        for (int reg = REG_CTRLPF; reg <= REG_PF2; reg++) {
            bands[0].writes[reg] = (struct write){(enum reg)reg, setting.held[reg], WRITE_BEFORE};
        }
        bands[1].writes[0] = (struct write){setting.reg, setting.after, (int16_t)moment.cycle};
        assert_true(plan_add_step(plan, "one", bands, 3, NULL));
        expect_step(&plan->steps[0], 168, &expectation);
        const uint64_t *white = white_of(moments, value);
        same("before", 0, white[0], expectation.lit[0]);
        same("rising", 1, white[1], expectation.lit[1]);
        same("after", 2, white[2], expectation.lit[2]);
        same("before again", 4, white[4], expectation.lit[0]);
        same("the next group", 5, white[5], white[1]);
        plan_free(plan);
    }
    plan_free(moments);
}

/* [A] Of plan moments' colours: half a line is white where the store falls into its middle. */
static void moments_of_colours_are_parts_of_lines(void **unused) {
    (void)unused;
    struct plan *plan = NULL;
    assert_true(moments_plan(STANDARD_NTSC, &plan, NULL));
    /* clock 3 * 49 = 147 lies in cell 19 (144..147), so the change shows from cell 20 (148) on */
    const struct moment back = {.reg = MOMENT_COLUBK, .cycle = 49};
    const uint64_t right = CELLS_ALL & ~((UINT64_C(1) << 20) - 1);
    const uint64_t *white = white_of(plan, moment_value(&back));
    same("black", 0, white[0], 0);
    same("rising", 1, white[1], right);
    same("white", 2, white[2], CELLS_ALL);
    same("falling", 3, white[3], CELLS_ALL & ~right);
    same("black again", 4, white[4], 0);
    plan_free(plan);
}

/* A cell shows what its middle shows: bits of 18 clocks from clock 7 on, the eighth of 15 (slotjig/slate.h).
 */
/* A row of plan cartridge's digits, its first line of dots, cell by cell; from the middle on once more. */
static uint64_t first_dots(uint32_t number) {
    static const char *const dots[16] = {"###", ".#.", "###", "###", "#.#", "###", "###", "###",
                                         "###", "###", ".#.", "#..", ".##", "..#", "###", "###"};
    uint64_t cells = 0;
    for (int cell = 0; cell < CELLS; cell++) {
        const int place = cell % (CELLS / 2) / 4, dot = cell % 4 - 1;
        const char *const shape = dots[number >> 4 * (4 - place) & 0xF];
        cells |= (uint64_t)(dot >= 0 && shape[dot] == '#') << cell;
    }
    return cells;
}

static void cartridge_is_its_items(void **unused) {
    (void)unused;
    static struct scenes scenes;
    static struct scene scene;
    struct plan *plan = NULL;
    struct check_item items[CHECK_ITEMS_MAX];
    assert_true(check_plan(WIRE_F4, true, STANDARD_PAL, &plan, NULL));
    const size_t count = check_items(&plan->check, items);
    assert_int_equal(count, plan_pictures(plan));
    scenes_init(&scenes, plan);
    for (size_t i = 0; i < count; i++) {
        const uint32_t value = check_pack(items[i]);
        const uint32_t rows[CHECK_TEXT_ROWS] = {0, 0xF0000, 0xE0000, value};
        const uint64_t *white = white_of(plan, (uint32_t)i);
        for (int row = 0; row < CHECK_TEXT_ROWS; row++) {
            const int top = row * (CHECK_GAP_LINES + CHECK_FONT_LINES * CHECK_DOT_LINES);
            same("gap", top, white[top], 0);
            same("digits", top + CHECK_GAP_LINES, white[top + CHECK_GAP_LINES], first_dots(rows[row]));
        }
        for (int line = CHECK_SCREEN_LINES; line < standard_plan_lines(STANDARD_PAL); line++) {
            same("below", line, white[line], 0);
        }
        /* The value's bits 19 to 12 are the slate's third row, 11 to 4 its fourth. */
        scene_slate(&scenes, (uint32_t)i, 0, &scene);
        for (int bit = 0; bit < 16; bit++) {
            const uint64_t row = scene.white[3 + 3 * (2 + bit / 8)];
            const int cell = (7 + 18 * (bit % 8) + 9) / 4;
            assert_int_equal(row >> cell & 1, value >> (19 - bit) & 1);
        }
    }
    plan_free(plan);
}

static void the_slate_is_its_rows(void **unused) {
    (void)unused;
    static struct scenes scenes;
    static struct scene scene;
    struct plan *plan = NULL;
    assert_true(every_plan(2 * EVERY_VALUES, 1, STANDARD_NTSC, &plan, NULL));
    scenes_init(&scenes, plan);
    for (int i = 0; i < 100; i++) {
        const uint32_t picture = draw(plan->every.bases);
        const struct slate slate = {
            .hash = 0x5A5A, .value = every_base(&plan->every, false, picture), .counter = (uint8_t)draw(64)};
        uint8_t rows[SLATE_ROWS];
        slate_encode(&slate, rows);
        scene_slate(&scenes, picture, slate.counter, &scene);
        for (int line = 0; line < SLATE_LINES; line++) {
            uint64_t wanted = 0;
            for (int cell = 0; cell < CELLS; cell++) {
                const int clock = 4 * cell + 2 - 7;
                const bool in_row = line >= 3 && clock >= 0 && clock < 7 * 18 + 15;
                const bool white =
                    line < 3 || (in_row && (rows[(line - 3) / 3] >> (7 - clock / 18) & 1) != 0);
                wanted |= (uint64_t)white << cell;
            }
            same("slate", line, scene.white[line], wanted);
        }
    }
    plan_free(plan);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steps_are_the_handbooks),
        cmocka_unit_test(every_is_its_values),
        cmocka_unit_test(moments_are_steps_with_one_store),
        cmocka_unit_test(moments_of_colours_are_parts_of_lines),
        cmocka_unit_test(cartridge_is_its_items),
        cmocka_unit_test(the_slate_is_its_rows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
