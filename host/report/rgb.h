/* Captured frames as RGB pictures: Y'CbCr of limited range, 16..235 and 16..240 about 128 [S ITU-R BT.601].
 */
#ifndef SLOTJIG_REPORT_RGB_H
#define SLOTJIG_REPORT_RGB_H

#include "capture/video.h"

#include <stdint.h>

/* frame->height rows of frame->width pixels, 3 bytes (red, green, blue) each, no gaps. */
void rgb_from_frame(const struct frame *frame, uint8_t *rgb);
/* The same of one field, each of its lines shown `rows` times: field->height * rows rows. */
void rgb_from_field(const struct field *field, int rows, uint8_t *rgb);

#endif
