#include "commands/commands.h"

#include "base/output.h"
#include "commands/bench_board.h"
#include "commands/board_report.h"
#include "commands/by_eye.h"
#include "commands/outcome.h"
#include "commands/session.h"
#include "commands/setup.h"
#include "commands/slot_report.h"

#include <dirent.h>
#include <errno.h>
#include <fnmatch.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum {
    TAKES = TAKES_PLAN | TAKES_VIRTUAL | TAKES_CHOICE | TAKES_BENCH | TAKES_STANDARD | TAKES_HOLD |
            TAKES_JSON | TAKES_OUT | TAKES_BY_EYE
};

static int help(void) {
    printf("usage: slotjig run [--bench NAME] [--plan NAME|FILE] [options]\n\n"
           "Shows a plan on a bench, watches the video, says which cells are right, and names what is "
           "wrong. A bench with a\n"
           "board gets the image first; the console takes it by itself, or is switched off and on. With "
           "--by-eye the board\n"
           "holds each step until you have answered. Of a real console this version sees recordings only "
           "(video = file:PATH);\n"
           "whatever does not pass is explained from what the board saw in the slot, too.\n\n");
    options_help(TAKES);
    printf("\nfaults of the virtual bench (--fault TEXT):\n");
    for (const struct fault_spelling *fault = virtual_fault_spellings; fault->spelling != NULL; fault++) {
        printf("  %-26s %s\n", fault->spelling, fault->about);
    }
    printf("\nexit: 0 pass, 1 fail, 2 wrong usage or input, 3 bench trouble, 4 inconclusive\n");
    return EXIT_PASS;
}

/* What an earlier run left in the folder must not stand beside this one's result. Only our own names. */
static bool is_ours(const char *name) {
    static const char *const patterns[] = {"failing.mkv", "field.png", "steps.png", "result.json",
                                           "step-[0-9][0-9][0-9][0-9].png"};
    for (size_t i = 0; i < sizeof patterns / sizeof patterns[0]; i++) {
        if (fnmatch(patterns[i], name, 0) == 0) {
            return true;
        }
    }
    return false;
}

static void remove_earlier(const char *folder) {
    DIR *entries = opendir(folder);
    if (entries == NULL) {
        return;
    }
    for (struct dirent *entry = readdir(entries); entry != NULL; entry = readdir(entries)) {
        if (is_ours(entry->d_name)) {
            unlinkat(dirfd(entries), entry->d_name, 0);
        }
    }
    closedir(entries);
}

/* Image and settings beside the failing fields, so that anyone can judge them again. */
static bool write_evidence(const struct setup *setup, const struct options *options,
                           struct problem *problem) {
    char path[4096];
    return outcome_path(options->out, "image.bin", path, sizeof path, problem) &&
           output_write(path, setup->image->bytes, setup->image->size, problem) &&
           outcome_path(options->out, "image.asm", path, sizeof path, problem) &&
           output_write(path, setup->image->listing, strlen(setup->image->listing), problem) &&
           setup_write_plan(setup, options->out, problem);
}

/* The result as it stands in the folder, whatever --json was. */
static bool write_result(const struct report *report, const char *folder, struct problem *problem) {
    char path[4096];
    return outcome_path(folder, "result.json", path, sizeof path, problem) &&
           json_write(json_result(report), path, problem);
}

static struct report report_of(const struct setup *setup, const struct options *options,
                               const struct result *result, int exit) {
    return (struct report){.command = "run",
                           .plan = setup->plan,
                           .bench = setup->bench.name,
                           .result = result,
                           .hash = setup->image->hash,
                           .hold = setup->hold,
                           .seed = setup->bench.options.seed,
                           .has_seed = setup->bench.kind == BENCH_VIRTUAL,
                           .exit = exit,
                           .faults = options->faults,
                           .fault_count = options->fault_count};
}

/* What the console model was asked for and does not have is said, never dropped. */
static void tell_notes(const struct bench_board *board) {
    struct virtual_notes notes;
    if (board->stand == NULL) {
        return;
    }
    virtual_stand_notes(board->stand, &notes);
    if (notes.unmodelled_writes > 0) {
        fprintf(stderr,
                "slotjig: note: the program wrote %llu times to something the virtual console does not model "
                "(last: $%04X)\n",
                (unsigned long long)notes.unmodelled_writes, notes.unmodelled_last);
    }
}

/* A run at work: the bench, and what is seen on it. */
struct run {
    const struct setup *setup;
    const struct options *options;
    struct bench_board board;
    struct keeper keeper;
    struct session session;
    bool unseen; /* the bench failed before any video was looked at */
};

static bool write_all(struct run *run, const struct report *report, struct problem *problem) {
    const char *folder = run->options->out;
    return outcome_write(report, run->options, run->session.keeper, problem) &&
           (folder == NULL ||
            (write_evidence(run->setup, run->options, problem) && write_result(report, folder, problem)));
}

