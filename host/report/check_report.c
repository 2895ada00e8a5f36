#include "report/check_report.h"

#include <string.h>

enum { ERRORS_SHOWN = 12 };

/* Groups of items. */
static const struct part {
    const char *name, *about;
    enum check_kind kind;
} parts[] = {{"pages", "every byte: CRC-16 and sum of each page", CHECK_PAGE},
             {"hotspots", "each from every bank, in four manners", CHECK_HOTSPOT},
             {"neighbours", "addresses that must not switch", CHECK_NEIGHBOUR},
             {"vectors", "in every bank, and a start from it", CHECK_VECTORS},
             {"ram", "March C-, eight backgrounds", CHECK_RAM},
             {"quiet", "off the bus while A12 = 0", CHECK_QUIET}};

/* ---- JSON ---- */

static json_t *digits_json(struct check_item item) {
    char digits[8];
    snprintf(digits, sizeof digits, "%05X", check_pack(item));
    return json_string(digits);
}

static json_t *item_json(const struct check_seen *seen, struct check_item item) {
    char words[200];
    check_words(seen->check, item, words, sizeof words);
    return json_pack("{s:o,s:s,s:i,s:i,s:s}", "item", digits_json(item), "kind", check_kind_name(item.kind),
                     "place", (int)item.place, "what", (int)item.what, "text", words);
}

static json_t *part_json(const struct check_seen *seen, const struct part *part) {
    int items = 0, read = 0, wrong = 0, once = 0;
    for (size_t i = 0; i < seen->item_count; i++) {
        const struct check_item_seen *item = &seen->items[i];
        if (item->item.kind == part->kind) {
            items++;
            read += item->rounds_read >= CHECK_ROUNDS_LEAST;
            wrong += item->confirmed;
            once += item->bad > 0 && !item->confirmed;
        }
    }
    return items == 0 ? NULL
                      : json_pack("{s:s,s:s,s:i,s:i,s:i,s:i}", "part", part->name, "about", part->about,
                                  "items", items, "read", read, "wrong", wrong, "once", once);
}

static json_t *parts_json(const struct check_seen *seen) {
    json_t *list = json_array();
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        json_t *json = part_json(seen, &parts[i]);
        if (json != NULL) {
            json_array_append_new(list, json);
        }
    }
    return list;
}

static json_t *wrong_json(const struct check_seen *seen) {
    json_t *list = json_array();
    for (size_t i = 0; i < seen->item_count; i++) {
        const struct check_item_seen *item = &seen->items[i];
        if (item->bad == 0) {
            continue;
        }
        json_t *json = item_json(seen, item->item);
        json_object_update_new(json, json_pack("{s:I,s:I,s:I,s:I,s:I,s:b,s:b}", "good",
                                               (json_int_t)item->good, "bad", (json_int_t)item->bad,
                                               "rounds_read", (json_int_t)item->rounds_read, "rounds_bad",
                                               (json_int_t)item->rounds_bad, "first_bad_round",
                                               (json_int_t)(item->first_bad_round & INT32_MAX), "confirmed",
                                               (int)item->confirmed, "steady", (int)item->steady));
        json_array_append_new(list, json);
    }
    return list;
}

static json_t *number_or_null(int number) {
    return number >= 0 ? json_integer(number) : json_null();
}

static json_t *pages_json(const struct check_seen *seen) {
    json_t *list = json_array();
    for (int page = 0; page < SCHEME_PAGES_MAX; page++) {
        const struct page_seen *of = &seen->pages[page];
        if (of->known) {
            json_array_append_new(
                list, json_pack("{s:i,s:i,s:i,s:o,s:o,s:i,s:b}", "page", page, "crc", (int)of->crc, "sum",
                                (int)of->sum, "shows_page", number_or_null(of->shows), "wrong_byte",
                                number_or_null(of->place), "flipped", of->place >= 0 ? (int)of->flipped : 0,
                                "unsteady", (int)of->unsteady));
        }
    }
    return list;
}

static json_t *ram_json(const struct check_seen *seen) {
    if (seen->ram_cell < 0 || seen->ram_background < 0) {
        return json_null();
    }
    return json_pack("{s:i,s:i,s:i,s:i,s:I}", "cell", seen->ram_cell, "background",
                     (int)check_backgrounds[seen->ram_background & 7], "element", seen->ram_element,
                     "flipped", (int)seen->ram_flipped, "wrong_reads", (json_int_t)seen->ram_wrong);
}

static json_t *errors_json(const struct check_seen *seen) {
    json_t *list = json_array();
    for (size_t i = 0; i < seen->error_count; i++) {
        json_t *json = item_json(seen, seen->error[i].item);
        json_object_set_new(json, "round", json_integer(seen->error[i].round & INT32_MAX));
        json_array_append_new(list, json);
    }
    return list;
}

