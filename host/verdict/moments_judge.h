/* What the judge of plan moments keeps of a run, and what it says of it. Inside verdict/ only. */
#ifndef SLOTJIG_VERDICT_MOMENTS_JUDGE_H
#define SLOTJIG_VERDICT_MOMENTS_JUDGE_H

#include "verdict/counted.h"
#include "verdict/moments_field.h"

enum {
    MOMENT_PICTURES = 2, /* with the value before the write, and after it */
    ASKED_PATIENCE =
        256 /* values that may be shown before one that was asked for: more than any board keeps */
};

/* Of one half and edge of one moment, over its fields. */
struct half_sum {
    int count[HALF_STATES];
    double sum, squares; /* of the clocks of those that change */
};

/* Of one register and mode, over all fields of its moments: how often each cell of either picture was seen
 * white, black. */
struct cell_counts {
    int fields;
    int light[MOMENT_PICTURES][CELLS], dark[MOMENT_PICTURES][CELLS];
};

struct moments_state {
    size_t owed;
    long last; /* value of the field before; -1: none */
    struct half_sum sums[MOMENT_VALUES][MOMENT_EDGES][HALVES];
    struct asked {
        uint32_t turn;  /* 0: not under way; else its number among all that were asked for */
        uint32_t shown; /* then, values shown so far */
    } asked[MOMENT_VALUES];
    uint32_t turn, shown;
    struct cell_counts cells[MOMENT_REGISTERS][MOMENT_MODES];
    struct moment_cells expected[MOMENT_REGISTERS][MOMENT_MODES];
    uint16_t wrong[MOMENT_VALUES]; /* fields with cells that are not the handbook's, up to UINT16_MAX */
    double margin;                 /* worst of the fields used */
    long late_fields;
    double
        late; /* clocks by which the playfield's cells lie right of where they should, mean, modulo a cell */
    long white_fields;
    double beside; /* clocks by which a picture white all over lies beside the slate's edges, mean */
    struct moments moments;
};

/* Findings of a run whose delays and windows stand; takes back delays that wrong cells may have made. True
 * when some say that the console is at fault. */
bool moments_tell(struct moments_state *state, struct judge *judge);

#endif
