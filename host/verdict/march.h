/*
 * March C- over a RAM with one fault in it: which reads go wrong. M0 any(w0); M1 up(r0,w1); M2 up(r1,w0);
 * M3 down(r0,w1); M4 down(r1,w0); M5 any(r0) (A. J. van de Goor, "Testing Semiconductor Memories", 1991),
 * with 0 the background and 1 its complement, once with each of plan/check.h's backgrounds.
 */
#ifndef SLOTJIG_VERDICT_MARCH_H
#define SLOTJIG_VERDICT_MARCH_H

#include "plan/check.h"

/* Classes by the same book; where its words leave open what happens, there are two of a kind. */
enum march_kind {
    MARCH_STUCK,      /* the bit is always `value` */
    MARCH_TRANSITION, /* the bit cannot go to `value` */
    MARCH_INVERSION,  /* a write that makes bit `by` of cell by_cell `when` inverts the bit */
    MARCH_IDEMPOTENT, /* likewise, and it becomes `value` */
    MARCH_STATE_READ, /* while bit `by` of cell by_cell is `when`, the bit reads as `value` */
    MARCH_STATE_HELD, /* likewise, and it stays so after */
    MARCH_NO_CELL,    /* the address reaches none: reads give all ones [P] */
    MARCH_OTHER_CELL, /* the address reaches by_cell */
    MARCH_BOTH_CELLS, /* the address reaches its cell and by_cell: reads give both joined by AND [P] */
    MARCH_KINDS
};
struct march_fault {
    enum march_kind kind;
    uint8_t cell, bit, value, by_cell, by, when;
    uint8_t
        begins; /* what the RAM holds before the first write: the cell all ones (1), `by` of by_cell (2) */
};
enum { MARCH_BEGINS = 4 };

struct march_error {
    uint8_t background, element, cell, read, right;
};

/* Whether a RAM with that fault would give just these wrong reads, all of the march's; cut: there were more.
 * Only cells that the fault has to do with are marched over: the others are right, and change nothing. */
bool march_gives(const struct march_fault *fault, const struct march_error *list, size_t count, bool cut);

/* The march itself over any RAM: `access` reads (written -1) or writes a cell. */
typedef uint8_t march_access(void *state, uint8_t cell, int written);
/* cells: ascending. Returns how many reads were wrong; log: the first `room`. */
size_t march_over(march_access *access, void *state, const uint8_t *cells, size_t count,
                  struct march_error *log, size_t room);

#endif
