#include "commands/series.h"

#include "report/moments_report.h"
#include "report/palette_report.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* How a measuring plan's runs become values. */
struct source {
    enum plan_kind kind;
    const char *blob;
    size_t count; /* series */
    void (*name)(size_t index, struct series *series);
    /* Fills `count` values, NaN where nothing is known. */
    bool (*read)(const json_t *json, const char *where, const struct record_run *run, double *values,
                 struct problem *problem);
};

enum { COLOUR_SERIES = PALETTE_REGISTERS * COLOUR_CODES, DELAY_SERIES = MOMENT_REGISTERS * MOMENT_PHASES };

/* All levels, then all hues. */
static void name_colour(size_t index, struct series *series) {
    const size_t colour = index % COLOUR_SERIES;
    series->quantity = index < COLOUR_SERIES ? QUANTITY_COLOUR_LEVEL : QUANTITY_COLOUR_HUE;
    snprintf(series->name, sizeof series->name, "%s $%02X",
             palette_register_name((int)(colour / COLOUR_CODES)), (unsigned)(2 * (colour % COLOUR_CODES)));
}

static bool read_colours(const json_t *json, const char *where, const struct record_run *run, double *values,
                         struct problem *problem) {
    struct palette *palette = calloc(1, sizeof *palette);
    (void)run;
    if (palette == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", where);
    }
    const bool good = palette_from_json(json, where, palette, problem);
    for (size_t i = 0; good && i < COLOUR_SERIES; i++) {
        const struct palette_colour *colour = &palette->colour[i / COLOUR_CODES][i % COLOUR_CODES];
        /* What is cut off has no level of its own. */
        const bool level = colour->fields > 0 && !colour->clipped && !colour->white_clipped;
        values[i] = level ? colour->level : NAN;
        values[COLOUR_SERIES + i] =
            colour->fields > 0 && palette_has_hue(palette, colour) ? colour->hue : NAN;
    }
    free(palette);
    return good;
}

static void name_delay(size_t index, struct series *series) {
    series->quantity = QUANTITY_DELAY;
    snprintf(series->name, sizeof series->name, "%s, phase %zu",
             moment_name((enum moment_register)(index / MOMENT_PHASES)), index % MOMENT_PHASES);
}

static bool read_delays(const json_t *json, const char *where, const struct record_run *run, double *values,
                        struct problem *problem) {
    struct moments *moments = calloc(1, sizeof *moments);
    if (moments == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", where);
    }
    const bool good = moments_from_json(json, where, run->plan->standard, moments, problem);
    for (size_t i = 0; good && i < DELAY_SERIES; i++) {
        const struct moment_delay *delay = &moments->delay[i / MOMENT_PHASES][i % MOMENT_PHASES];
        values[i] = delay->known ? delay->clocks : NAN;
    }
    free(moments);
    return good;
}

static const struct source sources[] = {
    {PLAN_COLOURS, "colours", 2 * COLOUR_SERIES, name_colour, read_colours},
    {PLAN_MOMENTS, "moments", DELAY_SERIES, name_delay, read_delays},
};

static const struct source *source_of(enum plan_kind kind) {
    for (size_t i = 0; i < sizeof sources / sizeof sources[0]; i++) {
        if (sources[i].kind == kind) {
            return &sources[i];
        }
    }
    return NULL;
}

bool series_has(enum plan_kind kind) {
    return source_of(kind) != NULL;
}

/* Values of all runs, a row each; first those of the first group. */
struct table {
    const struct source *source;
    const struct record_run **runs;
    size_t run_count, first_count;
    double *values;
};

static bool read_run(const struct source *source, const struct record_run *run, double *values,
                     struct problem *problem) {
    for (size_t i = 0; i < source->count; i++) {
        values[i] = NAN;
    }
    for (size_t i = 0; differ_run_counts(run) && i < run->blob_count; i++) {
        const struct record_blob *blob = &run->blobs[i];
        if (strcmp(blob->name, source->blob) != 0) {
            continue;
        }
        char where[48];
        snprintf(where, sizeof where, "run %lld of the records", (long long)run->id);
        json_error_t error;
        json_t *json = json_loadb((const char *)blob->bytes, blob->size, 0, &error);
        const bool good = json != NULL ? source->read(json, where, run, values, problem)
                                       : problem_set(problem, PROBLEM_BENCH, "%s: its %s are no JSON: %s",
                                                     where, source->blob, error.text);
        json_decref(json);
        return good;
    }
    return true;
}

static bool take_runs(struct table *table, const struct record_list *list, struct problem *problem) {
    for (size_t i = 0; i < list->count; i++) {
        double *values = &table->values[table->run_count * table->source->count];
        table->runs[table->run_count++] = list->runs[i];
        if (!read_run(table->source, list->runs[i], values, problem)) {
            return false;
        }
    }
    return true;
}

