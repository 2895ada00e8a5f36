/* Bits of a colour register that change nothing: codes that differ in such a bit alone look alike. Whether it
 * is held low or high, the other register says, and where both have it, what is black or grey. */
#include "verdict/palette_parts.h"

#include <math.h>

#define ALIKE 0.35      /* steps of the code: what differs by less, looks the same */
#define ALIKE_SHARE 0.9 /* of the pairs; two of eight pairs of hues look alike where four hues are grey */
#define UNDECIDED 0.15  /* steps of the code: suppositions no farther apart are both possible */
enum { PAIRS_LEAST = COLOUR_CODES / 4, BITS = 8, FIRST_BIT = 1, HUE_BIT = 4, HUE_BITS = 0xF0 };

static int index_of(int code) {
    return code >> 1;
}

static double apart(const struct palette_units *units, const struct palette_colour *a,
                    const struct palette_colour *b) {
    return fmax(palette_level_apart(units, a, b), palette_hue_apart(units, a, b));
}

static bool both_measured(const struct palette_colour *a, const struct palette_colour *b) {
    return palette_is_measured(a) && palette_is_measured(b);
}

static bool is_dead(const struct palette_units *units, const struct palette_colour *colours, int bit) {
    int pairs = 0, alike = 0;
    for (int code = 0; code < 2 * COLOUR_CODES; code += 2) {
        const struct palette_colour *one = &colours[index_of(code)], *other;
        if (code >> bit & 1) {
            continue;
        }
        other = &colours[index_of(code | 1 << bit)];
        if (both_measured(one, other) && !(bit < HUE_BIT && one->clipped && other->clipped)) {
            pairs++;
            alike += (bit < HUE_BIT ? palette_level_apart(units, one, other)
                                    : palette_hue_apart(units, one, other)) < ALIKE;
        }
    }
    return pairs >= PAIRS_LEAST && alike >= ALIKE_SHARE * pairs;
}

static uint8_t dead_bits(const struct palette_units *units, const struct palette_colour *colours, bool hues) {
    unsigned dead = 0;
    for (int bit = FIRST_BIT; bit < (hues ? BITS : HUE_BIT); bit++) {
        dead |= is_dead(units, colours, bit) ? 1u << bit : 0;
    }
    return (uint8_t)dead;
}

/* How far a register's colours are from the other's, with the dead bits at `held`. */
static double error_of(const struct palette_units *units, const struct palette_colour *colours,
                       const struct palette_colour *others, uint8_t dead, uint8_t held) {
    double sum = 0;
    int count = 0;
    for (int code = 0; code < 2 * COLOUR_CODES; code += 2) {
        const struct palette_colour *one = &colours[index_of(code)],
                                    *other = &others[index_of((code & ~dead) | held)];
        if (both_measured(one, other)) {
            sum += fmin(apart(units, one, other), 4);
            count++;
        }
    }
    return count > 0 ? sum / count : INFINITY;
}

/* Of each dead bit: the best supposition with it high against the best with it low. */
static void ask_other(const struct palette_units *units, const struct palette_colour *colours,
                      const struct palette_colour *others, struct palette_stuck *stuck) {
    double low[BITS], high[BITS];
    for (int bit = 0; bit < BITS; bit++) {
        low[bit] = high[bit] = INFINITY;
    }
    for (unsigned held = stuck->dead;; held = (held - 1) & stuck->dead) {
        const double error = error_of(units, colours, others, stuck->dead, (uint8_t)held);
        for (int bit = FIRST_BIT; bit < BITS; bit++) {
            double *best = held >> bit & 1 ? &high[bit] : &low[bit];
            *best = fmin(*best, error);
        }
        if (held == 0) {
            break;
        }
    }
    for (int bit = FIRST_BIT; bit < BITS; bit++) {
        const uint8_t mask = (uint8_t)(1u << bit);
        if ((stuck->dead & mask) != 0) {
            stuck->high |= high[bit] < low[bit] ? mask : 0;
            stuck->unknown |= fabs(high[bit] - low[bit]) < UNDECIDED / 2 ? mask : 0;
        }
    }
}

/* A level bit of both registers. The slate's white has the bit too: it is 7 without the low ones, and what
 * should be black has the high ones' weight. Only where the blank beside the picture shows what black is. */
static bool is_level_high(const struct palette_colour *colours, int bit) {
    double black = INFINITY;
    for (int hue = 0; hue < COLOUR_HUES; hue++) {
        const struct palette_colour *colour = &colours[hue << HUE_SHIFT];
        black = palette_is_measured(colour) ? fmin(black, colour->level) : black;
    }
    return black > (1 << bit >> 1) / 7.0 / 2;
}

/* A hue bit of both registers: with it high, what should be grey is coloured. */
static bool is_hue_high(const struct palette_units *units, const struct palette_colour *colours) {
    double saturation = 0;
    for (int level = 0; level < COLOUR_LEVELS; level++) {
        saturation += colours[level].saturation / COLOUR_LEVELS;
    }
    return 2 * saturation > units->saturation;
}

static bool is_single(unsigned bits) {
    return bits != 0 && (bits & (bits - 1)) == 0;
}

static void ask_black_and_grey(const struct palette_state *state, const struct palette_units *units,
                               const struct palette_colour *colours, struct palette_stuck *stuck) {
    const unsigned hues = stuck->unknown & HUE_BITS, levels = stuck->unknown & ~(unsigned)HUE_BITS;
    if (is_single(hues)) {
        stuck->unknown &= (uint8_t)~hues;
        stuck->high &= (uint8_t)~hues;
        stuck->high |= is_hue_high(units, colours) ? (uint8_t)hues : 0;
    }
    if (is_single(levels) && state->blank) {
        stuck->unknown &= (uint8_t)~levels;
        stuck->high &= (uint8_t)~levels;
        stuck->high |= is_level_high(colours, __builtin_ctz(levels)) ? (uint8_t)levels : 0;
    }
}

void palette_find_stuck(const struct palette_state *state, const struct palette_units *units,
                        struct palette_stuck stuck[PALETTE_REGISTERS]) {
    const struct palette *palette = &state->palette;
    const bool hues = units->has_hue && state->plan->standard != STANDARD_SECAM;
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        stuck[reg] = (struct palette_stuck){.dead = dead_bits(units, palette->colour[reg], hues)};
    }
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        const struct palette_colour *own = palette->colour[reg];
        ask_other(units, own, palette->colour[PALETTE_REGISTERS - 1 - reg], &stuck[reg]);
        ask_black_and_grey(state, units, own, &stuck[reg]);
    }
}
