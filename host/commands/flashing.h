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

/* Whether a person may be shown this, or handed the image. *dark: fields of dark picture that must come
 * first. Beyond the limits: refused on a watched screen unless --agreed-to-flashing was said, and told on
 * standard error where it is shown. */
bool flashing_allowed(const struct plan *plan, int hold, bool watched, const struct options *options,
                      int *dark, struct problem *problem);

/* `plan --flashes`: at the hold that was asked for, or else at full speed and as on a watched screen. */
bool flashing_show(const struct plan *plan, const struct options *options, struct problem *problem);

#endif
