/*
 * Published patterns for checking analysers by WCAG's thresholds: "PSE test media" (TRACE RERC, 2025; J. B.
 * Jordan, "Evaluating Conformance of Video Safety Tools for Photosensitive Epilepsy", HCI International
 * 2025), 30 frames a second, folders lum_flash_patterns/rel_lum and red_flash_patterns/30fps. Their figures,
 * written here as runs of frames; their names: f is over, c is under by the count, l and y by the luminance
 * (y: of one flash alone).
 *
 * Left out are their patterns of several steps that are under by the luminance (l03n, y03n): there each
 * single step is below a tenth, and peak to valley, as WCAG's own note has it, is not; here these count. Of
 * red likewise those that are under by CIE 1976 chromaticity (d): the older definition, which is the one used
 * here, counts them.
 */
#include "flash/change.h"
#include "flash/flicker.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

enum { FRAMES_A_SECOND = 30, RUNS_MAX = 20 };

struct run {
    int frames;
    uint8_t red, green, blue;
};

struct pattern {
    const char *name;
    enum change_rule rule;
    bool over;
    struct run runs[RUNS_MAX];
};

#define GREY(frames, level)                                                                                  \
    { frames, level, level, level }
#define RED(frames)                                                                                          \
    { frames, 173, 64, 64 }
#define CYAN(frames)                                                                                         \
    { frames, 24, 112, 112 }

static const struct pattern patterns[] = {
    {"f001",
     CHANGE_GENERAL,
     true,
     {GREY(1, 64), GREY(1, 109), GREY(1, 64), GREY(1, 109), GREY(1, 64), GREY(1, 109), GREY(1, 64),
      GREY(25, 109)}},
    {"c001",
     CHANGE_GENERAL,
     false,
     {GREY(1, 64), GREY(1, 109), GREY(1, 64), GREY(1, 109), GREY(1, 64), GREY(1, 109), GREY(26, 64)}},
    {"l001",
     CHANGE_GENERAL,
     false,
     {GREY(1, 64), GREY(1, 108), GREY(1, 64), GREY(1, 108), GREY(1, 64), GREY(1, 108), GREY(1, 64),
      GREY(25, 108)}},
    {"f018",
     CHANGE_GENERAL,
     true,
     {GREY(1, 222), GREY(1, 235), GREY(9, 222), GREY(1, 235), GREY(9, 222), GREY(1, 235), GREY(8, 222),
      GREY(1, 235), GREY(3, 222)}},
    {"c018",
     CHANGE_GENERAL,
     false,
     {GREY(1, 222), GREY(1, 235), GREY(9, 222), GREY(1, 235), GREY(9, 222), GREY(1, 235), GREY(9, 222),
      GREY(1, 235), GREY(2, 222)}},
    {"l018",
     CHANGE_GENERAL,
     false,
     {GREY(1, 222), GREY(1, 234), GREY(9, 222), GREY(1, 234), GREY(9, 222), GREY(1, 234), GREY(8, 222),
      GREY(1, 234), GREY(3, 222)}},
    {"f024",
     CHANGE_GENERAL,
     true,
     {GREY(1, 158), GREY(5, 178), GREY(5, 158), GREY(5, 178), GREY(5, 158), GREY(4, 178), GREY(5, 158),
      GREY(4, 178)}},
    {"c024",
     CHANGE_GENERAL,
     false,
     {GREY(1, 158), GREY(5, 178), GREY(5, 158), GREY(5, 178), GREY(5, 158), GREY(5, 178), GREY(5, 158),
      GREY(3, 178)}},
    {"y024",
     CHANGE_GENERAL,
     false,
     {GREY(1, 158), GREY(5, 178), GREY(5, 158), GREY(5, 177), GREY(5, 158), GREY(4, 178), GREY(5, 158),
      GREY(4, 178)}},
    {"f034",
     CHANGE_GENERAL,
     true,
     {GREY(1, 158), GREY(1, 178), GREY(1, 196), GREY(8, 158), GREY(1, 196), GREY(1, 178), GREY(8, 158),
      GREY(1, 178), GREY(1, 196), GREY(1, 178), GREY(6, 158), GREY(1, 178), GREY(1, 196), GREY(2, 158)}},
    {"c034",
     CHANGE_GENERAL,
     false,
     {GREY(1, 158), GREY(1, 178), GREY(1, 196), GREY(8, 158), GREY(1, 196), GREY(1, 178), GREY(8, 158),
      GREY(1, 178), GREY(1, 196), GREY(1, 178), GREY(7, 158), GREY(1, 178), GREY(1, 196), GREY(1, 158)}},
    {"red f014",
     CHANGE_RED,
     true,
     {RED(1), CYAN(1), RED(9), CYAN(1), RED(9), CYAN(1), RED(8), CYAN(1), RED(3)}},
    {"red c014",
     CHANGE_RED,
     false,
     {RED(1), CYAN(1), RED(9), CYAN(1), RED(9), CYAN(1), RED(9), CYAN(1), RED(2)}},
};

static struct shade shade_at(const struct run *run) {
    return shade_of(run->red / 255.0, run->green / 255.0, run->blue / 255.0);
}

/* All over the picture; the first frame has nothing before it. */
static int most_changes(const struct pattern *pattern) {
    const uint64_t all = (UINT64_C(1) << CELLS) - 1;
    const struct shade first = shade_at(&pattern->runs[0]);
    const float start = pattern->rule == CHANGE_RED ? first.red : first.luminance;
    struct change change = {
        .low = start, .high = start, .low_red = first.saturated, .high_red = first.saturated};
    struct flicker *flicker = calloc(1, sizeof *flicker);
    assert_non_null(flicker);
    flicker_init(flicker, 8, FRAMES_A_SECOND);
    flicker_add_view(flicker, CELLS, 8, 0.25);
    for (const struct run *run = pattern->runs; run->frames > 0; run++) {
        const struct shade shade = shade_at(run);
        for (int i = 0; i < run->frames; i++) {
            uint64_t changed[PICTURE_LINES_MAX] = {0};
            const bool changes = change_step(&change, pattern->rule, 200, &shade);
            for (int line = 0; line < 8; line++) {
                changed[line] = changes ? all : 0;
            }
            flicker_field(flicker, changed, 1);
        }
    }
    const int most = flicker->view[0].most_by_cell;
    free(flicker);
    return most;
}

/* "More than three flashes: seven or more alternating transitions", as the patterns' authors have it too. */
static void published_patterns_are_called_as_published(void **unused) {
    (void)unused;
    for (size_t i = 0; i < sizeof patterns / sizeof patterns[0]; i++) {
        const int most = most_changes(&patterns[i]);
        if ((most >= 7) != patterns[i].over) {
            fail_msg("%s: %d changes in a second", patterns[i].name, most);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(published_patterns_are_called_as_published)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
