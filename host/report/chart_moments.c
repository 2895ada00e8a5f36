/* Plan `moments`: for each register and mode the clock at which the screen changes against the cycle in which
 * the store ends, and below it the windows. What was measured are marks and filled bars; what is derived is
 * dashed. */
#include "report/chart.h"
#include "report/svg.h"

#include <math.h>
#include <string.h>

enum {
    WIDTH = 1240,
    PANEL_WIDTH = 410,
    PANEL_HEIGHT = 320,
    LEFT = 118,
    TOP = 126,
    COLUMN = 600, /* from panel to panel */
    BARS = 28,    /* from the panel to its first bar */
    BAR = 13,     /* from bar to bar */
    BARS_MOST = 6,
    ROW = PANEL_HEIGHT + BARS + BARS_MOST * BAR + 32,
    CYCLE_FIRST = -24, /* a window may begin in the line before */
    CLOCK_FIRST = 68,
    CLOCK_END = 228,
    HALF_CLOCKS = 80
};

#define LARGE 4.0
#define SMALL 2.0

/* One console. */
struct console {
    const struct moments *moments;
    const char *class[MOMENT_EDGES], *bar, *name;
    enum svg_mark mark[MOMENT_EDGES][HALVES];
    double size[MOMENT_EDGES]; /* what is drawn later is smaller, so that both are seen where they agree */
};

static struct svg_panel panel_of(int row, int column) {
    return (struct svg_panel){.left = LEFT + column * COLUMN,
                              .top = TOP + row * ROW,
                              .width = PANEL_WIDTH,
                              .height = PANEL_HEIGHT,
                              .x_low = CYCLE_FIRST,
                              .x_high = LINE_CYCLES,
                              .y_low = CLOCK_FIRST,
                              .y_high = CLOCK_END};
}

/* ---- what is derived ---- */

/* A store that ends with cycle c acts at clock 3c, cell n begins at clock 68 + 4n, and the right half with
 * cell 20 [A]. */
static void draw_derived(FILE *stream, const struct svg_panel *panel) {
    const double first = CLOCK_FIRST / 3.0, last = CLOCK_END / 3.0, middle = CLOCK_FIRST + HALF_CLOCKS;
    for (int cell = 1; cell < CELLS; cell++) {
        const double y = svg_y(panel, CLOCK_FIRST + CELL_CLOCKS * cell);
        svg_line(stream, panel->left, y, panel->left + panel->width, y, "cells");
    }
    svg_line(stream, svg_x(panel, first), svg_y(panel, CLOCK_FIRST), svg_x(panel, last),
             svg_y(panel, CLOCK_END), "derived");
    svg_line(stream, panel->left, svg_y(panel, middle), panel->left + panel->width, svg_y(panel, middle),
             "derived");
}

/* ---- what was measured ---- */

static void draw_point(FILE *stream, const struct svg_panel *panel, const struct console *console, int cycle,
                       enum moment_edge edge, int half, const struct half_seen *seen) {
    const double x = svg_x(panel, cycle), y = svg_y(panel, seen->clock);
    svg_line(stream, x, svg_y(panel, seen->clock - seen->spread), x, svg_y(panel, seen->clock + seen->spread),
             console->class[edge]);
    svg_mark(stream, console->mark[edge][half], x, y, console->size[edge], console->class[edge]);
}

static void draw_points(FILE *stream, const struct svg_panel *panel, const struct console *console,
                        enum moment_register reg, bool mirror) {
    for (int cycle = 0; cycle < LINE_CYCLES; cycle++) {
        const struct moment moment = {reg, mirror, cycle};
        const struct moment_seen *seen = &console->moments->seen[moment_value(&moment)];
        for (int i = 0; i < MOMENT_EDGES * HALVES; i++) {
            const struct half_seen *half = &seen->half[i / HALVES][i % HALVES];
            if (half->state == HALF_CHANGES) {
                draw_point(stream, panel, console, cycle, (enum moment_edge)(i / HALVES), i % HALVES, half);
            }
        }
    }
}

/* ---- windows ---- */

static void draw_bar(FILE *stream, const struct svg_panel *panel, int place, const char *name,
                     const struct write_window *window, const char *class) {
    const double y = panel->top + panel->height + BARS + place * BAR;
    svg_text(stream, panel->left - 6, y + 9, "small", SVG_END, "%s", name);
    if (!window->exists) {
        svg_text(stream, panel->left + panel->width + 6, y + 9, "small", SVG_START,
                 window->open ? "not known" : "none");
        return;
    }
    const double first = fmax(CYCLE_FIRST, window->first - 0.5), last = fmin(LINE_CYCLES, window->last + 0.5);
    if (last > first) {
        svg_box(stream, svg_x(panel, first), y + 1, svg_x(panel, last) - svg_x(panel, first), BAR - 4, class);
    }
    svg_text(stream, panel->left + panel->width + 6, y + 9, "small", SVG_START, "cycle %d to %d%s",
             window->first, window->last, window->open ? " or more" : "");
}

