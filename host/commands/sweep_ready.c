#include "commands/sweep_ready.h"

#include "base/utf8.h"
#include "commands/setup.h"
#include "flash/flash.h"
#include "plan/plan_file.h"
#include "plan/plan_text.h"

#include <sha2.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    /* A run is given up by itself after three rounds of the plan, six of plan `every`, which may begin anew
     * twice (session.h); fields that are shown again count a quarter of that. */
    ROUNDS_MOST = 3 * 4,
    ROUNDS_MOST_EVERY = 6 * 4 * 3,
    UNJUDGED_S = 150, /* video without a slate (session.h) */
    PUSH_S = 120,     /* the image, and the console switched off and on by a program */
    PERSON_S = 600,   /* or by a person (power.c) */
    RUNS_MOST = 1000000
};

/* ---- names ---- */

static bool check_names(const struct sweep_wanted *wanted, struct problem *problem) {
    for (size_t i = 0; i < wanted->plan_count; i++) {
        if (!utf8_is_clean(wanted->plans[i].name)) {
            return sweep_refuse(wanted, wanted->plans[i].line,
                                "a plan's path must be UTF-8 without control characters; rename the file",
                                problem);
        }
    }
    return utf8_is_clean(wanted->name) ||
           problem_set(problem, PROBLEM_INPUT, "%.200s: give the sweep a name of UTF-8 text (name = ...)",
                       wanted->file);
}

/* ---- consoles ---- */

static bool same_console(const struct sweep_ready *ready, const struct sweep_seat *seat,
                         struct problem *problem) {
    for (size_t i = 0; i < ready->seat_count; i++) {
        const struct sweep_console *other = &ready->seats[i].console;
        if (&ready->seats[i] != seat && strcmp(other->name, seat->console.name) == 0) {
            return problem_set(
                problem, PROBLEM_INPUT,
                "benches %.60s and %.60s both say that console '%.100s' is in them; name their "
                "consoles apart in the benches file",
                other->bench, seat->console.bench, seat->console.name);
        }
    }
    return true;
}

/* What the file leaves open the bench says, of the console that it has. */
static void use_bench(struct sweep_console *console, const struct bench_settings *bench) {
    const bool its_own =
        console->line == 0 || bench->console[0] == '\0' || strcmp(console->name, bench->console) == 0;
    const struct {
        char *text;
        const char *from;
    } texts[] = {{console->revision, bench->revision},
                 {console->markings, bench->markings},
                 {console->modifications, bench->modifications}};
    if (console->line == 0) {
        snprintf(console->name, sizeof console->name, "%s",
                 bench->console[0] != '\0' ? bench->console : bench->name);
    }
    for (size_t i = 0; its_own && i < sizeof texts / sizeof texts[0]; i++) {
        if (texts[i].text[0] == '\0') {
            snprintf(texts[i].text, BENCH_TEXT_MAX, "%s", texts[i].from);
        }
    }
}

static bool add_faults(struct sweep_seat *seat, struct problem *problem) {
    struct options *options = &seat->options;
    for (const char *fault = texts_next(&seat->console.faults, NULL); fault != NULL;
         fault = texts_next(&seat->console.faults, fault)) {
        if (options->fault_count == FAULTS_MAX) {
            return problem_set(problem, PROBLEM_INPUT, "more than %d faults; give fewer", FAULTS_MAX);
        }
        options->faults[options->fault_count++] = fault;
    }
    return true;
}

static bool make_seat(const struct sweep_ready *ready, struct sweep_seat *seat, const struct options *options,
                      struct problem *problem) {
    struct sweep_console *console = &seat->console;
    struct bench_settings bench;
    seat->options = *options;
    seat->options.bench = console->bench;
    seat->options.quiet = true;
    seat->options.json = seat->options.out = NULL;
    seat->options.operand_count = 0;
    seat->options.plan_count = seat->options.bench_count = 0;
    if (console->standard_given && !options->standard_given) {
        seat->options.standard = console->standard;
        seat->options.standard_given = true;
    }
    seat->options.seed_given = false; /* each run has its own */
    if (!setup_bench(&bench, &seat->options, problem)) {
        return false;
    }
    seat->is_virtual = bench.kind == BENCH_VIRTUAL;
    if (!seat->is_virtual && console->faults.count > 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "console '%.100s' has a fault, and bench %.60s is no virtual one; only a virtual "
                           "console can be broken by a word",
                           console->name, bench.name);
    }
    if (!add_faults(seat, problem)) {
        return false;
    }
    use_bench(console, &bench);
    seat->record = (struct record_console){.name = console->name,
                                           .revision = console->revision,
                                           .markings = console->markings,
                                           .modifications = console->modifications};
    return same_console(ready, seat, problem);
}