/* Hues go round: all of a series are brought within half a turn of the first one that is known. */
static void unwrap(struct table *table) {
    for (size_t series = 0; series < table->source->count; series++) {
        struct series facts;
        double reference = NAN;
        table->source->name(series, &facts);
        for (size_t run = 0; facts.quantity == QUANTITY_COLOUR_HUE && run < table->run_count; run++) {
            double *value = &table->values[run * table->source->count + series];
            reference = isnan(reference) ? *value : reference;
            *value -= isnan(*value) ? 0 : 360 * round((*value - reference) / 360);
        }
    }
}

static bool table_open(struct table *table, const struct record_list *first, const struct record_list *second,
                       struct problem *problem) {
    const size_t runs = first->count + second->count;
    table->runs = calloc(runs + 1, sizeof(const struct record_run *));
    table->values = calloc(runs * table->source->count + 1, sizeof *table->values);
    if (table->runs == NULL || table->values == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "comparing %s: out of memory", table->source->blob);
    }
    table->first_count = first->count;
    if (!take_runs(table, first, problem) || !take_runs(table, second, problem)) {
        return false;
    }
    unwrap(table);
    return true;
}

/* A row's console, for sorting. */
struct row {
    const struct record_run *run;
    const double *values;
};

static int by_console(const void *a, const void *b) {
    const struct row *first = a, *second = b;
    return strcmp(first->run->console.name, second->run->console.name);
}

/* The mean of rows of one console; what none of them knows is NaN. */
static void average(const struct row *rows, size_t count, size_t width, double *mean) {
    for (size_t i = 0; i < width; i++) {
        double sum = 0;
        size_t known = 0;
        for (size_t row = 0; row < count; row++) {
            sum += isnan(rows[row].values[i]) ? 0 : rows[row].values[i];
            known += !isnan(rows[row].values[i]);
        }
        mean[i] = known > 0 ? sum / (double)known : NAN;
    }
}

/* A group's rows, sorted, to a row for each of its consoles, from `kept` on; returns the next free row. */
static size_t average_group(struct row *rows, size_t count, size_t width, double *means, size_t kept) {
    qsort(rows, count, sizeof *rows, by_console);
    for (size_t from = 0, end; from < count; from = end) {
        for (end = from + 1; end < count && by_console(&rows[from], &rows[end]) == 0; end++) {
            /* of the same console */
        }
        average(&rows[from], end - from, width, &means[kept++ * width]);
    }
    return kept;
}

static bool average_consoles(struct table *table, struct problem *problem) {
    const size_t width = table->source->count, first = table->first_count, all = table->run_count;
    double *means = calloc(all * width + 1, sizeof *means);
    struct row *rows = calloc(all + 1, sizeof *rows);
    for (size_t i = 0; rows != NULL && i < all; i++) {
        rows[i] = (struct row){table->runs[i], &table->values[i * width]};
    }
    const bool good = means != NULL && rows != NULL;
    if (good) {
        table->first_count = average_group(rows, first, width, means, 0);
        table->run_count = average_group(rows + first, all - first, width, means, table->first_count);
        free(table->values);
        table->values = means;
    } else {
        free(means);
    }
    free(rows);
    return good || problem_set(problem, PROBLEM_BENCH, "comparing %s: out of memory", table->source->blob);
}

/* Rows to series: each series' values side by side. */
static bool hand_over(const struct table *table, struct series_list *series, struct problem *problem) {
    const size_t width = table->source->count;
    series->list = calloc(width, sizeof *series->list);
    series->values = calloc(width * table->run_count + 1, sizeof *series->values);
    if (series->list == NULL || series->values == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "comparing %s: out of memory", table->source->blob);
    }
    series->count = width;
    for (size_t i = 0; i < width; i++) {
        double *values = &series->values[i * table->run_count];
        for (size_t run = 0; run < table->run_count; run++) {
            values[run] = table->values[run * width + i];
        }
        table->source->name(i, &series->list[i]);
        series->list[i].before = values;
        series->list[i].before_count = table->first_count;
        series->list[i].now = values + table->first_count;
        series->list[i].now_count = table->run_count - table->first_count;
    }
    return true;
}

static bool series_make(const struct record_list *first, const struct record_list *second, bool consoles,
                        struct series_list *series, struct problem *problem) {
    const struct record_list *some = first->count > 0 ? first : second;
    struct table table = {.source = some->count > 0 ? source_of(some->runs[0]->plan->kind) : NULL};
    *series = (struct series_list){.count = 0};
    if (table.source == NULL) {
        return true;
    }
    bool good = table_open(&table, first, second, problem);
    good = good && (!consoles || average_consoles(&table, problem)) && hand_over(&table, series, problem);
    free(table.runs);
    free(table.values);
    if (!good) {
        series_free(series);
    }
    return good;
}

bool series_of_runs(const struct record_list *before, const struct record_list *now,
                    struct series_list *series, struct problem *problem) {
    return series_make(before, now, false, series, problem);
}

bool series_of_consoles(const struct record_list *first, const struct record_list *second,
                        struct series_list *series, struct problem *problem) {
    return series_make(first, second, true, series, problem);
}

void series_free(struct series_list *series) {
    free(series->list);
    free(series->values);
    *series = (struct series_list){.count = 0};
}
