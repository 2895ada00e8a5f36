/*
 * The virtual bench: console, cartridge and grabber in one, behind the same video_source as a real grabber.
 * Faults are injected in the chip, the bus or the video, never in the answer.
 */
#ifndef SLOTJIG_VIRTUAL_BENCH_H
#define SLOTJIG_VIRTUAL_BENCH_H

#include "base/problem.h"
#include "base/standard.h"
#include "capture/video.h"
#include "virtual/cart_model.h"
#include "virtual/tia.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum grabber_layout {
    GRABBER_WOVEN,   /* two fields, line by line */
    GRABBER_STACKED, /* two fields, one above the other */
    GRABBER_SINGLE,  /* a field a frame */
    GRABBER_BOBBED,  /* a field a frame, at full height: every other line is the mean of its neighbours */
    GRABBER_BLENDED  /* two fields woven, then each line mixed with its neighbours, 1 to 2 to 1 */
};
enum grabber_part {
    GRABBER_NONE,
    GRABBER_TOP,    /* lines 0, 2, 4 ... of a woven frame, the upper half of a stacked one */
    GRABBER_BOTTOM, /* the other ones */
    GRABBER_UPPER,  /* half of the frame's height, however the fields lie */
    GRABBER_LOWER
};

/* The grabber's properties, in the order in which they reach the picture. Level 1.0 is the distance from
 * black to white; a code is one of the 256 of a sample; samples are those of a line of 720. What each does is
 * told by virtual_impairment_spellings. */
struct grabber_options {
    char set[32]; /* name of the set it was made of; "clean" when none was */
    /* the signal */
    double gain, offset;  /* of the luma: code = 16 + 219 * (offset + gain * level); defaults 1 and 0 */
    double agc, agc_s;    /* the gain swings by this share of itself, once in so many seconds */
    double bandwidth_mhz; /* luma, -3 dB; default 4.2 (NTSC), 5.0 (PAL, SECAM) */
    double sharpen;       /* overshoot, as a share of the edge */
    double ghost, ghost_us;
    double hum, hum_hz; /* level, its peak */
    bool no_colour;
    double cross;        /* share of the colour that stays in the luma */
    double chroma_mhz;   /* -3 dB; default 1.3 */
    double chroma_delay; /* samples that the colour comes after the luma */
    /* lines */
    double left;     /* sample at which clock 0's left edge lies, fractions allowed; default 74.0 */
    double jitter;   /* rms, samples */
    double slant;    /* samples that each line of a field lies to the right of the one above; nothing in the
                        middle of the field */
    double scale;    /* horizontal, about the middle of the line */
    double shift;    /* samples to the right */
    int shift_lines; /* of a field, down */
    int width;       /* 640, 704 or 720 */
    /* fields */
    double noise_db;               /* black-to-white over rms noise, in dB; HUGE_VAL (the default): none */
    double chroma_noise_db;        /* likewise, of each colour difference */
    double clip_white, clip_black; /* levels at which codes end; HUGE_VAL, -HUGE_VAL: at 255 and 0 */
    double comb;                   /* share of the neighbouring lines in each */
    bool comb_adaptive;            /* of the one neighbour that is more alike */
    double drop, twice, swap;      /* shares of the fields */
    int burst_at, burst_fields;    /* so many are lost from that one on, counted from 0; 0 fields: none */
    bool slip;
    /* frames */
    enum grabber_layout layout;
    enum grabber_part older; /* NONE: the standard's, or TOP or BOTTOM */
    enum grabber_part stale; /* NONE, TOP or BOTTOM */
    int stale_fields;        /* after so many fields it is taken anew; 0: never */
    bool pairs;
    enum grabber_part half_black; /* any */
    int crop[4];                  /* left, right, top, bottom: samples and lines of the frame */
    int chroma;                   /* 422 or 420 */
    int mjpeg;                    /* quality; 0: not at all */
};

struct virtual_faults {
    struct tia_chip chip;        /* faults and delays of the chip */
    uint8_t cart_low, cart_high; /* data lines of the cartridge stuck */
    uint16_t address_low,
        address_high; /* address lines stuck on their way to the cartridge; the chips see them right */
    struct cart_faults cartridge; /* of a plain cartridge (not of a board) in the slot */
    double pulled_after_s;        /* console's seconds after which that is pulled out; 0: never */
    bool of_cartridge; /* one of those was asked for: without such a cartridge it would do nothing */
    bool no_console;   /* the processor does nothing */
    bool no_supply;    /* the console has none */
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
/* Every fault at every position it can have, as texts (of a bit that takes another's value: of neighbours):
 * for tests. index from 0; false past the last. */
bool virtual_fault_text(size_t index, char *text, size_t size);

/* The same for faults of a cartridge of that scheme (cart-open, cart-short and so on), every class at every
 * position that makes sense there. */
bool virtual_cartridge_fault_text(int scheme, bool ram, size_t index, char *text, size_t size);

/* All faults of a cartridge of that scheme in this bench's slot, those of the slot's lines among them.
 * PROBLEM_INPUT: one of them is of a bank, page or RAM that it does not have. */
bool virtual_cartridge_faults(const struct virtual_options *options, int scheme, bool ram,
                              struct cart_faults *faults, struct problem *problem);

/* Opens the bench with a plain cartridge of that scheme in its slot (virtual/cart_model.h), and its faults.
 */
bool virtual_open_cartridge(const struct virtual_options *options, int scheme, bool ram, const uint8_t *image,
                            struct video_source *source, struct problem *problem);
/* The cartridge of a source that virtual_open_cartridge() opened; the console must rest (virtual_rest()). */
struct cart_model *virtual_cartridge(const struct video_source *source);

/* Opens the bench with these image bytes (2048 or 4096; copied). Frames are endless, and as the grabber's
 * options say: YUYV 4:2:2, two fields woven, where they say nothing. */
bool virtual_open(const struct virtual_options *options, const uint8_t *image, size_t size,
                  struct video_source *source, struct problem *problem);

struct virtual_board;
/* Opens it with a board in the slot (virtual/board.h), which must outlive the source. The console is switched
 * on now, over whatever the board serves, and off when the source is closed; the board's time goes with the
 * console's. Faults of console, slot and video apply; those of the board are its own. */
bool virtual_open_board(const struct virtual_options *options, struct virtual_board *board,
                        struct video_source *source, struct problem *problem);
enum { VIRTUAL_AHEAD_FIELDS = 24 };
/* From now on the console is so many fields ahead of the frames that are asked for; with threads the console
 * and the grabber have one each. What is done to console or board shows that much later. The frames are the
 * same with threads and without. */
bool virtual_run_ahead(const struct video_source *source, bool threads, struct problem *problem);
/* To be called before anything is done to the board: console and board stand still from here until the next
 * frame is asked for, at the same field with threads and without. Without effect where nothing runs ahead. */
void virtual_rest(const struct video_source *source);
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
