/*
 * Cartridges that were tested to be shipped, in the store (records.h): a row for each test, never written
 * over; the runs that belong to it are runs like others.
 */
#ifndef SLOTJIG_RECORD_SHIPS_H
#define SLOTJIG_RECORD_SHIPS_H

#include "record/records.h"

enum { SHIP_FIGURES_MAX = 16, SHIP_SERIAL_MAX = 64 };

/* A figure that was held against a limit. */
struct ship_figure {
    const char *name, *unit; /* "access", "ns" */
    double value, limit;
    bool known, at_least; /* at_least: the limit is the least that passes, else the most */
    bool within;          /* false where the value is not known */
};

struct ship {
    int64_t id; /* the store's; 0: not written yet */
    int64_t started_ms;
    const char *serial, *lot;
    const char *limits; /* text of the limits file */
    const char *tool;   /* version of slotjig */
    enum record_end end;
    int attempt; /* from 1: how often this serial was tested by then; filled by the store */
    const char *problem;
    int64_t console_run, reader_run; /* record_run.id; 0: none */
    bool rehearsed; /* one of them was on a virtual bench: it says nothing of a cartridge; filled by the store
                     */
    size_t figure_count;
    struct ship_figure figures[SHIP_FIGURES_MAX];
    size_t finding_count; /* of both ways, each once */
    const struct finding *findings;
};

struct ship_list {
    size_t count;
    struct ship **ships;
};

/* Writes the row whole or not at all, and sets ship->id and ->attempt. */
bool records_put_ship(struct records *records, struct ship *ship, struct problem *problem);
/* Those of a serial, or of a lot, or (both NULL) all, in the order in which they were written. An empty list
 * is no problem. */
bool records_ships(struct records *records, const char *serial, const char *lot, struct ship_list *list,
                   struct problem *problem);
void ship_list_free(struct ship_list *list);

/* Whether it says anything of the cartridge: a pass or a fail. Trouble and what could not be read do not. */
bool ship_is_verdict(const struct ship *ship);

#endif
