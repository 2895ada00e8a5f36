/* What was found in a sweep, and on which consoles. */
#include "report/html_matrix.h"

#include <stdlib.h>

struct cause {
    const struct finding *finding; /* the first of its kind, register and bit */
    const struct record_run *run;
    bool capture; /* trouble of the capture chain */
    size_t runs, consoles;
    bool *on; /* consoles */
};

struct causes {
    size_t count, room, console_count;
    struct cause *list;
};

static struct cause *cause_of(struct causes *causes, const struct finding *finding) {
    for (size_t i = 0; i < causes->count; i++) {
        const struct finding *known = causes->list[i].finding;
        if (known->kind == finding->kind && known->reg == finding->reg && known->bit == finding->bit) {
            return &causes->list[i];
        }
    }
    if (causes->count == causes->room) {
        const size_t room = causes->room > 0 ? 2 * causes->room : 16;
        struct cause *list = realloc(causes->list, room * sizeof *list);
        if (list == NULL) {
            return NULL;
        }
        causes->list = list;
        causes->room = room;
    }
    bool *on = calloc(causes->console_count + 1, sizeof *on);
    if (on == NULL) {
        return NULL;
    }
    causes->list[causes->count] = (struct cause){.finding = finding, .on = on};
    return &causes->list[causes->count++];
}

static void collect(struct causes *causes, const struct record_run *run, size_t console) {
    for (size_t i = 0; i < run->finding_count + run->trouble_count; i++) {
        const struct finding *finding =
            i < run->finding_count ? &run->findings[i] : &run->troubles[i - run->finding_count];
        struct cause *cause = cause_of(causes, finding);
        if (cause != NULL && cause->run != run) {
            cause->run = run;
            cause->capture = i >= run->finding_count;
            cause->runs++;
            cause->consoles += !cause->on[console];
            cause->on[console] = true;
        }
    }
}

static int by_consoles(const void *a, const void *b) {
    const struct cause *first = a, *second = b;
    if (first->capture != second->capture) {
        return first->capture ? 1 : -1;
    }
    return first->consoles != second->consoles ? (first->consoles < second->consoles ? 1 : -1)
                                               : (first->runs < second->runs) - (first->runs > second->runs);
}

static void cause_row(struct html *html, const struct shelf *shelf, const struct cause *cause) {
    const struct finding *finding = cause->finding;
    bool said = false;
    html_put(html, "<tr data-kind=%s><th scope=row>", finding_name(finding->kind));
    html_finding_name(html, finding);
    html_put(html, "%s</th><td class=r>%zu</td><td>",
             cause->capture ? "<br><span class=q>capture, not console</span>" : "", cause->runs);
    for (size_t console = 0; console < shelf->console_count; console++) {
        if (cause->on[console]) {
            html_put(html, "%s", said ? ", " : "");
            html_numbered(html, shelf, console);
            said = true;
        }
    }
    html_put(html, "</td><td class=z>");
    html_say(html, "%s", finding->text);
    html_put(html, "</td><td class=z>");
    html_say(html, "%s", finding->next);
    html_put(html, "</td></tr>\n");
}

void html_shelf_findings(struct html *html, const struct shelf *shelf) {
    struct causes causes = {.console_count = shelf->console_count};
    html_section(html, "findings", "Findings");
    for (size_t i = 0; i < shelf->plan_count * shelf->console_count; i++) {
        const struct suite *suite = shelf->places[i].suite;
        for (size_t j = 0; j < suite->run_count; j++) {
            collect(&causes, &suite->runs[j], i % shelf->console_count);
        }
    }
    if (causes.count > 0) {
        qsort(causes.list, causes.count, sizeof *causes.list, by_consoles);
        html_table(html,
                   "What was found, on which consoles (by number and name); in the words of the first run "
                   "that found it",
                   "Finding|>Runs|Consoles|What was seen|What to try");
        for (size_t i = 0; i < causes.count; i++) {
            cause_row(html, shelf, &causes.list[i]);
        }
        html_table_end(html);
    } else {
        html_put(html, "<p>None.</p>\n");
    }
    html_section_end(html);
    for (size_t i = 0; i < causes.count; i++) {
        free(causes.list[i].on);
    }
    free(causes.list);
}
