#include "report/result_file.h"

#include "report/json.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* One byte more than is let through tells that there are more. */
static bool read_all(FILE *file, const char *path, char **bytes, size_t *size, struct problem *problem) {
    const size_t most = (size_t)RESULT_FILE_MOST + 1;
    size_t room = 0;
    *bytes = NULL;
    *size = 0;
    while (*size == room && room < most) {
        room = room == 0 ? 65536 : 2 * room < most ? 2 * room : most;
        char *larger = realloc(*bytes, room);
        if (larger == NULL) {
            return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
        }
        *bytes = larger;
        *size += fread(*bytes + *size, 1, room - *size, file);
    }
    if (ferror(file)) {
        return problem_set(problem, PROBLEM_INPUT, "%s: %s", path, strerror(errno));
    }
    if (*size == most) {
        return problem_set(problem, PROBLEM_INPUT, "%s: more than %d MiB: no result of ours", path,
                           RESULT_FILE_MOST >> 20);
    }
    return true;
}

static bool parse(const char *bytes, size_t size, const char *path, json_t **result,
                  struct problem *problem) {
    json_error_t error;
    char why[JSON_ERROR_TEXT_LENGTH];
    *result = json_loadb(bytes, size, JSON_REJECT_DUPLICATES, &error);
    if (*result == NULL) {
        json_clean(error.text, why, sizeof why);
        return problem_set(problem, PROBLEM_INPUT, "%s:%d: no JSON, or cut off: %s", path, error.line, why);
    }
    if (!json_is_object(*result)) {
        json_decref(*result);
        *result = NULL;
        return problem_set(problem, PROBLEM_INPUT, "%s: no result: the JSON is no object", path);
    }
    return true;
}

bool result_file_read(const char *path, json_t **result, struct problem *problem) {
    char *bytes = NULL;
    size_t size = 0;
    *result = NULL;
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: %s; give a result that `slotjig run --json FILE` wrote", path,
                           strerror(errno));
    }
    const bool good =
        read_all(file, path, &bytes, &size, problem) && parse(bytes, size, path, result, problem);
    fclose(file);
    free(bytes);
    return good;
}

bool result_file_plan(const json_t *result, const char *path, const char **plan, enum standard *standard,
                      struct problem *problem) {
    *plan = json_string_value(json_object_get(result, "plan"));
    const char *name = json_string_value(json_object_get(result, "standard"));
    if (*plan == NULL || name == NULL || !standard_from_name(name, standard)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: no result of `slotjig run` or `slotjig judge`: it names no plan and standard",
                           path);
    }
    return true;
}
