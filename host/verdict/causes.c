#include "verdict/causes.h"

#include <string.h>

struct cause cause_none(enum finding_kind kind) {
    struct cause cause = {.kind = kind, .reg = -1, .bit = -1};
    for (int reg = 0; reg < CAUSE_REGS; reg++) {
        cause.keep[reg] = 0xFF;
        cause.to[reg] = (uint8_t)reg;
    }
    return cause;
}

static void stick(struct cause *cause, int reg, uint8_t mask, bool high) {
    if (high) {
        cause->force[reg] |= mask;
    } else {
        cause->keep[reg] &= (uint8_t)~mask;
    }
}

void cause_add(struct cause *cause, const struct cause *stuck) {
    for (int reg = 0; reg < CAUSE_REGS; reg++) {
        cause->keep[reg] &= stuck->keep[reg];
        cause->force[reg] |= stuck->force[reg];
    }
    for (int i = 0, free = 0; i < CAUSE_JOINTS && stuck->joints[i].how != JOINED_NOT; i++) {
        while (free < CAUSE_JOINTS && cause->joints[free].how != JOINED_NOT) {
            free++;
        }
        if (free < CAUSE_JOINTS) {
            cause->joints[free] = stuck->joints[i];
        }
    }
}

struct cause cause_join(enum joining how, int at, int from) {
    static const enum finding_kind kinds[JOININGS] = {[JOINED_COUPLED] = FINDING_BIT_COUPLED,
                                                      [JOINED_ANDED] = FINDING_BITS_ANDED,
                                                      [JOINED_ORED] = FINDING_BITS_ORED};
    struct cause cause = cause_none(kinds[how]);
    cause.reg = expect_serial[at].reg;
    cause.bit = expect_serial[at].bit;
    cause.joints[0] = (struct joint){how, at, from};
    return cause;
}

static size_t list_bits(struct cause *out) {
    size_t count = 0;
    for (int position = 0; position < CELLS / 2; position++) {
        for (int high = 0; high < 2; high++) {
            struct cause *cause = &out[count++];
            *cause = cause_none(high ? FINDING_BIT_STUCK_HIGH : FINDING_BIT_STUCK_LOW);
            cause->reg = expect_serial[position].reg;
            cause->bit = expect_serial[position].bit;
            cause->high = high;
            stick(cause, cause->reg, (uint8_t)(1u << cause->bit), high);
        }
    }
    return count;
}

/* Bit k of every write to the TIA is wrong; of the registers a plan writes, these four show it in cells. D1
 * is no cause of anything that was seen: it is VSYNC's and VBLANK's bit, and with it stuck no picture comes
 * [H].
 */
static size_t list_data_lines(struct cause *out) {
    size_t count = 0;
    for (int line = 0; line < 8; line++) {
        if (line == 1) {
            continue;
        }
        for (int high = 0; high < 2; high++) {
            struct cause *cause = &out[count++];
            *cause = cause_none(FINDING_DATA_LINE_STUCK);
            cause->bit = line;
            cause->high = high;
            for (int reg = 0; reg < CAUSE_REGS; reg++) {
                stick(cause, reg, (uint8_t)(1u << line), high);
            }
        }
    }
    return count;
}

static size_t list_wiring(struct cause *out) {
    size_t count = 0;
    for (int reg = REG_PF0; reg <= REG_PF2; reg++) {
        struct cause *cause = &out[count++];
        *cause = cause_none(FINDING_REGISTER_ORDER_REVERSED);
        cause->reg = reg;
        cause->reversed = (uint8_t)(1u << reg);
    }
    for (int left_out = REG_PF2; left_out >= REG_PF0; left_out--) {
        int first = left_out == REG_PF0 ? REG_PF1 : REG_PF0;
        int second = left_out == REG_PF2 ? REG_PF1 : REG_PF2;
        struct cause *cause = &out[count++];
        *cause = cause_none(FINDING_REGISTERS_SWAPPED);
        cause->reg = first;
        cause->to[first] = (uint8_t)second;
        cause->to[second] = (uint8_t)first;
    }
    return count;
}

