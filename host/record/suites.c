#include "record/suites.h"

#include "stats/stats.h"

#include <stdlib.h>
#include <string.h>

/* Items and runs before they are sorted: those of a sweep, or an item made up for each run. */
struct unsorted {
    size_t item_count;
    struct record_item *items;
    size_t *suite_of; /* an item's */
    const struct record_list *runs;
    size_t *item_of; /* a run's; item_count: of none */
    bool of_sweep;
};

static void unsorted_free(struct unsorted *unsorted) {
    free(unsorted->items);
    free(unsorted->suite_of);
    free(unsorted->item_of);
}

/* An item by its id. */
struct known {
    int64_t id;
    size_t item;
};

static int by_id(const void *a, const void *b) {
    const struct known *first = a, *second = b;
    return (first->id > second->id) - (first->id < second->id);
}

/* Of a sweep's runs; false: memory is short. */
static bool find_items(struct unsorted *unsorted) {
    const size_t count = unsorted->item_count;
    struct known *known = calloc(count + 1, sizeof *known);
    for (size_t i = 0; known != NULL && i < count; i++) {
        known[i] = (struct known){unsorted->items[i].id, i};
    }
    if (known != NULL) {
        qsort(known, count, sizeof *known, by_id);
    }
    for (size_t i = 0; known != NULL && i < unsorted->runs->count; i++) {
        const struct known key = {.id = unsorted->runs->runs[i]->item};
        const struct known *found = bsearch(&key, known, count, sizeof *known, by_id);
        unsorted->item_of[i] = found != NULL ? found->item : count;
    }
    free(known);
    return known != NULL;
}

static struct record_item made_up(const struct record_run *run, size_t index) {
    return (struct record_item){.id = (int64_t)index + 1,
                                .plan = run->plan->id,
                                .console = run->console,
                                .bench = run->bench,
                                .repeat = 1};
}

static bool gather(const struct record_sweep *sweep, const struct record_list *runs,
                   struct unsorted *unsorted) {
    const size_t items = sweep != NULL ? sweep->item_count : runs->count;
    *unsorted = (struct unsorted){.item_count = items,
                                  .items = calloc(items + 1, sizeof *unsorted->items),
                                  .suite_of = calloc(items + 1, sizeof *unsorted->suite_of),
                                  .runs = runs,
                                  .item_of = calloc(runs->count + 1, sizeof *unsorted->item_of),
                                  .of_sweep = sweep != NULL};
    if (unsorted->items == NULL || unsorted->suite_of == NULL || unsorted->item_of == NULL) {
        return false;
    }
    for (size_t i = 0; i < items; i++) {
        unsorted->items[i] = sweep != NULL ? sweep->items[i] : made_up(runs->runs[i], i);
    }
    for (size_t i = 0; sweep == NULL && i < runs->count; i++) {
        unsorted->item_of[i] = i;
    }
    return sweep == NULL || find_items(unsorted);
}

static int by_names(const struct record_item *first, const struct record_item *second) {
    const int order = strcmp(first->plan, second->plan);
    return order != 0 ? order : strcmp(first->console.name, second->console.name);
}

/* Of one plan and console the earliest first. */
static int compare_items(const void *a, const void *b) {
    const struct record_item *first = *(const struct record_item *const *)a;
    const struct record_item *second = *(const struct record_item *const *)b;
    const int order = by_names(first, second);
    return order != 0 ? order : (first > second) - (first < second);
}

/* Leaves at each item the first one of its plan and console. False: memory is short. */
static bool find_leaders(struct unsorted *unsorted) {
    const struct record_item *items = unsorted->items, *leader = NULL;
    const struct record_item **sorted = calloc(unsorted->item_count + 1, sizeof(const struct record_item *));
    for (size_t i = 0; sorted != NULL && i < unsorted->item_count; i++) {
        sorted[i] = &items[i];
    }
    if (sorted != NULL) {
        qsort(sorted, unsorted->item_count, sizeof(const struct record_item *), compare_items);
    }
    for (size_t i = 0; sorted != NULL && i < unsorted->item_count; i++) {
        leader = leader == NULL || by_names(leader, sorted[i]) != 0 ? sorted[i] : leader;
        unsorted->suite_of[sorted[i] - items] = (size_t)(leader - items);
    }
    free(sorted);
    return sorted != NULL;
}

static bool name_suites(struct suites *suites, struct unsorted *unsorted, int retries) {
    if (!find_leaders(unsorted)) {
        return false;
    }
    for (size_t i = 0; i < unsorted->item_count; i++) {
        const struct record_item *item = &unsorted->items[i];
        const size_t leader = unsorted->suite_of[i];
        if (leader == i) {
            suites->list[suites->count] =
                (struct suite){.plan = item->plan, .console = item->console, .retries = retries};
        }
        unsorted->suite_of[i] = leader == i ? suites->count++ : unsorted->suite_of[leader];
        suites->list[unsorted->suite_of[i]].item_count++;
    }
    for (size_t i = 0; i < unsorted->runs->count; i++) {
        if (unsorted->item_of[i] < unsorted->item_count) {
            suites->list[unsorted->suite_of[unsorted->item_of[i]]].run_count++;
        }
    }
    return true;
}

