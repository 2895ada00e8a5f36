/* A look at a video for some seconds: is there a signal, a slate, and how well is it read? Judges nothing. */
#ifndef SLOTJIG_COMMANDS_VIDEO_LOOK_H
#define SLOTJIG_COMMANDS_VIDEO_LOOK_H

#include "capture/video.h"
#include "picture/frames.h"

#include <stdbool.h>
#include <stdint.h>

struct video_look {
    bool opened;            /* false: problem says why, and nothing else is filled */
    bool lost;              /* the source failed on the way: problem says how */
    struct problem problem; /* of opening or reading */
    enum standard standard; /* that it was looked at with */
    struct video_about about;
    struct video_counts counts;
    struct frames_facts facts;
    double seconds;          /* that the frames took; 0 where the source does not tell its rate */
    uint64_t frames, fields; /* seen */
    uint64_t dark, strange;  /* fields: without a signal; with a picture, but no slate that can be read */
    uint64_t read;           /* with a slate */
    uint64_t still;          /* of them, those at the end that showed nothing new */
    struct raster raster;    /* mean of the fields read */
    double right;            /* mean: right edge of the picture, samples */
    int frame_lines;         /* of the last field read */
    int field_width;         /* of the last field read */
    int lines;               /* fewest lines read of a field's picture */
    double margin;           /* worst of the fields read */
    uint16_t hash;           /* of the last slate: 0 is a board's idle picture */
};

/* Looks at an open source. real_time: it takes the time that the seconds take; else as many frames as fit
 * into so long at the source's rate, or at the standard's. Ends early with Ctrl-C (base/stop.h). */
void video_look(const struct video_source *source, enum standard standard, double seconds, bool real_time,
                struct video_look *look);
/* The same of a place that is opened for it, and closed. */
void video_look_at(const struct video_request *request, double seconds, struct video_look *look);

/* Every field's picture had all lines of the standard. */
bool video_look_whole(const struct video_look *look);

#endif
