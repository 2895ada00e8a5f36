/*
 * The ways in which `ship` tests a cartridge, each with what it saw as plain data: in a console, and on a
 * reader. A way's run is in the store when it comes back.
 */
#ifndef SLOTJIG_COMMANDS_SHIP_WAY_H
#define SLOTJIG_COMMANDS_SHIP_WAY_H

#include "commands/options.h"
#include "plan/ship_plan.h"
#include "record/ships.h"

enum { SHIP_WAY_FIGURES = 8 };

struct ship_seen {
    enum record_end end;
    int64_t run; /* record_run.id; 0: none was kept */
    char problem[600];
    size_t figure_count;
    struct ship_figure figures[SHIP_WAY_FIGURES]; /* names and units live for ever */
    size_t finding_count;
    struct finding findings[FINDINGS_MAX];
};

/* options: those of `ship`. False: PROBLEM_INPUT, and nothing was tested. What happens to a bench is in
 * *seen. */
typedef bool ship_way(const struct options *options, const struct ship_plan *plan, struct ship_seen *seen,
                      struct problem *problem);
ship_way ship_console, ship_reader;
/* Whether it could begin, as far as that is known without touching a bench: PROBLEM_INPUT when not. */
typedef bool ship_way_ready(const struct options *options, const struct ship_plan *plan,
                            struct problem *problem);
ship_way_ready ship_console_ready, ship_reader_ready;

/* A figure held against the file's limit. */
struct ship_figure ship_figure_of(const struct ship_plan *plan, enum ship_limit limit, bool known,
                                  double value);

#endif
