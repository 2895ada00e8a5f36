/*
 * COLUPF and COLUBK in plan `every`, which holds them at $0E and $00: judged as those of a plan of steps, in
 * a judge of their own whose steps the fields go round in. Inside verdict/ only.
 */
#ifndef SLOTJIG_VERDICT_EVERY_COLOURS_H
#define SLOTJIG_VERDICT_EVERY_COLOURS_H

#include "verdict/every.h"

/* False: out of memory. */
bool every_colours_start(struct every_state *every, enum standard standard);
void every_colours_end(struct every_state *every);
/* expected: cells of each pattern of the field. dim: all lines have just the cells unclear that should be
 * lit.
 */
void every_colours_add(struct every_state *every, const struct reading *reading, const uint64_t *expected,
                       bool dim);
/* True: a colour is wrong, and is told among the result's findings. explained: the cause of the wrong cells,
 * or NULL. */
bool every_colours_judge(struct every_state *every, const struct cause *explained, struct result *result);
/* What colours say of a data line that would explain the cells; as colours_rule_out(). */
bool every_colours_rule_out(const struct every_state *every, const struct cause *cause);
/* Lit cells lie between black and white, in field after field. */
bool every_colours_dim(const struct every_state *every);

#endif
