#include "commands/sweep_tell.h"

#include "base/utf8.h"

#include <stdlib.h>
#include <string.h>

enum {
    NAME_WIDTH = 24, /* of a console, or a plan */
    CELL_WIDTH = 30,
    ACROSS = 3,       /* plans beside each other in the matrix */
    REASONS_SHOWN = 6 /* of one cell */
};

/* ---- columns ---- */

/* A text in a column, cut at its front: of a path, the end tells more. */
static void put(FILE *stream, const char *text, int column) {
    int width = utf8_width(text);
    const bool cut = width > column - 2;
    while (width > column - 4 && cut) {
        text++;
        while (((unsigned char)*text & 0xC0) == 0x80) {
            text++;
        }
        width--;
    }
    fprintf(stream, "%s%s%*s", cut ? ".." : "", text, column - width - (cut ? 2 : 0), "");
}

static void put_time(FILE *stream, double seconds) {
    if (seconds < 9.95) {
        fprintf(stream, "%.1f s", seconds);
    } else if (seconds < 120) {
        fprintf(stream, "%.0f s", seconds);
    } else if (seconds < 7200) {
        fprintf(stream, "%.0f min", seconds / 60);
    } else {
        fprintf(stream, "%.1f h", seconds / 3600);
    }
}

/* ---- before it starts ---- */

static void put_bench(FILE *stream, const struct sweep_ready *ready, const struct sweep_bench *bench) {
    const char *how = bench->asks           ? "; put in one after another"
                      : bench->consoles > 1 ? "; virtual, nobody is asked to put them in"
                                            : "";
    fprintf(stream, "\nbench %s: %zu console%s%s; %zu runs, ", bench->name, bench->consoles,
            bench->consoles == 1 ? "" : "s", how, bench->behind - bench->first);
    put_time(stream, bench->seconds);
    fprintf(stream, " of video%s\n", bench->is_virtual ? " (a virtual bench is faster)" : "");
    for (size_t i = 0; i < ready->cell_count; i++) {
        const struct sweep_cell *cell = &ready->cells[i];
        const struct sweep_console *console = &ready->seats[cell->seat].console;
        if (strcmp(console->bench, bench->name) != 0) {
            continue;
        }
        fprintf(stream, "  ");
        put(stream, cell->plan == 0 ? console->name : "", NAME_WIDTH);
        put(stream, ready->wanted->plans[cell->plan].name, NAME_WIDTH);
        fprintf(stream, "%-6s %4d x ", standard_table[cell->standard].name, ready->wanted->repeats);
        put_time(stream, cell->seconds);
        fprintf(stream, "\n");
    }
}

void sweep_tell_table(FILE *stream, const struct sweep_ready *ready, const struct sweep_state *state) {
    bool seeds = false;
    fprintf(stream, "sweep %lld, %s: %zu plan%s by %zu console%s by %d repeat%s on %zu bench%s\n",
            (long long)state->sweep->id, ready->wanted->name, ready->wanted->plan_count,
            ready->wanted->plan_count == 1 ? "" : "s", ready->seat_count, ready->seat_count == 1 ? "" : "s",
            ready->wanted->repeats, ready->wanted->repeats == 1 ? "" : "s", ready->bench_count,
            ready->bench_count == 1 ? "" : "es");
    if (state->found) {
        fprintf(stream, "it was begun before: %zu of %zu runs are done, the rest follows\n", state->done,
                ready->sweep.item_count);
    }
    for (size_t i = 0; i < ready->bench_count; i++) {
        put_bench(stream, ready, &ready->benches[i]);
        seeds = seeds || ready->benches[i].is_virtual;
    }
    if (seeds) {
        fprintf(stream, "\nseeds of virtual benches from %llu on (--seed %llu gives the same again)\n",
                (unsigned long long)ready->seed, (unsigned long long)ready->seed);
    }
    fprintf(stream, "\n");
    fflush(stream);
}

/* ---- what came of it ---- */

bool sweep_outcome_make(struct sweep_outcome *outcome, struct problem *problem) {
    const struct record_sweep *sweep = outcome->state->sweep;
    const size_t cells = outcome->ready->cell_count;
    outcome->suites = suites_make(sweep, outcome->runs);
    outcome->standings = calloc(cells, sizeof *outcome->standings);
    if (outcome->suites == NULL || outcome->standings == NULL || outcome->suites->count != cells) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for a sweep of %zu runs",
                           sweep->item_count);
    }
    for (size_t i = 0; i < cells; i++) {
        suite_stand(&outcome->suites->list[i], &outcome->standings[i]);
        outcome->left += (size_t)(outcome->standings[i].repeats - outcome->standings[i].done);
    }
    outcome->exit = standing_exit(outcome->standings, cells);
    return true;
}

