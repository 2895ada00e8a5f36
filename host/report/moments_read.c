/* A result of plan `moments`, read back. Anything may stand in a file. */
#include "report/moments_report.h"
#include "report/moments_words.h"

#include <string.h>

enum { FIELDS_MOST = 1000000000 };

struct place {
    const char *where, *list;
    size_t at;
    struct problem *problem;
};

static bool bad(const struct place *place, const char *key, const char *wanted) {
    return problem_set(place->problem, PROBLEM_INPUT, "%.200s: `%s`, entry %zu: \"%s\" should be %s",
                       place->where, place->list, place->at + 1, key, wanted);
}

static bool take_word(const struct place *place, const json_t *object, const char *key,
                      const char *const names[2], int *which) {
    const char *text = json_string_value(json_object_get(object, key));
    for (*which = 0; text != NULL && *which < 2; (*which)++) {
        if (strcmp(text, names[*which]) == 0) {
            return true;
        }
    }
    char wanted[64];
    snprintf(wanted, sizeof wanted, "%s or %s", names[0], names[1]);
    return bad(place, key, wanted);
}

static bool take_register(const struct place *place, const json_t *object, enum moment_register *reg) {
    const char *name = json_string_value(json_object_get(object, "register"));
    return (name != NULL && moment_from_name(name, reg)) || bad(place, "register", "a register of this plan");
}

static bool take_half(const struct place *place, const char *key, const json_t *entry, double spread,
                      struct half_seen *half) {
    *half = (struct half_seen){.state = HALF_NOT_SEEN};
    if (json_is_number(entry)) {
        *half = (struct half_seen){HALF_CHANGES, json_number_value(entry), spread};
        return (half->clock >= BLANK_CLOCKS && half->clock <= LINE_CLOCKS) ||
               bad(place, key, "a list of clocks of the picture, 68 to 228");
    }
    const char *text = json_string_value(entry);
    for (int state = HALF_OLD; text != NULL && state < HALF_STATES; state++) {
        if (state != HALF_CHANGES && strcmp(text, moments_state_names[state]) == 0) {
            half->state = (enum half_state)state;
            return true;
        }
    }
    return json_is_null(entry) || bad(place, key, "a list of clocks, \"old\", \"new\", \"mixed\" or null");
}

static bool take_series(const struct place *place, const json_t *object, int half, double spread,
                        struct moment_seen *seen, int edge) {
    const char *key = moments_half_names[half];
    const json_t *list = json_object_get(object, key);
    if (!json_is_array(list) || json_array_size(list) != LINE_CYCLES) {
        return bad(place, key, "a list of 76, one a cycle");
    }
    for (size_t cycle = 0; cycle < LINE_CYCLES; cycle++) {
        if (!take_half(place, key, json_array_get(list, cycle), spread, &seen[cycle].half[edge][half])) {
            return false;
        }
    }
    return true;
}

static bool take_moments(const struct place *place, const json_t *object, struct moments *moments) {
    enum moment_register reg = MOMENT_PF0;
    int mode, edge;
    const json_t *fields = json_object_get(object, "fields");
    const json_t *spread = json_object_get(object, "spread");
    if (!take_register(place, object, &reg) || !take_word(place, object, "mode", moments_mode_names, &mode) ||
        !take_word(place, object, "edge", moments_edge_names, &edge)) {
        return false;
    }
    if (!json_is_integer(fields) || json_integer_value(fields) < 0 ||
        json_integer_value(fields) > FIELDS_MOST) {
        return bad(place, "fields", "a whole number");
    }
    if (!json_is_number(spread) ||
        !(json_number_value(spread) >= 0 && json_number_value(spread) <= LINE_CLOCKS)) {
        return bad(place, "spread", "a number of clocks");
    }
    struct moment_seen *seen = &moments->seen[moment_value(&(struct moment){reg, mode != 0, 0})];
    for (int cycle = 0; cycle < LINE_CYCLES; cycle++) {
        seen[cycle].fields = (int)json_integer_value(fields);
    }
    return take_series(place, object, HALF_LEFT, json_number_value(spread), seen, edge) &&
           take_series(place, object, HALF_RIGHT, json_number_value(spread), seen, edge);
}

/* What the run itself did not believe is not believed either. */
static bool take_delay(const struct place *place, const json_t *object, struct moments *moments) {
    enum moment_register reg = MOMENT_PF0;
    const json_t *phase = json_object_get(object, "phase");
    const json_t *clocks = json_object_get(object, "clocks");
    if (!take_register(place, object, &reg)) {
        return false;
    }
    if (!json_is_integer(phase) || json_integer_value(phase) < 0 ||
        json_integer_value(phase) >= MOMENT_PHASES) {
        return bad(place, "phase", "0, 1, 2 or 3");
    }
    if (!json_is_number(clocks) && !json_is_null(clocks)) {
        return bad(place, "clocks", "a number or null");
    }
    struct moment_delay *delay = &moments->delay[reg][json_integer_value(phase)];
    delay->known = delay->known && json_is_number(clocks);
    return true;
}

static bool each(const json_t *result, const char *where, const char *list,
                 bool (*take)(const struct place *place, const json_t *object, struct moments *moments),
                 struct moments *moments, struct problem *problem) {
    const json_t *entries = json_object_get(result, list);
    struct place place = {where, list, 0, problem};
    if (!json_is_array(entries) || json_array_size(entries) == 0) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%.200s: there is no list `%s` in it; give a result that `slotjig run --plan moments "
            "--json FILE` wrote",
            where, list);
    }
    for (; place.at < json_array_size(entries); place.at++) {
        if (!take(&place, json_array_get(entries, place.at), moments)) {
            return false;
        }
    }
    return true;
}

bool moments_from_json(const json_t *result, const char *where, enum standard standard,
                       struct moments *moments, struct problem *problem) {
    memset(moments, 0, sizeof *moments);
    moments->standard = standard;
    if (!each(result, where, "moments", take_moments, moments, problem)) {
        return false;
    }
    moments_conclude(moments);
    return each(result, where, "delays", take_delay, moments, problem);
}
