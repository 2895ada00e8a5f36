/*
 * The virtual grabber: what a BT.601 capture device makes of a field of the console's video. Two fields woven
 * a frame, YUYV 4:2:2.
 *
 * Luma code = 16 + 219 * (offset + gain * level), clipped to 0..255; level is the colour code's luminance
 * step (D3-1) over 7, blank is black. Sample x is the signal at the instant x. Edges are those of a Gaussian
 * low-pass: no overshoot. Hue h (1..15) is (h - 1) * 24 degrees from the -Cb axis, where the colour burst
 * lies, towards -Cr [M]; its amplitude is the same for all, its noise none. SECAM: no hue.
 *
 * It locks when a vertical sync has come twice running within GRABBER_LOCK_LINES of the standard's frame, and
 * lets go at the first that does not; unlocked, it delivers flat black.
 */
#ifndef SLOTJIG_VIRTUAL_GRABBER_H
#define SLOTJIG_VIRTUAL_GRABBER_H

#include "base/problem.h"
#include "base/standard.h"
#include "capture/video.h"
#include "virtual/bench.h"
#include "virtual/tia.h"

#include <stdbool.h>
#include <stdint.h>

enum {
    GRABBER_WIDTH = 720, /* samples of a BT.601 line [S] */
    /* The console's line, counted from the start of vertical sync, that is the captured field's line 0 [M] */
    GRABBER_FIRST_NTSC = 21,
    GRABBER_FIRST_PAL = 23,
    GRABBER_LOCK_LINES = 20 /* [P] */
};

struct grabber;

/* PROBLEM_INPUT: a property out of range (each is named). seed: of the noise. Freed with grabber_free(). */
struct grabber *grabber_new(enum standard standard, const struct grabber_options *options, uint64_t seed,
                            struct problem *problem);
void grabber_free(struct grabber *grabber);

/* Digitises a field into the older (which = 0) or younger (1) lines of the frame. NULL: no video at all. */
void grabber_take(struct grabber *grabber, const struct tia_field *field, int which);

/* The frame as it stands; its planes are the grabber's and good until the next grabber_take(). number is the
 * caller's to fill. */
void grabber_frame(const struct grabber *grabber, struct frame *frame);

#endif