static size_t list_modes(struct cause *out) {
    out[0] = cause_none(FINDING_MIRROR_IGNORED);
    out[1] = cause_none(FINDING_COPY_IGNORED);
    for (int i = 0; i < 2; i++) {
        out[i].reg = REG_CTRLPF;
        out[i].bit = 0;
        stick(&out[i], REG_CTRLPF, CTRLPF_REFLECT, i == 1);
    }
    return 2;
}

static size_t list_unconnected(struct cause *out) {
    size_t count = 0;
    for (unsigned mask = 1; mask <= 16; mask++) {
        struct cause *cause = &out[count++];
        *cause = cause_none(FINDING_UNCONNECTED_BITS_DRAWN);
        cause->reg = REG_PF0;
        cause->unconnected = mask < 16 ? (uint8_t)mask : 0;
        cause->low_nibble = mask == 16;
        if ((mask & (mask - 1)) == 0 && mask < 16) {
            cause->bit = __builtin_ctz(mask);
        }
    }
    return count;
}

static size_t list_shifts(struct cause *out) {
    for (int shift = 1; shift <= SHIFT_MAX; shift++) {
        out[shift - 1] = cause_none(FINDING_SHIFTED);
        out[shift - 1].shift = shift;
    }
    return SHIFT_MAX;
}

size_t cause_list(struct cause causes[CAUSES_MAX]) {
    size_t count = list_bits(causes);
    count += list_modes(causes + count);
    count += list_wiring(causes + count);
    count += list_unconnected(causes + count);
    count += list_shifts(causes + count);
    count += list_data_lines(causes + count);
    return count;
}

static uint8_t reverse(uint8_t value) {
    uint8_t out = 0;
    for (int bit = 0; bit < 8; bit++) {
        out = (uint8_t)(out << 1 | (value >> bit & 1));
    }
    return out;
}

static bool holds(const uint8_t held[CAUSE_REGS], int position) {
    return (held[expect_serial[position].reg] >> expect_serial[position].bit & 1) != 0;
}

static void join(const struct joint *joint, const uint8_t held[CAUSE_REGS], uint8_t shown[CAUSE_REGS]) {
    const struct pf_bit *at = &expect_serial[joint->at];
    const bool own = holds(held, joint->at), other = holds(held, joint->from);
    const bool lit = joint->how == JOINED_COUPLED ? other
                     : joint->how == JOINED_ANDED ? own && other
                                                  : own || other;
    const uint8_t mask = (uint8_t)(1u << at->bit);
    shown[at->reg] = lit ? shown[at->reg] | mask : shown[at->reg] & (uint8_t)~mask;
}

/* What a register draws as, once the value has reached it, but for stuck bits. */
static uint8_t drawn(const struct cause *cause, int reg, uint8_t value) {
    uint8_t low = value & 0x0F;
    if (reg == REG_PF0) {
        value = cause->low_nibble ? (uint8_t)(low << 4) : (uint8_t)(value | (low & cause->unconnected) << 4);
    }
    if (cause->reversed >> reg & 1) {
        /* PF0 has four bits in its scan: its upper half alone turns round. */
        value = reg == REG_PF0 ? (uint8_t)(reverse(value) << 4 | low) : reverse(value);
    }
    return value;
}

static uint8_t stuck(const struct cause *cause, int reg, uint8_t value) {
    return (uint8_t)((value & cause->keep[reg]) | cause->force[reg]);
}

static void join_all(const struct cause *cause, uint8_t shown[CAUSE_REGS]) {
    if (cause->joints[0].how != JOINED_NOT) {
        uint8_t held[CAUSE_REGS];
        memcpy(held, shown, sizeof held);
        for (int i = 0; i < CAUSE_JOINTS && cause->joints[i].how != JOINED_NOT; i++) {
            join(&cause->joints[i], held, shown);
        }
    }
}

