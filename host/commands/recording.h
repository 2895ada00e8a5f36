/*
 * What is known of a recording, in a file of JSON beside it (FILE.json): where it came from, what was shown,
 * and what became of the frames. The plan stands in it as the text of a plan file, so that the two files
 * together can be judged anywhere.
 */
#ifndef SLOTJIG_COMMANDS_RECORDING_H
#define SLOTJIG_COMMANDS_RECORDING_H

#include "commands/setup.h"
#include "report/json.h"

#include <stdbool.h>

/* Writes FILE.json beside the video file. */
bool recording_write(const char *file, const struct setup *setup, const struct report_capture *capture,
                     uint64_t frames, struct problem *problem);
/* Whether recording_write() would leave other people's files alone: false when FILE.json is there and is none
 * of ours. */
bool recording_ready(const char *file, struct problem *problem);
/* Removes FILE.json of an earlier recording of that name. */
bool recording_forget(const char *file, struct problem *problem);

struct recording {
    char path[4096]; /* of the JSON; empty: there is none, and nothing else is filled */
    enum standard standard;
    uint16_t hash; /* of the image that was shown */
    char *plan;    /* text of a plan file, owned */
};

/* What stands beside a video file. A file of that name that is none of ours, or cannot be read, is as good as
 * none. */
void recording_read(const char *file, struct recording *recording);
void recording_free(struct recording *recording);

#endif
