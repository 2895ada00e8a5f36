/*
 * Profiles: the mean luma of each kind of line against the clocks.
 *
 * Lines of a kind are added up sample by sample first, shifted by what the slant moves them, and the sum is
 * read at the profile's points once. Between samples both are linear. That blurs an edge (by a triangle of
 * two samples, half a clock) but does not move its centre: each sample's weights have their centre where the
 * sample is wanted. Nor does it move the crossing of the middle of an edge that is symmetric and lies on many
 * lines; one sampled in a single way is crossed up to 0.08 samples (0.02 clocks) beside its centre, at the
 * 4.2 MHz of a BT.601 line [A: a Gaussian edge of 0.43 samples rms, read between its samples].
 */
#include "picture/parts.h"

#include <math.h>
#include <string.h>

/* Adds a line to the sums, its sample x at x - shift. */
static void add_shifted(const struct field *field, const uint8_t *luma, double shift, float *sums) {
    const int whole = (int)floor(shift), width = field->width;
    const ptrdiff_t step = field->step;
    const float part = (float)(shift - whole);
    const int from = whole < 0 ? -whole : 0, to = whole + 1 < 0 ? width : width - whole - 1;
    const uint8_t *at = luma + (ptrdiff_t)(from + whole) * step;
    for (int x = from; x < to && x < width; x++, at += step) {
        sums[x] += (1 - part) * (float)at[0] + part * (float)at[step];
    }
}

static void add_packed(const uint8_t *luma, int width, float *sums) {
    for (int x = 0; x < width; x++) {
        sums[x] += (float)luma[x];
    }
}

static void add_pairs(const uint8_t *luma, int width, float *sums) {
    for (int x = 0; x < width; x++) {
        sums[x] += (float)luma[2 * x];
    }
}

static void add_line(const struct field *field, int line, double shift, float *sums) {
    const uint8_t *luma = field_line(field, line);
    if (shift == 0 && field->step == 1) {
        add_packed(luma, field->width, sums);
    } else if (shift == 0 && field->step == 2) {
        add_pairs(luma, field->width, sums);
    } else {
        add_shifted(field, luma, shift, sums);
    }
}

/* The sums at the profile's points; left: of clock 0, in their samples. */
static void read_points(const float *sums, int width, int lines, const struct raster *raster, double left,
                        float *profile) {
    const double unit = 1 / ((double)lines * (raster->white - raster->black));
    const float scale = (float)unit, black = (float)(raster->black / (raster->white - raster->black));
    for (int i = 0; i < PROFILE_POINTS; i++) {
        double x = left + (i + 0.5) * raster->clock_width / PROFILE_FINE;
        x = x < 0 ? 0 : x > width - 1.001 ? width - 1.001 : x;
        const int whole = (int)x;
        const float part = (float)(x - whole);
        profile[i] = ((1 - part) * sums[whole] + part * sums[whole + 1]) * scale - black;
    }
}

static void profiles(struct detail_tools *tools, const struct field *field, const struct reading *reading,
                     struct detail *detail) {
    const struct raster *raster = &reading->raster;
    const int first = (int)raster->top + SLATE_LINES, width = field->width;
    const int groups = (reading->lines - 1) / PROFILE_PERIOD;
    const double left = raster_left(raster, first);
    for (int kind = 0; kind < PROFILE_PERIOD; kind++) {
        const int from = kind == 0 ? PROFILE_PERIOD : kind;
        memset(tools->sums, 0, sizeof tools->sums[0] * (size_t)width);
        for (int group = 0; group < groups; group++) {
            const int line = first + from + group * PROFILE_PERIOD;
            add_line(field, line, raster_left(raster, line) - left, tools->sums);
        }
        detail->lines[kind] = groups > 0 ? groups : 0;
        if (groups > 0) {
            read_points(tools->sums, width, groups, raster, left, detail->profile[kind]);
        }
    }
}

void detail_measure(struct detail_tools *tools, const struct field *field, bool placed, struct reading *out) {
    if (field->width > DETAIL_WIDTH_MAX || !(out->raster.white > out->raster.black)) {
        return;
    }
    tools->last = (tools->last + 1) % DETAILS_KEPT;
    struct detail *detail = &tools->detail[tools->last];
    detail->placed = placed;
    if (tools->profiles) {
        profiles(tools, field, out, detail);
    }
    if (tools->whole) {
        whole_measure(field, out, detail);
    }
    out->detail = detail;
}
