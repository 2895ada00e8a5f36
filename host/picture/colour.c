/* The cells' two colours, from cells whose neighbours on all four sides are like them, so that neither
 * bandwidth nor a mix of lines counts. Unclear cells are among them: leaving them out would move the mean. */
#include "picture/parts.h"

#include <math.h>

enum {
    COLOUR_LINES = 12,
    CELLS_A_LINE = 10, /* of one colour: more are thinned out */
    WHITE_STEP = 8     /* the slate's white is looked at every so many chroma samples */
};

static const uint64_t all_cells = (UINT64_C(1) << CELLS) - 1,
                      inner_cells = ((UINT64_C(1) << CELLS) - 1) / 2 - 1,
                      every_fourth = UINT64_C(0x1111111111);

double colour_hue(const struct cell_colour *colour) {
    double degrees = atan2(-colour->cr, -colour->cb) * 180 / M_PI;
    return degrees < 0 ? degrees + 360 : degrees;
}

double colour_saturation(const struct cell_colour *colour) {
    return hypot(colour->cb, colour->cr);
}

struct sums {
    int cells, samples, chroma_samples; /* cells: those thinned out too */
    int luma, cb, cr;
};

static const uint8_t *chroma_line(const struct field *field, const struct plane *plane, int line) {
    return plane->data + (ptrdiff_t)(line >> field->chroma_y) * plane->stride;
}

static void add_chroma(const struct field *field, int line, int first, int end, int step, struct sums *sums) {
    const uint8_t *cb = chroma_line(field, &field->cb, line), *cr = chroma_line(field, &field->cr, line);
    for (int x = first; x < end; x += step) {
        sums->cb += cb[(ptrdiff_t)x * field->cb.step];
        sums->cr += cr[(ptrdiff_t)x * field->cr.step];
        sums->chroma_samples++;
    }
}

static void add_cell(const struct field *field, const struct reading *reading, int line, int cell,
                     struct sums *sums) {
    const struct raster *raster = &reading->raster;
    const uint8_t *luma = field_line(field, line);
    int samples = cells_samples(raster);
    double centre =
        raster_left(raster, line) + raster->clock_width * (CELL_CLOCKS * cell + CELL_CLOCKS / 2.0);
    int first = (int)(centre - (samples - 1) / 2.0 + 0.5);
    if (first < 0 || first + samples > field->width) {
        return;
    }
    for (int i = 0; i < samples; i++) {
        sums->luma += luma[(ptrdiff_t)(first + i) * field->step];
    }
    sums->samples += samples;
    if (reading->has_chroma) {
        add_chroma(field, line, (first + 1) >> field->chroma_x,
                   ((first + samples - 2) >> field->chroma_x) + 1, 1, sums);
    }
}

static int count_bits(uint64_t mask) {
    int count = 0;
    for (; mask != 0; mask &= mask - 1) {
        count++;
    }
    return count;
}

/* Cells in the mask that have only cells of it around them. */
static uint64_t surrounded(uint64_t above, uint64_t here, uint64_t below) {
    return here & here << 1 & here >> 1 & above & below & inner_cells;
}

static void add_cells(const struct field *field, const struct reading *reading, int line, int turn,
                      uint64_t mask, struct sums *sums) {
    int first = (int)reading->raster.top + SLATE_LINES;
    const int count = count_bits(mask);
    sums->cells += count;
    if (count > CELLS_A_LINE) {
        mask &= every_fourth << turn % 4;
    }
    for (int cell = 0; mask != 0; cell++, mask >>= 1) {
        if (mask & 1) {
            add_cell(field, reading, first + line, cell, sums);
        }
    }
}

static struct cell_colour colour_of(const struct sums *sums, const struct raster *raster,
                                    const struct sums *white) {
    struct cell_colour colour = {.count = sums->samples > 0 ? sums->cells : 0};
    if (colour.count == 0) {
        return colour;
    }
    colour.level = ((double)sums->luma / sums->samples - raster->black) / (raster->white - raster->black);
    if (sums->chroma_samples > 0 && white->chroma_samples > 0) {
        colour.cb = (double)sums->cb / sums->chroma_samples - (double)white->cb / white->chroma_samples;
        colour.cr = (double)sums->cr / sums->chroma_samples - (double)white->cr / white->chroma_samples;
    }
    return colour;
}

static struct sums white_chroma(const struct field *field, const struct raster *raster) {
    struct sums white = {0};
    int first = (int)(raster->left + 16 * raster->clock_width) >> field->chroma_x;
    int end = (int)(raster->left + 144 * raster->clock_width) >> field->chroma_x;
    add_chroma(field, (int)raster->top + SLATE_BAND_LINES / 2, first, end, WHITE_STEP, &white);
    return white;
}

void colours_measure(const struct field *field, struct reading *out) {
    struct sums lit = {0}, dark = {0}, white = {0};
    out->has_chroma = field->cb.data != NULL && field->cr.data != NULL;
    if (out->has_chroma) {
        white = white_chroma(field, &out->raster);
    }
    for (int i = 0; i < COLOUR_LINES && out->lines >= COLOUR_LINES + 2; i++) {
        int line = (2 * i + 1) * out->lines / (2 * COLOUR_LINES);
        const uint64_t *at = &out->lit[line];
        add_cells(field, out, line, i, surrounded(at[-1], at[0], at[1]), &lit);
        add_cells(field, out, line, i, surrounded(at[-1] ^ all_cells, at[0] ^ all_cells, at[1] ^ all_cells),
                  &dark);
    }
    out->lit_colour = colour_of(&lit, &out->raster, &white);
    out->dark_colour = colour_of(&dark, &out->raster, &white);
}
