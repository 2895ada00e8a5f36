/* Plan `moments`, written out: text, CSV, JSON, chart; read back, and two consoles held side by side. What
 * was measured and what is derived are never in one column. */
#ifndef SLOTJIG_REPORT_MOMENTS_REPORT_H
#define SLOTJIG_REPORT_MOMENTS_REPORT_H

#include "base/problem.h"
#include "verdict/moments.h"
#include "verdict/moments_differ.h"

#include <jansson.h>
#include <stdio.h>

/* `delays`, `windows`, `arithmetic`, `moments`: merged into the result's object. */
json_t *moments_json(const struct moments *moments);
void moments_terminal(FILE *stream, const struct moments *moments);
/* Into the folder: moments.csv, moments.txt, moments.svg. of: whose they are, such as the bench. */
bool moments_write(const struct moments *moments, const char *of, const char *folder,
                   struct problem *problem);

/* Of a result of plan `moments`; delays and windows are worked out anew. where: what the problem's text
 * begins with, such as the file. PROBLEM_INPUT names the entry. */
bool moments_from_json(const json_t *result, const char *where, enum standard standard,
                       struct moments *moments, struct problem *problem);

/* Two consoles; both are needed for the values that differ. */
struct moments_pair {
    const struct moments *first, *second;
    const struct moments_difference *difference;
};
json_t *moments_difference_json(const struct moments_pair *pair);
void moments_difference_text(FILE *stream, const struct moments_pair *pair);
void moments_difference_csv(FILE *stream, const struct moments_pair *pair);

#endif
