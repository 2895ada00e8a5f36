/*
 * Readings without video: a small TIA playfield, clock by clock, with faults, written apart from expect/ and
 * from the causes under test. Order of the bits: TIA 1A technical manual, "Playfield registers serial
 * output": PF0 4..7, PF1 7..0, PF2 0..7; reflected: the same 20 backwards.
 */
#ifndef TESTS_VERDICT_DRAW_H
#define TESTS_VERDICT_DRAW_H

#include "verdict/verdict.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { DRAW_HASH = 0x5A17, DRAW_CLOCKS = 160 };

struct fault {
    uint32_t low, high; /* sequence position n stuck */
    int reversed;       /* 1 + n: PFn's scan runs backwards */
    int swap;           /* 1: PF0 PF1, 2: PF0 PF2, 3: PF1 PF2 */
    bool mirror_ignored, copy_ignored;
    unsigned unconnected;
    int late;
    uint8_t data_low, data_high;
    uint8_t lit_low, lit_high, dark_low, dark_high; /* bits of COLUPF and COLUBK stuck */
    double tint;                                    /* degrees by which the grabber turns hues */
    bool cropped;                                   /* the blank beside the picture is not shown */
};

static inline void draw_swap(uint8_t *a, uint8_t *b) {
    uint8_t kept = *a;
    *a = *b;
    *b = kept;
}

static inline void draw_sequence(const struct fault *fault, uint8_t pf[3], uint8_t sequence[20]) {
    if (fault->swap != 0) {
        draw_swap(&pf[fault->swap == 3 ? 1 : 0], &pf[fault->swap == 1 ? 1 : 2]);
    }
    for (int bit = 0; bit < 4; bit++) {
        if ((fault->unconnected >> bit & 1) && (pf[0] >> bit & 1)) {
            pf[0] |= (uint8_t)(0x10 << bit);
        }
    }
    for (int n = 0; n < 4; n++) {
        sequence[n] = pf[0] >> (fault->reversed == 1 ? 7 - n : 4 + n) & 1;
    }
    for (int n = 0; n < 8; n++) {
        sequence[4 + n] = pf[1] >> (fault->reversed == 2 ? n : 7 - n) & 1;
        sequence[12 + n] = pf[2] >> (fault->reversed == 3 ? 7 - n : n) & 1;
    }
    for (int n = 0; n < 20; n++) {
        if (fault->low >> n & 1) {
            sequence[n] = 0;
        }
        if (fault->high >> n & 1) {
            sequence[n] = 1;
        }
    }
}

static inline void draw_line(const struct fault *fault, const uint8_t registers[REG_COUNT],
                             uint8_t clocks[DRAW_CLOCKS]) {
    uint8_t pf[3], sequence[20];
    for (int n = 0; n < 3; n++) {
        pf[n] = (uint8_t)((registers[REG_PF0 + n] & ~fault->data_low) | fault->data_high);
    }
    uint8_t control = (uint8_t)((registers[REG_CTRLPF] & ~fault->data_low) | fault->data_high);
    bool mirror = ((control & 1) != 0 && !fault->mirror_ignored) || fault->copy_ignored;
    draw_sequence(fault, pf, sequence);
    for (int clock = 0; clock < DRAW_CLOCKS; clock++) {
        int from = clock - fault->late, cell = from >= 0 ? from / 4 : 0;
        int position = cell < 20 ? cell : mirror ? 39 - cell : cell - 20;
        clocks[clock] = from >= 0 ? sequence[position] : 0;
    }
}

/* Edges as a grabber would find them: against the cells' own, modulo 4. */
static inline void draw_measure(const uint8_t clocks[DRAW_CLOCKS], struct reading *reading) {
    double x = 0, y = 0;
    reading->edges = 0;
    for (int clock = 1; clock < DRAW_CLOCKS; clock++) {
        if (clocks[clock] != clocks[clock - 1]) {
            reading->edges++;
            x += cos(clock * acos(-1) / 2);
            y += sin(clock * acos(-1) / 2);
        }
    }
    reading->offset = reading->edges > 0 ? atan2(y, x) * 2 / acos(-1) : 0;
    reading->edges *= 12; /* picture/ measures a dozen lines */
}

/* Colours: luminance D3-D1 in steps of 1/7, hue D7-4 from grey (0) on, 24 degrees apart [H 4.0 + A]; the
 * slate's white and black are COLUBK's $0E and $00. 40 codes of colour, as good as any. */
static inline uint8_t draw_stuck(const struct fault *fault, uint8_t value, uint8_t low, uint8_t high) {
    value = (uint8_t)((value & ~fault->data_low) | fault->data_high);
    return (uint8_t)((value & ~low) | high);
}

