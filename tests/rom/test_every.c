/*
 * Plan `every` as the virtual console draws it: each pattern's line is held against plan/every.h's law and
 * the handbook's table of the serial output, each field's slate against the order of the bases. Arithmetic
 * [A] here: the order of the values. Handbook [H]: the serial output table, 262 and 312 lines. What a delayed
 * write does is the model's alone.
 */
#include "plan/every.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "rom/counted.h"

enum { WHITE = 0x0E, HALF_CELLS = CELLS / 2, SEED = 5 };

/* Serial output [H TIA 1A]: PF0 D4..D7, PF1 D7..D0, PF2 D0..D7; then again, or reversed. In v's own bits. */
static const uint8_t serial_bit[HALF_CELLS] = {16, 17, 18, 19, 15, 14, 13, 12, 11, 10,
                                               9,  8,  0,  1,  2,  3,  4,  5,  6,  7};

static bool lit(uint32_t v, bool mirror, int cell) {
    const int place = cell < HALF_CELLS ? cell : mirror ? CELLS - 1 - cell : cell - HALF_CELLS;
    return v >> serial_bit[place] & 1;
}

static void line_shows(const uint8_t *pixels, uint32_t v, bool mirror, int line) {
    for (int x = 0; x < TIA_VISIBLE; x++) {
        if (pixels[x] != (lit(v, mirror, x / CELL_CLOCKS) ? WHITE : 0)) {
            fail_msg("line %d, clock %d: $%02X is not of %05X, %s", line, x, pixels[x], v,
                     mirror ? "mirror" : "copy");
        }
    }
}

static void field_shows(const struct plan *plan, uint32_t base) {
    uint32_t v = base & ~UINT32_C(1);
    for (int line = 0; line < plan->every.lines; line++) {
        if (line > 0 && line % plan->every.repeat == 0) {
            v = (v + EVERY_STEP) & 0xFFFFF;
        }
        line_shows(counted_line(plan->standard, line), v, base & 1, line);
    }
    for (int x = 0; x < TIA_VISIBLE; x++) { /* the blank below is where it should be */
        assert_int_equal(counted_line(plan->standard, standard_plan_lines(plan->standard))[x], TIA_BLANKED);
    }
}

static struct plan *plan_of(uint32_t count, int repeat, enum standard standard) {
    struct plan *plan = NULL;
    struct problem problem = {0};
    if (!every_plan(count, repeat, standard, &plan, &problem)) {
        fail_msg("%s", problem.text);
    }
    return plan;
}

static void start(const struct plan *plan, struct image **image, int hold, int delay) {
    *image = counted_build(plan, hold, 0);
    counted_power_on(*image, delay, SEED);
    for (int i = 0; i < COUNTED_SETTLE; i++) {
        console_run_field(&counted_console, TIA_LINES_MAX);
    }
}

/* Two rounds of both modes, free-running: from the field that is met first on, each in its turn. */
static void two_rounds(uint32_t count, int repeat, enum standard standard, int hold, int delay) {
    struct plan *plan = plan_of(count, repeat, standard);
    struct image *image = NULL;
    const uint32_t bases = plan->every.bases;
    bool mirror = false;
    uint32_t field = 0;
    start(plan, &image, hold, delay);
    struct slate before = counted_field(standard);
    assert_true(every_field_of(&plan->every, before.value, &mirror, &field));
    int shown = -1; /* fields that this base has been shown: not known of the first */
    for (uint32_t i = 0; i < 4 * bases * (uint32_t)hold; i++) {
        const struct slate now = counted_field(standard);
        assert_int_equal(now.counter, (before.counter + 1) % 64);
        if (now.value != before.value) {
            mirror = field + 1 == bases ? !mirror : mirror;
            field = (field + 1) % bases;
            assert_int_equal(now.value, every_base(&plan->every, mirror, field));
            assert_true(shown < 0 || shown == hold);
            shown = 1;
        } else {
            shown = shown < 0 ? shown : shown + 1;
            assert_true(shown <= hold);
        }
        assert_int_equal(counted.echo, now.value & 0xFF);
        field_shows(plan, now.value);
        before = now;
    }
    assert_int_equal(counted.reads[0] + counted.reads[1] + counted.reads[2] + counted.odd, 0);
    rom_free(image);
    plan_free(plan);
}

