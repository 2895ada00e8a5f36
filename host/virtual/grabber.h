/*
 * The grabber: fields of the video chip as frames of a 13.5 MHz BT.601 sampling, 720 samples a line, YUYV 4:2:2, two non-interlaced
 * fields woven to a frame. Luma 16 is black, 235 white [S ITU-R BT.601]; one step of the eight levels is a seventh of that. Hue by angle:
 * hue 0 has none, hue 1 to 15 stand 24 degrees apart [A: an even spacing, a console's own differs].
 */
#ifndef SLOTJIG_VIRTUAL_GRABBER_H
#define SLOTJIG_VIRTUAL_GRABBER_H

#include "capture/video.h"
#include "virtual/bench.h"
#include "virtual/tia.h"

#include <stdbool.h>

enum { GRABBER_WIDTH = 720 };

struct grabber;

/* NULL when memory is short. */
struct grabber *grabber_new(enum standard standard, const struct grabber_options *options, uint64_t seed);
void grabber_free(struct grabber *grabber);

/* Puts a field into the frame: first the older one, then the newer. field NULL, or one without vertical sync or with a number of lines
 * that no grabber locks to (more than 20 from the standard's): black. */
void grabber_field(struct grabber *grabber, const struct tia_field *field, bool newer);

/* The frame as it stands; its samples belong to the grabber. */
struct frame grabber_frame(const struct grabber *grabber);

#endif
