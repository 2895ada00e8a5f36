/* A step's picture line by line, one line of the canvas each: for steps of many bands, such as drawings. */
#ifndef SLOTJIG_REPORT_LINE_PICTURE_H
#define SLOTJIG_REPORT_LINE_PICTURE_H

#include "expect/expect.h"
#include "picture/picture.h"
#include "plan/plan.h"
#include "report/canvas.h"

#include <stdbool.h>

/* True where a row of cells would not show the step. */
bool line_picture_wanted(const struct step *step);

void line_picture_expected(struct canvas *canvas, int x, int y, int cell_width,
                           const struct expectation *expectation);
/* Differences have a colour and a pattern: missing cells are dotted, surplus ones barred at both ends,
 * unclear ones dashed. */
void line_picture_seen(struct canvas *canvas, int x, int y, int cell_width,
                       const struct expectation *expectation, const struct reading *reading);

#endif