void sweep_outcome_free(struct sweep_outcome *outcome) {
    suites_free(outcome->suites);
    free(outcome->standings);
    outcome->suites = NULL;
    outcome->standings = NULL;
}

static void put_standing(FILE *stream, const struct standing *standing) {
    char text[80];
    if (standing->done == 0) {
        snprintf(text, sizeof text, "open");
    } else {
        snprintf(text, sizeof text, "%s %d/%d, %.0f-%.0f %%", standing_name(standing->kind), standing->passed,
                 standing->kind == STANDING_OPEN ? standing->repeats : standing->done,
                 100 * standing->rate_low, 100 * standing->rate_high);
    }
    put(stream, text, CELL_WIDTH);
}

/* Plans from `first` on, as many as go beside each other. */
static void put_block(FILE *stream, const struct sweep_outcome *outcome, size_t first) {
    const struct sweep_ready *ready = outcome->ready;
    const size_t plans = ready->wanted->plan_count;
    const size_t behind = first + ACROSS < plans ? first + ACROSS : plans;
    put(stream, "", NAME_WIDTH);
    for (size_t plan = first; plan < behind; plan++) {
        put(stream, ready->wanted->plans[plan].name, CELL_WIDTH);
    }
    fprintf(stream, "\n");
    for (size_t seat = 0; seat < ready->seat_count; seat++) {
        put(stream, ready->seats[seat].console.name, NAME_WIDTH);
        for (size_t plan = first; plan < behind; plan++) {
            put_standing(stream, &outcome->standings[seat * plans + plan]);
        }
        fprintf(stream, "\n");
    }
    fprintf(stream, "\n");
}

static const char *reason_of(const struct record_run *run) {
    return run->problem[0] != '\0'  ? run->problem
           : run->finding_count > 0 ? run->findings[0].text
                                    : "nothing named";
}

static bool same_reason(const struct record_run *run, const struct record_run *other) {
    return other->end == run->end && strcmp(reason_of(other), reason_of(run)) == 0;
}

/* Whether a run says the same as one before it, which is told with that. */
static bool told_before(const struct suite *suite, size_t index) {
    for (size_t i = 0; i < index; i++) {
        if (same_reason(&suite->runs[index], &suite->runs[i])) {
            return true;
        }
    }
    return false;
}

/* One reason, with the numbers of the runs that give it. */
static void put_reason(FILE *stream, const struct suite *suite, size_t index) {
    const struct record_run *run = &suite->runs[index];
    fprintf(stream, "  run %lld", (long long)run->id);
    for (size_t i = index + 1; i < suite->run_count; i++) {
        if (same_reason(run, &suite->runs[i])) {
            fprintf(stream, ", %lld", (long long)suite->runs[i].id);
        }
    }
    fprintf(stream, "  %s: %s\n", record_end_name(run->end), reason_of(run));
}

/* Why a cell is no pass. */
static void put_reasons(FILE *stream, const struct sweep_outcome *outcome, size_t index) {
    const struct sweep_ready *ready = outcome->ready;
    const struct sweep_cell *cell = &ready->cells[index];
    const struct standing *standing = &outcome->standings[index];
    const struct suite *suite = &outcome->suites->list[index];
    int shown = 0;
    fprintf(stream, "%s, %s: %s; %d attempt%s at %d repeat%s\n", ready->seats[cell->seat].console.name,
            ready->wanted->plans[cell->plan].name, standing_name(standing->kind), standing->attempts,
            standing->attempts == 1 ? "" : "s", standing->repeats, standing->repeats == 1 ? "" : "s");
    for (size_t i = 0; i < suite->run_count; i++) {
        if (suite->runs[i].end == RECORD_PASS || told_before(suite, i)) {
            continue;
        }
        if (shown++ == REASONS_SHOWN) {
            fprintf(stream, "  and more: --json FILE and --out DIR have them all\n");
            return;
        }
        put_reason(stream, suite, i);
    }
}

