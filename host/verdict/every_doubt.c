#include "verdict/every_doubt.h"

enum {
    PLACES_A_BLOCK = 8, /* whose values have all remainders modulo 8: the low bits show in each block */
    BLOCKS_MAX = PICTURE_LINES_MAX / PLACES_A_BLOCK + 1,
    BLOCK_LEAST = 10,  /* wrong pictures a block, mean, before anything is said of places */
    BLOCK_SHARE = 10,  /* a block with a tenth of the mean is spared */
    CLARITY_SHARE = 50 /* lines with unclear cells for each wrong picture */
};

static int blocks_of(const struct every_state *every) {
    return (every->plan->patterns + PLACES_A_BLOCK - 1) / PLACES_A_BLOCK;
}

static uint8_t state_of(const struct every_state *every, uint32_t base, int place) {
    return every->state[(size_t)base * (size_t)every->plan->patterns + (size_t)place];
}

static uint64_t count_blocks(const struct every_state *every, uint64_t blocks[BLOCKS_MAX]) {
    uint64_t all = 0;
    for (uint32_t base = 0; base < every->total; base++) {
        const int places = every->bases[base].wrong_visits > 0 ? every_places(every, base) : 0;
        for (int place = 0; place < places; place++) {
            if ((state_of(every, base, place) & SEEN_STATE) == SEEN_WRONG) {
                blocks[place / PLACES_A_BLOCK]++;
                all++;
            }
        }
    }
    return all;
}

bool doubt_place(const struct every_state *every, int *first, int *last) {
    uint64_t blocks[BLOCKS_MAX] = {0};
    const int count = blocks_of(every), lines = PLACES_A_BLOCK * every->plan->repeat;
    const uint64_t all = count_blocks(every, blocks);
    bool spared = false;
    *first = -1;
    if (all < BLOCK_LEAST * (uint64_t)count) {
        return false;
    }
    for (int i = 0; i < count; i++) {
        if (blocks[i] * BLOCK_SHARE * (uint64_t)count < all) {
            spared = true;
        } else {
            *first = *first < 0 ? i * lines : *first;
            *last = (i + 1) * lines - 1;
        }
    }
    return spared;
}

bool doubt_clarity(const struct every_state *every) {
    return every->unclear_lines > CLARITY_SHARE * every->wrong;
}

/* ---- at times ---- */

/* Serial bits of a picture that should be 1 and were seen 0 in both places where they are drawn, and the
 * other way round. False: what was seen is no value's picture in this mode. */
struct bit_errors {
    uint32_t missing, surplus;
};

static bool errors_of(uint64_t expected, uint64_t seen, bool mirror, struct bit_errors *errors) {
    const uint64_t differs = expected ^ seen;
    const uint32_t left = (uint32_t)(differs & (EVERY_VALUES - 1));
    for (int position = 0; position < EVERY_BITS; position++) {
        const int right = mirror ? CELLS - 1 - position : EVERY_BITS + position;
        if ((differs >> right & 1) != (left >> position & 1)) {
            return false;
        }
    }
    errors->missing = left & (uint32_t)expected;
    errors->surplus = left & ~(uint32_t)expected;
    return true;
}

static bool was_wrong(uint8_t state) {
    return (state & SEEN_STATE) == SEEN_WRONG || (state & SEEN_STATE) == SEEN_WRONG_ONCE ||
           (state & SEEN_WAS_WRONG) != 0;
}

static bool was_right(uint8_t state) {
    return (state & SEEN_STATE) == SEEN_RIGHT || (state & SEEN_WAS_RIGHT) != 0;
}

/* Of one base: the bits that were wrong in it. False: none, or something that bits do not do. */
static bool errors_of_base(const struct every_state *every, uint32_t base, struct bit_errors *errors,
                           bool *turned) {
    const size_t first = (size_t)base * (size_t)every->plan->patterns;
    const bool mirror = every_is_mirror(every, base);
    const int places = every_places(every, base);
    *errors = (struct bit_errors){0, 0};
    *turned = false;
    for (int place = 0; place < places; place++) {
        const uint8_t state = state_of(every, base, place);
        struct bit_errors now;
        if (!was_wrong(state)) {
            continue;
        }
        const uint64_t expected = every_expected(every, mirror, every_pattern(every, base, place));
        if (!errors_of(expected, every->cells[first + (size_t)place], mirror, &now)) {
            return false;
        }
        errors->missing |= now.missing;
        errors->surplus |= now.surplus;
        *turned = *turned || was_right(state);
    }
    return (errors->missing | errors->surplus) != 0 && (errors->missing & errors->surplus) == 0;
}

/* In the fields of a base whose bits were stuck, every picture that they change was wrong. */
static bool is_whole(const struct every_state *every, uint32_t base, const struct bit_errors *errors) {
    const bool mirror = every_is_mirror(every, base);
    const int places = every_places(every, base);
    int spared = 0, hit = 0;
    for (int place = 0; place < places; place++) {
        const uint32_t bits = (uint32_t)every_expected(every, mirror, every_pattern(every, base, place));
        if (((bits & errors->missing) | (~bits & errors->surplus)) != 0) {
            const bool wrong = was_wrong(state_of(every, base, place));
            hit += wrong;
            spared += !wrong;
        }
    }
    return hit >= PLACES_A_BLOCK && spared == 0;
}

enum {
    FLAKY_BITS = 4,  /* more at once are no bits, but a black or stale field */
    FLAKY_BASES = 2, /* that show just them */
    FLAKY_STRAYS = 4 /* of the bases with wrong pictures, one in so many may show something else */
};

static bool same_errors(const struct bit_errors *a, const struct bit_errors *b) {
    return a->missing == b->missing && a->surplus == b->surplus;
}

static bool few_whole_bits(const struct every_state *every, uint32_t base, struct bit_errors *errors,
                           bool *turned) {
    return errors_of_base(every, base, errors, turned) &&
           __builtin_popcount(errors->missing | errors->surplus) <= FLAKY_BITS &&
           is_whole(every, base, errors);
}

/* What most bases with wrong pictures show, by the vote of Boyer and Moore. */
static struct bit_errors most_common(const struct every_state *every) {
    struct bit_errors leader = {0, 0}, errors;
    long votes = 0;
    bool turned;
    for (uint32_t base = 0; base < every->total; base++) {
        if (every->bases[base].wrong_visits > 0 && few_whole_bits(every, base, &errors, &turned)) {
            leader = votes == 0 ? errors : leader;
            votes += same_errors(&leader, &errors) ? 1 : -1;
        }
    }
    return leader;
}

bool flaky_find(const struct every_state *every, struct flaky_bits *flaky) {
    const struct bit_errors leader = most_common(every);
    uint64_t bases = 0, others = 0, turned_bases = 0;
    *flaky = (struct flaky_bits){leader.missing, leader.surplus, 0, 0};
    for (uint32_t base = 0; base < every->total; base++) {
        const struct base_state *state = &every->bases[base];
        struct bit_errors errors;
        bool turned = false;
        flaky->tries += (uint64_t)state->visits;
        if (state->wrong_visits > 0 && few_whole_bits(every, base, &errors, &turned) &&
            same_errors(&leader, &errors)) {
            bases++;
            flaky->hits += (uint64_t)state->wrong_visits;
        } else {
            others += state->wrong_visits > 0;
        }
        turned_bases += turned;
    }
    return bases >= FLAKY_BASES && turned_bases > 0 && others * FLAKY_STRAYS <= bases;
}
