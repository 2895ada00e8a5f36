/*
 * What a sweep is asked for: plans by consoles by repeats, from a sweep file and options.
 *
 *     [sweep]
 *     name = autumn shelf      ; the file's name without its ending when left out
 *     plan = bits              ; once or more: as for --plan; a plan file or a drawing beside the sweep file
 *     repeats = 3              ; runs of each plan on each console; 1 when left out
 *     retries = 1              ; how often a run that does not pass is tried again; 1 when left out
 *
 *     [console left]           ; what you call it
 *     bench = left             ; a section of the benches file; consoles of one bench are put in one after
 *                              ; another, in the file's order
 *     standard = ntsc          ; ntsc, pal or secam; the bench's when left out
 *     revision = 4             ; of its board, as read; likewise markings (of its chips) and modifications
 *     fault = bit-low=PF1.3    ; of a virtual bench alone: what is wrong with it; may be repeated
 */
#ifndef SLOTJIG_COMMANDS_SWEEP_FILE_H
#define SLOTJIG_COMMANDS_SWEEP_FILE_H

#include "base/problem.h"
#include "base/standard.h"
#include "base/texts.h"
#include "commands/benches.h"
#include "commands/options.h"

#include <limits.h>
#include <stdbool.h>
#include <stddef.h>

enum {
    SWEEP_NAME_MAX = 64,
    SWEEP_PLANS_MAX = 64,
    SWEEP_CONSOLES_MAX = 1000,
    SWEEP_REPEATS_MAX = 10000,
    SWEEP_RETRIES_MAX = 100
};

struct sweep_plan {
    char name[PATH_MAX]; /* as it was asked for */
    char open[PATH_MAX]; /* as for --plan, from the working folder */
    int line;            /* of the file; 0: from an option */
};

struct sweep_console {
    char name[BENCH_TEXT_MAX], bench[BENCH_NAME_MAX];
    char revision[BENCH_TEXT_MAX], markings[BENCH_TEXT_MAX], modifications[BENCH_TEXT_MAX];
    bool standard_given;
    enum standard standard;
    struct texts faults;
    int line; /* of the file; 0: the bench's own console, of which only `bench` is filled */
};

struct sweep_wanted {
    char file[PATH_MAX]; /* empty: options alone */
    char name[SWEEP_NAME_MAX];
    int repeats, retries;
    size_t plan_count, console_count;
    struct sweep_plan *plans;
    struct sweep_console *consoles;
};

/* From options->operands[0], if there is one, and the options, which go before it: --plan instead of the
 * file's plans, --bench for the file's consoles of these benches alone (for the benches' own consoles where
 * the file has none). sweep_wanted_free() also after a failure. */
bool sweep_wanted_read(const struct options *options, struct sweep_wanted *wanted, struct problem *problem);
void sweep_wanted_free(struct sweep_wanted *wanted);

/* PROBLEM_INPUT with "FILE:LINE: " in front where it is known. */
bool sweep_refuse(const struct sweep_wanted *wanted, int line, const char *text, struct problem *problem);

#endif
