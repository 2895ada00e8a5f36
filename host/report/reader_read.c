/* Object `reader`, read back: figures and limits as they were; the findings are the record's. */
#include "report/reader_report.h"

#include <math.h>
#include <string.h>

#define MOST 1e9 /* of any number: beyond that it is none of ours */

struct place {
    const char *where;
    struct problem *problem;
};

static bool bad(const struct place *place, const char *key, const char *wanted) {
    return problem_set(place->problem, PROBLEM_INPUT, "%s: reader: \"%s\" should be %s", place->where, key,
                       wanted);
}

static bool take_count(const struct place *place, const json_t *object, const char *key, json_int_t most,
                       json_int_t *value) {
    const json_t *number = json_object_get(object, key);
    *value = json_integer_value(number);
    return json_is_integer(number) && *value >= 0 && *value <= most
               ? true
               : bad(place, key, "a whole number that can be");
}

static bool take_real(const struct place *place, const json_t *object, const char *key, double *value) {
    const json_t *number = json_object_get(object, key);
    *value = json_number_value(number);
    return json_is_number(number) && fabs(*value) <= MOST ? true : bad(place, key, "a number that can be");
}

static bool take_flag(const struct place *place, const json_t *object, const char *key, bool *value) {
    const json_t *flag = json_object_get(object, key);
    *value = json_is_true(flag);
    return json_is_boolean(flag) ? true : bad(place, key, "true or false");
}

/* ---- head ---- */

static bool take_scheme(const struct place *place, const json_t *json, struct reader_result *result) {
    const char *name = json_string_value(json_object_get(json, "scheme"));
    return name != NULL && scheme_from_name(name, &result->scheme)
               ? true
               : bad(place, "scheme", "2K, 4K, F8, F6 or F4");
}

static bool take_verdict(const struct place *place, const json_t *json, struct reader_result *result) {
    const char *name = json_string_value(json_object_get(json, "verdict"));
    for (enum verdict verdict = VERDICT_PASS; name != NULL && verdict <= VERDICT_INCONCLUSIVE; verdict++) {
        if (strcmp(name, verdict_name(verdict)) == 0) {
            result->verdict = verdict;
            return true;
        }
    }
    return bad(place, "verdict", "pass, fail or inconclusive");
}

static bool take_head(const struct place *place, const json_t *json, struct reader_result *result) {
    json_int_t passes, differing, cycle, own, wrong;
    if (!take_scheme(place, json, result) || !take_verdict(place, json, result) ||
        !take_flag(place, json, "ram", &result->ram) ||
        !take_flag(place, json, "compared", &result->compared) ||
        !take_count(place, json, "passes", UINT32_MAX, &passes) ||
        !take_count(place, json, "differing", UINT32_MAX, &differing) ||
        !take_count(place, json, "cycle_ps", 1000000, &cycle) ||
        !take_count(place, json, "own_cycles", READER_NEVER, &own) ||
        !take_count(place, json, "wrong_bytes", (json_int_t)scheme_bytes(result->scheme), &wrong)) {
        return false;
    }
    result->passes = (uint32_t)passes;
    result->differing = (uint32_t)differing;
    result->cycle_ps = (uint32_t)cycle;
    result->own = (int)own;
    result->wrong_bytes = (uint32_t)wrong;
    return true;
}

static bool take_limits(const struct place *place, const json_t *json, struct reader_limits *limits) {
    const json_t *object = json_object_get(json, "limits");
    json_int_t differing;
    if (!take_real(place, object, "access_ns", &limits->access_ns) ||
        !take_real(place, object, "margin_ns", &limits->margin_ns) ||
        !take_real(place, object, "release_ns", &limits->release_ns) ||
        !take_real(place, object, "wake_ms", &limits->wake_ms) ||
        !take_count(place, object, "differing", UINT32_MAX, &differing)) {
        return false;
    }
    limits->differing = (uint32_t)differing;
    return true;
}

/* ---- places ---- */

static bool take_offset(const struct place *place, const json_t *object, const struct reader_result *result,
                        size_t *offset) {
    json_int_t value;
    if (!take_count(place, object, "offset", (json_int_t)scheme_bytes(result->scheme) - 1, &value)) {
        return false;
    }
    *offset = (size_t)value;
    return true;
}