/* A problem of a console in the file is told with its line. */
static bool make_seats(struct sweep_ready *ready, const struct options *options, struct problem *problem) {
    for (size_t i = 0; i < ready->seat_count; i++) {
        struct sweep_seat *seat = &ready->seats[i];
        struct problem why = {0};
        if (!make_seat(ready, seat, options, &why)) {
            return why.kind == PROBLEM_INPUT
                       ? sweep_refuse(ready->wanted, seat->console.line, why.text, problem)
                       : problem_set(problem, why.kind, "%s", why.text);
        }
    }
    return true;
}

static bool seed_is_of_use(const struct sweep_ready *ready, const struct options *options,
                           struct problem *problem) {
    bool some = !options->seed_given;
    for (size_t i = 0; i < ready->seat_count; i++) {
        some = some || ready->seats[i].is_virtual;
    }
    return some ||
           problem_set(problem, PROBLEM_INPUT,
                       "--seed: only virtual benches have one, and this sweep has none; leave it out");
}

/* ---- benches ---- */

static struct sweep_bench *bench_of(struct sweep_ready *ready, const char *name) {
    for (size_t i = 0; i < ready->bench_count; i++) {
        if (strcmp(ready->benches[i].name, name) == 0) {
            return &ready->benches[i];
        }
    }
    struct sweep_bench *bench = &ready->benches[ready->bench_count++];
    snprintf(bench->name, sizeof bench->name, "%s", name);
    return bench;
}

/* Consoles by bench, in the order in which either is named first. */
static void sort_seats(struct sweep_ready *ready) {
    const struct sweep_wanted *wanted = ready->wanted;
    for (size_t i = 0; i < wanted->console_count; i++) {
        bench_of(ready, wanted->consoles[i].bench)->consoles++;
    }
    for (size_t b = 0; b < ready->bench_count; b++) {
        for (size_t i = 0; i < wanted->console_count; i++) {
            if (strcmp(wanted->consoles[i].bench, ready->benches[b].name) == 0) {
                ready->seats[ready->seat_count++].console = wanted->consoles[i];
            }
        }
    }
}

/* ---- plans ---- */

static struct options cell_options(const struct sweep_ready *ready, const struct sweep_cell *cell) {
    const struct sweep_seat *seat = &ready->seats[cell->seat];
    struct options options = seat->options;
    struct problem ignored;
    options.plan = ready->wanted->plans[cell->plan].open;
    options_plan(&options, &ignored); /* it could be taken apart when the sweep was made */
    if (!options.standard_given && options.drawing == NULL && options.patterns == 0) {
        plan_file_standard(options.plan, &options.standard); /* a built-in plan is no file */
    }
    return options;
}

static bool take_sha(const struct plan *plan, char sha[RECORD_ID_TEXT], struct problem *problem) {
    char *text = plan_text(plan);
    if (text == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for plan %s", plan->name);
    }
    SHA256Data((const uint8_t *)text, strlen(text), sha);
    free(text);
    return true;
}

static void take_times(const struct setup *setup, struct sweep_cell *cell) {
    const bool every = setup->plan->kind == PLAN_EVERY;
    const double rate = flash_rate(setup->plan->standard);
    const bool person = setup->bench.kind == BENCH_BOARD && setup->bench.power[0] == '\0';
    cell->standard = setup->plan->standard;
    cell->hold = setup->hold;
    cell->seconds = ((double)plan_pictures(setup->plan) * setup->hold + setup->flashing.dark) / rate;
    cell->bound_s = cell->seconds * (every ? ROUNDS_MOST_EVERY : ROUNDS_MOST) + UNJUDGED_S + PUSH_S +
                    2 * setup->bench.video.wait_s + (person ? PERSON_S : 0);
}

/* The same plan on a bench of the same kind was looked at before. */
static bool seen_before(const struct sweep_ready *ready, const struct sweep_cell *cell) {
    const struct sweep_cell *before = cell - ready->wanted->plan_count;
    const struct sweep_seat *seat = &ready->seats[cell->seat];
    return cell->seat > 0 && strcmp(seat[-1].console.bench, seat->console.bench) == 0 &&
           seat[-1].console.standard_given == seat->console.standard_given &&
           seat[-1].console.standard == seat->console.standard && before->plan == cell->plan;
}

