/*
 * Draws sync, blank, background and playfield, no more often than something changes.
 */
#include "virtual/tia.h"

enum {
    CELL_CLOCKS = 4,
    CELLS = TIA_VISIBLE / CELL_CLOCKS,
    HALF = CELLS / 2,
    REFLECT = 0x01, /* CTRLPF D0 */
    SCORE = 0x02,   /* CTRLPF D1 */
    SWITCH = 0x02,  /* VSYNC D1, VBLANK D1 */
    COLOUR = 0xFE   /* D0 of a colour register has no storage */
};

/* Addresses on A5..A0. */
enum { AT_VSYNC = 0x00, AT_VBLANK = 0x01, AT_COLUP0 = 0x06, AT_PF0 = 0x0D, AT_PF2 = 0x0F };

void tia_chip_default(struct tia_chip *chip) {
    enum { PLAYFIELD_DELAY = 2 }; /* [M] */
    *chip = (struct tia_chip){.swap = {0, 1, 2}};
    for (int reg = TIA_CTRLPF; reg <= TIA_PF2; reg++)
        for (int phase = 0; phase < 4; phase++)
            chip->delay[reg][phase] = PLAYFIELD_DELAY;
}

static uint32_t next_random(struct tia *tia) {
    uint32_t x = tia->random;
    x ^= x << 13;
    x ^= x >> 17;
    x ^= x << 5;
    return tia->random = x;
}

/* By halves, quarters and so on of the word. */
static uint32_t reversed(uint32_t value, int bits) {
    value = (value & 0x55555555u) << 1 | (value >> 1 & 0x55555555u);
    value = (value & 0x33333333u) << 2 | (value >> 2 & 0x33333333u);
    value = (value & 0x0F0F0F0Fu) << 4 | (value >> 4 & 0x0F0F0F0Fu);
    return __builtin_bswap32(value) >> (32 - bits);
}

/* The shift chain: PF0's upper half rising, PF1 falling, PF2 rising. Bit n is sequence position n. */
static uint32_t chain(const struct tia_chip *chip, uint8_t pf0, uint8_t pf1, uint8_t pf2) {
    pf0 |= (uint8_t)((pf0 & chip->unconnected) << 4);
    const uint32_t first = chip->order_reversed & 1 ? reversed(pf0 >> 4, 4) : (uint32_t)pf0 >> 4;
    const uint32_t second = chip->order_reversed & 2 ? pf1 : reversed(pf1, 8);
    const uint32_t third = chip->order_reversed & 4 ? reversed(pf2, 8) : pf2;
    return first | second << 4 | third << 12;
}

static uint32_t joined(const struct tia_chip *chip, uint32_t bits) {
    uint32_t out = bits;
    for (int i = 0; i < chip->joints; i++) {
        const struct tia_joint *joint = &chip->joint[i];
        const uint32_t own = bits >> joint->at & 1u, other = bits >> joint->from & 1u;
        const uint32_t shown = joint->how == TIA_COUPLED ? other
                               : joint->how == TIA_ANDED ? own & other
                                                         : own | other;
        out = (out & ~(1u << joint->at)) | shown << joint->at;
    }
    return out;
}

static void rebuild_serial(struct tia *tia) {
    const struct tia_chip *chip = &tia->chip;
    const uint32_t low = chip->stuck_low | (tia->flaky ? chip->flaky_low : 0);
    const uint32_t high = chip->stuck_high | (tia->flaky ? chip->flaky_high : 0);
    uint32_t bits = chain(chip, tia->reg[TIA_PF0], tia->reg[TIA_PF1], tia->reg[TIA_PF2]);
    if (chip->joints)
        bits = joined(chip, bits);
    tia->serial = (bits & ~low) | high;
}

