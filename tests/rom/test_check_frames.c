/*
 * Plan `cartridge` on the console model: the frame keeps its lines whatever the work takes. Handbook [H]: 262
 * and 312 lines, 3 of sync.
 */
#include <limits.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "expect/expect.h"
#include "plan/check_screen.h"
#include "rom/check_console.h"
#include "rom/check_kernel.h"

enum { FIELDS = 600, SETTLE = 2 };

static void keeps_lines(const struct plan *plan, const struct image *image, int first, int fields) {
    struct slate slate = {0};
    check_power_on(plan, image, first, (uint64_t)first + 3);
    int counter = -1;
    for (int field = 0; field < fields; field++) {
        if (!console_run_field(&check_console, TIA_LINES_MAX)) {
            fail_msg("%s: no field %d", scheme_name(plan->check.scheme), field);
        }
        if (field < SETTLE) {
            continue;
        }
        if (check_console.tia.field.lines != standard_lines(plan->standard)) {
            fail_msg("%s: field %d has %d lines", scheme_name(plan->check.scheme), field,
                     check_console.tia.field.lines);
        }
        if (!field_slate(&check_console.tia.field, plan->standard, &slate) || slate.hash != image->hash) {
            fail_msg("%s: field %d: no slate of this image", scheme_name(plan->check.scheme), field);
        }
        assert_int_equal(check_console.unmodelled_writes, 0);
        assert_true(counter < 0 || slate.counter == (counter + 1) % 64);
        counter = slate.counter;
    }
}

static void test_frames(void **state) {
    (void)state;
    const int fields = getenv("SLOTJIG_TEST_SMALL") != NULL ? 100 : FIELDS;
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        for (int standard = STANDARD_NTSC; standard <= STANDARD_PAL; standard++) {
            struct plan *plan = check_plan_of(scheme, scheme != WIRE_2K && standard == STANDARD_NTSC,
                                              (enum standard)standard);
            struct image *image = check_image_of(plan, 1, 0);
            keeps_lines(plan, image, scheme_banks(scheme) - 1, fields);
            rom_free(image);
            plan_free(plan);
        }
    }
}

/* ---- which bank comes up ---- */

static void test_starts(void **state) {
    (void)state;
    for (int scheme = WIRE_F8; scheme <= WIRE_F4; scheme++) {
        struct plan *plan = check_plan_of(scheme, false, STANDARD_NTSC);
        struct image *image = check_image_of(plan, 3, 0);
        for (int bank = 0; bank < scheme_banks(scheme); bank++) {
            struct slate slate;
            check_power_on(plan, image, bank, (uint64_t)bank);
            for (int field = 0; field <= SETTLE; field++) {
                assert_true(console_run_field(&check_console, TIA_LINES_MAX));
            }
            assert_true(field_slate(&check_console.tia.field, plan->standard, &slate));
            const struct check_item item = check_unpack(slate.value);
            assert_int_equal(item.kind, CHECK_START);
            assert_int_equal(item.place, bank);
            assert_int_equal(item.what, scheme);
        }
        rom_free(image);
        plan_free(plan);
    }
}

/* ---- work of a test's own ---- */

static struct encoder program;

static size_t label_at(const char *name) {
    for (int i = 0; i < program.label_count; i++) {
        if (strcmp(program.labels[i].name, name) == 0) {
            return (size_t)program.labels[i].offset;
        }
    }
    fail_msg("no label %s", name);
    return 0;
}

/* The cycles that come first, so that every number of them can be had: none, 2, 3, 4 or 6. */
enum { EXTRAS = 5 };
static const struct {
    uint8_t cycles, bytes[4];
    size_t count;
} extras[EXTRAS] = {
    {0, {0}, 0},          {2, {0xEA}, 1}, /* NOP */
    {3, {0x24, 0x80}, 2},                 /* BIT $80 */
    {4, {0xEA, 0xEA}, 2}, {6, {0x24, 0x80, 0x24, 0x80}, 4},
};

enum { AWAY = 0x10 }; /* in the first page, which has no program */

