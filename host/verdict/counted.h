/*
 * Judges of plans that are no list of steps, or that measure. judge.c does what every slate needs (image,
 * doubled fields, fields cut off), then hands the field to one of these. Inside verdict/ only.
 */
#ifndef SLOTJIG_VERDICT_COUNTED_H
#define SLOTJIG_VERDICT_COUNTED_H

#include "verdict/state.h"

struct counted {
    void *state; /* NULL: the plan is judged step by step */
    void (*free)(void *state);
    /* A new field with this image's slate and all its lines. */
    enum judged (*read)(void *state, const struct reading *reading);
    void (*blind)(void *state); /* NULL: not wanted; a field without this image's slate */
    size_t (*owed)(const void *state);
    size_t (*ask)(void *state, uint32_t *values,
                  size_t most);              /* NULL: the console goes through them by itself */
    int (*repeat_wanted)(const void *state); /* NULL: 0 */
    /* Adds to the result: verdict, findings (findings.h), coverage and the rest. */
    void (*result)(void *state, struct judge *judge, struct result *result);
};

/* False: out of memory. */
bool every_judge(const struct plan *plan, struct counted *counted);
bool moments_judge(const struct plan *plan, struct counted *counted);
bool palette_judge(const struct plan *plan, struct counted *counted);
bool check_judge(const struct plan *plan, struct counted *counted);

#endif
