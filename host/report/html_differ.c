/* What differs from the baseline: new, gone, drifting. */
#include "report/differ_report.h"
#include "report/html_inside.h"

#include <math.h>

enum { CHANGE_KINDS = CHANGE_LESS + 1 };
static const char *const change_words[CHANGE_KINDS] = {"new", "gone", "more often", "less often"};

/* "bit stuck low PF1 D3" */
static void put_name(struct html *html, const struct change *change) {
    char name[sizeof change->name];
    snprintf(name, sizeof name, "%s", change->name);
    for (char *c = name; change->step < 0 && *c != '\0'; c++) {
        *c = *c == '_' ? ' ' : *c;
    }
    html_name(html, name, "without a name");
}

static void change(struct html *html, const struct change *change) {
    char cells[HTML_CELLS];
    html_cells_text(change->cells, cells);
    html_put(html, "<tr data-step=%d data-change=\"%s\"><td>%s%s</td><th scope=row>", change->step,
             change_words[change->kind], change_words[change->kind],
             !change->known      ? ""
             : change->step >= 0 ? ", as in other steps before"
                                 : ", beside one that was there before");
    if (change->step >= 0) {
        html_put(html, "step %d ", change->step);
    }
    put_name(html, change);
    html_put(html, "</th><td>%s</td><td class=r>%d of %d</td><td class=r>%d of %d</td></tr>\n",
             change->step >= 0 ? cells : "", change->before_hits, change->before_runs, change->now_hits,
             change->now_runs);
}

/* ---- new and gone ---- */

enum { LONG_LIST = 12 }; /* longer ones are folded away */

static size_t count_changes(const struct differ *differ, bool steps, enum change_kind kind) {
    size_t count = 0;
    for (size_t i = 0; i < differ->change_count; i++) {
        count += differ->changes[i].kind == kind && (differ->changes[i].step >= 0) == steps;
    }
    return count;
}

/* "2 findings and 44 steps are new" for each kind that there is. */
static void sum_up(struct html *html, const struct differ *differ) {
    html_put(html, "<p>");
    for (int kind = 0; kind < CHANGE_KINDS; kind++) {
        const size_t findings = count_changes(differ, false, (enum change_kind)kind),
                     steps = count_changes(differ, true, (enum change_kind)kind);
        if (findings + steps > 0) {
            html_put(html, "%zu finding%s and wrong cells of %zu step%s: %s. ", findings,
                     findings == 1 ? "" : "s", steps, steps == 1 ? "" : "s", change_words[kind]);
        }
    }
    html_put(html, "</p>\n");
}

static void change_table(struct html *html, const struct differ *differ, bool steps) {
    html_table(html,
               steps ? "Wrong cells that only one side shows, or in other shares of its runs"
                     : "Findings that only one side has, or in other shares of its runs",
               "What|Where|Cells|>Baseline, runs|>Now, runs");
    for (size_t i = 0; i < differ->change_count; i++) {
        if ((differ->changes[i].step >= 0) == steps) {
            change(html, &differ->changes[i]);
        }
    }
    html_table_end(html);
}

static void changes(struct html *html, const struct differ *differ) {
    size_t steps = 0;
    for (int kind = 0; kind < CHANGE_KINDS; kind++) {
        steps += count_changes(differ, true, (enum change_kind)kind);
    }
    if (differ->change_count == 0) {
        html_put(html, "<p>No cell and no finding is new or gone.</p>\n");
        return;
    }
    sum_up(html, differ);
    if (differ->change_count > steps) {
        change_table(html, differ, false);
    }
    if (steps > 0) {
        html_details(html, steps <= LONG_LIST, "Steps that are new or gone");
        change_table(html, differ, true);
        html_details_end(html);
    }
}

/* ---- drifting ---- */

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
    side(html, differ_shown(drift->quantity, drift->before), drift->before_sd, drift->before_runs);
    side(html, differ_shown(drift->quantity, drift->now), drift->now_sd, drift->now_runs);
    number(html, "%+.4g", drift->now - drift->before);
    html_put(html, "<td class=r>%g</td>", facts->least);
    number(html, "%.2g", drift->adjusted);
    html_put(html, "<td>%s</td></tr>\n",
             drift->worse           ? "drifts, worse"
             : drift->perhaps_bench ? "drifts, perhaps the bench's"
             : drift->called        ? "drifts"
                                    : "no");
}

#define DRIFT_COLUMNS                                                                                        \
    "Quantity|>Baseline, mean|>SD|>Runs|>Now, mean|>SD|>Runs|>Difference|>Least effect|>p, adjusted|Called"

static void drifts(struct html *html, const struct differ *differ) {
    size_t called = 0;
    for (size_t i = 0; i < differ->drift_count; i++) {
        called += differ->drifts[i].called;
    }
    if (called > 0) {
        char summary[96];
        snprintf(summary, sizeof summary, "%zu of %zu quantities drift", called, differ->tested);
        html_details(html, called <= LONG_LIST, summary);
        html_table(html, "What drifts: significant, and more than its least effect", DRIFT_COLUMNS);
        for (size_t i = 0; i < differ->drift_count; i++) {
            if (differ->drifts[i].called) {
                drift(html, &differ->drifts[i]);
            }
        }
        html_table_end(html);
        html_details_end(html);
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

/* What is different about the circumstances, and may be all that is. */
static void circumstances(struct html *html, const struct differ *differ) {
    if (differ->other_bench) {
        html_put(
            html,
            " Made on another bench, or with other trouble of its video: what drifts may be the bench's.");
    } else if (differ->other_noise) {
        html_put(html, " The video's noise is another one: margins move with it.");
    }
    if (differ_turned(differ)) {
        html_put(html, " All hues turned by %+.1f degrees: that may be the grabber's tint.",
                 differ->hue_turn);
    }
    if (differ->warm_up) {
        html_put(html, " Colours and delays also move while a console warms up.");
    }
}

void html_differ(struct html *html, const struct differ *differ) {
    static const char *const words[] = {
        [DIFFER_NOT_WORSE] = "Not worse", [DIFFER_WORSE] = "Worse", [DIFFER_NOT_KNOWN] = "Not known"};
    html_put(html, "<p><strong>%s</strong> against %zu run%s of the baseline, %zu now.",
             words[differ_verdict(differ)], differ->before_count, differ->before_count == 1 ? "" : "s",
             differ->now_count);
    if (html_known(differ->before_minutes) && html_known(differ->now_minutes)) {
        html_put(html, " Minutes since power-on, mean: %.0f then, %.0f now.", differ->before_minutes,
                 differ->now_minutes);
    }
    circumstances(html, differ);
    html_put(html, "</p>\n");
    changes(html, differ);
    drifts(html, differ);
    html_put(html,
             "<p class=q>Test: Welch's and Student's over runs, the less sure of the two, p adjusted by "
             "Benjamini and Hochberg over all that was tested "
             "together, rate %.2f.</p>\n",
             DIFFER_RATE);
}
