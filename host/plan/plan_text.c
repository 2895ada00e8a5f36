#include "plan/plan_text.h"

#include "base/scheme.h"

#include <stdio.h>
#include <stdlib.h>

static void put_band(FILE *text, const struct band *band, bool only) {
    if (!only) {
        fprintf(text, "[band]\nlines = %u\n", band->lines);
    }
    for (int i = 0; i < band->count; i++) {
        const struct write *write = &band->writes[i];
        if (write->cycle == WRITE_BEFORE) {
            fprintf(text, "%s = $%02X\n", reg_name(write->reg), write->value);
        } else {
            fprintf(text, "write = %s $%02X at %d\n", reg_name(write->reg), write->value, write->cycle);
        }
    }
}

/* What the plan is, where that is not its steps alone. True: it has none to write. */
static bool put_kind(FILE *text, const struct plan *plan) {
    switch (plan->kind) {
    case PLAN_EVERY:
        fprintf(text, "counts = every %u %d\n", 2 * plan->every.count, plan->every.repeat);
        return true;
    case PLAN_MOMENTS:
        fprintf(text, "counts = moments\n");
        return true;
    case PLAN_CARTRIDGE:
        fprintf(text, "counts = cartridge %s%s\n", scheme_name(plan->check.scheme),
                plan->check.ram ? " ram" : "");
        return true;
    case PLAN_COLOURS:
        fprintf(text, "counts = colours\n");
        return true;
    default:
        return false;
    }
}

char *plan_text(const struct plan *plan) {
    char *bytes = NULL;
    size_t size = 0;
    FILE *text = open_memstream(&bytes, &size);
    if (text == NULL) {
        return NULL;
    }
    fprintf(text, "[plan]\nname = %s\nstandard = %s\n", plan->name, standard_table[plan->standard].name);
    const size_t steps = put_kind(text, plan) ? 0 : plan->step_count;
    for (size_t i = 0; i < steps; i++) {
        const struct step *step = &plan->steps[i];
        fprintf(text, "\n[step %s]\n%s", step->name, step->vouched ? "vouched = yes\n" : "");
        for (size_t b = 0; b < step->band_count; b++) {
            put_band(text, &step->bands[b], step->band_count == 1);
        }
    }
    if (fclose(text) != 0) {
        free(bytes);
        return NULL;
    }
    return bytes;
}
