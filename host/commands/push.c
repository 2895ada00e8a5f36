#include "commands/commands.h"

#include "base/output.h"
#include "commands/bench_board.h"
#include "commands/board_report.h"
#include "commands/image_file.h"
#include "commands/setup.h"
#include "report/json.h"
#include "report/terminal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum {
    TAKES = TAKES_PLAN | TAKES_BOARD | TAKES_CHOICE | TAKES_BENCH | TAKES_STANDARD | TAKES_HOLD |
            TAKES_FLASHING | TAKES_PUSH | TAKES_LINK | TAKES_JSON | TAKES_OPERANDS
};

struct job {
    const struct options *options;
    struct setup setup; /* the bench; plan and image where a plan is pushed */
    struct link_image image;
    bool has_image;
    char what[300];
    uint8_t *file;
};

static int help(void) {
    printf(
        "usage: slotjig push [--bench NAME | --board CHOICE | --serial DEV] [--plan NAME|FILE | IMAGE]\n"
        "       slotjig push --step N | --free\n\n"
        "Puts a plan's image, or an image file, on the board, and has the console start it. All or nothing: "
        "until the\n"
        "new image is whole and its CRC agrees, the board serves the old one, so unplugging loses nothing. "
        "Blocks that\n"
        "the board has already are not sent. A console that runs an image of slotjig's takes the new one "
        "without being\n"
        "switched off; any other is switched off and on, by the bench's key power or by you.\n"
        "IMAGE has 2048, 4096, 8192, 16384 or 32768 bytes.\n\n"
        "Before board or cartridge goes into the slot or out of it: console off. USB before the console's "
        "switch.\n"
        "The bench's key power switches the console's low-voltage supply, never mains.\n\n"
        "Test patterns flash. A plan beyond the limits (`slotjig plan --flashes`) is refused on a screen "
        "that people see, unless\n"
        "they have all agreed; then the picture stays dark for three seconds first. How an image file "
        "flashes is "
        "not known here.\n\n");
    options_help(TAKES);
    printf("\nexit: 0 the board has the image, 2 wrong usage or input, 3 board trouble\n");
    return EXIT_PASS;
}

/* ---- what to push ---- */

static bool check_usage(const struct options *options, struct problem *problem) {
    const bool file = options->operand_count > 0;
    if (options->operand_count > 1) {
        return problem_set(problem, PROBLEM_INPUT, "push: name one image file; see `slotjig push --help`");
    }
    if (file && options->plan != NULL) {
        return problem_set(problem, PROBLEM_INPUT, "push: --plan and an image file; give one of them");
    }
    const bool check = options->plan != NULL && strcmp(options->plan, "cartridge") == 0;
    if (!file && !check && (options->scheme != NULL || options->ram)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--scheme and --ram are for an image file and for plan cartridge; another plan's "
                           "image needs neither");
    }
    if (file && (options->hold != 0 || options->standard_given)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--hold and --standard are for a plan; an image file is pushed as it is");
    }
    return !(options->free && options->step >= 0) ||
           problem_set(problem, PROBLEM_INPUT, "--step and --free exclude each other; give one of them");
}

static bool plan_image(struct job *job, struct problem *problem) {
    if (!setup_image(&job->setup, job->options, problem)) {
        return false;
    }
    const struct plan *plan = job->setup.plan;
    job->image = setup_link_image(&job->setup);
    char pace[PACE_MAX];
    snprintf(job->what, sizeof job->what, "plan %s, %s, %s", plan->name, standard_table[plan->standard].name,
             terminal_pace(plan, job->setup.hold, pace));
    if (job->options->step >= 0 && !setup_has_steps(plan, "push --step", problem)) {
        return false;
    }
    if (job->options->step >= 0 && (size_t)job->options->step >= plan->step_count) {
        return problem_set(problem, PROBLEM_INPUT, "--step %d: plan %s has steps 0 to %zu",
                           job->options->step, plan->name, plan->step_count - 1);
    }
    return true;
}

static bool can_select(const struct job *job, struct problem *problem) {
    const bool wanted = job->options->step >= 0 || job->options->free;
    return !wanted || job->setup.bench.board.way != BOARD_BY_COMMAND ||
           problem_set(problem, PROBLEM_INPUT,
                       "--step and --free need a slotjig board; bench %s pushes by a program of yours",
                       job->setup.bench.name);
}

static bool has_board(const struct job *job, struct problem *problem) {
    return job->setup.bench.board.way != BOARD_NONE ||
           problem_set(problem, PROBLEM_INPUT,
                       "bench %s says board = none, so there is nothing to push to; correct it, or make the "
                       "image with `slotjig rom`",
                       job->setup.bench.name);
}

static bool make_image(struct job *job, struct problem *problem) {
    const struct options *options = job->options;
    const bool only_select =
        options->operand_count == 0 && options->plan == NULL && (options->step >= 0 || options->free);
    if (!setup_bench(&job->setup.bench, options, problem) || !has_board(job, problem) ||
        !can_select(job, problem) || only_select) {
        return problem->kind == PROBLEM_NONE;
    }
    job->has_image = true;
    if (options->operand_count == 0) {
        return plan_image(job, problem);
    }
    if (!image_file_read(options->operands[0], options->scheme, options->ram, &job->image, problem)) {
        return false;
    }
    job->file = (uint8_t *)job->image.bytes;
    json_clean(options->operands[0], job->what, sizeof job->what);
    return (options->step < 0 && !options->free) || (job->image.flags & WIRE_IMAGE_MAILBOX) != 0 ||
           problem_set(problem, PROBLEM_INPUT,
                       "%s: does not read the board's mailbox, so its steps cannot be held; leave --step and "
                       "--free out",
                       job->what);
}

