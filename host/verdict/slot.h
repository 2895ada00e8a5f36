/*
 * What the slot says of a console: from the board's watch and the image that should run, findings in the
 * order in which they are worth looking at, each with what to try, least invasive first. Pure functions.
 * Meant for runs that did not pass, and for a look at a bench without a run.
 */
#ifndef SLOTJIG_VERDICT_SLOT_H
#define SLOTJIG_VERDICT_SLOT_H

#include "verdict/verdict.h"

#include "slotjig/wire.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* As WIRE_WATCH tells it, of the last whole second. */
struct slot_seen {
    bool supply;
    int age_ms; /* -1: not a whole second yet */
    uint32_t cycles, resets, vsyncs, mailbox, missed;
    uint16_t high, low; /* masks of address lines that were seen high, low */
    bool echoed_low, echoed_high, echoed_step;
    uint8_t vector_low, vector_high, step;
    int traced; /* addresses after the last fetch of the reset vector */
    uint16_t trace[WIRE_TRACE];
};

/* The image that should run. */
struct slot_image {
    uint16_t vector; /* the word at the reset vector */
    bool mailbox;    /* it reads the mailbox each frame, and a jump stands where the vector points */
    uint16_t start;  /* with mailbox: where that jump goes */
};
/* Takes them from an image of 2048 to 32768 bytes whose last bank the board starts in. */
void slot_image_of(const uint8_t *bytes, size_t size, bool mailbox, struct slot_image *image);

/* What the grabber had of this image. */
enum slot_video {
    SLOT_VIDEO_UNKNOWN, /* nobody looked */
    SLOT_VIDEO_NONE,    /* never any picture */
    SLOT_VIDEO_OTHER,   /* pictures, never one of this image's */
    SLOT_VIDEO_LOST,    /* this image's pictures, and then no more */
    SLOT_VIDEO_FINE     /* this image's pictures to the end */
};
/* From a run's result, whose findings are those of judge_result(). */
enum slot_video slot_video_of(const struct result *result);

enum { SLOT_EXPLAINED_MAX = 4 };

/* Fills at most SLOT_EXPLAINED_MAX findings and returns how many. 0: nothing to blame on slot, console or
 * capture, or no whole second was watched yet. Several findings are ways to explain the same numbers, the
 * likeliest first; all of them are then marked as alternatives. */
size_t slot_explain(const struct slot_seen *seen, const struct slot_image *image, enum slot_video video,
                    struct finding findings[SLOT_EXPLAINED_MAX]);

#endif
