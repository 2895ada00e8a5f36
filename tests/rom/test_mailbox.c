/*
 * The program's side of the mailbox, watched cycle by cycle on the console model: what it says and when, that
 * it says nothing else, holding a step, and the hand-over. Layouts: slotjig/mailbox.h. Lines of a frame [H S.
 * Wright, 3.3]: 262 and 312.
 */
#include "plan/moments.h"
#include "plan/plan.h"
#include "rom/field_slate.h"
#include "rom/mailbox.h"
#include "rom/rom.h"
#include "virtual/console.h"

#include "slotjig/mailbox.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

enum {
    HOLD = 4,
    SAID = 3, /* low, high, step */
    HOTSPOT_FIRST = 0x1FF4,
    HOTSPOT_LAST = 0x1FFB,
    TURNS = 64
};

static struct console console;

/* A slot whose mailbox can be changed, and what was seen there. */
static struct slot {
    const struct image *image;
    uint8_t mode, step;
    uint16_t last; /* address of the cycle before */
    uint16_t announced;
    int after;      /* cycles since then */
    int said[SAID]; /* last echo, -1: none */
    int count[SAID];
    int in_ram, modes, resets, odd; /* odd: reads of what is to be left alone */
} slot;

static void see(uint16_t address) {
    if (slot.announced != 0 && ++slot.after == MAILBOX_ECHO_AFTER) {
        const int which = slot.announced - MAILBOX_VECTOR_LOW;
        slot.odd += (address & 0x1F00) != MAILBOX_ECHO;
        slot.said[which] = address & 0xFF;
        slot.count[which]++;
        slot.announced = 0;
    } else if (address >= MAILBOX_VECTOR_LOW && address <= MAILBOX_STEP_SHOWN) {
        slot.odd += slot.announced != 0;
        slot.announced = address;
        slot.after = 0;
    }
    slot.in_ram += address == MAILBOX_IN_RAM;
    slot.modes += address == MAILBOX_MODE;
    slot.resets += slot.last == RESET_VECTOR && address == RESET_VECTOR + 1;
    slot.odd += address == RESET_VECTOR + 1 && slot.last != RESET_VECTOR;
    slot.odd += slot.last == RESET_VECTOR && address != RESET_VECTOR + 1;
    slot.odd += address >= HOTSPOT_FIRST && address <= HOTSPOT_LAST;
    slot.last = address;
}

static uint8_t read_slot(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    (void)bus;
    see(address);
    return address == MAILBOX_MODE   ? slot.mode
           : address == MAILBOX_STEP ? slot.step
                                     : slot.image->bytes[address & (slot.image->size - 1)];
}

static void pass_slot(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    (void)bus;
    see(address);
}

static void forget(void) {
    memset(slot.count, 0, sizeof slot.count);
    slot.in_ram = slot.modes = slot.resets = 0;
}

static void power_on(const struct image *image) {
    struct tia_chip chip;
    const struct cartridge cartridge = {.read = read_slot, .pass = pass_slot};
    slot = (struct slot){.image = image, .said = {-1, -1, -1}};
    tia_chip_default(&chip);
    console_power_on(&console, &chip, &cartridge, 5);
    assert_int_equal(slot.resets, 1);
    slot.odd = 0; /* the reset sequence reads the stack wherever it happens to be */
    for (int i = 0; i < 2; i++) {
        console_run_field(&console, TIA_LINES_MAX);
    }
    forget();
}

/* Two kinds of picture: steps that hold, and, with bands, routines of their own. */
static struct image *build(enum standard standard, bool bands, int steps, int first, int hold) {
    struct problem problem = {0};
    struct image *image = NULL;
    struct plan *plan = plan_new(bands ? "bands" : "holds", standard);
    const uint16_t lines = (uint16_t)standard_plan_lines(standard);
    assert_non_null(plan);
    for (int i = 0; i < steps; i++) {
        const struct band two[] = {
            {.lines = 20, .count = 1, .writes = {{REG_PF1, (uint8_t)(i + first), WRITE_BEFORE}}},
            {.lines = (uint16_t)(lines - 20), .count = 1, .writes = {{REG_PF2, (uint8_t)(i + first), 40}}}};
        char name[STEP_NAME_MAX];
        snprintf(name, sizeof name, "step %d", i);
        const bool added = bands && i % 2 == 0
                               ? plan_add_step(plan, name, two, 2, &problem)
                               : plan_add_hold(plan, name, 0, 0x50, (uint8_t)(i + first), 0xA5, &problem);
        if (!added) {
            fail_msg("%s", problem.text);
        }
    }
    const struct rom_options options = {.hold = hold};
    if (!rom_build(plan, &options, &image, &problem)) {
        fail_msg("%s", problem.text);
    }
    plan_free(plan);
    return image;
}

