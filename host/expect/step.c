/* A step's picture line by line: registers change at a colour clock, and cells are cut there. */
#include "expect/expect.h"

#include <string.h>

enum {
    CYCLE_CLOCKS = 3,
    GUARD_BEFORE = EXPECT_GUARD_BEFORE,
    GUARD_AFTER = EXPECT_GUARD_AFTER,
    HALF = CELLS / 2
};

static int cell_clock(int cell) {
    return BLANK_CLOCKS + CELL_CLOCKS * cell;
}

/* Cells from this one on; none when it is past the last. */
static uint64_t cells_from(int cell) {
    return cell >= CELLS ? 0 : CELLS_ALL & ~((UINT64_C(1) << cell) - 1);
}

/* The first cell whose left edge is at this clock or later. */
static int first_cell_at(int clock) {
    int cell = (clock - BLANK_CLOCKS + CELL_CLOCKS - 1) / CELL_CLOCKS;
    return clock <= BLANK_CLOCKS ? 0 : cell > CELLS ? CELLS : cell;
}

static uint64_t cells_of(const uint8_t registers[REG_COUNT]) {
    return expect_cells(registers[REG_PF0], registers[REG_PF1], registers[REG_PF2], registers[REG_CTRLPF]);
}

/* Cells that a change at this clock leaves open, of the cells that it changes at all. */
static uint64_t cells_open(int clock, uint64_t changed, bool reflect_changed) {
    const int first = first_cell_at(clock - GUARD_BEFORE - CELL_CLOCKS + 1);
    const int past = first_cell_at(clock + GUARD_AFTER + 1);
    if (reflect_changed && clock + GUARD_AFTER >= cell_clock(HALF)) {
        /* The right half has begun in one direction; what turning round in it draws, no handbook says. */
        return cells_from(first > HALF ? first : HALF);
    }
    return changed & cells_from(first) & ~cells_from(past);
}

/* The first cell that the register draws in a half: 0 or 20 on. CTRLPF's reflect bit has cells in the right
 * half only. */
static int first_cell_of(enum reg reg, bool right, bool mirror) {
    int least = CELLS;
    if (reg == REG_CTRLPF) {
        return HALF;
    }
    for (int i = 0; i < HALF; i++) {
        const int cell = !right ? i : mirror ? CELLS - 1 - i : HALF + i;
        const bool drawn = expect_serial[i].reg == reg || reg > REG_PF2;
        least = drawn && cell < least ? cell : least;
    }
    return least;
}

/* A write that a record vouches for shows from the next beginning of its cells in a half line. */
static uint64_t cells_vouched(enum reg reg, int clock, bool mirror) {
    const int left = first_cell_of(reg, false, mirror), right = first_cell_of(reg, true, mirror);
    return clock <= cell_clock(left) ? CELLS_ALL : clock <= cell_clock(right) ? cells_from(HALF) : 0;
}

static void line_writes(const struct band *band, bool vouched, uint8_t registers[REG_COUNT], uint64_t *lit,
                        uint64_t *sure) {
    for (int i = 0; i < band->count; i++) {
        const struct write *write = &band->writes[i];
        if (write->cycle == WRITE_BEFORE) {
            continue;
        }
        const uint64_t before = cells_of(registers);
        const bool turned =
            write->reg == REG_CTRLPF && ((write->value ^ registers[REG_CTRLPF]) & CTRLPF_REFLECT) != 0;
        registers[write->reg] = write->value;
        const uint64_t after = cells_of(registers);
        const int clock = write->cycle * CYCLE_CLOCKS;
        const bool mirror = (registers[REG_CTRLPF] & CTRLPF_REFLECT) != 0;
        const uint64_t later =
            vouched ? cells_vouched(write->reg, clock, mirror) : cells_from(first_cell_at(clock));
        *lit ^= (*lit ^ after) & later & (before ^ after);
        *sure &= vouched ? CELLS_ALL : ~cells_open(clock, before ^ after, turned);
    }
}

static void blank_writes(const struct band *band, uint8_t registers[REG_COUNT]) {
    for (int i = 0; i < band->count; i++) {
        if (band->writes[i].cycle == WRITE_BEFORE) {
            registers[band->writes[i].reg] = band->writes[i].value;
        }
    }
}

/* Colours of the line that begins with these registers. */
static void note_colours(const uint8_t registers[REG_COUNT], bool first, struct expectation *out) {
    bool score = (registers[REG_CTRLPF] & CTRLPF_SCORE) != 0;
    int lit = !score                                           ? registers[REG_COLUPF]
              : registers[REG_COLUP0] == registers[REG_COLUP1] ? registers[REG_COLUP0]
                                                               : -1;
    out->lit_colour = first || out->lit_colour == lit ? lit : -1;
    out->dark_colour = first || out->dark_colour == registers[REG_COLUBK] ? registers[REG_COLUBK] : -1;
}

void expect_step(const struct step *step, int lines, struct expectation *out) {
    uint8_t registers[REG_COUNT];
    for (int reg = 0; reg < REG_COUNT; reg++) {
        registers[reg] = plan_default_colour((enum reg)reg);
    }
    memset(out, 0, sizeof *out);
    out->lines = lines < PICTURE_LINES_MAX ? lines : PICTURE_LINES_MAX;
    int line = 0;
    for (size_t i = 0; i < step->band_count; i++) {
        const struct band *band = &step->bands[i];
        blank_writes(band, registers);
        for (int in_band = 0; in_band < band->lines && line < out->lines; in_band++, line++) {
            note_colours(registers, line == 0, out);
            out->lit[line] = cells_of(registers);
            out->sure[line] = CELLS_ALL;
            line_writes(band, step->vouched, registers, &out->lit[line], &out->sure[line]);
            note_colours(registers, false, out);
        }
    }
}