/* A cell is read in its middle, clocks 1 and 2 of its four. Late by r clocks of a cell, both come from the
 * same cell as before (r 0, 1), one each from two (2) or both from the one before (3). */
static uint64_t late(uint64_t lit, int shift, uint64_t *half) {
    uint64_t whole = lit << (shift / CELL_CLOCKS) & CELLS_ALL;
    uint64_t next = lit << (shift / CELL_CLOCKS + 1) & CELLS_ALL;
    int rest = shift % CELL_CLOCKS;
    *half = rest == 2 ? whole ^ next : 0;
    return rest == 3 ? next : whole;
}

uint64_t cause_cells(const struct cause *cause, const uint8_t registers[REG_COUNT], uint64_t *half) {
    uint8_t held[CAUSE_REGS];
    for (int reg = 0; reg < CAUSE_REGS; reg++) {
        int to = cause->to[reg];
        held[to] = drawn(cause, to, registers[reg]);
    }
    join_all(cause, held);
    for (int reg = 0; reg < CAUSE_REGS; reg++) {
        held[reg] = stuck(cause, reg, held[reg]);
    }
    uint64_t lit = expect_cells(held[REG_PF0], held[REG_PF1], held[REG_PF2], held[REG_CTRLPF]);
    return late(lit, cause->shift, half);
}

/* Half a cell late, the cells with an edge in their middle are the unclear ones, and no others: that is what
 * tells 2 clocks from 6. In all other cases an unclear cell says nothing. */
static uint64_t soft_cells(const struct cause *cause, uint64_t half) {
    return cause->shift % CELL_CLOCKS == 2 ? half : CELLS_ALL;
}

static void change_writes(const struct cause *cause, struct band *band) {
    for (int i = 0; i < band->count; i++) {
        struct write *write = &band->writes[i];
        if ((int)write->reg < CAUSE_REGS) {
            write->reg = (enum reg)cause->to[write->reg];
            write->value = stuck(cause, write->reg, drawn(cause, write->reg, write->value));
        }
    }
}

/* The slate leaves zeroes in the registers: under a cause those may draw as something else. */
static void change_start(const struct cause *cause, struct band *band) {
    for (int reg = CAUSE_REGS - 1; reg >= 0; reg--) {
        uint8_t value = stuck(cause, reg, drawn(cause, reg, 0));
        if (value != 0 && band->count < BAND_WRITES_MAX) {
            memmove(&band->writes[1], &band->writes[0], band->count * sizeof band->writes[0]);
            band->writes[0] = (struct write){.reg = (enum reg)reg, .value = value, .cycle = WRITE_BEFORE};
            band->count++;
        }
    }
}

void cause_predict(const struct cause *cause, const struct step *step, int lines, struct band *bands,
                   struct prediction *out) {
    if (step_is_hold(step)) {
        uint8_t registers[REG_COUNT];
        step_registers(step, registers);
        out->shown.lines = 1;
        out->shown.lit[0] = cause_cells(cause, registers, &out->half[0]);
        out->shown.sure[0] = CELLS_ALL;
        out->soft[0] = soft_cells(cause, out->half[0]);
        return;
    }
    memcpy(bands, step->bands, step->band_count * sizeof *bands);
    for (size_t i = 0; i < step->band_count; i++) {
        change_writes(cause, &bands[i]);
    }
    change_start(cause, &bands[0]);
    struct step changed = {.band_count = step->band_count, .bands = bands, .vouched = step->vouched};
    expect_step(&changed, lines, &out->shown);
    for (int line = 0; line < out->shown.lines; line++) {
        out->shown.lit[line] = late(out->shown.lit[line], cause->shift, &out->half[line]);
        out->soft[line] = soft_cells(cause, out->half[line]);
    }
}
