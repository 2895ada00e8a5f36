/* The one colour of a picture that is all of one: of each cell's middle column the mean over the lines, of
 * the cells the median, so that some that are wrong (a stuck bit's) do not count.
 *
 * What a grabber adds and what becomes of it here. Cross colour in the luma: a cell is 4 cycles of the NTSC
 * subcarrier and 5 of PAL's [A: 4 clocks at clock/1 and at 4.43 MHz], so that its stripes cancel within a
 * cell. A comb filter mixes lines, and all are alike. Hum moves the lines of this picture by what it moves
 * the blank beside them, which stands in the reading too; where the blank is not shown, what hum changes
 * between the slate and the picture remains, as a spread from field to field. Rounding to whole codes
 * remains: up to half a code, 1/440 of the black-white distance, where there is no noise. So does an echo
 * from the left edge that comes later than 8 clocks, in less than half of the cells. */
#include "picture/parts.h"

#include <math.h>
#include <stdlib.h>

enum {
    FIRST_CELL = 2, /* clocks 8 to 151 */
    END_CELL = 38,
    WHOLE_CELLS = END_CELL - FIRST_CELL,
    EDGE = 8,     /* picture lines above and below: what is mixed into them is not this picture */
    LINE_STEP = 4 /* of the lines: enough, and not one line of 4:2:0 chroma twice */
};

struct columns {
    double luma[WHOLE_CELLS], cb[WHOLE_CELLS], cr[WHOLE_CELLS]; /* sums of the lines' means */
    double lines, sum, squares, low, high;                      /* of the lines' levels, codes */
};

static double mean_of(const uint8_t *row, int step, int first, int end) {
    int sum = 0;
    for (int x = first; x < end; x++) {
        sum += row[(ptrdiff_t)x * step];
    }
    return (double)sum / (end > first ? end - first : 1);
}

static void add_line(const struct field *field, const struct reading *reading, int line,
                     struct columns *columns) {
    const double left = raster_left(&reading->raster, line), cell = 4 * reading->raster.clock_width;
    const uint8_t *luma = field_line(field, line);
    const ptrdiff_t row = line >> field->chroma_y;
    double level = 0;
    for (int i = 0; i < WHOLE_CELLS; i++) {
        const int first = (int)ceil(left + (i + FIRST_CELL) * cell);
        const int end = (int)ceil(left + (i + FIRST_CELL + 1) * cell);
        const double mean = mean_of(luma, field->step, first, end);
        level += mean / WHOLE_CELLS;
        columns->luma[i] += mean;
        if (reading->has_chroma) {
            const int from = (first + 1) >> field->chroma_x, to = (end + field->chroma_x) >> field->chroma_x;
            columns->cb[i] += mean_of(field->cb.data + row * field->cb.stride, field->cb.step, from, to);
            columns->cr[i] += mean_of(field->cr.data + row * field->cr.stride, field->cr.step, from, to);
        }
    }
    columns->lines++;
    columns->sum += level;
    columns->squares += level * level;
    columns->low = fmin(columns->low, level);
    columns->high = fmax(columns->high, level);
}

static int ascending(const void *a, const void *b) {
    const double left = *(const double *)a, right = *(const double *)b;
    return (left > right) - (left < right);
}

static double median(double values[WHOLE_CELLS]) {
    qsort(values, WHOLE_CELLS, sizeof values[0], ascending);
    return (values[WHOLE_CELLS / 2 - 1] + values[WHOLE_CELLS / 2]) / 2;
}

void whole_measure(const struct field *field, const struct reading *reading, struct detail *detail) {
    const struct raster *raster = &reading->raster;
    const int first = (int)raster->top + SLATE_LINES;
    struct columns columns = {.low = INFINITY, .high = -INFINITY};
    detail->whole = (struct cell_colour){.count = 0};
    detail->whole_spread = 0;
    detail->shares_chroma = reading->has_chroma && field->chroma_y > 0 && field->frame_lines > 1;
    for (int line = EDGE; line < reading->lines - EDGE; line += LINE_STEP) {
        add_line(field, reading, first + line, &columns);
    }
    const double span = raster->white - raster->black;
    if (!(columns.lines > 0) || !(span > 0)) {
        return;
    }
    const double mean = columns.sum / columns.lines;
    detail->whole.count = (int)columns.lines;
    detail->whole.level = (median(columns.luma) / columns.lines - raster->black) / span;
    detail->whole_spread = sqrt(fmax(0, columns.squares / columns.lines - mean * mean)) / span;
    detail->whole_low = columns.low;
    detail->whole_high = columns.high;
    if (reading->has_chroma) {
        detail->whole.cb = median(columns.cb) / columns.lines - beside_white(field, &field->cb, raster);
        detail->whole.cr = median(columns.cr) / columns.lines - beside_white(field, &field->cr, raster);
    }
}
