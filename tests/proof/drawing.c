/*
 * Plan `drawing` over random pictures (tests/plan/sketch.h), on the virtual bench with 30 dB of noise. Asked:
 * every picture that can be drawn passes; with one bit of one table wrong it fails at that very line; on no
 * kind of grabber is a good one failed; and a console without a window for a register refuses exactly the
 * rows that need it. SLOTJIG_SEED; PROOF_PICTURES (200).
 */
#include "plan/drawing.h"
#include "commands/loop.h"
#include "plan/sketch.h"
#include "pool.h"
#include "rom/rows.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { PICTURES = 200, SETS_EACH = 10, NOISE_DB = 30 };

struct outcome {
    bool drawn, right;
    enum verdict verdict;
    double margin;
    char why[200];
};

static uint64_t first_seed = 1;

static void temporary(char path[64]) {
    snprintf(path, 64, "/tmp/slotjig-drawing-%ld.txt", (long)getpid());
}

static bool make_plan(const struct sketch *sketch, enum standard standard,
                      const struct write_windows *windows, struct plan **plan, struct problem *problem) {
    char path[64];
    temporary(path);
    const bool good = sketch_write(sketch, path) && drawing_plan(path, standard, windows, plan, problem);
    unlink(path);
    return good;
}

static enum standard standard_of(uint64_t seed) {
    return (enum standard)(seed % STANDARD_COUNT);
}

/* ---- good pictures, and grabbers ---- */

static size_t set_count(void) {
    size_t count = 0;
    while (virtual_sets[count].name != NULL) {
        count++;
    }
    return count;
}

static void run_good(uint64_t seed, const char *set, struct outcome *outcome) {
    struct sketch sketch;
    struct write_windows windows;
    struct virtual_options options;
    struct plan *plan = NULL;
    struct loop loop = {0};
    const enum standard standard = set == NULL ? standard_of(seed) : STANDARD_NTSC;
    sketch_make(&sketch, seed, standard);
    windows_handbook(&windows);
    virtual_defaults(standard, &options);
    options.seed = seed;
    options.grabber.noise_db = NOISE_DB;
    if (set != NULL && !virtual_use_set(&options, set, &loop.problem)) {
        return;
    }
    outcome->drawn = make_plan(&sketch, standard, &windows, &plan, &loop.problem) &&
                     loop_run_plan(&loop, plan, &options, NULL, NULL);
    if (outcome->drawn) {
        outcome->verdict = loop.session.result->verdict;
        outcome->margin = loop.session.result->margin;
    }
    snprintf(outcome->why, sizeof outcome->why, "%.190s",
             outcome->drawn ? loop_findings(&loop) : loop.problem.text);
    loop_end(&loop);
}

static void good_picture(size_t index, void *result) {
    run_good(first_seed + index, NULL, result);
}

static void on_a_set(size_t index, void *result) {
    run_good(first_seed + 10000 + index, virtual_sets[index % set_count()].name, result);
}

/* ---- one bit wrong ---- */

static uint64_t patch_seed;
static int patched_line;

/* A bit that draws: D4-D7 of PF0, any of PF1 and PF2 [H TIA 1A]. */
static void patch(struct loop *loop) {
    struct rows *rows = malloc(sizeof *rows);
    uint64_t random = patch_seed;
    patched_line = -1;
    for (int tries = 0; tries < 100 && rows != NULL && rows_of(loop->plan, rows) && patched_line < 0;
         tries++) {
        const int store = (int)(sketch_random(&random) % (uint64_t)rows->schedule.count);
        const enum reg reg = rows->wanted[rows->schedule.stores[store].wanted].reg;
        const size_t size = (size_t)rows->lines + 1, at = 1 + sketch_random(&random) % (size - 1);
        const int bit =
            reg == REG_PF0 ? 4 + (int)(sketch_random(&random) % 4) : (int)(sketch_random(&random) % 8);
        uint8_t *table = memmem(loop->image->bytes, loop->image->size, rows->table[store], size);
        const bool playfield = reg == REG_PF0 || reg == REG_PF1 || reg == REG_PF2;
        if (playfield && table != NULL && rows_table_place(rows, store) == store) {
            table[at] ^= (uint8_t)(1 << bit);
            patched_line = rows->from + rows->lines - (int)at;
        }
    }
    free(rows);
}

