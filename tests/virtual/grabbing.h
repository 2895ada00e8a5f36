/* Fields made by hand, given to a grabber, and what its frames show. */
#ifndef SLOTJIG_TESTS_VIRTUAL_GRABBING_H
#define SLOTJIG_TESTS_VIRTUAL_GRABBING_H

#include "virtual/grabber.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { WHITE = 0x0E };

static struct tia_field field; /* large: kept off the stack */

static inline struct grabber_options usual(void) {
    struct grabber_options options;
    grabber_defaults(STANDARD_NTSC, &options);
    return options;
}

/* As many lines as the standard has (262, 312), synced, blank all over. */
static inline void blank_field(int lines) {
    memset(&field, 0, sizeof field);
    memset(field.pixel, TIA_BLANKED, sizeof field.pixel);
    field.lines = lines;
    field.synced = true;
    field.sync_lines = 3;
}

static inline void colour_clocks(int line, int from, int to, uint8_t colour) {
    memset(field.pixel[line] + from, colour, (size_t)(to - from));
}

static inline void colour_all(uint8_t colour) {
    for (int line = 0; line < field.lines; line++) {
        colour_clocks(line, 0, TIA_VISIBLE, colour);
    }
}

/* On every line. */
static inline void colour_bar(int from, int to, uint8_t colour) {
    for (int line = 0; line < field.lines; line++) {
        colour_clocks(line, from, to, colour);
    }
}

/* As the chip does. */
static inline void mark_same_lines(void) {
    for (int line = 1; line < field.lines; line++) {
        field.same_as_above[line] = memcmp(field.pixel[line], field.pixel[line - 1], TIA_VISIBLE) == 0;
    }
}

static inline struct grabber *open_grabber(enum standard standard, const struct grabber_options *options,
                                           uint64_t seed) {
    struct problem problem;
    struct grabber *grabber = grabber_new(standard, options, seed, &problem);
    if (grabber == NULL) {
        fail_msg("%s", problem.text);
    }
    return grabber;
}

/* The next frame, of this field (NULL: of none) over and over. */
static inline struct frame next_of(struct grabber *grabber, const struct tia_field *shown) {
    struct frame frame;
    struct problem problem;
    while (!grabber_ready(grabber)) {
        grabber_take(grabber, shown);
    }
    if (!grabber_frame(grabber, &frame, &problem)) {
        fail_msg("%s", problem.text);
    }
    return frame;
}

/* The first frame that shows nothing but the field: by its second the grabber has locked. */
static inline struct frame take(struct grabber *grabber) {
    for (int i = 0; i < 2; i++) {
        grabber_take(grabber, &field);
        while (grabber_ready(grabber)) {
            next_of(grabber, NULL);
        }
    }
    return next_of(grabber, &field);
}

static inline int sample(const struct plane *plane, int x, int y) {
    return plane->data[y * plane->stride + x * plane->step];
}

static inline int chroma(const struct frame *frame, const struct plane *plane, int x, int y) {
    return sample(plane, x >> frame->chroma_x, y >> frame->chroma_y) - 128;
}

/* The instant of an edge from what lies under it: a band-limited step between black before and white after
 * adds as many whites, on average, as there are samples after it. from: black; to: white, either may be the
 * greater. Gain 1, offset 0. */
static inline double edge_instant(const struct frame *frame, int y, int from, int to) {
    double sum = 0;
    int toward = to > from ? 1 : -1;
    for (int x = from; x != to; x += toward) {
        sum += (sample(&frame->y, x, y) - 16) / 219.0;
    }
    return to - toward * (sum + 0.5);
}

/* The magnitude of what a channel with this response to an edge does at a frequency, in cycles a step. */
static inline double edge_magnitude(const double *edge, int steps, double frequency) {
    double real = 0, imaginary = 0;
    for (int i = 1; i < steps; i++) {
        double angle = 2 * M_PI * frequency * i;
        real += (edge[i] - edge[i - 1]) * cos(angle);
        imaginary += (edge[i] - edge[i - 1]) * sin(angle);
    }
    return hypot(real, imaginary);
}

#endif
