/* The page of one cartridge's test, for its box: a sheet of A4. */
#include "plan/ship_plan.h"
#include "report/html_inside.h"

#include <math.h>
#include <string.h>

enum { FINDINGS_SHOWN = 4 }; /* so that it stays one sheet */

/* ---- the verdict ---- */

/* A limit that was not held, where nothing else is named. */
static const struct ship_figure *beyond(const struct ship *ship) {
    for (size_t i = 0; i < ship->figure_count; i++) {
        if (ship->figures[i].known && !ship->figures[i].within) {
            return &ship->figures[i];
        }
    }
    return NULL;
}

static void why_failed(struct html *html, const struct ship *ship) {
    const struct ship_figure *figure = beyond(ship);
    if (ship->finding_count > 0) {
        html_put(html, "it must not be shipped. <strong>");
        html_finding_name(html, &ship->findings[0]);
        html_put(html, "</strong>");
        if (ship->finding_count > 1) {
            html_put(html, " and %zu more finding%s", ship->finding_count - 1,
                     ship->finding_count == 2 ? "" : "s");
        }
    } else {
        html_put(html, "it must not be shipped");
    }
    if (figure != NULL) {
        char value[HTML_FIGURE], allowed[HTML_FIGURE];
        html_figure_text(figure, value);
        html_limit_text(figure, allowed);
        html_say(html, "; %s: %s, %s allowed", figure->name, value, allowed);
    }
}

static void verdict(struct html *html, const struct ship *ship) {
    const enum standing_kind kind = html_of_end(ship->end);
    html_put(html, "<p class=\"v %s\" data-ship=%lld data-verdict=%s data-attempt=%d>",
             html_marks[kind].class, (long long)ship->id, record_end_name(ship->end), ship->attempt);
    html_mark(html, kind);
    html_put(html, ": ");
    if (ship->end == RECORD_PASS) {
        html_put(html, "every test asked for passed, and every limit was kept");
    } else if (ship->end == RECORD_FAIL) {
        why_failed(html, ship);
    } else {
        html_put(html, "nothing is said about the cartridge; it counts as not tested");
    }
    html_put(html, ".</p>\n");
    if (ship->rehearsed) {
        html_put(html, "<p data-rehearsed><strong>Rehearsed on a virtual bench: no cartridge was "
                       "tested.</strong></p>\n");
    }
    if (ship->problem[0] != '\0') {
        html_put(html, "<p>It ended early: ");
        html_say(html, "%s", ship->problem);
        html_put(html, "</p>\n");
    }
}

/* ---- facts ---- */

static void facts(struct html *html, const struct ship *ship, const struct ship_plan *plan) {
    char when[HTML_WHEN];
    html_when(ship->started_ms, when);
    html_put(html, "<div class=d>");
    html_facts(html);
    html_fact(html, "Serial", "%s", ship->serial);
    html_fact(html, "Lot", "%s", ship->lot);
    if (plan != NULL) {
        html_fact(html, "Product", "%s", plan->product);
        html_fact(html, "Cartridge", "%s, %zu KiB%s", scheme_name(plan->scheme),
                  scheme_bytes(plan->scheme) / 1024, plan->ram ? ", 128 bytes of RAM" : "");
    }
    html_facts_end(html);
    html_facts(html);
    html_fact(html, "Tested", "%s", when);
    html_fact(html, "Test", "number %d of this serial", ship->attempt);
    if (ship->id > 0) {
        html_fact(html, "Record", "%lld", (long long)ship->id);
    }
    html_fact(html, "slotjig", "%s", ship->tool);
    html_facts_end(html);
    html_put(html, "</div>\n");
}

/* ---- what was tested ---- */

/* Done: as far as is known, to its end. What was lost or could not be read has not seen all that follows. */
static bool measured(const struct ship *ship, const char *name) {
    for (size_t i = 0; i < ship->figure_count; i++) {
        if (strcmp(ship->figures[i].name, name) == 0) {
            return ship->figures[i].known;
        }
    }
    return false;
}

