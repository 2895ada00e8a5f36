/* A result of plan `colours`, read back. */
#include "report/palette_report.h"

#include <math.h>
#include <string.h>

#define MOST 1e6 /* of any number: beyond that it is none of ours */
enum { FIELDS_MOST = 1000000000 };

struct place {
    const char *where, *list;
    size_t at;
    struct problem *problem;
};

static bool bad(const struct place *place, const char *key, const char *wanted) {
    return problem_set(place->problem, PROBLEM_INPUT, "%s: %s %zu: \"%s\" should be %s", place->where,
                       place->list, place->at, key, wanted);
}

static bool take_integer(const struct place *place, const json_t *object, const char *key, int most,
                         int *value) {
    const json_t *number = json_object_get(object, key);
    const json_int_t integer = json_integer_value(number);
    if (!json_is_integer(number) || integer < 0 || integer > most) {
        char wanted[48];
        snprintf(wanted, sizeof wanted, "a whole number from 0 to %d", most);
        return bad(place, key, wanted);
    }
    *value = (int)integer;
    return true;
}

/* null: *known is false and the value 0. */
static bool take_number(const struct place *place, const json_t *object, const char *key, bool *known,
                        double *value) {
    const json_t *number = json_object_get(object, key);
    const double real = json_number_value(number);
    *known = json_is_number(number);
    if (!*known && !json_is_null(number)) {
        return bad(place, key, "a number or null");
    }
    if (fabs(real) > MOST) {
        return bad(place, key, "a number that can be");
    }
    *value = real;
    return true;
}

static bool take_flag(const struct place *place, const json_t *object, const char *key, bool *value) {
    const json_t *flag = json_object_get(object, key);
    if (!json_is_boolean(flag) && !json_is_null(flag)) {
        return bad(place, key, "true or false");
    }
    *value = json_is_true(flag);
    return true;
}

static bool take_register(const struct place *place, const json_t *object, int *reg) {
    const char *name = json_string_value(json_object_get(object, "register"));
    for (*reg = 0; name != NULL && *reg < PALETTE_REGISTERS; (*reg)++) {
        if (strcmp(name, palette_register_name(*reg)) == 0) {
            return true;
        }
    }
    return bad(place, "register", "COLUBK or COLUPF");
}

static bool take_colour(const struct place *place, const json_t *object, struct palette *palette) {
    struct palette_colour colour = {.fields = 0};
    int reg = 0, code = 0;
    bool level = false, known = false, hue = false;
    if (!take_register(place, object, &reg) ||
        !take_integer(place, object, "code", 2 * COLOUR_CODES - 1, &code) ||
        !take_integer(place, object, "fields", FIELDS_MOST, &colour.fields) ||
        !take_number(place, object, "level", &level, &colour.level) ||
        !take_number(place, object, "level_spread", &known, &colour.level_spread) ||
        !take_number(place, object, "cb", &known, &colour.cb) ||
        !take_number(place, object, "cr", &known, &colour.cr) ||
        !take_number(place, object, "saturation", &known, &colour.saturation) ||
        !take_number(place, object, "hue", &hue, &colour.hue) ||
        !take_number(place, object, "hue_spread", &known, &colour.hue_spread) ||
        !take_flag(place, object, "clipped", &colour.clipped) ||
        !take_flag(place, object, "white_clipped", &colour.white_clipped)) {
        return false;
    }
    if ((code & 1) != 0 || palette->colour[reg][code / 2].fields > 0) {
        return bad(place, "code", "even, and there once");
    }
    if (level != (colour.fields > 0)) {
        return bad(place, "level", "a number where fields were judged, else null");
    }
    if (colour.saturation < 0 || colour.level_spread < 0 || colour.hue_spread < 0) {
        return bad(place, "saturation\", \"level_spread\", \"hue_spread", "0 or more");
    }
    palette->has_chroma |= hue;
    palette->colour[reg][code / 2] = colour;
    return true;
}

static bool take_hue(const struct place *place, const json_t *object, struct palette *palette) {
    struct palette_hue hue = {.known = false};
    int reg = 0, number = 0;
    bool known = false;
    if (!take_register(place, object, &reg) ||
        !take_integer(place, object, "hue", COLOUR_HUES - 1, &number) ||
        !take_number(place, object, "degrees", &known, &hue.hue) ||
        !take_number(place, object, "spread", &known, &hue.hue_spread) ||
        !take_number(place, object, "to_next", &known, &hue.to_next) ||
        !take_number(place, object, "saturation", &known, &hue.saturation) ||
        !take_number(place, object, "offset", &known, &hue.offset) ||
        !take_number(place, object, "nonlinearity", &known, &hue.nonlinearity) ||
        !take_number(place, object, "slope", &hue.known, &hue.slope) ||
        !take_flag(place, object, "ordered", &hue.ordered)) {
        return false;
    }
    palette->hue[reg][number] = hue;
    return true;
}

static bool take_list(const json_t *result, const char *where, const char *key, size_t wanted,
                      bool (*take)(const struct place *, const json_t *, struct palette *),
                      struct palette *palette, struct problem *problem) {
    const json_t *list = json_object_get(result, key);
    struct place place = {.where = where, .list = key, .problem = problem};
    if (!json_is_array(list) || json_array_size(list) != wanted) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s: no result of plan colours: \"%s\" should be a list of %zu; `slotjig run --plan "
            "colours --json FILE` makes one",
            where, key, wanted);
    }
    for (place.at = 0; place.at < wanted; place.at++) {
        if (!take(&place, json_array_get(list, place.at), palette)) {
            return false;
        }
    }
    return true;
}

bool palette_from_json(const json_t *result, const char *where, struct palette *palette,
                       struct problem *problem) {
    memset(palette, 0, sizeof *palette);
    return take_list(result, where, "colours", (size_t)PALETTE_REGISTERS * COLOUR_CODES, take_colour, palette,
                     problem) &&
           take_list(result, where, "hues", (size_t)PALETTE_REGISTERS * COLOUR_HUES, take_hue, palette,
                     problem);
}
