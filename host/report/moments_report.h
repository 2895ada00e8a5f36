/* Plan `moments`, written out: text, CSV, JSON, charts; and two consoles held side by side. What was measured
 * and what is derived are never in one column. */
#ifndef SLOTJIG_REPORT_MOMENTS_REPORT_H
#define SLOTJIG_REPORT_MOMENTS_REPORT_H

#include "verdict/moments.h"

#include <jansson.h>
#include <stdio.h>

/* `delays`, `windows`, `arithmetic`, `moments`: merged into the result's object. */
json_t *moments_json(const struct moments *moments);
void moments_terminal(FILE *stream, const struct moments *moments);
/* Into the folder: moments.csv, moments.txt, moments.svg. */
bool moments_write(const struct moments *moments, const char *folder, struct problem *problem);

#endif
