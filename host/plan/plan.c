#include "plan/plan.h"
#include "plan/check.h"
#include "plan/moments.h"
#include "plan/plan_file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { STORE_CYCLES = 3 }; /* the shortest store, to the zero page [H MOS programming manual] */

struct plan *plan_new(const char *name, enum standard standard) {
    struct plan *plan = calloc(1, sizeof *plan);
    if (plan == NULL) {
        return NULL;
    }
    snprintf(plan->name, sizeof plan->name, "%s", name);
    plan->standard = standard;
    plan->steps = calloc(PLAN_STEPS_MAX, sizeof *plan->steps);
    if (plan->steps == NULL) {
        free(plan);
        return NULL;
    }
    return plan;
}

bool plan_counts(const struct plan *plan) {
    return plan->kind == PLAN_EVERY || plan->kind == PLAN_MOMENTS || plan->kind == PLAN_CARTRIDGE;
}

uint32_t plan_pictures(const struct plan *plan) {
    switch (plan->kind) {
    case PLAN_EVERY:
        return 2 * plan->every.bases;
    case PLAN_MOMENTS:
        return MOMENT_VALUES;
    case PLAN_CARTRIDGE: {
        struct check_item items[CHECK_ITEMS_MAX];
        return (uint32_t)check_items(&plan->check, items);
    }
    default:
        return (uint32_t)plan->step_count;
    }
}

void plan_free(struct plan *plan) {
    if (plan != NULL) {
        free(plan->bands);
        free(plan->steps);
        free(plan);
    }
}

static size_t bands_used(const struct plan *plan) {
    if (plan->step_count == 0) {
        return 0;
    }
    const struct step *last = &plan->steps[plan->step_count - 1];
    return (size_t)(last->bands - plan->bands) + last->band_count;
}

/* Capacities are powers of two from 64, so that it follows from the bands in use. */
static size_t bands_capacity(size_t used) {
    size_t capacity = 64;
    while (capacity < used) {
        capacity *= 2;
    }
    return capacity;
}

static bool bands_reserve(struct plan *plan, size_t used, size_t more) {
    size_t wanted = bands_capacity(used + more);
    if (plan->bands != NULL && wanted == bands_capacity(used)) {
        return true;
    }
    struct band *bands = calloc(wanted, sizeof *bands);
    if (bands == NULL) {
        return false;
    }
    if (plan->bands != NULL) {
        memcpy(bands, plan->bands, used * sizeof *bands);
    }
    for (size_t i = 0; i < plan->step_count; i++) {
        plan->steps[i].bands = bands + (plan->steps[i].bands - plan->bands);
    }
    free(plan->bands);
    plan->bands = bands;
    return true;
}

static bool check_order(const char *step, const struct write *write, int previous, struct problem *problem) {
    bool first = previous == WRITE_BEFORE;
    bool good = first || (write->cycle != WRITE_BEFORE && write->cycle - previous >= STORE_CYCLES);
    if (!good) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "step '%s': the write of %s at cycle %d follows one at cycle %d; give writes in the order "
            "of their cycles, at least %d apart (a store takes that long)",
            step, reg_name(write->reg), write->cycle, previous, STORE_CYCLES);
    }
    return true;
}

static bool check_writes(const char *step, const struct band *band, struct problem *problem) {
    if (band->count > BAND_WRITES_MAX) {
        return problem_set(problem, PROBLEM_INPUT,
                           "step '%s': a band has %d writes, at most %d fit; use fewer", step, band->count,
                           BAND_WRITES_MAX);
    }
    int previous = WRITE_BEFORE;
    for (int i = 0; i < band->count; i++) {
        const struct write *write = &band->writes[i];
        if ((unsigned)write->reg >= REG_COUNT) {
            return problem_set(problem, PROBLEM_INPUT, "step '%s': register number %d does not exist", step,
                               (int)write->reg);
        }
        if (write->cycle < WRITE_BEFORE || write->cycle >= LINE_CYCLES) {
            return problem_set(problem, PROBLEM_INPUT,
                               "step '%s': the write of %s is at cycle %d; a line has 0 to %d", step,
                               reg_name(write->reg), write->cycle, LINE_CYCLES - 1);
        }
        if (!check_order(step, write, previous, problem)) {
            return false;
        }
        previous = write->cycle;
    }
    return true;
}

