/* What differs from the baseline: new, gone, drifting. */
#include "report/html_inside.h"

#include <math.h>

static void change(struct html *html, const struct change *change) {
    static const char *const words[] = {"new", "gone", "more often", "less often"};
    char cells[HTML_CELLS];
    html_cells_text(change->cells, cells);
    html_put(html, "<tr data-step=%d data-change=\"%s\"><td>%s</td><th scope=row>", change->step,
             words[change->kind & 3], words[change->kind & 3]);
    if (change->step >= 0) {
        html_put(html, "step %d ", change->step);
    }
    html_name(html, change->name, "without a name");
    html_put(html, "</th><td>%s</td><td class=r>%d of %d</td><td class=r>%d of %d</td></tr>\n",
             change->step >= 0 ? cells : "", change->before_hits, change->before_runs, change->now_hits,
             change->now_runs);
}

static void changes(struct html *html, const struct differ *differ) {
    if (differ->change_count == 0) {
        html_put(html, "<p>No cell and no finding is new or gone.</p>\n");
        return;
    }
    html_table(html, "Wrong cells and findings that only one side shows, or in other shares of its runs",
               "What|Where|Cells|>Baseline, runs|>Now, runs");
    for (size_t i = 0; i < differ->change_count; i++) {
        change(html, &differ->changes[i]);
    }
    html_table_end(html);
}

static void number(struct html *html, const char *format, double value) {
    char text[32];
    if (html_known(value)) {
        snprintf(text, sizeof text, format, value);
        html_put(html, "<td class=r>%s</td>", text);
    } else {
        html_put(html, "<td class=r>\u2013</td>");
    }
}

static void side(struct html *html, double mean, double sd, int runs) {
    number(html, "%.4g", mean);
    if (runs > 1) {
        number(html, "%.2g", sd);
    } else {
        html_put(html, "<td class=r>\u2013</td>");
    }
    html_put(html, "<td class=r>%d</td>", runs);
}

static void drift(struct html *html, const struct drift *drift) {
    const struct quantity_facts *facts = &quantity_table[drift->quantity];
    html_put(html, "<tr data-step=%d data-quantity=\"%s\"><th scope=row>%s ", drift->step, facts->name,
             facts->name);
    html_name(html, drift->name, "");
    html_put(html, "</th>");
    side(html, drift->before, drift->before_sd, drift->before_runs);
    side(html, drift->now, drift->now_sd, drift->now_runs);
    number(html, "%+.4g", drift->now - drift->before);
    html_put(html, "<td class=r>%g</td>", facts->least);
    number(html, "%.2g", drift->adjusted);
    html_put(html, "<td>%s</td></tr>\n", drift->called ? drift->worse ? "drifts, worse" : "drifts" : "no");
}

#define DRIFT_COLUMNS                                                                                        \
    "Quantity|>Baseline, mean|>SD|>Runs|>Now, mean|>SD|>Runs|>Difference|>Least effect|>p, adjusted|Called"

static void drifts(struct html *html, const struct differ *differ) {
    size_t called = 0;
    for (size_t i = 0; i < differ->drift_count; i++) {
        called += differ->drifts[i].called;
    }
    if (called > 0) {
        html_table(html, "What drifts: significant, and more than its least effect", DRIFT_COLUMNS);
        for (size_t i = 0; i < differ->drift_count; i++) {
            if (differ->drifts[i].called) {
                drift(html, &differ->drifts[i]);
            }
        }
        html_table_end(html);
    } else if (differ->tested > 0) {
        html_put(html, "<p>Of %zu quantities tested none drifts.</p>\n", differ->tested);
    } else {
        html_put(html, "<p>Nothing could be tested for drift: that needs %d runs on each side.</p>\n",
                 DIFFER_RUNS);
    }
    if (differ->drift_count > called) {
        html_details(html, false, "All quantities, the most significant first");
        html_table(html, "All quantities", DRIFT_COLUMNS);
        for (size_t i = 0; i < differ->drift_count; i++) {
            drift(html, &differ->drifts[i]);
        }
        html_table_end(html);
        html_details_end(html);
    }
}

void html_differ(struct html *html, const struct differ *differ) {
    html_put(html, "<p><strong>%s</strong> against %zu run%s of the baseline, %zu now.",
             differ->regression ? "Worse" : "Not worse", differ->before_count,
             differ->before_count == 1 ? "" : "s", differ->now_count);
    if (html_known(differ->before_minutes) && html_known(differ->now_minutes)) {
        html_put(html, " Minutes since power-on, mean: %.0f then, %.0f now.", differ->before_minutes,
                 differ->now_minutes);
    }
    html_put(html, "</p>\n");
    changes(html, differ);
    drifts(html, differ);
    html_put(
        html,
        "<p class=q>Test: Welch's over runs, p adjusted by Benjamini and Hochberg over all that was tested "
        "together, rate %.2f.</p>\n",
        DIFFER_RATE);
}
