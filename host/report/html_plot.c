/* Small charts of numbers over numbers. Each mark stands in a group that says its numbers, data-x and data-y,
 * and whose they are. */
#include "report/html_inside.h"

#include <math.h>

enum { WIDTH = 760, HEIGHT = 300, LEFT = 60, TOP = 64, BELOW = 50, RIGHT = 24, TICKS_MOST = 10 };

double html_step(double range, int most) {
    static const double steps[] = {1, 2, 5, 10};
    const double least = range / most, power = pow(10, floor(log10(least)));
    for (int i = 0; i < 4; i++) {
        if (steps[i] * power >= least * 0.999) {
            return steps[i] * power;
        }
    }
    return 10 * power;
}

static double step_of(double range) {
    return html_step(range, TICKS_MOST);
}

static void legend(FILE *stream, const struct html_plot *plot) {
    double x = LEFT;
    for (size_t i = 0; i < plot->count; i++) {
        svg_mark(stream, plot->series[i].mark, x + 6, 46, 4, plot->series[i].class);
        svg_text(stream, x + 18, 50, "label", SVG_START, "%s", plot->series[i].name);
        x += 190;
    }
    if (html_known(plot->bound)) {
        svg_line(stream, x, 46, x + 26, 46, "derived");
        svg_text(stream, x + 34, 50, "label", SVG_START, "%s", plot->bound_name);
    }
}

static void join(FILE *stream, const struct svg_panel *panel, const struct html_series *series) {
    bool begun = false;
    fprintf(stream, "<path class=\"%s faint\" d=\"", series->class);
    for (size_t i = 0; i < series->count; i++) {
        const struct html_point *point = &series->points[i];
        if (html_known(point->y)) {
            fprintf(stream, "%c%.1f %.1f", begun ? 'L' : 'M', svg_x(panel, point->x), svg_y(panel, point->y));
            begun = true;
        }
    }
    fputs("\"/>\n", stream);
}

static void marks(FILE *stream, const struct svg_panel *panel, const struct html_series *series) {
    for (size_t i = 0; i < series->count; i++) {
        const struct html_point *point = &series->points[i];
        if (html_known(point->y)) {
            fprintf(stream, "<g data-n=\"%ld\" data-x=\"%.6g\" data-y=\"%.6g\">", point->number, point->x,
                    point->y);
            svg_mark(stream, series->mark, svg_x(panel, point->x), svg_y(panel, point->y), 3.5,
                     series->class);
            fputs("</g>", stream);
        }
    }
}

static void draw(FILE *stream, const struct html_plot *plot) {
    const double range = fmax(plot->x_high - plot->x_low, 1e-6), room = range * 0.02;
    const struct svg_panel panel = {.left = LEFT,
                                    .top = TOP,
                                    .width = WIDTH - LEFT - RIGHT,
                                    .height = HEIGHT - TOP - BELOW,
                                    .x_low = plot->x_low - room,
                                    .x_high = plot->x_high + room,
                                    .y_low = plot->y_low,
                                    .y_high = plot->y_high};
    const double x_step = step_of(range);
    svg_axes(stream, &panel, plot->whole ? fmax(x_step, 1) : x_step, step_of(plot->y_high - plot->y_low));
    if (html_known(plot->bound)) {
        const double y = svg_y(&panel, plot->bound);
        svg_line(stream, panel.left, y, panel.left + panel.width, y, "derived");
    }
    for (size_t i = 0; i < plot->count; i++) {
        if (plot->series[i].joined && plot->series[i].count > 1) {
            join(stream, &panel, &plot->series[i]);
        }
        marks(stream, &panel, &plot->series[i]);
    }
    svg_text(stream, LEFT, HEIGHT - 12, "soft", SVG_START, "x: %s; y: %s", plot->x_name, plot->y_name);
}

void html_plot(struct html *html, const struct html_plot *plot) {
    const int number = ++html->numbers;
    html_put(html, "<div class=s role=region tabindex=0 aria-label=\"Chart %d: ", number);
    html_say(html, "%s", plot->title);
    html_put(html, "\">");
    svg_begin(html->stream, number, WIDTH, HEIGHT, plot->title, plot->of, plot->about);
    legend(html->stream, plot);
    draw(html->stream, plot);
    svg_end(html->stream);
    html_put(html, "</div>\n");
}

struct html_times html_times(const struct record_list *runs) {
    static const struct {
        double ms;
        const char *name;
    } units[] = {{86400000, "days"}, {3600000, "hours"}, {60000, "minutes"}};
    const int64_t first = runs->count > 0 ? runs->runs[0]->started_ms : 0;
    const double range = runs->count > 0 ? (double)(runs->runs[runs->count - 1]->started_ms - first) : 0;
    const int unit = range >= 2 * units[0].ms ? 0 : range >= 2 * units[1].ms ? 1 : 2;
    struct html_times times = {.first_ms = first, .unit_ms = units[unit].ms, .high = range / units[unit].ms};
    char when[HTML_WHEN];
    html_when(first, when);
    snprintf(times.axis, sizeof times.axis, "%s since %s", units[unit].name, when);
    return times;
}

double html_time(const struct html_times *times, const struct record_run *run) {
    return (double)(run->started_ms - times->first_ms) / times->unit_ms;
}
