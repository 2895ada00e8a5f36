/*
 * Whether COLUPF and COLUBK drew the colours they were told to. Inside verdict/ only.
 *
 * What is held against expectation are means over many fields of a step, of cells whose neighbours are like
 * them. Black and grey are taken from the blank beside the picture, which no register draws, and white from
 * the slate's band, which COLUBK draws with $0E; so a stuck bit of COLUBK shows in its own white and black.
 * Levels are luminance steps of seven; of hues only the angle is used, and on other standards than NTSC only
 * whether there is any.
 */
#ifndef SLOTJIG_VERDICT_COLOURS_H
#define SLOTJIG_VERDICT_COLOURS_H

#include "verdict/state.h"

/* Takes what a settled field shows. */
void colours_add(struct judge *judge, struct step_state *step, const struct reading *reading);
/* True when the colours that were measured are not those that the cause would draw: a data line's, or NULL,
 * none. Of other causes nothing is said. */
bool colours_rule_out(const struct judge *judge, const struct cause *cause);
/* Appends the findings. explained: the cause that was found, or NULL; what it does to colours is no finding
 * of its own. True when a colour is wrong. */
bool colours_judge(struct judge *judge, const struct cause *explained);
/* True when colours alone explain that cells were wrong: what should be lit was drawn too dark to be seen as
 * lit, or the other way round. After colours_judge(). */
bool colours_explain_cells(const struct judge *judge);
/* The plan shows hues, and none was seen. */
bool colours_lack_hue(const struct judge *judge);

#endif