static void way(struct html *html, const char *name, bool begun, bool done, const char *what) {
    html_put(html, "<li><strong>%s</strong>%s: ", name,
             !begun  ? ", <strong>not done</strong>"
             : !done ? ", <strong>not seen to its end</strong>"
                     : "");
    html_say(html, "%s", what);
}

static void console_way(struct html *html, const struct ship *ship, const struct ship_plan *plan) {
    way(html, "In a console", ship->console_run > 0, measured(ship, "rounds"),
        "every byte of every bank by CRC-16 and sum; every hotspot from every bank by reads, writes and "
        "indexed "
        "accesses; no switching next to a hotspot; vectors, and the start from the bank that comes up");
    html_say(
        html,
        "%s; that the bus is left alone while A12 = 0, as far as it shows from inside. At least %d rounds",
        plan->ram ? "; RAM by March C- over eight backgrounds" : "", plan->rounds);
    if (plan->soak_min > 0) {
        html_say(html, ", then %d minutes more without a rest", plan->soak_min);
    }
    html_put(html, ".</li>\n");
}

static void reader_way(struct html *html, const struct ship *ship, const struct ship_plan *plan) {
    way(html, "On a reader", ship->reader_run > 0, measured(ship, "differing readings"),
        "every byte read more than once and compared with ");
    html_say(
        html,
        "%s; for every address the time to the right data; hotspots at a console's pace; when it lets go of "
        "the bus; when it answers after power-on%s.",
        plan->image[0] != '\0' ? "the image it is sold with" : "the check's image",
        plan->ram ? "; RAM by March C- over eight backgrounds" : "");
    html_put(html, "</li>\n");
}

static void tested(struct html *html, const struct ship *ship, const struct ship_plan *plan) {
    html_section(html, "tested", "What was tested");
    if (plan == NULL) {
        html_put(html, "<p>This version does not understand the limits file of that test.</p>\n");
    } else {
        html_put(html, "<ol>\n");
        if (plan->console && !plan->reader_first) {
            console_way(html, ship, plan);
        }
        if (plan->reader) {
            reader_way(html, ship, plan);
        }
        if (plan->console && plan->reader_first) {
            console_way(html, ship, plan);
        }
        html_put(html, "</ol>\n");
    }
    html_section_end(html);
}

/* ---- figures ---- */

/* "57.5 left", "12.5 beyond". */
static void distance(struct html *html, const struct ship_figure *figure) {
    if (figure->known) {
        html_say(html, "%.6g %s", round(fabs(figure->value - figure->limit) * 100) / 100,
                 figure->within ? "left" : "beyond");
    }
}

static void held(struct html *html, const struct ship_figure *figure) {
    if (!figure->known) {
        html_put(html, "<b class=i><i aria-hidden=true>?</i> not measured</b>");
    } else if (figure->within) {
        html_put(html, "<b class=p><i aria-hidden=true>\u2713</i> kept</b>");
    } else {
        html_put(html, "<b class=f><i aria-hidden=true>\u2717</i> not kept</b>");
    }
}

static const char *about(const struct ship_figure *figure) {
    for (int i = 0; i < SHIP_LIMITS; i++) {
        if (strcmp(figure->name, ship_limit_table[i].name) == 0) {
            return ship_limit_table[i].about;
        }
    }
    return strcmp(figure->name, "rounds") == 0 ? "of the console's check, each over all of it" : "";
}

