/* A picture to a PNG file. */
#ifndef SLOTJIG_REPORT_PNG_H
#define SLOTJIG_REPORT_PNG_H

#include "base/problem.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A picture of at most 256 colours gets a table of them: it is smaller then, and sooner made.
 * rgb: height rows of width pixels, 3 bytes (red, green, blue) each, no gaps, sRGB. The file stands whole or
 * not at all. PROBLEM_INPUT when it cannot be created there or the size is not at least 1 by 1, PROBLEM_BENCH
 * when memory or disk fail. */
bool png_write(const char *path, const uint8_t *rgb, int width, int height, struct problem *problem);

/* The same into memory: *bytes is the caller's to free. */
bool png_bytes(const uint8_t *rgb, int width, int height, uint8_t **bytes, size_t *size,
               struct problem *problem);

/* And into memory that is there, made in a hurry and therefore somewhat larger. bytes: room for png_room().
 * Returns the size, or 0 when memory is short. */
size_t png_encode(const uint8_t *rgb, int width, int height, void *bytes, size_t room);
/* Bytes that suffice for any picture of that size. */
size_t png_room(int width, int height);

#endif