static bool check_bands(const struct plan *plan, const char *step, const struct band *bands, size_t count,
                        struct problem *problem) {
    const int wanted = standard_plan_lines(plan->standard);
    int lines = 0;
    for (size_t i = 0; i < count; i++) {
        if (bands[i].lines == 0) {
            return problem_set(problem, PROBLEM_INPUT, "step '%s': band %zu has no lines; give it at least 1",
                               step, i + 1);
        }
        lines += bands[i].lines;
        if (!check_writes(step, &bands[i], problem)) {
            return false;
        }
    }
    if (lines != wanted) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "step '%s': its bands have %d lines together, the picture has %d (%s); make them agree", step,
            lines, wanted, standard_table[plan->standard].name);
    }
    return true;
}

static bool check_place(const struct plan *plan, const char *name, struct problem *problem) {
    if (plan->step_count >= PLAN_STEPS_MAX) {
        return problem_set(problem, PROBLEM_INPUT,
                           "step '%s' is one too many: a plan has at most %d; split the plan", name,
                           PLAN_STEPS_MAX);
    }
    for (size_t i = 0; i < plan->step_count; i++) {
        if (strcmp(plan->steps[i].name, name) == 0) {
            return problem_set(problem, PROBLEM_INPUT,
                               "step '%s' is there twice; give each step a name of its own", name);
        }
    }
    return true;
}

bool plan_add_step(struct plan *plan, const char *name, const struct band *bands, size_t band_count,
                   struct problem *problem) {
    struct step step = {.band_count = band_count};
    snprintf(step.name, sizeof step.name, "%s", name);
    if (!check_place(plan, step.name, problem) || !check_bands(plan, step.name, bands, band_count, problem)) {
        return false;
    }
    const size_t used = bands_used(plan);
    if (!bands_reserve(plan, used, band_count)) {
        return problem_set(problem, PROBLEM_BENCH, "step '%s': out of memory", step.name);
    }
    memcpy(plan->bands + used, bands, band_count * sizeof *bands);
    step.bands = plan->bands + used;
    plan->steps[plan->step_count++] = step;
    return true;
}

bool plan_add_hold(struct plan *plan, const char *name, uint8_t ctrlpf, uint8_t pf0, uint8_t pf1, uint8_t pf2,
                   struct problem *problem) {
    const struct band band = {
        .lines = (uint16_t)standard_plan_lines(plan->standard),
        .count = 4,
        .writes = {{REG_CTRLPF, ctrlpf, WRITE_BEFORE},
                   {REG_PF0, pf0, WRITE_BEFORE},
                   {REG_PF1, pf1, WRITE_BEFORE},
                   {REG_PF2, pf2, WRITE_BEFORE}},
    };
    return plan_add_step(plan, name, &band, 1, problem);
}

void step_registers(const struct step *step, uint8_t registers[REG_COUNT]) {
    for (int reg = 0; reg < REG_COUNT; reg++) {
        registers[reg] = plan_default_colour((enum reg)reg);
    }
    if (step->band_count == 0) {
        return;
    }
    for (int i = 0; i < step->bands[0].count; i++) {
        const struct write *write = &step->bands[0].writes[i];
        if (write->cycle == WRITE_BEFORE) {
            registers[write->reg] = write->value;
        }
    }
}

const struct band *step_band_at(const struct step *step, int line) {
    size_t band = 0;
    for (int end = step->bands[0].lines; line >= end; end += step->bands[band].lines) {
        band++;
    }
    return &step->bands[band];
}

bool step_is_hold(const struct step *step) {
    if (step->band_count != 1) {
        return false;
    }
    const struct band *band = &step->bands[0];
    return band->count == 0 || band->writes[band->count - 1].cycle == WRITE_BEFORE;
}

const char *step_mode(const struct step *step) {
    uint8_t registers[REG_COUNT];
    step_registers(step, registers);
    return (registers[REG_CTRLPF] & CTRLPF_REFLECT) != 0 ? "mirror" : "copy";
}

static bool unknown_plan(const char *name, struct problem *problem) {
    char known[256] = "";
    for (const struct plan_builtin *plan = plan_builtins; plan->name != NULL; plan++) {
        size_t used = strlen(known);
        snprintf(known + used, sizeof known - used, "%s%s", used == 0 ? "" : ", ", plan->name);
    }
    return problem_set(problem, PROBLEM_INPUT,
                       "'%.200s' is no built-in plan and no file; built in: %s; drawing FILE is a picture; "
                       "or give the path of "
                       "a plan file",
                       name, known);
}

bool plan_open(const char *name_or_path, enum standard standard, struct plan **plan,
               struct problem *problem) {
    for (const struct plan_builtin *builtin = plan_builtins; builtin->name != NULL; builtin++) {
        if (strcmp(builtin->name, name_or_path) == 0) {
            return builtin->build(standard, plan, problem);
        }
    }
    if (access(name_or_path, F_OK) != 0) {
        return unknown_plan(name_or_path, problem);
    }
    return plan_file_open(name_or_path, standard, plan, problem);
}
