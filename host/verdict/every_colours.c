#include "verdict/every_colours.h"
#include "verdict/colours.h"

#include <stdio.h>

enum { ROUND = 12, DIM_FIELDS = 16 };

bool every_colours_start(struct every_state *every, enum standard standard) {
    struct problem problem;
    every->colour_plan = plan_new("every", standard);
    for (int i = 0; every->colour_plan != NULL && i < ROUND; i++) {
        char name[STEP_NAME_MAX];
        snprintf(name, sizeof name, "every %d", i);
        if (!plan_add_hold(every->colour_plan, name, 0, 0xF0, 0, 0, &problem)) {
            return false;
        }
    }
    every->colours = every->colour_plan != NULL ? judge_new(every->colour_plan, 1) : NULL;
    return every->colours != NULL;
}

void every_colours_end(struct every_state *every) {
    judge_free(every->colours);
    plan_free(every->colour_plan);
}

void every_colours_add(struct every_state *every, const struct reading *reading, const uint64_t *expected,
                       bool dim) {
    struct judge *colours = every->colours;
    struct step_state *step = &colours->steps[every->field++ % ROUND];
    const int line = step->expect.lines / 2, place = line / every->plan->repeat;
    if (reading->unsettled || reading->blended || place >= every->plan->patterns) {
        return;
    }
    every->dim += dim;
    step->expect.lit[line] = expected[place]; /* the line that tells whether cells are what they should be */
    colours->result.fields_judged++;
    colours_add(colours, step, reading);
}

bool every_colours_dim(const struct every_state *every) {
    return every->dim >= DIM_FIELDS && 10 * every->dim > 9 * every->field;
}

bool every_colours_rule_out(const struct every_state *every, const struct cause *cause) {
    return colours_rule_out(every->colours, cause);
}

bool every_colours_judge(struct every_state *every, const struct cause *explained, struct result *result) {
    struct result *own = &every->colours->result;
    own->finding_count = 0;
    const bool wrong = colours_judge(every->colours, explained);
    const int first =
        result->finding_count > 0 ? result->findings[result->finding_count - 1].explanation + 1 : 0;
    for (size_t i = 0; wrong && i < own->finding_count && result->finding_count < FINDINGS_MAX; i++) {
        struct finding *finding = &result->findings[result->finding_count++];
        *finding = own->findings[i];
        finding->explanation += first;
    }
    return wrong;
}
