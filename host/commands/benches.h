/*
 * Benches by name: `virtual`, which is built in, and the sections of the benches file.
 *
 *     [bench noisy]
 *     kind = virtual      ; the only kind in this version, and what is taken when left out
 *     standard = pal      ; ntsc (when left out), pal or secam; --standard goes before it
 *     seed = 7            ; of everything random on the bench; 1 when left out
 *     screen = none       ; watched (when left out): a person sees the pictures, so a plan keeps
 *                         ; to three large changes a second; none: nobody does
 *     fault = no-video    ; as for --fault; may be repeated, faults add up
 *     noise = 30          ; black-to-white over rms noise, dB
 *     gain = 0.95         ; of the luma
 *     offset = 0.02       ; of the luma; black to white is 1
 *     bandwidth = 4.2     ; of the luma, MHz at -3 dB
 *     left = 74.0         ; sample of the captured line at which the picture's left edge lies
 *
 * The file is $XDG_CONFIG_HOME/slotjig/benches.ini, or else ~/.config/slotjig/benches.ini.
 */
#ifndef SLOTJIG_COMMANDS_BENCHES_H
#define SLOTJIG_COMMANDS_BENCHES_H

#include "base/problem.h"
#include "base/standard.h"
#include "virtual/bench.h"

#include <stdbool.h>

enum { BENCH_NAME_MAX = 64 };

struct bench_settings {
    char name[BENCH_NAME_MAX];
    bool watched;                   /* a person sees the screen; the built-in bench has none */
    struct virtual_options options; /* standard, seed, grabber and faults */
};

/* The bench of that name. file: NULL for the default one, which need not exist. standard goes before the
 * file's when standard_given, and is otherwise not looked at for a bench that names one. On failure *out is
 * untouched; an unknown bench, a bad setting or an unreadable file is PROBLEM_INPUT. */
bool bench_find(const char *name, const char *file, enum standard standard, bool standard_given,
                struct bench_settings *out, struct problem *problem);

#endif
