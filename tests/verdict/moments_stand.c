#include "verdict/moments_stand.h"

#include "picture/frames.h"
#include "slate/slate.h"
#include "virtual/grabber.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Write addresses [H TIA 1A]. */
enum { VSYNC = 0x00, VBLANK = 0x01, COLUBK = 0x09 };

void moments_stand_defaults(enum standard standard, struct moments_stand *stand) {
    memset(stand, 0, sizeof *stand);
    stand->standard = standard;
    tia_chip_default(&stand->chip);
    grabber_defaults(standard, &stand->grabber);
    stand->grabber.noise_db = 30;
    stand->seed = 1;
    stand->hold = 4;
}

static uint32_t next_random(uint64_t *seed) {
    *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)(*seed >> 33);
}

void moments_stand_random_chip(struct moments_stand *stand, uint64_t seed) {
    for (int reg = TIA_CTRLPF; reg <= TIA_COLUBK; reg++) {
        for (int phase = 0; phase < MOMENT_PHASES; phase++) {
            stand->chip.delay[reg][phase] = (uint8_t)(next_random(&seed) % (MOMENT_DELAY_MOST + 1));
        }
    }
}

static void store(struct tia *tia, int cycle, uint8_t address, uint8_t value) {
    tia_write(tia, 3 * cycle, address, value);
}

/* The registers of the picture, in the blank of the line at hand. */
static void hold_registers(struct tia *tia, const uint8_t held[REG_COUNT]) {
    for (int reg = 0; reg < REG_COUNT; reg++) {
        store(tia, 1 + 2 * reg, reg_address((enum reg)reg), held[reg]);
    }
}

static void slate_line(struct tia *tia, int line, const uint8_t rows[SLATE_ROWS]) {
    if (line < SLATE_BAND_LINES) {
        store(tia, 3, COLUBK, SLATE_WHITE);
        return;
    }
    const uint8_t row = rows[(line - SLATE_BAND_LINES) / SLATE_ROW_LINES];
    store(tia, 3, COLUBK, SLATE_BLACK);
    for (int bit = 0; bit < SLATE_ROW_BITS; bit++) {
        store(tia, 25 + 6 * bit, COLUBK, row >> (7 - bit) & 1 ? SLATE_WHITE : SLATE_BLACK);
    }
    store(tia, 72, COLUBK, SLATE_BLACK);
}

/* Line 0 is the picture's first; 0 is in no group. */
static void picture_line(struct tia *tia, int line, const struct moment *moment,
                         const struct moment_setting *setting, int groups) {
    if (line == 0) {
        hold_registers(tia, setting->held);
    }
    const int kind = (line - MOMENT_FIRST) % MOMENT_GROUP;
    if (line < MOMENT_FIRST || (line - MOMENT_FIRST) / MOMENT_GROUP >= groups) {
        return;
    }
    /* Cycle 0: the store's last cycle is the last of the line before. */
    if (kind == MOMENT_RISING || kind == MOMENT_FALLING) {
        tia_write(tia, 3 * moment->cycle, reg_address(setting->reg),
                  kind == MOMENT_RISING ? setting->after : setting->before);
    }
}

void moments_stand_draw(struct tia *tia, enum standard standard, uint32_t value, unsigned counter) {
    static const uint8_t slate_registers[REG_COUNT] = {
        [REG_COLUPF] = SLATE_WHITE, [REG_COLUP0] = SLATE_WHITE, [REG_COLUP1] = SLATE_WHITE};
    const struct standard_facts *facts = &standard_table[standard];
    const struct moment moment = moment_of(value);
    const struct moment_setting setting = moment_setting(moment.reg, moment.mirror);
    const struct slate slate = {MOMENTS_STAND_HASH, value, (uint8_t)(counter & 63)};
    const int first = facts->sync_lines + facts->blank_lines, last = first + facts->picture_lines;
    uint8_t rows[SLATE_ROWS];
    slate_encode(&slate, rows);
    for (int line = 0; line < standard_lines(standard); line++) {
        if (line == 0) {
            store(tia, 1, VSYNC, 2);
            tia_begin_field(tia);
            store(tia, 3, VBLANK, 2);
        } else if (line == facts->sync_lines) {
            store(tia, 1, VSYNC, 0);
        } else if (line == first - 1) {
            hold_registers(tia, slate_registers);
        } else if (line == first) {
            store(tia, 1, VBLANK, 0);
        } else if (line == last) {
            store(tia, 1, VBLANK, 2);
        }
        if (line >= first && line < first + SLATE_LINES) {
            slate_line(tia, line - first, rows);
        } else if (line >= first && line < last) {
            picture_line(tia, line - first - SLATE_LINES, &moment, &setting, moment_groups(standard));
        }
        tia_end_line(tia);
    }
    /* As the grabber is given it: the next field's sync ends it. */
    tia->field.synced = true;
    tia->field.sync_lines = facts->sync_lines;
}

