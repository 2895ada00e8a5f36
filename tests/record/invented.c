#include "record/invented.h"

#include "expect/expect.h"
#include "plan/plan_text.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { DAY_MS = 86400000, NAME_SIZE = 32 };
#define FIRST_MS 1767225600000 /* 2026-01-01T00:00Z */

/* All of an invented shelf that is owned by it. */
struct shelf {
    struct invented invented;
    struct plan *source;
    char *text;
    struct record_plan_step *steps;
    struct record_item *items;
    struct record_run *runs;
    struct step_result *results;
    struct finding *findings;
    char (*names)[NAME_SIZE];
};

double invented_uniform(uint64_t *state) {
    *state += 0x9E3779B97F4A7C15u; /* SplitMix64 */
    uint64_t z = *state;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

double invented_normal(uint64_t *state) {
    double sum = -6;
    for (int i = 0; i < 12; i++) {
        sum += invented_uniform(state);
    }
    return sum;
}

static void *need(size_t count, size_t size) {
    void *memory = calloc(count > 0 ? count : 1, size);
    assert(memory != NULL);
    return memory;
}

static void make_plan(struct shelf *shelf, int steps) {
    struct problem problem;
    struct record_plan *plan = &shelf->invented.plan;
    const bool opened = plan_open("bits", STANDARD_NTSC, &shelf->source, &problem);
    assert(opened && steps >= 1);
    shelf->text = plan_text(shelf->source);
    shelf->steps = need((size_t)steps, sizeof *shelf->steps);
    *plan = (struct record_plan){.name = "bits",
                                 .text = shelf->text,
                                 .standard = STANDARD_NTSC,
                                 .kind = PLAN_STEPS,
                                 .step_count = (size_t)steps,
                                 .steps = shelf->steps};
    snprintf(plan->id, sizeof plan->id, "%064d", steps);
    for (int i = 0; i < steps; i++) {
        const struct step *step = &shelf->source->steps[(size_t)i % shelf->source->step_count];
        struct record_plan_step *to = &shelf->steps[i];
        struct expectation expectation;
        expect_step(step, standard_plan_lines(STANDARD_NTSC), &expectation);
        *to = (struct record_plan_step){.name = step->name,
                                        .mode = step_mode(step),
                                        .expected = expectation.lit[0],
                                        .sure = expectation.sure[0],
                                        .bands = 1};
        step_registers(step, to->registers);
    }
}

static struct cell_colour colour(uint64_t *state, double level) {
    return (struct cell_colour){.count = 1000,
                                .level = level + 0.003 * invented_normal(state),
                                .cb = 0.4 * invented_normal(state),
                                .cr = 0.4 * invented_normal(state)};
}

/* stuck: cells that never light; 0: a good console. Returns whether the step failed. */
static bool make_step(const struct record_plan_step *plan, uint64_t stuck, uint64_t *state,
                      struct step_result *step) {
    *step = (struct step_result){.verdict = VERDICT_PASS,
                                 .fields = 2,
                                 .margin = 0.85 + 0.01 * invented_normal(state),
                                 .expected = plan->expected,
                                 .sure = plan->sure,
                                 .seen = plan->expected & ~stuck,
                                 .offset = 0.01 * invented_normal(state),
                                 .wrong_line = -1,
                                 .lit_colour = colour(state, 1),
                                 .dark_colour = colour(state, 0)};
    if (((step->seen ^ step->expected) & step->sure) == 0) {
        return false;
    }
    step->verdict = VERDICT_FAIL;
    step->failed = 2;
    step->wrong_line = 0;
    return true;
}

static void make_run(struct shelf *shelf, int index, int console, int repeat, uint64_t *state) {
    struct invented *invented = &shelf->invented;
    const size_t steps = invented->plan.step_count;
    struct record_run *run = &shelf->runs[index];
    struct step_result *results = &shelf->results[(size_t)index * steps];
    const uint64_t stuck = console % 7 == 6 ? 1ull << (console % 20) : 0;
    bool failed = false;
    double margin = 1;
    for (size_t i = 0; i < steps; i++) {
        failed |= make_step(&shelf->steps[i], stuck, state, &results[i]);
        margin = results[i].margin < margin ? results[i].margin : margin;
    }
    *run =
        (struct record_run){.started_ms = FIRST_MS + (int64_t)repeat * DAY_MS + console * 60000,
                            .took_ms = 6543,
                            .minutes_on = 20 + 2 * invented_normal(state),
                            .station = "bench room",
                            .bench = "table",
                            .console = shelf->items[index].console,
                            .cartridge = {"usb", "0123456789ABCDEF", "0.2"},
                            .tool = "0.1.0",
                            .plan = &invented->plan,
                            .image_hash = 0x1234,
                            .settings = "{\"hold\": 4}",
                            .seed = (uint64_t)index,
                            .has_seed = true,
                            .command = "run",
                            .attempt = 1,
                            .end = failed ? RECORD_FAIL : RECORD_PASS,
                            .exit = failed ? 1 : 0,
                            .margin = margin,
                            .fields_seen = 4 * steps,
                            .fields_judged = 2 * steps,
                            .noise_db = 34,
                            .has_raster = true,
                            .raster = {.left = 74, .top = 20, .clock_width = 3.77, .black = 16, .white = 235},
                            .frame_lines = 2,
                            .problem = "",
                            .step_count = steps,
                            .steps = results};
    if (failed) {
        struct finding *finding = &shelf->findings[index];
        *finding = (struct finding){.kind = FINDING_BIT_STUCK_LOW,
                                    .reg = REG_PF1,
                                    .bit = 3,
                                    .rate = 1,
                                    .rate_low = 1,
                                    .rate_high = 1};
        snprintf(finding->text, sizeof finding->text, "invented: cell %d never lights", console % 20);
        snprintf(finding->next, sizeof finding->next, "invented: nothing");
        run->finding_count = 1;
        run->findings = finding;
    }
}

struct invented *invented_new(uint64_t seed, int consoles, int steps, int repeats) {
    const size_t runs = (size_t)consoles * (size_t)repeats;
    struct shelf *shelf = need(1, sizeof *shelf);
    uint64_t state = seed;
    make_plan(shelf, steps);
    shelf->items = need(runs, sizeof *shelf->items);
    shelf->runs = need(runs, sizeof *shelf->runs);
    shelf->results = need(runs * (size_t)steps, sizeof *shelf->results);
    shelf->findings = need(runs, sizeof *shelf->findings);
    shelf->names = need((size_t)consoles, sizeof *shelf->names);
    shelf->invented.runs = (struct record_list){runs, need(runs, sizeof(struct record_run *))};
    shelf->invented.sweep = (struct record_sweep){.name = "invented shelf",
                                                  .definition = "invented",
                                                  .started_ms = FIRST_MS,
                                                  .repeats = repeats,
                                                  .item_count = runs,
                                                  .items = shelf->items};
    for (int console = 0, index = 0; console < consoles; console++) {
        snprintf(shelf->names[console], sizeof shelf->names[console], "shelf %02d", console + 1);
        for (int repeat = 1; repeat <= repeats; repeat++, index++) {
            shelf->items[index] = (struct record_item){
                .plan = "bits",
                .console = {shelf->names[console], console % 2 == 0 ? "A" : "B", "invented markings", ""},
                .bench = "table",
                .repeat = repeat};
            make_run(shelf, index, console, repeat, &state);
            shelf->invented.runs.runs[index] = &shelf->runs[index];
        }
    }
    return &shelf->invented;
}

void invented_free(struct invented *invented) {
    struct shelf *shelf = (struct shelf *)(void *)invented; /* its first member */
    plan_free(shelf->source);
    free(shelf->text);
    free(shelf->steps);
    free(shelf->items);
    free(shelf->runs);
    free(shelf->results);
    free(shelf->findings);
    free(shelf->names);
    free(invented->runs.runs);
    free(shelf);
}
