/* What a console said of the cartridge it ran from. */
#include "report/check_report.h"
#include "report/html_inside.h"

static long long number(const json_t *json, const char *key) {
    return (long long)json_integer_value(json_object_get(json, key));
}

static const char *text_of(const json_t *json, const char *key) {
    const char *text = json_string_value(json_object_get(json, key));
    return text != NULL ? text : "";
}

static void say_cell(struct html *html, const char *text) {
    html_put(html, "<td>");
    html_say(html, "%s", text);
    html_put(html, "</td>");
}

static void parts(struct html *html, const json_t *check) {
    size_t i;
    json_t *part;
    html_table(html, "What was checked, from code in the console's RAM",
               "Part|>Items|>Read in two rounds|>Wrong|What it is");
    json_array_foreach(json_object_get(check, "parts"), i, part) {
        html_put(html, "<tr data-items=%lld data-wrong=%lld><th scope=row>", number(part, "items"),
                 number(part, "wrong"));
        html_say(html, "%s", text_of(part, "part"));
        html_put(html, "</th><td class=r>%lld</td><td class=r>%lld</td><td class=r>%lld</td>",
                 number(part, "items"), number(part, "read"), number(part, "wrong"));
        say_cell(html, text_of(part, "about"));
        html_put(html, "</tr>\n");
    }
    html_table_end(html);
}

static void wrong(struct html *html, const json_t *check) {
    const json_t *list = json_object_get(check, "wrong");
    size_t i;
    json_t *item;
    if (json_array_size(list) == 0) {
        return;
    }
    html_table(html, "Items that were read wrong; the digits are those on the screen",
               "Item|What it says|>Rounds wrong|>Rounds read|>First in round|Counts");
    json_array_foreach(list, i, item) {
        html_put(html, "<tr data-bad=%lld><th scope=row>", number(item, "bad"));
        html_say(html, "%s", text_of(item, "item"));
        html_put(html, "</th>");
        say_cell(html, text_of(item, "text"));
        html_put(html, "<td class=r>%lld</td><td class=r>%lld</td><td class=r>%lld</td><td>%s</td></tr>\n",
                 number(item, "rounds_bad"), number(item, "rounds_read"), number(item, "first_bad_round"),
                 json_is_true(json_object_get(item, "confirmed")) ? "yes" : "no: read so once only");
    }
    html_table_end(html);
}

static void errors(struct html *html, const json_t *check) {
    const json_t *list = json_object_get(check, "told");
    size_t i;
    json_t *error;
    if (json_array_size(list) == 0) {
        return;
    }
    html_details(html, false, "Every error, in the order in which they came");
    html_table(html, "Errors with round and place", ">Round|Item|What it says");
    json_array_foreach(list, i, error) {
        html_put(html, "<tr data-round=%lld><td class=r>%lld</td>", number(error, "round"),
                 number(error, "round"));
        say_cell(html, text_of(error, "item"));
        say_cell(html, text_of(error, "text"));
        html_put(html, "</tr>\n");
    }
    html_table_end(html);
    if (number(check, "not_told") > 0) {
        html_put(html, "<p>%lld more were counted and not kept.</p>\n", number(check, "not_told"));
    }
    html_details_end(html);
}

static void rounds(struct html *html, const json_t *check) {
    html_facts(html);
    html_fact(html, "Scheme", "%s%s", text_of(check, "scheme"),
              json_is_true(json_object_get(check, "ram")) ? ", 128 bytes of RAM" : "");
    if (check_has_rounds(check)) {
        html_fact(html, "Rounds watched", "%lld, of which %lld had an error", number(check, "rounds"),
                  number(check, "rounds_bad"));
        html_fact(html, "The console counts", "%lld rounds and %lld errors", number(check, "rounds_told"),
                  number(check, "errors"));
    } else {
        html_fact(html, "Rounds watched", "none was seen to its end");
    }
    if (json_is_integer(json_object_get(check, "began_in_bank"))) {
        html_fact(html, "Bank that came up", "%lld", number(check, "began_in_bank"));
    }
    if (number(check, "open_inputs") > 0) {
        html_fact(html, "Told, no fault by itself",
                  "where nothing drives them the data lines did not keep what was on the bus (lines $%02llX)",
                  number(check, "open_inputs"));
    }
    if (number(check, "restarts") > 0) {
        html_fact(html, "Began anew", "%lld times while it was watched", number(check, "restarts"));
    }
    html_facts_end(html);
}

void html_plan_check(struct html *html, const struct record_run *run) {
    if (!html_has_blob(run, "cartridge")) {
        return;
    }
    json_t *check = html_blob_json(run, "cartridge");
    html_section(html, "check", "What the console says of the cartridge");
    if (check != NULL) {
        rounds(html, check);
        parts(html, check);
        wrong(html, check);
        errors(html, check);
    } else {
        html_put(html, "<p>What is kept of it cannot be shown: no JSON, or out of memory.</p>\n");
    }
    html_section_end(html);
    json_decref(check);
}
