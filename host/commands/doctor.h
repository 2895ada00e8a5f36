/* The checks of doctor: one line each of what was seen, and one thing to do. */
#ifndef SLOTJIG_COMMANDS_DOCTOR_H
#define SLOTJIG_COMMANDS_DOCTOR_H

#include "commands/bench_board.h"
#include "commands/benches.h"
#include "commands/options.h"
#include "commands/video_look.h"

enum check_state { STATE_OK, STATE_FAULT, STATE_TROUBLE, STATE_UNKNOWN, STATE_SKIPPED };

struct check {
    enum check_state state;
    char text[420];
    char next[420]; /* empty: nothing to do */
};

void check_say(struct check *check, enum check_state state, const char *text, const char *next);
/* A problem's text reads "what: why; what to do". */
void check_problem(struct check *check, const struct problem *problem);

/* The bench that is meant by the options. With --write it may be one that is not in the file yet; with
 * --video alone it has no board. */
bool doctor_bench(struct bench_settings *bench, const struct options *options, struct problem *problem);

/* The checks of the video, in the order in which one needs the other. */
enum { VIDEO_CHECKS = 7, LOOK_SECONDS = 3 };
extern const char *const doctor_video_names[VIDEO_CHECKS];

/* What a look at a bench's video shows; after the first that is wrong the others are skipped. look NULL: the
 * bench has no video. */
void doctor_video(const struct bench_settings *bench, const struct video_look *look,
                  struct check checks[VIDEO_CHECKS]);

/* Whether the device's word and the frame's height agree with the standard that was looked for. */
bool doctor_standard_fits(const struct video_look *look);

/* Looks through devices, inputs and standards for what shows the console: those that the bench names, or
 * else all that are attached. The best goes into *bench and *look; false when nothing gave a signal. */
bool doctor_search(struct bench_settings *bench, const struct options *options, struct video_look *look);

/* The bench's board and video as a section of the benches file: keys of a section that is there are replaced,
 * all else stays byte for byte. told: one line of what was written. */
bool doctor_write(const struct bench_settings *bench, const struct bench_board *board, const char *file,
                  char *told, size_t size, struct problem *problem);

#endif
