#include "plan/windows.h"

#include "expect/expect.h"

#include <errno.h>
#include <jansson.h>
#include <stdio.h>
#include <string.h>

enum { CYCLE_CLOCKS = 3, CELL_NONE = CELLS };

/* Cells of one half that a register draws: first and last; CELL_NONE: it draws none there. */
struct span {
    int first, last;
};

static struct span span_of(enum moment_register reg, bool mirror, int half) {
    static const enum reg of[] = {REG_PF0, REG_PF1, REG_PF2};
    struct span span = {CELL_NONE, -1};
    if (reg == MOMENT_REFLECT && half == HALF_LEFT) {
        return span;
    }
    for (int i = 0; i < CELLS / 2; i++) {
        const int cell = half == HALF_LEFT ? i : mirror ? CELLS - 1 - i : CELLS / 2 + i;
        if (reg > MOMENT_PF2 || expect_serial[i].reg == of[reg]) {
            span.first = cell < span.first ? cell : span.first;
            span.last = cell > span.last ? cell : span.last;
        }
    }
    return span;
}

static int left_edge(int cell) {
    return BLANK_CLOCKS + CELL_CLOCKS * cell;
}

static int divide_down(int clocks, int by) {
    return clocks >= 0 ? clocks / by : -((-clocks + by - 1) / by);
}

/* How near a store may come: the first clock after a cell's left edge and the last one before another's. */
struct distance {
    int after, before;
};

/* Stores after everything in `old` and before everything in `new`, which comes `later` clocks after it. */
static struct write_window between(struct span old, struct span new, int later, struct distance distance) {
    struct write_window window = {.open = false};
    const int from = left_edge(old.last) - later + distance.after;
    const int to = left_edge(new.first) - distance.before;
    window.first = -divide_down(-from, CYCLE_CLOCKS);
    window.last = divide_down(to, CYCLE_CLOCKS);
    window.exists = window.first <= window.last;
    return window;
}

/* What has drawn its last cell at the end of the line before is free from this line's first cycle on. */
static struct write_window window_of(enum moment_register reg, bool mirror, int half,
                                     struct distance distance) {
    const struct span left = span_of(reg, mirror, HALF_LEFT), right = span_of(reg, mirror, HALF_RIGHT);
    struct write_window window;
    if (half == HALF_RIGHT && left.first != CELL_NONE) {
        return between(left, right, 0, distance);
    }
    window = between(right, left.first == CELL_NONE ? right : left, LINE_CLOCKS, distance);
    if (right.last == CELLS - 1) {
        window.first = 0;
        window.exists = window.last >= 0;
    }
    return window;
}

static void fill(struct write_windows *windows, const char *source, struct distance distance) {
    memset(windows, 0, sizeof *windows);
    snprintf(windows->source, sizeof windows->source, "%s", source);
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        for (int mirror = 0; mirror < MOMENT_MODES; mirror++) {
            for (int half = 0; half < HALVES; half++) {
                windows->window[reg][mirror][half] =
                    window_of((enum moment_register)reg, mirror != 0, half, distance);
            }
        }
    }
}

void windows_arithmetic(struct write_windows *windows) {
    const struct distance distance = {.after = CELL_CLOCKS, .before = 0};
    fill(windows, "arithmetic", distance);
}

/* expect/ leaves cells open whose clocks come within its guards of the store. */
void windows_handbook(struct write_windows *windows) {
    const struct distance distance = {.after = EXPECT_GUARD_BEFORE + CELL_CLOCKS,
                                      .before = EXPECT_GUARD_AFTER + 1};
    fill(windows, "handbook", distance);
}

/* ---- a console's own ---- */

static bool refuse(const char *path, struct problem *problem, const char *what) {
    return problem_set(problem, PROBLEM_INPUT,
                       "%.200s: %s; give a result that `slotjig run --plan moments --json FILE` wrote", path,
                       what);
}

static bool is_word(json_t *value, const char *first, const char *second, int *which) {
    const char *text = json_string_value(value);
    *which = text != NULL && strcmp(text, second) == 0;
    return text != NULL && (strcmp(text, first) == 0 || *which != 0);
}

static bool is_cycle(json_t *value) {
    return json_is_integer(value) && json_integer_value(value) > -LINE_CYCLES &&
           json_integer_value(value) < LINE_CYCLES;
}

static bool read_one(json_t *entry, struct write_windows *windows,
                     bool seen[MOMENT_REGISTERS][MOMENT_MODES][HALVES]) {
    json_t *first = json_object_get(entry, "first_cycle"), *last = json_object_get(entry, "last_cycle");
    const char *name = json_string_value(json_object_get(entry, "register"));
    enum moment_register reg;
    int half, mode;
    if (name == NULL || !moment_from_name(name, &reg) ||
        !is_word(json_object_get(entry, "half"), "left", "right", &half) ||
        !is_word(json_object_get(entry, "mode"), "copy", "mirror", &mode)) {
        return false;
    }
    const bool none = json_is_null(first) && json_is_null(last);
    if (!none && (!is_cycle(first) || !is_cycle(last))) {
        return false;
    }
    struct write_window *window = &windows->window[reg][mode][half];
    seen[reg][mode][half] = true;
    *window =
        (struct write_window){.first = (int)json_integer_value(first), .last = (int)json_integer_value(last)};
    window->exists = !none && window->first <= window->last;
    return true;
}

/* A drawing rewrites the playfield in both halves, and colours before the line. */
static bool is_needed(enum moment_register reg, int half) {
    const bool colour = reg == MOMENT_COLUPF || reg == MOMENT_COLUBK;
    return reg <= MOMENT_PF2 || (colour && half == HALF_LEFT);
}

static bool read_all(const char *path, json_t *list, struct write_windows *windows, struct problem *problem) {
    bool seen[MOMENT_REGISTERS][MOMENT_MODES][HALVES] = {0};
    size_t i;
    json_t *entry;
    if (!json_is_array(list)) {
        return refuse(path, problem, "there is no list `windows` in it");
    }
    json_array_foreach(list, i, entry) {
        if (!read_one(entry, windows, seen)) {
            char what[120];
            snprintf(what, sizeof what,
                     "entry %zu of its `windows` lacks register, half, mode or the two cycles", i + 1);
            return refuse(path, problem, what);
        }
    }
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        for (int n = 0; n < MOMENT_MODES * HALVES; n++) {
            if (!seen[reg][n / HALVES][n % HALVES] && is_needed((enum moment_register)reg, n % HALVES)) {
                char what[120];
                snprintf(what, sizeof what, "its `windows` say nothing of %s, %s, %s half",
                         moment_name((enum moment_register)reg), n / HALVES == 0 ? "copy" : "mirror",
                         n % HALVES == 0 ? "left" : "right");
                return refuse(path, problem, what);
            }
        }
    }
    return true;
}

bool windows_read(const char *path, struct write_windows *windows, struct problem *problem) {
    json_error_t error;
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        return refuse(path, problem, strerror(errno));
    }
    json_t *root = json_loadf(file, JSON_REJECT_DUPLICATES, &error);
    fclose(file);
    if (root == NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%.200s: line %d: %.150s; give a result of plan moments as JSON", path, error.line,
                           error.text);
    }
    struct write_windows read = {0};
    snprintf(read.source, sizeof read.source, "%s", path);
    const bool good = read_all(path, json_object_get(root, "windows"), &read, problem);
    json_decref(root);
    if (good) {
        *windows = read;
    }
    return good;
}