static void test_rounds(void **state) {
    (void)state;
    two_rounds(EVERY_LEAST, 1, STANDARD_NTSC, 1, 2);
    two_rounds(EVERY_LEAST, 1, STANDARD_PAL, 1, 2);
    two_rounds(EVERY_LEAST, 1, STANDARD_SECAM, 3, 2);
    two_rounds(20000, 1, STANDARD_NTSC, 1, 0);
    two_rounds(EVERY_LEAST, 1, STANDARD_NTSC, 3, 12);
    for (int repeat = 2; repeat <= EVERY_REPEAT_MAX; repeat++) {
        two_rounds(EVERY_LEAST, repeat, (enum standard)(repeat % 2), 1, 2);
    }
}

/* The end of a mode of the whole plan, over which the console counts by itself. */
static void whole(int repeat, enum standard standard) {
    struct plan *plan = plan_of(2 * EVERY_VALUES, repeat, standard);
    struct image *image = NULL;
    const struct every *every = &plan->every;
    start(plan, &image, 1, 2);
    assert_int_equal(every_value(0, 1), EVERY_STEP);
    for (int mirror = 0; mirror < 2; mirror++) {
        counted.mode = MAILBOX_GIVEN;
        counted.value = every_base(every, mirror, every->bases - 2);
        counted_field(standard); /* reads the mode below its picture, the value above the next */
        assert_int_equal(counted_field(standard).value, counted.value);
        counted.mode = MAILBOX_FREE;
        counted_field(standard);
        const uint32_t last = counted_field(standard).value;
        assert_int_equal(last, every_base(every, mirror, every->bases - 1));
        field_shows(plan, last);
        const uint32_t first = counted_field(standard).value;
        assert_int_equal(first, !mirror);
        field_shows(plan, first);
        assert_int_equal(counted_field(standard).value, every_base(every, !mirror, 1));
    }
    rom_free(image);
    plan_free(plan);
}

/* 32 lines of 5 (NTSC): patterns that divide 2^20, so that the end of a mode is its start again. */
static void test_ends(void **state) {
    (void)state;
    for (int repeat = 1; repeat <= EVERY_REPEAT_MAX; repeat++) {
        whole(repeat, STANDARD_NTSC);
        whole(repeat, STANDARD_PAL);
    }
}

/* What a line's pixels say: v from its left half; false where the right half or a cell's other clocks differ.
 */
static bool read_line(const uint8_t *pixels, bool mirror, uint32_t *v) {
    static const uint8_t whites[CELL_CLOCKS] = {WHITE, WHITE, WHITE, WHITE}, blacks[CELL_CLOCKS] = {0};
    *v = 0;
    for (int cell = 0; cell < CELLS; cell++) {
        const uint8_t *clocks = pixels + cell * CELL_CLOCKS;
        const bool white = clocks[0] == WHITE;
        if (memcmp(clocks, white ? whites : blacks, CELL_CLOCKS) != 0) {
            return false;
        }
        if (cell < HALF_CELLS) {
            *v |= (uint32_t)white << serial_bit[cell];
        } else if (white != lit(*v, mirror, cell)) {
            return false;
        }
    }
    return true;
}

/* Both modes, free-running: as many values as the plan has, each different, out of the pixels alone. */
static void all_values(uint32_t count, enum standard standard) {
    static uint8_t seen[2][EVERY_VALUES];
    struct plan *plan = plan_of(count, 1, standard);
    struct image *image = NULL;
    uint32_t different[2] = {0};
    memset(seen, 0, sizeof seen);
    start(plan, &image, 1, 2);
    for (uint32_t field = 0; field < 2 * plan->every.bases; field++) {
        const bool mirror = counted_field(standard).value & 1;
        for (int line = 0; line < plan->every.lines; line++) {
            uint32_t v = 0;
            if (!read_line(counted_line(standard, line), mirror, &v)) {
                fail_msg("field %u, line %d: no line of this mode", field, line);
            }
            different[mirror] += seen[mirror][v] == 0;
            seen[mirror][v] = 1;
        }
    }
    const uint32_t shown = plan->every.bases * (uint32_t)plan->every.patterns;
    for (int mirror = 0; mirror < 2; mirror++) {
        assert_int_equal(different[mirror], shown < EVERY_VALUES ? shown : EVERY_VALUES);
    }
    printf("%s: %u and %u values in %u fields\n", standard_table[standard].name, different[0], different[1],
           2 * plan->every.bases);
    rom_free(image);
    plan_free(plan);
}

/* 2 x 2^20 values in 12,484 fields of 168 lines, 10,282 of 204 [A]. */
static void test_all_values(void **state) {
    (void)state;
    const bool small = getenv("SLOTJIG_TEST_SMALL") != NULL;
    all_values(small ? EVERY_VALUES / 16 : 2 * EVERY_VALUES, STANDARD_NTSC);
    all_values(small ? EVERY_VALUES / 16 : 2 * EVERY_VALUES, STANDARD_PAL);
}

