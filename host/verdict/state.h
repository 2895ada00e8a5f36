/*
 * What the judge keeps of a run: for each step its counts and its sightings, for the run what kinds of fields
 * came. Inside verdict/ only.
 */
#ifndef SLOTJIG_VERDICT_STATE_H
#define SLOTJIG_VERDICT_STATE_H

#include "verdict/causes.h"
#include "verdict/verdict.h"

enum {
    SIGHTINGS_MAX = 8,
    RECENT_FIELDS =
        24,            /* a field seen among this many different ones is the same one doubled. Below half of
                          the slate's counter, so that a grabber that loses every other field is understood */
    STILL_FIELDS = 32, /* fields in a row: nothing new, no picture, no slate */
    STILL_AT_END = 64
};
/* Clocks. Beyond the first, a playfield is off its raster; within the second, two offsets are the same. */
#define OFFSET_WRONG 0.6
#define OFFSET_SAME 0.5
#define OFFSET_SPREAD_MAX                                                                                    \
    0.6 /* clocks rms; edges farther apart than this say nothing together (at random: 1.15) */
#define OFFSET_FIELDS_MIN 16 /* of the run, before it can be called late */
#define OFFSET_EDGES_MIN 10  /* fewer than that are what noise makes on a flat picture */

/* One way a step was seen, and in how many fields. */
struct sighting {
    bool pass;             /* all lines as expected; then only the offset below counts */
    bool patchy;           /* the lines of the wrong band disagree among themselves */
    int line;              /* first line of the band it was seen in: the first band that was wrong */
    uint64_t lit, unclear; /* by majority of the band's lines; lit is 0 where unclear */
    bool has_offset;
    double offset;
    int count;
};

/* Colours as fields showed them: black and grey as in the blank beside the picture, white 1; the black-white
 * distance is the unit of cb and cr too. Where a field does not show the blank: as the slate's. */
struct colour_mean {
    long fields;
    double cells; /* a field */
    double level, cb, cr;
};

struct colours {
    bool blank; /* the fields show the blank beside the picture */
    long fields, clipped, chroma;
    double echo;                 /* mean of the readings' */
    double cells[2][2];          /* lit, dark: of fields that did not cut white off, that did */
    struct colour_mean white[2]; /* of the slate */
    bool ceiling;                /* some lit cells stood at the end of the code range */
    bool wrong;                  /* some register's colour was found wrong */
    bool no_hue;                 /* none was seen anywhere */
};

/* Whether all cells of a picture are expected alike. */
enum flat { FLAT_NOT, FLAT_LIT, FLAT_DARK };

/* Steps with thin bands; see thin.h. */
struct thin {
    bool dim[PICTURE_LINES_MAX];         /* lines of less than full contrast */
    uint64_t suspect[PICTURE_LINES_MAX]; /* what looked wrong in the last field where something did */
    int line; /* the first one that was wrong in the first field that was; -1: none was */
    uint64_t lit[PICTURE_LINES_MAX], unclear[PICTURE_LINES_MAX]; /* that field */
};

struct step_state {
    struct thin *thin; /* NULL: all bands are high enough to speak for themselves */
    struct expectation expect;
    enum flat flat;
    struct sighting sightings[SIGHTINGS_MAX];
    int sighting_count;
    int stray;   /* failing fields that found no room in sightings */
    int unclear; /* fields that could not be judged for unclear cells, or torn ones */
    int torn;    /* those that are */
    int offsets; /* fields with edges */
    bool seen_fails;
    struct colour_mean colours[2][2]; /* of fields that did not cut white off, that did; lit, dark */
    struct step_result result;
};

/* Fields by what they were. */
struct field_counts {
    uint64_t no_signal, no_slate, bad_slate, idle, foreign, beyond, doubled, cropped;
    uint16_t foreign_hash; /* the last one seen */
    uint64_t dark_run;     /* fields in a row, up to the last one, without signal */
    uint64_t blind_run;    /* the same, without a slate of the image */
    uint64_t still_run;    /* slates in a row that were all doubled */
    uint64_t accepted;     /* different fields with a good slate */
};

struct counted;

struct judge {
    const struct plan *plan;
    struct counted *counted; /* what judges the fields in the steps' place; its state NULL: nothing does */
    uint16_t hash;
    int lines; /* of the plan's picture */
    struct step_state *steps;
    size_t owed;
    long last_step;
    uint32_t recent[RECENT_FIELDS]; /* value and counter, packed */
    int recent_count, recent_next;
    struct field_counts counts;
    struct frames_facts capture;
    struct video_counts buffers;
    struct raster raster_sum;
    struct colours colours;
    long offsets; /* fields with edges, of the run */
    double offset;
    struct result result;
    /* Working room of explain.c. */
    struct cause causes[CAUSES_MAX];
    size_t cause_count;
    struct band *bands;
    struct prediction prediction;
};

/* -2..2: clocks modulo one cell. */
double offset_wrap(double clocks);

/* Findings from failing steps, and from what the video lacked. Both append to judge->result. The first
 * returns the single cause that comes first among its findings, or NULL; it is one of judge->causes. */
const struct cause *explain_failures(struct judge *judge);
void explain_absence(struct judge *judge);
/* Fills judge->result's troubles, of what is known of the capture chain. */
void find_troubles(struct judge *judge);

#endif