static int compare_runs(const void *a, const void *b) {
    const struct record_run *first = a, *second = b;
    const int64_t by = first->item != second->item         ? first->item - second->item
                       : first->attempt != second->attempt ? first->attempt - second->attempt
                                                           : first->id - second->id;
    return (by > 0) - (by < 0);
}

/* While sorting, a run's item is its item's index in the suite. */
static void sort_runs(struct suite *suite) {
    qsort(suite->runs, suite->run_count, sizeof *suite->runs, compare_runs);
    size_t at = 0;
    for (size_t i = 0; i < suite->item_count; i++) {
        suite->first[i] = at;
        for (; at < suite->run_count && suite->runs[at].item == (int64_t)i; at++) {
            suite->runs[at].item = suite->items[i].id;
        }
    }
    suite->first[suite->item_count] = at;
}

static void describe(struct suite *suite, bool of_sweep) {
    const struct record_run *latest = NULL;
    for (size_t i = 0; i < suite->run_count; i++) {
        if (latest == NULL || suite->runs[i].started_ms >= latest->started_ms) {
            latest = &suite->runs[i];
        }
    }
    if (latest != NULL) {
        suite->console = latest->console;
        suite->plan = of_sweep ? suite->plan : latest->plan->name;
    }
}

static bool make_room(struct suite *suite) {
    suite->items = calloc(suite->item_count + 1, sizeof *suite->items);
    suite->runs = calloc(suite->run_count + 1, sizeof *suite->runs);
    suite->first = calloc(suite->item_count + 1, sizeof *suite->first);
    return suite->items != NULL && suite->runs != NULL && suite->first != NULL;
}

static bool fill(struct suites *suites, const struct unsorted *unsorted) {
    size_t *index_of = calloc(unsorted->item_count + 1, sizeof *index_of);
    bool good = index_of != NULL;
    for (size_t i = 0; i < suites->count && good; i++) {
        good = make_room(&suites->list[i]);
        suites->list[i].item_count = suites->list[i].run_count = 0;
    }
    for (size_t i = 0; i < unsorted->item_count && good; i++) {
        struct suite *suite = &suites->list[unsorted->suite_of[i]];
        index_of[i] = suite->item_count;
        suite->items[suite->item_count++] = unsorted->items[i];
    }
    for (size_t i = 0; i < unsorted->runs->count && good; i++) {
        const size_t item = unsorted->item_of[i];
        if (item < unsorted->item_count) {
            struct suite *suite = &suites->list[unsorted->suite_of[item]];
            struct record_run *run = &suite->runs[suite->run_count++];
            *run = *unsorted->runs->runs[i];
            run->item = (int64_t)index_of[item];
            run->attempt = unsorted->of_sweep ? run->attempt : 1;
        }
    }
    for (size_t i = 0; i < suites->count && good; i++) {
        sort_runs(&suites->list[i]);
        describe(&suites->list[i], unsorted->of_sweep);
    }
    free(index_of);
    return good;
}

struct suites *suites_make(const struct record_sweep *sweep, const struct record_list *runs) {
    struct unsorted unsorted;
    struct suites *suites = calloc(1, sizeof *suites);
    bool good = gather(sweep, runs, &unsorted) && suites != NULL;
    if (good) {
        suites->list = calloc(unsorted.item_count + 1, sizeof *suites->list);
        good = suites->list != NULL;
    }
    good =
        good && name_suites(suites, &unsorted, sweep != NULL ? sweep->retries : 0) && fill(suites, &unsorted);
    unsorted_free(&unsorted);
    if (!good) {
        suites_free(suites);
        return NULL;
    }
    return suites;
}

void suites_free(struct suites *suites) {
    for (size_t i = 0; suites != NULL && suites->list != NULL && i < suites->count; i++) {
        free(suites->list[i].items);
        free(suites->list[i].runs);
        free(suites->list[i].first);
    }
    if (suites != NULL) {
        free(suites->list);
    }
    free(suites);
}

/* Of one item: its runs are few. */
static bool stand_item(const struct suite *suite, size_t item, struct standing *standing) {
    enum { ATTEMPTS_MAX = 128 }; /* more than --retries takes */
    struct record_run *pointers[ATTEMPTS_MAX];
    size_t count = 0;
    for (size_t i = suite->first[item]; i < suite->first[item + 1] && count < ATTEMPTS_MAX; i++) {
        pointers[count++] = &suite->runs[i];
    }
    const struct record_list list = {count, pointers};
    standing_of(&suite->items[item], 1, suite->retries, &list, standing);
    return standing->done > 0;
}

void suite_stand(const struct suite *suite, struct standing *standing) {
    int counts[STANDING_KINDS] = {0};
    *standing = (struct standing){.repeats = (int)suite->item_count};
    for (size_t i = 0; i < suite->item_count; i++) {
        struct standing one;
        counts[stand_item(suite, i, &one) ? one.kind : STANDING_OPEN]++;
        standing->done += one.done;
        standing->passed += one.passed;
        standing->attempts += one.attempts;
        standing->retried += one.retried;
    }
    const struct interval rate = wilson_interval(standing->passed, standing->done);
    standing->rate_low = rate.low;
    standing->rate_high = rate.high;
    standing->kind = standing_of_kinds(counts);
}
