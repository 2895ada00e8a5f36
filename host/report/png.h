/* A picture to a PNG file. */
#ifndef SLOTJIG_REPORT_PNG_H
#define SLOTJIG_REPORT_PNG_H

#include "base/problem.h"

#include <stdbool.h>
#include <stdint.h>

/* rgb: height rows of width pixels, 3 bytes (red, green, blue) each, no gaps, sRGB. The file stands whole or
 * not at all. PROBLEM_INPUT when it cannot be created there or the size is not at least 1 by 1, PROBLEM_BENCH
 * when memory or disk fail. */
bool png_write(const char *path, const uint8_t *rgb, int width, int height, struct problem *problem);

#endif
