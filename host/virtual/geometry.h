/* Where the grabber's samples and lines lie on the console's picture. */
#ifndef SLOTJIG_VIRTUAL_GEOMETRY_H
#define SLOTJIG_VIRTUAL_GEOMETRY_H

#include "base/problem.h"
#include "base/standard.h"
#include "virtual/bench.h"

struct geometry {
    int width;         /* samples of a line, before it is cropped */
    int field_lines;   /* likewise */
    int first;         /* the console's line that is line 0 */
    double samples_hz; /* with the scale in it */
    double left;       /* clock 0's left edge at the middle line of the field */
    double pitch;      /* samples a clock */
};

/* False: a property is out of range. */
bool grabber_check(const struct grabber_options *options, struct problem *problem);
void geometry_of(enum standard standard, const struct grabber_options *options, struct geometry *geometry);
/* How far to the right of its place a line of the field is, for the slant. */
double geometry_slanted(const struct geometry *geometry, const struct grabber_options *options, double line);

#endif
