#include "picture/tally.h"

#include <math.h>

enum { COUNTER_RANGE = 1 << SLATE_COUNTER_BITS };

static uint32_t key_of(const struct slate *slate) {
    return slate->value << SLATE_COUNTER_BITS | slate->counter;
}

static bool was_seen(const struct tally *tally, const struct slate *slate) {
    for (int i = 0; i < tally->recent_count; i++) {
        if (tally->recent[i] == key_of(slate)) {
            return true;
        }
    }
    return false;
}

static void remember(struct tally *tally, const struct slate *slate) {
    tally->facts.fresh++;
    tally->recent[tally->recent_next] = key_of(slate);
    tally->recent_next = (tally->recent_next + 1) % TALLY_RECENT;
    tally->recent_count += tally->recent_count < TALLY_RECENT;
}

static void go_on(struct tally *tally, const struct reading *reading) {
    remember(tally, &reading->slate);
    tally->has_last = true;
    tally->last = reading->slate;
    tally->last_blended = reading->blended;
    tally->unread = 0;
}

/* By how much the counter went on. A blended field holds the one after its own too, also where one of the two
 * happened to read as if it were alone. */
static void count_ahead(struct tally *tally, const struct reading *reading, int ahead) {
    bool two = tally->last_blended || tally->facts.layout == LAYOUT_BLENDED;
    uint64_t between = (uint64_t)(ahead - 1), seen = tally->unread + (two ? 1 : 0);
    tally->facts.lost += between > seen ? between - seen : 0;
    go_on(tally, reading);
}

static void count_field(struct tally *tally, const struct reading *reading) {
    const struct slate *slate = &reading->slate;
    if (!tally->has_last || slate->hash != tally->last.hash) {
        tally->recent_count = tally->recent_next = 0;
        go_on(tally, reading);
        return;
    }
    int ahead = (slate->counter - tally->last.counter + COUNTER_RANGE) % COUNTER_RANGE;
    if (ahead > 0 && ahead <= COUNTER_RANGE / 2) {
        count_ahead(tally, reading, ahead);
    } else if (was_seen(tally, slate)) {
        tally->facts.doubled++;
    } else if (ahead == 0) {
        go_on(tally, reading); /* another step's: the console started anew */
    } else {
        tally->facts.swapped++;
        tally->facts.lost -= tally->facts.lost > 0; /* it had only not come yet */
        remember(tally, slate);
    }
}

static void widen(double level, double *low, double *high, bool first) {
    *low = first || level < *low ? level : *low;
    *high = first || level > *high ? level : *high;
}

/* The first fields after the picture came may be half of it, or gain may still be running in. */
static void measure(struct tally *tally, const struct reading *reading) {
    struct frames_facts *facts = &tally->facts;
    if (tally->unsettled > 0) {
        tally->unsettled--;
        return;
    }
    tally->measured++;
    const struct raster *raster = &reading->raster;
    double count = (double)tally->measured, contrast = raster->white - raster->black;
    widen(raster->white, &facts->white_low, &facts->white_high, tally->measured == 1);
    widen(raster->black, &facts->black_low, &facts->black_high, tally->measured == 1);
    tally->mixing += reading->mixing;
    tally->slant += raster->slant;
    facts->mixing = tally->mixing / count;
    facts->slant = tally->slant / count;
    if (reading->noise > 0 && contrast > 0) {
        tally->noise_count++;
        tally->noise_power += reading->noise * reading->noise / (contrast * contrast);
        facts->noise_db = -10 * log10(tally->noise_power / (double)tally->noise_count);
    }
}

void tally_read(struct tally *tally, const struct reading *reading) {
    tally->facts.read++;
    tally->facts.blended += reading->blended;
    tally->facts.clipped += reading->clips_white || reading->clips_black;
    measure(tally, reading);
    count_field(tally, reading);
}

void tally_init(struct tally *tally) {
    *tally = (struct tally){.facts = {.older = -1, .stale = -1}, .unsettled = FRAMES_SKIPPED};
}

void tally_away(struct tally *tally) {
    tally->has_last = false;
    tally->recent_count = tally->recent_next = 0;
    tally->unread = 0;
    tally->unsettled = FRAMES_SKIPPED;
}