static struct slate next_slate(enum standard standard) {
    struct slate slate = {0};
    assert_true(console_run_field(&console, TIA_LINES_MAX));
    assert_int_equal(console.tia.field.lines, standard_lines(standard));
    assert_true(field_slate(&console.tia.field, standard, &slate));
    assert_int_equal(slate.hash, slot.image->hash);
    return slate;
}

/* Every field: both bytes of the vector, the step of the picture before, one look at the mailbox. */
static void test_what_is_said(void **state) {
    (void)state;
    for (int i = 0; i < 2 * STANDARD_COUNT; i++) {
        const enum standard standard = (enum standard)(i / 2);
        struct image *image = build(standard, i % 2 == 1, 5, 1, HOLD);
        power_on(image);
        for (int field = 0; field < TURNS; field++) {
            const struct slate slate = next_slate(standard);
            assert_int_equal(slot.said[0], MAILBOX_ENTRY & 0xFF);
            assert_int_equal(slot.said[1] & 0x1F, MAILBOX_ENTRY >> 8);
            assert_int_equal(slot.said[2], slate.value);
            for (int which = 0; which < SAID; which++) {
                assert_int_equal(slot.count[which], 1);
            }
            assert_int_equal(slot.modes, 1);
            assert_int_equal(slot.in_ram + slot.resets, 0);
            forget();
        }
        assert_int_equal(slot.odd, 0);
        rom_free(image);
    }
}

/* Each step that a plan has, or as many values as moments has. */
static void read_alone(const char *name, enum standard standard) {
    struct plan *plan = NULL;
    struct image *image = NULL;
    struct problem problem = {0};
    assert_true(plan_open(name, standard, &plan, &problem));
    const bool counts = plan_counts(plan);
    const struct rom_options options = {.hold = counts ? 1 : HOLD_MIN, .size = 2048};
    if (!rom_build(plan, &options, &image, &problem)) {
        fail_msg("%s", problem.text);
    }
    power_on(image);
    for (int field = 0; field < (counts ? MOMENT_VALUES : (int)plan->step_count * HOLD_MIN); field++) {
        next_slate(standard);
    }
    assert_int_equal(slot.odd, 0);
    assert_int_equal(slot.in_ram + slot.resets, 0);
    rom_free(image);
    plan_free(plan);
}

/* Plans that fill their image most, so that their tables come nearest to the mailbox. */
static void test_nothing_else_is_read(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        read_alone("bits", (enum standard)standard);
        read_alone("every", (enum standard)standard);
        read_alone("moments", (enum standard)standard);
    }
}

static void test_hold(void **state) {
    (void)state;
    static const int holds[] = {HOLD_MIN, 255, 256};
    for (size_t i = 0; i < sizeof holds / sizeof holds[0]; i++) {
        struct image *image = build(STANDARD_NTSC, i % 2 == 1, 6, 1, holds[i]);
        power_on(image);
        for (uint8_t step = 0; step < 6; step++) {
            slot.mode = MAILBOX_HOLD, slot.step = step;
            next_slate(STANDARD_NTSC);
            for (int field = 0; field < 2 * holds[i] + 2; field++) {
                assert_int_equal(next_slate(STANDARD_NTSC).value, step);
            }
        }
        slot.step = 2;
        next_slate(STANDARD_NTSC);
        slot.mode = MAILBOX_FREE;
        for (int field = 0; field < holds[i]; field++) {
            assert_int_equal(next_slate(STANDARD_NTSC).value, 2);
        }
        assert_int_equal(next_slate(STANDARD_NTSC).value, 3);
        rom_free(image);
    }
}

/* One past the last, and modes that there are none of, change nothing. */
static void test_hold_ignored(void **state) {
    (void)state;
    static const struct {
        uint8_t mode, step;
    } cases[] = {{MAILBOX_HOLD, 6}, {MAILBOX_HOLD, 255}, {3, 2}, {128, 2}, {255, 2}};
    struct image *image = build(STANDARD_NTSC, true, 6, 1, HOLD);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        power_on(image);
        slot.mode = cases[i].mode, slot.step = cases[i].step;
        uint32_t steps = 0;
        for (int field = 0; field < 6 * HOLD; field++) {
            steps |= 1u << next_slate(STANDARD_NTSC).value;
        }
        assert_int_equal(steps, 0x3F);
    }
    rom_free(image);
}

static void test_all_steps_can_be_held(void **state) {
    (void)state;
    struct image *image = build(STANDARD_NTSC, false, 256, 0, HOLD);
    power_on(image);
    slot.mode = MAILBOX_HOLD, slot.step = 255;
    next_slate(STANDARD_NTSC);
    assert_int_equal(next_slate(STANDARD_NTSC).value, 255);
    rom_free(image);
}

