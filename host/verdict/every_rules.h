/*
 * What does a cell show, as a function of the 20 bits? Every cell of either mode is held against all simple
 * answers at once, over all pictures that were called right or wrong, 64 at a time: an answer that one
 * picture contradicts is out. What is left predicts every one of them. Inside verdict/ only.
 *
 * Bits are named by their places in the serial output, 0..19 [H TIA 1A, serial output table].
 */
#ifndef SLOTJIG_VERDICT_EVERY_RULES_H
#define SLOTJIG_VERDICT_EVERY_RULES_H

#include "verdict/every.h"

enum rule_kind { RULE_OWN, RULE_LOW, RULE_HIGH, RULE_COUPLED, RULE_ANDED, RULE_ORED, RULE_KINDS };

/* The cell shows its own bit, always 0 or 1, another bit, or its own joined with another. */
struct rule {
    enum rule_kind kind;
    int from; /* RULE_COUPLED and on */
};

/* Sets of rules: bit rule_index() of each that nothing contradicts. */
enum { RULES = 3 + 3 * EVERY_BITS };
struct cell_rules {
    uint64_t left[2][CELLS]; /* copy, mirror */
    uint64_t pictures;       /* looked at */
};

int rule_index(struct rule rule);
struct rule rule_at(int index);
/* The bit that the handbook has a cell show. */
int rule_position(bool mirror, int cell);

void rules_find(const struct every_state *every, struct cell_rules *rules);
/* Some cell has no rule at all. */
bool rules_fail(const struct cell_rules *rules);
/* The cause draws each cell as one of the rules that are left. A cause that leaves cells half lit does not.
 */
bool rules_allow(const struct cell_rules *rules, const struct cause *cause);
/* What a cell shows under a cause that moves or holds bits. */
struct rule rule_under(const struct cause *cause, bool mirror, int cell);
/* A cell whose own bit is at that place, of the 20 bits in serial order. */
bool rule_shows(struct rule rule, int own, uint32_t bits);

#endif