static bool take_wrong(const struct place *place, const json_t *json, struct reader_result *result) {
    const json_t *list = json_object_get(json, "wrong");
    const size_t most = sizeof result->wrong / sizeof result->wrong[0];
    if (!json_is_array(list) || json_array_size(list) > most) {
        return bad(place, "wrong", "an array of at most 32 places");
    }
    for (size_t i = 0; i < json_array_size(list); i++) {
        size_t offset;
        if (!take_offset(place, json_array_get(list, i), result, &offset)) {
            return false;
        }
        result->wrong[result->wrong_shown++] = (uint32_t)offset;
    }
    return true;
}

/* ---- times ---- */

static bool take_manner(const struct place *place, const json_t *object, int *manner) {
    const char *name = json_string_value(json_object_get(object, "manner"));
    for (*manner = 0; name != NULL && *manner < READER_TIMES; (*manner)++) {
        if (strcmp(name, reader_manner_name(*manner)) == 0) {
            return true;
        }
    }
    return bad(place, "manner", "one that there is");
}

static bool take_worst(const struct place *place, const json_t *times, struct reader_result *result) {
    const json_t *list = json_object_get(times, "worst");
    if (!json_is_array(list) || json_array_size(list) > sizeof result->worst / sizeof result->worst[0]) {
        return bad(place, "worst", "an array of at most ten addresses");
    }
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *object = json_array_get(list, i);
        struct reader_address_time *worst = &result->worst[i];
        worst->never = json_is_null(json_object_get(object, "ns"));
        worst->ns = result->slowest_ns; /* beyond what can be measured: the slowest of all */
        if (!take_offset(place, object, result, &worst->offset) ||
            !take_manner(place, object, &worst->manner) ||
            (!worst->never && !take_real(place, object, "ns", &worst->ns))) {
            return false;
        }
        result->worst_count++;
    }
    return true;
}

static bool take_span(const json_t *json, struct reader_span *span) {
    uint8_t cycles[1 + READER_TIMES];
    span->known = !json_is_null(json);
    if (!span->known) {
        return true;
    }
    if (json_array_size(json) != sizeof cycles) {
        return false;
    }
    for (size_t i = 0; i < sizeof cycles; i++) {
        const json_int_t value = json_integer_value(json_array_get(json, i));
        if (value < 0 || value > READER_NEVER) {
            return false;
        }
        cycles[i] = (uint8_t)value;
    }
    span->least = cycles[0];
    memcpy(span->most, cycles + 1, sizeof span->most);
    return true;
}

static bool take_spans(const struct place *place, const json_t *times, struct reader_result *result) {
    const json_t *list = json_object_get(times, "spans");
    const size_t count = scheme_bytes(result->scheme) / READER_SPAN;
    if (json_array_size(list) != count) {
        return bad(place, "spans", "an array with one of each 16 addresses");
    }
    for (size_t i = 0; i < count; i++) {
        if (!take_span(json_array_get(list, i), &result->spans[i])) {
            return bad(place, "spans", "of four numbers of cycles each, or null");
        }
    }
    return true;
}

static bool take_times(const struct place *place, const json_t *json, struct reader_result *result) {
    const json_t *times = json_object_get(json, "times");
    json_int_t mapped, never;
    if (json_is_null(times)) {
        return true;
    }
    if (!take_count(place, times, "addresses", (json_int_t)scheme_bytes(result->scheme), &mapped) ||
        !take_count(place, times, "never", mapped, &never) ||
        !take_real(place, times, "slowest_ns", &result->slowest_ns) ||
        !take_real(place, times, "typical_ns", &result->typical_ns) ||
        !take_real(place, times, "margin_ns", &result->margin_ns) || !take_worst(place, times, result) ||
        !take_spans(place, times, result)) {
        return false;
    }
    result->mapped = (uint32_t)mapped;
    result->never = (uint32_t)never;
    return true;
}

static bool take_figure(const struct place *place, const json_t *json, const char *name, const char *key,
                        bool *known, bool *never, double *value) {
    const json_t *object = json_object_get(json, name);
    *known = json_is_object(object);
    *never = json_is_null(json_object_get(object, key));
    *value = 0;
    return (!*known && json_is_null(object)) || *never || take_real(place, object, key, value);
}

bool reader_from_json(const json_t *json, const char *where, struct reader_result *result,
                      struct reader_limits *limits, struct problem *problem) {
    const struct place place = {where, problem};
    memset(result, 0, sizeof *result);
    return take_head(&place, json, result) && take_limits(&place, json, limits) &&
           take_wrong(&place, json, result) && take_times(&place, json, result) &&
           take_figure(&place, json, "release", "ns", &result->release_known, &result->release_never,
                       &result->release_ns) &&
           take_figure(&place, json, "wake", "ms", &result->wake_known, &result->wake_never,
                       &result->wake_ms);
}
