/* Texts such as `ghost=0.2:1.5` taken apart, for faults and impairments. */
#ifndef SLOTJIG_VIRTUAL_WORDS_H
#define SLOTJIG_VIRTUAL_WORDS_H

#include "virtual/bench.h"

#include <stdbool.h>

enum {
    WORD_MAX = 60, /* the longest spelling is shorter by far */
    WORD_SHOWN = WORD_MAX + 5
};

/* Cuts the text at the sign; what follows it, or NULL where there is none. */
char *word_cut(char *text, char sign);
bool word_whole(const char *text, long least, long most, long *value);
/* A number, fractions allowed, neither infinite nor no number. */
bool word_number(const char *text, double *value);
/* Letters to insert, remove or replace to make one of the other. Both shorter than WORD_MAX. */
int word_distance(const char *from, const char *to);
/* The spelling that begins with the key, or the key itself. */
const char *word_spelling(const struct fault_spelling *spellings, const char *key);
/* The text with its closing quote, cut where it is long, and fit for one line whatever is in it. */
void word_shown(const char *text, char shown[WORD_SHOWN]);

#endif
