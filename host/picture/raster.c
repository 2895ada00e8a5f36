/*
 * The band's edges in fractions of a sample, by area: what is missing of white in a window round the edge is
 * how far the edge lies from the window's end, whatever the shape of the edge.
 */
#include "picture/parts.h"

#include <math.h>

enum {
    WIDE = 16,
    NARROW = 5,
    LEVEL_SAMPLES = 32, /* beside the window */
    LEVEL_NEAR = 9,     /* of them are over before an echo comes, 1 us after the edge */
    NARROW_ROUNDS = 3
};

/* Share of the edge that an echo must have to be one. */
#define ECHO_LEAST 0.04

/* Samples a clock, with less a cell's middle does not hold two samples clear of its edges. */
#define CLOCK_LEAST 1.5

/* The band's lines that are white all over, added up. */
struct band_lines {
    const struct field *field;
    const uint8_t *luma[SLATE_BAND_LINES];
    int count;
};

static int band_sample(const struct band_lines *lines, int x) {
    int sum = 0;
    for (int i = 0; i < lines->count; i++) {
        sum += lines->luma[i][(ptrdiff_t)x * lines->field->step];
    }
    return sum;
}

/* Mean over first..end-1, as far as the field goes; count says how many samples there were. */
static double band_mean(const struct band_lines *lines, int first, int end, int *count) {
    int sum = 0;
    first = first < 0 ? 0 : first;
    end = end > lines->field->width ? lines->field->width : end;
    for (int x = first; x < end; x++) {
        sum += band_sample(lines, x);
    }
    *count = end > first ? end - first : 0;
    return *count > 0 ? (double)sum / *count : 0;
}

struct edge {
    int inward; /* 1: white lies to the right; -1: to the left */
    double position, inside, outside;
    bool outside_known;
};

/* The level beside the window, on one side of the edge: many samples' mean, or where an echo of the edge
 * comes among them, the nearest ones' alone. */
static double side_level(const struct band_lines *lines, int centre, int reach, int side, double contrast,
                         int *known) {
    int near = centre + side * (reach + 1), unused;
    int many = near + side * (LEVEL_SAMPLES - 1), few = near + side * (LEVEL_NEAR - 1);
    double level = band_mean(lines, near < many ? near : many, (near < many ? many : near) + 1, known);
    double close = band_mean(lines, near < few ? near : few, (near < few ? few : near) + 1, &unused);
    return fabs(level - close) > ECHO_LEAST * contrast && unused == LEVEL_NEAR ? close : level;
}

/* Outside the field there is no light, and no sample to say how dark dark is: the other edge's level serves.
 */
static void edge_levels(const struct band_lines *lines, int centre, int reach, struct edge *edge) {
    double contrast = edge->inside - edge->outside;
    int known, unused;
    edge->inside = side_level(lines, centre, reach, edge->inward, contrast, &unused);
    edge->outside = side_level(lines, centre, reach, -edge->inward, contrast, &known);
    edge->outside_known = known >= 4;
}

static bool edge_round(const struct band_lines *lines, int reach, double fallback, struct edge *edge) {
    int centre = (int)lround(edge->position);
    edge_levels(lines, centre, reach, edge);
    double outside = edge->outside_known ? edge->outside : fallback;
    double contrast = edge->inside - outside, area = 0;
    if (contrast < CONTRAST_MIN * lines->count) {
        return false;
    }
    for (int x = centre - reach; x <= centre + reach; x++) {
        if (x >= 0 && x < lines->field->width) {
            area += (band_sample(lines, x) - outside) / contrast;
        }
    }
    edge->position = centre + edge->inward * (reach + 0.5 - area);
    return true;
}

/* Wide first, since the place is only roughly known; then narrow, since every sample in the window adds its
 * noise. */
static bool edge_measure(const struct band_lines *lines, double fallback, struct edge *edge) {
    if (!edge_round(lines, WIDE, fallback, edge)) {
        return false;
    }
    double last = edge->position;
    for (int i = 0; i < NARROW_ROUNDS; i++) {
        last = edge->position;
        if (!edge_round(lines, NARROW, fallback, edge)) {
            return false;
        }
        if (lround(last) == lround(edge->position)) {
            break;
        }
    }
    return fabs(last - edge->position) < 2;
}

/* How bright one line of the band is where it is least so: well inside, and next to either edge, where a
 * row's margin that a grabber blends in would bend the edge. The spots are shorter than two clocks, so that
 * no stuck cell hides the margin. */
static double least_white(const struct band_lines *one, const struct band_place *place) {
    enum { FROM_EDGE = 10, SPOT = 7, SPOTS = 3 };
    int left = (int)place->left, right = (int)place->right, unused;
    double least = band_mean(one, left + 3 * LEVEL_SAMPLES, right - 3 * LEVEL_SAMPLES, &unused);
    for (int i = 0; i < SPOTS; i++) {
        int near = FROM_EDGE + i * SPOT;
        least = fmin(least, band_mean(one, left + near, left + near + SPOT, &unused));
        least = fmin(least, band_mean(one, right - near - SPOT, right - near, &unused));
    }
    return least;
}

static double darker_side(const struct band_lines *one, const struct band_place *place) {
    int left = (int)place->left, right = (int)place->right, count_left, count_right;
    double at_left = band_mean(one, left - WIDE - LEVEL_SAMPLES, left - WIDE + 4, &count_left);
    double at_right = band_mean(one, right + WIDE - 4, right + WIDE + LEVEL_SAMPLES, &count_right);
    return count_left < 4 ? at_right : count_right < 4 ? at_left : fmin(at_left, at_right);
}

/* The middle line is white whatever the grabber blends; its neighbours count only when they are as bright. */
static void choose_lines(const struct field *field, const struct band_place *place,
                         struct band_lines *lines) {
    static const int order[SLATE_BAND_LINES] = {1, 0, 2};
    double bound = 0;
    lines->field = field;
    lines->count = 0;
    for (int i = 0; i < SLATE_BAND_LINES; i++) {
        struct band_lines one = {field, {field_line(field, place->top + order[i])}, 1};
        double white = least_white(&one, place);
        if (i == 0) {
            bound = white - 0.15 * (white - darker_side(&one, place));
        }
        if (i == 0 || white >= bound) {
            lines->luma[lines->count++] = one.luma[0];
        }
    }
}

bool raster_measure(const struct field *field, const struct band_place *place, struct raster *raster) {
    struct band_lines lines;
    int unused;
    choose_lines(field, place, &lines);
    struct edge left = {1, place->left, 255.0 * SLATE_BAND_LINES, 0, false},
                right = {-1, place->right, 255.0 * SLATE_BAND_LINES, 0, false};
    edge_levels(&lines, (int)lround(left.position), WIDE, &left);
    edge_levels(&lines, (int)lround(right.position), WIDE, &right);
    double left_outside = left.outside, right_outside = right.outside_known ? right.outside : left_outside;
    if (!edge_measure(&lines, right_outside, &left) || !edge_measure(&lines, left_outside, &right)) {
        return false;
    }
    raster->top = place->top;
    raster->left = left.position;
    raster->clock_width = (right.position - left.position) / PICTURE_CLOCKS;
    int first = (int)(raster->left + 4 * raster->clock_width),
        end = (int)(right.position - 4 * raster->clock_width);
    raster->white = band_mean(&lines, first, end, &unused) / lines.count;
    return raster->clock_width >= CLOCK_LEAST;
}
