/* Rules of cells put together: which bits of the serial output are wrong, and how. Inside verdict/ only. */
#ifndef SLOTJIG_VERDICT_EVERY_SETS_H
#define SLOTJIG_VERDICT_EVERY_SETS_H

#include "verdict/every_rules.h"

/* Where a bit is drawn: bits of rule_part.drawn. */
enum {
    DRAWN_COPY_LEFT = 1,
    DRAWN_COPY_RIGHT = 2,
    DRAWN_MIRROR_LEFT = 4,
    DRAWN_MIRROR_RIGHT = 8,
    DRAWN_ALL = 15,
    DRAWN_PLACES = 4,
    RULE_PARTS_MAX = 20
};

struct rule_part {
    int position; /* in the serial output */
    struct rule rule;
    int drawn;         /* where it holds */
    bool ambiguous;    /* other rules fit as well */
    uint64_t pictures; /* in which it shows */
};

/* A cause, or none, and what is wrong besides. */
struct rule_set {
    const struct cause *cause; /* of the judge's; NULL: none */
    int count;
    struct rule_part part[RULE_PARTS_MAX];
};

/* The smallest set that predicts every cell. False: there is none. */
bool rule_set_find(const struct judge *judge, const struct cell_rules *rules, struct rule_set *set);
/* The same without a cause. */
bool rule_set_plain(const struct cell_rules *rules, struct rule_set *set);
/* Fills `pictures` of each part, of the pictures that were called wrong. */
void rule_set_count(const struct every_state *every, struct rule_set *set);
/* The part as a cause, for texts. */
struct cause rule_part_cause(const struct rule_part *part);

#endif