static uint32_t next_random(uint32_t *seed) {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 17;
    *seed ^= *seed << 5;
    return *seed;
}

/* A value a hold, each of its bytes read once and in turn, and only then; bits above the twentieth do no
 * harm, nor does a base that no field of the plan has. */
static void test_given(void **state) {
    (void)state;
    uint32_t seed = 0x5107;
    struct plan *plan = plan_of(2 * EVERY_VALUES, 1, STANDARD_NTSC);
    for (int hold = 1; hold <= 3; hold++) {
        struct image *image = NULL;
        start(plan, &image, hold, 2);
        counted.mode = MAILBOX_GIVEN;
        counted.value = 4;
        for (int i = 0; i <= hold; i++) {
            counted_field(STANDARD_NTSC);
        }
        for (int turn = 0; turn < 100; turn++) {
            const uint32_t given = next_random(&seed) & 0xFFFFFF;
            counted.value = given;
            memset(counted.reads, 0, sizeof counted.reads);
            for (int i = 0; i < hold; i++) {
                const struct slate slate = counted_field(STANDARD_NTSC);
                if (slate.value != (given & 0xFFFFF)) {
                    i--; /* the one before is still shown */
                    assert_int_equal(turn, 0);
                    continue;
                }
                field_shows(plan, slate.value);
                for (int byte = 0; byte < 3; byte++) {
                    assert_int_equal(counted.reads[byte], 1);
                }
            }
        }
        assert_int_equal(counted.out_of_turn + counted.odd, 0);
        rom_free(image);
    }
    plan_free(plan);
}

/* Where a mode's end is its start again, the start is still shown when it is given, or held a while. */
static void test_given_the_end(void **state) {
    (void)state;
    struct plan *plan = plan_of(2 * EVERY_VALUES, 5, STANDARD_NTSC);
    assert_int_equal(every_base(&plan->every, false, plan->every.bases), 0);
    for (int hold = 1; hold <= 2; hold++) {
        struct image *image = NULL;
        start(plan, &image, hold, 2);
        counted.mode = MAILBOX_GIVEN;
        for (uint32_t mirror = 0; mirror < 2; mirror++) {
            counted.value = mirror;
            for (int field = 0; field <= hold; field++) {
                counted_field(STANDARD_NTSC);
            }
            for (int field = 0; field < 2 * hold; field++) {
                assert_int_equal(counted_field(STANDARD_NTSC).value, mirror);
            }
        }
        rom_free(image);
    }
    plan_free(plan);
}

/* Held without end, then a whole hold more. */
static void test_held(void **state) {
    (void)state;
    struct plan *plan = plan_of(EVERY_LEAST, 1, STANDARD_NTSC);
    static const int holds[] = {1, 2, 3, 255, 256};
    for (size_t i = 0; i < sizeof holds / sizeof holds[0]; i++) {
        struct image *image = NULL;
        start(plan, &image, holds[i], 2);
        counted.mode = MAILBOX_HOLD;
        counted_field(STANDARD_NTSC);
        const uint32_t held = counted_field(STANDARD_NTSC).value;
        for (int field = 0; field < 2 * holds[i]; field++) {
            assert_int_equal(counted_field(STANDARD_NTSC).value, held);
        }
        counted.mode = MAILBOX_FREE;
        for (int field = 0; field < holds[i]; field++) {
            assert_int_equal(counted_field(STANDARD_NTSC).value, held);
        }
        assert_int_not_equal(counted_field(STANDARD_NTSC).value, held);
        rom_free(image);
    }
    plan_free(plan);
}

/* Neither the hold nor a dark start moves it. */
static void test_hash(void **state) {
    (void)state;
    struct plan *plan = plan_of(2 * EVERY_VALUES, 1, STANDARD_NTSC);
    struct plan *two = plan_of(2 * EVERY_VALUES, 2, STANDARD_NTSC);
    struct image *images[] = {counted_build(plan, 1, 0), counted_build(plan, 65535, 0),
                              counted_build(plan, 1, 180), counted_build(two, 1, 0)};
    assert_int_equal(images[0]->hash, images[1]->hash);
    assert_int_equal(images[0]->hash, images[2]->hash);
    assert_int_not_equal(images[0]->hash, images[3]->hash);
    for (int i = 0; i < 4; i++) {
        rom_free(images[i]);
    }
    plan_free(plan);
    plan_free(two);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rounds), cmocka_unit_test(test_all_values),    cmocka_unit_test(test_ends),
        cmocka_unit_test(test_given),  cmocka_unit_test(test_given_the_end), cmocka_unit_test(test_held),
        cmocka_unit_test(test_hash),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