void sweep_tell_matrix(FILE *stream, const struct sweep_outcome *outcome) {
    const struct sweep_ready *ready = outcome->ready;
    fprintf(
        stream,
        "sweep %lld, %s: how the repeats ended; how many of them passed at the first attempt, and the 95 %% "
        "interval\nof that rate (Wilson)\n\n",
        (long long)outcome->state->sweep->id, ready->wanted->name);
    for (size_t first = 0; first < ready->wanted->plan_count; first += ACROSS) {
        put_block(stream, outcome, first);
    }
    for (size_t i = 0; i < ready->cell_count; i++) {
        const struct standing *standing = &outcome->standings[i];
        if (standing->kind != STANDING_PASS && standing->attempts > 0) {
            put_reasons(stream, outcome, i);
        }
    }
    if (outcome->left > 0) {
        fprintf(stream, "%zu of %zu runs are left: say the same again%s to go on with them\n", outcome->left,
                ready->sweep.item_count, outcome->anew ? ", without --anew," : "");
    }
    fflush(stream);
}

/* ---- JSON ---- */

static json_t *run_json(const struct record_run *run, int repeat) {
    json_t *findings = json_array();
    for (size_t i = 0; i < run->finding_count; i++) {
        json_array_append_new(findings, json_string(run->findings[i].text));
    }
    return json_pack("{s:I,s:i,s:i,s:s,s:i,s:o,s:o,s:o,s:o}", "run", (json_int_t)run->id, "repeat", repeat,
                     "attempt", run->attempt, "end", record_end_name(run->end), "exit", run->exit, "seed",
                     run->has_seed ? json_integer((json_int_t)run->seed) : json_null(), "minutes_on",
                     run->minutes_on >= 0 ? json_real(run->minutes_on) : json_null(), "problem",
                     run->problem[0] != '\0' ? json_string(run->problem) : json_null(), "findings", findings);
}

static json_t *cell_json(const struct sweep_outcome *outcome, size_t index) {
    const struct sweep_ready *ready = outcome->ready;
    const struct sweep_cell *cell = &ready->cells[index];
    const struct standing *standing = &outcome->standings[index];
    const struct suite *suite = &outcome->suites->list[index];
    json_t *runs = json_array();
    for (size_t item = 0; item < suite->item_count; item++) {
        for (size_t i = suite->first[item]; i < suite->first[item + 1]; i++) {
            json_array_append_new(runs, run_json(&suite->runs[i], suite->items[item].repeat));
        }
    }
    return json_pack("{s:s,s:s,s:s,s:s,s:i,s:i,s:i,s:o,s:f,s:f,s:i,s:i,s:o}", "plan",
                     ready->wanted->plans[cell->plan].name, "console", ready->seats[cell->seat].console.name,
                     "bench", ready->seats[cell->seat].console.bench, "standing",
                     standing_name(standing->kind), "repeats", standing->repeats, "done", standing->done,
                     "passed", standing->passed, "rate",
                     standing->done > 0 ? json_real((double)standing->passed / standing->done) : json_null(),
                     "rate_low", standing->rate_low, "rate_high", standing->rate_high, "attempts",
                     standing->attempts, "retried", standing->retried, "runs", runs);
}

static json_t *consoles_json(const struct sweep_ready *ready) {
    json_t *consoles = json_array();
    for (size_t i = 0; i < ready->seat_count; i++) {
        const struct sweep_console *console = &ready->seats[i].console;
        json_array_append_new(
            consoles,
            json_pack("{s:s,s:s,s:s,s:s,s:s,s:s}", "name", console->name, "bench", console->bench, "standard",
                      standard_table[ready->cells[i * ready->wanted->plan_count].standard].name, "revision",
                      console->revision, "markings", console->markings, "modifications",
                      console->modifications));
    }
    return consoles;
}

json_t *sweep_json(const struct sweep_outcome *outcome) {
    const struct sweep_ready *ready = outcome->ready;
    const struct record_sweep *sweep = outcome->state->sweep;
    json_t *plans = json_array(), *standings = json_array();
    for (size_t i = 0; i < ready->wanted->plan_count; i++) {
        json_array_append_new(plans, json_string(ready->wanted->plans[i].name));
    }
    for (size_t i = 0; i < ready->cell_count; i++) {
        json_array_append_new(standings, cell_json(outcome, i));
    }
    return json_pack("{s:s,s:I,s:s,s:b,s:i,s:i,s:I,s:o,s:o,s:o,s:I,s:I,s:i}", "command", "sweep", "sweep",
                     (json_int_t)sweep->id, "name", sweep->name, "went_on", outcome->state->found, "repeats",
                     sweep->repeats, "retries", sweep->retries, "seed", (json_int_t)ready->seed, "plans",
                     plans, "consoles", consoles_json(ready), "standings", standings, "runs_asked",
                     (json_int_t)sweep->item_count, "runs_left", (json_int_t)outcome->left, "exit",
                     outcome->exit);
}
