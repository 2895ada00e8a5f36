/* Histograms: a bar for each interval, and the limit as a line. The top of each bar stands in a group that
 * says its numbers: data-x the interval's middle, data-y how many. */
#include "report/html_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    WIDTH = 760,
    HEIGHT = 240,
    LEFT = 60,
    TOP = 64,
    BELOW = 50,
    RIGHT = 24,
    BINS_MOST = 30,
    BINS_ROOM = 64,
    TICKS_MOST = 8
};

struct bins {
    double low, width;
    int count;
    long values[BINS_ROOM], most, beyond; /* beyond: counted in the bars at the ends */
};

static int by_value(const void *a, const void *b) {
    const double first = *(const double *)a, second = *(const double *)b;
    return (first > second) - (first < second);
}

static double median(const struct html_histogram *histogram) {
    double *sorted = calloc(histogram->count, sizeof *sorted), middle = histogram->values[0];
    if (sorted != NULL) {
        memcpy(sorted, histogram->values, histogram->count * sizeof *sorted);
        qsort(sorted, histogram->count, sizeof *sorted, by_value);
        middle = sorted[histogram->count / 2];
    }
    free(sorted);
    return middle;
}

/* One cartridge far out would make a single bar of all others: the axis ends at twice the way from the middle
 * one to the limit, on either side of both. */
static void ends(const struct html_histogram *histogram, double *low, double *high) {
    const double middle = median(histogram);
    double least = histogram->values[0], most = histogram->values[0];
    for (size_t i = 0; i < histogram->count; i++) {
        least = fmin(least, histogram->values[i]);
        most = fmax(most, histogram->values[i]);
    }
    *low = fmin(histogram->limit_low, middle);
    *high = fmax(histogram->limit_high, middle);
    const double room = *high > *low ? 2 * (*high - *low) : most - least;
    *low = fmax(fmin(*low, least), *low - room);
    *high = fmin(fmax(*high, most), *high + room);
}

/* Which interval, as a whole number of them from 0 on. What just keeps its limit stands on the good side of
 * it: of a limit from above each interval has its upper end, of one from below its lower. */
static double interval_of(const struct html_histogram *histogram, double value, double width) {
    const double at = value / width;
    return histogram->at_least ? floor(at + 1e-9) : ceil(at - 1e-9) - 1;
}

/* The limit lies in sight, at an interval's edge where that can be. */
static struct bins bins_of(const struct html_histogram *histogram) {
    double low, high;
    ends(histogram, &low, &high);
    struct bins bins = {.width = high - low < 1e-6 ? 1 : html_step(high - low, BINS_MOST)};
    const double first = interval_of(histogram, low, bins.width);
    bins.low = first * bins.width;
    bins.count = (int)(interval_of(histogram, high, bins.width) - first) + 1;
    bins.count = bins.count > BINS_ROOM ? BINS_ROOM : bins.count;
    for (size_t i = 0; i < histogram->count; i++) {
        const double at = interval_of(histogram, histogram->values[i], bins.width) - first;
        const int bin = at < 0 ? 0 : at >= bins.count ? bins.count - 1 : (int)at;
        bins.beyond += at < 0 || at >= bins.count;
        bins.values[bin]++;
        bins.most = bins.values[bin] > bins.most ? bins.values[bin] : bins.most;
    }
    return bins;
}

static void limit(FILE *stream, const struct svg_panel *panel, double at) {
    svg_line(stream, svg_x(panel, at), panel->top, svg_x(panel, at), panel->top + panel->height, "derived");
}

static void bars(FILE *stream, const struct svg_panel *panel, const struct bins *bins) {
    for (int i = 0; i < bins->count; i++) {
        const double left = bins->low + i * bins->width, top = svg_y(panel, (double)bins->values[i]);
        const double x = svg_x(panel, left) + 1, right = svg_x(panel, left + bins->width) - 1;
        if (bins->values[i] == 0) {
            continue;
        }
        svg_box(stream, x, top, right - x, panel->top + panel->height - top, "bar1");
        fprintf(stream, "<g data-n=\"%d\" data-x=\"%.9g\" data-y=\"%ld\">", i, left + bins->width / 2,
                bins->values[i]);
        svg_line(stream, x, top, right, top, "one");
        fputs("</g>\n", stream);
    }
}

static void draw(FILE *stream, const struct html_histogram *histogram, const struct bins *bins) {
    const double range = bins->count * bins->width;
    const double y_step = fmax(1, html_step((double)bins->most, 5));
    const struct svg_panel panel = {.left = LEFT,
                                    .top = TOP,
                                    .width = WIDTH - LEFT - RIGHT,
                                    .height = HEIGHT - TOP - BELOW,
                                    .x_low = bins->low,
                                    .x_high = bins->low + range,
                                    .y_low = 0,
                                    .y_high = ceil((double)bins->most / y_step) * y_step};
    svg_axes(stream, &panel, html_step(range, TICKS_MOST), y_step);
    bars(stream, &panel, bins);
    limit(stream, &panel, histogram->limit_low);
    if (histogram->limit_high > histogram->limit_low) {
        limit(stream, &panel, histogram->limit_high);
    }
    svg_line(stream, LEFT, 46, LEFT + 26, 46, "derived");
    const char *word = histogram->at_least ? "at least" : "at most";
    if (histogram->limit_high > histogram->limit_low) {
        svg_text(stream, LEFT + 34, 50, "label", SVG_START, "limits: %s %.6g to %.6g", word,
                 histogram->limit_low, histogram->limit_high);
    } else {
        svg_text(stream, LEFT + 34, 50, "label", SVG_START, "limit: %s %.6g", word, histogram->limit_low);
    }
    char beyond[80] = "";
    if (bins->beyond > 0) {
        snprintf(beyond, sizeof beyond, "; %ld beyond the axis are in the bars at its ends", bins->beyond);
    }
    svg_text(stream, LEFT, HEIGHT - 12, "soft", SVG_START, "x: %s, in steps of %.6g; y: cartridges%s",
             histogram->x_name, bins->width, beyond);
}

void html_histogram(struct html *html, const struct html_histogram *histogram) {
    const struct bins bins = bins_of(histogram);
    const int number = ++html->numbers;
    html_put(html, "<div class=s role=region tabindex=0 aria-label=\"Chart %d: ", number);
    html_say(html, "%s", histogram->title);
    html_put(html, "\">");
    svg_begin(html->stream, number, WIDTH, HEIGHT, histogram->title, histogram->of,
              "How many cartridges lie in each interval; the dashed line is the limit. The table of "
              "cartridges has the "
              "numbers.");
    draw(html->stream, histogram, &bins);
    svg_end(html->stream);
    html_put(html, "</div>\n");
}
