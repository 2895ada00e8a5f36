/* What a command works with: bench, plan and image, made from its options. */
#ifndef SLOTJIG_COMMANDS_SETUP_H
#define SLOTJIG_COMMANDS_SETUP_H

#include "commands/bench_board.h"
#include "commands/benches.h"
#include "commands/flashing.h"
#include "commands/options.h"
#include "link/link.h"
#include "plan/plan.h"
#include "report/json.h"
#include "rom/rom.h"
#include "virtual/bench.h"

#include <stdbool.h>

enum {
    HOLD_UNWATCHED = 4,     /* fields: one to settle, two to judge, one to spare */
    HOLD_BY_EYE_SECONDS = 5 /* what a person needs to look, compare and answer */
};

struct setup {
    struct bench_settings bench;
    struct plan *plan;
    struct image *image;
    int hold;
    struct flashing flashing;
};

/* Bench, plan, image. setup_free() also after a failure. */
bool setup_make(struct setup *setup, const struct options *options, struct problem *problem);
void setup_free(struct setup *setup);

/* Fields a step is shown on a watched screen unless somebody says otherwise: three large changes a second,
 * half of what the limits of flashing allow. */
int setup_watched_hold(enum standard standard);

/* --hold, --calm, or the default for the screen. */
bool setup_hold(const struct plan *plan, bool watched, const struct options *options, int *hold,
                struct problem *problem);

/* The two halves of setup_make(): the bench named by the options, with what they change of it; then, for it,
 * plan and image. Refused where people may see it and it flashes beyond the limits without their word. */
bool setup_bench(struct bench_settings *bench, const struct options *options, struct problem *problem);
bool setup_image(struct setup *setup, const struct options *options, struct problem *problem);
/* Undoes setup_image(); the bench stays. */
void setup_free_image(struct setup *setup);

/* Whether the bench has a video of its own, and it is a device rather than a recording. */
bool setup_is_live(const struct bench_settings *bench);

/* Opens the board, pushes the plan's image and has the console run it. bench_board_close() also after a
 * failure. */
bool setup_load(const struct setup *setup, const struct options *options, struct bench_board *board,
                struct problem *problem);

/* The same over a board that is open. */
bool setup_show(const struct setup *setup, struct bench_board *board, struct problem *problem);

/* The video of a bench; a virtual one's is that of its board's stand. To be closed before the board. */
bool setup_open_video(const struct bench_settings *bench, const struct bench_board *board,
                      struct video_source *source, struct problem *problem);

/* Both in their order: a real console's video is opened before anything is pushed, for what cannot be seen
 * need not be shown; a virtual one's is there once its board is. source->next is NULL where it was not
 * opened; who has it closes it, also after a failure. */
bool setup_start(const struct setup *setup, const struct options *options, struct bench_board *board,
                 struct video_source *source, struct problem *problem);

/* The plan's image as the board takes it; borrows the setup's bytes. */
struct link_image setup_link_image(const struct setup *setup);

/* DIR/plan.ini: the plan as a plan file, so that the folder can be judged again elsewhere. */
bool setup_write_plan(const struct setup *setup, const char *folder, struct problem *problem);

/* False, with a problem that names the command, where the plan has no steps that a person could look at one
 * by one: the console counts, or colours are measured. */
bool setup_has_steps(const struct plan *plan, const char *command, struct problem *problem);

/* Rounds of plan `cartridge` to watch: --rounds, or 2; 0: until told. */
int setup_rounds(const struct options *options);

/* Plan named by the options, or `bits`. */
bool setup_plan(const struct options *options, enum standard standard, struct plan **plan,
                struct problem *problem);

/* What there is to tell of a run with it; borrows both. */
struct report setup_report(const struct setup *setup, const struct result *result, int exit);

#endif
