/*
 * Where the test's grabber is plugged in: the kernel's video devices as FFmpeg's V4L2 input sees them. Two
 * carriers behind one set of functions: an emulated V4L2 (v4l2.c; nodes, ioctls and buffers are modelled, so
 * the kernel's behaviour is an assumption there), and a UVC device under a real kernel's vhci-hcd and
 * uvcvideo (uvc.c). The same tests run on both. The USB stage (tests/usb/stage.h) carries both, and boards
 * beside them.
 */
#ifndef TESTS_VIDEO_STAGE_H
#define TESTS_VIDEO_STAGE_H

#include "video/feed.h"

#include <pthread.h>
#include <stdbool.h>

/* Inputs of the emulated grabber, in this order. The console's cable is in one of them. */
enum grabber_input { INPUT_COMPOSITE, INPUT_SVIDEO, INPUT_TUNER, INPUTS };
extern const char *const grabber_input_names[INPUTS];

struct grabber_device {
    /* Set before it is plugged in. */
    struct feed_options feed;
    struct video_source source; /* borrowed */
    pthread_mutex_t *lock;      /* held while the source is asked; NULL: none */
    bool mjpeg;                 /* else YUYV */
    /* An analog grabber's, which UVC has no words for: */
    enum standard stands_at; /* standard it is found at; every other standard than the console's is dark */
    enum grabber_input stands_on, cable;
    double channel_mhz; /* where the console's picture is; INPUT_TUNER only */
    bool no_signal;     /* said so by the driver; the frames are dark */
    /* Filled: */
    char node[32];
    struct feed *running;
    void *carried;
};

struct grabber_carrier {
    const char *name;
    bool analog;        /* has inputs and standards */
    bool gives_damaged; /* marked, short and empty buffers reach the program; else the driver drops them */
    bool keeps_time;    /* buffers have the device's own times; else those of their arrival */
    bool (*plug)(struct grabber_device *device);
    void (*unplug)(struct grabber_device *device);
    struct feed_taker (*taker)(struct grabber_device *device);
    void (*forget)(struct grabber_device *device); /* frees what it carried */
};
extern const struct grabber_carrier grabber_v4l2, grabber_uvc;

const struct grabber_carrier *grabber_carrier(void);
/* Plugs it in and starts its frames. */
bool grabber_plug(struct grabber_device *device);
/* Pulls it out, if it is in, and ends its frames. */
void grabber_end(struct grabber_device *device);

#endif
