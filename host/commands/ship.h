/* The parts of `ship`. */
#ifndef SLOTJIG_COMMANDS_SHIP_H
#define SLOTJIG_COMMANDS_SHIP_H

#include "commands/options.h"
#include "plan/ship_plan.h"
#include "record/ships.h"

/* A serial or the name of a lot: 1 to SHIP_SERIAL_MAX bytes of UTF-8 that show, without blanks at an end.
 * what: the option. */
bool ship_name_good(const char *what, const char *text, struct problem *problem);

/* ship_test.c: tests a cartridge, and keeps what came of it. Returns the exit status. */
int ship_test(const struct options *options);

/* ship_show.c: what is on record of a serial, of a lot, or of all. */
int ship_show(const struct options *options);

/* ship_tell.c */
void ship_tell(FILE *stream, const struct ship *ship);
void ship_tell_earlier(FILE *stream, const struct ship_list *list);

/* ship_judge.c: what the ways saw to one verdict. Fills end, problem, figures, findings and runs. findings:
 * room for 2 * FINDINGS_MAX. NULL: that way was not asked for, or not come to. */
struct ship_seen;
void ship_judge(const struct ship_seen *console, const struct ship_seen *reader, const struct ship_plan *plan,
                struct finding *findings, struct ship *ship);

#endif
