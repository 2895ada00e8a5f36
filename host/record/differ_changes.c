/* What only one of two groups of runs shows: wrong cells of steps, and findings. */
#include "record/differ_parts.h"

#include "stats/stats.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Of one step or finding, on both sides. */
struct seen {
    int hits[SIDES], runs[SIDES];
    uint64_t cells[SIDES];
    bool failed[SIDES];      /* in a run that failed */
    bool alternative[SIDES]; /* each time only as an alternative */
};

static bool add(struct differ *differ, const struct change *change) {
    struct change *changes = realloc(differ->changes, (differ->change_count + 1) * sizeof *changes);
    if (changes != NULL) {
        differ->changes = changes;
        changes[differ->change_count++] = *change;
    }
    return changes != NULL;
}

static struct change change_of(const struct seen *seen, enum change_kind kind, int step, uint64_t cells) {
    return (struct change){.kind = kind,
                           .step = step,
                           .cells = cells,
                           .before_hits = seen->hits[SIDE_BEFORE],
                           .before_runs = seen->runs[SIDE_BEFORE],
                           .now_hits = seen->hits[SIDE_NOW],
                           .now_runs = seen->runs[SIDE_NOW],
                           .worse = (kind == CHANGE_NEW || kind == CHANGE_MORE) && seen->failed[SIDE_NOW]};
}

/* Both sides have it: whether in shares that differ for certain, to the extent of their intervals. */
static bool share_differs(const struct seen *seen, enum change_kind *kind) {
    const struct interval before = wilson_interval(seen->hits[SIDE_BEFORE], seen->runs[SIDE_BEFORE]);
    const struct interval now = wilson_interval(seen->hits[SIDE_NOW], seen->runs[SIDE_NOW]);
    *kind = now.low > before.high ? CHANGE_MORE : CHANGE_LESS;
    return now.low > before.high || now.high < before.low;
}

static void look_at_step(const struct sides *sides, size_t step, struct seen *seen) {
    *seen = (struct seen){.alternative = {false}};
    for (int side = 0; side < SIDES; side++) {
        for (size_t i = 0; i < sides->count[side]; i++) {
            const struct record_run *run = sides->counting[side][i];
            seen->runs[side] += step_judged(run, step);
            if (step_judged(run, step) && step_wrong(run, step)) {
                seen->hits[side]++;
                seen->failed[side] = true;
                seen->cells[side] |= run->seen_by_eye ? 0 : step_wrong_cells(&run->steps[step]);
            }
        }
    }
}

/* New, gone: cells, or the whole step where no cell says why it was wrong. */
static bool one_sided(const struct seen *seen, int side, uint64_t *cells) {
    const int other = side == SIDE_NOW ? SIDE_BEFORE : SIDE_NOW;
    *cells = seen->cells[side] & ~seen->cells[other];
    return *cells != 0 || (seen->hits[side] > 0 && seen->hits[other] == 0);
}

/* Cells that were wrong before in any step. */
static uint64_t known_cells(const struct sides *sides) {
    uint64_t cells = 0;
    for (size_t step = 0; step < sides->step_count; step++) {
        struct seen seen;
        look_at_step(sides, step, &seen);
        cells |= seen.cells[SIDE_BEFORE];
    }
    return cells;
}

/* A fault that comes and goes hits now these steps, now those: what it does to one more of them is told, and
 * is worse only where chance would not do it. */
static void spare_known(struct change *change, const struct seen *seen, uint64_t known) {
    enum change_kind kind;
    change->known = change->cells != 0 && (change->cells & ~known) == 0 && !share_differs(seen, &kind);
    change->worse = change->worse && !change->known;
}

static bool step_changes(const struct sides *sides, size_t step, uint64_t known, struct differ *differ) {
    struct seen seen;
    struct change found[3];
    size_t count = 0;
    uint64_t cells;
    enum change_kind kind;
    look_at_step(sides, step, &seen);
    if (seen.runs[SIDE_BEFORE] == 0 || seen.runs[SIDE_NOW] == 0) {
        return true;
    }
    if (one_sided(&seen, SIDE_NOW, &cells)) {
        found[count] = change_of(&seen, CHANGE_NEW, (int)step, cells);
        spare_known(&found[count++], &seen, known);
    }
    if (one_sided(&seen, SIDE_BEFORE, &cells)) {
        found[count++] = change_of(&seen, CHANGE_GONE, (int)step, cells);
    }
    if (count == 0 && seen.hits[SIDE_NOW] > 0 && share_differs(&seen, &kind)) {
        found[count++] = change_of(&seen, kind, (int)step, seen.cells[SIDE_NOW]);
    }
    for (size_t i = 0; i < count; i++) {
        step_name(sides, step, found[i].name, sizeof found[i].name);
        if (!add(differ, &found[i])) {
            return false;
        }
    }
    return true;
}

/* What makes two findings the same one. */
struct key {
    enum finding_kind kind;
    int reg, bit;
};

static bool is_of(const struct finding *finding, const struct key *key) {
    return finding->kind == key->kind && finding->reg == key->reg && finding->bit == key->bit;
}

/* Runs that could have shown a finding: all but those that the bench broke off. */
static bool shows_findings(const struct record_run *run) {
    return run->end != RECORD_TROUBLE;
}

