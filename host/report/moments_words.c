#include "report/moments_words.h"

#include <stdio.h>

const char *const moments_mode_names[MOMENT_MODES] = {"copy", "mirror"};
const char *const moments_half_names[HALVES] = {"left", "right"};
const char *const moments_edge_names[MOMENT_EDGES] = {"rising", "falling"};
const char *const moments_state_names[HALF_STATES] = {"", "old", "new", "changes", "mixed"};

void moments_delay_text(const struct moment_delay *delay, char text[MOMENTS_TEXT]) {
    if (!delay->known) {
        snprintf(text, MOMENTS_TEXT, "not known");
    } else if (delay->exact) {
        /* No "-0.00". */
        snprintf(text, MOMENTS_TEXT, "%.2f", delay->clocks > -0.005 && delay->clocks < 0 ? 0 : delay->clocks);
    } else {
        snprintf(text, MOMENTS_TEXT, "%.0f..%.0f", delay->low, delay->high);
    }
}

void moments_window_text(const struct write_window *window, char text[MOMENTS_TEXT]) {
    if (window->exists) {
        snprintf(text, MOMENTS_TEXT, "%d .. %d%s", window->first, window->last,
                 window->open ? " or more" : "");
    } else {
        snprintf(text, MOMENTS_TEXT, "%s", window->open ? "not known" : "none");
    }
}

void moments_half_text(const struct half_seen *half, char text[MOMENTS_TEXT]) {
    if (half->state == HALF_CHANGES) {
        snprintf(text, MOMENTS_TEXT, "%.2f", half->clock);
    } else {
        snprintf(text, MOMENTS_TEXT, "%s", moments_state_names[half->state]);
    }
}
