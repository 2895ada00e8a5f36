/* One field against what its step must show; and the different ways a step was seen. Inside verdict/ only. */
#ifndef SLOTJIG_VERDICT_SIGHTINGS_H
#define SLOTJIG_VERDICT_SIGHTINGS_H

#include "verdict/state.h"

enum sight { SIGHT_GOOD, SIGHT_WRONG, SIGHT_UNCLEAR };

/* Compares the field, and unless it is unclear adds it to the step's sightings, its seen cells and its wrong
 * line. */
enum sight sighting_of(const struct step *plan_step, struct step_state *step, const struct reading *reading);

/* True when a sighting is what the prediction says. */
bool sighting_matches(const struct sighting *sighting, const struct step_state *step,
                      const struct prediction *prediction, int shift);

#endif
