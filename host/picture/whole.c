/* The whole picture's one colour. */
#include "picture/parts.h"

void whole_measure(const struct field *field, const struct reading *reading, struct detail *detail) {
    (void)field, (void)reading;
    detail->whole = (struct cell_colour){0};
    detail->whole_spread = 0;
}
