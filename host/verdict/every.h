/*
 * What the judge of plan `every` keeps: for each of its pictures what was seen, for each base what it owes.
 * Inside verdict/ only.
 *
 * A picture is one value of the 20 bits in one mode; its number is base index * patterns + place, the base
 * index mode * bases + field (plan/every.h). Pictures past `count` in a mode's last field are another base's
 * too, or not the plan's at all, and are not looked at.
 */
#ifndef SLOTJIG_VERDICT_EVERY_H
#define SLOTJIG_VERDICT_EVERY_H

#include "plan/every.h"
#include "verdict/state.h"

enum picture_state {
    SEEN_NEW,
    SEEN_UNCLEAR,    /* seen, and never clearly */
    SEEN_WRONG_ONCE, /* in one field, or in several that showed different cells */
    SEEN_RIGHT,
    SEEN_WRONG, /* two different fields showed the same wrong cells */
    SEEN_STATES,
    SEEN_STATE = 0x07,     /* mask */
    SEEN_WAS_RIGHT = 0x10, /* in some other field */
    SEEN_WAS_WRONG = 0x20  /* likewise; its cells are kept */
};

enum {
    EVERY_VISITS_MAX = 8, /* fields of a base after which what it still owes stays open */
    EVERY_LOST_AFTER = 8, /* a base is lost when one asked for so many later has been seen */
    EVERY_STALL = 112, /* or when so many bases were shown since: what waits at the board (40), is on its way
                          through the grabber (36) or not offered yet, and a little more */
    EVERY_NEAR = 8, /* a torn field's other part is of a base so near in turn, or among so many seen last */
    EVERY_SAMPLES = 64
};

struct base_state {
    int open;         /* pictures that are neither right nor wrong so far */
    int visits;       /* fields */
    int wrong_visits; /* of them, fields with a picture that was wrong */
    bool seen, queued, under_way;
    uint32_t order;    /* in which it was asked for */
    uint32_t shown_at; /* every_state.shown when it was */
};

struct asked {
    uint32_t base, order;
};

/* A line with unclear cells, for what only those tell: a playfield that is late by half a cell. */
struct unclear_sample {
    uint32_t picture;
    uint64_t lit, unclear;
};

/* What unclear cells have to do with the lines next to them, of the first fields. */
struct mixing_counts {
    int fields;
    double lines, unclear_lines; /* read; of them, lines with an unclear cell */
    double unclear, lit;         /* cells that are unclear; of them, cells that should be lit */
    double above, below, either; /* of them, cells that differ from the pattern above, below, either */
    double share;                /* sum of the readings' mixing */
    long clean;                  /* fields in which noise makes no cell unclear */
};

struct every_state {
    const struct every *plan;
    uint32_t total;               /* bases of both modes */
    uint64_t cells_of[2][3][256]; /* expected cells of PF0 D7-D4, PF1, PF2; of copy and mirror */
    uint8_t *state;               /* of each picture */
    uint64_t *cells;              /* that a wrong picture showed */
    struct base_state *bases;
    uint64_t right, wrong, open;
    size_t owed;                   /* bases */
    uint64_t unread;               /* fields of this image that could not be judged */
    uint64_t told;                 /* of them, those that are in the result already */
    uint64_t distrusted, torn;     /* fields whose wrong cells were not believed; that were torn */
    uint64_t lines, unclear_lines; /* read */
    uint64_t lit;                  /* cells that were lit in any line */
    /* Asking. */
    uint32_t fresh;              /* bases before it were asked for, or seen */
    uint32_t shown;              /* times the base on the screen changed */
    uint32_t last;               /* base on the screen */
    uint32_t recent[EVERY_NEAR]; /* those before it, a ring */
    uint32_t orders, newest_seen;
    struct asked *asked; /* ring of those under way */
    uint32_t asked_first, asked_count, asked_room;
    uint32_t *again; /* ring of those owed again */
    uint32_t again_first, again_count;
    /* Offset of the playfield's edges over the run, as in struct judge. */
    long offsets;
    double offset;
    struct mixing_counts mixing;
    /* Colours, every_colours.h. */
    struct plan *colour_plan;
    struct judge *colours;
    uint64_t field, dim;
    int repeat_wanted;
    struct unclear_sample samples[EVERY_SAMPLES];
    int sample_count;
};

/* Pattern v of a picture, or of a place of a base. */
static inline uint32_t every_pattern(const struct every_state *every, uint32_t base, int place) {
    const uint32_t mirror = base >= every->plan->bases, field = base - mirror * every->plan->bases;
    return every_value(every_base(every->plan, mirror, field), place);
}

static inline bool every_is_mirror(const struct every_state *every, uint32_t base) {
    return base >= every->plan->bases;
}

static inline uint64_t every_expected(const struct every_state *every, bool mirror, uint32_t v) {
    return every->cells_of[mirror][0][v >> 16 & 0x0F] | every->cells_of[mirror][1][v >> 8 & 0xFF] |
           every->cells_of[mirror][2][v & 0xFF];
}

/* Places of the base whose pictures are the plan's. */
static inline int every_places(const struct every_state *every, uint32_t base) {
    const uint32_t field = base % every->plan->bases, patterns = (uint32_t)every->plan->patterns;
    const uint32_t left = every->plan->count - field * patterns;
    return (int)(left < patterns ? left : patterns);
}

/* every_ask.c */
bool every_ask_start(struct every_state *every);
void every_ask_end(struct every_state *every);
size_t every_ask(void *state, uint32_t *values, size_t most);
/* The base was on the screen. */
void every_ask_seen(struct every_state *every, uint32_t base);
/* What it shows is owed again. */
void every_ask_again(struct every_state *every, uint32_t base);
bool every_base_owes(const struct every_state *every, uint32_t base);

/* every_mixing.c. first: picture line of the first pattern, of `repeat` lines each. */
void every_mixing_add(struct every_state *every, const struct reading *reading, const uint64_t *expected);
/* Line of a pattern's that is read. */
int every_line_read(const struct every_state *every, const struct reading *reading);

/* every_explain.c: findings and verdict of what was seen. */
void every_explain(struct every_state *every, struct judge *judge, struct result *result);

#endif
