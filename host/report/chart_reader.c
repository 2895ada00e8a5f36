/* A reader's times: for each bank nanoseconds against the address, as a band from the fastest to the slowest
 * of 16 addresses, with the limit and the worst ten. */
#include "report/chart.h"
#include "report/reader_report.h"
#include "report/svg.h"

#include <math.h>

enum {
    WIDTH = 1000,
    LEFT = 64,
    RIGHT = 24,
    GAP = 56,
    TOP = 112,
    BELOW = 66,
    TALL = 300, /* of one bank */
    SMALL = 150
};

struct drawn {
    const struct reader_result *result;
    const struct reader_limits *limits;
    int banks, columns, rows;
    double width, height, high; /* of a panel; of its axis */
};

static double ns_of(const struct reader_result *result, uint8_t cycles) {
    const int steps = cycles - result->own;
    return steps > 0 ? steps * (double)result->cycle_ps / 1000 : 0;
}

static double limit_of(const struct reader_limits *limits) {
    return limits->access_ns - limits->margin_ns;
}

static struct svg_panel panel_of(const struct drawn *drawn, int bank) {
    const size_t bytes = scheme_bank_bytes(drawn->result->scheme);
    const int row = bank / drawn->columns, column = bank % drawn->columns;
    return (struct svg_panel){.left = LEFT + column * (drawn->width + GAP),
                              .top = TOP + row * (drawn->height + GAP),
                              .width = drawn->width,
                              .height = drawn->height,
                              .x_low = 0x2000 - (double)bytes,
                              .x_high = 0x2000,
                              .y_low = 0,
                              .y_high = drawn->high};
}

/* ---- axes ---- */

static void addresses(FILE *stream, const struct svg_panel *panel) {
    const int ticks = panel->width > WIDTH / 2.0 ? 8 : 4;
    const double step = (panel->x_high - panel->x_low) / ticks, bottom = panel->top + panel->height;
    for (int tick = 0; tick <= ticks; tick++) {
        const bool last = tick == ticks;
        const double address = panel->x_low + tick * step, x = svg_x(panel, address);
        svg_line(stream, x, panel->top, x, bottom, "grid");
        svg_text(stream, x, bottom + 14, "small", last ? SVG_END : SVG_MIDDLE, "$%04X",
                 (unsigned)(last ? address - 1 : address));
    }
}

static void limit_line(FILE *stream, const struct svg_panel *panel, double ns) {
    if (ns > panel->y_low && ns < panel->y_high) {
        svg_line(stream, panel->left, svg_y(panel, ns), panel->left + panel->width, svg_y(panel, ns),
                 "derived");
    }
}

/* ---- the band ---- */

static uint8_t slowest_of(const struct reader_span *span) {
    uint8_t most = 0;
    for (int i = 0; i < READER_TIMES; i++) {
        most = span->most[i] > most ? span->most[i] : most;
    }
    return most;
}

static double height_at(const struct svg_panel *panel, double ns) {
    return svg_y(panel, fmin(ns, panel->y_high));
}

/* Along the slowest from left to right, and back along the fastest; spans next to each other in one piece. */
static size_t piece(FILE *stream, const struct drawn *drawn, const struct svg_panel *panel,
                    const struct reader_span *spans, size_t first, size_t count) {
    size_t end = first;
    fputs("<path class=\"bar1\" d=\"", stream);
    for (; end < count && spans[end].known; end++) {
        const double y = height_at(panel, ns_of(drawn->result, slowest_of(&spans[end])));
        const double x = panel->x_low + (double)(end * READER_SPAN);
        fprintf(stream, "%c%.1f %.1fH%.1f", end == first ? 'M' : 'L', svg_x(panel, x), y,
                svg_x(panel, x + READER_SPAN));
    }
    for (size_t i = end; i-- > first;) {
        const double y = height_at(panel, ns_of(drawn->result, spans[i].least));
        const double x = panel->x_low + (double)(i * READER_SPAN);
        fprintf(stream, "L%.1f %.1fH%.1f", svg_x(panel, x + READER_SPAN), y, svg_x(panel, x));
    }
    fputs("Z\"/>\n", stream);
    return end;
}

