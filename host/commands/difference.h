/* Two results of the same measuring plan, held side by side. */
#ifndef SLOTJIG_COMMANDS_DIFFERENCE_H
#define SLOTJIG_COMMANDS_DIFFERENCE_H

#include "commands/options.h"
#include "plan/plan.h"
#include "report/moments_report.h"
#include "report/palette_report.h"

/* One of the two results. */
struct measured {
    enum plan_kind kind; /* PLAN_COLOURS, PLAN_MOMENTS */
    enum standard standard;
    const struct palette *palette; /* of PLAN_COLOURS */
    const struct moments *moments; /* of PLAN_MOMENTS */
    void *owned;                   /* what measured_free() frees */
};

/* From a file. PROBLEM_INPUT for what is no such result. */
bool measured_read(const char *path, struct measured *measured, struct problem *problem);
void measured_free(struct measured *measured);

struct difference {
    const char *names[2]; /* borrowed */
    const struct measured *sides[2];
    int differing; /* 0: nothing differs beyond the bounds */
    int compared;  /* 0: nothing could be compared */
    union {
        struct palette_difference palette;
        struct moments_difference moments;
    };
};

/* PROBLEM_INPUT where the two are of different plans or standards. Not small: let the caller allocate it. */
bool difference_make(const struct measured *first, const char *first_name, const struct measured *second,
                     const char *second_name, struct difference *difference, struct problem *problem);
/* "colours" or "moments". */
const char *difference_plan(const struct difference *difference);
void difference_text(FILE *stream, const struct difference *difference);
json_t *difference_json(const struct difference *difference);
/* difference.txt, .csv and .svg. */
bool difference_write(const struct difference *difference, const char *folder, struct problem *problem);

#endif
