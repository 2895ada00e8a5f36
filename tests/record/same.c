#include "record/same.h"

#include "record/records.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct hunt {
    char *why;
    size_t size;
    bool same;
};

static void miss(struct hunt *hunt, const char *what, double a, double b) {
    if (hunt->same) {
        snprintf(hunt->why, hunt->size, "%s: %.9g and %.9g", what, a, b);
        hunt->same = false;
    }
}

static void texts(struct hunt *hunt, const char *what, const char *a, const char *b) {
    a = a == NULL ? "" : a;
    if (hunt->same && (b == NULL || strcmp(a, b) != 0)) {
        snprintf(hunt->why, hunt->size, "%s: \"%s\" and \"%s\"", what, a, b == NULL ? "(none)" : b);
        hunt->same = false;
    }
}

static void whole(struct hunt *hunt, const char *what, uint64_t a, uint64_t b) {
    if (a != b) {
        miss(hunt, what, (double)a, (double)b);
    }
}

/* To half a quantum, and a little for the arithmetic. */
static void near(struct hunt *hunt, const char *what, double a, double b, double quantum) {
    if (!(fabs(a - b) <= 0.5001 * quantum)) {
        miss(hunt, what, a, b);
    }
}

static void colours(struct hunt *hunt, const char *what, const struct cell_colour *a,
                    const struct cell_colour *b) {
    whole(hunt, what, (uint64_t)a->count, (uint64_t)b->count);
    near(hunt, what, a->level, b->level, 1e-4);
    near(hunt, what, a->cb, b->cb, 1e-2);
    near(hunt, what, a->cr, b->cr, 1e-2);
}

static void steps(struct hunt *hunt, const struct step_result *a, const struct step_result *b) {
    whole(hunt, "verdict", a->verdict, b->verdict);
    whole(hunt, "fields", (uint64_t)a->fields, (uint64_t)b->fields);
    whole(hunt, "failed", (uint64_t)a->failed, (uint64_t)b->failed);
    near(hunt, "step margin", a->margin, b->margin, 1e-4);
    whole(hunt, "expected", a->expected, b->expected);
    whole(hunt, "sure", a->sure, b->sure);
    whole(hunt, "seen", a->seen, b->seen);
    whole(hunt, "unclear", a->unclear, b->unclear);
    near(hunt, "offset", a->offset, b->offset, 1e-3);
    whole(hunt, "wrong line", (uint64_t)a->wrong_line, (uint64_t)b->wrong_line);
    colours(hunt, "lit colour", &a->lit_colour, &b->lit_colour);
    colours(hunt, "dark colour", &a->dark_colour, &b->dark_colour);
}

static void findings(struct hunt *hunt, const struct finding *a, const struct finding *b) {
    whole(hunt, "finding", a->kind, b->kind);
    whole(hunt, "register", (uint64_t)a->reg, (uint64_t)b->reg);
    whole(hunt, "bit", (uint64_t)a->bit, (uint64_t)b->bit);
    whole(hunt, "alternative", a->alternative, b->alternative);
    whole(hunt, "explanation", (uint64_t)a->explanation, (uint64_t)b->explanation);
    near(hunt, "rate", a->rate, b->rate, 0);
    near(hunt, "low rate", a->rate_low, b->rate_low, 0);
    near(hunt, "high rate", a->rate_high, b->rate_high, 0);
    texts(hunt, "finding's text", a->text, b->text);
    texts(hunt, "finding's next", a->next, b->next);
}

static void blobs(struct hunt *hunt, const struct record_blob *a, const struct record_blob *b) {
    texts(hunt, "blob's name", a->name, b->name);
    texts(hunt, "blob's type", a->type, b->type);
    whole(hunt, "blob's size", a->size, b->size);
    if (hunt->same && a->size > 0 && memcmp(a->bytes, b->bytes, a->size) != 0) {
        miss(hunt, "blob's bytes", 0, 1);
    }
}