static void is_blank(enum standard standard) {
    const struct tia_field *field = &console.tia.field;
    assert_int_equal(field->lines, standard_lines(standard));
    assert_int_equal(field->sync_lines, 3);
    for (int line = 0; line < field->lines; line++) {
        for (int x = 0; x < TIA_VISIBLE; x++) {
            assert_int_equal(field->pixel[line][x], TIA_BLANKED);
        }
    }
}

/* From one image to another while the console runs. Returns the lines of the field in which it went over. */
static int swap(const struct image *to, enum standard from_standard, enum standard to_standard) {
    struct slate slate = {0};
    slot.mode = MAILBOX_HAND_OVER;
    next_slate(from_standard); /* reads the mailbox below its picture */
    forget();
    for (int field = 0; field < 5; field++) {
        assert_true(console_run_field(&console, TIA_LINES_MAX));
        is_blank(from_standard);
        assert_int_equal(slot.in_ram, 1);
        assert_int_equal(slot.modes, 1);
        assert_int_equal(slot.count[0] + slot.count[1] + slot.count[2] + slot.resets, 0);
        forget();
    }
    slot.image = to;
    slot.mode = MAILBOX_FREE;
    assert_true(console_run_field(&console, TIA_LINES_MAX));
    const int lines = console.tia.field.lines;
    assert_int_equal(console.tia.field.sync_lines, 3);
    assert_int_equal(slot.resets, 1);
    assert_true(console_run_field(&console, TIA_LINES_MAX));
    assert_int_equal(console.tia.field.lines, standard_lines(to_standard));
    assert_true(field_slate(&console.tia.field, to_standard, &slate));
    assert_int_equal(slate.hash, to->hash);
    assert_int_equal(slate.value, 0);
    return lines;
}

/* The field in between keeps its standard's lines: the set sees one rhythm. */
static void test_hand_over(void **state) {
    (void)state;
    for (int from = 0; from < STANDARD_COUNT; from++) {
        for (int to = 0; to < STANDARD_COUNT; to++) {
            struct image *a = build((enum standard)from, false, 3, 1, HOLD);
            struct image *b = build((enum standard)to, true, 4, 7, HOLD);
            power_on(a);
            const int there = swap(b, (enum standard)from, (enum standard)to);
            const int back = swap(a, (enum standard)to, (enum standard)from);
            printf("%s to %s: a field of %d lines, back: %d\n", standard_table[from].name,
                   standard_table[to].name, there, back);
            assert_int_equal(there, standard_lines((enum standard)from));
            assert_int_equal(back, standard_lines((enum standard)to));
            assert_int_equal(slot.odd, 0);
            rom_free(a);
            rom_free(b);
        }
    }
}

/* Images that count take over from one with steps, and hand over again; the routine of another kind of
 * picture is run each time. */
static void test_hand_over_of_counters(void **state) {
    (void)state;
    static const char *const names[] = {"every", "moments"};
    for (int i = 0; i < 2 * STANDARD_COUNT; i++) {
        const enum standard standard = (enum standard)(i / 2);
        struct problem problem = {0};
        struct plan *plan = NULL;
        struct image *counter = NULL, *image = build(standard, true, 4, 7, HOLD);
        const struct rom_options options = {.hold = 1000};
        assert_true(plan_open(names[i % 2], standard, &plan, &problem));
        assert_true(rom_build(plan, &options, &counter, &problem));
        power_on(image);
        for (int turn = 0; turn < 3; turn++) {
            assert_int_equal(swap(counter, standard, standard), standard_lines(standard));
            assert_int_equal(swap(counter, standard, standard), standard_lines(standard));
            assert_int_equal(swap(image, standard, standard), standard_lines(standard));
        }
        assert_int_equal(slot.odd, 0);
        rom_free(counter);
        rom_free(image);
        plan_free(plan);
    }
}

/* Taken back at once: the same image begins anew. */
static void test_hand_over_to_itself(void **state) {
    (void)state;
    struct image *image = build(STANDARD_PAL, false, 3, 1, HOLD);
    power_on(image);
    for (int i = 0; i < TURNS; i++) {
        assert_int_equal(swap(image, STANDARD_PAL, STANDARD_PAL), 312);
    }
    rom_free(image);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_is_said),
        cmocka_unit_test(test_nothing_else_is_read),
        cmocka_unit_test(test_hold),
        cmocka_unit_test(test_hold_ignored),
        cmocka_unit_test(test_all_steps_can_be_held),
        cmocka_unit_test(test_hand_over),
        cmocka_unit_test(test_hand_over_of_counters),
        cmocka_unit_test(test_hand_over_to_itself),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
