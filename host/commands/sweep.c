#include "commands/commands.h"

#include "base/output.h"
#include "base/stop.h"
#include "base/utf8.h"
#include "commands/options.h"
#include "commands/outcome.h"
#include "commands/run_once.h"
#include "commands/sweep_ask.h"
#include "commands/sweep_file.h"
#include "commands/sweep_lock.h"
#include "commands/sweep_ready.h"
#include "commands/sweep_state.h"
#include "commands/sweep_tell.h"
#include "commands/sweep_trouble.h"
#include "commands/sweep_work.h"
#include "report/html.h"
#include "report/json.h"
#include "report/junit.h"
#include "report/rows.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#define TAKES                                                                                                \
    ((uint64_t)TAKES_OPERANDS | TAKES_BENCHES | TAKES_STANDARD | TAKES_HOLD | TAKES_FLASHING | TAKES_BENCH | \
     TAKES_JSON | TAKES_STORE | TAKES_SWEEP)
enum { PATIENCE_S = 3600 };

/* A sweep from its options to its end. */
struct sweeping {
    const struct options *options;
    struct sweep_wanted wanted;
    struct sweep_ready ready;
    struct sweep_state state;
    char store[RECORDS_PATH_MAX];
    struct work_bench *benches;
    bool progress;
    bool speaks;     /* runs speak at the terminal: what is shown there stays */
    char shown[512]; /* the progress line that is there */
};

/* ---- what the work asks for ---- */

static const char *console_of(void *user, size_t item) {
    const struct sweeping *sweeping = user;
    return sweeping->state.sweep->items[item].console.name;
}

static double bound_of(void *user, size_t item) {
    const struct sweeping *sweeping = user;
    return sweep_cell_of(&sweeping->ready, item)->bound_s;
}

static bool item_done(void *user, size_t item, int *attempts) {
    const struct sweeping *sweeping = user;
    *attempts = sweeping->state.items[item].attempts;
    return sweep_state_done(&sweeping->state, item);
}

static bool item_spoiled(void *user, size_t item) {
    const struct sweeping *sweeping = user;
    return sweeping->state.items[item].spoiled;
}

static struct run_place place_of(const struct sweeping *sweeping, size_t item, int attempt,
                                 double minutes_on) {
    return (struct run_place){.console = &sweeping->state.sweep->items[item].console,
                              .item = sweeping->state.sweep->items[item].id,
                              .attempt = attempt,
                              .minutes_on = minutes_on};
}

/* What is run under an item's name must be what was asked for. */
static bool plan_as_begun(const struct sweeping *sweeping, size_t item, struct problem *problem) {
    return !sweep_plan_changed(&sweeping->ready, item) ||
           problem_set(
               problem, PROBLEM_INPUT,
               "plan %.200s was changed since the sweep began; say the same again: it is another sweep "
               "then",
               sweeping->state.sweep->items[item].plan);
}

static int run_item(void *user, size_t item, int attempt, double minutes_on) {
    const struct sweeping *sweeping = user;
    const struct options options = sweep_run_options(&sweeping->ready, item, attempt);
    const struct run_place place = place_of(sweeping, item, attempt, minutes_on);
    struct problem problem;
    return plan_as_begun(sweeping, item, &problem) ? run_once(&options, &place) : command_refuse(&problem);
}

static void clear_progress(struct sweeping *sweeping) {
    if (sweeping->shown[0] != '\0') {
        fprintf(stderr, "\r\033[K");
        sweeping->shown[0] = '\0';
    }
}

static void tell_trouble(struct sweeping *sweeping, size_t item, const char *why) {
    const struct record_item *at = &sweeping->state.sweep->items[item];
    if (!sweeping->options->quiet) {
        clear_progress(sweeping);
        fprintf(stderr, "slotjig: bench %s, console %s, plan %s: %s\n", at->bench, at->console.name, at->plan,
                why);
    }
}

/* What a run leaves in the store counts; where it left nothing, it was trouble of the bench, unless a person
 * ended it. */
static bool item_ended(void *user, size_t item, int attempt, const struct work_end *end,
                       struct problem *problem) {
    struct sweeping *sweeping = user;
    const struct sweep_item_state *at = &sweeping->state.items[item];
    char why[WORK_SAID_MAX + 100];
    if (!sweep_state_look(&sweeping->state, problem)) {
        return false;
    }
    if (at->attempts < attempt && !end->interrupted) {
        const struct options options = sweep_run_options(&sweeping->ready, item, attempt);
        const struct run_place place = place_of(sweeping, item, attempt, end->minutes_on);
        sweep_trouble_text(end, why, sizeof why);
        if (!plan_as_begun(sweeping, item, problem) ||
            !sweep_trouble_keep(&options, &place, end, why, problem) ||
            !sweep_state_look(&sweeping->state, problem)) {
            return false;
        }
        tell_trouble(sweeping, item, why);
    } else if (at->attempts == attempt && at->latest == RECORD_TROUBLE && end->said[0] != '\0') {
        tell_trouble(sweeping, item, end->said);
    }
    return true;
}