static void read_frame(struct grabber *grabber, struct frames *frames, struct judge *judge) {
    struct frame frame;
    struct field fields[2];
    struct reading readings[2];
    struct problem problem;
    if (!grabber_frame(grabber, &frame, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
        abort();
    }
    const int count = frames_read(frames, &frame, fields, readings);
    for (int i = 0; i < count; i++) {
        judge_reading(judge, &readings[i], 2);
    }
}

struct judge *moments_stand_run(const struct moments_stand *stand, struct plan **plan) {
    struct problem problem;
    struct tia *tia = calloc(1, sizeof *tia);
    struct grabber *grabber = grabber_new(stand->standard, &stand->grabber, stand->seed, &problem);
    struct frames *frames =
        frames_new(&(struct picture_options){.standard = stand->standard, .profiles = true});
    if (grabber == NULL || !moments_plan(stand->standard, plan, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
        abort();
    }
    struct judge *judge = judge_new(*plan, MOMENTS_STAND_HASH);
    unsigned counter = 0;
    tia_power_on(tia, &stand->chip, stand->seed);
    for (uint32_t value = 0; value < MOMENT_VALUES; value++) {
        const struct moment moment = moment_of(value);
        const bool shown = stand->wanted == NULL || stand->wanted(&moment);
        for (int i = 0; i < stand->hold && shown; i++) {
            moments_stand_draw(tia, stand->standard, value, counter++);
            grabber_take(grabber, &tia->field);
            while (grabber_ready(grabber)) {
                read_frame(grabber, frames, judge);
            }
        }
    }
    frames_free(frames);
    grabber_free(grabber);
    free(tia);
    return judge;
}

/* ---- what the pictures can tell ---- */

/* One field's picture lines of the first group, for all writes of the phase. */
static void draw_phase(const struct tia_chip *chip, enum moment_register reg, int phase,
                       uint8_t (*rows)[MOMENT_GROUP * TIA_VISIBLE]) {
    static struct tia tia; /* large: kept off the stack */
    for (int i = 0; i < MOMENT_MODES * LINE_CYCLES; i++) {
        const struct moment moment = {reg, i >= LINE_CYCLES, i % LINE_CYCLES};
        const struct moment_setting setting = moment_setting(reg, moment.mirror);
        if ((3 * moment.cycle + 160) % MOMENT_PHASES != phase) {
            continue;
        }
        tia_power_on(&tia, chip, 1);
        tia_write(&tia, 3, VSYNC, 0);
        tia_write(&tia, 6, VBLANK, 0);
        tia_end_line(&tia);
        tia_begin_field(&tia);
        for (int line = 0; line <= 2 * MOMENT_GROUP; line++) {
            picture_line(&tia, line, &moment, &setting, 2);
            tia_end_line(&tia);
        }
        for (int line = 0; line < MOMENT_GROUP; line++) {
            memcpy(rows[i] + line * TIA_VISIBLE, tia.field.pixel[MOMENT_FIRST + MOMENT_GROUP + line],
                   TIA_VISIBLE);
        }
    }
}

static enum tia_reg chip_register(enum moment_register reg) {
    static const enum tia_reg of[MOMENT_REGISTERS] = {TIA_PF0,    TIA_PF1,    TIA_PF2,   TIA_CTRLPF,
                                                      TIA_CTRLPF, TIA_COLUPF, TIA_COLUBK};
    return of[reg];
}

unsigned moments_stand_same(const struct moments_stand *stand, enum moment_register reg, int phase) {
    enum { SIZE = MOMENT_MODES * LINE_CYCLES };
    static uint8_t wanted[SIZE][MOMENT_GROUP * TIA_VISIBLE], tried[SIZE][MOMENT_GROUP * TIA_VISIBLE];
    unsigned same = 0;
    memset(wanted, 0, sizeof wanted);
    memset(tried, 0, sizeof tried);
    draw_phase(&stand->chip, reg, phase, wanted);
    for (int delay = 0; delay <= MOMENT_DELAY_MOST; delay++) {
        struct tia_chip chip = stand->chip;
        chip.delay[chip_register(reg)][phase] = (uint8_t)delay;
        draw_phase(&chip, reg, phase, tried);
        same |= (unsigned)(memcmp(wanted, tried, sizeof wanted) == 0) << delay;
    }
    return same;
}

bool moments_stand_agrees(const struct moment_delay *delay, unsigned same) {
    unsigned told = 0;
    if (!delay->known) {
        return false;
    }
    if (delay->exact) {
        const int whole = (int)lround(delay->clocks);
        return fabs(delay->clocks - whole) <= 0.1 && whole >= 0 && same == 1u << whole;
    }
    for (int i = 0; i <= MOMENT_DELAY_MOST; i++) {
        told |= (unsigned)(i >= delay->low && i <= delay->high) << i;
    }
    return told == same;
}
