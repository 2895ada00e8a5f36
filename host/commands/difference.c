#include "commands/difference.h"

#include "report/chart.h"
#include "report/json.h"
#include "report/result_file.h"
#include "report/text_file.h"

#include <stdlib.h>
#include <string.h>

static const char *plan_of(const struct measured *measured) {
    return measured->kind == PLAN_COLOURS ? "colours" : "moments";
}

static bool read_palette(const json_t *result, const char *path, struct measured *measured,
                         struct problem *problem) {
    struct palette *palette = calloc(1, sizeof *palette);
    if (palette == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
    }
    measured->kind = PLAN_COLOURS;
    measured->owned = palette;
    measured->palette = palette;
    return palette_from_json(result, path, palette, problem);
}

static bool read_moments(const json_t *result, const char *path, struct measured *measured,
                         struct problem *problem) {
    struct moments *moments = calloc(1, sizeof *moments);
    if (moments == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
    }
    measured->kind = PLAN_MOMENTS;
    measured->owned = moments;
    measured->moments = moments;
    return moments_from_json(result, path, measured->standard, moments, problem);
}

static bool read_result(const json_t *result, const char *path, struct measured *measured,
                        struct problem *problem) {
    const char *plan;
    if (!result_file_plan(result, path, &plan, &measured->standard, problem)) {
        return false;
    }
    if (strcmp(plan, "colours") == 0) {
        return read_palette(result, path, measured, problem);
    }
    if (strcmp(plan, "moments") == 0) {
        return read_moments(result, path, measured, problem);
    }
    char clean[64];
    json_clean(plan, clean, sizeof clean);
    return problem_set(
        problem, PROBLEM_INPUT,
        "%s: a result of plan %s: only those of plans moments and colours are measurements that "
        "can be held against each other",
        path, clean);
}

bool measured_read(const char *path, struct measured *measured, struct problem *problem) {
    json_t *result = NULL;
    *measured = (struct measured){.kind = PLAN_STEPS};
    const bool good =
        result_file_read(path, &result, problem) && read_result(result, path, measured, problem);
    json_decref(result);
    if (!good) {
        measured_free(measured);
    }
    return good;
}

void measured_free(struct measured *measured) {
    free(measured->owned);
    *measured = (struct measured){.kind = PLAN_STEPS};
}

static bool is_of_moments(const struct difference *difference) {
    return difference->sides[0]->kind == PLAN_MOMENTS;
}

static struct moments_pair pair_of(const struct difference *difference) {
    return (struct moments_pair){difference->sides[0]->moments, difference->sides[1]->moments,
                                 &difference->moments};
}

bool difference_make(const struct measured *first, const char *first_name, const struct measured *second,
                     const char *second_name, struct difference *difference, struct problem *problem) {
    if (first->kind != second->kind) {
        return problem_set(problem, PROBLEM_INPUT, "%s is of plan %s and %s of plan %s: give two of one plan",
                           first_name, plan_of(first), second_name, plan_of(second));
    }
    if (first->standard != second->standard) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s is of a %s console and %s of a %s one: give two of one standard", first_name,
                           standard_table[first->standard].name, second_name,
                           standard_table[second->standard].name);
    }
    *difference = (struct difference){.names = {first_name, second_name}, .sides = {first, second}};
    if (is_of_moments(difference)) {
        const struct moments_difference *found = &difference->moments;
        moments_differ(first->moments, second->moments, &difference->moments);
        difference->differing = found->delays + found->windows + found->moments;
        difference->compared = found->compared;
    } else {
        palette_differ(first->palette, second->palette, &difference->palette);
        difference->differing = difference->palette.differing;
        difference->compared = difference->palette.compared;
    }
    return true;
}

const char *difference_plan(const struct difference *difference) {
    return plan_of(difference->sides[0]);
}

void difference_text(FILE *stream, const struct difference *difference) {
    fprintf(stream, "plan %s, %s: %s (first) against %s (second)\n", difference_plan(difference),
            standard_table[difference->sides[0]->standard].name, difference->names[0], difference->names[1]);
    if (is_of_moments(difference)) {
        const struct moments_pair pair = pair_of(difference);
        moments_difference_text(stream, &pair);
    } else {
        palette_difference_text(stream, &difference->palette);
    }
}

json_t *difference_json(const struct difference *difference) {
    const struct moments_pair pair = pair_of(difference);
    return is_of_moments(difference) ? moments_difference_json(&pair)
                                     : palette_difference_json(&difference->palette);
}

static void write_text(FILE *stream, const void *difference) {
    difference_text(stream, difference);
}

static void write_csv(FILE *stream, const void *what) {
    const struct difference *difference = what;
    if (is_of_moments(difference)) {
        const struct moments_pair pair = pair_of(difference);
        moments_difference_csv(stream, &pair);
    } else {
        palette_difference_csv(stream, &difference->palette);
    }
}

/* The end of a long path: the beginnings of two are more often alike. */
static const char *end_of(const char *path, char *text, size_t size) {
    enum { LONGEST = 50 };
    json_clean(path, text, size);
    const size_t length = strlen(text);
    const char *end = length > LONGEST ? text + length - LONGEST : text;
    while (((unsigned char)*end & 0xC0) == 0x80) { /* within a character */
        end++;
    }
    return end;
}

static void write_chart(FILE *stream, const void *what) {
    const struct difference *difference = what;
    char of[160], first[512], second[512];
    snprintf(of, sizeof of, "first: %.50s; second: %.50s", end_of(difference->names[0], first, sizeof first),
             end_of(difference->names[1], second, sizeof second));
    if (is_of_moments(difference)) {
        chart_moments_difference(stream, difference->sides[0]->moments, difference->sides[1]->moments, of);
    } else {
        chart_colours_difference(stream, difference->sides[0]->palette, difference->sides[1]->palette, of);
    }
}

bool difference_write(const struct difference *difference, const char *folder, struct problem *problem) {
    return text_file(folder, "difference.txt", write_text, difference, problem) &&
           text_file(folder, "difference.csv", write_csv, difference, problem) &&
           text_file(folder, "difference.svg", write_chart, difference, problem);
}
