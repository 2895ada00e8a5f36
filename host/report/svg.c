#include "report/svg.h"

#include "report/escape.h"

#include <math.h>
#include <stdarg.h>

/* Okabe and Ito's blue and vermilion are told apart by all common kinds of colour vision; lighter ones on
 * dark. */
static const char style[] =
    ".chart{--paper:#ffffff;--ink:#1b1b1b;--soft:#6b6b6b;--grid:#d9d9d9;--one:#0072b2;--two:#b34700;"
    "background:var(--paper)}\n"
    "@media (prefers-color-scheme:dark){.chart{--paper:#16181c;--ink:#ececec;--soft:#a6a6a6;--grid:#3a3d42;"
    "--one:#6cc4ff;--two:#ffa366}}\n"
    "@media print{.chart{--paper:#ffffff;--ink:#000000;--soft:#444444;--grid:#cccccc;--one:#0072b2;"
    "--two:#b34700;width:100%;height:auto}}\n" /* wider than a sheet, it would be cut off at the right */
    ".chart text{font:12px sans-serif;fill:var(--ink)}\n"
    ".chart .title{font-size:18px;font-weight:bold}.chart .head{font-size:13px;font-weight:bold}"
    ".chart .soft{fill:var(--soft)}.chart .small{font-size:10px;fill:var(--soft)}\n"
    ".chart .paper{fill:var(--paper)}\n"
    ".chart .frame{fill:none;stroke:var(--soft)}.chart .grid{stroke:var(--grid);fill:none}"
    ".chart .leader{stroke:var(--soft);stroke-width:.7}\n"
    ".chart .one,.chart .two{fill:none;stroke-width:1.5}.chart .one{stroke:var(--one)}"
    ".chart .two{stroke:var(--two)}\n"
    ".chart .faint{stroke-width:.8;opacity:.75}\n"
    ".chart .derived{fill:none;stroke:var(--soft);stroke-width:1.2;stroke-dasharray:5 3}"
    ".chart .hatch{fill:none;stroke:var(--soft);stroke-width:1.2;stroke-dasharray:5 3}\n"
    ".chart .cells{stroke:var(--soft);stroke-width:.4;stroke-dasharray:1 4}"
    ".chart .bar1{fill:var(--one);fill-opacity:.25;stroke:var(--one)}"
    ".chart .bar2{fill:var(--two);fill-opacity:.25;stroke:var(--two)}\n";

void svg_style(FILE *stream) {
    fputs(style, stream);
}

double svg_x(const struct svg_panel *panel, double x) {
    return panel->left + (x - panel->x_low) / (panel->x_high - panel->x_low) * panel->width;
}

double svg_y(const struct svg_panel *panel, double y) {
    return panel->top + (panel->y_high - y) / (panel->y_high - panel->y_low) * panel->height;
}

/* What a screen reader says. number: what makes the ids the chart's own; 0: it is alone in its file. */
static void describe(FILE *stream, int number, const char *title, const char *of, const char *about) {
    char own[16] = "";
    if (number > 0) {
        snprintf(own, sizeof own, "%d", number);
    }
    fprintf(stream, "role=\"img\" aria-labelledby=\"title%s about%s\">\n<title id=\"title%s\">", own, own,
            own);
    escape_text(stream, title);
    fputs(": ", stream);
    escape_text(stream, of);
    fprintf(stream, "</title>\n<desc id=\"about%s\">", own);
    escape_text(stream, about);
    fputs("</desc>\n", stream);
}

void svg_begin(FILE *stream, int number, double width, double height, const char *title, const char *of,
               const char *about) {
    fprintf(stream, "%s class=\"chart\" width=\"%.0f\" height=\"%.0f\" viewBox=\"0 0 %.0f %.0f\" ",
            number > 0
                ? "<svg"
                : "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\"",
            width, height, width, height);
    describe(stream, number, title, of, about);
    if (number == 0) {
        fprintf(stream, "<style>\n%s</style>\n", style);
    }
    svg_box(stream, 0, 0, width, height, "paper");
    svg_text(stream, 20, 28, "title", SVG_START, "%s", title);
    svg_text(stream, width - 20, 28, "soft", SVG_END, "%s", of);
}

