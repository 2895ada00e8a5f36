/*
 * Which base the console should show next: first those that were never asked for nor seen, in the order in
 * which a console that is not told anything goes through them; then those that are owed again. A base that
 * was asked for is under way until it is seen, or until it must have been lost.
 */
#include "verdict/every.h"

#include <stdlib.h>
#include <string.h>

enum { ROOM_MORE = 4096 }; /* a base that is asked for again may still stand in the ring from before */

bool every_ask_start(struct every_state *every) {
    every->asked_room = every->total + ROOM_MORE;
    every->asked = calloc(every->asked_room, sizeof *every->asked);
    every->again = calloc(every->total, sizeof *every->again);
    every->last = UINT32_MAX;
    memset(every->recent, 0xFF, sizeof every->recent);
    return every->asked != NULL && every->again != NULL;
}

void every_ask_end(struct every_state *every) {
    free(every->asked);
    free(every->again);
}

bool every_base_owes(const struct every_state *every, uint32_t base) {
    const struct base_state *state = &every->bases[base];
    return !state->seen || (state->open > 0 && state->visits < EVERY_VISITS_MAX);
}

void every_ask_again(struct every_state *every, uint32_t base) {
    struct base_state *state = &every->bases[base];
    if (!state->queued && !state->under_way) {
        every->again[(every->again_first + every->again_count++) % every->total] = base;
        state->queued = true;
    }
}

void every_ask_seen(struct every_state *every, uint32_t base) {
    struct base_state *state = &every->bases[base];
    if (base != every->last) {
        every->recent[every->shown++ % EVERY_NEAR] = every->last;
        every->last = base;
    }
    if (state->under_way) {
        state->under_way = false;
        every->newest_seen = state->order > every->newest_seen ? state->order : every->newest_seen;
    }
}

static void drop_first(struct every_state *every) {
    every->asked_first = (every->asked_first + 1) % every->asked_room;
    every->asked_count--;
}

static bool is_lost(const struct every_state *every, const struct base_state *state) {
    return every->newest_seen >= state->order + EVERY_LOST_AFTER ||
           every->shown - state->shown_at >= EVERY_STALL;
}

static void drop_seen_and_lost(struct every_state *every) {
    while (every->asked_count > 0) {
        const struct asked first = every->asked[every->asked_first];
        struct base_state *state = &every->bases[first.base];
        if (state->under_way && state->order == first.order) {
            if (!is_lost(every, state)) {
                return;
            }
            state->under_way = false;
            every_ask_again(every, first.base);
        }
        drop_first(every);
    }
}

static bool next_fresh(struct every_state *every, uint32_t *base) {
    while (every->fresh < every->total) {
        const struct base_state *state = &every->bases[every->fresh];
        *base = every->fresh++;
        if (!state->seen && !state->under_way) {
            return true;
        }
    }
    return false;
}

static bool next_again(struct every_state *every, uint32_t *base) {
    while (every->again_count > 0) {
        *base = every->again[every->again_first];
        every->again_first = (every->again_first + 1) % every->total;
        every->again_count--;
        every->bases[*base].queued = false;
        if (every_base_owes(every, *base)) {
            return true;
        }
    }
    return false;
}

size_t every_ask(void *user, uint32_t *values, size_t most) {
    struct every_state *every = user;
    size_t count = 0;
    uint32_t base;
    drop_seen_and_lost(every);
    while (count < most && every->asked_count < every->asked_room &&
           (next_fresh(every, &base) || next_again(every, &base))) {
        struct base_state *state = &every->bases[base];
        state->under_way = true;
        state->order = ++every->orders;
        state->shown_at = every->shown;
        every->asked[(every->asked_first + every->asked_count++) % every->asked_room] =
            (struct asked){base, state->order};
        values[count++] = every_base(every->plan, every_is_mirror(every, base), base % every->plan->bases);
    }
    return count;
}
