/* The page of a lot: how many passed, why the others did not, how far all of them lie from the limits. */
#include "report/html_inside.h"
#include "report/label.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FINDINGS_TEXT = 120 };

/* ---- yield ---- */

static void share(struct html *html, size_t hits, size_t tries, const struct interval *interval) {
    html_say(html, "%.1f %% (95 %%: %.1f to %.1f %%)", tries > 0 ? 100.0 * (double)hits / (double)tries : 0,
             100 * interval->low, 100 * interval->high);
}

static void yield(struct html *html, const struct lot *lot) {
    html_put(html, "<p class=\"v o\" data-tested=%zu data-passed=%zu data-failed=%zu data-first=%zu>",
             lot->tested, lot->passed, lot->tested - lot->passed, lot->first_passed);
    if (lot->tested == 0) {
        html_put(html, "No cartridge of it was tested to a verdict.</p>\n");
        return;
    }
    html_put(html, "<b>%zu of %zu cartridge%s passed</b>: a yield of ", lot->passed, lot->tested,
             lot->tested == 1 ? "" : "s");
    share(html, lot->passed, lot->tested, &lot->yield);
    html_put(html, "; at the first verdict ");
    share(html, lot->first_passed, lot->tested, &lot->first_yield);
    html_put(html, ".</p>\n");
}

static void verdicts(struct html *html, const struct lot *lot) {
    html_put(html, "<p>");
    for (int end = 0; end < RECORD_ENDS; end++) {
        html_put(html, "<span data-end=%s data-count=%zu>", record_end_name((enum record_end)end),
                 lot->by_end[end]);
        html_mark(html, html_of_end((enum record_end)end));
        html_put(html, " %zu</span>%s", lot->by_end[end], end + 1 < RECORD_ENDS ? "; " : ".");
    }
    html_put(
        html,
        " What counts of a cartridge is its last test with a verdict; bench trouble and what could not be "
        "read are none.</p>\n");
    if (lot->rehearsed > 0) {
        html_put(html,
                 "<p data-rehearsed=%zu><strong>%zu of these tests %s rehearsed on a virtual bench: %s of no "
                 "cartridge.</strong></p>\n",
                 lot->rehearsed, lot->rehearsed, lot->rehearsed == 1 ? "was" : "were",
                 lot->rehearsed == 1 ? "it tells" : "they tell");
    }
}

static void facts(struct html *html, const struct lot *lot) {
    char when[HTML_WHEN];
    int64_t first = 0, last = 0;
    for (size_t i = 0; i < lot->count; i++) {
        const int64_t at = lot->entries[i].counts->started_ms;
        first = i == 0 || at < first ? at : first;
        last = i == 0 || at > last ? at : last;
    }
    html_facts(html);
    html_fact(html, "Cartridges", "%zu", lot->count);
    html_fact(html, "Tests", "%zu", lot->tests);
    html_fact(html, "Tested again after a verdict", "%zu", lot->again);
    if (lot->count > 0) {
        html_when(first, when);
        html_fact(html, "First", "%s", when);
        html_when(last, when);
        html_fact(html, "Last", "%s", when);
    }
    html_facts_end(html);
}

/* ---- causes ---- */

static void causes(struct html *html, const struct lot *lot) {
    html_section(html, "causes", "Why cartridges failed");
    if (lot->cause_count == 0) {
        html_put(html, "<p>None failed.</p>\n");
        html_section_end(html);
        return;
    }
    html_table(
        html, "By what is named first of each, which adds up to all that failed; and by what is named at all",
        "Cause|>First named|>Named");
    for (size_t i = 0; i < lot->cause_count; i++) {
        const struct lot_cause *cause = &lot->causes[i];
        enum finding_kind kind;
        char text[LOT_CAUSE_MAX];
        snprintf(text, sizeof text, "%s", cause->name);
        if (finding_from_name(cause->name, &kind)) {
            html_kind(kind, text);
        }
        html_put(html, "<tr data-cause=\"");
        html_say(html, "%s", cause->name);
        html_put(html, "\" data-first=%zu data-any=%zu><th scope=row>", cause->first, cause->any);
        html_say(html, "%s", text);
        html_put(html, "</th><td class=r>%zu</td><td class=r>%zu</td></tr>\n", cause->first, cause->any);
    }
    html_table_end(html);
    html_section_end(html);
}

/* ---- figures ---- */

