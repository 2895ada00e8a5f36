#include "rom/bands.h"

#include "rom/kernel.h"

#include <stdio.h>

enum { NOT_KNOWN = -1, LOOP_CYCLES = 7, STORE_CYCLES = 3, LOAD_CYCLES = 2 };

/* A routine while it is written: where its line stands. */
struct routine {
    struct encoder *encoder;
    const struct step *step;
    size_t number;            /* of the step */
    size_t band;              /* 0 is the first */
    int cycle;                /* of the line that have passed */
    int a;                    /* what A holds, or NOT_KNOWN */
    uint8_t shown[REG_COUNT]; /* what the registers hold */
};

bool bands_wanted(const struct plan *plan) {
    for (size_t i = 0; i < plan->step_count; i++) {
        if (!step_is_hold(&plan->steps[i])) {
            return true;
        }
    }
    return false;
}

static void refuse(struct routine *r, const struct write *write, const char *bound, int cycle) {
    if (r->encoder->problem.kind == PROBLEM_NONE) {
        problem_set(&r->encoder->problem, PROBLEM_INPUT,
                    "step '%s', band %zu: the write of %s at cycle %d cannot be made; the %s possible here "
                    "is cycle %d",
                    r->step->name, r->band + 1, reg_name(write->reg), write->cycle, bound, cycle);
    }
}

static void line_begins(struct routine *r, int cycle) {
    r->cycle = cycle;
    r->a = NOT_KNOWN;
}

static void line_ends(struct routine *r) {
    encode(r->encoder, "STA", MODE_ZERO, TIA_WSYNC, "line ends");
    line_begins(r, 0);
}

static void load(struct routine *r, uint8_t value) {
    if (r->a != value) {
        encode(r->encoder, "LDA", MODE_IMMEDIATE, value, NULL);
        r->cycle += LOAD_CYCLES;
        r->a = value;
    }
}

static void store(struct routine *r, enum reg reg, uint8_t value) {
    load(r, value);
    encode(r->encoder, "STA", MODE_ZERO, reg_address(reg), NULL);
    r->cycle += STORE_CYCLES;
    r->shown[reg] = value;
}

/* A store that ends with its write's cycle. One cycle to spare is no delay: there X, which is 0, makes the
 * store longer. */
static void store_at(struct routine *r, const struct write *write) {
    int earliest = r->cycle + (r->a == write->value ? 0 : LOAD_CYCLES) + STORE_CYCLES;
    int spare = write->cycle - earliest;
    if (spare < 0) {
        refuse(r, write, "earliest", earliest);
        return;
    }
    if (write->cycle > BANDS_LAST_CYCLE) {
        refuse(r, write, "latest", BANDS_LAST_CYCLE);
        return;
    }
    encode_delay(r->encoder, spare == 1 ? 0 : spare);
    load(r, write->value);
    encode(r->encoder, "STA", spare == 1 ? MODE_ZERO_X : MODE_ZERO, reg_address(write->reg), NULL);
    encode_mark(r->encoder, write->cycle);
    r->cycle = write->cycle;
    r->shown[write->reg] = write->value;
}

/* What changes in the blank of the band's first line. All six registers take 30 cycles: COLUBK to PF0 end by
 * 20 at the latest (22.67 is the picture's edge), PF1 by 25 (28), PF2 by 30 (38.67) [A]; the first band has
 * COLUBK from the slate's last line. */
static void blank_writes(struct routine *r, const struct band *band) {
    static const enum reg order[] = {REG_COLUBK, REG_COLUPF, REG_CTRLPF, REG_PF0, REG_PF1, REG_PF2};
    uint8_t wanted[REG_COUNT];
    for (int reg = 0; reg < REG_COUNT; reg++) {
        wanted[reg] = r->shown[reg];
    }
    for (int i = 0; i < band->count && band->writes[i].cycle == WRITE_BEFORE; i++) {
        wanted[band->writes[i].reg] = band->writes[i].value;
    }
    for (size_t i = 0; i < sizeof order / sizeof order[0]; i++) {
        if (wanted[order[i]] != r->shown[order[i]]) {
            store(r, order[i], wanted[order[i]]);
        }
    }
}

static void timed_writes(struct routine *r, const struct band *band) {
    for (int i = 0; i < band->count; i++) {
        if (band->writes[i].cycle != WRITE_BEFORE) {
            store_at(r, &band->writes[i]);
        }
    }
    line_ends(r);
}

