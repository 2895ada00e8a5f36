#include "base/date.h"
#include "base/utf8.h"
#include "commands/ship.h"
#include "report/label.h"
#include "report/table.h"

#include <inttypes.h>
#include <stdlib.h>

static void say(FILE *stream, const char *text) {
    char *clean = utf8_copy(text);
    fputs(clean != NULL ? clean : "", stream);
    free(clean);
}

static void tell_figures(FILE *stream, const struct ship *ship) {
    static const char *const heads[] = {"figure", ">measured", ">allowed", "held", NULL};
    struct table table;
    if (ship->figure_count == 0) {
        return;
    }
    table_begin(&table, heads);
    for (size_t i = 0; i < ship->figure_count; i++) {
        const struct ship_figure *figure = &ship->figures[i];
        table_add(&table, "%s", figure->name);
        if (figure->known) {
            table_add(&table, "%.6g %s", figure->value, figure->unit);
        } else {
            table_add(&table, "not measured");
        }
        table_add(&table, "%s %.6g %s", figure->at_least ? "at least" : "at most", figure->limit,
                  figure->unit);
        table_add(&table, "%s", !figure->known ? "?" : figure->within ? "yes" : "NO");
    }
    table_end(&table, stream);
}

void ship_tell(FILE *stream, const struct ship *ship) {
    tell_figures(stream, ship);
    for (size_t i = 0; i < ship->finding_count; i++) {
        char label[LABEL_MAX];
        fprintf(stream, "%s%s: ", label_joint(ship->findings, i), label_finding(&ship->findings[i], label));
        say(stream, ship->findings[i].text);
        fputs("\n", stream);
        if (ship->findings[i].next[0] != '\0') {
            fputs("    next: ", stream);
            say(stream, ship->findings[i].next);
            fputs("\n", stream);
        }
    }
    if (ship->problem[0] != '\0') {
        fputs("ended early: ", stream);
        say(stream, ship->problem);
        fputs("\n", stream);
    }
    fprintf(stream,
            "%s: ", ship->end == RECORD_TROUBLE ? "bench trouble, not tested" : record_end_name(ship->end));
    say(stream, ship->serial);
    if (ship->lot[0] != '\0') {
        fputs(", lot ", stream);
        say(stream, ship->lot);
    }
    if (ship->id > 0) {
        fprintf(stream, "; test %d of this serial, recorded as %" PRId64, ship->attempt, ship->id);
    }
    fputs(ship->rehearsed ? "\nrehearsed on a virtual bench: no cartridge was tested\n" : "\n", stream);
}

void ship_tell_earlier(FILE *stream, const struct ship_list *list) {
    static const char *const heads[] = {">test",         "serial",  "lot",      ">attempt",
                                        "started (UTC)", "verdict", "findings", NULL};
    struct table table;
    table_begin(&table, heads);
    for (size_t i = 0; i < list->count; i++) {
        const struct ship *ship = list->ships[i];
        char when[DATE_TEXT_MAX], text[80];
        table_add(&table, "%" PRId64, ship->id);
        table_add(&table, "%s", ship->serial);
        table_add(&table, "%s", ship->lot);
        table_add(&table, "%d", ship->attempt);
        table_add(&table, "%s", date_text(ship->started_ms, DATE_MINUTE, when));
        table_add(&table, "%s%s", record_end_name(ship->end), ship->rehearsed ? " (rehearsed)" : "");
        table_add(&table, "%s",
                  ship->finding_count > 0 && (ship->end != RECORD_TROUBLE || ship->problem[0] == '\0')
                      ? label_findings(ship->findings, ship->finding_count, text, sizeof text)
                      : ship->problem);
    }
    table_end(&table, stream);
}
