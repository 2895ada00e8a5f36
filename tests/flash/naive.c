#include "flash/naive.h"

#include <string.h>

typedef int counts[PICTURE_LINES_MAX][CELLS];

static int cells_with(const counts count, const struct naive_place *place, int line, int cell, int least) {
    int sum = 0;
    for (int y = line; y < line + place->lines && y < PICTURE_LINES_MAX; y++) {
        for (int x = cell; x < cell + place->cells; x++) {
            sum += count[y][x] >= least;
        }
    }
    return sum;
}

static bool any_place(const struct naive *naive, const struct naive_place *place, const counts count,
                      int least) {
    for (int line = 0; line + place->lines < naive->lines + place->step_lines; line += place->step_lines) {
        for (int cell = 0; cell + place->cells <= CELLS; cell += place->step_cells) {
            if (cells_with(count, place, line, cell, least) > place->limit) {
                return true;
            }
        }
    }
    return false;
}

static void add_second(const struct naive *naive, int first, counts count) {
    memset(count, 0, sizeof(counts));
    for (int field = first; field < first + naive->window && field < naive->fields; field++) {
        for (int line = 0; line < naive->lines; line++) {
            for (int cell = 0; cell < CELLS; cell++) {
                count[line][cell] += naive->changes[field][line][cell];
            }
        }
    }
}

int naive_by_cell(const struct naive *naive, const struct naive_place *place) {
    int most = 0;
    for (int first = 0; first < naive->fields; first++) {
        counts count;
        add_second(naive, first, count);
        while (any_place(naive, place, count, most + 1)) {
            most++;
        }
    }
    return most;
}

static bool is_large(const struct naive *naive, const struct naive_place *place, int line, int cell,
                     int field) {
    int sum = 0;
    for (int y = line; y < line + place->lines && y < naive->lines; y++) {
        for (int x = cell; x < cell + place->cells; x++) {
            sum += naive->changes[field][y][x];
        }
    }
    return sum > place->limit;
}

static int most_of_place(const struct naive *naive, const struct naive_place *place, int line, int cell) {
    bool large[NAIVE_FIELDS_MAX];
    int most = 0;
    for (int field = 0; field < naive->fields; field++) {
        large[field] = is_large(naive, place, line, cell, field);
    }
    for (int first = 0; first < naive->fields; first++) {
        int sum = 0;
        for (int field = first; field < first + naive->window && field < naive->fields; field++) {
            sum += large[field];
        }
        most = sum > most ? sum : most;
    }
    return most;
}

int naive_at_once(const struct naive *naive, const struct naive_place *place) {
    int most = 0;
    for (int line = 0; line + place->lines < naive->lines + place->step_lines; line += place->step_lines) {
        for (int cell = 0; cell + place->cells <= CELLS; cell += place->step_cells) {
            const int of_place = most_of_place(naive, place, line, cell);
            most = of_place > most ? of_place : most;
        }
    }
    return most;
}
