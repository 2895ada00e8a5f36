#include "report/svg.h"

#include <math.h>
#include <stdarg.h>

/* Okabe and Ito's blue and vermilion are told apart by all common kinds of colour vision; lighter ones on
 * dark. */
static const char style[] =
    "svg{--paper:#ffffff;--ink:#1b1b1b;--soft:#6b6b6b;--grid:#d9d9d9;--one:#0072b2;--two:#b34700;"
    "background:var(--paper)}\n"
    "@media (prefers-color-scheme:dark){svg{--paper:#16181c;--ink:#ececec;--soft:#a6a6a6;--grid:#3a3d42;"
    "--one:#6cc4ff;--two:#ffa366}}\n"
    "@media print{svg{--paper:#ffffff;--ink:#000000;--soft:#444444;--grid:#cccccc;--one:#0072b2;"
    "--two:#b34700;width:100%;height:auto}}\n" /* wider than a sheet, it would be cut off at the right */
    "text{font:12px sans-serif;fill:var(--ink)}\n"
    "text.title{font-size:18px;font-weight:bold}text.head{font-size:13px;font-weight:bold}"
    "text.soft{fill:var(--soft)}text.small{font-size:10px;fill:var(--soft)}\n"
    ".paper{fill:var(--paper)}\n"
    ".frame{fill:none;stroke:var(--soft)}.grid{stroke:var(--grid);fill:none}"
    ".leader{stroke:var(--soft);stroke-width:.7}\n"
    ".one,.two{fill:none;stroke-width:1.5}.one{stroke:var(--one)}.two{stroke:var(--two)}\n"
    ".faint{stroke-width:.8;opacity:.65}\n"
    ".derived{fill:none;stroke:var(--soft);stroke-width:1.2;stroke-dasharray:5 3}"
    ".hatch{fill:none;stroke:var(--soft);stroke-width:1.2;stroke-dasharray:5 3}\n"
    ".cells{stroke:var(--soft);stroke-width:.4;stroke-dasharray:1 4}"
    ".bar1{fill:var(--one);fill-opacity:.25;stroke:var(--one)}"
    ".bar2{fill:var(--two);fill-opacity:.25;stroke:var(--two)}\n";

double svg_x(const struct svg_panel *panel, double x) {
    return panel->left + (x - panel->x_low) / (panel->x_high - panel->x_low) * panel->width;
}

double svg_y(const struct svg_panel *panel, double y) {
    return panel->top + (panel->y_high - y) / (panel->y_high - panel->y_low) * panel->height;
}

static void escaped(FILE *stream, const char *text) {
    for (; *text != '\0'; text++) {
        switch (*text) {
        case '<':
            fputs("&lt;", stream);
            break;
        case '>':
            fputs("&gt;", stream);
            break;
        case '&':
            fputs("&amp;", stream);
            break;
        default:
            fputc((unsigned char)*text < ' ' ? ' ' : *text, stream);
            break;
        }
    }
}

void svg_begin(FILE *stream, double width, double height, const char *title, const char *of,
               const char *about) {
    fprintf(stream,
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" "
            "width=\"%.0f\" height=\"%.0f\" viewBox=\"0 0 %.0f %.0f\" role=\"img\" "
            "aria-labelledby=\"title about\">\n<title id=\"title\">",
            width, height, width, height);
    escaped(stream, title);
    fputs(": ", stream);
    escaped(stream, of);
    fputs("</title>\n<desc id=\"about\">", stream);
    escaped(stream, about);
    fprintf(stream, "</desc>\n<style>\n%s</style>\n", style);
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
    escaped(stream, text);
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