static const struct write *first_timed(const struct band *band) {
    for (int i = 0; i < band->count; i++) {
        if (band->writes[i].cycle != WRITE_BEFORE) {
            return &band->writes[i];
        }
    }
    return NULL;
}

/* Two lines and more. The last is outside of the loop, so that what follows starts with a fresh line. */
static void looped_lines(struct routine *r, const struct band *band, int lines) {
    struct encoder *e = r->encoder;
    char again[LABEL_MAX], out[LABEL_MAX];
    snprintf(again, sizeof again, "s%hu_%hu", (uint16_t)r->number, (uint16_t)r->band);
    snprintf(out, sizeof out, "s%hu_%hu_out", (uint16_t)r->number, (uint16_t)r->band);
    encode(e, "LDY", MODE_IMMEDIATE, (uint16_t)(lines - 1), NULL);
    encode_delay(e, LOOP_CYCLES - 2);
    encode_label(e, again);
    line_begins(r, LOOP_CYCLES);
    timed_writes(r, band);
    encode(e, "DEY", MODE_IMPLIED, 0, NULL);
    encode_to(e, "BEQ", MODE_RELATIVE, out, 0, NULL);
    size_t next = e->origin + e->size;
    encode_to(e, "JMP", MODE_ABSOLUTE, again, 0, NULL);
    encode_label(e, out);
    bool crosses = next >> 8 != (e->origin + e->size) >> 8;
    line_begins(r, 2 + 3 + crosses);
    timed_writes(r, band);
}

static void further_lines(struct routine *r, const struct band *band) {
    int lines = band->lines - 1;
    const struct write *first = first_timed(band);
    bool late = first != NULL && first->cycle < BANDS_LOOP_CYCLE;
    if (late && band->lines > BANDS_UNROLLED_MAX) {
        refuse(r, first, "earliest", BANDS_LOOP_CYCLE);
    } else if (lines >= 2 && !late) {
        looped_lines(r, band, lines);
    } else {
        for (int i = 0; i < lines; i++) {
            timed_writes(r, band);
        }
    }
}

static void routine_name(size_t number, char name[LABEL_MAX]) {
    snprintf(name, LABEL_MAX, "step%hu", (uint16_t)number);
}

static void emit_step(struct encoder *e, const struct step *step, size_t number) {
    struct routine r = {.encoder = e, .step = step, .number = number};
    char name[LABEL_MAX];
    uint8_t first[REG_COUNT];
    routine_name(number, name);
    encode_label(e, name);
    step_registers(step, first);
    for (int reg = 0; reg < REG_COUNT; reg++) {
        r.shown[reg] = plan_default_colour((enum reg)reg);
    }
    r.shown[REG_COLUBK] = first[REG_COLUBK];
    line_begins(&r, BANDS_ENTRY_CYCLES);
    for (r.band = 0; r.band < step->band_count; r.band++) {
        blank_writes(&r, &step->bands[r.band]);
        if (r.band == 0) {
            encode(e, "LDX", MODE_IMMEDIATE, 0, NULL);
            r.cycle += LOAD_CYCLES;
        }
        timed_writes(&r, &step->bands[r.band]);
        further_lines(&r, &step->bands[r.band]);
    }
    encode_to(e, "JMP", MODE_ABSOLUTE, "overscan", 0, NULL);
}

void bands_emit(struct encoder *encoder, const struct plan *plan) {
    for (size_t i = 0; i < plan->step_count; i++) {
        if (!step_is_hold(&plan->steps[i])) {
            emit_step(encoder, &plan->steps[i], i);
        }
    }
}

static void table(struct encoder *encoder, const struct plan *plan, const char *label, bool high) {
    encode_label(encoder, label);
    for (size_t i = 0; i < plan->step_count; i++) {
        char name[LABEL_MAX];
        routine_name(i, name);
        encode_address_half(encoder, step_is_hold(&plan->steps[i]) ? "picture" : name, high);
    }
}

void bands_tables(struct encoder *encoder, const struct plan *plan) {
    table(encoder, plan, BANDS_TABLE_LOW, false);
    table(encoder, plan, BANDS_TABLE_HIGH, true);
    encode_targets(encoder, BANDS_TABLE_LOW, BANDS_TABLE_HIGH, (int)plan->step_count);
}
