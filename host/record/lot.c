#include "record/lot.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- cartridges ---- */

static int by_serial(const void *a, const void *b) {
    const struct ship *first = *(const struct ship *const *)a, *second = *(const struct ship *const *)b;
    const int order = strcmp(first->serial, second->serial);
    return order != 0 ? order : (first->attempt > second->attempt) - (first->attempt < second->attempt);
}

static void take(struct lot *lot, const struct ship *ship) {
    struct lot_entry *last = lot->count > 0 ? &lot->entries[lot->count - 1] : NULL;
    if (last == NULL || strcmp(last->counts->serial, ship->serial) != 0) {
        last = &lot->entries[lot->count++];
        *last = (struct lot_entry){.counts = ship};
    }
    last->tests++;
    if (ship_is_verdict(ship)) {
        lot->again += last->first != NULL && last->counts == last->first; /* its second verdict */
        last->first = last->first != NULL ? last->first : ship;
        last->counts = ship;
    } else if (last->first == NULL) {
        last->counts = ship;
    }
}

static void count(struct lot *lot) {
    for (size_t i = 0; i < lot->count; i++) {
        const struct lot_entry *entry = &lot->entries[i];
        lot->by_end[entry->counts->end]++;
        lot->first_passed += entry->first != NULL && entry->first->end == RECORD_PASS;
    }
    lot->passed = lot->by_end[RECORD_PASS];
    lot->tested = lot->passed + lot->by_end[RECORD_FAIL];
    lot->yield = wilson_interval((long)lot->passed, (long)lot->tested);
    lot->first_yield = wilson_interval((long)lot->first_passed, (long)lot->tested);
}

/* ---- causes ---- */

static struct lot_cause *cause_of(struct lot *lot, const char *name) {
    for (size_t i = 0; i < lot->cause_count; i++) {
        if (strcmp(lot->causes[i].name, name) == 0) {
            return &lot->causes[i];
        }
    }
    struct lot_cause *cause = &lot->causes[lot->cause_count++];
    *cause = (struct lot_cause){0};
    snprintf(cause->name, sizeof cause->name, "%s", name);
    return cause;
}

static bool named_before(const struct ship *ship, size_t at) {
    for (size_t i = 0; i < at; i++) {
        if (ship->findings[i].kind == ship->findings[at].kind) {
            return true;
        }
    }
    return false;
}

static void cause_without_finding(struct lot *lot, const struct ship *ship) {
    char name[LOT_CAUSE_MAX] = "no cause named";
    for (size_t i = 0; i < ship->figure_count; i++) {
        if (ship->figures[i].known && !ship->figures[i].within) {
            snprintf(name, sizeof name, "limit of %.36s", ship->figures[i].name);
            break;
        }
    }
    struct lot_cause *cause = cause_of(lot, name);
    cause->first++;
    cause->any++;
}

static void causes_of(struct lot *lot, const struct ship *ship) {
    if (ship->finding_count == 0) {
        cause_without_finding(lot, ship);
    }
    for (size_t i = 0; i < ship->finding_count; i++) {
        if (!named_before(ship, i)) {
            struct lot_cause *cause = cause_of(lot, finding_name(ship->findings[i].kind));
            cause->first += i == 0;
            cause->any++;
        }
    }
}

static int more_frequent(const void *a, const void *b) {
    const struct lot_cause *first = a, *second = b;
    return first->first != second->first ? (first->first < second->first ? 1 : -1)
           : first->any != second->any   ? (first->any < second->any ? 1 : -1)
                                         : strcmp(first->name, second->name);
}

static bool find_causes(struct lot *lot) {
    lot->causes = calloc(FINDING_KINDS + SHIP_FIGURES_MAX * lot->count + 1, sizeof *lot->causes);
    if (lot->causes == NULL) {
        return false;
    }
    for (size_t i = 0; i < lot->count; i++) {
        if (lot->entries[i].counts->end == RECORD_FAIL) {
            causes_of(lot, lot->entries[i].counts);
        }
    }
    qsort(lot->causes, lot->cause_count, sizeof *lot->causes, more_frequent);
    return true;
}

/* ---- figures ---- */

static struct lot_figure *figure_of(struct lot *lot, const struct ship_figure *figure) {
    for (size_t i = 0; i < lot->figure_count; i++) {
        struct lot_figure *known = &lot->figures[i];
        if (strcmp(known->name, figure->name) == 0 && strcmp(known->unit, figure->unit) == 0 &&
            known->at_least == figure->at_least) {
            return known;
        }
    }
    struct lot_figure *list = realloc(lot->figures, (lot->figure_count + 1) * sizeof *list);
    double *values = calloc(lot->count + 1, sizeof *values);
    lot->figures = list != NULL ? list : lot->figures;
    if (list == NULL || values == NULL) {
        free(values);
        return NULL;
    }
    list[lot->figure_count] = (struct lot_figure){.name = figure->name,
                                                  .unit = figure->unit,
                                                  .at_least = figure->at_least,
                                                  .limit_low = figure->limit,
                                                  .limit_high = figure->limit,
                                                  .values = values};
    return &list[lot->figure_count++];
}

static bool add_figures(struct lot *lot, const struct ship *ship) {
    for (size_t i = 0; i < ship->figure_count; i++) {
        const struct ship_figure *figure = &ship->figures[i];
        struct lot_figure *sum = figure_of(lot, figure);
        if (sum == NULL) {
            return false;
        }
        sum->limit_low = fmin(sum->limit_low, figure->limit);
        sum->limit_high = fmax(sum->limit_high, figure->limit);
        if (figure->known && sum->count < lot->count) {
            sum->values[sum->count++] = figure->value;
            sum->beyond += !figure->within;
        }
    }
    return true;
}

static bool find_figures(struct lot *lot) {
    bool good = true;
    for (size_t i = 0; i < lot->count && good; i++) {
        good = !ship_is_verdict(lot->entries[i].counts) || add_figures(lot, lot->entries[i].counts);
    }
    return good;
}

/* ---- all of it ---- */

static bool sort_all(struct lot *lot, const struct ship_list *ships) {
    const struct ship **sorted = calloc(ships->count + 1, sizeof(const struct ship *));
    lot->entries = calloc(ships->count + 1, sizeof *lot->entries);
    const bool good = sorted != NULL && lot->entries != NULL;
    if (good) {
        for (size_t i = 0; i < ships->count; i++) {
            sorted[i] = ships->ships[i];
        }
        qsort(sorted, ships->count, sizeof(const struct ship *), by_serial);
        for (size_t i = 0; i < ships->count; i++) {
            take(lot, sorted[i]);
        }
        lot->tests = ships->count;
        for (size_t i = 0; i < ships->count; i++) {
            lot->rehearsed += ships->ships[i]->rehearsed;
        }
    }
    free(sorted);
    return good;
}

struct lot *lot_make(const struct ship_list *ships) {
    struct lot *lot = calloc(1, sizeof *lot);
    if (lot == NULL) {
        return NULL;
    }
    if (!sort_all(lot, ships)) {
        lot_free(lot);
        return NULL;
    }
    count(lot);
    if (!find_causes(lot) || !find_figures(lot)) {
        lot_free(lot);
        return NULL;
    }
    return lot;
}

void lot_free(struct lot *lot) {
    if (lot == NULL) {
        return;
    }
    for (size_t i = 0; i < lot->figure_count; i++) {
        free(lot->figures[i].values);
    }
    free(lot->entries);
    free(lot->causes);
    free(lot->figures);
    free(lot);
}