/* One line for all benches, written again when something has changed; cut to what a terminal has room for. */
static void show(void *user, const long *items) {
    struct sweeping *sweeping = user;
    char line[sizeof sweeping->shown];
    struct winsize window = {0};
    size_t used = (size_t)snprintf(line, sizeof line, "%zu of %zu runs done", sweeping->state.done,
                                   sweeping->ready.sweep.item_count);
    for (size_t i = 0; i < sweeping->ready.bench_count; i++) {
        if (items[i] >= 0 && used < sizeof line) {
            const struct record_item *at = &sweeping->state.sweep->items[items[i]];
            used += (size_t)snprintf(line + used, sizeof line - used, "; %.20s: %.20s, %.20s, %d", at->bench,
                                     at->console.name, at->plan, at->repeat);
        }
    }
    if (strcmp(line, sweeping->shown) != 0) {
        const int room =
            ioctl(STDERR_FILENO, TIOCGWINSZ, &window) == 0 && window.ws_col > 4 ? window.ws_col : 80;
        memcpy(sweeping->shown, line, sizeof line);
        utf8_clean(sweeping->shown, line, (size_t)(room < (int)sizeof line ? room - 3 : (int)sizeof line),
                   false);
        fprintf(stderr, "\r  %s\033[K%s", line, sweeping->speaks ? "\n" : "");
        fflush(stderr);
    }
}

/* ---- the work ---- */

/* What people read goes beside what programs read. */
static FILE *people(const struct options *options) {
    return options->robot ? stderr : options_people(options);
}

static bool make_benches(struct sweeping *sweeping, struct problem *problem) {
    const struct sweep_ready *ready = &sweeping->ready;
    sweeping->benches = calloc(ready->bench_count, sizeof *sweeping->benches);
    if (sweeping->benches == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for %zu benches", ready->bench_count);
    }
    for (size_t i = 0; i < ready->bench_count; i++) {
        const struct sweep_bench *bench = &ready->benches[i];
        sweeping->benches[i] = (struct work_bench){
            .name = bench->name, .asks = bench->asks, .first = bench->first, .behind = bench->behind};
    }
    return true;
}

static bool work_on(struct sweeping *sweeping, struct problem *problem) {
    const struct options *options = sweeping->options;
    struct ask ask = {.robot = options->robot, .in = STDIN_FILENO, .out = options->robot ? stdout : stderr};
    enum work_stop why;
    const struct work work = {.bench_count = sweeping->ready.bench_count,
                              .benches = sweeping->benches,
                              .attended =
                                  sweeping->ready.bench_count == 1 && !options->robot && isatty(STDIN_FILENO),
                              .patience_s = options->patience_s > 0 ? options->patience_s : PATIENCE_S,
                              .user = sweeping,
                              .console = console_of,
                              .bound_s = bound_of,
                              .done = item_done,
                              .spoiled = item_spoiled,
                              .run = run_item,
                              .ended = item_ended,
                              .show = sweeping->progress ? show : NULL};
    sweeping->speaks = work.attended && !sweeping->ready.benches[0].is_virtual;
    stop_catch();
    const bool good = work_do(&work, &ask, &why, problem);
    stop_release();
    clear_progress(sweeping);
    return good;
}

/* ---- its end ---- */

static bool write_folder(const struct sweeping *sweeping, const struct record_list *runs,
                         struct problem *problem) {
    const char *folder = sweeping->options->out;
    const struct record_sweep *sweep = sweeping->state.sweep;
    char path[4096];
    return outcome_path(folder, "report.html", path, sizeof path, problem) &&
           html_write_sweep(path, sweep, runs, problem) &&
           outcome_path(folder, "junit.xml", path, sizeof path, problem) &&
           junit_write(path, sweep, runs, problem) &&
           outcome_path(folder, "runs.jsonl", path, sizeof path, problem) &&
           rows_write(path, ROWS_JSONL, runs, problem) &&
           outcome_path(folder, "steps.csv", path, sizeof path, problem) &&
           rows_write(path, ROWS_CSV, runs, problem);
}

static void tell_folder(const struct options *options) {
    if (options->out != NULL && !options->quiet) {
        fprintf(people(options), "%s: report.html, junit.xml, runs.jsonl, steps.csv\n", options->out);
    }
}

static bool write_outcome(const struct sweeping *sweeping, const struct sweep_outcome *outcome,
                          struct problem *problem) {
    const struct options *options = sweeping->options;
    if (!options->quiet) {
        sweep_tell_matrix(people(options), outcome);
    }
    return (options->json == NULL || json_write(sweep_json(outcome), options->json, problem)) &&
           (options->out == NULL || write_folder(sweeping, outcome->runs, problem));
}

static bool select_runs(const struct sweeping *sweeping, struct record_list *runs, struct problem *problem) {
    const struct records_choice choice = {.sweep = sweeping->state.sweep->id, .with_trouble = true};
    const unsigned parts = sweeping->options->out != NULL ? RECORDS_ALL : RECORDS_FINDINGS;
    struct records *records = NULL;
    if (!records_open(sweeping->options->store, RECORDS_READ, &records, problem)) {
        return false;
    }
    const bool good = records_select(records, &choice, parts, runs, problem);
    records_close(records);
    return good;
}

