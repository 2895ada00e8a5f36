/* The time of one change on the lines: few samples where it is what it was at the address before. */
#include "core/reader_inside.h"

enum { ROUNDS = 8, ATTEMPTS = 6, AGAIN_MOST = 4096 /* of a task, so that it ends */ };

static void stand(const struct reader *reader, uint16_t address) {
    for (unsigned ns = READER_SETTLE_NS; ns < READER_STEADY_NS; ns += READER_PACE_NS) {
        reader_byte(reader, address);
    }
}

static uint8_t data(const struct reader_edge *edge, unsigned after) {
    const struct reader_bus *bus = &edge->reader->config.bus;
    if (edge->slow) {
        stand(edge->reader, edge->from);
    }
    return edge->kind == EDGE_SAMPLE
               ? bus->sample(bus->state, edge->from, edge->to, after)
               : bus->released(bus->state, edge->from, edge->kind == EDGE_TO_HIGH, after);
}

static bool right(const struct reader_edge *edge, unsigned after) {
    return data(edge, after) == edge->right;
}

/* The first right one from `low` on, by what single samples say. */
static unsigned lowest(const struct reader_edge *edge, unsigned low, unsigned guess) {
    unsigned high = guess < low ? low : guess;
    for (unsigned stride = 1; !right(edge, high); stride *= 2) {
        if (high >= READER_AFTER_MOST) {
            return READER_NEVER_CYCLES;
        }
        low = high + 1;
        high = high + stride < READER_AFTER_MOST ? high + stride : READER_AFTER_MOST;
    }
    if (high > low && !right(edge, high - 1)) {
        return high;
    }
    high -= high > low;
    while (low < high) {
        const unsigned middle = (low + high) / 2;
        if (right(edge, middle)) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    return high;
}

/* Right a little later too? If not, *wrong is when it was not. */
static bool stays(const struct reader_edge *edge, unsigned from, unsigned *wrong) {
    static const uint8_t later[] = {1, 4};
    for (size_t i = 0; i < sizeof later; i++) {
        *wrong = from + later[i];
        if (*wrong < READER_AFTER_MOST && !right(edge, *wrong)) {
            return false;
        }
    }
    *wrong = READER_AFTER_MOST;
    return right(edge, reader_steady(edge->reader));
}

/* Once; each time it turns out wrong later, on from there. */
static unsigned attempt(struct reader_edge *edge, unsigned least, unsigned guess) {
    static const uint8_t levels[] = {[EDGE_TO_HIGH] = 0xFF, [EDGE_TO_LOW] = 0x00};
    edge->right = edge->kind == EDGE_SAMPLE ? data(edge, reader_steady(edge->reader)) : levels[edge->kind];
    for (int round = 0; round < ROUNDS; round++) {
        unsigned wrong = 0;
        const unsigned found = lowest(edge, least, guess);
        if (found == READER_NEVER_CYCLES || stays(edge, found, &wrong)) {
            return found;
        }
        if (wrong >= READER_AFTER_MOST) {
            break;
        }
        least = wrong + 1;
        guess = least;
    }
    return READER_NEVER_CYCLES;
}

/* A contact that comes and goes must not look slow because it was open in one sample: that is for the bytes'
 * readings to find. */
uint8_t reader_time(struct reader_edge *edge, unsigned least, unsigned guess) {
    uint32_t *const again = &edge->reader->work.again;
    unsigned found = attempt(edge, least, guess);
    for (int i = 1; i < ATTEMPTS && found == READER_NEVER_CYCLES && *again < AGAIN_MOST; i++) {
        found = attempt(edge, least, guess);
        ++*again;
    }
    return (uint8_t)found;
}
