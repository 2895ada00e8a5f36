/*
 * Benches by name: `virtual`, which is built in, and the sections of the benches file.
 *
 *     [bench left]
 *     kind = board        ; a board in a real console; virtual when left out
 *     board = 1-2.3       ; its port path or its serial; usb (when left out): the only one on USB;
 *                         ; a serial device as in /dev/ttyACM0; or none: the image gets into the slot by
 *                         ; the user's own means
 *     baud = 115200       ; of a serial device
 *     command = burn "{image}"     ; instead of a board: a program that puts the image into the slot. Words
 *                         ; as for a shell's double quotes, but no shell: {image} {size} {scheme}
 *     power = relay {state}        ; a program that switches the console's low-voltage supply: on or off
 *     video = v4l2:/dev/video0     ; a device; KIND:NAME is one of any other kind that FFmpeg knows;
 *                         ; file:PATH a recording; none (when left out): nothing to look at
 *     input = Composite1  ; of the device: name or number; as it stands when left out
 *     size = 720x480      ; of its frames; as it stands when left out
 *     pixel = mjpeg       ; FFmpeg's name of a codec or kind of pixel; as it stands when left out
 *     wait = 30           ; seconds that a device which went away is waited for
 *     signal = rf         ; composite (when left out), or rf: through a tuner
 *     channel = 3         ; rf: what the tuner is set to, as a note for reports
 *     frequency = 61.25   ; rf: MHz of the picture carrier, for a device with a tuner of its own
 *     console = left, NTSC         ; what the user calls the console; runs of one name are one console's
 *     revision = rev. 4            ; of its board, as read
 *     markings = CO10444, CO14577  ; of its chips, as read
 *     modifications = new capacitors           ; what was done to it
 *     station = workshop           ; the place, never a person's name; local when left out
 *     standard = pal      ; ntsc (when left out), pal or secam; --standard goes before it
 *     screen = none       ; watched (when left out): a person sees the pictures, so a plan keeps
 *                         ; to three large changes a second; none: nobody does
 *
 *     [bench noisy]
 *     kind = virtual      ; standard, screen and the five above, and:
 *     seed = 7            ; of everything random on the bench; 1 when left out
 *     fault = no-video    ; as for --fault; may be repeated, faults add up
 *     noise = 30          ; black-to-white over rms noise, dB
 *     gain = 0.95         ; of the luma
 *     offset = 0.02       ; of the luma; black to white is 1
 *     bandwidth = 4.2     ; of the luma, MHz at -3 dB
 *     left = 74.0         ; sample of the captured line at which the picture's left edge lies
 *     grabber = clean     ; a named set of all that the grabber does to the picture; goes before the others
 *     impair = ghost=0.2:1.5       ; as for --impair; may be repeated
 *
 *     [bench socket]
 *     kind = reader       ; a reader of cartridges, for `reader` and `ship`; board, baud and station as
 * above: board = usb         ; (when left out) the only reader on USB
 *
 * The file is $XDG_CONFIG_HOME/slotjig/benches.ini, or else ~/.config/slotjig/benches.ini.
 */
#ifndef SLOTJIG_COMMANDS_BENCHES_H
#define SLOTJIG_COMMANDS_BENCHES_H

#include "base/problem.h"
#include "base/standard.h"
#include "base/texts.h"
#include "capture/video.h"
#include "commands/board_choice.h"
#include "virtual/bench.h"

#include <stdbool.h>
#include <stddef.h>

enum { BENCH_NAME_MAX = 64, BENCH_TEXT_MAX = 200 };

enum bench_kind { BENCH_VIRTUAL, BENCH_BOARD, BENCH_READER, BENCH_KINDS };
const char *bench_kind_name(enum bench_kind kind); /* as in the file */

enum { BENCH_WORD_MAX = 64, WAIT_DEFAULT_S = 30, WAIT_MAX_S = 3600 };

/* Where a bench's video comes from, and how it is opened. */
struct bench_video {
    char where[BENCH_TEXT_MAX];                        /* as in the key; empty: none */
    char input[BENCH_WORD_MAX], pixel[BENCH_WORD_MAX]; /* empty: as it stands */
    int width, height;                                 /* 0: as it stands */
    double wait_s;                                     /* for a device that went away */
    int threads;                                       /* 0: as many as help */
    bool rf;                                           /* through a tuner */
    char channel[BENCH_WORD_MAX];                      /* what that is set to; empty: not told */
    double frequency_mhz;                              /* of a device with its own tuner; 0: not told */
};

struct bench_settings {
    char name[BENCH_NAME_MAX];
    enum bench_kind kind;
    bool watched;                     /* a person sees the screen; the built-in bench has none */
    struct virtual_options options;   /* standard; seed, grabber and faults of a virtual one */
    struct texts faults, impairments; /* of a virtual one, as they were spelled: for reports */
    struct board_choice board;
    char power[BENCH_TEXT_MAX]; /* empty: a person does it */
    struct bench_video video;
    /* Empty: not told. */
    char console[BENCH_TEXT_MAX], revision[BENCH_TEXT_MAX], markings[BENCH_TEXT_MAX],
        modifications[BENCH_TEXT_MAX], station[BENCH_TEXT_MAX];
};

/* The bench of that name. file: NULL for the default one, which need not exist. standard goes before the
 * file's when standard_given, and is otherwise not looked at for a bench that names one. On failure *out is
 * untouched; an unknown bench, a bad setting or an unreadable file is PROBLEM_INPUT. */
bool bench_find(const char *name, const char *file, enum standard standard, bool standard_given,
                struct bench_settings *out, struct problem *problem);

/* A bench without a section: that board or reader, no video, a watched screen. */
void bench_of_board(const struct board_choice *board, enum standard standard, struct bench_settings *out);

void bench_of_reader(const struct board_choice *board, struct bench_settings *out);

/* As video_open() takes it; borrows the bench's texts. */
struct video_request bench_request(const struct bench_settings *bench);

/* Path of the benches file, and whether it is there. False when there is no folder for it (HOME not set). */
bool benches_file(const char *file, char *path, size_t size, bool *there);

/* Names of all benches in that file, in its order; *count is how many there are, of which at most max were
 * filled. */
bool benches_names(const char *path, char (*names)[BENCH_NAME_MAX], size_t max, size_t *count,
                   struct problem *problem);

#endif
