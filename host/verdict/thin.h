/*
 * Steps whose bands are a line or a few high (drawings): what a single line shows once, noise can show too.
 * So a cell is wrong there when its whole column is, or when two different fields say the same of the same
 * line. Inside verdict/ only.
 */
#ifndef SLOTJIG_VERDICT_THIN_H
#define SLOTJIG_VERDICT_THIN_H

#include "verdict/state.h"

enum { THIN_BAND = 6 /* lines; a band of fewer is too thin to speak for itself in one field */ };

/* Whether the step has such bands. */
bool thin_step(const struct step *step);

/* Before the first field. */
void thin_begin(struct thin *thin, const struct step *step);

/* The first line that is wrong, or -1: none, or it cannot be said (yet). *torn: what is wrong is how a
 * capture chain breaks a picture. Remembers what looked wrong, for the next field. */
int thin_wrong(struct thin *thin, const struct expectation *expect, const struct reading *reading, int lines,
               bool *torn);

/* Keeps the first wrong field. */
void thin_keep(struct thin *thin, const struct reading *reading, int line);
/* Whether that field is what is predicted, but for one line in twenty. */
bool thin_matches(const struct thin *thin, const struct expectation *expect,
                  const struct prediction *prediction);

#endif
