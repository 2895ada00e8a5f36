/* Frames copied and compared as the runs of bytes their planes lie in, whatever the kind of pixel. */
#ifndef SLOTJIG_CAPTURE_BLOCKS_H
#define SLOTJIG_CAPTURE_BLOCKS_H

#include "capture/video.h"

/* Bytes that frame_copy() needs for frames like this one. */
size_t frame_bytes(const struct frame *frame);
/* Into bytes; *copy becomes a view of them. */
void frame_copy(const struct frame *frame, uint8_t *bytes, struct frame *copy);
/* Whether two frames lie in memory the same way, so that either fits in the other's place. */
bool frame_alike(const struct frame *a, const struct frame *b);
/* Whether two frames are the same, sample for sample. A few lines tell most that differ apart. */
bool frame_same(const struct frame *a, const struct frame *b);

#endif
