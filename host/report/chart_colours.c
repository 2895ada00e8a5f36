/* Plan `colours`: of each hue the eight levels against their codes, and all hues on the circle. */
#include "report/chart.h"
#include "report/palette_report.h"
#include "report/svg.h"

#include <math.h>

enum { WIDTH = 1240, HEIGHT = 800, COLUMNS = 4, SMALL = 122, GAP_X = 38, GAP_Y = 46, LEFT = 62, TOP = 112 };
#define CIRCLE_X 972.0
#define CIRCLE_Y 430.0
#define CIRCLE_RADIUS 195.0
#define LABEL_APART 11.0 /* degrees between labels round the circle */

/* One set of points: a register of a console. */
struct series {
    const struct palette *palette;
    const char *class, *name;
    int reg;
    enum svg_mark mark;
};

static void legend(FILE *stream, const struct series *series, int count, double x, double y) {
    for (int i = 0; i < count; i++) {
        svg_mark(stream, series[i].mark, x + 6, y - 4, 4, series[i].class);
        svg_text(stream, x + 18, y, "label", SVG_START, "%s", series[i].name);
        x += 190;
    }
}

/* ---- levels ---- */

static struct svg_panel panel_of(int hue, double most) {
    const int row = hue / COLUMNS, column = hue % COLUMNS;
    return (struct svg_panel){.left = LEFT + column * (SMALL + GAP_X),
                              .top = TOP + row * (SMALL + GAP_Y),
                              .width = SMALL,
                              .height = SMALL,
                              .x_low = -0.5,
                              .x_high = COLOUR_LEVELS - 0.5,
                              .y_low = -0.1,
                              .y_high = most};
}

static void spread(FILE *stream, const struct svg_panel *panel, double x, const struct palette_colour *colour,
                   const char *class) {
    svg_line(stream, x, svg_y(panel, colour->level - colour->level_spread), x,
             svg_y(panel, colour->level + colour->level_spread), class);
}

static void levels(FILE *stream, const struct svg_panel *panel, const struct series *series, int hue) {
    const struct palette_hue *line = &series->palette->hue[series->reg][hue];
    if (line->known) {
        svg_line(stream, svg_x(panel, 0), svg_y(panel, line->offset), svg_x(panel, COLOUR_LEVELS - 1),
                 svg_y(panel, line->offset + line->slope * (COLOUR_LEVELS - 1)), "derived");
    }
    for (int level = 0; level < COLOUR_LEVELS; level++) {
        const struct palette_colour *colour =
            &series->palette->colour[series->reg][hue * COLOUR_LEVELS + level];
        if (colour->fields > 0) {
            const double x = svg_x(panel, level);
            spread(stream, panel, x, colour, series->class);
            svg_mark(stream, series->mark, x, svg_y(panel, colour->level), 3, series->class);
        }
    }
}

static double highest(const struct series *series, int count) {
    double most = 1;
    for (int i = 0; i < count * COLOUR_CODES; i++) {
        const struct series *one = &series[i / COLOUR_CODES];
        const struct palette_colour *colour = &one->palette->colour[one->reg][i % COLOUR_CODES];
        most = colour->fields > 0 ? fmax(most, colour->level) : most;
    }
    return most + 0.1;
}

static void draw_levels(FILE *stream, const struct series *series, int count) {
    const double most = highest(series, count);
    svg_text(stream, LEFT, 74, "head", SVG_START, "Level against its code, of each hue");
    svg_text(stream, LEFT, 90, "soft", SVG_START,
             "x: D3-D1, 0 to 7; y: level, 0 black, 1 the slate's white; bars: spread over the fields");
    for (int hue = 0; hue < COLOUR_HUES; hue++) {
        const struct svg_panel panel = panel_of(hue, most);
        svg_axes(stream, &panel, 1, most < 2 ? 0.5 : 1);
        svg_text(stream, panel.left + 5, panel.top + 14, "head", SVG_START, hue == 0 ? "%d (grey)" : "%d",
                 hue);
        for (int i = 0; i < count; i++) {
            levels(stream, &panel, &series[i], hue);
        }
    }
}

/* ---- the circle ---- */

static double codes_shown(const struct series *series, int count) {
    double most = 10;
    for (int i = 0; i < count * COLOUR_CODES; i++) {
        const struct series *one = &series[i / COLOUR_CODES];
        const struct palette_colour *colour = &one->palette->colour[one->reg][i % COLOUR_CODES];
        most = colour->fields > 0 ? fmax(most, colour->saturation) : most;
    }
    return ceil(most / 10) * 10;
}

