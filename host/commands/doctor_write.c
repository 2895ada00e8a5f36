/* What doctor found, as a section of the benches file. */
#include "commands/doctor.h"

#include "commands/bench_write.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { KEYS = 8 };

struct section {
    struct bench_key keys[KEYS];
    size_t count;
};

static void add(struct section *section, const char *key, const char *value) {
    section->keys[section->count++] = (struct bench_key){key, value};
}

/* The board by its serial, which stays the same on every port. A program that pushes is left as it is. */
static void add_board(struct section *section, const struct bench_settings *bench,
                      const struct bench_board *board) {
    if (bench->board.way == BOARD_NONE) {
        add(section, "board", "none");
    } else if (bench->board.way == BOARD_BY_SERIAL) {
        add(section, "board", bench->board.text);
    } else if (bench->board.way == BOARD_BY_USB && board->link != NULL) {
        add(section, "board", link_facts(board->link)->serial);
    }
}

/* A recording by its whole path: the section is read from anywhere. */
static bool place_of(const struct bench_video *video, char place[BENCH_TEXT_MAX], struct problem *problem) {
    static const char file[] = "file:";
    const bool prefixed = strncmp(video->where, file, strlen(file)) == 0;
    char whole[PATH_MAX];
    snprintf(place, BENCH_TEXT_MAX, "%s", video->where);
    if (video_is_live(video->where)) {
        return true;
    }
    if (realpath(video->where + (prefixed ? strlen(file) : 0), whole) == NULL ||
        snprintf(place, BENCH_TEXT_MAX, "%s%s", file, whole) >= BENCH_TEXT_MAX) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%.200s: cannot stand in a benches file: not a file, or its path is too long; move it",
            video->where);
    }
    return true;
}

static bool check_values(const struct section *section, struct problem *problem) {
    for (size_t i = 0; i < section->count; i++) {
        const struct bench_key *key = &section->keys[i];
        if (key->value != NULL && !bench_value_fits(key->value)) {
            return problem_set(problem, PROBLEM_INPUT,
                               "%s = %.200s: cannot stand in a benches file: too long, or with a ; in it; "
                               "rename it, or write the section yourself",
                               key->key, key->value);
        }
    }
    return true;
}

static void tell(const struct section *section, const char *name, const char *path, char *told, size_t size) {
    size_t used = (size_t)snprintf(told, size, "%s: [bench %s]", path, name);
    for (size_t i = 0; i < section->count && used < size; i++) {
        if (section->keys[i].value != NULL) {
            used += (size_t)snprintf(told + used, size - used, "%s %s = %s", i > 0 ? "," : "",
                                     section->keys[i].key, section->keys[i].value);
        }
    }
}

bool doctor_write(const struct bench_settings *bench, const struct bench_board *board, const char *file,
                  char *told, size_t size, struct problem *problem) {
    const struct bench_video *video = &bench->video;
    char path[PATH_MAX], place[BENCH_TEXT_MAX], frame[24], baud[16];
    bool there;
    struct section section = {0};
    if (!benches_file(file, path, sizeof path, &there)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "no place for the benches file: HOME is not set; give --benches FILE");
    }
    if (bench->board.way == BOARD_BY_SERIAL && bench->board.text[0] != '/') {
        return problem_set(problem, PROBLEM_INPUT,
                           "--serial %.100s: say the device's whole path, as in /dev/ttyACM0, so that it can "
                           "stand in a benches file",
                           bench->board.text);
    }
    if (!place_of(video, place, problem)) {
        return false;
    }
    snprintf(frame, sizeof frame, "%dx%d", video->width, video->height);
    snprintf(baud, sizeof baud, "%d", bench->board.baud);
    add(&section, "kind", "board");
    add_board(&section, bench, board);
    if (bench->board.way == BOARD_BY_SERIAL) {
        add(&section, "baud", baud);
    }
    add(&section, "standard", standard_table[bench->options.standard].name);
    add(&section, "video", place);
    add(&section, "input", video->input[0] != '\0' ? video->input : NULL);
    add(&section, "size", video->width > 0 ? frame : NULL);
    add(&section, "pixel", video->pixel[0] != '\0' ? video->pixel : NULL);
    if (!check_values(&section, problem) ||
        !bench_write(path, bench->name, section.keys, section.count, problem)) {
        return false;
    }
    tell(&section, bench->name, path, told, size);
    return true;
}
