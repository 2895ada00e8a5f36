#include "verdict/every_colours.h"
#include "verdict/colours.h"
#include "verdict/colours_fit.h"

#include <math.h>
#include <stdio.h>

#define ERROR_MOST 0.2 /* mean, of what a guess may be off */
#define ECHO_MOST 0.15
#define ECHO_MOST_CLIPPED 0.05 /* of which white that is cut off shows a part only */

enum { ROUND = 12, DIM_FIELDS = 16, COLOUR_FIELDS = 256 /* four seconds: a hum bar has moved on */ };

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

/* How far what was measured is from what the bit, stuck, would draw; negative: it does not fit. */
static double error_of(const struct judge *colours, const struct finding *finding) {
    const enum side side = finding->reg == REG_COLUPF ? LIT : DARK;
    const uint8_t mask = (uint8_t)(1u << finding->bit);
    struct fault low = colours_no_fault, high = colours_no_fault;
    low.keep[side] &= (uint8_t)~mask;
    high.force[side] |= mask;
    const double of_low = colours_error_of(colours, &low), of_high = colours_error_of(colours, &high);
    return of_low < 0 || (of_high >= 0 && of_high < of_low) ? of_high : of_low;
}

/* The plan shows one colour of each register, so only what is just what a stuck bit draws is believed: hum
 * and echoes make any other. */
static bool is_believed(const struct judge *colours, const struct finding *finding) {
    const double error = finding->bit >= 0 ? error_of(colours, finding) : -1;
    return error >= 0 && error <= ERROR_MOST;
}

static bool is_trusted(const struct colours *colours) {
    const double most = 10 * colours->clipped > colours->fields ? ECHO_MOST_CLIPPED : ECHO_MOST;
    return colours->fields >= COLOUR_FIELDS && fabs(colours->echo) <= most;
}

bool every_colours_judge(struct every_state *every, const struct cause *explained, struct result *result) {
    struct result *own = &every->colours->result;
    bool wrong = false;
    own->finding_count = 0;
    if (is_trusted(&every->colours->colours)) {
        colours_judge(every->colours, explained);
    }
    const int first =
        result->finding_count > 0 ? result->findings[result->finding_count - 1].explanation + 1 : 0;
    for (size_t i = 0; i < own->finding_count && result->finding_count < FINDINGS_MAX; i++) {
        if (is_believed(every->colours, &own->findings[i])) {
            struct finding *finding = &result->findings[result->finding_count++];
            *finding = own->findings[i];
            finding->explanation += first;
            wrong = true;
        }
    }
    return wrong;
}
