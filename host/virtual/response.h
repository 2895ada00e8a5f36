/*
 * How a band-limited channel shows the edges between colour clocks: a table of what an edge of height 1 adds
 * to samples around it, beyond a step at the instant.
 */
#ifndef SLOTJIG_VIRTUAL_RESPONSE_H
#define SLOTJIG_VIRTUAL_RESPONSE_H

#include "virtual/tia.h"

enum {
    RESPONSE_PHASES = 64, /* steps a sample */
    RESPONSE_REACH = 20,  /* most samples that an edge reaches to either side */
    RESPONSE_TAPS = 2 * RESPONSE_REACH,
    RESPONSE_MARGIN = 2 * RESPONSE_REACH, /* to be had on both sides of a line's samples */
    RESPONSE_EDGES = TIA_VISIBLE + 1
};

struct response {
    int width; /* samples of a line */
    int reach; /* samples that an edge does reach */
    float correction[RESPONSE_PHASES][RESPONSE_TAPS];
    /* Of the left edge of each clock, and the right one of the last: where it lies, in phases. */
    int at[RESPONSE_EDGES];
};

/* bandwidth: of a Gaussian low-pass, -3 dB, in cycles a sample, at least 0.03. overshoot: of an edge, as a
 * share of it (sharpening; 0 none). left: the instant, in samples, of clock 0's left edge; pitch: samples a
 * clock. */
void response_init(struct response *response, double bandwidth, double overshoot, double left, double pitch,
                   int width);

/* Fills samples[-RESPONSE_MARGIN .. width + RESPONSE_MARGIN - 1]: outside before and after the clocks. late:
 * phases by which all of it lies further to the right. */
void response_draw(const struct response *response, const float clocks[TIA_VISIBLE], float outside, int late,
                   float *samples);

#endif