static void draw_windows(FILE *stream, const struct svg_panel *panel, const struct console *consoles,
                         int count, enum moment_register reg, bool mirror) {
    int place = 0;
    for (int half = 0; half < HALVES; half++) {
        const char *side = half == HALF_LEFT ? "left" : "right";
        char name[64];
        for (int i = 0; i < count; i++) {
            snprintf(name, sizeof name, "%s, %s", side, count > 1 ? consoles[i].name : "measured");
            draw_bar(stream, panel, place++, name, &consoles[i].moments->windows.window[reg][mirror][half],
                     consoles[i].bar);
        }
        snprintf(name, sizeof name, "%s, derived", side);
        draw_bar(stream, panel, place++, name, &consoles[0].moments->arithmetic.window[reg][mirror][half],
                 "hatch");
    }
}

/* ---- all of it ---- */

static void draw_register(FILE *stream, const struct console *consoles, int count, enum moment_register reg,
                          bool mirror) {
    const struct svg_panel panel = panel_of((int)reg, mirror);
    svg_axes(stream, &panel, 10, 20);
    svg_text(stream, panel.left, panel.top - 8, "head", SVG_START, "%s, %s", moment_name(reg),
             mirror ? "mirror" : "copy");
    for (int i = 0; i < count; i++) {
        draw_points(stream, &panel, &consoles[i], reg, mirror);
    }
    draw_derived(stream, &panel); /* over the marks, or it would not be seen where both agree */
    draw_windows(stream, &panel, consoles, count, reg, mirror);
}

static void draw_legend(FILE *stream, const struct console *consoles, int count) {
    static const char *const edges[] = {"rising", "falling"}, *const halves[] = {"left half", "right half"};
    double x = 26;
    for (int i = 0; i < count; i++) {
        for (int j = 0; j < MOMENT_EDGES * HALVES; j++) {
            const int edge = j / HALVES, half = j % HALVES;
            if (count > 1 && edge > 0) {
                continue; /* both edges have one mark */
            }
            svg_mark(stream, consoles[i].mark[edge][half], x, 48, 4, consoles[i].class[edge]);
            svg_text(stream, x + 12, 52, "label", SVG_START, "%s: %s%s%s", consoles[i].name, halves[half],
                     count > 1 ? "" : ", ", count > 1 ? "" : edges[edge]);
            x += 200;
        }
    }
    svg_line(stream, 20, 70, 46, 70, "derived");
    svg_text(stream, 54, 74, "label", SVG_START,
             "derived: clock of the store, 3 x cycle; cells, 68 + 4n; the right half, 148");
    svg_box(stream, 580, 65, 26, 9, "bar1");
    svg_text(stream, 614, 74, "label", SVG_START, "measured: window of clean writes");
    svg_box(stream, 870, 65, 26, 9, "hatch");
    svg_text(stream, 904, 74, "label", SVG_START, "derived: window by arithmetic, no delay");
    svg_text(
        stream, 20, 94, "soft", SVG_START,
        "x: cycle of the line in which the store ends, below 0 in the line before; y: colour clock at which "
        "the screen changes; bars on marks: spread, clocks");
}

/* number: 0: in a file of its own. */
static void draw(FILE *stream, int number, const char *title, const char *of, const char *about,
                 const struct console *consoles, int count) {
    svg_begin(stream, number, WIDTH, TOP + MOMENT_REGISTERS * ROW, title, of, about);
    draw_legend(stream, consoles, count);
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        for (int mirror = 0; mirror < MOMENT_MODES; mirror++) {
            draw_register(stream, consoles, count, (enum moment_register)reg, mirror != 0);
        }
    }
    svg_end(stream);
}

void chart_moments(FILE *stream, int number, const struct moments *moments, const char *of) {
    const struct console console = {.moments = moments,
                                    .class = {"one", "two"},
                                    .bar = "bar1",
                                    .name = "measured",
                                    .mark = {{SVG_CIRCLE, SVG_CROSS}, {SVG_SQUARE, SVG_DIAMOND}},
                                    .size = {LARGE, SMALL}};
    draw(stream, number, "When writes take effect, measured", of,
         "For each register, in copy and in mirror mode: the colour clock at which the left and the right "
         "half of the screen change, against the cycle in which the store ends; marks are measured, with "
         "their "
         "spread. Dashed lines are derived by arithmetic. Bars below each chart are the cycles in which a "
         "write is clean: filled ones measured, dashed ones derived. The same numbers stand in moments.txt "
         "and moments.csv, in a page in its tables.",
         &console, 1);
}

void chart_moments_difference(FILE *stream, const struct moments *first, const struct moments *second,
                              const char *of) {
    const struct console consoles[] = {{.moments = first,
                                        .class = {"one", "one"},
                                        .bar = "bar1",
                                        .name = "first",
                                        .mark = {{SVG_CIRCLE, SVG_CROSS}, {SVG_CIRCLE, SVG_CROSS}},
                                        .size = {LARGE, LARGE}},
                                       {.moments = second,
                                        .class = {"two", "two"},
                                        .bar = "bar2",
                                        .name = "second",
                                        .mark = {{SVG_SQUARE, SVG_DIAMOND}, {SVG_SQUARE, SVG_DIAMOND}},
                                        .size = {SMALL, SMALL}}};
    draw(stream, 0, "When writes take effect on two consoles, measured", of,
         "For each register, in copy and in mirror mode: the colour clock at which the left and the right "
         "half of the screen change, against the cycle in which the store ends. Circles and crosses are the "
         "first "
         "console's, squares and diamonds the second's. Dashed lines are derived by arithmetic. Bars below "
         "each chart are the cycles in which a write is clean.",
         consoles, 2);
}
