#include "video/feed.h"

#include <errno.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <turbojpeg.h>

enum { MJPEG_QUALITY = 90, DARK_Y = 16, DARK_C = 128 };

struct feed {
    struct feed_options options;
    struct video_source source;
    pthread_mutex_t *lock;
    struct feed_taker taker;
    pthread_t thread;
    atomic_bool stopping;
    atomic_uint_least64_t wanted;
    uint64_t ticks;    /* frames of the device's clock */
    uint64_t began_us; /* of that clock */
    uint64_t plug_at;  /* tick; 0: it is plugged in */
    bool wanted_before, begun;
    uint64_t told;       /* frames that troubles are counted by */
    uint64_t first_tick; /* since somebody wants them */
    int width, height;
    uint8_t *packed, *planes, *jpeg;
    tjhandle compressor;
    struct feed_frame frame;
};

static uint64_t now_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000 + (uint64_t)now.tv_nsec / 1000;
}

static double period_us(const struct feed *feed) {
    const struct standard_facts *facts = &standard_table[feed->options.standard];
    return 1e6 * facts->frame_rate_den / facts->frame_rate_num;
}

static size_t packed_size(const struct feed *feed) {
    return (size_t)feed->width * (size_t)feed->height * 2;
}

/* The virtual bench's frames are packed YUYV already, but for the stride. */
static bool pack(struct feed *feed, const struct frame *frame) {
    if (frame->width != feed->width || frame->height != feed->height || frame->y.step != 2 ||
        frame->cb.data != frame->y.data + 1 || frame->cr.data != frame->y.data + 3) {
        return false;
    }
    const size_t row = (size_t)feed->width * 2;
    for (int y = 0; y < feed->height; y++) {
        memcpy(feed->packed + (size_t)y * row, frame->y.data + y * frame->y.stride, row);
    }
    return true;
}

static void darken(struct feed *feed) {
    for (size_t i = 0; i < packed_size(feed); i += 2) {
        feed->packed[i] = DARK_Y;
        feed->packed[i + 1] = DARK_C;
    }
}

static bool compress(struct feed *feed, size_t *size) {
    const size_t samples = packed_size(feed) / 2;
    uint8_t *y = feed->planes, *cb = y + samples, *cr = cb + samples / 2;
    for (size_t i = 0; i < samples / 2; i++) {
        y[2 * i] = feed->packed[4 * i];
        cb[i] = feed->packed[4 * i + 1];
        y[2 * i + 1] = feed->packed[4 * i + 2];
        cr[i] = feed->packed[4 * i + 3];
    }
    const uint8_t *const planes[3] = {y, cb, cr};
    unsigned char *out = feed->jpeg;
    unsigned long length = tjBufSize(feed->width, feed->height, TJSAMP_422);
    const int failed =
        tjCompressFromYUVPlanes(feed->compressor, (const unsigned char **)planes, feed->width, NULL,
                                feed->height, TJSAMP_422, &out, &length, MJPEG_QUALITY, TJFLAG_NOREALLOC);
    *size = length;
    return failed == 0;
}

/* The next frame of the console's, whoever looks. */
static bool take(struct feed *feed, const struct feed_wish *wish) {
    struct frame frame;
    struct problem problem = {0};
    if (feed->lock != NULL) {
        pthread_mutex_lock(feed->lock);
    }
    bool good = feed->source.next(feed->source.state, &frame, &problem) == NEXT_FRAME;
    good = good && (wish == NULL || pack(feed, &frame));
    if (good && wish != NULL && !feed->begun) {
        feed->begun = feed->options.begins == NULL || feed->options.begins(&frame);
    }
    if (feed->lock != NULL) {
        pthread_mutex_unlock(feed->lock);
    }
    if (!good || wish == NULL) {
        return good;
    }
    if (wish->dark) {
        darken(feed);
    }
    feed->frame =
        (struct feed_frame){.bytes = wish->mjpeg ? feed->jpeg : feed->packed,
                            .size = packed_size(feed),
                            .number = (uint32_t)(feed->ticks - feed->first_tick),
                            .time_us = feed->began_us + (uint64_t)((double)feed->ticks * period_us(feed))};
    return !wish->mjpeg || compress(feed, &feed->frame.size);
}

static const struct trouble *trouble_at(const struct feed *feed, uint64_t frame) {
    const struct trouble *troubles = feed->options.troubles;
    for (int i = 0; i < TROUBLES_MAX && troubles[i].count > 0; i++) {
        const uint64_t count = troubles[i].kind == TROUBLE_UNPLUG ? 1 : troubles[i].count;
        if (frame >= troubles[i].at && frame < troubles[i].at + count) {
            return &troubles[i];
        }
    }
    return NULL;
}