static inline struct cell_colour draw_colour(const struct fault *fault, uint8_t colour, int count) {
    uint8_t white = draw_stuck(fault, 0x0E, fault->dark_low, fault->dark_high);
    uint8_t black = draw_stuck(fault, 0x00, fault->dark_low, fault->dark_high);
    double low = (black >> 1 & 7) / 7.0, high = (white >> 1 & 7) / 7.0;
    double cb[2] = {0, 0}, cr[2] = {0, 0};
    uint8_t both[2] = {colour, white};
    for (int i = 0; i < 2; i++) {
        double angle = ((both[i] >> 4) - 1) * 24.0 + fault->tint;
        if (both[i] >> 4 != 0) {
            cb[i] = -40 * cos(angle * acos(-1) / 180);
            cr[i] = -40 * sin(angle * acos(-1) / 180);
        }
    }
    return (struct cell_colour){.count = count,
                                .level = ((colour >> 1 & 7) / 7.0 - low) / (high - low),
                                .cb = cb[0] - cb[1],
                                .cr = cr[0] - cr[1]};
}

/* Cells are seen lit by their level: what is drawn half way between black and white is neither. */
static inline void draw_shades(const struct fault *fault, const uint8_t registers[REG_COUNT],
                               struct reading *reading) {
    uint64_t drawn = reading->lit[0];
    int lit = __builtin_popcountll(drawn & ~reading->unclear[0]) * 12;
    uint8_t lit_value = draw_stuck(fault, registers[REG_COLUPF], fault->lit_low, fault->lit_high);
    uint8_t dark_value = draw_stuck(fault, registers[REG_COLUBK], fault->dark_low, fault->dark_high);
    struct cell_colour blank = draw_colour(fault, 0, fault->cropped ? 0 : 12);
    struct cell_colour above = draw_colour(fault, lit_value, lit),
                       below = draw_colour(fault, dark_value, 480 - lit);
    reading->has_chroma = true;
    reading->raster.black =
        16 + 219 / 7.0 * (draw_stuck(fault, 0x00, fault->dark_low, fault->dark_high) >> 1 & 7);
    reading->raster.white =
        16 + 219 / 7.0 * (draw_stuck(fault, 0x0E, fault->dark_low, fault->dark_high) >> 1 & 7);
    reading->beside_picture = blank;
    reading->beside_band = blank.level;
    reading->band_white = 1;
    reading->lit[0] = above.level > 0.5 ? drawn : 0;
    reading->unclear[0] |= fabs(above.level - 0.5) < 0.125 ? drawn : 0;
    reading->lit_colour = above.level > 0.5 ? above : (struct cell_colour){0};
    reading->dark_colour = below;
    if (above.level <= 0.5) {
        reading->dark_colour.count = 480;
        reading->dark_colour.level += (above.level - below.level) * lit / 480;
        reading->dark_colour.cb += (above.cb - below.cb) * lit / 480;
        reading->dark_colour.cr += (above.cr - below.cr) * lit / 480;
    }
}

static inline void draw_reading(const struct fault *fault, const uint8_t registers[REG_COUNT], uint32_t value,
                                unsigned counter, struct reading *reading) {
    uint8_t clocks[DRAW_CLOCKS];
    memset(reading, 0, sizeof *reading);
    draw_line(fault, registers, clocks);
    reading->state = FIELD_READ;
    reading->slate = (struct slate){DRAW_HASH, value, counter & 63};
    reading->raster = (struct raster){60, 20, 3.7714, 16, 235, 0};
    reading->lines = 168;
    reading->margin = 0.9;
    for (int cell = 0; cell < 40; cell++) {
        int sum = clocks[4 * cell + 1] + clocks[4 * cell + 2];
        reading->lit[0] |= (uint64_t)(sum == 2) << cell;
        reading->unclear[0] |= (uint64_t)(sum == 1) << cell;
    }
    draw_shades(fault, registers, reading);
    for (int line = 1; line < reading->lines; line++) {
        reading->lit[line] = reading->lit[0];
        reading->unclear[line] = reading->unclear[0];
    }
    draw_measure(clocks, reading);
}

static inline void draw_step(const struct fault *fault, const struct plan *plan, uint32_t step,
                             unsigned counter, struct reading *reading) {
    uint8_t registers[REG_COUNT];
    step_registers(&plan->steps[step], registers);
    draw_reading(fault, registers, step, counter, reading);
}

/* The plan once round, each step held for some fields. */
static inline void draw_round(struct judge *judge, const struct plan *plan, const struct fault *fault,
                              int hold, unsigned *counter) {
    for (uint32_t step = 0; step < plan->step_count; step++) {
        for (int i = 0; i < hold; i++) {
            struct reading reading;
            draw_step(fault, plan, step, (*counter)++, &reading);
            judge_reading(judge, &reading, 2);
        }
    }
}

static inline void draw_findings(const struct result *result) {
    for (size_t i = 0; i < result->finding_count; i++) {
        fprintf(stderr, "  %s: %s\n", finding_name(result->findings[i].kind), result->findings[i].text);
    }
}

#endif
