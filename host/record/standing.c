#include "record/standing.h"

#include "stats/stats.h"

const char *standing_name(enum standing_kind kind) {
    static const char *const names[] = {"open", "pass", "unsteady", "fail", "inconclusive", "trouble"};
    return (unsigned)kind < STANDING_KINDS ? names[kind] : "";
}

/* Whether an item needs no (further) run. attempts: how many it had. */
static bool is_done(const struct record_item *item, int retries, const struct record_list *runs,
                    int *attempts) {
    bool passed = false;
    *attempts = 0;
    for (size_t i = 0; i < runs->count; i++) {
        if (runs->runs[i]->item == item->id) {
            ++*attempts;
            passed = passed || runs->runs[i]->end == RECORD_PASS;
        }
    }
    return passed || *attempts > retries;
}

/* What the attempts of one item came to; *first: the first one passed. */
static enum standing_kind kind_of(const struct record_item *item, const struct record_list *runs,
                                  bool *first) {
    bool end[RECORD_ENDS] = {false};
    *first = false;
    for (size_t i = 0; i < runs->count; i++) {
        const struct record_run *run = runs->runs[i];
        if (run->item == item->id) {
            end[run->end] = true;
            *first = *first || (run->attempt == 1 && run->end == RECORD_PASS);
        }
    }
    if (*first) {
        return STANDING_PASS;
    }
    if (end[RECORD_PASS]) {
        return STANDING_UNSTEADY;
    }
    return end[RECORD_FAIL]           ? STANDING_FAIL
           : end[RECORD_INCONCLUSIVE] ? STANDING_INCONCLUSIVE
                                      : STANDING_TROUBLE;
}

enum standing_kind standing_of_kinds(const int counts[STANDING_KINDS]) {
    const bool passes = counts[STANDING_PASS] > 0, fails = counts[STANDING_FAIL] > 0;
    return counts[STANDING_OPEN] > 0                            ? STANDING_OPEN
           : counts[STANDING_UNSTEADY] > 0 || (passes && fails) ? STANDING_UNSTEADY
           : fails                                              ? STANDING_FAIL
           : counts[STANDING_INCONCLUSIVE] > 0                  ? STANDING_INCONCLUSIVE
           : counts[STANDING_TROUBLE] > 0                       ? STANDING_TROUBLE
                                                                : STANDING_PASS;
}

void standing_of(const struct record_item *items, size_t item_count, int retries,
                 const struct record_list *runs, struct standing *standing) {
    int counts[STANDING_KINDS] = {0};
    *standing = (struct standing){.repeats = (int)item_count};
    for (size_t i = 0; i < item_count; i++) {
        int attempts = 0;
        const bool done = is_done(&items[i], retries, runs, &attempts);
        standing->attempts += attempts;
        if (!done) {
            continue;
        }
        bool first = false;
        counts[kind_of(&items[i], runs, &first)]++;
        standing->done++;
        standing->passed += first;
        standing->retried += attempts > 1;
    }
    const struct interval rate = wilson_interval(standing->passed, standing->done);
    standing->rate_low = rate.low;
    standing->rate_high = rate.high;
    counts[STANDING_OPEN] = standing->repeats - standing->done;
    standing->kind = standing_of_kinds(counts);
}

int standing_exit(const struct standing *standings, size_t count) {
    bool has[STANDING_KINDS] = {false};
    for (size_t i = 0; i < count; i++) {
        has[standings[i].kind] = true;
    }
    if (has[STANDING_FAIL] || has[STANDING_UNSTEADY]) {
        return 1;
    }
    return has[STANDING_TROUBLE] || has[STANDING_OPEN] ? 3 : has[STANDING_INCONCLUSIVE] ? 4 : 0;
}