/* The line's cells as the chain stands now, bit n: cell n. */
static uint64_t cells_now(const struct tia *tia) {
    const bool asked = (tia->reg[TIA_CTRLPF] & REFLECT) || tia->chip.copy_ignored;
    const bool reflect = asked && !tia->chip.mirror_ignored;
    const uint64_t right = reflect ? reversed(tia->serial, HALF) : tia->serial;
    return tia->serial | right << HALF;
}

static void fetch_cells(struct tia *tia, int end) {
    const uint64_t cells = cells_now(tia);
    for (int cell = tia->fetched; cell < end; cell++)
        tia->lit[cell] = cells >> cell & 1u;
    tia->fetched = (uint8_t)end;
}

static uint8_t playfield_colour(const struct tia *tia, int x) {
    if (!(tia->reg[TIA_CTRLPF] & SCORE))
        return tia->reg[TIA_COLUPF];
    return tia->reg[x < TIA_VISIBLE / 2 ? TIA_COLUP0 : TIA_COLUP1];
}

static void draw_each(struct tia *tia, int from, int to) {
    const int late = tia->chip.late;
    for (int x = from; x < to; x++) {
        const bool lit = x >= late && tia->lit[(x - late) / CELL_CLOCKS];
        tia->row[x] = lit ? playfield_colour(tia, x - late) : tia->reg[TIA_COLUBK];
    }
}

/* Whole cells of a playfield that is not late, all in the left half or in the right: which are lit is as
 * good as random to a processor, so there is no branch on it. */
static void draw_cells(struct tia *tia, int first, int end) {
    const uint32_t ones = 0x01010101u, background = tia->reg[TIA_COLUBK] * ones;
    const uint32_t differs = background ^ playfield_colour(tia, first * CELL_CLOCKS) * ones;
    for (int cell = first; cell < end; cell++) {
        const uint32_t four = background ^ (differs & -(uint32_t)tia->lit[cell]);
        __builtin_memcpy(tia->row + cell * CELL_CLOCKS, &four, CELL_CLOCKS);
    }
}

static void draw_clocks(struct tia *tia, int from, int to) {
    const int first = (from + CELL_CLOCKS - 1) / CELL_CLOCKS, end = to / CELL_CLOCKS;
    if (tia->vblank || tia->vsync) {
        __builtin_memset(tia->row + from, TIA_BLANKED, (unsigned)(to - from));
    } else if (tia->chip.late || first >= end) {
        draw_each(tia, from, to);
    } else {
        draw_each(tia, from, first * CELL_CLOCKS);
        draw_cells(tia, first, end < HALF ? end : HALF);
        draw_cells(tia, first > HALF ? first : HALF, end);
        draw_each(tia, end * CELL_CLOCKS, to);
    }
}

/* Draws what the line shows before this clock with everything as it is now. A cell is fetched at its left
 * edge and holds for its four clocks. */
static void catch_up(struct tia *tia, int clock) {
    const int to = clock - TIA_FIRST < TIA_VISIBLE ? clock - TIA_FIRST : TIA_VISIBLE;
    if (tia->fetched * CELL_CLOCKS < to)
        fetch_cells(tia, (to + CELL_CLOCKS - 1) / CELL_CLOCKS);
    if (to > tia->drawn) {
        draw_clocks(tia, tia->drawn, to);
        tia->drawn = (uint8_t)to;
    }
}

static void change(struct tia *tia, int clock) {
    catch_up(tia, clock);
    tia->changed = true;
}

static void take_effect(struct tia *tia, int clock, uint8_t reg, uint8_t value) {
    if (tia->reg[reg] == value)
        return;
    change(tia, clock);
    tia->reg[reg] = value;
    if (reg >= TIA_PF0 && reg <= TIA_PF2)
        rebuild_serial(tia);
}

