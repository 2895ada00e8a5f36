/* An RGB picture in memory with the few shapes that the reports need. Drawing outside it is clipped. */
#ifndef SLOTJIG_REPORT_CANVAS_H
#define SLOTJIG_REPORT_CANVAS_H

#include <stdint.h>

struct canvas {
    int width, height;
    uint8_t *rgb; /* width * height * 3, rows from top to bottom */
};

struct colour {
    uint8_t r, g, b;
};

enum { GLYPH_WIDTH = 4, GLYPH_HEIGHT = 6 }; /* of one character with its gap, at scale 1 */

/* Allocates, filled with one colour. rgb is NULL when memory is short. */
struct canvas canvas_new(int width, int height, struct colour fill);
void canvas_free(struct canvas *canvas);

void canvas_fill(struct canvas *canvas, int x, int y, int width, int height, struct colour colour);
void canvas_frame(struct canvas *canvas, int x, int y, int width, int height, struct colour colour);
/* A cross from corner to corner of the box. */
void canvas_cross(struct canvas *canvas, int x, int y, int width, int height, struct colour colour);
/* Letters (drawn as capitals), digits and a little punctuation; others come out as a gap. */
void canvas_text(struct canvas *canvas, int x, int y, int scale, const char *text, struct colour colour);

#endif
