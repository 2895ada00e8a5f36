#include "picture/counting.h"

#include <math.h>

enum { COUNTER_RANGE = 1 << SLATE_COUNTER_BITS };

static uint32_t key_of(const struct slate *slate) {
    return slate->value << SLATE_COUNTER_BITS | slate->counter;
}

static bool was_seen(const struct counting *counting, const struct slate *slate) {
    for (int i = 0; i < counting->recent_count; i++) {
        if (counting->recent[i] == key_of(slate)) {
            return true;
        }
    }
    return false;
}

static void remember(struct counting *counting, const struct slate *slate) {
    counting->facts.fresh++;
    counting->recent[counting->recent_next] = key_of(slate);
    counting->recent_next = (counting->recent_next + 1) % COUNTING_RECENT;
    counting->recent_count += counting->recent_count < COUNTING_RECENT;
}

static void go_on(struct counting *counting, const struct reading *reading) {
    remember(counting, &reading->slate);
    counting->has_last = true;
    counting->last = reading->slate;
    counting->last_blended = reading->blended;
    counting->unread = 0;
}

/* By how much the counter went on. A blended field holds the one after its own too, also where one of the two
 * happened to read as if it were alone. */
static void count_ahead(struct counting *counting, const struct reading *reading, int ahead) {
    bool two = counting->last_blended || counting->facts.layout == LAYOUT_BLENDED;
    uint64_t between = (uint64_t)(ahead - 1), seen = counting->unread + (two ? 1 : 0);
    counting->facts.lost += between > seen ? between - seen : 0;
    go_on(counting, reading);
}

static void count_field(struct counting *counting, const struct reading *reading) {
    const struct slate *slate = &reading->slate;
    if (!counting->has_last || slate->hash != counting->last.hash) {
        counting->recent_count = counting->recent_next = 0;
        go_on(counting, reading);
        return;
    }
    int ahead = (slate->counter - counting->last.counter + COUNTER_RANGE) % COUNTER_RANGE;
    if (ahead > 0 && ahead <= COUNTER_RANGE / 2) {
        count_ahead(counting, reading, ahead);
    } else if (was_seen(counting, slate)) {
        counting->facts.doubled++;
    } else if (ahead == 0) {
        go_on(counting, reading); /* another step's: the console started anew */
    } else {
        counting->facts.swapped++;
        counting->facts.lost -= counting->facts.lost > 0; /* it had only not come yet */
        remember(counting, slate);
    }
}

static void widen(double level, double *low, double *high, bool first) {
    *low = first || level < *low ? level : *low;
    *high = first || level > *high ? level : *high;
}

/* The first fields after the picture came may be half of it, or gain may still be running in. */
static void measure(struct counting *counting, const struct reading *reading) {
    struct frames_facts *facts = &counting->facts;
    if (counting->unsettled > 0) {
        counting->unsettled--;
        return;
    }
    counting->measured++;
    const struct raster *raster = &reading->raster;
    double count = (double)counting->measured, contrast = raster->white - raster->black;
    widen(raster->white, &facts->white_low, &facts->white_high, counting->measured == 1);
    widen(raster->black, &facts->black_low, &facts->black_high, counting->measured == 1);
    counting->mixing += reading->mixing;
    counting->slant += raster->slant;
    facts->mixing = counting->mixing / count;
    facts->slant = counting->slant / count;
    if (reading->noise > 0 && contrast > 0) {
        counting->noise_count++;
        counting->noise_power += reading->noise * reading->noise / (contrast * contrast);
        facts->noise_db = -10 * log10(counting->noise_power / (double)counting->noise_count);
    }
}

void counting_read(struct counting *counting, const struct reading *reading) {
    counting->facts.read++;
    counting->facts.blended += reading->blended;
    counting->facts.clipped += reading->clips_white || reading->clips_black;
    measure(counting, reading);
    count_field(counting, reading);
}

void counting_init(struct counting *counting) {
    *counting = (struct counting){.facts = {.older = -1, .stale = -1}, .unsettled = FRAMES_SKIPPED};
}

void counting_away(struct counting *counting) {
    counting->has_last = false;
    counting->recent_count = counting->recent_next = 0;
    counting->unread = 0;
    counting->unsettled = FRAMES_SKIPPED;
}
