/* Which bench doctor looks at: one of the file, one for --board or --video alone, or one that is to be
 * written.
 */
#include "commands/doctor.h"

#include "commands/bench_write.h"
#include "commands/setup.h"
#include "link/discover.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static bool is_section(const char *name, const char *path, bool there, bool *known, struct problem *problem) {
    enum { NAMES_MAX = 256 };
    static char names[NAMES_MAX][BENCH_NAME_MAX];
    size_t count = 0;
    *known = false;
    if (there && access(path, F_OK) == 0 && !benches_names(path, names, NAMES_MAX, &count, problem)) {
        return false;
    }
    for (size_t i = 0; i < count && i < NAMES_MAX; i++) {
        *known = *known || strcmp(names[i], name) == 0;
    }
    return true;
}

/* A name for a section that is not there yet. */
static bool new_name(const char *path, bool there, char name[BENCH_NAME_MAX], struct problem *problem) {
    bool known = true;
    for (int i = 1; known; i++) {
        snprintf(name, BENCH_NAME_MAX, i > 1 ? "console%d" : "console", i);
        if (!is_section(name, path, there, &known, problem)) {
            return false;
        }
    }
    return true;
}

/* Without a board attached, the image gets into the slot by the user's own means. */
static void choose_board(struct bench_settings *bench) {
    struct board_found found[1];
    struct problem ignored;
    size_t count = 0;
    if (bench->board.way == BOARD_BY_USB && bench->board.text[0] == '\0' &&
        boards_find(found, 1, &count, &ignored) && count == 0) {
        bench->board.way = BOARD_NONE;
    }
}

static bool check_name_fits(const char *name, struct problem *problem) {
    enum { LETTERS_MAX = 40 };
    return (bench_value_fits(name) && strlen(name) <= LETTERS_MAX && strchr(name, ']') == NULL) ||
           problem_set(problem, PROBLEM_INPUT,
                       "--bench '%.60s': no name for a section; give up to %d letters or digits", name,
                       LETTERS_MAX);
}

/* With --write, a bench that is not there yet is one that is to be written. */
static bool bench_to_write(struct bench_settings *bench, const struct options *asked,
                           struct problem *problem) {
    struct options options = *asked;
    char path[PATH_MAX], name[BENCH_NAME_MAX];
    bool there = false, known = false;
    if (!benches_file(options.benches, path, sizeof path, &there)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "no place for the benches file: HOME is not set; give --benches FILE");
    }
    if (options.bench != NULL && strcmp(options.bench, "virtual") == 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--write: the bench virtual is built in and needs no section; name another");
    }
    if (options.bench != NULL ? !is_section(options.bench, path, there, &known, problem)
                              : !new_name(path, there, name, problem)) {
        return false;
    }
    if (options.bench != NULL && !known) {
        if (!check_name_fits(options.bench, problem)) {
            return false;
        }
        snprintf(name, sizeof name, "%s", options.bench);
    }
    options.bench = known ? options.bench : NULL;
    if (!setup_bench(bench, &options, problem)) {
        return false;
    }
    if (bench->kind == BENCH_VIRTUAL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--write: bench %s is a virtual one; name another for what is found", bench->name);
    }
    if (!known) {
        snprintf(bench->name, sizeof bench->name, "%s", name);
        choose_board(bench);
    }
    return true;
}

/* --video alone is about the video alone. */
bool doctor_bench(struct bench_settings *bench, const struct options *options, struct problem *problem) {
    if (options->write) {
        return bench_to_write(bench, options, problem);
    }
    if (!setup_bench(bench, options, problem)) {
        return false;
    }
    if (options->video != NULL && options->bench == NULL && options->board == NULL &&
        options->serial == NULL) {
        bench->board.way = BOARD_NONE;
        snprintf(bench->name, sizeof bench->name, "video");
    }
    return true;
}
