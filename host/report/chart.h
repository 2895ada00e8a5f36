/*
 * Charts as SVG: self-contained, with title, description and units; light and dark by the viewer's
 * preference; shapes and line styles say what colours say. of: whose numbers they are, such as the bench.
 * Written to a stream by us alone.
 */
#ifndef SLOTJIG_REPORT_CHART_H
#define SLOTJIG_REPORT_CHART_H

#include "verdict/moments.h"
#include "verdict/palette.h"
#include "verdict/reader.h"

#include <stdio.h>

/* number: that of svg_begin(); 0: a file of its own. */
void chart_colours(FILE *stream, int number, const struct palette *palette, const char *of);
/* Both consoles' in one. */
void chart_colours_difference(FILE *stream, const struct palette *first, const struct palette *second,
                              const char *of);

void chart_moments(FILE *stream, int number, const struct moments *moments, const char *of);
void chart_moments_difference(FILE *stream, const struct moments *first, const struct moments *second,
                              const char *of);

/* A reader's times by address, a panel a bank. */
void chart_reader(FILE *stream, int number, const struct reader_result *result,
                  const struct reader_limits *limits, const char *of);

#endif
