/* The whole way in one process, for tests: plan, image, virtual bench, session, result. */
#ifndef SLOTJIG_TESTS_COMMANDS_LOOP_H
#define SLOTJIG_TESTS_COMMANDS_LOOP_H

#include "commands/session.h"
#include "rom/rom.h"
#include "virtual/bench.h"

#include <stdbool.h>

enum { LOOP_HOLD = 4, LOOP_SILENCE_S = 1 };

/* Fields a step is shown in the loops to come; LOOP_HOLD unless a test sets it. */
extern int loop_hold;

struct loop {
    struct plan *plan;
    struct image *image;
    struct video_source source;
    struct session session;
    struct problem problem;
};

/* Puts its own source before the session, e.g. to drop frames; may be NULL. */
typedef void (*loop_decorator)(struct loop *loop, uint64_t seed);

/* Runs the plan (as --plan has it: `every:16384` too) on the virtual bench. fault: a --fault TEXT or NULL.
 * False: loop->problem. loop_end() in any case. */
bool loop_run(struct loop *loop, const char *plan, const struct virtual_options *options, const char *fault,
              loop_decorator decorate);
/* The same with a plan that is made already; loop_end() frees it. */
bool loop_run_plan(struct loop *loop, struct plan *plan, const struct virtual_options *options,
                   const char *fault, loop_decorator decorate);
void loop_end(struct loop *loop);

/* Where set: changes the image before it is served. */
extern void (*loop_patch)(struct loop *loop);

/* True when some finding has this kind, register (REG_COUNT: any) and bit (-1: any). */
bool loop_found(const struct loop *loop, enum finding_kind kind, int reg, int bit);

/* All findings in one line, for the message of a failing test. */
const char *loop_findings(const struct loop *loop);

#endif
