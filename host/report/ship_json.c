#include "report/ship_json.h"

#include "base/date.h"
#include "report/json.h"

#include <math.h>

static json_t *when_json(int64_t ms) {
    char text[DATE_TEXT_MAX];
    return json_string(date_text(ms, DATE_WHOLE, text));
}

static json_t *text_or_null(const char *text) {
    return text[0] != '\0' ? json_text(text) : json_null();
}

static json_t *number_or_null(int64_t number) {
    return number != 0 ? json_integer((json_int_t)number) : json_null();
}

static json_t *figure_json(const struct ship_figure *figure) {
    return json_pack("{s:o,s:o,s:o,s:f,s:s,s:b}", "name", json_text(figure->name), "unit",
                     text_or_null(figure->unit), "value",
                     figure->known ? json_real(figure->value) : json_null(), "limit", figure->limit, "is",
                     figure->at_least ? "least" : "most", "within", (int)figure->within);
}

json_t *ship_json(const struct ship *ship) {
    json_t *figures = json_array();
    for (size_t i = 0; i < ship->figure_count; i++) {
        json_array_append_new(figures, figure_json(&ship->figures[i]));
    }
    return json_pack("{s:o,s:o,s:o,s:i,s:o,s:s,s:b,s:o,s:o,s:o,s:o,s:o,s:o,s:o}", "id",
                     number_or_null(ship->id), "serial", json_text(ship->serial), "lot",
                     text_or_null(ship->lot), "attempt", ship->attempt, "started",
                     when_json(ship->started_ms), "verdict", record_end_name(ship->end), "rehearsed",
                     (int)ship->rehearsed, "problem", text_or_null(ship->problem), "console_run",
                     number_or_null(ship->console_run), "reader_run", number_or_null(ship->reader_run),
                     "figures", figures, "findings", json_findings(ship->findings, ship->finding_count),
                     "limits", json_text(ship->limits), "tool", text_or_null(ship->tool));
}

json_t *ship_list_json(const struct ship_list *list) {
    json_t *json = json_array();
    for (size_t i = 0; i < list->count; i++) {
        json_array_append_new(json, ship_json(list->ships[i]));
    }
    return json;
}

/* ---- a lot ---- */

static json_t *share_json(size_t hits, size_t tries, const struct interval *interval) {
    return json_pack("{s:I,s:I,s:o,s:[f,f]}", "passed", (json_int_t)hits, "of", (json_int_t)tries, "share",
                     tries > 0 ? json_real((double)hits / (double)tries) : json_null(), "share_95",
                     interval->low, interval->high);
}

static json_t *ends_json(const struct lot *lot) {
    json_t *json = json_object();
    for (int end = 0; end < RECORD_ENDS; end++) {
        json_object_set_new(json, record_end_name((enum record_end)end),
                            json_integer((json_int_t)lot->by_end[end]));
    }
    return json;
}

static json_t *causes_json(const struct lot *lot) {
    json_t *json = json_array();
    for (size_t i = 0; i < lot->cause_count; i++) {
        const struct lot_cause *cause = &lot->causes[i];
        json_array_append_new(json, json_pack("{s:o,s:I,s:I}", "cause", json_text(cause->name), "first",
                                              (json_int_t)cause->first, "any", (json_int_t)cause->any));
    }
    return json;
}

static json_t *figures_json(const struct lot *lot) {
    json_t *json = json_array();
    for (size_t i = 0; i < lot->figure_count; i++) {
        const struct lot_figure *figure = &lot->figures[i];
        json_t *values = json_array();
        for (size_t k = 0; k < figure->count; k++) {
            json_array_append_new(values, json_real(figure->values[k]));
        }
        json_array_append_new(json, json_pack("{s:o,s:o,s:s,s:[f,f],s:I,s:o}", "name",
                                              json_text(figure->name), "unit", text_or_null(figure->unit),
                                              "is", figure->at_least ? "least" : "most", "limits",
                                              figure->limit_low, figure->limit_high, "beyond",
                                              (json_int_t)figure->beyond, "values", values));
    }
    return json;
}

static json_t *cartridges_json(const struct lot *lot) {
    json_t *json = json_array();
    for (size_t i = 0; i < lot->count; i++) {
        const struct lot_entry *entry = &lot->entries[i];
        json_t *one = ship_json(entry->counts);
        json_object_del(one, "limits"); /* most often the same of all */
        json_object_set_new(one, "tests", json_integer(entry->tests));
        json_object_set_new(one, "first_verdict",
                            entry->first != NULL ? json_string(record_end_name(entry->first->end))
                                                 : json_null());
        json_array_append_new(json, one);
    }
    return json;
}

json_t *lot_json(const char *name, const struct lot *lot) {
    return json_pack("{s:o,s:I,s:I,s:I,s:I,s:o,s:o,s:o,s:o,s:o,s:o}", "lot", text_or_null(name), "tests",
                     (json_int_t)lot->tests, "rehearsed", (json_int_t)lot->rehearsed, "cartridges",
                     (json_int_t)lot->count, "tested_again", (json_int_t)lot->again, "verdicts",
                     ends_json(lot), "yield", share_json(lot->passed, lot->tested, &lot->yield),
                     "first_yield", share_json(lot->first_passed, lot->tested, &lot->first_yield), "causes",
                     causes_json(lot), "figures", figures_json(lot), "each", cartridges_json(lot));
}
