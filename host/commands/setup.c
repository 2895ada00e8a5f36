#include "commands/setup.h"

#include "base/output.h"
#include "commands/outcome.h"
#include "plan/plan_text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

bool setup_plan(const struct options *options, enum standard standard, struct plan **plan,
                struct problem *problem) {
    return plan_open(options->plan == NULL ? "bits" : options->plan, standard, plan, problem);
}

int setup_watched_hold(enum standard standard) {
    enum { CHANGES_A_SECOND = 3 };
    double fields = standard_table[standard].clock_hz / (LINE_CLOCKS * standard_lines(standard));
    return (int)ceil(fields / CHANGES_A_SECOND);
}

static bool find_bench(struct setup *setup, const struct options *options, struct problem *problem) {
    struct bench_settings *bench = &setup->bench;
    if (!bench_find(options->bench == NULL ? "virtual" : options->bench, options->benches, options->standard,
                    options->standard_given, bench, problem)) {
        return false;
    }
    if (options->seed_given) {
        bench->options.seed = options->seed;
    }
    if (options->noise_given) {
        bench->options.grabber.noise_db = options->noise;
    }
    if (options->screen != NULL) {
        bench->watched = strcmp(options->screen, "watched") == 0;
    }
    for (int i = 0; i < options->fault_count; i++) {
        if (!virtual_add_fault(&bench->options, options->faults[i], problem)) {
            return false;
        }
    }
    return true;
}

bool setup_hold(enum standard standard, bool watched, const struct options *options, int *hold,
                struct problem *problem) {
    int least = setup_watched_hold(standard);
    if (options->hold == 0) {
        double fields = standard_table[standard].clock_hz / (LINE_CLOCKS * standard_lines(standard));
        *hold = options->by_eye ? (int)ceil(fields * HOLD_BY_EYE_SECONDS) : watched ? least : HOLD_UNWATCHED;
        return true;
    }
    *hold = options->hold;
    if (watched && options->hold < least) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "--hold %d: on a watched screen a step is shown at least %d fields (three large changes a second "
            "at the most, for viewers who are sensitive to flashing); say --screen none if nobody is "
            "watching",
            options->hold, least);
    }
    return true;
}

bool setup_make(struct setup *setup, const struct options *options, struct problem *problem) {
    if (!find_bench(setup, options, problem) ||
        !setup_hold(setup->bench.options.standard, setup->bench.watched, options, &setup->hold, problem) ||
        !setup_plan(options, setup->bench.options.standard, &setup->plan, problem)) {
        return false;
    }
    struct rom_options rom = {.hold = setup->hold, .size = options->size};
    return rom_build(setup->plan, &rom, &setup->image, problem);
}

void setup_free(struct setup *setup) {
    if (setup->image != NULL) {
        rom_free(setup->image);
    }
    if (setup->plan != NULL) {
        plan_free(setup->plan);
    }
    *setup = (struct setup){0};
}

bool setup_open_video(const struct setup *setup, struct video_source *source, struct problem *problem) {
    return virtual_open(&setup->bench.options, setup->image->bytes, setup->image->size, source, problem);
}

bool setup_write_plan(const struct setup *setup, const char *folder, struct problem *problem) {
    char path[4096];
    char *text = plan_text(setup->plan);
    if (text == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory for the plan file", folder);
    }
    bool good = outcome_path(folder, "plan.ini", path, sizeof path, problem) &&
                output_write(path, text, strlen(text), problem);
    free(text);
    return good;
}