static void figure_row(struct html *html, const struct ship_figure *figure) {
    char value[HTML_FIGURE], allowed[HTML_FIGURE];
    html_figure_text(figure, value);
    html_limit_text(figure, allowed);
    html_put(html, "<tr data-within=%d data-value=\"%.9g\" data-limit=\"%.9g\"><th scope=row>",
             figure->within, figure->known ? figure->value : 0, figure->limit);
    html_say(html, "%s", figure->name);
    html_put(html, "</th><td class=r>");
    html_say(html, "%s", value);
    html_put(html, "</td><td class=r>");
    html_say(html, "%s", allowed);
    html_put(html, "</td><td class=r>");
    distance(html, figure);
    html_put(html, "</td><td>");
    held(html, figure);
    html_put(html, "</td><td>%s</td></tr>\n", about(figure));
}

static void figures(struct html *html, const struct ship *ship) {
    html_section(html, "figures", "Figures and limits");
    if (ship->figure_count > 0) {
        html_table(html, "What was measured, what is allowed, and how far it lies from the limit",
                   "Figure|>Measured|>Allowed|>From the limit|Limit|What it is");
        for (size_t i = 0; i < ship->figure_count; i++) {
            figure_row(html, &ship->figures[i]);
        }
        html_table_end(html);
    } else {
        html_put(html, "<p>None was measured.</p>\n");
    }
    html_section_end(html);
}

/* ---- findings ---- */

static void finding(struct html *html, const struct finding *finding) {
    html_put(html, "<li data-kind=\"%s\"><strong>", finding_name(finding->kind));
    html_finding_name(html, finding);
    html_put(html, "</strong>%s: ", finding->alternative ? " (or another of these)" : "");
    html_say(html, "%s", finding->text);
    html_put(html, "</li>\n");
}

static void findings(struct html *html, const struct ship *ship) {
    if (ship->finding_count == 0) {
        return;
    }
    html_section(html, "findings", "Findings");
    html_put(html, "<ol class=c>\n");
    for (size_t i = 0; i < ship->finding_count && i < FINDINGS_SHOWN; i++) {
        finding(html, &ship->findings[i]);
    }
    html_put(html, "</ol>\n");
    if (ship->finding_count > FINDINGS_SHOWN) {
        html_put(html, "<p>%zu more are in the record.</p>\n", ship->finding_count - FINDINGS_SHOWN);
    }
    html_section_end(html);
}

/* ---- what it does not say ---- */

static void not_proved(struct html *html, const struct ship_plan *plan) {
    html_section(html, "not", "What this does not prove");
    html_put(
        html,
        "<ul>\n<li>How it behaves at another supply voltage, another temperature, or in another console than "
        "the one it was tested with.</li>\n"
        "<li>How long it lasts: contacts, solder, and how long its memory keeps what is in it.</li>\n"
        "<li>That it is safe, or keeps within rules for interference: this is a test of function.</li>\n");
    if (plan != NULL && plan->console && plan->image[0] != '\0') {
        html_put(html,
                 "<li>That the program it is sold with runs: in the console it carried the check's "
                 "image%s.</li>\n",
                 plan->reader_first ? ", put on it afterwards" : "");
    }
    if (plan != NULL && !plan->reader) {
        html_put(html, "<li>How much time is left to spare: no reader was asked for.</li>\n");
    }
    if (plan != NULL && !plan->console) {
        html_put(html, "<li>That a console starts from it: no console was asked for.</li>\n");
    }
    html_put(html, "</ul>\n");
    html_section_end(html);
}

void html_ship(FILE *stream, const struct ship *ship) {
    struct html html;
    struct ship_plan plan;
    struct problem ignored;
    const bool known = ship_plan_read_text("limits", ship->limits, &plan, &ignored);
    const struct ship_plan *asked = known ? &plan : NULL;
    html_begin(&html, stream, "Test of a cartridge", ship->serial);
    html_put(&html, "<div class=sheet>\n");
    verdict(&html, ship);
    facts(&html, ship, asked);
    tested(&html, ship, asked);
    figures(&html, ship);
    findings(&html, ship);
    not_proved(&html, asked);
    html_put(&html, "</div>\n");
    html_end_cartridge(&html);
    ship_plan_free(&plan);
}