static void one_bit(size_t index, void *result) {
    struct outcome *outcome = result;
    struct sketch sketch;
    struct write_windows windows;
    struct virtual_options options;
    struct plan *plan = NULL;
    struct loop loop = {0};
    const uint64_t seed = first_seed + 20000 + index;
    sketch_make(&sketch, seed, standard_of(seed));
    windows_handbook(&windows);
    virtual_defaults(standard_of(seed), &options);
    options.seed = seed;
    options.grabber.noise_db = NOISE_DB;
    patch_seed = seed;
    loop_patch = patch;
    outcome->drawn = make_plan(&sketch, standard_of(seed), &windows, &plan, &loop.problem) &&
                     loop_run_plan(&loop, plan, &options, NULL, NULL) && patched_line >= 0;
    if (outcome->drawn) {
        outcome->verdict = loop.session.result->verdict;
        outcome->right =
            outcome->verdict == VERDICT_FAIL && loop.session.result->steps[0].wrong_line == patched_line;
        snprintf(outcome->why, sizeof outcome->why, "%s, line %d, patched %d", verdict_name(outcome->verdict),
                 loop.session.result->steps[0].wrong_line, patched_line);
    }
    loop_end(&loop);
}

/* ---- what cannot be drawn ---- */

static void refused(size_t index, void *result) {
    struct outcome *outcome = result;
    struct sketch sketch;
    struct write_windows windows;
    struct plan *plan = NULL;
    struct problem problem = {0};
    bool bad[PICTURE_LINES_MAX];
    char rows[700], where[760], what[32];
    const uint64_t seed = first_seed + 30000 + index;
    const int reg = (int)(seed % 3);
    sketch_make_bad(&sketch, bad, reg, seed);
    windows_handbook(&windows);
    windows.window[MOMENT_PF0 + reg][0][HALF_RIGHT] = (struct write_window){.exists = false, .first = 9};
    outcome->drawn = make_plan(&sketch, STANDARD_NTSC, &windows, &plan, &problem);
    sketch_rows_text(bad, sketch.rows, rows);
    snprintf(where, sizeof where, "row%s %s need", strpbrk(rows, ",-") == NULL ? "" : "s", rows);
    snprintf(what, sizeof what, "PF%d rewritten in mid-line", reg);
    outcome->right =
        !outcome->drawn && strstr(problem.text, where) != NULL && strstr(problem.text, what) != NULL;
    snprintf(outcome->why, sizeof outcome->why, "%.190s", problem.text);
    plan_free(plan);
}

/* ---- the table ---- */

typedef bool (*fine)(const struct outcome *outcome);

static bool is_pass(const struct outcome *outcome) {
    return outcome->drawn && outcome->verdict == VERDICT_PASS;
}

static bool is_not_failed(const struct outcome *outcome) {
    return outcome->drawn && outcome->verdict != VERDICT_FAIL;
}

static bool is_right(const struct outcome *outcome) {
    return outcome->right;
}

static bool part(const char *name, size_t count, pool_work work, fine good, uint64_t seed) {
    struct outcome *outcomes = calloc(count, sizeof *outcomes);
    size_t fit = 0, open = 0;
    double margin = 1;
    if (outcomes == NULL || !pool_run(count, work, outcomes, sizeof *outcomes)) {
        printf("drawing: %s: a process ended early\n", name);
        free(outcomes);
        return false;
    }
    for (size_t i = 0; i < count; i++) {
        fit += good(&outcomes[i]);
        open += outcomes[i].drawn && outcomes[i].verdict == VERDICT_INCONCLUSIVE;
        if (is_pass(&outcomes[i]) && outcomes[i].margin < margin) {
            margin = outcomes[i].margin;
        }
        if (!good(&outcomes[i])) {
            printf("%s, seed %llu: %s\n", name, (unsigned long long)(seed + i), outcomes[i].why);
        }
    }
    printf("| %s | %zu | %zu | %zu | %.2f |\n", name, fit, count, open, margin);
    free(outcomes);
    return fit == count;
}

int main(void) {
    const char *told = getenv("SLOTJIG_SEED"), *many = getenv("PROOF_PICTURES");
    const size_t pictures = many != NULL && atoi(many) > 0 ? (size_t)atoi(many) : PICTURES;
    first_seed = told != NULL ? strtoull(told, NULL, 10) : 1;
    printf(
        "Drawings, %zu pictures from seed %llu (SLOTJIG_SEED, PROOF_PICTURES), %d dB\n\n"
        "| asked | so | of | inconclusive | least margin of a pass |\n| --- | ---: | ---: | ---: | ---: |\n",
        pictures, (unsigned long long)first_seed, NOISE_DB);
    bool good = part("passes", pictures, good_picture, is_pass, first_seed);
    good = part("one table bit wrong: fails at its line", pictures, one_bit, is_right, first_seed + 20000) &&
           good;
    good = part("the right rows refused", pictures, refused, is_right, first_seed + 30000) && good;
    const size_t on_sets = set_count() * (pictures < PICTURES ? 1 : SETS_EACH);
    good =
        part("no false fail on any kind of grabber", on_sets, on_a_set, is_not_failed, first_seed + 10000) &&
        good;
    return good ? 0 : 1;
}
