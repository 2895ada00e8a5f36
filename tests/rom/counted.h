/* Images of plans that count on the console, as the console model runs them behind a hand-made mailbox. */
#ifndef TESTS_ROM_COUNTED_H
#define TESTS_ROM_COUNTED_H

#include "rom/field_slate.h"
#include "rom/rom.h"
#include "virtual/console.h"

#include "slotjig/mailbox.h"

#include <stdlib.h>
#include <string.h>

enum {
    COUNTED_SETTLE = 2, /* fields after power-on: the first begins wherever the power came */
    HOTSPOTS_FIRST = 0x1FF4,
    HOTSPOTS_LAST = 0x1FFB
};

/* The cartridge, and what passes on its bus. */
struct counted {
    const struct image *image;
    uint8_t mode;
    uint32_t value;  /* in the mailbox */
    int reads[3];    /* of the value's bytes */
    int out_of_turn; /* of them: not low, middle, high */
    int next;        /* byte that is next */
    int modes;       /* reads of MAILBOX_MODE */
    int odd;         /* reads that mean something to a board and are none of these */
    int echo, after; /* the last echo of the step shown, bus cycles since it was announced */
};

static struct counted counted;
static struct console counted_console;

static inline void counted_see(uint16_t address) {
    struct counted *c = &counted;
    if (c->after > 0 && ++c->after == MAILBOX_ECHO_AFTER + 1) {
        c->echo = address & 0xFF;
        c->after = 0;
    }
    if (address == MAILBOX_STEP_SHOWN) {
        c->after = 1;
    }
    if (address >= MAILBOX_VALUE && address < MAILBOX_VALUE + 3) {
        const int byte = address - MAILBOX_VALUE;
        c->reads[byte]++;
        c->out_of_turn += byte != c->next;
        c->next = (byte + 1) % 3;
    }
    c->modes += address == MAILBOX_MODE;
    c->odd += address == MAILBOX_STEP || address == MAILBOX_IN_RAM ||
              (address >= HOTSPOTS_FIRST && address <= HOTSPOTS_LAST);
}

static inline uint8_t counted_read(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    (void)bus;
    counted_see(address);
    return address == MAILBOX_MODE ? counted.mode
           : address >= MAILBOX_VALUE && address < MAILBOX_VALUE + 3
               ? (uint8_t)(counted.value >> 8 * (address - MAILBOX_VALUE))
               : counted.image->bytes[address & (counted.image->size - 1)];
}

static inline void counted_pass(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    (void)bus;
    counted_see(address);
}

static inline struct image *counted_build(const struct plan *plan, int hold, int dark) {
    struct problem problem = {0};
    struct image *image = NULL;
    const struct rom_options options = {.hold = hold, .dark = dark};
    if (!rom_build(plan, &options, &image, &problem)) {
        fail_msg("plan %s, hold %d, dark %d: %s", plan->name, hold, dark, problem.text);
    }
    return image;
}

/* delay: of CTRLPF and the playfield's registers, in colour clocks. */
static inline void counted_power_on(const struct image *image, int delay, uint64_t seed) {
    const struct cartridge cartridge = {.read = counted_read, .pass = counted_pass};
    struct tia_chip chip;
    tia_chip_default(&chip);
    memset(chip.delay[TIA_CTRLPF], delay, (TIA_PF2 - TIA_CTRLPF + 1) * sizeof chip.delay[0]);
    counted = (struct counted){.image = image};
    console_power_on(&counted_console, &chip, &cartridge, seed);
    memset(counted.reads, 0, sizeof counted.reads); /* the reset sequence reads the stack wherever it is */
    counted.odd = counted.out_of_turn = counted.next = counted.modes = 0;
}

/* One field, whose frame is exact and whose slate is whole. */
static inline struct slate counted_field(enum standard standard) {
    struct slate slate = {0};
    assert_true(console_run_field(&counted_console, TIA_LINES_MAX));
    assert_int_equal(counted_console.tia.field.lines, standard_lines(standard));
    assert_int_equal(counted_console.tia.field.sync_lines, standard_table[standard].sync_lines);
    assert_int_equal(counted_console.unmodelled_writes, 0);
    if (!field_slate(&counted_console.tia.field, standard, &slate)) {
        fail_msg("the slate's check code is wrong");
    }
    assert_int_equal(slate.hash, counted.image->hash);
    return slate;
}

/* A line of the picture; 0 is the first below the slate. */
static inline const uint8_t *counted_line(enum standard standard, int line) {
    const struct standard_facts *facts = &standard_table[standard];
    return counted_console.tia.field.pixel[facts->sync_lines + facts->blank_lines + SLATE_LINES + line];
}

#endif