/* Instead of the work, in every bank: five cycles `turns` times, and what goes with it. */
static void burn(const struct plan *plan, struct image *image, int turns, int extra) {
    const struct kernel_options options = {.plan = plan, .hash = image->hash, .hold = 1};
    struct problem problem = {0};
    encoder_start(&program, scheme_bank_bytes(plan->check.scheme));
    check_kernel_emit(&program, &options);
    assert_true(encoder_finish(&program, &problem));
    const unsigned done = (unsigned)(program.origin + label_at("work_done"));
    const uint8_t code[] = {
        0xA2,
        (uint8_t)(turns % 256), /* LDX # */
        0xA0,
        (uint8_t)(turns / 256 + 1), /* LDY # */
        0xCA,                       /* DEX */
        0xD0,
        (uint8_t)-3, /* BNE to it */
        0x88,        /* DEY */
        0xD0,
        (uint8_t)-6, /* BNE to DEX */
        0x4C,
        (uint8_t)done,
        (uint8_t)(done >> 8),
    };
    for (int bank = 0; bank < scheme_banks(plan->check.scheme); bank++) {
        uint8_t *const bytes = image->bytes + (size_t)bank * program.limit, *const work = bytes + AWAY;
        const uint8_t away[] = {0x4C, AWAY, (uint8_t)(program.origin >> 8)}; /* JMP: clear of a page's end */
        memcpy(bytes + label_at("work"), away, sizeof away);
        memcpy(work, extras[extra].bytes, extras[extra].count);
        memcpy(work + extras[extra].count, code, sizeof code);
    }
}

/* JMP, LDX, LDY, for each turn DEX and BNE taken, for each time Y counts one more of its own and a BNE that
 * is not taken, JMP [A, from the instruction table]. */
static int burnt(int turns, int extra) {
    const int outer = turns / 256 + 1;
    return 3 + extras[extra].cycles + 2 + 2 + 5 * turns - outer + 5 * outer - 1 + 3;
}

enum { LATE_NEVER = -1 };

/* The first field with another number of lines. */
static int first_odd(const struct plan *plan, const struct image *image) {
    check_power_on(plan, image, 0, 1);
    for (int field = 0; field < 10; field++) {
        assert_true(console_run_field(&check_console, TIA_LINES_MAX));
        if (field >= SETTLE && check_console.tia.field.lines != standard_lines(plan->standard)) {
            return field;
        }
    }
    return LATE_NEVER;
}

/* Returns whether it was told. */
static bool takes(const struct plan *plan, struct image *image, int turns, int extra) {
    const int window = check_window(plan->standard), cycles = burnt(turns, extra);
    struct slate slate = {0};
    burn(plan, image, turns, extra);
    const bool odd = first_odd(plan, image) != LATE_NEVER;
    const bool read = field_slate(&check_console.tia.field, plan->standard, &slate);
    const struct check_item item = check_unpack(slate.value);
    const bool told = read && item.kind == CHECK_START && item.place == CHECK_LATE;
    if (cycles <= window && (odd || told)) {
        fail_msg("%d cycles of %d: %s", cycles, window, odd ? "another frame" : "taken for late");
    }
    if (odd && !told) {
        fail_msg("%d cycles of %d: another frame, and nothing said", cycles, window);
    }
    return told;
}

/* All of the window may be used; what is noticed is told, and what is not noticed keeps the frame. */
static void test_window(void **state) {
    (void)state;
    for (int standard = STANDARD_NTSC; standard <= STANDARD_PAL; standard++) {
        struct plan *plan = check_plan_of(WIRE_4K, false, (enum standard)standard);
        struct image *image = check_image_of(plan, 1, 0);
        const int window = check_window(plan->standard);
        int late_from = INT_MAX;
        for (int turns = window / 5 - 12; turns < window / 5 + 24; turns++) {
            for (int extra = 0; extra < EXTRAS && turns % 256 != 0; extra++) {
                if (takes(plan, image, turns, extra) && burnt(turns, extra) < late_from) {
                    late_from = burnt(turns, extra);
                }
            }
        }
        assert_in_range(late_from, window + 1, window + 16); /* no more than that is given away */
        rom_free(image);
        plan_free(plan);
    }
}

