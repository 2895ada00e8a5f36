#include "commands/commands.h"

#include "base/output.h"
#include "commands/outcome.h"
#include "commands/session.h"
#include "commands/setup.h"

#include <stdio.h>
#include <unistd.h>

enum { TAKES = TAKES_PLAN | TAKES_STANDARD | TAKES_JSON | TAKES_OUT | TAKES_OPERANDS };

static int help(void) {
    printf("usage: slotjig judge [--plan NAME|FILE] [options] FILE\n\n"
           "Judges a recording against a plan. FILE is anything FFmpeg opens; names ending in .yuv or .raw "
           "are packed\n"
           "YUYV 4:2:2 of the standard's size. How long a step was shown does not matter.\n\n");
    options_help(TAKES);
    printf("\nexit: 0 pass, 1 fail, 2 wrong usage or input, 3 bench trouble, 4 inconclusive\n");
    return EXIT_PASS;
}

static int report_and_exit(const struct session *session, const struct options *options, bool good,
                           const struct problem *why) {
    struct problem problem = {0};
    struct result result = *session->result;
    char name[1024];
    json_clean(options->operands[0], name, sizeof name);
    int status = good ? verdict_exit(result.verdict) : EXIT_BENCH;
    if (!good) {
        result.verdict = VERDICT_INCONCLUSIVE;
    }
    struct report report = {.command = "judge",
                            .plan = session->plan,
                            .bench = name,
                            .result = &result,
                            .hash = session->hash,
                            .exit = status};
    bool written = outcome_write(&report, options, session->keeper, &problem);
    if (!good) {
        return command_refuse(why);
    }
    return written ? status : command_refuse(&problem);
}

static int judge_file(const struct options *options, const struct plan *plan, const struct image *image) {
    struct problem problem = {0};
    struct video_source source;
    struct keeper keeper = {0};
    if (!video_open_file(options->operands[0], plan->standard, &source, &problem)) {
        return command_refuse(&problem);
    }
    struct session session = {
        .plan = plan, .hash = image->hash, .progress = !options->quiet && isatty(STDERR_FILENO)};
    bool good = true;
    if (options->out != NULL) {
        good = output_folder(options->out, &problem) &&
               keeper_init(&keeper, options->out, plan->standard, &problem);
        session.keeper = &keeper;
    }
    good = good && session_run(&session, &source, &problem) && keeper_finish(&keeper, &problem);
    int status = session.result == NULL ? command_refuse(&problem)
                                        : report_and_exit(&session, options, good, &problem);
    session_free(&session);
    keeper_free(&keeper);
    source.close(source.state);
    return status;
}

int command_judge(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    if (options.operand_count != 1) {
        problem_set(&problem, PROBLEM_INPUT, "judge: name one video file; see `slotjig judge --help`");
        return command_refuse(&problem);
    }
    struct plan *plan = NULL;
    struct image *image = NULL;
    struct rom_options rom = {.hold = HOLD_UNWATCHED}; /* the hash does not depend on it */
    int status = EXIT_BENCH;
    if (!setup_plan(&options, options.standard, &plan, &problem) ||
        !rom_build(plan, &rom, &image, &problem)) {
        status = command_refuse(&problem);
    } else {
        status = judge_file(&options, plan, image);
    }
    if (image != NULL) {
        rom_free(image);
    }
    if (plan != NULL) {
        plan_free(plan);
    }
    return status;
}
