/*
 * Charts as SVG: self-contained, with title, description and units; light and dark by the viewer's
 * preference; shapes and line styles say what colours say. Written to a stream by us alone.
 */
#ifndef SLOTJIG_REPORT_CHART_H
#define SLOTJIG_REPORT_CHART_H

#include "verdict/moments.h"
#include "verdict/palette.h"

#include <stdio.h>

void chart_colours(FILE *stream, const struct palette *palette);
/* Both consoles' in one. */
void chart_colours_difference(FILE *stream, const struct palette *first, const struct palette *second);

void chart_moments(FILE *stream, const struct moments *moments);
void chart_moments_difference(FILE *stream, const struct moments *first, const struct moments *second);

#endif
