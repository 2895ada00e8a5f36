/*
 * Frames to readings: finds out from the video itself how a source packs the console's fields into its
 * frames, splits each frame accordingly, and reads the fields. What it decides by are the slates alone.
 */
#ifndef SLOTJIG_PICTURE_FRAMES_H
#define SLOTJIG_PICTURE_FRAMES_H

#include "picture/picture.h"

#include <stdbool.h>
#include <stdint.h>

enum layout {
    LAYOUT_UNKNOWN, /* no slate was read so far */
    LAYOUT_WOVEN,   /* two fields, line by line */
    LAYOUT_STACKED, /* two fields, one above the other */
    LAYOUT_SINGLE,  /* one field, not higher than a field is */
    LAYOUT_BOBBED,  /* one field, its lines doubled or filled in */
    LAYOUT_BLENDED, /* two fields mixed by a deinterlacer */
    LAYOUTS
};
const char *layout_name(enum layout layout); /* "unknown", "woven" ... */

enum { FRAMES_SKIPPED = 2 }; /* fields that are not given out after the picture came (back) */

/* What was found out so far. Counts are of fields unless they say otherwise. */
struct frames_facts {
    enum layout layout; /* of the last frames */
    int changes;        /* times the layout changed on the way */
    int older;          /* woven, stacked: 0 the top field is the older, 1 the bottom one; -1 not known */
    int stale;  /* woven, stacked: 0 top, 1 bottom: that field of each frame is not fresh; -1: both are */
    int height; /* of the last frame, lines */
    uint64_t frames;
    uint64_t read;            /* slates read */
    uint64_t fresh;           /* of them, different from those before */
    uint64_t lost;            /* by the slates' counters: passed unseen between two that were seen */
    uint64_t doubled;         /* seen again */
    uint64_t swapped;         /* came before the one they follow */
    uint64_t blended;         /* two in one */
    uint64_t half_black;      /* frames of which one half had no signal and the other a slate */
    uint64_t frames_repeated; /* frames whose slates are all those of the frame before */
    uint64_t relocks;         /* times the picture was away and came back */
    double noise_db;          /* black-to-white over rms, mean; 0 when not known */
    double mixing;            /* mean */
    double slant;             /* mean */
    double white_low, white_high, black_low, black_high; /* least and most over the fields, codes */
    uint64_t clipped; /* fields whose white or black stood at the end of the code range */
};

/* A frame of more lines than a field pair has, blanking and all [S BT.470: 625], was scaled up after the
 * grabber.
 */
#define FRAME_LINES_MOST 625

struct frames; /* allocated once; holds the struct picture */

struct frames *frames_new(const struct picture_options *options);
void frames_free(struct frames *frames);
/* Reads one frame. Fields in the order in which the console drew them, as far as that is known; a field that
 * is not worth judging (the filled-in lines of a bobbed frame, the second of two blended ones) is left out.
 * Returns how many, 0 to 2. Never allocates. */
int frames_read(struct frames *frames, const struct frame *frame, struct field fields[2],
                struct reading readings[2]);
/* No frame came for a while: the device was away, say. The console went on meanwhile, so that its fields'
 * counters cannot be held against those before; and the next fields are the first ones after the picture
 * came. */
void frames_paused(struct frames *frames);
const struct frames_facts *frames_facts(const struct frames *frames);

#endif
