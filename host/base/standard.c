#include "base/standard.h"

#include "slotjig/slate.h"

#include <string.h>

static const double bt601_hz = 13.5e6; /* ITU-R BT.601, luminance sampling frequency */

const struct standard_facts standard_table[STANDARD_COUNT] = {
    [STANDARD_NTSC] = {.name = "ntsc",
                       .sync_lines = 3,
                       .blank_lines = 37,
                       .picture_lines = 192,
                       .overscan_lines = 30,
                       .clock_hz = 3579545.0,
                       .frame_height = 480,
                       .frame_rate_num = 30000,
                       .frame_rate_den = 1001,
                       .top_first = false},
    [STANDARD_PAL] = {.name = "pal",
                      .sync_lines = 3,
                      .blank_lines = 45,
                      .picture_lines = 228,
                      .overscan_lines = 36,
                      .clock_hz = 3546894.0,
                      .frame_height = 576,
                      .frame_rate_num = 25,
                      .frame_rate_den = 1,
                      .top_first = true},
    [STANDARD_SECAM] = {.name = "secam",
                        .sync_lines = 3,
                        .blank_lines = 45,
                        .picture_lines = 228,
                        .overscan_lines = 36,
                        .clock_hz = 3546894.0,
                        .frame_height = 576,
                        .frame_rate_num = 25,
                        .frame_rate_den = 1,
                        .top_first = true},
};

int standard_lines(enum standard standard) {
    const struct standard_facts *facts = &standard_table[standard];
    return facts->sync_lines + facts->blank_lines + facts->picture_lines + facts->overscan_lines;
}

int standard_plan_lines(enum standard standard) {
    return standard_table[standard].picture_lines - SLATE_LINES;
}

double standard_samples_per_clock(enum standard standard) {
    return bt601_hz / standard_table[standard].clock_hz;
}

bool standard_from_name(const char *name, enum standard *standard) {
    for (int i = 0; i < STANDARD_COUNT; i++) {
        if (strcmp(name, standard_table[i].name) == 0) {
            *standard = (enum standard)i;
            return true;
        }
    }
    return false;
}
