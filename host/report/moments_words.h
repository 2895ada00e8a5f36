/* What plan moments' parts are called, and numbers as texts. Inside report/ only. */
#ifndef SLOTJIG_REPORT_MOMENTS_WORDS_H
#define SLOTJIG_REPORT_MOMENTS_WORDS_H

#include "verdict/moments.h"

extern const char *const moments_mode_names[MOMENT_MODES]; /* "copy", "mirror" */
extern const char *const moments_half_names[HALVES];       /* "left", "right" */
extern const char *const moments_edge_names[MOMENT_EDGES]; /* "rising", "falling" */
extern const char *const moments_state_names[HALF_STATES]; /* "", "old", "new", "changes", "mixed" */

enum { MOMENTS_TEXT = 24 };
/* "2.00", "1..4", "not known". */
void moments_delay_text(const struct moment_delay *delay, char text[MOMENTS_TEXT]);
/* "-22 .. 22", "none". */
void moments_window_text(const struct write_window *window, char text[MOMENTS_TEXT]);
/* "148.02", "old". */
void moments_half_text(const struct half_seen *half, char text[MOMENTS_TEXT]);

#endif