/* What is told and no fault by itself. */
static json_t *open_inputs_json(const struct check_seen *seen) {
    for (size_t i = 0; i < seen->item_count; i++) {
        const struct check_item_seen *item = &seen->items[i];
        if (item->item.kind == CHECK_QUIET && item->item.place == CHECK_QUIET_OPEN && item->rounds_read > 0) {
            return json_integer(item->item.what);
        }
    }
    return json_null();
}

static json_t *banks_json(uint8_t banks) {
    json_t *list = json_array();
    for (int bank = 0; bank < 8; bank++) {
        if (banks >> bank & 1) {
            json_array_append_new(list, json_integer(bank));
        }
    }
    return list;
}

json_t *check_json(const struct check_seen *seen) {
    json_t *json =
        json_pack("{s:s,s:b,s:I,s:I,s:I,s:I,s:I,s:I,s:I}", "scheme", scheme_name(seen->check->scheme), "ram",
                  (int)seen->check->ram, "items", (json_int_t)seen->item_count, "rounds",
                  (json_int_t)seen->rounds_watched, "rounds_read_whole", (json_int_t)seen->rounds_seen,
                  "rounds_bad", (json_int_t)seen->rounds_bad, "rounds_told", (json_int_t)seen->rounds,
                  "errors", (json_int_t)seen->errors, "restarts", (json_int_t)seen->restarts);
    json_object_update_new(
        json, json_pack("{s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:I}", "open_inputs", open_inputs_json(seen),
                        "began_in_bank", number_or_null(seen->started_in), "banks_begun_in",
                        banks_json(seen->banks_up), "parts", parts_json(seen), "wrong", wrong_json(seen),
                        "pages", pages_json(seen), "ram_error", ram_json(seen), "told", errors_json(seen),
                        "not_told", (json_int_t)seen->errors_left_out));
    return json;
}

/* ---- text ---- */

static long long number(const json_t *json, const char *key) {
    return (long long)json_integer_value(json_object_get(json, key));
}

static const char *text_of(const json_t *json, const char *key) {
    const char *text = json_string_value(json_object_get(json, key));
    return text != NULL ? text : "";
}

static void print_parts(FILE *stream, const json_t *check) {
    size_t i;
    json_t *part;
    fprintf(stream, "\n  %-12s %6s %6s %6s  %s\n", "part", "items", "read", "wrong", "what it is");
    json_array_foreach(json_object_get(check, "parts"), i, part) {
        fprintf(stream, "  %-12s %6lld %6lld %6lld  %s", text_of(part, "part"), number(part, "items"),
                number(part, "read"), number(part, "wrong"), text_of(part, "about"));
        if (number(part, "once") > 0) {
            fprintf(stream, " (%lld read wrong once, not counted)", number(part, "once"));
        }
        fputc('\n', stream);
    }
}

static void print_errors(FILE *stream, const json_t *check) {
    const json_t *list = json_object_get(check, "told");
    const size_t count = json_array_size(list);
    if (count == 0) {
        return;
    }
    fprintf(stream, "\n  errors as they came: round, item on the screen, what it says\n");
    for (size_t i = 0; i < count && i < ERRORS_SHOWN; i++) {
        const json_t *error = json_array_get(list, i);
        fprintf(stream, "  %6lld  %s  %s\n", number(error, "round"), text_of(error, "item"),
                text_of(error, "text"));
    }
    const long long more =
        (long long)(count > ERRORS_SHOWN ? count - ERRORS_SHOWN : 0) + number(check, "not_told");
    if (more > 0) {
        fprintf(stream, "  and %lld more%s\n", more,
                count > ERRORS_SHOWN ? "; --json FILE has those that were kept" : "");
    }
}

bool check_has_rounds(const json_t *check) {
    return number(check, "rounds") > 0 || number(check, "rounds_told") > 0 || number(check, "errors") > 0;
}

static void print_rounds(FILE *stream, const json_t *check) {
    fprintf(stream, "\n  cartridge %s%s: ", text_of(check, "scheme"),
            json_is_true(json_object_get(check, "ram")) ? " with RAM" : "");
    if (check_has_rounds(check)) {
        fprintf(stream,
                "%lld rounds watched, in %lld of them something was wrong; the console counts %lld rounds "
                "and %lld errors\n",
                number(check, "rounds"), number(check, "rounds_bad"), number(check, "rounds_told"),
                number(check, "errors"));
    } else {
        fprintf(stream, "no round was seen to its end\n");
    }
}

void check_terminal(FILE *stream, const json_t *check) {
    print_rounds(stream, check);
    if (json_is_integer(json_object_get(check, "began_in_bank"))) {
        fprintf(stream, "  the console began in bank %lld\n", number(check, "began_in_bank"));
    }
    print_parts(stream, check);
    if (number(check, "open_inputs") > 0) {
        fprintf(
            stream,
            "\n  told, no fault by itself: where nothing drives them the data lines did not keep what was on "
            "the bus (lines $%02llX).\n  Some consoles do so; a cartridge that holds them high does so too. "
            "A reader tells.\n",
            number(check, "open_inputs"));
    }
    print_errors(stream, check);
}
