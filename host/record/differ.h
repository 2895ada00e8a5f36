/*
 * Two groups of runs of one plan, held side by side: what is new, what is gone, what drifts. Pure arithmetic
 * over records; the run is the unit, never the field or the cell.
 *
 * A drift is called when it is significant (careful_test() over runs, Benjamini-Hochberg over all that was
 * tested together, DIFFER_RATE) and larger than its quantity's least effect. Each side needs DIFFER_RUNS
 * runs.
 */
#ifndef SLOTJIG_RECORD_DIFFER_H
#define SLOTJIG_RECORD_DIFFER_H

#include "base/problem.h"
#include "record/record.h"

enum { DIFFER_RUNS = 3 };
#define DIFFER_RATE 0.05
#define DIFFER_NOISE_DB 3      /* so much more or less noise moves margins by itself */
#define DIFFER_WARM_MINUTES 10 /* since power-on: a larger difference may itself move colours and delays */

enum quantity {
    QUANTITY_MARGIN, /* of a step, 0..1 */
    QUANTITY_OFFSET, /* of a step's playfield, clocks */
    QUANTITY_LIT_LEVEL,
    QUANTITY_DARK_LEVEL,
    QUANTITY_COLOUR_LEVEL, /* of plan colours: a register's code */
    QUANTITY_COLOUR_HUE,   /* degrees, unwrapped */
    QUANTITY_DELAY,        /* of plan moments: a register and phase, clocks */
    QUANTITY_COUNT
};
struct quantity_facts {
    const char *name, *unit;
    double least;        /* effect that is worth a word */
    double quantum;      /* resolution */
    bool lower_is_worse; /* else any change is */
};
extern const struct quantity_facts quantity_table[QUANTITY_COUNT];

/* Values of one quantity that differ() cannot take from the records itself (colours, delays): a run each, or
 * for differ_separate() a console each (before: the first group). Values that are not finite do not count. */
struct series {
    enum quantity quantity;
    char name[64]; /* "COLUPF $1C" */
    size_t before_count, now_count;
    double *before, *now;
};

struct drift {
    enum quantity quantity;
    char name[STEP_NAME_MAX + 8];
    int step; /* -1: of no step */
    int before_runs, now_runs;
    double before, now;        /* means */
    double before_sd, now_sd;  /* between runs */
    double t, df, p, adjusted; /* NaN: not tested */
    bool called, worse;
    bool perhaps_bench; /* called, but the bench is another one, or its video's noise, or all hues turned
                           alike: never worse then */
};

enum change_kind {
    CHANGE_NEW,
    CHANGE_GONE,
    CHANGE_MORE,
    CHANGE_LESS
}; /* more, less: in other shares of the runs */
/* A step's wrong cells, or a finding, that only one side shows. */
struct change {
    enum change_kind kind;
    int step;       /* -1: a finding */
    uint64_t cells; /* of a step: wrong on that side and never on the other; more, less: wrong on both */
    char name[96];  /* the step's, or the finding's with register and bit */
    int before_hits, before_runs, now_hits, now_runs; /* of the step, or of the finding */
    bool worse; /* a regression: new, or more, and of a run that failed */
    bool known; /* new, in no more runs than chance has it, but: of a step, these cells were wrong before in
                   other steps; of a finding, it stood only as an alternative to one that was there before.
                   Neither worse nor a doubt */
};

struct differ {
    size_t before_count, now_count;       /* runs that count: those that could be judged */
    size_t before_unjudged, now_unjudged; /* inconclusive ones beside them: their findings count, no more */
    size_t change_count, drift_count, tested;
    struct change *changes;
    struct drift *drifts;                 /* all that were tested, the most significant first */
    double before_minutes, now_minutes;   /* mean since power-on; NaN: not known */
    double before_noise_db, now_noise_db; /* mean of the video's; NaN: not known */
    bool other_noise;                     /* these differ by more than DIFFER_NOISE_DB, or one is not known */
    bool other_bench; /* some run now was made on a bench that none before was made on, or with a trouble of
                         the capture chain that none before had */
    double hue_turn;  /* degrees by which most hues turned alike: the grabber's tint may */
    bool warm_up;     /* the minutes differ by more than DIFFER_WARM_MINUTES */
    bool regression;  /* a change or a drift for the worse */
    bool doubt;       /* a new finding, but of no run that failed, or a drift that may be the bench's: neither
                         worse nor certainly not */
};

/* Whether a run could be judged: it passed, failed, or judged some fields before it was inconclusive. */
bool differ_run_counts(const struct record_run *run);

/* The lists' runs need STEPS and FINDINGS; all must be of one plan (by id): PROBLEM_INPUT else. */
bool differ_runs(const struct record_list *before, const struct record_list *now, const struct series *more,
                 size_t more_count, struct differ **differ, struct problem *problem);
void differ_free(struct differ *differ);

/* Whether hue_turn is worth a word. */
bool differ_turned(const struct differ *differ);

/* What it comes to. Not known: no run to judge by on one of the sides, or a doubt. */
enum differ_verdict { DIFFER_NOT_WORSE, DIFFER_WORSE, DIFFER_NOT_KNOWN };
enum differ_verdict differ_verdict(const struct differ *differ);

/* Which quantity of which step tells two groups of consoles best apart. The console is the unit: its runs are
 * averaged first. */
struct separation {
    enum quantity quantity;
    bool wrong; /* not a quantity but the share of runs in which the step was wrong */
    int step;   /* -1: of no step */
    char name[STEP_NAME_MAX + 8];
    int first_consoles, second_consoles;
    double first, second; /* means over consoles */
    double larger;        /* pairs_larger(): 0 or 1 separates all */
    double t, df, p, adjusted;
};
struct separations {
    size_t count;
    struct separation *list; /* best first */
};
bool differ_separate(const struct record_list *first, const struct record_list *second,
                     const struct series *more, size_t more_count, struct separations **separations,
                     struct problem *problem);
void separations_free(struct separations *separations);

#endif