/* What tells of late work is shown as long as any item, and the work rests meanwhile. */
static void test_late_hold(void **state) {
    (void)state;
    enum { HOLD = 4, SEEN = 3 * HOLD };
    struct plan *plan = check_plan_of(WIRE_4K, false, STANDARD_NTSC);
    struct image *image = check_image_of(plan, HOLD, 0);
    int odd = 0;
    burn(plan, image, check_window(plan->standard) / 5 + 60, 0);
    check_power_on(plan, image, 0, 1);
    for (int field = 0; field < 2 * HOLD + SEEN; field++) {
        assert_true(console_run_field(&check_console, TIA_LINES_MAX));
        odd += field >= 2 * HOLD && check_console.tia.field.lines != standard_lines(plan->standard);
    }
    assert_int_equal(odd, SEEN / HOLD);
    rom_free(image);
    plan_free(plan);
}

/* ---- how long an item is shown ---- */

static void test_hold(void **state) {
    (void)state;
    enum { HOLD = 7 };
    struct plan *plan = check_plan_of(WIRE_2K, false, STANDARD_PAL);
    struct image *image = check_image_of(plan, HOLD, 0);
    uint32_t value = 0;
    int shown = 0, items = 0;
    check_power_on(plan, image, 0, 9);
    for (int field = 0; field < 300; field++) {
        struct slate slate;
        assert_true(console_run_field(&check_console, TIA_LINES_MAX));
        if (field < SETTLE) {
            continue;
        }
        assert_true(field_slate(&check_console.tia.field, plan->standard, &slate));
        if (field > SETTLE && slate.value != value) {
            assert_true(items == 0 || shown >= HOLD);
            items++;
            shown = 0;
        }
        value = slate.value;
        shown++;
    }
    assert_true(items > 10);
    rom_free(image);
    plan_free(plan);
}

/* ---- a dark start ---- */

static void test_dark(void **state) {
    (void)state;
    enum { DARK = 30 };
    struct plan *plan = check_plan_of(WIRE_F6, true, STANDARD_NTSC);
    struct image *image = check_image_of(plan, 1, DARK);
    const struct standard_facts *facts = &standard_table[plan->standard];
    int dark = 0;
    check_power_on(plan, image, 0, 9);
    for (int field = 0; field < 2 * DARK; field++) {
        struct slate slate;
        assert_true(console_run_field(&check_console, TIA_LINES_MAX));
        dark += check_console.tia.field.pixel[facts->sync_lines + facts->blank_lines + 1][80] == TIA_BLANKED;
        if (field > SETTLE) {
            assert_int_equal(check_console.tia.field.lines, standard_lines(plan->standard));
        }
        if (field > DARK + SETTLE) {
            assert_true(field_slate(&check_console.tia.field, plan->standard, &slate));
        }
    }
    assert_in_range(dark, DARK, DARK + SETTLE);
    rom_free(image);
    plan_free(plan);
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) { /* the proof follows all of them */
        plan = check_plan_of(scheme, false, STANDARD_PAL);
        image = check_image_of(plan, 255, 255);
        rom_free(image);
        plan_free(plan);
    }
}

/* ---- what a person reads ---- */

static struct check_screen screen_of(const uint8_t ram[128]) {
    const uint8_t *const item = ram + RAM_VALUE - 128, *const first = ram + RAM_FIRST_ERROR - 128;
    const uint8_t *const errors = ram + RAM_ERRORS - 128, *const rounds = ram + RAM_ROUNDS - 128;
    return (struct check_screen){.item = (uint32_t)item[0] | (uint32_t)item[1] << 8 | (uint32_t)item[2] << 16,
                                 .first =
                                     (uint32_t)first[0] | (uint32_t)first[1] << 8 | (uint32_t)first[2] << 16,
                                 .errors = (uint16_t)(errors[0] | errors[1] << 8),
                                 .rounds = (uint16_t)(rounds[0] | rounds[1] << 8)};
}