static void rings(FILE *stream, double codes) {
    const int step = codes > 100 ? 50 : codes > 40 ? 20 : 10;
    for (int ring = step; ring <= codes; ring += step) {
        const double radius = ring / codes * CIRCLE_RADIUS;
        svg_circle(stream, CIRCLE_X, CIRCLE_Y, radius, "grid");
        svg_text(stream, CIRCLE_X + radius - 2, CIRCLE_Y + 12, "small", SVG_END, "%d", ring);
    }
    svg_line(stream, CIRCLE_X - CIRCLE_RADIUS, CIRCLE_Y, CIRCLE_X + CIRCLE_RADIUS, CIRCLE_Y, "grid");
    svg_line(stream, CIRCLE_X, CIRCLE_Y - CIRCLE_RADIUS, CIRCLE_X, CIRCLE_Y + CIRCLE_RADIUS, "grid");
    svg_text(stream, CIRCLE_X - CIRCLE_RADIUS - 36, CIRCLE_Y - 6, "soft", SVG_END, "0\u00b0 (-Cb)");
    svg_text(stream, CIRCLE_X + CIRCLE_RADIUS + 36, CIRCLE_Y - 6, "soft", SVG_START, "180\u00b0");
    svg_text(stream, CIRCLE_X, CIRCLE_Y + CIRCLE_RADIUS + 48, "soft", SVG_MIDDLE, "90\u00b0 (-Cr)");
    svg_text(stream, CIRCLE_X, CIRCLE_Y - CIRCLE_RADIUS - 40, "soft", SVG_MIDDLE, "270\u00b0");
}

static double circle_x(double degrees, double radius) {
    return CIRCLE_X - radius * cos(degrees * M_PI / 180);
}

static double circle_y(double degrees, double radius) {
    return CIRCLE_Y + radius * sin(degrees * M_PI / 180);
}

static void points(FILE *stream, const struct series *series, double codes) {
    char faint[32];
    snprintf(faint, sizeof faint, "%s faint", series->class);
    for (int code = COLOUR_LEVELS; code < COLOUR_CODES; code++) {
        const struct palette_colour *colour = &series->palette->colour[series->reg][code];
        const double radius = colour->saturation / codes * CIRCLE_RADIUS;
        if (palette_has_hue(series->palette, colour)) {
            svg_mark(stream, series->mark, circle_x(colour->hue, radius), circle_y(colour->hue, radius), 2,
                     faint);
        }
    }
    for (int hue = 1; hue < COLOUR_HUES; hue++) {
        const struct palette_hue *mean = &series->palette->hue[series->reg][hue];
        const double radius = mean->saturation / codes * CIRCLE_RADIUS;
        if (mean->known) { /* one without an angle stands in the middle */
            svg_mark(stream, series->mark, circle_x(mean->hue, radius), circle_y(mean->hue, radius), 6,
                     series->class);
        }
    }
}

struct label {
    int hue;
    double angle, at, radius; /* of the mark, and where the number stands */
};

static int labels_of(const struct series *series, double codes, struct label labels[COLOUR_HUES]) {
    int count = 0;
    for (int hue = 1; hue < COLOUR_HUES; hue++) {
        const struct palette_hue *mean = &series->palette->hue[series->reg][hue];
        if (palette_hue_is_known(series->palette, series->reg, hue)) {
            int at = count++;
            for (; at > 0 && labels[at - 1].angle > mean->hue; at--) {
                labels[at] = labels[at - 1];
            }
            labels[at] = (struct label){hue, mean->hue, mean->hue, mean->saturation / codes * CIRCLE_RADIUS};
        }
    }
    return count;
}

/* Neighbours that are too near push each other away, until none are. */
static void part(struct label *labels, int count) {
    for (int turn = 0; turn < 200; turn++) {
        bool moved = false;
        for (int i = 0; i < count && count > 1; i++) {
            struct label *next = &labels[(i + 1) % count];
            const double apart = next->at - labels[i].at + (i == count - 1 ? 360 : 0);
            if (apart < LABEL_APART) {
                labels[i].at -= (LABEL_APART - apart) / 2 + 0.05;
                next->at += (LABEL_APART - apart) / 2 + 0.05;
                moved = true;
            }
        }
        if (!moved) {
            return;
        }
    }
}

