/* Rows of 40 cells, expected above seen. What differs has a shape as well as a colour: a missing cell a
 * cross, a surplus one a box, an unclear one a bar. */
#include "report/html_inside.h"

enum { SIDE = 12, MIDDLE = 4, SEEN_TOP = 16, HEIGHT = 28, WIDTH = CELLS * SIDE + MIDDLE };

static int left_of(int cell) {
    return cell * SIDE + (cell >= CELLS / 2 ? MIDDLE : 0);
}

void html_cells_begin(struct html *html) {
    html_put(html, "<svg class=n width=0 height=0 aria-hidden=true focusable=false><path id=g d=\"");
    for (int row = 0; row < 2; row++) {
        for (int half = 0; half < 2; half++) {
            const int x = left_of(half * CELLS / 2), y = row * SEEN_TOP;
            html_put(html, "M%d %dh240v12h-240z", x, y);
            for (int cell = 1; cell < CELLS / 2; cell++) {
                html_put(html, "m12 0v12m0 -12");
            }
        }
    }
    html_put(html, "\"/></svg>\n");
}

/* Boxes filled, a run of cells at a time, none over the middle. */
static void fill(struct html *html, uint64_t cells, int y) {
    for (int cell = 0; cell < CELLS; cell++) {
        if (!(cells >> cell & 1)) {
            continue;
        }
        const int first = cell, end = cell < CELLS / 2 ? CELLS / 2 : CELLS;
        while (cell + 1 < end && (cells >> (cell + 1) & 1)) {
            cell++;
        }
        const int width = (cell - first + 1) * SIDE - 2;
        html_put(html, "M%d %dh%dv10h-%dz", left_of(first) + 1, y + 1, width, width);
    }
}

static void each(struct html *html, uint64_t cells, int y, int dx, int dy, const char *shape) {
    for (int cell = 0; cell < CELLS; cell++) {
        if (cells >> cell & 1) {
            html_put(html, "M%d %d%s", left_of(cell) + dx, y + dy, shape);
        }
    }
}

static void draw(struct html *html, const char *class, uint64_t cells, int dx, int dy, const char *shape) {
    if (cells != 0) {
        html_put(html, "<path class=%s d=\"", class);
        each(html, cells, SEEN_TOP, dx, dy, shape);
        html_put(html, "\"/>");
    }
}

uint64_t html_missing(const struct step_result *step) {
    return step->fields > 0 ? step->expected & ~step->seen & step->sure & ~step->unclear & CELLS_ALL : 0;
}

uint64_t html_surplus(const struct step_result *step) {
    return step->fields > 0 ? ~step->expected & step->seen & step->sure & ~step->unclear & CELLS_ALL : 0;
}

static void label(struct html *html, const struct step_result *step) {
    char expected[HTML_CELLS], seen[HTML_CELLS];
    html_cells_text(step->expected & step->sure, expected);
    html_cells_text(step->seen & ~step->unclear, seen);
    html_say(html, "lit cells expected: %s; seen: %s", expected, step->fields > 0 ? seen : "no field");
}

void html_cells(struct html *html, const struct step_result *step) {
    const uint64_t seen = step->fields > 0 ? step->seen & ~step->unclear & CELLS_ALL : 0;
    const uint64_t unclear = step->fields > 0 ? step->unclear & CELLS_ALL : 0;
    const uint64_t missing = html_missing(step), surplus = html_surplus(step);
    html_put(html, "<svg class=k viewBox=\"-1 -1 %d %d\" role=img aria-label=\"", WIDTH + 2, HEIGHT + 2);
    label(html, step);
    html_put(html, "\"><path d=\"");
    fill(html, step->expected & step->sure & CELLS_ALL, 0);
    fill(html, seen & ~surplus, SEEN_TOP);
    each(html, ~step->sure & CELLS_ALL, 0, 2, 5, "h8v2h-8z");
    html_put(html, "\"/><use href=\"#g\"/>");
    draw(html, "x", missing, 2, 2, "l8 8m0 -8l-8 8");
    draw(html, "y", surplus, 1, 1, "h10v10h-10zm3 3v4h4v-4z");
    draw(html, "z", unclear, 6, 1, "v10");
    html_put(html, "</svg>");
}

void html_differs(struct html *html, const struct step_result *step) {
    const uint64_t cells[] = {html_missing(step), html_surplus(step),
                              step->fields > 0 ? step->unclear & CELLS_ALL : 0};
    static const char *const names[] = {"missing", "surplus", "unclear"};
    bool said = false;
    for (int i = 0; i < 3; i++) {
        char text[HTML_CELLS];
        if (cells[i] != 0) {
            html_cells_text(cells[i], text);
            html_say(html, "%s%s %s", said ? "; " : "", names[i], text);
            said = true;
        }
    }
    if (!said) {
        html_say(html, "%s", step->fields > 0 ? "none" : "no field");
    }
}

void html_cells_key(struct html *html) {
    const struct step_result step = {.fields = 1,
                                     .expected = 0x1E,
                                     .sure = CELLS_ALL & ~(UINT64_C(1) << 12),
                                     .seen = 0xD6,
                                     .unclear = UINT64_C(1) << 10};
    html_put(html, "<p class=key>Expected above, seen below; 40 cells, the left half and the right. ");
    html_cells(html, &step);
    html_put(html,
             " Here cells 1\u20134 should be lit: cell 3 is missing (a cross), 6 and 7 are surplus (boxes), "
             "10 is unclear (a bar); of cell 12 nothing is promised (a dash above).</p>\n");
}
