/*
 * Causes: every single thing that may be wrong with the playfield, as a change of what the registers hold or
 * of where the playfield lies; and what each would draw. Inside verdict/ only.
 */
#ifndef SLOTJIG_VERDICT_CAUSES_H
#define SLOTJIG_VERDICT_CAUSES_H

#include "verdict/verdict.h"

enum {
    CAUSES_MAX = 128,
    CAUSE_REGS = REG_PF2 + 1, /* CTRLPF, PF0, PF1, PF2: enum reg's first four */
    SHIFT_MAX = 16,           /* colour clocks */
    CAUSE_JOINTS = 2
};

/* The bit at one place of the serial output shows what is held for another place, or joins it. */
enum joining { JOINED_NOT, JOINED_COUPLED, JOINED_ANDED, JOINED_ORED, JOININGS };
struct joint {
    enum joining how;
    int at, from; /* positions, 0..19 */
};

struct cause {
    enum finding_kind kind;
    int reg, bit;                                /* as in struct finding */
    bool high;                                   /* of a stuck thing: stuck high */
    uint8_t keep[CAUSE_REGS], force[CAUSE_REGS]; /* the register holds (value & keep) | force */
    uint8_t to[CAUSE_REGS];                      /* the register that a write really reaches */
    uint8_t reversed;                            /* bit r: register r is drawn in the wrong order */
    uint8_t unconnected;                         /* bit k: PF0's Dk is drawn in D(k+4)'s cells too */
    bool low_nibble;                             /* PF0's D0..D3 are drawn instead of D4..D7 */
    struct joint joints[CAUSE_JOINTS]; /* of what the registers would draw without; stuck bits come after */
    int shift;                         /* colour clocks the playfield is late, 0..SHIFT_MAX */
};

/* What a step shows on each line. half: cells of which one half would be lit and the other dark. soft: cells
 * that may be seen as unclear if the cause is right. */
struct prediction {
    struct expectation shown;
    uint64_t half[PICTURE_LINES_MAX];
    uint64_t soft[PICTURE_LINES_MAX];
};

/* A cause that changes nothing. */
struct cause cause_none(enum finding_kind kind);
/* Adds another cause's stuck bits and joints to what is already wrong. */
void cause_add(struct cause *cause, const struct cause *stuck);
/* The bit at that place shows the other's value, or both joined; reg and bit are those of the first. */
struct cause cause_join(enum joining how, int at, int from);
/* All single causes but joints. The bits come first: the serial output's first low, first high, second low...
 * Returns how many. */
size_t cause_list(struct cause causes[CAUSES_MAX]);
/* Cells of registers that hold their values, under the cause. */
uint64_t cause_cells(const struct cause *cause, const uint8_t registers[REG_COUNT], uint64_t *half);
/* lines: of the plan's picture. bands: room for the step's bands. A step that holds its registers fills line
 * 0 alone. Joints are left out in a step that does not. */
void cause_predict(const struct cause *cause, const struct step *step, int lines, struct band *bands,
                   struct prediction *out);

#endif
