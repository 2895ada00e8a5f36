/*
 * The writes of one line put into cycles: a loop of one line each row, whose values come out of tables. A
 * load (LDA table,Y or LDX table,Y) takes 4 cycles, a store 3 [H MOS programming manual]; A and X take turns,
 * so that a value can be loaded while another one waits. The line before loads the first two.
 *
 *     loop  STA WSYNC          ; 3, ends the line
 *           ...                ; the stores, and the loads in between
 *           LDA first-1,Y      ; 4 } of the row that follows
 *           LDX second-1,Y     ; 4 }
 *           DEY                ; 2
 *           BNE loop           ; 3
 */
#ifndef SLOTJIG_PLAN_SCHEDULE_H
#define SLOTJIG_PLAN_SCHEDULE_H

#include "plan/plan.h"

enum {
    SCHEDULE_LOAD = 4,
    SCHEDULE_STORE = 3,
    SCHEDULE_END = 8,          /* DEY, BNE, STA WSYNC */
    SCHEDULE_WAITING = 2,      /* values that can wait: A and X */
    SCHEDULE_RIGHT_LEAST = 31, /* in mid-line: all before it of a picture's first line takes 28 cycles, with
                                  two loads, and a store 3 */
    SCHEDULE_OPS_MAX = 4 * BAND_WRITES_MAX
};

/* One register to be written once a line, by a store that ends with a cycle of first..last. A window that
 * begins in the line before has negative cycles. */
struct wanted_write {
    enum reg reg;
    int first, last;
};

struct placed_write {
    int wanted; /* its place in the list of those wanted */
    int cycle;  /* 0..75 */
    bool early; /* it is for the row that follows */
};

enum schedule_op_kind { SCHEDULE_DELAY, SCHEDULE_READ, SCHEDULE_WRITE };
struct schedule_op {
    enum schedule_op_kind kind;
    int store;  /* of the schedule; not of a delay */
    int cycles; /* it takes; a store of 4 is one with an absolute address */
    bool ahead; /* a read for the row that follows */
};

struct schedule {
    int count;
    struct placed_write stores[BAND_WRITES_MAX]; /* in the order of their cycles */
    int op_count;
    struct schedule_op ops[SCHEDULE_OPS_MAX]; /* from the line's first cycle on, without the loop's end */
    int cycles;                               /* of the line, the store to WSYNC included */
};

/* Store n is done from A (n even) or X. */
static inline bool schedule_uses_x(int store) {
    return store % SCHEDULE_WAITING == 1;
}

/* False when no order of the writes fits. *schedule is good only then. */
bool schedule_find(const struct wanted_write *wanted, int count, struct schedule *schedule);

#endif
