/* Where the playfield's edges lie against the raster: late or early by how many clocks. */
#include "picture/parts.h"

#include <math.h>

/* Clocks between which edges count: those at 0 and 160 are the picture's own. */
static const double scan_from = 0.5, scan_to = 159.5;

struct scan {
    int low, high;   /* codes: darkest that is still bright, brightest that is still dark; 35 and 65 % of the
                        black-white distance */
    int middle;      /* code times 256 */
    int first, last; /* samples */
};

static void scan_levels(const struct raster *raster, struct scan *scan) {
    double distance = raster->white - raster->black;
    scan->low = (int)ceil(raster->black + 0.35 * distance);
    scan->high = (int)floor(raster->black + 0.65 * distance);
    scan->middle = (int)((raster->black + 0.5 * distance) * 256);
}

static void scan_ends(const struct field *field, double left, double clock_width, struct scan *scan) {
    scan->first = (int)ceil(left + scan_from * clock_width);
    scan->last = (int)floor(left + scan_to * clock_width);
    scan->first = scan->first < 0 ? 0 : scan->first;
    scan->last = scan->last > field->width - 1 ? field->width - 1 : scan->last;
}

/* The crossing of the middle that lies nearest before sample x, which is past it. */
static double crossing(const uint8_t *luma, ptrdiff_t step, int x, int first, int middle, bool rising) {
    while (x > first && (luma[(x - 1) * step] * 256 > middle) == rising) {
        x--;
    }
    if (x == first) {
        return first;
    }
    int before = luma[(x - 1) * step] * 256, after = luma[x * step] * 256;
    return x - 1 + (double)(middle - before) / (after - before);
}

/* The first sample from x on that is no longer what it was; last + 1 where all are. */
static int next_change(const uint8_t *luma, ptrdiff_t step, int x, const struct scan *scan, bool bright) {
    const uint8_t *at = luma + x * step, *end = luma + (scan->last + 1) * step;
    if (bright) {
        while (at != end && *at >= scan->low) {
            at += step;
        }
    } else {
        while (at != end && *at <= scan->high) {
            at += step;
        }
    }
    return (int)((at - luma) / step);
}

static int scan_line(const uint8_t *luma, ptrdiff_t step, const struct scan *scan, double left,
                     double clock_width, float *positions) {
    if (scan->first >= scan->last) {
        return 0;
    }
    bool bright = luma[scan->first * step] * 256 > scan->middle;
    int count = 0, x = scan->first + 1;
    while ((x = next_change(luma, step, x, scan, bright)) <= scan->last) {
        bright = !bright;
        double at = (crossing(luma, step, x, scan->first, scan->middle, bright) - left) / clock_width;
        if (at > scan_from && count < PICTURE_CLOCKS) {
            positions[count++] = (float)at;
        }
        x++;
    }
    return count;
}

static void circular_mean(const struct edge_tools *tools, struct reading *out) {
    const float steps_a_clock = (float)EDGE_STEPS / CELL_CLOCKS;
    double cosine = 0, sine = 0, squares = 0;
    for (int i = 0; i < out->edges; i++) {
        int turn = (int)(tools->position[i] * steps_a_clock + 0.5F) % EDGE_STEPS;
        cosine += (double)tools->cosine[turn];
        sine += (double)tools->sine[turn];
    }
    out->offset = atan2(sine, cosine) * CELL_CLOCKS / (2 * M_PI);
    for (int i = 0; i < out->edges; i++) {
        double away = (double)tools->position[i] - out->offset;
        away -= CELL_CLOCKS * floor(away / CELL_CLOCKS + 0.5);
        squares += away * away;
    }
    out->offset_spread = sqrt(squares / out->edges);
}

void edge_tools_init(struct edge_tools *tools) {
    for (int i = 0; i < EDGE_STEPS; i++) {
        tools->cosine[i] = (float)cos(2 * M_PI * i / EDGE_STEPS);
        tools->sine[i] = (float)sin(2 * M_PI * i / EDGE_STEPS);
    }
}

void edges_measure(const struct field *field, struct edge_tools *tools, struct reading *out) {
    struct scan scan;
    int first = (int)out->raster.top + SLATE_LINES;
    out->edges = 0;
    out->offset = out->offset_spread = 0;
    scan_levels(&out->raster, &scan);
    if (out->lines < EDGE_LINES) {
        return;
    }
    for (int i = 0; i < EDGE_LINES; i++) {
        int line = first + (2 * i + 1) * out->lines / (2 * EDGE_LINES);
        double left = raster_left(&out->raster, line), clock_width = out->raster.clock_width;
        scan_ends(field, left, clock_width, &scan);
        out->edges += scan_line(field_line(field, line), field->step, &scan, left, clock_width,
                                tools->position + out->edges);
    }
    if (out->edges > 0) {
        circular_mean(tools, out);
    }
}