static void look_at_finding(const struct sides *sides, const struct key *key, struct seen *seen) {
    *seen = (struct seen){.alternative = {true, true}};
    for (int side = 0; side < SIDES; side++) {
        for (size_t i = 0; i < sides->all[side]->count; i++) {
            const struct record_run *run = sides->all[side]->runs[i];
            bool here = false;
            if (!shows_findings(run)) {
                continue;
            }
            seen->runs[side]++;
            for (size_t f = 0; f < run->finding_count; f++) {
                if (is_of(&run->findings[f], key)) {
                    here = true;
                    seen->alternative[side] = seen->alternative[side] && run->findings[f].alternative;
                }
            }
            seen->hits[side] += here;
            seen->failed[side] = seen->failed[side] || (here && run->end == RECORD_FAIL);
        }
    }
}

static bool has_finding(const struct record_run *run, const struct key *key) {
    bool has = false;
    for (size_t f = 0; shows_findings(run) && f < run->finding_count; f++) {
        has = has || is_of(&run->findings[f], key);
    }
    return has;
}

static bool was_there(const struct sides *sides, const struct finding *finding) {
    const struct key key = {finding->kind, finding->reg, finding->bit};
    for (size_t i = 0; i < sides->all[SIDE_BEFORE]->count; i++) {
        if (has_finding(sides->all[SIDE_BEFORE]->runs[i], &key)) {
            return true;
        }
    }
    return false;
}

/* Whether each run that has the finding now has one beside it that was there before. */
static bool beside_known(const struct sides *sides, const struct key *key) {
    for (size_t i = 0; i < sides->all[SIDE_NOW]->count; i++) {
        const struct record_run *run = sides->all[SIDE_NOW]->runs[i];
        bool known = !has_finding(run, key);
        for (size_t f = 0; !known && f < run->finding_count; f++) {
            known = was_there(sides, &run->findings[f]);
        }
        if (!known) {
            return false;
        }
    }
    return true;
}

static void finding_key_name(const struct key *key, bool alternative, char *name, size_t size) {
    char of[24] = "";
    if (key->reg >= 0 && key->reg < REG_COUNT) {
        snprintf(of, sizeof of, key->bit >= 0 ? " %s D%d" : " %s", reg_name((enum reg)key->reg), key->bit);
    } else if (key->bit >= 0) {
        snprintf(of, sizeof of, " %d", key->bit);
    }
    snprintf(name, size, "%s%s%s", finding_name(key->kind), of, alternative ? " (an alternative)" : "");
}

static bool finding_change(const struct sides *sides, const struct key *key, struct differ *differ) {
    struct seen seen;
    struct change change;
    enum change_kind kind;
    look_at_finding(sides, key, &seen);
    if (seen.runs[SIDE_BEFORE] == 0 || seen.runs[SIDE_NOW] == 0) {
        return true;
    }
    if (seen.hits[SIDE_BEFORE] == 0 || seen.hits[SIDE_NOW] == 0) {
        kind = seen.hits[SIDE_NOW] > 0 ? CHANGE_NEW : CHANGE_GONE;
    } else if (!share_differs(&seen, &kind)) {
        return true;
    }
    change = change_of(&seen, kind, -1, 0);
    /* Where few fields show a fault, more than one cause predicts them. */
    change.known = kind == CHANGE_NEW && seen.alternative[SIDE_NOW] && beside_known(sides, key) &&
                   !share_differs(&seen, &kind);
    change.worse = change.worse && !change.known;
    finding_key_name(key, seen.alternative[SIDE_BEFORE] && seen.alternative[SIDE_NOW], change.name,
                     sizeof change.name);
    return add(differ, &change);
}

struct keys {
    size_t count, room;
    struct key *list;
};

static bool note(struct keys *keys, const struct finding *finding) {
    for (size_t i = 0; i < keys->count; i++) {
        if (is_of(finding, &keys->list[i])) {
            return true;
        }
    }
    if (keys->count == keys->room) {
        const size_t room = 2 * keys->room + 16;
        struct key *list = realloc(keys->list, room * sizeof *list);
        if (list == NULL) {
            return false;
        }
        keys->list = list;
        keys->room = room;
    }
    keys->list[keys->count++] = (struct key){finding->kind, finding->reg, finding->bit};
    return true;
}

static bool all_keys(const struct sides *sides, struct keys *keys) {
    for (int side = 0; side < SIDES; side++) {
        for (size_t i = 0; i < sides->all[side]->count; i++) {
            const struct record_run *run = sides->all[side]->runs[i];
            for (size_t f = 0; shows_findings(run) && f < run->finding_count; f++) {
                if (!note(keys, &run->findings[f])) {
                    return false;
                }
            }
        }
    }
    return true;
}

bool differ_changes(const struct sides *sides, struct differ *differ) {
    struct keys keys = {0, 0, NULL};
    const uint64_t known = known_cells(sides);
    bool good = all_keys(sides, &keys);
    for (size_t i = 0; good && i < keys.count; i++) {
        good = finding_change(sides, &keys.list[i], differ);
    }
    for (size_t step = 0; good && step < sides->step_count; step++) {
        good = step_changes(sides, step, known, differ);
    }
    free(keys.list);
    return good;
}
