/* Plan `colours`, written out: text, CSV, JSON, chart; and two consoles held side by side. */
#ifndef SLOTJIG_REPORT_PALETTE_REPORT_H
#define SLOTJIG_REPORT_PALETTE_REPORT_H

#include "base/problem.h"
#include "verdict/palette.h"

#include <jansson.h>
#include <stdio.h>

/* `colours`, `hues`: merged into the result's object. */
json_t *palette_json(const struct palette *palette);
void palette_terminal(FILE *stream, const struct palette *palette);
/* Into the folder: colours.csv, colours.txt, colours.svg. */
bool palette_write(const struct palette *palette, const char *folder, struct problem *problem);

#endif