static void band(FILE *stream, const struct drawn *drawn, const struct svg_panel *panel, int bank) {
    const size_t count = scheme_bank_bytes(drawn->result->scheme) / READER_SPAN;
    const struct reader_span *spans = &drawn->result->spans[(size_t)bank * count];
    for (size_t i = 0; i < count;) {
        i = spans[i].known ? piece(stream, drawn, panel, spans, i, count) : i + 1;
    }
}

static void worst(FILE *stream, const struct drawn *drawn, const struct svg_panel *panel, int bank) {
    const struct reader_result *result = drawn->result;
    for (size_t i = 0; i < result->worst_count; i++) {
        int of;
        const uint16_t address = scheme_address(result->scheme, result->worst[i].offset, &of);
        if (of == bank) {
            fprintf(stream, "<g data-x=\"%u\" data-y=\"%.6g\">", address, result->worst[i].ns);
            svg_mark(stream, SVG_DIAMOND, svg_x(panel, address + 0.5), height_at(panel, result->worst[i].ns),
                     4, "two");
            fputs("</g>\n", stream);
        }
    }
}

static void draw_bank(FILE *stream, const struct drawn *drawn, int bank) {
    const struct svg_panel panel = panel_of(drawn, bank);
    svg_axes(stream, &panel, 0, 100);
    addresses(stream, &panel);
    band(stream, drawn, &panel, bank);
    limit_line(stream, &panel, limit_of(drawn->limits));
    worst(stream, drawn, &panel, bank);
    if (drawn->banks > 1) {
        svg_text(stream, panel.left, panel.top - 6, "head", SVG_START, "bank %d", bank);
    }
}

/* ---- the whole ---- */

static double highest(const struct reader_result *result, const struct reader_limits *limits) {
    const double most = fmax(result->slowest_ns, limit_of(limits));
    return fmax(100, ceil((most + 20) / 100) * 100);
}

static struct drawn layout(const struct reader_result *result, const struct reader_limits *limits) {
    struct drawn drawn = {.result = result, .limits = limits, .banks = scheme_banks(result->scheme)};
    drawn.columns = drawn.banks > 1 ? 2 : 1;
    drawn.rows = (drawn.banks + drawn.columns - 1) / drawn.columns;
    drawn.width = (double)(WIDTH - LEFT - RIGHT - (drawn.columns - 1) * GAP) / drawn.columns;
    drawn.height = drawn.banks > 2 ? SMALL : TALL;
    drawn.high = highest(result, limits);
    return drawn;
}

static void legend(FILE *stream, const struct drawn *drawn) {
    const double y = 54;
    svg_box(stream, LEFT, y - 10, 14, 10, "bar1");
    svg_text(stream, LEFT + 22, y, "label", SVG_START, "measured: fastest to slowest of 16 addresses");
    svg_mark(stream, SVG_DIAMOND, LEFT + 316, y - 4, 4, "two");
    svg_text(stream, LEFT + 328, y, "label", SVG_START, "the ten slowest");
    svg_line(stream, LEFT + 448, y - 4, LEFT + 474, y - 4, "derived");
    svg_text(stream, LEFT + 482, y, "label", SVG_START, "derived: allowed are %.0f ns",
             limit_of(drawn->limits));
    svg_text(stream, LEFT, y + 22, "soft", SVG_START,
             "y: time from address to right data in ns, the board's own cycles taken off, its buffers not");
}

void chart_reader(FILE *stream, int number, const struct reader_result *result,
                  const struct reader_limits *limits, const char *of) {
    const struct drawn drawn = layout(result, limits);
    const double height = TOP + drawn.rows * drawn.height + (drawn.rows - 1) * GAP + BELOW;
    svg_begin(
        stream, number, WIDTH, height, "Access time by address, measured", of,
        "For each bank the time from address to right data against the address, as a band from the fastest "
        "to the slowest of sixteen addresses next to each other and of three manners of changing the "
        "address. A dashed line is what is allowed, diamonds are the ten slowest. The same numbers stand "
        "in reader.csv, in a page in its table.");
    legend(stream, &drawn);
    for (int bank = 0; bank < drawn.banks; bank++) {
        draw_bank(stream, &drawn, bank);
    }
    svg_text(stream, LEFT, height - 18, "soft", SVG_START,
             "slowest %.0f ns, typical %.0f ns, margin %.0f ns%s", result->slowest_ns, result->typical_ns,
             result->margin_ns, result->never > 0 ? "; some not within what can be measured" : "");
    svg_end(stream);
}
