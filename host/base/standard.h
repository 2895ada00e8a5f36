/*
 * The television standards a console is made for: how many scanlines its frame has, and what a grabber makes
 * of it. Figures: frames [H S. Wright, Programmer's Guide, 3.3 and PAL/SECAM conversions]; colour clocks [S
 * SMPTE 170M; PAL M]; sampling [S ITU-R BT.601].
 */
#ifndef SLOTJIG_BASE_STANDARD_H
#define SLOTJIG_BASE_STANDARD_H

#include <stdbool.h>

enum standard { STANDARD_NTSC, STANDARD_PAL, STANDARD_SECAM, STANDARD_COUNT };

enum {
    LINE_CLOCKS = 228, /* colour clocks a line [H 3.1] */
    BLANK_CLOCKS = 68, /* of them horizontal blank, at the line's start [H 3.1] */
    PICTURE_CLOCKS = 160,
    LINE_CYCLES = 76, /* CPU cycles a line [H 3.1] */
    CELLS = 40,       /* playfield cells a line [H TIA 1A, serial output table] */
    CELL_CLOCKS = 4,
    PICTURE_LINES_MAX = 228
};

struct standard_facts {
    const char *name;  /* "ntsc", "pal", "secam": the spelling of --standard and of JSON */
    int sync_lines;    /* vertical sync */
    int blank_lines;   /* vertical blank */
    int picture_lines; /* the slate's lines are the first of them */
    int overscan_lines;
    double clock_hz;                    /* colour clock */
    int frame_height;                   /* lines of a captured frame: two fields woven */
    int frame_rate_num, frame_rate_den; /* frames a second a grabber delivers */
    bool top_first;                     /* which of the two woven fields is the older one */
};

extern const struct standard_facts standard_table[STANDARD_COUNT];

/* All lines of one frame of the console. */
int standard_lines(enum standard standard);
/* Lines left to the plan's picture, below the slate. */
int standard_plan_lines(enum standard standard);
/* Samples of 13.5 MHz a colour clock. */
double standard_samples_per_clock(enum standard standard);
/* false when the name is none of the table's. */
bool standard_from_name(const char *name, enum standard *standard);

#endif
