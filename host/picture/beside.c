/* The blank left of the picture. It is black and grey whatever the colour registers hold, so it is what the
 * slate's own colours can be held against. */
#include "picture/parts.h"

#include <math.h>

enum {
    NEAR = 9,   /* samples from the picture's edge to the nearest that count: edges are behind there [P] */
    FAR = 26,   /* and to the farthest */
    LEAST = 4,  /* fewer samples than that say nothing */
    PLACES = 12 /* picture lines looked at */
};

struct span {
    int first, end; /* samples */
};

static struct span blank_span(const struct raster *raster, int line) {
    int edge = (int)floor(raster_left(raster, line));
    struct span span = {edge - FAR > 0 ? edge - FAR : 0, edge - NEAR + 1};
    return span;
}

static double mean_luma(const struct field *field, int line, struct span span) {
    const uint8_t *luma = field_line(field, line);
    int sum = 0;
    for (int x = span.first; x < span.end; x++) {
        sum += luma[(ptrdiff_t)x * field->step];
    }
    return (double)sum / (span.end - span.first);
}

static double mean_chroma(const struct field *field, const struct plane *plane, int line, struct span span) {
    const uint8_t *row = plane->data + (ptrdiff_t)(line >> field->chroma_y) * plane->stride;
    int first = span.first >> field->chroma_x, end = (span.end + field->chroma_x) >> field->chroma_x;
    int sum = 0;
    for (int x = first; x < end; x++) {
        sum += row[(ptrdiff_t)x * plane->step];
    }
    return (double)sum / (end - first);
}

static double level_of(const struct raster *raster, double code) {
    return (code - raster->black) / (raster->white - raster->black);
}

static struct span white_span(const struct raster *raster) {
    return (struct span){(int)(raster->left + 8 * raster->clock_width),
                         (int)(raster->left + (PICTURE_CLOCKS - 8) * raster->clock_width)};
}

double beside_white(const struct field *field, const struct plane *plane, const struct raster *raster) {
    return mean_chroma(field, plane, (int)raster->top + 1, white_span(raster));
}

void beside_measure(const struct field *field, struct reading *out) {
    const struct raster *raster = &out->raster;
    const int band = (int)raster->top + 1, first = (int)raster->top + SLATE_LINES;
    const struct span blank = blank_span(raster, band);
    if (blank.end - blank.first < LEAST || out->lines < PLACES || !(raster->white > raster->black)) {
        return;
    }
    double luma = 0, low = INFINITY, cb = 0, cr = 0;
    const bool colour = field->cb.data != NULL && field->cr.data != NULL;
    for (int i = 0; i < PLACES; i++) {
        int line = first + (2 * i + 1) * out->lines / (2 * PLACES);
        struct span span = blank_span(raster, line);
        if (span.end - span.first < LEAST) {
            return;
        }
        const double here = mean_luma(field, line, span);
        luma += here / PLACES;
        low = fmin(low, here);
        cb += colour ? mean_chroma(field, &field->cb, line, span) / PLACES : 0;
        cr += colour ? mean_chroma(field, &field->cr, line, span) / PLACES : 0;
    }
    out->beside_picture.count = PLACES;
    out->beside_picture.level = level_of(raster, luma);
    out->beside_low = low;
    out->beside_band = level_of(raster, mean_luma(field, band, blank));
    out->band_white = level_of(raster, mean_luma(field, band, white_span(raster)));
    if (colour) {
        out->beside_picture.cb = cb - beside_white(field, &field->cb, raster);
        out->beside_picture.cr = cr - beside_white(field, &field->cr, raster);
    }
}
