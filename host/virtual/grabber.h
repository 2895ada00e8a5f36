/*
 * The virtual grabber: what a BT.601 capture device makes of the fields of the console's video. Two fields
 * woven a frame, YUYV 4:2:2, unless its options say otherwise.
 *
 * Luma code = 16 + 219 * (offset + gain * level), clipped to 0..255; level is the colour code's luminance
 * step (D3-1) over 7, blank is black. Sample x is the signal at the instant x. Edges are those of a Gaussian
 * low-pass: no overshoot but what is asked for. Hue h (1..15) is (h - 1) * 24 degrees from the -Cb axis,
 * where the colour burst lies, towards -Cr [M]; its amplitude is the same for all. SECAM: no hue.
 *
 * It locks when a vertical sync has come twice running within GRABBER_LOCK_LINES of the standard's frame, and
 * lets go at the first that does not; unlocked, it delivers flat black.
 *
 * A field goes in, is sampled (digitise.h), lost, repeated or put off (fate.h), and comes out in a frame
 * (assemble.h).
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

void grabber_defaults(enum standard standard, struct grabber_options *options);

struct grabber;

/* PROBLEM_INPUT: a property out of range (each is named). seed: of all that is left to chance. Freed with
 * grabber_free(). */
struct grabber *grabber_new(enum standard standard, const struct grabber_options *options, uint64_t seed,
                            struct problem *problem);
void grabber_free(struct grabber *grabber);

/* Digitises the console's next field. NULL: no video at all. Not while a frame is ready. */
void grabber_take(struct grabber *grabber, const struct tia_field *field);

/* Whether fields enough came for a frame. */
bool grabber_ready(const struct grabber *grabber);

/* That frame; its planes are the grabber's and good until the next call of grabber_take() or grabber_frame().
 * number is the caller's to fill. PROBLEM_BENCH: it could not be compressed. */
bool grabber_frame(struct grabber *grabber, struct frame *frame, struct problem *problem);

struct canvas; /* virtual/assemble.h */
/* Whether frames can be drawn where the caller wants them: nothing of one is needed for the next. */
bool grabber_draws_into(const struct grabber *grabber);
/* The frame to come is drawn there, where it can be; NULL: the grabber's own. Before its first field is
 * taken. */
void grabber_draw_into(struct grabber *grabber, struct canvas *canvas);

/* Shape, rate and format of the frames to come; the rest stays. */
void grabber_tell(const struct grabber *grabber, struct video_about *about);

/* Where clocks 0 and 159 begin and end, in samples of the delivered frame, at the middle of the slate's band;
 * and the slant in samples a line of a field. For tests. */
struct grabber_truth {
    double left, right, slant;
};
struct grabber_truth grabber_truth(enum standard standard, const struct grabber_options *options);

#endif
