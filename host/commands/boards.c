#include "commands/commands.h"

#include "base/output.h"
#include "commands/bench_board.h"
#include "commands/setup.h"
#include "link/discover.h"
#include "report/json.h"

#include <stdio.h>
#include <string.h>

enum { TAKES = TAKES_JSON | TAKES_LOADER | TAKES_BOARD | TAKES_CHOICE, BOARDS_MAX = 64 };

static int help(void) {
    printf(
        "usage: slotjig boards [--json FILE]\n"
        "       slotjig boards --loader [--bench NAME | --board CHOICE | --serial DEV]\n\n"
        "Lists every board on USB, readers of cartridges too, and what is nearly one: found but not to be "
        "opened, "
        "busy,\nwith other firmware, another product, or waiting in its loader; each with the one thing to "
        "do. A "
        "board on a\nplain serial line cannot be found, only named: `slotjig doctor --serial DEV`.\n\n"
        "With --loader, restarts one board in its chip's own loader instead, without the module's button: "
        "the "
        "firmware's\nfile (slotjig-pico.uf2; of a reader slotjig-reader.uf2) then goes onto the drive that "
        "appears. The slot is not\nserved meanwhile, so switch the console off first. The stored images "
        "stay.\n\n");
    options_help(TAKES);
    printf("\nexit: 0 at least one is ready, or is in its loader now; 2 wrong usage, 3 none is\n");
    return EXIT_PASS;
}

static json_t *found_json(const struct board_found *board) {
    return json_pack("{s:s,s:s,s:s,s:s,s:s,s:s,s:s,s:s}", "kind", board->reader ? "reader" : "cartridge",
                     "state", board_state_name(board->state), "serial", board->serial, "where", board->where,
                     "transport", board->transport, "firmware", board->firmware, "product", board->product,
                     "next", board->next);
}

static bool write_json(const struct board_found *boards, size_t count, int status, const char *path,
                       struct problem *problem) {
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++) {
        json_array_append_new(list, found_json(&boards[i]));
    }
    return json_write(json_pack("{s:s,s:i,s:o}", "command", "boards", "exit", status, "boards", list), path,
                      problem);
}

/* no_permission is "no permission" to a reader. */
static void state_text(enum board_state state, char *text, size_t size) {
    snprintf(text, size, "%s", board_state_name(state));
    for (char *c = strchr(text, '_'); c != NULL; c = strchr(c, '_')) {
        *c = ' ';
    }
}

static void print_one(FILE *stream, const struct board_found *board) {
    char state[32], serial[40] = "", firmware[32] = "";
    state_text(board->state, state, sizeof state);
    if (board->serial[0] != '\0') {
        snprintf(serial, sizeof serial, ", serial %s", board->serial);
    }
    if (board->firmware[0] != '\0') {
        snprintf(firmware, sizeof firmware, ", firmware %s", board->firmware);
    }
    const bool other = board->state == BOARD_WRONG_PRODUCT;
    fprintf(stream, "%-14s %-7s %s%s%s%s%s%s\n", board->where, board->transport,
            board->reader ? "reader, " : "", state, serial, firmware, other ? ": " : "",
            other ? board->product : "");
    if (board->next[0] != '\0') {
        fprintf(stream, "    next: %s\n", board->next);
    }
}

static size_t ready(const struct board_found *boards, size_t count) {
    size_t sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += boards[i].state == BOARD_READY;
    }
    return sum;
}

static void print_all(const struct options *options, const struct board_found *boards, size_t count,
                      size_t all) {
    FILE *stream = options_people(options);
    for (size_t i = 0; i < count && !options->quiet; i++) {
        print_one(stream, &boards[i]);
    }
    if (all > count && !options->quiet) {
        fprintf(stream, "and %zu more\n", all - count);
    }
}

static int list(const struct options *options, struct problem *problem) {
    static struct board_found boards[BOARDS_MAX];
    size_t all = 0;
    if (!boards_find(boards, BOARDS_MAX, &all, problem)) {
        return command_refuse(problem);
    }
    const size_t count = all < BOARDS_MAX ? all : BOARDS_MAX;
    const int status = ready(boards, count) > 0 ? EXIT_PASS : EXIT_BENCH;
    print_all(options, boards, count, all);
    if (options->json != NULL && !write_json(boards, count, status, options->json, problem)) {
        return command_refuse(problem);
    }
    if (all == 0) {
        problem_set(
            problem, PROBLEM_BENCH,
            "no board on USB; check that it is plugged in with a cable that carries data; one on a plain "
            "serial line is named with --serial DEV");
        return command_refuse(problem);
    }
    return status;
}

/* ---- one board, for new firmware ---- */

static bool check_usage(const struct options *options, struct problem *problem) {
    const bool chosen = options->bench != NULL || options->board != NULL || options->serial != NULL;
    if (!options->loader && chosen) {
        return problem_set(problem, PROBLEM_INPUT,
                           "boards: lists all of them; --bench, --board and --serial go with --loader");
    }
    return !options->loader || options->json == NULL ||
           problem_set(problem, PROBLEM_INPUT, "--json and --loader exclude each other; leave one out");
}

static bool ask_for_loader(struct bench_board *board, struct problem *problem) {
    if (board->stand != NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--loader: the board of a virtual bench has no chip; name a board that is there");
    }
    if (board->link == NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--loader needs a slotjig board; bench %s pushes by a program of yours",
                           board->settings->name);
    }
    if ((link_facts(board->link)->capabilities & WIRE_CAN_LOADER) == 0) {
        return problem_set(problem, PROBLEM_BENCH,
                           "the board's firmware cannot go to the loader; hold the module's button while you "
                           "plug USB in");
    }
    return link_loader(board->link, problem);
}

static int go_to_loader(const struct options *options, struct problem *problem) {
    struct bench_settings bench;
    struct bench_board board = {.settings = &bench};
    const struct bench_board_options how = {0};
    if (!setup_bench(&bench, options, problem)) {
        return command_refuse(problem);
    }
    const bool good = bench_board_open(&board, &bench, &how, problem) && ask_for_loader(&board, problem);
    bench_board_close(&board);
    if (good && !options->quiet) {
        printf("the board restarts in its chip's loader: copy slotjig-pico.uf2 (of a reader "
               "slotjig-reader.uf2) to the "
               "drive that appears\n");
    }
    return good ? EXIT_PASS : command_refuse(problem);
}

int command_boards(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    if (!check_usage(&options, &problem) || !output_ready(options.json, &problem)) {
        return command_refuse(&problem);
    }
    return options.loader ? go_to_loader(&options, &problem) : list(&options, &problem);
}
