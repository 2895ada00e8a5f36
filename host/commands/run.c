#include "commands/commands.h"

#include "base/output.h"
#include "commands/by_eye.h"
#include "commands/outcome.h"
#include "commands/session.h"
#include "commands/setup.h"

#include <dirent.h>
#include <fnmatch.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum {
    TAKES = TAKES_PLAN | TAKES_BENCH | TAKES_STANDARD | TAKES_HOLD | TAKES_JSON | TAKES_OUT | TAKES_BY_EYE
};

static int help(void) {
    printf("usage: slotjig run [--bench NAME] [--plan NAME|FILE] [options]\n\n"
           "Shows a plan on a bench, watches the video, says which cells are right, and names what is "
           "wrong.\n\n");
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
                           .has_seed = true,
                           .exit = exit,
                           .faults = options->faults,
                           .fault_count = options->fault_count};
}

/* What the console model was asked for and does not have is said, never dropped. */
static void tell_notes(const struct video_source *source) {
    struct virtual_notes notes;
    virtual_notes(source, &notes);
    if (notes.unmodelled_writes > 0) {
        fprintf(stderr,
                "slotjig: note: the program wrote %llu times to something the virtual console does not model "
                "(last: $%04X)\n",
                (unsigned long long)notes.unmodelled_writes, notes.unmodelled_last);
    }
}

static int finish(struct session *session, const struct setup *setup, const struct options *options,
                  bool lost, const struct problem *why, struct problem *problem) {
    int status = lost ? EXIT_BENCH : verdict_exit(session->result->verdict);
    struct result result = *session->result;
    if (lost) {
        result.verdict = VERDICT_INCONCLUSIVE;
    }
    struct report report = report_of(setup, options, &result, status);
    bool good = outcome_write(&report, options, session->keeper, problem) &&
                (options->out == NULL ||
                 (write_evidence(setup, options, problem) && write_result(&report, options->out, problem)));
    if (lost) {
        return command_refuse(why);
    }
    return good ? status : command_refuse(problem);
}

static int watch(struct setup *setup, const struct options *options, struct problem *problem) {
    struct keeper keeper = {0};
    struct video_source source;
    if (options->out != NULL && !keeper_init(&keeper, options->out, setup->plan->standard, problem)) {
        return command_refuse(problem);
    }
    if (!setup_open_video(setup, &source, problem)) {
        keeper_free(&keeper);
        return command_refuse(problem);
    }
    struct session session = {.plan = setup->plan,
                              .hash = setup->image->hash,
                              .hold = setup->hold,
                              .keeper = options->out != NULL ? &keeper : NULL,
                              .progress = !options->quiet && isatty(STDERR_FILENO)};
    struct problem why = {0};
    bool good = session_run(&session, &source, &why) && keeper_finish(&keeper, &why);
    int status = session.result == NULL ? command_refuse(&why)
                                        : finish(&session, setup, options, !good, &why, problem);
    tell_notes(&source);
    session_free(&session);
    keeper_free(&keeper);
    source.close(source.state);
    return status;
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
    if ((options.out != NULL && !output_folder(options.out, &problem)) ||
        !setup_make(&setup, &options, &problem)) {
        setup_free(&setup);
        return command_refuse(&problem);
    }
    if (options.by_eye && options.fault_count > 0) {
        problem_set(&problem, PROBLEM_INPUT,
                    "--fault: only the virtual bench can be broken, not what a person looks at");
        setup_free(&setup);
        return command_refuse(&problem);
    }
    if (options.out != NULL) {
        remove_earlier(options.out);
    }
    int status = options.by_eye ? by_eye_run(&setup, &options) : watch(&setup, &options, &problem);
    setup_free(&setup);
    return status;
}