static void figure(struct html *html, const struct lot_figure *figure, const char *name) {
    char title[64], axis[96];
    if (figure->count == 0) {
        return;
    }
    snprintf(title, sizeof title, "%.40s%s%.12s", figure->name, figure->unit[0] != '\0' ? ", " : "",
             figure->unit);
    snprintf(axis, sizeof axis, "%s of each cartridge", title);
    const struct html_histogram histogram = {.title = title,
                                             .of = name,
                                             .x_name = axis,
                                             .values = figure->values,
                                             .count = figure->count,
                                             .at_least = figure->at_least,
                                             .limit_low = figure->limit_low,
                                             .limit_high = figure->limit_high};
    html_histogram(html, &histogram);
    html_put(html, "<p data-figure=\"");
    html_say(html, "%s", figure->name);
    html_put(html, "\" data-count=%zu data-beyond=%zu>%zu measured, %zu of them beyond the limit.</p>\n",
             figure->count, figure->beyond, figure->count, figure->beyond);
}

static void figures(struct html *html, const struct lot *lot, const char *name) {
    html_section(html, "figures", "Figures and limits");
    if (lot->figure_count == 0) {
        html_put(html, "<p>None was measured.</p>\n");
    }
    for (size_t i = 0; i < lot->figure_count; i++) {
        figure(html, &lot->figures[i], name);
    }
    html_section_end(html);
}

/* ---- cartridges ---- */

static void figure_cell(struct html *html, const struct ship *ship, const struct lot_figure *wanted) {
    for (size_t i = 0; i < ship->figure_count; i++) {
        const struct ship_figure *figure = &ship->figures[i];
        if (strcmp(figure->name, wanted->name) == 0 && strcmp(figure->unit, wanted->unit) == 0 &&
            figure->at_least == wanted->at_least && figure->known) {
            html_put(html, "<td class=\"r%s\">%.6g%s</td>", figure->within ? "" : " f",
                     round(figure->value * 100) / 100, figure->within ? "" : " \u2717");
            return;
        }
    }
    html_put(html, "<td class=r>\u2013</td>");
}

static void row(struct html *html, const struct lot *lot, const struct lot_entry *entry) {
    const struct ship *ship = entry->counts;
    char when[HTML_WHEN], text[FINDINGS_TEXT];
    html_when(ship->started_ms, when);
    html_put(html, "<tr data-tests=%d data-verdict=%s><th scope=row>", entry->tests,
             record_end_name(ship->end));
    html_name(html, ship->serial, "without a name");
    html_put(html, "</th><td>");
    html_mark(html, html_of_end(ship->end));
    html_put(html, "</td><td class=r>%d</td><td><span class=l>%s</span></td>", entry->tests, when);
    for (size_t i = 0; i < lot->figure_count; i++) {
        figure_cell(html, ship, &lot->figures[i]);
    }
    html_put(html, "<td class=z>");
    html_say(html, "%s",
             ship->finding_count > 0 ? label_findings(ship->findings, ship->finding_count, text, sizeof text)
                                     : ship->problem);
    html_put(html, "</td></tr>\n");
}

/* "access, ns" of each figure as a column. */
static char *columns(const struct lot *lot) {
    char *text = NULL;
    size_t size = 0;
    FILE *stream = open_memstream(&text, &size);
    if (stream == NULL) {
        return NULL;
    }
    fputs("Serial|Verdict|>Tests|Last", stream);
    for (size_t i = 0; i < lot->figure_count; i++) {
        fputs("|>", stream);
        for (const char *c = lot->figures[i].name; *c != '\0'; c++) {
            fputc(*c == '|' ? '/' : *c, stream);
        }
        fprintf(stream, "%s%.12s", lot->figures[i].unit[0] != '\0' ? ", " : "", lot->figures[i].unit);
    }
    fputs("|Findings", stream);
    return fclose(stream) == 0 ? text : NULL;
}

static void cartridges(struct html *html, const struct lot *lot) {
    html_put(html, "<section class=\"big many\" aria-labelledby=all>\n<h2 id=all>Cartridges</h2>\n");
    char *heads = columns(lot);
    if (lot->count > 0 && heads != NULL) {
        html_table(html, "Each cartridge's last test with a verdict, by serial", heads);
        for (size_t i = 0; i < lot->count; i++) {
            row(html, lot, &lot->entries[i]);
        }
        html_table_end(html);
    } else {
        html_put(html, "<p>None.</p>\n");
    }
    free(heads);
    html_section_end(html);
}

void html_lot(FILE *stream, const char *name, const struct lot *lot) {
    struct html html;
    html_begin(&html, stream, "Lot of cartridges", name[0] != '\0' ? name : "all cartridges");
    yield(&html, lot);
    verdicts(&html, lot);
    facts(&html, lot);
    html_put(&html,
             "<nav aria-label=\"On this page\"><ul><li><a href=\"#causes\">Why cartridges failed</a></li>"
             "<li><a href=\"#figures\">Figures and limits</a></li><li><a "
             "href=\"#all\">Cartridges</a></li></ul></nav>\n");
    causes(&html, lot);
    figures(&html, lot, name[0] != '\0' ? name : "all cartridges");
    cartridges(&html, lot);
    html_end_cartridge(&html);
}