static void give(struct feed *feed) {
    feed->taker.give(feed->taker.state, &feed->frame);
}

static void give_with(struct feed *feed, enum trouble_kind kind) {
    switch (kind) {
    case TROUBLE_SHORT:
        feed->frame.size /= 2;
        break;
    case TROUBLE_MARKED:
        feed->frame.marked = true;
        break;
    case TROUBLE_EMPTY:
        feed->frame.size = 0;
        break;
    case TROUBLE_REPEAT:
        give(feed);
        break;
    default:
        return;
    }
    give(feed);
}

/* One frame's time. */
static void tick(struct feed *feed) {
    struct feed_wish wish = {0};
    if (feed->plug_at != 0 && feed->ticks >= feed->plug_at) {
        feed->plug_at = 0;
        feed->taker.plug(feed->taker.state);
    }
    const bool wanted = feed->plug_at == 0 && feed->taker.wants(feed->taker.state, &wish);
    if (wanted && !feed->wanted_before) {
        feed->first_tick = feed->ticks;
    }
    feed->wanted_before = wanted;
    if (!take(feed, wanted ? &wish : NULL) || !wanted) {
        feed->ticks++;
        return;
    }
    const struct trouble *trouble = feed->begun ? trouble_at(feed, feed->told++) : NULL;
    atomic_fetch_add(&feed->wanted, 1);
    if (trouble == NULL) {
        give(feed);
    } else if (trouble->kind == TROUBLE_UNPLUG) {
        feed->plug_at = feed->ticks + trouble->count;
        feed->taker.unplug(feed->taker.state);
    } else {
        give_with(feed, trouble->kind);
    }
    feed->ticks += trouble == NULL || trouble->kind != TROUBLE_STUCK;
}

/* A machine with much else to do is no trouble of the script's: the device waits for who reads, if not for
 * ever. */
static void wait_for_room(struct feed *feed) {
    enum { PATIENCE_MS = 500 };
    for (int ms = 0; ms < PATIENCE_MS && feed->taker.full != NULL && feed->taker.full(feed->taker.state) &&
                     !atomic_load(&feed->stopping);
         ms++) {
        nanosleep(&(struct timespec){.tv_nsec = 1000000}, NULL);
    }
}

static void *run(void *argument) {
    struct feed *feed = argument;
    const double wait_us = period_us(feed) / feed->options.speed;
    double due = (double)now_us();
    while (!atomic_load(&feed->stopping)) {
        wait_for_room(feed);
        tick(feed);
        due += wait_us;
        double now = (double)now_us();
        /* Late: the device's clock waits; only the script makes gaps. */
        due = due > now ? due : now;
        const uint64_t left = (uint64_t)(due - now);
        nanosleep(
            &(struct timespec){.tv_sec = (time_t)(left / 1000000), .tv_nsec = (long)(left % 1000000) * 1000},
            NULL);
    }
    return NULL;
}

static void free_feed(struct feed *feed) {
    if (feed->compressor != NULL) {
        tjDestroy(feed->compressor);
    }
    free(feed->packed);
    free(feed->planes);
    free(feed->jpeg);
    free(feed);
}

struct feed *feed_start(const struct feed_options *options, const struct video_source *source,
                        pthread_mutex_t *lock, const struct feed_taker *taker) {
    struct video_about about;
    struct feed *feed = calloc(1, sizeof *feed);
    if (feed == NULL) {
        return NULL;
    }
    video_tell(source, &about, NULL);
    feed->options = *options;
    feed->source = *source;
    feed->lock = lock;
    feed->taker = *taker;
    feed->width = about.width;
    feed->height = about.height;
    feed->began_us = now_us();
    feed->packed = malloc(packed_size(feed));
    feed->planes = malloc(packed_size(feed));
    feed->jpeg = malloc(tjBufSize(feed->width, feed->height, TJSAMP_422));
    feed->compressor = tjInitCompress();
    if (feed->packed == NULL || feed->planes == NULL || feed->jpeg == NULL || feed->compressor == NULL ||
        pthread_create(&feed->thread, NULL, run, feed) != 0) {
        free_feed(feed);
        return NULL;
    }
    return feed;
}

void feed_stop(struct feed *feed) {
    if (feed != NULL) {
        atomic_store(&feed->stopping, true);
        pthread_join(feed->thread, NULL);
        free_feed(feed);
    }
}

uint64_t feed_wanted(struct feed *feed) {
    return atomic_load(&feed->wanted);
}
