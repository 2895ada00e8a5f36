/*
 * How much there is to know in runs: the entropy of order 0 of each thing that is kept of a run or a step, at
 * the precision to which it is kept, over all runs that were counted; added up as if no two of them had
 * anything to do with each other. A text counts as the one of its different values that it is, and once with
 * all its bytes. What is different in each of n runs (their times, their seeds) so counts log2(n) bits.
 */
#ifndef TESTS_RECORD_INFORMATION_H
#define TESTS_RECORD_INFORMATION_H

#include "record/record.h"

struct information;
struct information *information_new(void);
void information_free(struct information *information);

void information_add(struct information *information, const struct record_run *run);
/* Bytes in all runs that were added. */
double information_bytes(const struct information *information);
/* Of them, those of steps. */
double information_step_bytes(const struct information *information);

#endif
