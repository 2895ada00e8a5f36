/*
 * The present, as `watch` shows it: what the video of the last moments is like, and the first thing that is
 * wrong with it. Judges no run. Time is the caller's, in microseconds, and never goes back.
 */
#ifndef SLOTJIG_COMMANDS_WATCH_NOW_H
#define SLOTJIG_COMMANDS_WATCH_NOW_H

#include "commands/watch_trouble.h"
#include "picture/frames.h"
#include "plan/plan.h"

#include <stdbool.h>
#include <stdint.h>

enum {
    WATCH_BIN_MS = 500,
    WATCH_BINS = 120,      /* of the strip: a minute */
    WATCH_SILENT_MS = 400, /* without a frame: the source has stopped. A frame comes every 40 ms at most */
    WATCH_BLIND_MS = 250,  /* without a slate of the image: it is gone, not merely a field lost */
    WATCH_STILL_MS = 700,  /* with one slate only; its counter moves every field */
    WATCH_STEPS_SHOWN = 6  /* of those that are wrong */
};
#define WATCH_NOTHING_READ (-1.0)
#define WATCH_NOT_YET (-2.0)
#define WATCH_MARGIN_THIN 0.4 /* common practice, no source: twice what a cell needs to be clear is 0.5 */

/* From the gravest to the best. */
enum watch_kind {
    WATCH_NO_FRAMES,
    WATCH_NO_SIGNAL,
    WATCH_NO_SLATE,
    WATCH_BAD_SLATE,
    WATCH_IDLE,
    WATCH_OTHER_IMAGE,
    WATCH_STANDS_STILL,
    WATCH_CUT_OFF,
    WATCH_UNCLEAR,
    WATCH_WRONG,
    WATCH_TROUBLE,
    WATCH_THIN,
    WATCH_WELL,
    WATCH_KINDS
};

enum watch_check {
    CHECK_FRAMES,
    CHECK_SIGNAL,
    CHECK_SLATE,
    CHECK_RASTER,
    CHECK_MARGIN,
    CHECK_CELLS,
    CHECK_CAPTURE,
    WATCH_CHECKS
};
enum watch_state { WATCH_UNKNOWN, WATCH_GOOD, WATCH_BAD };

struct watch_words {
    const char *name;     /* "no_signal" */
    const char *level;    /* "well", "look", "wrong", "blind" */
    const char *headline; /* "No signal" */
    char text[320];       /* what is seen */
    char next[320];       /* one thing to do */
};

struct watch_view {
    enum watch_kind kind;
    struct watch_words words, silent; /* silent: what to say when nothing comes any more */
    enum watch_state checks[WATCH_CHECKS];
    bool has_margin;
    double margin;            /* worst of the last second at most */
    double strip[WATCH_BINS]; /* worst of each bin, oldest first; or the two above */
    double frames_a_second, fields_a_second;
    double noise_db; /* 0: not known */
    size_t trouble_count;
    const char *troubles[TROUBLES_MAX]; /* in two or three words each */
    bool has_raster;
    struct raster raster;
    long step;                     /* shown last; -1: none */
    size_t steps_seen, steps_good; /* as they were when shown last */
    size_t wrong_count;
    long wrong[WATCH_STEPS_SHOWN]; /* shown last first */
    uint64_t wrong_cells[WATCH_STEPS_SHOWN];
};

struct watch_now; /* allocated once */

struct watch_now *watch_now_new(const struct plan *plan, uint16_t hash);
void watch_now_free(struct watch_now *now);

void watch_now_frame(struct watch_now *now, uint64_t time_us);
/* Returns the cells that are wrong in this field. */
uint64_t watch_now_field(struct watch_now *now, uint64_t time_us, const struct reading *reading,
                         int frame_lines);
/* All counts so far; some times a second. */
void watch_now_facts(struct watch_now *now, uint64_t time_us, const struct frames_facts *facts,
                     const struct video_counts *counts);
void watch_now_look(struct watch_now *now, uint64_t time_us, struct watch_view *view);

/* "gone", "bad" ... of JSON. */
const char *watch_check_name(enum watch_check check);

#endif