/* All pending writes due at or before this clock. */
static void settle(struct tia *tia, int clock) {
    int done = 0;
    while (done < tia->waiting && tia->pending[done].clock <= clock) {
        const struct tia_pending *due = &tia->pending[done++];
        take_effect(tia, due->clock, due->reg, due->value);
    }
    if (!done)
        return;
    tia->waiting = (uint8_t)(tia->waiting - done);
    for (int i = 0; i < tia->waiting; i++)
        tia->pending[i] = tia->pending[i + done];
}

/* A later write to the same register cannot overtake an earlier one. */
static void enqueue(struct tia *tia, int clock, uint8_t reg, uint8_t value) {
    if (tia->waiting == TIA_PENDING_MAX) /* only with delays out of their range */
        settle(tia, tia->pending[0].clock);
    for (int i = 0; i < tia->waiting; i++)
        if (tia->pending[i].reg == reg && tia->pending[i].clock > clock)
            clock = tia->pending[i].clock;
    int at = tia->waiting;
    for (; at > 0 && tia->pending[at - 1].clock > clock; at--)
        tia->pending[at] = tia->pending[at - 1];
    tia->pending[at] = (struct tia_pending){clock, reg, value};
    tia->waiting++;
}

/* What the register holds of a value. */
static uint8_t stored(const struct tia_chip *chip, int reg, uint8_t value) {
    if (reg < TIA_COLUPF)
        return value;
    if (reg <= TIA_COLUBK)
        value =
            (uint8_t)((value & ~chip->colour_low[reg - TIA_COLUPF]) | chip->colour_high[reg - TIA_COLUPF]);
    return value & COLOUR;
}

static void write_register(struct tia *tia, int clock, uint8_t reg, uint8_t value) {
    const int effect = clock + tia->chip.delay[reg][clock % 4];
    settle(tia, clock);
    if (effect == clock && !tia->waiting)
        take_effect(tia, clock, reg, value);
    else
        enqueue(tia, effect, reg, value);
}

static void roll_flaky(struct tia *tia) {
    const bool before = tia->flaky;
    tia->flaky = (tia->chip.flaky_low | tia->chip.flaky_high) && next_random(tia) < tia->chip.flaky_rate;
    if (tia->flaky == before)
        return;
    tia->changed = true;
    rebuild_serial(tia);
}

static uint64_t clocks_now(const struct tia *tia, int clock) {
    return tia->lines * TIA_CLOCKS + (unsigned)clock;
}

static int sync_length(const struct tia *tia, int clock) {
    return (int)((clocks_now(tia, clock) - tia->sync_began + TIA_CLOCKS / 2) / TIA_CLOCKS);
}

/* The line in whose first half the sync begins is already line 0 of the next field. */
static void begin_sync(struct tia *tia, int clock) {
    tia->sync_began = clocks_now(tia, clock);
    if (tia->field.lines < TIA_HOLDOFF_LINES)
        return;
    if (clock < TIA_CLOCKS / 2)
        tia->field_done = tia->field.synced = true;
    else
        tia->ends_with_line = true;
}

static void write_vsync(struct tia *tia, int clock, bool on) {
    if (tia->vsync == on)
        return;
    settle(tia, clock);
    change(tia, clock);
    tia->vsync = on;
    if (on)
        begin_sync(tia, clock);
    else if (tia->field.sync_lines == 0)
        tia->field.sync_lines = sync_length(tia, clock);
}

static void write_vblank(struct tia *tia, int clock, bool on) {
    if (tia->vblank == on)
        return;
    settle(tia, clock);
    change(tia, clock);
    tia->vblank = on;
}

/* Registers that switch an object or a sound on: GRP0, GRP1, ENAM0, ENAM1, ENABL, AUDV0, AUDV1. */
static bool is_switch(uint8_t address) {
    return (address >= 0x1B && address <= 0x1F) || address == 0x19 || address == 0x1A;
}

