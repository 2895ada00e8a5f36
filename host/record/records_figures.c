/* A run's own numbers, as whole multiples of the least difference that is kept. */
#include "record/pack.h"
#include "record/records_inside.h"

#include <endian.h>
#include <string.h>
#include <zlib.h>

/* So many quanta make one. */
#define MINUTES 100.0
#define DECIBELS 100.0
#define PLACE 1000.0    /* of a sample or line */
#define SLOPE 1000000.0 /* of a sample, a clock or a line */
#define CODES 100.0

enum figure {
    STARTED,
    TOOK,
    MINUTES_ON,
    SEED,
    END,
    EXIT,
    MARGIN,
    SEEN,
    JUDGED,
    UNREADABLE,
    COVERAGE_SEEN,
    COVERAGE_OF,
    COVERAGE_WRONG,
    COVERAGE_OPEN,
    NOISE,
    LEFT,
    TOP,
    CLOCK,
    BLACK,
    WHITE,
    SLANT,
    FRAME_LINES,
    ALL
};
_Static_assert((int)ALL == (int)FIGURES, "as many as RUN_FIGURES");

static void raster_of(const struct record_run *run, struct figures *figures) {
    const struct raster *raster = &run->raster;
    figures->value[LEFT] = kept_quanta(raster->left, PLACE);
    figures->value[TOP] = kept_quanta(raster->top, PLACE);
    figures->value[CLOCK] = kept_quanta(raster->clock_width, SLOPE);
    figures->value[BLACK] = kept_quanta(raster->black, CODES);
    figures->value[WHITE] = kept_quanta(raster->white, CODES);
    figures->value[SLANT] = kept_quanta(raster->slant, SLOPE);
    for (int i = LEFT; i <= SLANT; i++) {
        figures->none[i] = !run->has_raster;
    }
}

void figures_of(const struct record_run *run, struct figures *figures) {
    *figures = (struct figures){0};
    int64_t *value = figures->value;
    value[STARTED] = run->started_ms;
    value[TOOK] = run->took_ms;
    value[MINUTES_ON] = kept_quanta(run->minutes_on, MINUTES);
    figures->none[MINUTES_ON] = !(run->minutes_on >= 0);
    value[SEED] = (int64_t)run->seed;
    figures->none[SEED] = !run->has_seed;
    value[END] = run->end;
    value[EXIT] = run->exit;
    value[MARGIN] = kept_quanta(run->margin, KEPT_MARGIN);
    value[SEEN] = (int64_t)run->fields_seen;
    value[JUDGED] = (int64_t)run->fields_judged;
    value[UNREADABLE] = (int64_t)run->fields_unreadable;
    value[COVERAGE_SEEN] = (int64_t)run->coverage.seen;
    value[COVERAGE_OF] = (int64_t)run->coverage.of;
    value[COVERAGE_WRONG] = (int64_t)run->coverage.wrong;
    value[COVERAGE_OPEN] = (int64_t)run->coverage.open;
    value[NOISE] = kept_quanta(run->noise_db, DECIBELS);
    value[FRAME_LINES] = run->frame_lines;
    raster_of(run, figures);
}

static void raster_give(const struct figures *figures, struct record_run *run) {
    const int64_t *value = figures->value;
    run->has_raster = !figures->none[LEFT];
    if (run->has_raster) {
        run->raster = (struct raster){.left = kept_value(value[LEFT], PLACE),
                                      .top = kept_value(value[TOP], PLACE),
                                      .clock_width = kept_value(value[CLOCK], SLOPE),
                                      .black = kept_value(value[BLACK], CODES),
                                      .white = kept_value(value[WHITE], CODES),
                                      .slant = kept_value(value[SLANT], SLOPE)};
    }
}

bool figures_give(const struct figures *figures, struct record_run *run) {
    const int64_t *value = figures->value;
    run->started_ms = value[STARTED];
    run->took_ms = value[TOOK];
    run->minutes_on = figures->none[MINUTES_ON] ? -1 : kept_value(value[MINUTES_ON], MINUTES);
    run->has_seed = !figures->none[SEED];
    run->seed = run->has_seed ? (uint64_t)value[SEED] : 0;
    run->end = (enum record_end)value[END];
    run->exit = (int)value[EXIT];
    run->margin = kept_value(value[MARGIN], KEPT_MARGIN);
    run->fields_seen = (uint64_t)value[SEEN];
    run->fields_judged = (uint64_t)value[JUDGED];
    run->fields_unreadable = (uint64_t)value[UNREADABLE];
    run->coverage = (struct coverage){(uint64_t)value[COVERAGE_SEEN], (uint64_t)value[COVERAGE_OF],
                                      (uint64_t)value[COVERAGE_WRONG], (uint64_t)value[COVERAGE_OPEN]};
    run->noise_db = kept_value(value[NOISE], DECIBELS);
    run->frame_lines = (int)value[FRAME_LINES];
    raster_give(figures, run);
    return value[END] >= 0 && value[END] < RECORD_ENDS;
}

unsigned long sum_numbers(unsigned long sum, const uint64_t *values, size_t count) {
    uint64_t bytes[SUM_NUMBERS_MOST];
    for (size_t i = 0; i < count; i++) {
        bytes[i] = htole64(values[i]);
    }
    return crc32(sum, (const Bytef *)bytes, (uInt)(count * sizeof *bytes));
}

unsigned long sum_number(unsigned long sum, uint64_t value) {
    return sum_numbers(sum, &value, 1);
}

int64_t run_row_sum(const struct run_row *row) {
    const struct figures *figures = &row->figures;
    uint64_t numbers[FIGURES + 1];
    for (int i = 0; i < FIGURES; i++) {
        const bool none = figures->none[i];
        numbers[i] = none ? UINT64_C(0x6E6F6E65) + (uint64_t)i : (uint64_t)figures->value[i];
    }
    numbers[FIGURES] = (uint64_t)row->setup;
    uLong sum = sum_numbers(crc32(0, NULL, 0), numbers, FIGURES + 1);
    sum = crc32(sum, (const Bytef *)row->problem, (uInt)strlen(row->problem));
    if (row->item != 0 || row->attempt != 1) { /* version 1 knew of none */
        sum = sum_number(sum_number(sum, (uint64_t)row->item), (uint64_t)row->attempt);
    }
    if (row->parts != 0) {
        sum = sum_number(sum, (uint64_t)row->parts);
    }
    return row->parts << RUN_SUM_BITS | (int64_t)sum;
}
