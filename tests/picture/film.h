/*
 * Frames for tests, put together line by line from drawn fields that follow each other: the step is always
 * the same unless a test changes it, the counter goes on by one a field.
 */
#ifndef SLOTJIG_TESTS_PICTURE_FILM_H
#define SLOTJIG_TESTS_PICTURE_FILM_H

#include "draw.h"
#include "picture/frames.h"

enum { FILM_WIDTH = 720, FILM_LINES = 240, FILM_COUNTERS = 64, FILM_STEP = 3, FILM_HASH = 0xA5C3 };

struct film {
    uint8_t *field[FILM_COUNTERS]; /* FILM_LINES lines each */
    uint8_t black[FILM_LINES * FILM_WIDTH];
    uint8_t luma[4 * FILM_LINES * FILM_WIDTH]; /* of the frame at hand */
    struct frame frame;
};

static inline void film_open(struct film *film) {
    struct scene scene = scene_usual(STANDARD_NTSC);
    scene.step = 1;
    for (int line = 0; line < 168; line++) {
        scene.cells[line] = UINT64_C(0x5A5A5A5A5A);
    }
    memset(film->black, 16, sizeof film->black);
    for (int n = 0; n < FILM_COUNTERS; n++) {
        scene.slate = (struct slate){FILM_HASH, FILM_STEP, (uint8_t)n};
        draw_field(&scene, &film->field[n]);
    }
}

static inline void film_close(struct film *film) {
    for (int n = 0; n < FILM_COUNTERS; n++) {
        free(film->field[n]);
    }
}

static inline const uint8_t *film_field(const struct film *film, int counter) {
    return counter < 0 ? film->black : film->field[counter % FILM_COUNTERS];
}

static inline void film_frame(struct film *film, int height) {
    uint64_t number = film->frame.number + 1;
    film->frame = (struct frame){.width = FILM_WIDTH,
                                 .height = height,
                                 .y = {.data = film->luma, .stride = FILM_WIDTH, .step = 1},
                                 .number = number};
}

/* Counters; below 0: black. */
static inline void film_weave(struct film *film, int top, int bottom) {
    for (int line = 0; line < FILM_LINES; line++) {
        memcpy(film->luma + 2 * line * FILM_WIDTH, film_field(film, top) + line * FILM_WIDTH, FILM_WIDTH);
        memcpy(film->luma + (2 * line + 1) * FILM_WIDTH, film_field(film, bottom) + line * FILM_WIDTH,
               FILM_WIDTH);
    }
    film_frame(film, 2 * FILM_LINES);
}

static inline void film_stack(struct film *film, int upper, int lower) {
    memcpy(film->luma, film_field(film, upper), FILM_LINES * FILM_WIDTH);
    memcpy(film->luma + FILM_LINES * FILM_WIDTH, film_field(film, lower), FILM_LINES * FILM_WIDTH);
    film_frame(film, 2 * FILM_LINES);
}

static inline void film_single(struct film *film, int counter) {
    memcpy(film->luma, film_field(film, counter), FILM_LINES * FILM_WIDTH);
    film_frame(film, FILM_LINES);
}

/* Every line of one parity from the field, the others the mean of the two beside. */
static inline void film_fill_in(struct film *film, int counter, int parity) {
    const uint8_t *field = film_field(film, counter);
    for (int line = 0; line < 2 * FILM_LINES; line++) {
        int above = (line - parity) / 2, below = line % 2 == parity ? above : above + 1;
        above = line < parity ? 0 : above;
        below = below < FILM_LINES ? below : FILM_LINES - 1;
        for (int x = 0; x < FILM_WIDTH; x++) {
            film->luma[line * FILM_WIDTH + x] =
                (uint8_t)((field[above * FILM_WIDTH + x] + field[below * FILM_WIDTH + x] + 1) / 2);
        }
    }
    film_frame(film, 2 * FILM_LINES);
}

/* A woven frame whose lines are weighted means of three. */
static inline void film_blend(struct film *film, int top, int bottom, const int weights[3]) {
    static uint8_t woven[2 * FILM_LINES * FILM_WIDTH];
    int sum = weights[0] + weights[1] + weights[2], last = 2 * FILM_LINES - 1;
    film_weave(film, top, bottom);
    memcpy(woven, film->luma, sizeof woven);
    for (int line = 0; line <= last; line++) {
        const uint8_t *here = woven + line * FILM_WIDTH;
        const uint8_t *above = line > 0 ? here - FILM_WIDTH : here;
        const uint8_t *below = line < last ? here + FILM_WIDTH : here;
        for (int x = 0; x < FILM_WIDTH; x++) {
            int mixed = weights[0] * above[x] + weights[1] * here[x] + weights[2] * below[x];
            film->luma[line * FILM_WIDTH + x] = (uint8_t)((mixed + sum / 2) / sum);
        }
    }
}

#endif