/* Told once, however many consoles are shown it. */
static void tell_flashing(const struct flashing *flashing, char *told, size_t size) {
    if (strcmp(flashing->note, told) != 0) {
        flashing_tell(flashing);
        snprintf(told, size, "%s", flashing->note);
    }
}

static bool look_at_plan(const struct sweep_ready *ready, struct sweep_cell *cell, char *told, size_t size,
                         struct problem *problem) {
    struct options options = ready->seats[cell->seat].options;
    struct setup setup = {0};
    options.plan = ready->wanted->plans[cell->plan].open;
    if (!options_plan(&options, problem)) {
        return false;
    }
    options = cell_options(ready, cell);
    const bool good = setup_make(&setup, &options, problem) && take_sha(setup.plan, cell->sha, problem);
    if (good) {
        take_times(&setup, cell);
        tell_flashing(&setup.flashing, told, size);
    }
    setup_free(&setup);
    return good;
}

static bool make_cells(struct sweep_ready *ready, struct problem *problem) {
    const struct sweep_wanted *wanted = ready->wanted;
    char told[sizeof(struct flashing)] = "";
    for (size_t i = 0; i < ready->cell_count; i++) {
        struct sweep_cell *cell = &ready->cells[i];
        struct problem why = {0};
        cell->seat = i / wanted->plan_count;
        cell->plan = i % wanted->plan_count;
        if (seen_before(ready, cell)) {
            const size_t seat = cell->seat;
            *cell = *(cell - wanted->plan_count);
            cell->seat = seat;
        } else if (!look_at_plan(ready, cell, told, sizeof told, &why)) {
            return why.kind == PROBLEM_INPUT
                       ? sweep_refuse(wanted, wanted->plans[cell->plan].line, why.text, problem)
                       : problem_set(problem, why.kind, "%s", why.text);
        }
        cell->first = i * (size_t)wanted->repeats;
    }
    return true;
}

/* ---- the sweep ---- */

static void make_items(struct sweep_ready *ready) {
    const struct sweep_wanted *wanted = ready->wanted;
    for (size_t i = 0; i < ready->cell_count; i++) {
        const struct sweep_cell *cell = &ready->cells[i];
        const struct sweep_seat *seat = &ready->seats[cell->seat];
        struct sweep_bench *bench = bench_of(ready, seat->console.bench);
        bench->first = bench->behind == 0 ? cell->first : bench->first;
        bench->behind = cell->first + (size_t)wanted->repeats;
        bench->seconds += cell->seconds * wanted->repeats;
        bench->is_virtual = seat->is_virtual;
        /* A virtual console needs no hands; a robot can rehearse on it. */
        bench->asks = bench->consoles > 1 && (!seat->is_virtual || seat->options.robot);
        for (int repeat = 0; repeat < wanted->repeats; repeat++) {
            ready->sweep.items[cell->first + (size_t)repeat] =
                (struct record_item){.plan = wanted->plans[cell->plan].name,
                                     .console = seat->record,
                                     .bench = seat->console.bench,
                                     .repeat = repeat + 1};
        }
    }
}

static void define_options(FILE *stream, const struct options *options) {
    fprintf(stream, "noise %s%g\ngrabber %s\n", options->noise_given ? "" : "no ",
            options->noise_given ? options->noise : 0, options->grabber != NULL ? options->grabber : "");
    for (int i = 0; i < options->impairment_count; i++) {
        fprintf(stream, "impair %s\n", options->impairments[i]);
    }
    for (int i = 0; i < options->fault_count; i++) {
        fprintf(stream, "fault %s\n", options->faults[i]);
    }
}