/* lost: why the work ended early, or NULL. */
static int conclude(struct sweeping *sweeping, const struct problem *lost) {
    struct record_list runs = {0};
    struct problem problem = {0};
    struct sweep_outcome outcome = {
        .ready = &sweeping->ready, .state = &sweeping->state, .runs = &runs, .anew = sweeping->options->anew};
    int status = EXIT_BENCH;
    if (!select_runs(sweeping, &runs, &problem)) {
        return command_refuse(lost != NULL ? lost : &problem);
    }
    if (!sweep_outcome_make(&outcome, &problem) || !write_outcome(sweeping, &outcome, &problem)) {
        status = command_refuse(&problem);
    } else {
        tell_folder(sweeping->options);
        status = outcome.exit;
    }
    sweep_outcome_free(&outcome);
    record_list_free(&runs);
    return lost != NULL ? command_refuse(lost) : status;
}

/* ---- its beginning ---- */

static void tell_beginning(const struct sweeping *sweeping, int64_t other) {
    const struct options *options = sweeping->options;
    if (options->quiet) {
        return;
    }
    if (other != 0) {
        fprintf(
            stderr,
            "slotjig: note: sweep %lld of that name had other plans, consoles or settings: this is another "
            "one\n",
            (long long)other);
    }
    sweep_tell_table(people(options), &sweeping->ready, &sweeping->state);
}

static int work_locked(struct sweeping *sweeping) {
    struct problem problem = {0};
    /* Another one may have worked on it until the lock was ours. */
    if (!sweep_state_look(&sweeping->state, &problem) || !make_benches(sweeping, &problem)) {
        return command_refuse(&problem);
    }
    return conclude(sweeping, work_on(sweeping, &problem) ? NULL : &problem);
}

static int begin(struct sweeping *sweeping) {
    const struct options *options = sweeping->options;
    struct problem problem = {0};
    struct sweep_lock lock = {.file = -1};
    int64_t other = 0;
    if ((options->store == NULL && !records_path(sweeping->store, &problem)) ||
        !sweep_state_open(&sweeping->state, &sweeping->ready, options->store, options->anew, &other,
                          &problem)) {
        return command_refuse(&problem);
    }
    const char *store = options->store != NULL ? options->store : sweeping->store;
    if (!sweep_lock_take(&lock, store, sweeping->state.sweep->id, &problem)) {
        return command_refuse(&problem);
    }
    tell_beginning(sweeping, other);
    const int status = work_locked(sweeping);
    sweep_lock_give(&lock);
    return status;
}

static bool check(const struct options *options, struct problem *problem) {
    if (options->robot && option_is_dash(options->json)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--robot and --json -: both would speak on standard output; give --json a file");
    }
    return (options->out == NULL || output_folder(options->out, problem)) &&
           output_ready(options->json, problem);
}

static int sweep(const struct options *options) {
    struct sweeping *sweeping = calloc(1, sizeof *sweeping);
    struct problem problem = {0};
    int status = EXIT_BENCH;
    if (sweeping == NULL) {
        problem_set(&problem, PROBLEM_BENCH, "out of memory for a sweep");
        return command_refuse(&problem);
    }
    sweeping->options = options;
    sweeping->progress = !options->quiet && isatty(STDERR_FILENO);
    if (!check(options, &problem) || !sweep_wanted_read(options, &sweeping->wanted, &problem) ||
        !sweep_ready_make(&sweeping->wanted, options, &sweeping->ready, &problem)) {
        status = command_refuse(&problem);
    } else {
        status = begin(sweeping);
    }
    sweep_state_free(&sweeping->state);
    sweep_ready_free(&sweeping->ready);
    sweep_wanted_free(&sweeping->wanted);
    free(sweeping->benches);
    free(sweeping);
    return status;
}

static int help(void) {
    printf(
        "usage: slotjig sweep [FILE] [--plan NAME|FILE]... [--bench NAME]... [options]\n\n"
        "Runs plans on consoles over and over, on several benches at once, and keeps each run on record. "
        "Consoles of one bench\nare put in one after another: it says which, and waits for Enter, or for a "
        "robot's line (--robot). FILE is a sweep file:\n"
        "[sweep] with name, plan, repeats, retries; [console NAME] with bench, standard, revision, markings, "
        "modifications, fault.\n\n"
        "Interrupted anywhere, the same command again goes on where it was. A run that does not pass is "
        "tried again (--retries);\na pass then counts as unsteady, never as a pass.\n\n"
        "--robot: `put-in<TAB>BENCH<TAB>CONSOLE` on standard output; answer `ready`, `skip` (the console is "
        "left for later) or `stop`\non standard input, with the bench's name behind it where several are "
        "asked at once. The end of the input means stop.\n\n");
    options_help(TAKES);
    printf("\nexit: 0 all pass, 1 one fails or is unsteady, 2 wrong usage or input, 3 bench trouble, or runs "
           "are "
           "left, 4 inconclusive\n");
    return EXIT_PASS;
}

int command_sweep(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    return options.help ? help() : sweep(&options);
}
