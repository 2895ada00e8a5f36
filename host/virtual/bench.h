/*
 * The virtual bench: console, cartridge and grabber in one, behind the same video_source as a real grabber.
 * Faults are injected in the chip, the bus or the video, never in the answer.
 */
#ifndef SLOTJIG_VIRTUAL_BENCH_H
#define SLOTJIG_VIRTUAL_BENCH_H

#include "base/problem.h"
#include "base/standard.h"
#include "capture/video.h"
#include "virtual/tia.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The grabber's properties. Level 1.0 is the distance from black to white. */
struct grabber_options {
    double noise_db;      /* black-to-white over rms noise, in dB; HUGE_VAL (the default): none */
    double gain, offset;  /* of the luma: code = 16 + 219 * (offset + gain * level); defaults 1 and 0 */
    double bandwidth_mhz; /* luma, -3 dB; default 4.2 (NTSC), 5.0 (PAL, SECAM) */
    double left;          /* sample at which clock 0's left edge lies, fractions allowed; default 74.0 */
    char set[32];         /* name of the set it was made of; "clean" when none was */
};

struct virtual_faults {
    struct tia_chip chip;        /* faults and delays of the chip */
    uint8_t cart_low, cart_high; /* data lines of the cartridge stuck */
    uint16_t address_low,
        address_high; /* address lines stuck on their way to the cartridge; the chips see them right */
    bool no_console;  /* the processor does nothing */
    bool no_supply;   /* the console has none */
    bool no_video;
    long frozen_after; /* fields after which the video freezes; -1 never */
};

struct virtual_options {
    enum standard standard;
    uint64_t seed;
    struct grabber_options grabber;
    struct virtual_faults faults;
};

void virtual_defaults(enum standard standard, struct virtual_options *options);
/* One --fault TEXT onto the options. PROBLEM_INPUT with the spellings when it is none. Faults add up. */
bool virtual_add_fault(struct virtual_options *options, const char *text, struct problem *problem);
/* One --impair TEXT (`ghost=0.2:1.5`) onto the grabber: what it does to the picture beyond noise, gain,
 * offset, bandwidth and left. PROBLEM_INPUT with what is allowed. A later one of the same name replaces an
 * earlier. */
bool virtual_add_impairment(struct virtual_options *options, const char *text, struct problem *problem);
/* A named set of impairments, which stands for a class of real grabbers: replaces every property of the
 * grabber. PROBLEM_INPUT with the names. */
bool virtual_use_set(struct virtual_options *options, const char *name, struct problem *problem);
struct grabber_set {
    const char *name, *about;       /* by behaviour only */
    const char *const *impairments; /* texts, ended by NULL; `noise=30` and the like among them */
};
/* Ended by a NULL name. The first is "clean". */
extern const struct grabber_set virtual_sets[];
/* All spellings, one a line with what each does, for `run --help`. Ended by a NULL spelling. */
struct fault_spelling {
    const char *spelling, *about;
};
extern const struct fault_spelling virtual_fault_spellings[];
extern const struct fault_spelling virtual_impairment_spellings[];
/* Every fault at every position it can have, as texts: for tests. index from 0; false past the last. */
bool virtual_fault_text(size_t index, char *text, size_t size);

/* Opens the bench with these image bytes (2048 or 4096; copied). Frames are YUYV 4:2:2, two fields woven,
 * endless. */
bool virtual_open(const struct virtual_options *options, const uint8_t *image, size_t size,
                  struct video_source *source, struct problem *problem);

struct virtual_board;
/* Opens it with a board in the slot (virtual/board.h), which must outlive the source. The console is switched
 * on now, over whatever the board serves, and off when the source is closed; the board's time goes with the
 * console's. Faults of console, slot and video apply; those of the board are its own. */
bool virtual_open_board(const struct virtual_options *options, struct virtual_board *board,
                        struct video_source *source, struct problem *problem);
/* Lets the console go on for a field that nobody grabs, of a source that either of them opened. */
void virtual_run_field(const struct video_source *source);
/* Switches the console off and on again. */
void virtual_power_cycle(const struct video_source *source);

/* What the console model could not do, of a source that was opened here. */
struct virtual_notes {
    uint64_t unmodelled_writes;
    uint16_t unmodelled_last;
    uint64_t fields; /* grabbed */
    int lines;       /* of the last field, grabbed or not; 0: none */
};
void virtual_notes(const struct video_source *source, struct virtual_notes *notes);

#endif