static void setups(struct hunt *hunt, const struct record_run *a, const struct record_run *b) {
    texts(hunt, "station", a->station, b->station);
    texts(hunt, "bench", a->bench, b->bench);
    texts(hunt, "console", a->console.name, b->console.name);
    texts(hunt, "revision", a->console.revision, b->console.revision);
    texts(hunt, "markings", a->console.markings, b->console.markings);
    texts(hunt, "modifications", a->console.modifications, b->console.modifications);
    texts(hunt, "cartridge", a->cartridge.kind, b->cartridge.kind);
    texts(hunt, "serial", a->cartridge.serial, b->cartridge.serial);
    texts(hunt, "firmware", a->cartridge.firmware, b->cartridge.firmware);
    texts(hunt, "tool", a->tool, b->tool);
    texts(hunt, "settings", a->settings, b->settings);
    texts(hunt, "command", a->command, b->command);
    whole(hunt, "image hash", a->image_hash, b->image_hash);
    whole(hunt, "by eye", a->seen_by_eye, b->seen_by_eye);
}

static void rasters(struct hunt *hunt, const struct raster *a, const struct raster *b) {
    near(hunt, "left", a->left, b->left, 1e-3);
    near(hunt, "top", a->top, b->top, 1e-3);
    near(hunt, "clock width", a->clock_width, b->clock_width, 1e-6);
    near(hunt, "black", a->black, b->black, 1e-2);
    near(hunt, "white", a->white, b->white, 1e-2);
    near(hunt, "slant", a->slant, b->slant, 1e-6);
}

static void figures(struct hunt *hunt, const struct record_run *a, const struct record_run *b) {
    whole(hunt, "start", (uint64_t)a->started_ms, (uint64_t)b->started_ms);
    whole(hunt, "took", (uint64_t)a->took_ms, (uint64_t)b->took_ms);
    near(hunt, "minutes", a->minutes_on < 0 ? -1 : a->minutes_on, b->minutes_on, 1e-2);
    whole(hunt, "has seed", a->has_seed, b->has_seed);
    whole(hunt, "seed", a->has_seed ? a->seed : 0, b->has_seed ? b->seed : 0);
    whole(hunt, "attempt", (uint64_t)a->attempt, (uint64_t)b->attempt);
    whole(hunt, "end", a->end, b->end);
    whole(hunt, "exit", (uint64_t)a->exit, (uint64_t)b->exit);
    near(hunt, "margin", a->margin, b->margin, 1e-4);
    whole(hunt, "fields seen", a->fields_seen, b->fields_seen);
    whole(hunt, "fields judged", a->fields_judged, b->fields_judged);
    whole(hunt, "fields unreadable", a->fields_unreadable, b->fields_unreadable);
    whole(hunt, "coverage seen", a->coverage.seen, b->coverage.seen);
    whole(hunt, "coverage of", a->coverage.of, b->coverage.of);
    whole(hunt, "coverage wrong", a->coverage.wrong, b->coverage.wrong);
    whole(hunt, "coverage open", a->coverage.open, b->coverage.open);
    near(hunt, "noise", a->noise_db, b->noise_db, 1e-2);
    whole(hunt, "has raster", a->has_raster, b->has_raster);
    if (a->has_raster) {
        rasters(hunt, &a->raster, &b->raster);
    }
    whole(hunt, "frame lines", (uint64_t)a->frame_lines, (uint64_t)b->frame_lines);
    texts(hunt, "problem", a->problem, b->problem);
}

/* a's where they were asked for, else none. */
static size_t number(struct hunt *hunt, const char *what, bool asked, size_t a, size_t b) {
    a = asked ? a : 0;
    whole(hunt, what, a, b);
    return hunt->same ? a : 0;
}

