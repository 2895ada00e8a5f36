/*
 * The inside of a grabber: frames of a video source one after the other in real time, as packed YUYV or as
 * MJPEG, and what goes wrong with them on their way to the computer. Knows nothing of how they get there:
 * tests/video/v4l2.c brings them to an emulated kernel, tests/video/uvc.c to a real one.
 */
#ifndef TESTS_VIDEO_FEED_H
#define TESTS_VIDEO_FEED_H

#include "base/standard.h"
#include "capture/video.h"

#include <pthread.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum trouble_kind {
    TROUBLE_SHORT,  /* half of the bytes are missing */
    TROUBLE_MARKED, /* whole, but marked as damaged */
    TROUBLE_EMPTY,  /* no bytes at all */
    TROUBLE_GAP,    /* not given; number and time go on */
    TROUBLE_REPEAT, /* given once more, with the same number and time */
    TROUBLE_STUCK,  /* none comes, nor does their clock go on */
    TROUBLE_UNPLUG  /* the device goes; after `count` frames' time it is plugged in again */
};
enum { TROUBLES_MAX = 8, FOR_EVER = 1000000000 };

struct trouble {
    enum trouble_kind kind;
    uint64_t at, count; /* frames, counted while somebody wants them; a count of 0 ends the list */
};

struct feed_options {
    enum standard standard;
    double speed; /* how much faster than the standard's rate they come; their times do not */
    struct trouble troubles[TROUBLES_MAX];
    /* Troubles are counted from the first wanted frame of which this holds; NULL: from the first. */
    bool (*begins)(const struct frame *frame);
};

struct feed_wish {
    bool mjpeg;
    bool dark; /* the input that is chosen has no signal */
};

struct feed_frame {
    const uint8_t *bytes;
    size_t size;
    bool marked;
    uint32_t number;  /* since somebody wanted them; gaps count */
    uint64_t time_us; /* of CLOCK_MONOTONIC when the speed is 1 */
};

/* Called from the feed's own thread. */
struct feed_taker {
    void *state;
    bool (*wants)(void *state, struct feed_wish *wish);
    void (*give)(void *state, const struct feed_frame *frame);
    bool (*full)(void *state); /* who reads is behind, and more would be lost; may be NULL */
    void (*unplug)(void *state);
    void (*plug)(void *state);
};

struct feed;
/* source: borrowed; asked with the lock held (NULL: no lock), all the time, as a console runs all the time.
 * NULL: out of memory. */
struct feed *feed_start(const struct feed_options *options, const struct video_source *source,
                        pthread_mutex_t *lock, const struct feed_taker *taker);
/* Nothing is called any more once it returns. */
void feed_stop(struct feed *feed);
/* Frames that were wanted so far; of them given, whatever was wrong with them. */
uint64_t feed_wanted(struct feed *feed);

#endif