void svg_end(FILE *stream) {
    fputs("</svg>\n", stream);
}

void svg_text(FILE *stream, double x, double y, const char *class, enum svg_anchor anchor, const char *format,
              ...) {
    static const char *const anchors[] = {[SVG_START] = "start", [SVG_MIDDLE] = "middle", [SVG_END] = "end"};
    char text[512];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    fprintf(stream, "<text x=\"%.1f\" y=\"%.1f\" class=\"%s\" text-anchor=\"%s\">", x, y, class,
            anchors[anchor]);
    escape_text(stream, text);
    fputs("</text>\n", stream);
}

void svg_line(FILE *stream, double x1, double y1, double x2, double y2, const char *class) {
    fprintf(stream, "<line x1=\"%.2f\" y1=\"%.2f\" x2=\"%.2f\" y2=\"%.2f\" class=\"%s\"/>\n", x1, y1, x2, y2,
            class);
}

void svg_box(FILE *stream, double x, double y, double width, double height, const char *class) {
    fprintf(stream, "<rect x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\" class=\"%s\"/>\n", x, y,
            width, height, class);
}

void svg_circle(FILE *stream, double x, double y, double radius, const char *class) {
    fprintf(stream, "<circle cx=\"%.2f\" cy=\"%.2f\" r=\"%.2f\" class=\"%s\"/>\n", x, y, radius, class);
}

void svg_mark(FILE *stream, enum svg_mark mark, double x, double y, double size, const char *class) {
    switch (mark) {
    case SVG_CROSS:
        fprintf(stream, "<path d=\"M%.2f %.2fl%.2f %.2fM%.2f %.2fl%.2f %.2f\" class=\"%s\"/>\n", x - size,
                y - size, 2 * size, 2 * size, x - size, y + size, 2 * size, -2 * size, class);
        break;
    case SVG_SQUARE:
        svg_box(stream, x - size, y - size, 2 * size, 2 * size, class);
        break;
    case SVG_DIAMOND:
        fprintf(stream, "<path d=\"M%.2f %.2fl%.2f %.2fl%.2f %.2fl%.2f %.2fz\" class=\"%s\"/>\n", x,
                y - 1.3 * size, 1.3 * size, 1.3 * size, -1.3 * size, 1.3 * size, -1.3 * size, -1.3 * size,
                class);
        break;
    default:
        svg_circle(stream, x, y, size, class);
        break;
    }
}

/* Ticks are the whole multiples of the step within low..high. */
static int first_tick(double low, double step) {
    return (int)ceil(low / step - 1e-9);
}

static int last_tick(double high, double step) {
    return (int)floor(high / step + 1e-9);
}

static void x_ticks(FILE *stream, const struct svg_panel *panel, double step) {
    const double bottom = panel->top + panel->height;
    for (int tick = first_tick(panel->x_low, step); tick <= last_tick(panel->x_high, step); tick++) {
        const double x = svg_x(panel, tick * step);
        svg_line(stream, x, panel->top, x, bottom, "grid");
        svg_text(stream, x, bottom + 14, "small", SVG_MIDDLE, "%g", tick * step);
    }
}

static void y_ticks(FILE *stream, const struct svg_panel *panel, double step) {
    for (int tick = first_tick(panel->y_low, step); tick <= last_tick(panel->y_high, step); tick++) {
        const double y = svg_y(panel, tick * step);
        svg_line(stream, panel->left, y, panel->left + panel->width, y, "grid");
        svg_text(stream, panel->left - 4, y + 4, "small", SVG_END, "%g", tick * step);
    }
}

void svg_axes(FILE *stream, const struct svg_panel *panel, double x_step, double y_step) {
    if (x_step > 0) {
        x_ticks(stream, panel, x_step);
    }
    if (y_step > 0) {
        y_ticks(stream, panel, y_step);
    }
    svg_box(stream, panel->left, panel->top, panel->width, panel->height, "frame");
}