/* The eight drawn registers, COLUP0 (6) to CTRLPF (10) and PF0 (13) to PF2 (15). */
static int drawn_register(const struct tia_chip *chip, uint8_t address) {
    static const uint8_t colours[] = {TIA_COLUP0, TIA_COLUP1, TIA_COLUPF, TIA_COLUBK, TIA_CTRLPF};
    if (address >= AT_COLUP0 && address < AT_COLUP0 + sizeof colours)
        return colours[address - AT_COLUP0];
    if (address < AT_PF0 || address > AT_PF2)
        return -1;
    const int which = address - AT_PF0;
    const bool swapped = chip->swap[0] || chip->swap[1] || chip->swap[2];
    return TIA_PF0 + (swapped ? chip->swap[which] % 3 : which);
}

bool tia_write(struct tia *tia, int clock, uint8_t address, uint8_t value) {
    const uint8_t seen = (uint8_t)((value & ~tia->chip.data_low) | tia->chip.data_high);
    if (address == AT_VSYNC) {
        write_vsync(tia, clock, seen & SWITCH);
        return true;
    }
    if (address == AT_VBLANK) {
        write_vblank(tia, clock, seen & SWITCH);
        return !(value & 0xC0); /* the input latches */
    }
    const int reg = drawn_register(&tia->chip, address);
    if (reg < 0)
        return value == 0 && is_switch(address);
    write_register(tia, clock, (uint8_t)reg, stored(&tia->chip, reg, seen));
    return true;
}

/* Eight bytes at a time. */
static bool equal_rows(const uint8_t *a, const uint8_t *b) {
    uint64_t differing = 0;
    for (int i = 0; i < TIA_VISIBLE; i += 8) {
        uint64_t left, right;
        __builtin_memcpy(&left, a + i, sizeof left);
        __builtin_memcpy(&right, b + i, sizeof right);
        differing |= left ^ right;
    }
    return !differing;
}

static void store_row(struct tia *tia, bool unchanged) {
    struct tia_field *field = &tia->field;
    if (field->lines >= TIA_LINES_MAX)
        return;
    const int line = field->lines++;
    const bool same = line > 0 && (unchanged || equal_rows(tia->row, field->pixel[line - 1]));
    field->same_as_above[line] = same;
    __builtin_memcpy(field->pixel[line], tia->row, TIA_VISIBLE);
}

void tia_end_line(struct tia *tia) {
    settle(tia, TIA_CLOCKS - 1);
    const bool unchanged = tia->steady && !tia->changed;
    if (!unchanged)
        catch_up(tia, TIA_CLOCKS);
    store_row(tia, unchanged);
    tia->steady = !tia->changed;
    tia->changed = false;
    tia->drawn = tia->fetched = 0;
    for (int i = 0; i < tia->waiting; i++)
        tia->pending[i].clock -= TIA_CLOCKS;
    tia->lines++;
    if (tia->ends_with_line)
        tia->field_done = tia->field.synced = true;
    tia->ends_with_line = false;
}

void tia_begin_field(struct tia *tia) {
    tia->field.lines = 0;
    tia->field.sync_lines = 0;
    tia->field.synced = false;
    tia->field_done = false;
    roll_flaky(tia);
}

void tia_power_on(struct tia *tia, const struct tia_chip *chip, uint64_t seed) {
    const struct tia_chip copy = *chip;
    __builtin_memset(tia, 0, sizeof *tia);
    tia->chip = copy;
    tia->random = (uint32_t)(seed ^ seed >> 32) | 1u;
    for (int i = 0; i < TIA_REGS; i++) {
        const uint8_t value = (uint8_t)((next_random(tia) >> 8 & ~(uint32_t)copy.data_low) | copy.data_high);
        tia->reg[i] = stored(&copy, i, value);
    }
    const uint32_t switches = (next_random(tia) >> 8 & ~(uint32_t)copy.data_low) | copy.data_high;
    tia->vsync = switches & SWITCH;
    tia->vblank = next_random(tia) & 0x100;
    rebuild_serial(tia);
    tia_begin_field(tia);
}
