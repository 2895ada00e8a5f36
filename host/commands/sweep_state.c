#include "commands/sweep_state.h"

#include "base/date.h"

#include <stdlib.h>

static int by_id(const void *first, const void *second) {
    const int64_t a = *(const int64_t *)first, b = *(const int64_t *)second;
    return a < b ? -1 : a > b;
}

/* The item a run belongs to; -1: none of this sweep's. */
static long item_of(const struct sweep_state *state, const struct record_run *run) {
    /* The id is the first member of what is sorted. */
    const void *found =
        bsearch(&run->item, state->by_id, state->sweep->item_count, sizeof state->by_id[0], by_id);
    const ptrdiff_t at = found != NULL ? (const char *)found - (const char *)state->by_id : 0;
    return found != NULL ? (long)state->by_id[at / (ptrdiff_t)sizeof state->by_id[0]].item : -1;
}

bool sweep_state_done(const struct sweep_state *state, size_t item) {
    const struct sweep_item_state *at = &state->items[item];
    return at->passed || at->attempts > state->sweep->retries;
}

static bool note(void *user, const struct record_run *run) {
    struct sweep_state *state = user;
    const long item = item_of(state, run);
    state->after_id = run->id > state->after_id ? run->id : state->after_id;
    if (item >= 0) {
        struct sweep_item_state *at = &state->items[item];
        const bool before = sweep_state_done(state, (size_t)item);
        at->spoiled = (at->spoiled || at->attempts == 0) && run->end == RECORD_TROUBLE;
        at->attempts++;
        at->passed = at->passed || run->end == RECORD_PASS;
        at->latest = run->end;
        state->done += !before && sweep_state_done(state, (size_t)item);
    }
    return true;
}

static bool look(struct sweep_state *state, struct records *records, struct problem *problem) {
    const struct records_choice choice = {
        .sweep = state->sweep->id, .after_id = state->after_id, .with_trouble = true};
    return records_each(records, &choice, 0, note, state, problem);
}

bool sweep_state_look(struct sweep_state *state, struct problem *problem) {
    struct records *records = NULL;
    if (!records_open(state->store, RECORDS_READ, &records, problem)) {
        return false;
    }
    const bool good = look(state, records, problem);
    records_close(records);
    return good;
}

static bool index_items(struct sweep_state *state, struct problem *problem) {
    const size_t count = state->sweep->item_count;
    free(state->items);
    free(state->by_id);
    state->items = calloc(count, sizeof *state->items);
    state->by_id = calloc(count, sizeof *state->by_id);
    state->done = 0;
    state->after_id = 0;
    if (state->items == NULL || state->by_id == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for a sweep of %zu runs", count);
    }
    for (size_t i = 0; i < count; i++) {
        state->by_id[i].id = state->sweep->items[i].id;
        state->by_id[i].item = i;
    }
    qsort(state->by_id, count, sizeof state->by_id[0], by_id);
    return true;
}

/* The latest of the same definition, with its runs; state->found only where something of it is left to do. */
static bool find(struct sweep_state *state, struct records *records, struct problem *problem) {
    if (!records_sweep_find(records, state->ready->sweep.definition, NULL, &state->sweep, problem)) {
        return false;
    }
    if (state->sweep == NULL || state->sweep->item_count != state->ready->sweep.item_count) {
        return true;
    }
    if (!index_items(state, problem) || !look(state, records, problem)) {
        return false;
    }
    state->found = state->done < state->sweep->item_count;
    return true;
}

/* Another one of the same name. */
static bool find_other(const struct sweep_state *state, struct records *records, int64_t *other,
                       struct problem *problem) {
    struct record_sweep *sweep = NULL;
    if (state->sweep != NULL) {
        return true; /* the same was done before */
    }
    if (!records_sweep_find(records, NULL, state->ready->sweep.name, &sweep, problem)) {
        return false;
    }
    *other = sweep != NULL ? sweep->id : 0;
    record_sweep_free(sweep);
    return true;
}

static bool begin(struct sweep_state *state, struct records *records, struct problem *problem) {
    struct record_sweep sweep = state->ready->sweep;
    sweep.started_ms = date_now_ms();
    record_sweep_free(state->sweep);
    state->sweep = NULL;
    return records_sweep_put(records, &sweep, problem) &&
           records_sweep(records, sweep.id, &state->sweep, problem) && index_items(state, problem);
}

static bool find_or_begin(struct sweep_state *state, struct records *records, bool anew, int64_t *other,
                          struct problem *problem) {
    if (!anew && (!find(state, records, problem) || !find_other(state, records, other, problem))) {
        return false;
    }
    return state->found || begin(state, records, problem);
}

bool sweep_state_open(struct sweep_state *state, const struct sweep_ready *ready, const char *store,
                      bool anew, int64_t *other, struct problem *problem) {
    struct records *records = NULL;
    *state = (struct sweep_state){.ready = ready, .store = store};
    *other = 0;
    if (!records_open(store, RECORDS_WRITE, &records, problem)) {
        return false;
    }
    const bool good = find_or_begin(state, records, anew, other, problem);
    records_close(records);
    return good;
}

void sweep_state_free(struct sweep_state *state) {
    record_sweep_free(state->sweep);
    free(state->items);
    free(state->by_id);
    *state = (struct sweep_state){0};
}
