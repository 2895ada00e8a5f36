/* One field against what its step must show; and the different ways a step was seen. Inside verdict/ only. */
#ifndef SLOTJIG_VERDICT_SIGHTINGS_H
#define SLOTJIG_VERDICT_SIGHTINGS_H

#include "verdict/state.h"

enum sight {
    SIGHT_GOOD,
    SIGHT_WRONG,
    SIGHT_UNCLEAR,
    SIGHT_TORN /* unclear, and its colours say nothing either */
};

/* Whether the field's edges agree on where the playfield lies against the raster. */
bool sighting_has_offset(const struct step_state *step, const struct reading *reading);
/* Compares the field with the plan's step `index`, and unless it is unclear or torn adds it to the step's
 * sightings, its seen cells and its wrong line. late: the fields of the run lie off their raster together;
 * else one that does, and has no cell wrong, is unclear. */
enum sight sighting_of(struct judge *judge, size_t index, const struct reading *reading, bool late);

/* True when a sighting is what the prediction says. */
bool sighting_matches(const struct sighting *sighting, const struct step_state *step,
                      const struct prediction *prediction, int shift);

#endif