/* lost: why the loop ended early, or NULL. */
static int finish(struct run *run, const struct problem *lost) {
    struct problem problem = {0};
    struct result result = *run->session.result;
    struct slot_report slot = {0};
    int status = lost != NULL ? EXIT_BENCH : verdict_exit(result.verdict);
    if (lost != NULL) {
        result.verdict = VERDICT_INCONCLUSIVE;
    }
    if (run->unseen) {
        result.finding_count = 0; /* nothing can be said of a video that was not looked at */
    }
    if (result.verdict != VERDICT_PASS) {
        const struct link_image image = setup_link_image(run->setup);
        slot_look(&run->board, &image, run->unseen ? SLOT_VIDEO_UNKNOWN : slot_video_of(run->session.result),
                  &slot);
        slot_add_findings(&slot, &result);
    }
    struct report report = report_of(run->setup, run->options, &result, status);
    report.more = json_pack("{s:s,s:o,s:o}", "console", run->setup->bench.console, "board",
                            board_json(&run->board), "slot", slot_report_json(&slot));
    const bool good = write_all(run, &report, &problem);
    json_decref(report.more);
    if (lost != NULL) {
        return command_refuse(lost);
    }
    return good ? status : command_refuse(&problem);
}

/* Nothing was seen: the result says so for every step, where a script or a person looks for it. */
static int finish_unseen(struct run *run, const struct problem *why) {
    run->session = (struct session){.plan = run->setup->plan, .hash = run->setup->image->hash};
    run->session.judge = judge_new(run->setup->plan, run->setup->image->hash);
    if (run->session.judge == NULL) {
        return command_refuse(why);
    }
    run->session.result = judge_result(run->session.judge);
    run->unseen = true;
    return finish(run, why);
}

static int watch(struct run *run) {
    const struct setup *setup = run->setup;
    struct video_source source;
    struct problem problem = {0}, why = {0};
    if ((run->options->out != NULL &&
         !keeper_init(&run->keeper, run->options->out, setup->plan->standard, &problem)) ||
        !setup_open_video(setup, &run->board, &source, &problem)) {
        return command_refuse(&problem);
    }
    run->session = (struct session){.plan = setup->plan,
                                    .hash = setup->image->hash,
                                    .hold = run->board.stand != NULL ? setup->hold : 0,
                                    .keeper = run->options->out != NULL ? &run->keeper : NULL,
                                    .progress = run->board.progress};
    const bool good = session_run(&run->session, &source, &why) && keeper_finish(&run->keeper, &why);
    const int status = run->session.result == NULL ? command_refuse(&why) : finish(run, good ? NULL : &why);
    source.close(source.state);
    return status;
}

/* A person needs no virtual console: the image goes into a cartridge of theirs. */
static int carry_out(const struct setup *setup, const struct options *options) {
    struct run run = {.setup = setup, .options = options, .board = {.settings = &setup->bench}};
    struct problem problem = {0};
    const bool by_hand = options->by_eye && setup->bench.kind == BENCH_VIRTUAL;
    int status = EXIT_BENCH;
    if (!by_hand && !setup_load(setup, options, &run.board, &problem)) {
        status = problem.kind == PROBLEM_BENCH && !options->by_eye ? finish_unseen(&run, &problem)
                                                                   : command_refuse(&problem);
    } else if (options->by_eye) {
        status = by_eye_run(setup, options, by_hand ? NULL : &run.board);
    } else {
        status = watch(&run);
        tell_notes(&run.board);
    }
    session_free(&run.session);
    keeper_free(&run.keeper);
    bench_board_close(&run.board);
    return status;
}

static bool can_run(const struct setup *setup, const struct options *options, struct problem *problem) {
    if (options->by_eye && options->fault_count > 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--fault: only the virtual bench can be broken, not what a person looks at");
    }
    if (options->by_eye || setup->bench.kind == BENCH_VIRTUAL) {
        return true;
    }
    if (setup->bench.video[0] == '\0') {
        return problem_set(
            problem, PROBLEM_INPUT,
            "bench %s has no video; give it video = file:PATH, or say --by-eye and look yourself "
            "(live capture is not in this version)",
            setup->bench.name);
    }
    /* Before the board gets another image and the console is switched off and on for nothing. */
    return access(setup->bench.video, R_OK) == 0 ||
           problem_set(problem, PROBLEM_INPUT,
                       "%.300s: cannot be read: %s; record it first, or correct video in bench %s",
                       setup->bench.video, strerror(errno), setup->bench.name);
}

int command_run(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    struct setup setup = {0};
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    int status = EXIT_BENCH;
    if ((options.out != NULL && !output_folder(options.out, &problem)) ||
        !output_ready(options.json, &problem) || !setup_make(&setup, &options, &problem) ||
        !can_run(&setup, &options, &problem)) {
        status = command_refuse(&problem);
    } else {
        if (options.out != NULL) {
            remove_earlier(options.out);
        }
        status = carry_out(&setup, &options);
    }
    setup_free(&setup);
    return status;
}
