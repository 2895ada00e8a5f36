#include "report/html_shelf.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* An item, by its id. */
struct known {
    int64_t id;
    size_t place;
};

/* ---- names ---- */

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

/* ---- sorting ---- */

static int by_id(const void *a, const void *b) {
    const struct known *first = a, *second = b;
    return (first->id > second->id) - (first->id < second->id);
}

static const struct known *known_item(const struct known *known, size_t count, int64_t id) {
    return count > 0 ? bsearch(&(struct known){.id = id}, known, count, sizeof *known, by_id) : NULL;
}

static void place_items(struct shelf *shelf, const struct record_sweep *sweep, const size_t *place_of) {
    const size_t places = shelf->plan_count * shelf->console_count;
    size_t at = 0;
    for (size_t i = 0; i < sweep->item_count; i++) {
        shelf->places[place_of[i]].item_count++;
    }
    for (size_t place = 0; place < places; place++) {
        shelf->places[place].items = &shelf->items[at];
        at += shelf->places[place].item_count;
        shelf->places[place].item_count = 0;
    }
    for (size_t i = 0; i < sweep->item_count; i++) {
        struct shelf_place *place = &shelf->places[place_of[i]];
        shelf->items[(size_t)(place->items - shelf->items) + place->item_count++] = sweep->items[i];
    }
}

static void place_runs(struct shelf *shelf, const struct record_list *runs, const struct known *known,
                       size_t known_count) {
    const size_t places = shelf->plan_count * shelf->console_count;
    struct record_run **next = shelf->runs;
    for (size_t i = 0; i < runs->count; i++) {
        const struct known *item = known_item(known, known_count, runs->runs[i]->item);
        if (item != NULL) {
            shelf->places[item->place].runs.count++;
        }
    }
    for (size_t place = 0; place < places; place++) {
        shelf->places[place].runs.runs = next;
        next += shelf->places[place].runs.count;
        shelf->places[place].runs.count = 0;
    }
    for (size_t i = 0; i < runs->count; i++) {
        const struct known *item = known_item(known, known_count, runs->runs[i]->item);
        if (item != NULL) {
            struct record_list *list = &shelf->places[item->place].runs;
            list->runs[list->count++] = runs->runs[i];
        }
    }
}

static void conclude(struct shelf *shelf, int retries) {
    for (size_t i = 0; i < shelf->plan_count * shelf->console_count; i++) {
        struct shelf_place *place = &shelf->places[i];
        place->margin = NAN;
        if (place->item_count == 0) {
            continue;
        }
        standing_of(place->items, place->item_count, retries, &place->runs, &place->standing);
        shelf->standing_count[place->standing.kind]++;
        for (size_t j = 0; j < place->runs.count; j++) {
            const struct record_run *run = place->runs.runs[j];
            if (run->fields_judged > 0 && !run->seen_by_eye) {
                place->margin = fmin(place->margin, run->margin); /* of NaN and a number the number */
            }
        }
    }
}

static void index_items(struct shelf *shelf, const struct record_sweep *sweep, size_t *place_of,
                        struct known *known) {
    size_t near = 0;
    size_t *console_of = place_of; /* until the number of consoles is known */
    for (size_t i = 0; i < sweep->item_count; i++) {
        plan_index(shelf, sweep->items[i].plan);
        near = console_index(shelf, &sweep->items[i].console, near);
        console_of[i] = near;
    }
    for (size_t i = 0; i < sweep->item_count; i++) {
        place_of[i] = plan_index(shelf, sweep->items[i].plan) * shelf->console_count + console_of[i];
        known[i] = (struct known){sweep->items[i].id, place_of[i]};
    }
    if (sweep->item_count > 0) {
        qsort(known, sweep->item_count, sizeof *known, by_id);
    }
}

struct shelf *shelf_new(const struct record_sweep *sweep, const struct record_list *runs) {
    const size_t items = sweep->item_count + 1;
    struct shelf *shelf = calloc(1, sizeof *shelf);
    size_t *place_of = calloc(items, sizeof *place_of);
    struct known *known = calloc(items, sizeof *known);
    bool good = shelf != NULL && place_of != NULL && known != NULL;
    if (good) {
        shelf->plans = calloc(items, sizeof *shelf->plans);
        shelf->consoles = calloc(items, sizeof(struct record_console *));
        shelf->items = calloc(items, sizeof *shelf->items);
        shelf->runs = calloc(runs->count + 1, sizeof(struct record_run *));
        good = shelf->plans != NULL && shelf->consoles != NULL && shelf->items != NULL && shelf->runs != NULL;
    }
    if (good) {
        index_items(shelf, sweep, place_of, known);
        shelf->places = calloc(shelf->plan_count * shelf->console_count + 1, sizeof *shelf->places);
        good = shelf->places != NULL;
    }
    if (good) {
        place_items(shelf, sweep, place_of);
        place_runs(shelf, runs, known, sweep->item_count);
        conclude(shelf, sweep->retries);
    }
    free(place_of);
    free(known);
    if (!good) {
        shelf_free(shelf);
        return NULL;
    }
    return shelf;
}

void shelf_free(struct shelf *shelf) {
    if (shelf != NULL) {
        free(shelf->plans);
        free(shelf->consoles);
        free(shelf->items);
        free(shelf->runs);
        free(shelf->places);
        free(shelf);
    }
}

const struct shelf_place *shelf_place(const struct shelf *shelf, size_t plan, size_t console) {
    return &shelf->places[plan * shelf->console_count + console];
}
