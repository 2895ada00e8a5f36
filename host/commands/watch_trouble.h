/* What the capture chain does to the video just now: the judge's own rules, on what the last seconds alone
 * have counted. */
#ifndef SLOTJIG_COMMANDS_WATCH_TROUBLE_H
#define SLOTJIG_COMMANDS_WATCH_TROUBLE_H

#include "verdict/verdict.h"

#include <stddef.h>

/* What was counted between two moments. What facts hold beside counts is the later ones'. */
struct frames_facts watch_facts_between(const struct frames_facts *from, const struct frames_facts *to);
struct video_counts watch_counts_between(const struct video_counts *from, const struct video_counts *to);

/* Two or three words for a headline. */
const char *watch_trouble_name(enum finding_kind kind);

#endif
