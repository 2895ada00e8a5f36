#include "record/look.h"

#include "record/records.h"
#include "record/same.h"
#include "record/shipped.h"

#include <stdio.h>
#include <string.h>

struct look {
    const struct look_for *what;
    struct look_found *found;
    struct records *records;
    struct record_sweep *sweep;
    size_t older; /* so many of them found */
};

#define BAD(look, ...) (snprintf((look)->found->why, sizeof(look)->found->why, __VA_ARGS__), false)

static bool look_at_run(struct look *look, const struct record_run *got) {
    char why[256] = "";
    const uint64_t number = filling_number(got);
    if (number >= FILLING_RUNS) {
        const struct record_list *older = look->what->older;
        return (older != NULL && look->older < older->count &&
                record_same(older->runs[look->older++], got, RECORDS_ALL, why, sizeof why)) ||
               BAD(look, "run %lld is not one of those put: %s", (long long)got->id, why);
    }
    if (look->found->runs[number]) {
        return BAD(look, "run %d is there twice", (int)number);
    }
    look->found->runs[number] = true;
    if (got->item != 0 && (look->sweep == NULL || got->item != look->sweep->items[number].id)) {
        return BAD(look, "run %d is of item %lld", (int)number, (long long)got->item);
    }
    look->found->more += !look->what->runs[number];
    return record_same(filling_run(look->what->filling, number), got, RECORDS_ALL, why, sizeof why) ||
           BAD(look, "run %d: %s", (int)number, why);
}

static bool look_at_runs(struct look *look) {
    struct problem problem;
    struct record_list list;
    const struct records_choice all = {.with_trouble = true};
    if (!records_select(look->records, &all, RECORDS_ALL, &list, &problem)) {
        return BAD(look, "select: %s", problem.text);
    }
    bool good = true;
    for (size_t i = 0; good && i < list.count; i++) {
        good = look_at_run(look, list.runs[i]);
    }
    record_list_free(&list);
    return good;
}

static bool look_for_lost(struct look *look) {
    for (size_t i = 0; i < FILLING_RUNS; i++) {
        if (look->what->runs[i] && !look->found->runs[i]) {
            return BAD(look, "run %zu is lost", i);
        }
    }
    const size_t older = look->what->older != NULL ? look->what->older->count : 0;
    return look->older == older || BAD(look, "%zu of %zu older runs are left", look->older, older);
}

static bool look_at_batches(struct look *look) {
    for (size_t batch = 0; batch < FILLING_BATCHES; batch++) {
        size_t there = 0;
        for (size_t i = 0; i < FILLING_BATCH; i++) {
            there += look->found->runs[FILLING_BASE + batch * FILLING_BATCH + i];
        }
        if (there != 0 && there != FILLING_BATCH) {
            return BAD(look, "%zu of the %d runs of batch %zu", there, FILLING_BATCH, batch);
        }
    }
    return true;
}

static bool same_items(const struct record_sweep *put, const struct record_sweep *got) {
    bool same = put->item_count == got->item_count && put->repeats == got->repeats;
    for (size_t i = 0; same && i < put->item_count; i++) {
        const struct record_item *a = &put->items[i], *b = &got->items[i];
        same = strcmp(a->plan, b->plan) == 0 && strcmp(a->console.name, b->console.name) == 0 &&
               strcmp(a->console.revision, b->console.revision) == 0 && strcmp(a->bench, b->bench) == 0 &&
               a->repeat == b->repeat;
    }
    return same;
}

static bool look_at_sweep(struct look *look) {
    struct problem problem;
    const struct record_sweep *put = &look->what->filling->invented->sweep;
    if (!records_sweep_find(look->records, put->definition, NULL, &look->sweep, &problem)) {
        return BAD(look, "sweep: %s", problem.text);
    }
    if (look->sweep == NULL) {
        return !look->what->sweep || BAD(look, "the sweep is lost");
    }
    return same_items(put, look->sweep) || BAD(look, "the sweep is not whole");
}

static bool look_at_baseline(struct look *look) {
    struct problem problem;
    struct record_baselines list;
    if (!records_baselines(look->records, &list, &problem)) {
        return BAD(look, "baselines: %s", problem.text);
    }
    const size_t count = list.count, runs = count > 0 ? list.baselines[0].count : 0;
    record_baselines_free(&list);
    if (look->what->older != NULL && (count == 0 || count == 2)) {
        return true; /* those of an older file: from version 3 on it has two */
    }
    if (count > 1 || (count == 1 && runs != 3) || (count == 0 && look->what->baseline)) {
        return BAD(look, "%zu baselines, of %zu runs", count, runs);
    }
    return true;
}

/* Each reads whole, or its check would say so. */
static bool look_at_ships(struct look *look) {
    struct problem problem;
    struct ship_list list;
    if (!records_ships(look->records, NULL, NULL, &list, &problem)) {
        return BAD(look, "tests of cartridges: %s", problem.text);
    }
    bool good = list.count >= look->what->ships && list.count <= 2;
    const size_t count = list.count;
    for (size_t i = 0; i < list.count && good; i++) {
        struct finding findings[2];
        good = strcmp(list.ships[i]->serial, shipped_kept((int)i, findings).serial) == 0;
    }
    ship_list_free(&list);
    return good || BAD(look, "%zu tests of cartridges, or others than those put", count);
}

static bool look_afterwards(struct look *look) {
    struct problem problem;
    struct record_run put = *filling_run(look->what->filling, FILLING_AFTERWARDS), *got;
    char why[256] = "";
    if (!records_put(look->records, &put, &problem) ||
        !records_run(look->records, put.id, RECORDS_ALL, &got, &problem)) {
        return BAD(look, "afterwards: %s", problem.text);
    }
    const bool same = record_same(&put, got, RECORDS_ALL, why, sizeof why);
    record_free(got);
    return same || BAD(look, "afterwards: %s", why);
}

static bool look_at_all(struct look *look) {
    struct problem problem;
    return (records_check(look->records, &problem) || BAD(look, "check: %s", problem.text)) &&
           look_at_sweep(look) && look_at_baseline(look) && look_at_ships(look) && look_at_runs(look) &&
           look_for_lost(look) && (!look->what->batches || look_at_batches(look)) && look_afterwards(look);
}

bool look_at_store(const char *path, const struct look_for *what, struct look_found *found) {
    struct problem problem;
    struct look look = {.what = what, .found = found};
    *found = (struct look_found){0};
    if (!records_open(path, RECORDS_WRITE, &look.records, &problem)) {
        return BAD(&look, "open: %s", problem.text);
    }
    const bool good = look_at_all(&look);
    record_sweep_free(look.sweep);
    records_close(look.records);
    return good;
}