/* Same text, same sweep. No line of it can be two: nothing in it has a line break. */
static bool define(struct sweep_ready *ready, const struct options *options, struct problem *problem) {
    char *text = NULL;
    size_t size = 0;
    FILE *stream = open_memstream(&text, &size);
    if (stream == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the sweep's definition");
    }
    fprintf(stream, "slotjig sweep 1\nname %s\nrepeats %d\nretries %d\nseed %llu\n", ready->wanted->name,
            ready->wanted->repeats, ready->wanted->retries, (unsigned long long)ready->seed);
    define_options(stream, options);
    for (size_t i = 0; i < ready->cell_count; i++) {
        const struct sweep_cell *cell = &ready->cells[i];
        const struct sweep_console *console = &ready->seats[cell->seat].console;
        if (cell->plan == 0) {
            fprintf(stream, "console %s\nbench %s\nrevision %s\nmarkings %s\nmodifications %s\n",
                    console->name, console->bench, console->revision, console->markings,
                    console->modifications);
            for (const char *fault = texts_next(&console->faults, NULL); fault != NULL;
                 fault = texts_next(&console->faults, fault)) {
                fprintf(stream, "broken %s\n", fault);
            }
        }
        fprintf(stream, "plan %s\nis %s %s hold %d\n", ready->wanted->plans[cell->plan].name, cell->sha,
                standard_table[cell->standard].name, cell->hold);
    }
    const bool good = fclose(stream) == 0;
    ready->sweep.definition = text;
    return good || problem_set(problem, PROBLEM_BENCH, "out of memory for the sweep's definition");
}

static bool take_memory(struct sweep_ready *ready, struct problem *problem) {
    const struct sweep_wanted *wanted = ready->wanted;
    ready->cell_count = wanted->console_count * wanted->plan_count;
    ready->sweep.item_count = ready->cell_count * (size_t)wanted->repeats;
    if (ready->sweep.item_count > RUNS_MOST) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%zu runs are more than the %d of a sweep; make several of it",
                           ready->sweep.item_count, RUNS_MOST);
    }
    ready->benches = calloc(wanted->console_count, sizeof *ready->benches);
    ready->seats = calloc(wanted->console_count, sizeof *ready->seats);
    ready->cells = calloc(ready->cell_count, sizeof *ready->cells);
    ready->sweep.items = calloc(ready->sweep.item_count, sizeof *ready->sweep.items);
    if (ready->benches == NULL || ready->seats == NULL || ready->cells == NULL ||
        ready->sweep.items == NULL) {
        problem_set(problem, PROBLEM_BENCH, "out of memory for a sweep of %zu runs", ready->sweep.item_count);
        return false;
    }
    return true;
}

bool sweep_ready_make(const struct sweep_wanted *wanted, const struct options *options,
                      struct sweep_ready *ready, struct problem *problem) {
    *ready = (struct sweep_ready){.wanted = wanted, .seed = options->seed};
    ready->sweep.name = wanted->name;
    ready->sweep.repeats = wanted->repeats;
    ready->sweep.retries = wanted->retries;
    if (!check_names(wanted, problem) || !take_memory(ready, problem)) {
        return false;
    }
    sort_seats(ready);
    if (!make_seats(ready, options, problem) || !seed_is_of_use(ready, options, problem) ||
        !make_cells(ready, problem)) {
        return false;
    }
    make_items(ready);
    return define(ready, options, problem);
}

void sweep_ready_free(struct sweep_ready *ready) {
    free(ready->benches);
    free(ready->seats);
    free(ready->cells);
    free(ready->sweep.items);
    free((char *)ready->sweep.definition);
    *ready = (struct sweep_ready){0};
}

const struct sweep_cell *sweep_cell_of(const struct sweep_ready *ready, size_t item) {
    return &ready->cells[item / (size_t)ready->wanted->repeats];
}

bool sweep_plan_changed(const struct sweep_ready *ready, size_t item) {
    const struct sweep_cell *cell = sweep_cell_of(ready, item);
    const struct options options = cell_options(ready, cell);
    struct plan *plan = NULL;
    struct problem ignored;
    char sha[RECORD_ID_TEXT] = "";
    if (!setup_plan(&options, cell->standard, &plan, &ignored)) {
        return true;
    }
    const bool same = take_sha(plan, sha, &ignored) && strcmp(sha, cell->sha) == 0;
    plan_free(plan);
    return !same;
}

struct options sweep_run_options(const struct sweep_ready *ready, size_t item, int attempt) {
    const struct sweep_cell *cell = sweep_cell_of(ready, item);
    struct options options = cell_options(ready, cell);
    options.flashing_told = true;
    if (ready->seats[cell->seat].is_virtual) {
        const uint64_t number = item * ((uint64_t)ready->wanted->retries + 1) + (uint64_t)attempt - 1;
        options.seed = (ready->seed + number) & INT64_MAX;
        options.seed_given = true;
    }
    return options;
}
