#include "report/html_shelf.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static size_t plan_index(struct shelf *shelf, const char *name) {
    for (size_t i = 0; i < shelf->plan_count; i++) {
        if (strcmp(shelf->plans[i], name) == 0) {
            return i;
        }
    }
    shelf->plans[shelf->plan_count] = name;
    return shelf->plan_count++;
}

/* Where to look first: items of one console follow each other, or every plan goes over all consoles. */
static size_t console_index(struct shelf *shelf, const struct record_console *console, size_t near) {
    for (size_t i = 0; i < shelf->console_count; i++) {
        const size_t at = (near + i) % shelf->console_count;
        if (strcmp(shelf->consoles[at]->name, console->name) == 0) {
            return at;
        }
    }
    shelf->consoles[shelf->console_count] = console;
    return shelf->console_count++;
}

static void name_all(struct shelf *shelf) {
    size_t near = 0;
    for (size_t i = 0; i < shelf->suites->count; i++) {
        const struct suite *suite = &shelf->suites->list[i];
        plan_index(shelf, suite->plan);
        near = console_index(shelf, &suite->items[0].console, near);
    }
}

static double worst_margin(const struct suite *suite) {
    double margin = NAN;
    for (size_t i = 0; i < suite->run_count; i++) {
        if (suite->runs[i].fields_judged > 0 && !suite->runs[i].seen_by_eye) {
            margin = fmin(margin, suite->runs[i].margin); /* of NaN and a number the number */
        }
    }
    return margin;
}

static void place_all(struct shelf *shelf) {
    static const struct suite none;
    size_t near = 0;
    for (size_t i = 0; i < shelf->plan_count * shelf->console_count; i++) {
        shelf->places[i] = (struct shelf_place){.suite = &none, .margin = NAN};
    }
    for (size_t i = 0; i < shelf->suites->count; i++) {
        const struct suite *suite = &shelf->suites->list[i];
        near = console_index(shelf, &suite->items[0].console, near);
        struct shelf_place *place =
            &shelf->places[plan_index(shelf, suite->plan) * shelf->console_count + near];
        *place = (struct shelf_place){.suite = suite, .margin = worst_margin(suite)};
        suite_stand(suite, &place->standing);
        shelf->standing_count[place->standing.kind]++;
    }
}

struct shelf *shelf_new(const struct record_sweep *sweep, const struct record_list *runs) {
    struct shelf *shelf = calloc(1, sizeof *shelf);
    bool good = shelf != NULL && (shelf->suites = suites_make(sweep, runs)) != NULL;
    if (good) {
        const size_t most = shelf->suites->count + 1;
        shelf->plans = calloc(most, sizeof *shelf->plans);
        shelf->consoles = calloc(most, sizeof(const struct record_console *));
        good = shelf->plans != NULL && shelf->consoles != NULL;
    }
    if (good) {
        name_all(shelf);
        shelf->places = calloc(shelf->plan_count * shelf->console_count + 1, sizeof *shelf->places);
        good = shelf->places != NULL;
    }
    if (good) {
        place_all(shelf);
        return shelf;
    }
    shelf_free(shelf);
    return NULL;
}

void shelf_free(struct shelf *shelf) {
    if (shelf != NULL) {
        free(shelf->plans);
        free(shelf->consoles);
        free(shelf->places);
        suites_free(shelf->suites);
        free(shelf);
    }
}

const struct shelf_place *shelf_place(const struct shelf *shelf, size_t plan, size_t console) {
    return &shelf->places[plan * shelf->console_count + console];
}