static void number(FILE *stream, const struct series *series, double codes) {
    struct label labels[COLOUR_HUES];
    const int count = labels_of(series, codes, labels);
    const double outside = CIRCLE_RADIUS + 22;
    part(labels, count);
    for (int i = 0; i < count; i++) {
        const struct label *label = &labels[i];
        svg_line(stream, circle_x(label->angle, label->radius + 8), circle_y(label->angle, label->radius + 8),
                 circle_x(label->at, outside - 11), circle_y(label->at, outside - 11), "leader");
        svg_text(stream, circle_x(label->at, outside), circle_y(label->at, outside) + 4, "head", SVG_MIDDLE,
                 "%d", label->hue);
    }
}

/* From the first console's hue to the second's. */
static void join(FILE *stream, const struct series *first, const struct series *second, double codes) {
    for (int hue = 1; hue < COLOUR_HUES; hue++) {
        const struct palette_hue *one = &first->palette->hue[first->reg][hue],
                                 *other = &second->palette->hue[second->reg][hue];
        const double from = one->saturation / codes * CIRCLE_RADIUS,
                     to = other->saturation / codes * CIRCLE_RADIUS;
        if (one->known && other->known) {
            svg_line(stream, circle_x(one->hue, from), circle_y(one->hue, from), circle_x(other->hue, to),
                     circle_y(other->hue, to), "two");
        }
    }
}

static void draw_circle(FILE *stream, const struct series *series, int count) {
    const double codes = codes_shown(series, count);
    bool chroma = false;
    for (int i = 0; i < count; i++) {
        chroma = chroma || series[i].palette->has_chroma;
    }
    svg_text(stream, 700, 74, "head", SVG_START, "Hues on the circle");
    svg_text(stream, 700, 90, "soft", SVG_START,
             "angle: degrees from the burst's axis; distance: saturation, codes; large: a hue's mean");
    rings(stream, codes);
    for (int i = 0; i < count && chroma; i++) {
        points(stream, &series[i], codes);
    }
    for (int i = 2; i < count && chroma; i++) {
        join(stream, &series[i - 2], &series[i], codes);
    }
    if (chroma) {
        number(stream, &series[0], codes);
    } else {
        svg_text(stream, CIRCLE_X, CIRCLE_Y - 20, "head", SVG_MIDDLE, "no hue was seen");
    }
}

/* number: 0: in a file of its own. */
static void draw(FILE *stream, int number, const char *title, const char *of, const char *about,
                 const struct series *series, int count) {
    svg_begin(stream, number, WIDTH, HEIGHT, title, of, about);
    legend(stream, series, count, LEFT, 52);
    svg_line(stream, LEFT + 190.0 * count, 48, LEFT + 190.0 * count + 26, 48, "derived");
    svg_text(stream, LEFT + 190.0 * count + 34, 52, "label", SVG_START,
             "derived: straight line fitted to the levels");
    draw_levels(stream, series, count);
    draw_circle(stream, series, count);
    svg_end(stream);
}

void chart_colours(FILE *stream, int number, const struct palette *palette, const char *of) {
    const struct series series[] = {
        {palette, "one", "measured: COLUBK", PALETTE_COLUBK, SVG_CIRCLE},
        {palette, "two", "measured: COLUPF", PALETTE_COLUPF, SVG_CROSS},
    };
    draw(stream, number, "Colours of the console, measured", of,
         "Left: sixteen small charts, one a hue, of the measured level against the code's level. Right: the "
         "fifteen hues on a circle by angle and saturation. Circles stand for COLUBK, crosses for COLUPF; "
         "dashed lines are fitted. The same numbers stand in colours.txt and colours.csv, in a page in its "
         "tables.",
         series, 2);
}

void chart_colours_difference(FILE *stream, const struct palette *first, const struct palette *second,
                              const char *of) {
    const struct series series[] = {
        {first, "one", "first: COLUBK", PALETTE_COLUBK, SVG_CIRCLE},
        {first, "one", "first: COLUPF", PALETTE_COLUPF, SVG_CROSS},
        {second, "two", "second: COLUBK", PALETTE_COLUBK, SVG_SQUARE},
        {second, "two", "second: COLUPF", PALETTE_COLUPF, SVG_DIAMOND},
    };
    draw(stream, 0, "Colours of two consoles, measured", of,
         "Left: sixteen small charts, one a hue, of the measured level against the code's level. Right: the "
         "fifteen hues on a circle by angle and saturation. Circles and crosses stand for the first "
         "console's COLUBK and COLUPF, squares and diamonds for the second's. The numbers stand in "
         "difference.txt and difference.csv.",
         series, 4);
}
