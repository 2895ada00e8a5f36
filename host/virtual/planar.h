/* Packed frames to planes: 4:2:0, and what a round through MJPEG leaves of them. */
#ifndef SLOTJIG_VIRTUAL_PLANAR_H
#define SLOTJIG_VIRTUAL_PLANAR_H

#include "base/problem.h"
#include "capture/video.h"

#include <stddef.h>

struct planar;

/* quality 0: no MJPEG. PROBLEM_BENCH: out of memory. */
struct planar *planar_new(int width, int height, bool half_height_chroma, int quality,
                          struct problem *problem);
void planar_free(struct planar *planar);

/* From YUYV; fills the frame's planes, which are good until the next call. */
bool planar_frame(struct planar *planar, const uint8_t *yuyv, ptrdiff_t stride, struct frame *frame,
                  struct problem *problem);

#endif
