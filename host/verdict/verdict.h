/*
 * Readings against expectation: steps judged, causes named. Knows no video, no chip and no bench.
 */
#ifndef SLOTJIG_VERDICT_VERDICT_H
#define SLOTJIG_VERDICT_VERDICT_H

#include "expect/expect.h"
#include "picture/frames.h"
#include "picture/picture.h"
#include "plan/plan.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum verdict { VERDICT_PASS, VERDICT_FAIL, VERDICT_INCONCLUSIVE };

enum finding_kind {
    FINDING_BIT_STUCK_LOW,
    FINDING_BIT_STUCK_HIGH,
    FINDING_REGISTER_ORDER_REVERSED,
    FINDING_REGISTERS_SWAPPED,
    FINDING_MIRROR_IGNORED,
    FINDING_COPY_IGNORED,
    FINDING_SHIFTED,
    FINDING_UNCONNECTED_BITS_DRAWN,
    FINDING_DATA_LINE_STUCK,
    FINDING_INTERMITTENT,
    FINDING_FROZEN_VIDEO,
    FINDING_NO_VIDEO,
    FINDING_NO_SLATE,
    FINDING_UNEXPLAINED,
    /* What the slot says (slot.h). */
    FINDING_NO_SUPPLY,
    FINDING_NO_BUS,
    FINDING_ADDRESS_LINE_STUCK,
    FINDING_SLOT_DATA_LINE_STUCK,
    FINDING_RUNS_GARBAGE,
    FINDING_OTHER_PROGRAM,
    FINDING_RUNS_WITHOUT_PICTURE,
    FINDING_CAPTURE_LOST,
    FINDING_COLOUR_WRONG, /* reg: REG_COLUPF or REG_COLUBK */
    /* Trouble of the capture chain, never of the console. */
    FINDING_DEVICE_LOST,
    FINDING_FIELDS_LOST,
    FINDING_FIELDS_SWAPPED,
    FINDING_FIELDS_BLENDED,
    FINDING_HALF_BLACK,
    FINDING_BROKEN_BUFFERS,
    FINDING_COMB_FILTER,
    FINDING_CLIPPING,
    FINDING_GAIN_HUNTING,
    FINDING_NOISY,
    FINDING_NO_COLOUR,
    /* A playfield bit shows another one's value, or the AND or OR of both. */
    FINDING_BIT_COUPLED,
    FINDING_BITS_ANDED,
    FINDING_BITS_ORED,
    /* Plan moments: writes that change nothing, that draw other cells than the handbook's, that show before
     * they have ended, and whose delay is not the same for all of a phase. */
    FINDING_MOMENT_MISSING,
    FINDING_MOMENT_CELLS,
    FINDING_MOMENT_EARLY,
    FINDING_MOMENT_VARIES,
    /* Of a cartridge, by the console (check.h) or by a reader (reader.h). */
    FINDING_CART_BYTE_WRONG,    /* one byte; text: bank and address */
    FINDING_CART_PAGE_WRONG,    /* a page or several, more than a byte each */
    FINDING_CART_HOTSPOT_WRONG, /* selects another bank, or none */
    FINDING_CART_NOT_SWITCHING, /* no hotspot does anything */
    FINDING_CART_SWITCHES_TOO,  /* another address switches */
    FINDING_CART_VECTOR_WRONG,
    FINDING_CART_RAM_MISSING,
    FINDING_CART_RAM_STUCK, /* RAM by class; cell and bit in the text */
    FINDING_CART_RAM_TRANSITION,
    FINDING_CART_RAM_COUPLED,
    FINDING_CART_RAM_DECODER,
    FINDING_CART_RAM_FAULTY,      /* RAM errors that are no single one of these */
    FINDING_CART_BUS_HELD,        /* drives with A12 = 0 */
    FINDING_CART_ADDRESS_OPEN,    /* bit: the line */
    FINDING_CART_ADDRESS_SHORTED, /* bit: one line; reg: the other (0..12) */
    FINDING_CART_ADDRESS_STUCK,
    FINDING_CART_DATA_STUCK, /* bit */
    FINDING_CART_DATA_OPEN,
    FINDING_CART_DATA_SHORTED, /* bit and reg: the lines */
    FINDING_CART_SLOW,         /* a page, or all of it */
    FINDING_CART_RELEASE_SLOW,
    FINDING_CART_WAKES_LATE,
    FINDING_CART_CONTACT,     /* comes and goes; bit: the address line, or reg: the data line, where one
                                  can be told */
    FINDING_CART_DEAD,        /* the console does not start from it, or nothing ever answers the reader */
    FINDING_CART_OTHER_IMAGE, /* whole, and not the image that it was compared with */
    FINDING_CART_OVERLOAD,    /* takes more current than the reader's supply gives */
    FINDING_KINDS
};

enum { JUDGE_GOOD_FIELDS = 2, FINDINGS_MAX = 24, TROUBLES_MAX = 12 };

struct finding {
    enum finding_kind kind;
    int reg;                    /* enum reg, or -1; of a cartridge another line than bit's, or -1 */
    int bit;                    /* 0..7, or -1; of an address line 0..12 */
    bool alternative;           /* another finding predicts the very same pictures, or numbers */
    int explanation;            /* findings of the same number are one explanation and hold together; a
                                   finding marked as an alternative stands against those of other numbers */
    double rate;                /* intermittent: share of fields that failed; else 1 */
    double rate_low, rate_high; /* intermittent: its 95 % Wilson interval; else 1 */
    char text[320];             /* what was seen and what it means */
    char next[320];             /* what a person should try, least invasive first */
};

