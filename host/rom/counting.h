/*
 * Plans that count on the console (every.h, moments.h): the next value, what their picture needs, and the
 * picture's lines. Inside rom/ only.
 */
#ifndef SLOTJIG_ROM_COUNTING_H
#define SLOTJIG_ROM_COUNTING_H

#include "rom/kernel.h"

enum { COUNTING_NEXT_LINES = 2, COUNTING_SPARE_CYCLES = 12 };

/* What one kind of plan does. Labels are `counting_next`'s. */
struct counting {
    /* From RAM_VALUE on to the value after it, but for the end, within a line. */
    void (*count)(struct encoder *encoder, const struct plan *plan);
    /* The value in the mailbox into RAM_VALUE, reading each of its bytes once; to the label `count` where it
     * is none, else on. */
    void (*given)(struct encoder *encoder);
    /* Past the end, back to the start; goes to the label `kept` or on. */
    void (*wrap)(struct encoder *encoder, const struct plan *plan);
    /* Whole lines: all that follows from RAM_VALUE. RAM_HELD is COLUBK, +2 comes to the picture in X, +3 in
     * Y. */
    void (*prepare)(struct encoder *encoder, const struct plan *plan);
    int prepare_lines;
    /* May be NULL: exactly COUNTING_SPARE_CYCLES, in the blank of each of the slate's rows. Y is to be kept.
     */
    void (*spare)(struct encoder *encoder, int row);
    /* From a page's start: the label `picture`, reached with cycle 3 of the picture's first line, its lines,
     * and a jump to `overscan` at the start of the one below. */
    void (*picture)(struct encoder *encoder, const struct plan *plan);
    void (*tables)(struct encoder *encoder); /* may be NULL */
};

/* NULL where the plan has steps. */
const struct counting *counting_of(const struct plan *plan);

/* Two lines: the next value, when RAM_WORK says that the hold ran out. */
void counting_next(struct encoder *encoder, const struct kernel_options *options);

extern const struct counting every_counting, moments_counting;

#endif