bool record_same(const struct record_run *a, const struct record_run *b, unsigned parts, char *why,
                 size_t size) {
    struct hunt hunt = {why, size, true};
    why[0] = '\0';
    setups(&hunt, a, b);
    figures(&hunt, a, b);
    size_t count = number(&hunt, "steps", parts & RECORDS_STEPS, a->step_count, b->step_count);
    for (size_t i = 0; i < count; i++) {
        steps(&hunt, &a->steps[i], &b->steps[i]);
    }
    count = number(&hunt, "findings", parts & RECORDS_FINDINGS, a->finding_count, b->finding_count);
    for (size_t i = 0; i < count; i++) {
        findings(&hunt, &a->findings[i], &b->findings[i]);
    }
    count = number(&hunt, "troubles", parts & RECORDS_FINDINGS, a->trouble_count, b->trouble_count);
    for (size_t i = 0; i < count; i++) {
        findings(&hunt, &a->troubles[i], &b->troubles[i]);
    }
    count = number(&hunt, "blobs", parts & RECORDS_BLOBS, a->blob_count, b->blob_count);
    for (size_t i = 0; i < count; i++) {
        blobs(&hunt, &a->blobs[i], &b->blobs[i]);
    }
    return hunt.same && record_plan_same(a->plan, b->plan, why, size);
}

bool record_plan_same(const struct record_plan *a, const struct record_plan *b, char *why, size_t size) {
    struct hunt hunt = {why, size, true};
    why[0] = '\0';
    texts(&hunt, "plan's id", a->id, b->id);
    texts(&hunt, "plan's name", a->name, b->name);
    texts(&hunt, "plan's text", a->text, b->text);
    whole(&hunt, "standard", a->standard, b->standard);
    whole(&hunt, "plan's kind", a->kind, b->kind);
    whole(&hunt, "plan's steps", a->step_count, b->step_count);
    for (size_t i = 0; hunt.same && i < a->step_count; i++) {
        texts(&hunt, "step's name", a->steps[i].name, b->steps[i].name);
        texts(&hunt, "step's mode", a->steps[i].mode, b->steps[i].mode);
        whole(&hunt, "step's bands", (uint64_t)a->steps[i].bands, (uint64_t)b->steps[i].bands);
        whole(&hunt, "step's expected", a->steps[i].expected, b->steps[i].expected);
        whole(&hunt, "step's sure", a->steps[i].sure, b->steps[i].sure);
        for (int reg = 0; reg < REG_COUNT; reg++) {
            whole(&hunt, reg_name((enum reg)reg), a->steps[i].registers[reg], b->steps[i].registers[reg]);
        }
    }
    return hunt.same;
}

bool record_sweep_same(const struct record_sweep *a, const struct record_sweep *b, char *why, size_t size) {
    struct hunt hunt = {why, size, true};
    why[0] = '\0';
    texts(&hunt, "sweep's name", a->name, b->name);
    texts(&hunt, "definition", a->definition, b->definition);
    whole(&hunt, "sweep's start", (uint64_t)a->started_ms, (uint64_t)b->started_ms);
    whole(&hunt, "repeats", (uint64_t)a->repeats, (uint64_t)b->repeats);
    whole(&hunt, "retries", (uint64_t)a->retries, (uint64_t)b->retries);
    whole(&hunt, "items", a->item_count, b->item_count);
    for (size_t i = 0; hunt.same && i < a->item_count; i++) {
        const struct record_item *one = &a->items[i], *other = &b->items[i];
        texts(&hunt, "item's plan", one->plan, other->plan);
        texts(&hunt, "item's console", one->console.name, other->console.name);
        texts(&hunt, "item's revision", one->console.revision, other->console.revision);
        texts(&hunt, "item's markings", one->console.markings, other->console.markings);
        texts(&hunt, "item's modifications", one->console.modifications, other->console.modifications);
        texts(&hunt, "item's bench", one->bench, other->bench);
        whole(&hunt, "repeat", (uint64_t)one->repeat, (uint64_t)other->repeat);
    }
    return hunt.same;
}