struct step_result {
    enum verdict verdict;
    int fields;        /* good, different fields judged */
    int failed;        /* of them, fields that were wrong */
    double margin;     /* worst over the judged fields; 0 when none */
    uint64_t expected; /* first line's cells; of a failing step whose bands are lines: wrong_line's */
    uint64_t sure;
    uint64_t seen, unclear; /* of the field that stands for the step: a failing one where there is one, by
                               majority of the lines of the first band */
    double offset;          /* mean playfield offset in clocks, 0 when no edge was seen */
    int wrong_line;         /* first picture line that was wrong, or -1 */
    struct cell_colour lit_colour, dark_colour; /* mean over the judged fields */
};

/* Pictures that were seen, of plans whose pictures are counted rather than listed as steps. */
struct coverage {
    uint64_t seen, of; /* of 0: the plan lists steps */
    uint64_t wrong;    /* seen wrong in two different fields */
    uint64_t open;     /* seen, and not yet called right or wrong */
};

struct moments;    /* verdict/moments.h */
struct palette;    /* verdict/palette.h */
struct check_seen; /* verdict/check.h */

struct result {
    enum verdict verdict;
    double margin;
    uint64_t fields_seen, fields_judged, fields_unreadable;
    bool has_raster;
    struct raster raster; /* mean over the judged fields; of the field */
    int frame_lines;      /* frame lines a field line stands for */
    size_t step_count;
    struct step_result *steps; /* owned by the judge */
    size_t finding_count;
    struct finding findings[FINDINGS_MAX];
    /* What is wrong with the capture chain, whatever the verdict. Where the verdict is inconclusive they
     * stand among the findings too, for then they may be why. */
    size_t trouble_count;
    struct finding troubles[TROUBLES_MAX];
    bool shown_to_end; /* inconclusive, though slates were read to the last: some pictures were not shown, or
                          not long enough */
    struct coverage coverage;
    int repeat_wanted; /* plan `every`: the grabber mixes lines so that each pattern needs this many; 0: as it
                          is */
    const struct moments *moments; /* of the judge's; NULL for other plans */
    const struct palette *palette;
    const struct check_seen *check;
};

struct judge;

/* hash: the image's. Allocates all it needs. The plan must outlive the judge. NULL when memory is short. */
struct judge *judge_new(const struct plan *plan, uint16_t hash);
void judge_free(struct judge *judge);

enum judged {
    JUDGED_PASS,
    JUDGED_FAIL,
    JUDGED_NOT
}; /* NOT: settling, doubled, unreadable, of another image */
/* One reading, in the order seen. What it says of this field alone; the caller may keep the failing ones. */
enum judged judge_reading(struct judge *judge, const struct reading *reading, int frame_lines);
/* What is known of the capture chain, all of it so far; the last call before judge_result() counts. */
void judge_capture(struct judge *judge, const struct frames_facts *facts, const struct video_counts *counts);
/* True once every step has at least JUDGE_GOOD_FIELDS fields. */
bool judge_complete(const struct judge *judge);
/* Pictures (steps, bases, moments) that still lack fields, and the slate's value seen last (-1: none): for
 * progress. */
size_t judge_owed(const struct judge *judge);
long judge_last_step(const struct judge *judge);
/* For a console that is told what to show: the slate's values that are owed and not under way, in the order
 * in which they should be shown; returns how many (0: wait for those under way). Each is taken to be under
 * way then, until it is seen, or until one asked for later has been seen well before it. */
size_t judge_ask(struct judge *judge, uint32_t *values, size_t most);
/* Plan `every`: the lines that each pattern must be shown for, as result->repeat_wanted; cheap. */
int judge_repeat_wanted(const struct judge *judge);
/* Works out verdict and findings of all that was read so far. The result stays good until the next call or
 * judge_free(). */
const struct result *judge_result(struct judge *judge);

/* Trouble of the capture chain that these facts tell, without any judging; returns how many. */
size_t capture_troubles(const struct frames_facts *facts, const struct video_counts *counts,
                        struct finding list[TROUBLES_MAX]);

const char *verdict_name(enum verdict verdict);   /* "pass", "fail", "inconclusive" */
const char *finding_name(enum finding_kind kind); /* "bit_stuck_low" ... */
bool finding_from_name(const char *name, enum finding_kind *kind);
/* Of a cartridge, not of the console or the picture: `reg` is a line's number then, no register. */
bool finding_is_cartridge(enum finding_kind kind);
/* What `reg` says: a register's name, or a line's number; "" of none. And back: -1 of none. */
const char *finding_reg(const struct finding *finding);
int finding_reg_from(enum finding_kind kind, const char *text);
/* Where it is, beside its kind: "PF1 D3", "PF1", "3", "A3", "A3 A7", "D2"; "" of nothing. Returns text. */
enum { FINDING_PLACE_MAX = 24 };
const char *finding_place(const struct finding *finding, char text[FINDING_PLACE_MAX]);
/* 0 pass, 1 fail, 4 inconclusive. (2 and 3 are not a result's.) */
int verdict_exit(enum verdict verdict);

#endif
