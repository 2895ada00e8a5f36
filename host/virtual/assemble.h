/* Sampled fields to frames, as grabbers lay them out. Lines are LINE_BYTES of YUYV (digitise.h). */
#ifndef SLOTJIG_VIRTUAL_ASSEMBLE_H
#define SLOTJIG_VIRTUAL_ASSEMBLE_H

#include "virtual/digitise.h"

enum { FRAME_LINES_MAX = 2 * FIELD_LINES_MAX };

struct canvas {
    uint8_t lines[FRAME_LINES_MAX][LINE_BYTES];
};

/* How the fields of a frame lie in it, from the options. */
struct layout {
    enum grabber_layout kind;
    int fields; /* that make a frame: 1 or 2 */
    int first;  /* 0: the older field is the top one, 1: the bottom one */
    int stale;  /* the one that is kept: 0 top, 1 bottom; -1: none */
    int field_lines;
    int height;
    enum grabber_part black;
};

void layout_of(enum standard standard, const struct grabber_options *options, struct layout *layout);

/* Where the lines of the top (0) or bottom (1) field are in a woven or stacked frame, and the only one's in a
 * single. */
struct lines layout_lines(const struct layout *layout, struct canvas *canvas, int parity);

/* From fields[0], the older, and with two a frame fields[1], both packed. turn: counts frames; a bobbed one
 * is a line lower every other time. */
void assemble(const struct layout *layout, const uint8_t *const fields[2], unsigned turn,
              struct canvas *canvas);

/* The part of the frame that is black, if any. */
void blacken(const struct layout *layout, struct canvas *canvas);

/* The comb filter, on a packed field: each line takes so much of its neighbours, or of the one that is more
 * like it. */
void comb_lines(uint8_t *field, int lines, double share, bool adaptive);

#endif
