#include "record/information.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Values of one column and how often each was there. */
struct tally {
    size_t used, room; /* a power of 2 */
    int64_t *values;
    uint32_t *counts; /* 0: a free place */
    uint64_t total;
};

enum { STEP_COLUMNS = 18, RUN_COLUMNS = 48 };

struct information {
    struct tally step[STEP_COLUMNS], run[RUN_COLUMNS], texts;
    double text_bytes;
};

static size_t place_of(const struct tally *tally, int64_t value) {
    size_t place = ((uint64_t)value * 0x9E3779B97F4A7C15u >> 20) & (tally->room - 1);
    while (tally->counts[place] != 0 && tally->values[place] != value) {
        place = (place + 1) & (tally->room - 1);
    }
    return place;
}

static void grow(struct tally *tally) {
    const struct tally old = *tally;
    tally->room = old.room == 0 ? 64 : 4 * old.room;
    tally->values = calloc(tally->room, sizeof *tally->values);
    tally->counts = calloc(tally->room, sizeof *tally->counts);
    assert(tally->values != NULL && tally->counts != NULL);
    for (size_t i = 0; i < old.room; i++) {
        if (old.counts[i] != 0) {
            const size_t place = place_of(tally, old.values[i]);
            tally->values[place] = old.values[i];
            tally->counts[place] = old.counts[i];
        }
    }
    free(old.values);
    free(old.counts);
}

/* Returns whether the value is new. */
static bool count(struct tally *tally, int64_t value) {
    if (2 * tally->used >= tally->room) {
        grow(tally);
    }
    const size_t place = place_of(tally, value);
    const bool new = tally->counts[place] == 0;
    tally->values[place] = value;
    tally->counts[place]++;
    tally->used += new;
    tally->total++;
    return new;
}

static double bits(const struct tally *tally) {
    double sum = 0;
    for (size_t i = 0; i < tally->room; i++) {
        if (tally->counts[i] != 0) {
            sum += tally->counts[i] * log2((double)tally->total / tally->counts[i]);
        }
    }
    return sum;
}

static int64_t kept(double value, double to) {
    return llround(value / to);
}

static size_t add_colour(struct tally *columns, const struct cell_colour *colour) {
    count(&columns[0], colour->count);
    count(&columns[1], kept(colour->level, 1e-4));
    count(&columns[2], kept(colour->cb, 1e-2));
    count(&columns[3], kept(colour->cr, 1e-2));
    return 4;
}

static void add_step(struct information *information, const struct step_result *step,
                     const struct record_plan_step *plan) {
    struct tally *columns = information->step;
    size_t at = 0;
    count(&columns[at++], step->verdict);
    count(&columns[at++], step->fields);
    count(&columns[at++], step->failed);
    count(&columns[at++], kept(step->margin, 1e-4));
    count(&columns[at++], (int64_t)(step->expected ^ plan->expected));
    count(&columns[at++], (int64_t)(step->sure ^ plan->sure));
    count(&columns[at++], (int64_t)(step->seen ^ step->expected));
    count(&columns[at++], (int64_t)step->unclear);
    count(&columns[at++], kept(step->offset, 1e-3));
    count(&columns[at++], step->wrong_line);
    at += add_colour(&columns[at], &step->lit_colour);
    at += add_colour(&columns[at], &step->dark_colour);
    assert(at == STEP_COLUMNS);
}

/* FNV-1a: a text as a number. */
static int64_t text_number(struct information *information, const char *text) {
    uint64_t hash = 0xCBF29CE484222325u;
    for (const char *at = text; *at != '\0'; at++) {
        hash = (hash ^ (unsigned char)*at) * 0x100000001B3u;
    }
    if (count(&information->texts, (int64_t)hash)) {
        information->text_bytes += (double)strlen(text);
    }
    return (int64_t)hash;
}

static size_t add_texts(struct information *information, const struct record_run *run,
                        struct tally *columns) {
    const char *const texts[] = {run->station,
                                 run->bench,
                                 run->console.name,
                                 run->console.revision,
                                 run->console.markings,
                                 run->console.modifications,
                                 run->cartridge.kind,
                                 run->cartridge.serial,
                                 run->cartridge.firmware,
                                 run->tool,
                                 run->settings,
                                 run->command,
                                 run->problem,
                                 run->plan->id};
    enum { TEXTS = sizeof texts / sizeof *texts };
    for (size_t i = 0; i < TEXTS; i++) {
        count(&columns[i], text_number(information, texts[i]));
    }
    return TEXTS;
}

static size_t add_figures(const struct record_run *run, struct tally *columns) {
    const int64_t figures[] = {run->started_ms,
                               run->took_ms,
                               kept(run->minutes_on, 1e-2),
                               run->image_hash,
                               (int64_t)run->seed,
                               run->has_seed,
                               run->item,
                               run->attempt,
                               run->end,
                               run->exit,
                               kept(run->margin, 1e-4),
                               (int64_t)run->fields_seen,
                               (int64_t)run->fields_judged,
                               (int64_t)run->fields_unreadable,
                               kept(run->noise_db, 1e-2),
                               kept(run->raster.left, 1e-3),
                               kept(run->raster.top, 1e-3),
                               kept(run->raster.clock_width, 1e-6),
                               kept(run->raster.black, 1e-2),
                               kept(run->raster.white, 1e-2),
                               run->frame_lines,
                               (int64_t)run->finding_count};
    enum { COUNT = sizeof figures / sizeof *figures };
    for (size_t i = 0; i < COUNT; i++) {
        count(&columns[i], figures[i]);
    }
    return COUNT;
}

static size_t add_findings(struct information *information, const struct record_run *run,
                           struct tally *columns) {
    for (size_t i = 0; i < run->finding_count; i++) {
        const struct finding *finding = &run->findings[i];
        count(&columns[0], finding->kind);
        count(&columns[1], finding->reg);
        count(&columns[2], finding->bit);
        count(&columns[3], finding->alternative);
        count(&columns[4], finding->explanation);
        count(&columns[5], kept(finding->rate, 1e-6));
        count(&columns[6], text_number(information, finding->text));
        count(&columns[7], text_number(information, finding->next));
    }
    return 8;
}

struct information *information_new(void) {
    struct information *information = calloc(1, sizeof *information);
    assert(information != NULL);
    return information;
}

static void forget(struct tally *tally) {
    free(tally->values);
    free(tally->counts);
}

void information_free(struct information *information) {
    for (size_t i = 0; i < STEP_COLUMNS; i++) {
        forget(&information->step[i]);
    }
    for (size_t i = 0; i < RUN_COLUMNS; i++) {
        forget(&information->run[i]);
    }
    forget(&information->texts);
    free(information);
}

void information_add(struct information *information, const struct record_run *run) {
    size_t at = add_texts(information, run, information->run);
    at += add_figures(run, &information->run[at]);
    at += add_findings(information, run, &information->run[at]);
    assert(at <= RUN_COLUMNS);
    for (size_t i = 0; i < run->step_count; i++) {
        add_step(information, &run->steps[i], &run->plan->steps[i]);
    }
}

double information_step_bytes(const struct information *information) {
    double sum = 0;
    for (size_t i = 0; i < STEP_COLUMNS; i++) {
        sum += bits(&information->step[i]);
    }
    return sum / 8;
}

double information_bytes(const struct information *information) {
    double sum = 0;
    for (size_t i = 0; i < RUN_COLUMNS; i++) {
        sum += bits(&information->run[i]);
    }
    return information_step_bytes(information) + sum / 8 + information->text_bytes;
}