/* ---- pushing ---- */

static bool start(struct bench_board *board, struct problem *problem) {
    const bool can = board->stand != NULL || board->settings->power[0] != '\0';
    return !bench_board_needs_restart(board) || !can || bench_board_restart(board, problem);
}

static bool select_step(const struct job *job, struct bench_board *board, struct problem *problem) {
    if (job->options->step < 0 && !job->options->free) {
        return true;
    }
    return link_select(board->link, job->options->free ? WIRE_RUN_FREE : WIRE_HOLD_STEP,
                       job->options->free ? 0 : job->options->step, problem);
}

/* Steps are held of an image that is there. */
static bool check_stored(struct bench_board *board, struct problem *problem) {
    struct link_status status;
    return link_status(board->link, &status, problem) &&
           (status.size > 0 || problem_set(problem, PROBLEM_BENCH,
                                           "the board holds no image whose steps could be chosen; push one "
                                           "with --plan NAME"));
}

static bool carry_out(const struct job *job, struct bench_board *board, struct problem *problem) {
    if (!job->has_image && !check_stored(board, problem)) {
        return false;
    }
    flashing_tell(&job->setup.flashing);
    return (!job->has_image || (bench_board_push(board, &job->image, problem) && start(board, problem))) &&
           select_step(job, board, problem);
}

/* ---- telling ---- */

static json_t *image_json(const struct job *job) {
    if (!job->has_image) {
        return json_null();
    }
    return json_pack("{s:s,s:I,s:s,s:b,s:b}", "what", job->what, "bytes", (json_int_t)job->image.size,
                     "scheme", link_scheme_name(job->image.scheme), "ram",
                     (job->image.flags & WIRE_IMAGE_RAM) != 0, "mailbox",
                     (job->image.flags & WIRE_IMAGE_MAILBOX) != 0);
}

static bool write_json(const struct job *job, const struct bench_board *board, int status,
                       const char *trouble, struct problem *problem) {
    if (job->options->json == NULL) {
        return true;
    }
    const struct options *options = job->options;
    json_t *json = json_pack("{s:s,s:s,s:i,s:o,s:o}", "command", "push", "bench", job->setup.bench.name,
                             "exit", status, "board", board_json(board), "image", image_json(job));
    json_object_set_new(json, "verified", json_string(verified_name(board)));
    json_object_set_new(json, "step", options->step >= 0 ? json_integer(options->step) : json_null());
    json_object_set_new(json, "problem", trouble != NULL ? json_string(trouble) : json_null());
    return json_write(json, options->json, problem);
}

static void tell(const struct job *job, const struct bench_board *board, bool restarted) {
    const struct options *options = job->options;
    FILE *stream = options_people(options);
    char text[400];
    if (options->quiet) {
        return;
    }
    board_text(board, text, sizeof text);
    fprintf(stream, "board: %s\n", text);
    if (job->has_image) {
        fprintf(stream, "image: %s; %zu bytes, %s%s%s\n", job->what, job->image.size,
                link_scheme_name(job->image.scheme),
                (job->image.flags & WIRE_IMAGE_RAM) != 0 ? ", with RAM" : "",
                (job->image.flags & WIRE_IMAGE_MAILBOX) != 0 ? "" : ", without mailbox");
        push_text(board, text, sizeof text);
        fprintf(stream, "push: %s\nstart: %s\n", text,
                restarted ? "the console was switched off and on" : start_text(board));
    }
    if (options->step >= 0) {
        fprintf(stream, "step %d is held; `slotjig push --free` lets the plan step on\n", options->step);
    } else if (options->free) {
        fprintf(stream, "the plan steps on by itself\n");
    }
}

static int push(struct job *job, struct problem *problem) {
    struct bench_board board = {.settings = &job->setup.bench};
    const struct options *options = job->options;
    const struct bench_board_options how = {.progress = !options->quiet && isatty(STDERR_FILENO),
                                            .whole = options->whole,
                                            .no_read_back = options->no_read_back};
    struct problem why = {0};
    const bool good = bench_board_open(&board, &job->setup.bench, &how, &why) && carry_out(job, &board, &why);
    const bool restarted = good && bench_board_needs_restart(&board) &&
                           (board.stand != NULL || job->setup.bench.power[0] != '\0');
    const int status = good ? EXIT_PASS : command_refuse(&why);
    char trouble[sizeof why.text];
    json_clean(why.text, trouble, sizeof trouble);
    const bool told = write_json(job, &board, status, good ? NULL : trouble, problem);
    if (good) {
        tell(job, &board, restarted);
    }
    bench_board_close(&board);
    return told || !good ? status : command_refuse(problem);
}

int command_push_image(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    struct job job = {.options = &options};
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    const bool good =
        check_usage(&options, &problem) && output_ready(options.json, &problem) && make_image(&job, &problem);
    const int status = good ? push(&job, &problem) : command_refuse(&problem);
    setup_free(&job.setup);
    free(job.file);
    return status;
}