/* Every line below the slate, to the frame's end, against the handbook's serial output (expect/). */
static void field_shows(const struct plan *plan, const struct check_screen *screen) {
    const struct standard_facts *facts = &standard_table[plan->standard];
    const int top = facts->sync_lines + facts->blank_lines + SLATE_LINES;
    for (int line = 0; top + line < standard_lines(plan->standard); line++) {
        const uint8_t *pixel = check_console.tia.field.pixel[top + line];
        uint8_t pf[3] = {0};
        if (line < CHECK_SCREEN_LINES) {
            check_screen_line(screen, line, pf);
        }
        const uint64_t lit = expect_cells(pf[0], pf[1], pf[2], 0);
        for (int x = 0; x < TIA_VISIBLE; x++) {
            const bool white = lit >> (x / CELL_CLOCKS) & 1;
            if (pixel[x] != (white ? SLATE_WHITE : SLATE_BLACK)) {
                fail_msg("line %d below the slate, clock %d: $%02X", line, x, pixel[x]);
            }
        }
    }
}

/* Numbers of all digits at all places, put into the console's RAM between two fields. */
static void test_text(void **state) {
    (void)state;
    for (int standard = STANDARD_NTSC; standard <= STANDARD_PAL; standard++) {
        struct plan *plan = check_plan_of(WIRE_4K, true, (enum standard)standard);
        struct image *image = check_image_of(plan, 255, 0);
        check_power_on(plan, image, 0, 4);
        for (int field = 0; field < 4; field++) {
            assert_true(console_run_field(&check_console, TIA_LINES_MAX));
        }
        for (unsigned digit = 0; digit < 16; digit++) {
            uint8_t *const ram = check_console.riot.ram;
            const uint8_t bytes[] = {(uint8_t)(digit << 4 | (digit + 5) % 16),
                                     (uint8_t)((digit + 7) % 16 << 4 | (digit + 11) % 16), (uint8_t)digit};
            memcpy(ram + RAM_VALUE - 128, bytes, 3);
            memcpy(ram + RAM_FIRST_ERROR - 128, bytes, 3);
            memcpy(ram + RAM_ERRORS - 128, digit == 0 ? (const uint8_t[]){0, 0} : bytes + 1, 2);
            memcpy(ram + RAM_ROUNDS - 128, bytes, 2);
            const struct check_screen screen = screen_of(ram);
            struct slate slate;
            assert_true(console_run_field(&check_console, TIA_LINES_MAX));
            assert_true(field_slate(&check_console.tia.field, plan->standard, &slate));
            assert_int_equal(slate.value, screen.item);
            field_shows(plan, &screen);
        }
        rom_free(image);
        plan_free(plan);
    }
}

/* What a person would copy: written here by hand. */
static void test_shapes(void **state) {
    (void)state;
    const struct check_screen screen = {.first = 0x13A02};
    static const char *const lines[CHECK_FONT_LINES] = {"..#..###..#..###.###", ".##....#.#.#.#.#...#",
                                                        "..#...##.###.#.#.###", "..#....#.#.#.#.#.#..",
                                                        ".###.###.#.#.###.###"};
    for (int line = 0; line < CHECK_FONT_LINES; line++) {
        uint8_t pf[3];
        check_screen_line(&screen, CHECK_GAP_LINES + line * CHECK_DOT_LINES, pf);
        const uint64_t lit = expect_cells(pf[0], pf[1], pf[2], 0);
        for (int cell = 0; cell < CELLS; cell++) {
            if ((lit >> cell & 1) != (lines[line][cell % (CELLS / 2)] == '#')) {
                fail_msg("13A02, line %d of its dots, cell %d", line, cell);
            }
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_frames), cmocka_unit_test(test_starts),
                                       cmocka_unit_test(test_window), cmocka_unit_test(test_late_hold),
                                       cmocka_unit_test(test_hold),   cmocka_unit_test(test_dark),
                                       cmocka_unit_test(test_text),   cmocka_unit_test(test_shapes)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
