/* What a plan's flashing means for the commands: how long its pictures are held, whether it may be shown, and
 * the answer of `plan --flashes`. */
#ifndef SLOTJIG_COMMANDS_FLASHING_H
#define SLOTJIG_COMMANDS_FLASHING_H

#include "commands/options.h"
#include "plan/plan.h"

#include <stdbool.h>

enum { DARK_SECONDS = 3 }; /* before a plan that flashes beyond the limits */

/* Fields that each picture is shown where nobody says otherwise. */
int flashing_usual_hold(const struct plan *plan, bool watched, struct problem *problem);
/* The hold of --calm. 0: problem says why. */
int flashing_calm_hold(const struct plan *plan, struct problem *problem);

/* What must go before a plan that may be shown. */
struct flashing {
    int dark;       /* fields of dark picture */
    char note[600]; /* to be told before it is shown; empty: nothing */
};

/* Whether a person may be shown this, or handed the image. Beyond the limits it is refused on a watched
 * screen unless --agreed-to-flashing was said. */
bool flashing_allowed(const struct plan *plan, int hold, bool watched, const struct options *options,
                      struct flashing *flashing, struct problem *problem);
/* The note, once, on standard error. */
void flashing_tell(const struct flashing *flashing);

/* `plan --flashes`: at the hold that was asked for, or else at full speed and as on a watched screen. */
bool flashing_show(const struct plan *plan, const struct options *options, struct problem *problem);
/* The same of each built-in plan. */
bool flashing_show_all(const struct options *options, struct problem *problem);

#endif
