/* Captured frames as RGB pictures: Y'CbCr of limited range, 16..235 and 16..240 about 128 [S ITU-R BT.601].
 */
#ifndef SLOTJIG_REPORT_RGB_H
#define SLOTJIG_REPORT_RGB_H

#include "capture/video.h"

#include <stdint.h>

/* Both write frame->height rows of frame->width pixels, 3 bytes (red, green, blue) each, no gaps. */
void rgb_from_frame(const struct frame *frame, uint8_t *rgb);
/* One field of a woven frame, parity 0 the top lines, 1 the bottom ones; each of its lines is shown twice. A
 * frame that is one field only is shown as it is. */
void rgb_from_field(const struct frame *frame, int parity, uint8_t *rgb);

#endif
