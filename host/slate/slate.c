#include "slate/slate.h"

enum {
    CHECK_MASK = (1 << SLATE_CHECK_BITS) - 1,
    VALUE_MASK = (1 << SLATE_VALUE_BITS) - 1,
    COUNTER_MASK = (1 << SLATE_COUNTER_BITS) - 1,
    HASH_BITS = 16,
    MESSAGE_BITS = HASH_BITS + SLATE_VALUE_BITS + SLATE_COUNTER_BITS
};

static uint64_t message(const struct slate *slate) {
    uint64_t bits = slate->hash;
    bits = bits << SLATE_VALUE_BITS | (slate->value & VALUE_MASK);
    return bits << SLATE_COUNTER_BITS | (slate->counter & COUNTER_MASK);
}

static uint16_t remainder_of(uint64_t bits) {
    unsigned crc = 0;
    for (int bit = MESSAGE_BITS - 1; bit >= 0; bit--) {
        unsigned top = crc >> (SLATE_CHECK_BITS - 1) ^ (unsigned)(bits >> bit & 1);
        crc = (crc << 1 ^ (top != 0 ? SLATE_POLY : 0)) & CHECK_MASK;
    }
    return (uint16_t)crc;
}

uint16_t slate_check(const struct slate *slate) {
    return remainder_of(message(slate)) ^ SLATE_XOROUT;
}

uint16_t slate_check_part(uint32_t value, uint8_t counter) {
    const struct slate part = {.hash = 0, .value = value, .counter = counter};
    return remainder_of(message(&part));
}

void slate_encode(const struct slate *slate, uint8_t rows[SLATE_ROWS]) {
    uint64_t bits = message(slate) << SLATE_CHECK_BITS | slate_check(slate);
    for (int row = SLATE_ROWS - 1; row >= 0; row--) {
        rows[row] = (uint8_t)bits;
        bits >>= SLATE_ROW_BITS;
    }
}

static uint64_t join(const uint8_t rows[SLATE_ROWS]) {
    uint64_t bits = 0;
    for (int row = 0; row < SLATE_ROWS; row++) {
        bits = bits << SLATE_ROW_BITS | rows[row];
    }
    return bits;
}

static struct slate parts(uint64_t bits) {
    uint64_t sent = bits >> SLATE_CHECK_BITS;
    return (struct slate){
        .hash = (uint16_t)(sent >> (SLATE_VALUE_BITS + SLATE_COUNTER_BITS)),
        .value = (uint32_t)(sent >> SLATE_COUNTER_BITS) & VALUE_MASK,
        .counter = (uint8_t)(sent & COUNTER_MASK),
    };
}

bool slate_decode(const uint8_t rows[SLATE_ROWS], struct slate *slate) {
    uint64_t bits = join(rows);
    const struct slate read = parts(bits);
    if (slate_check(&read) != (bits & CHECK_MASK)) {
        return false;
    }
    *slate = read;
    return true;
}

static uint64_t code_word(const struct slate *slate) {
    return message(slate) << SLATE_CHECK_BITS | slate_check(slate);
}

static bool makes(const struct slate *older, uint64_t ones, uint64_t halves) {
    struct slate younger = *older;
    younger.counter = (younger.counter + 1) & COUNTER_MASK;
    uint64_t first = code_word(older), second = code_word(&younger);
    return (first ^ second) == halves && (first & second) == ones;
}

bool slate_decode_mixed(const uint8_t ones[SLATE_ROWS], const uint8_t halves[SLATE_ROWS],
                        struct slate *slate) {
    uint64_t bits = join(ones), mixed = join(halves);
    unsigned differs = (unsigned)(mixed >> SLATE_CHECK_BITS) & COUNTER_MASK;
    if ((mixed & bits) != 0 || mixed >> (SLATE_CHECK_BITS + SLATE_COUNTER_BITS) != 0) {
        return false;
    }
    /* The highest bit that a step turns goes from 0 to 1, those below from 1 to 0. Where all six turn, the
     * highest may also have gone to 0: 63 to 0. */
    struct slate older = parts(bits);
    older.counter |= (uint8_t)(differs >> 1);
    bool found = makes(&older, bits, mixed);
    if (!found && differs == COUNTER_MASK) {
        older.counter = COUNTER_MASK;
        found = makes(&older, bits, mixed);
    }
    if (found) {
        *slate = older;
    }
    return found;
}
