/*
 * Plan `every` with fields lost on the way: 5 % at random, and 200 in a burst. All 2,097,152 pictures are
 * seen all the same; with the mailbox (slotjig run on the virtual bench, which has a board) in at most the
 * fields that arithmetic asks for plus 10 %, free-running (a plain cartridge) in at most four rounds.
 *
 * Arithmetic [A]: of each field shown a share p is lost, so N fields that must be seen take N / (1 - p), and
 * the burst that many more. Free-running each base comes once a round whatever was lost: after four rounds
 * 12,484 p^4 = 0.078 bases are still to be expected, so that one run in 13 takes a fifth, and no tool could
 * do anything about it. So it is all runs that must see all pictures, and as many as chance allows (99 %)
 * within four rounds.
 *
 * SLOTJIG_SEED: the first seed; PROOF_RUNS: how many of each (12).
 */
#include "commands/loop.h"
#include "proof/pool.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The slates' counter counts modulo 64, so of the burst only 200 - 3 * 64 fields show in `lost`. */
enum { UNCOUNTED = 192 };
enum { RUNS = 12, ROUND = 12484, BURST = 200, AT = 5000, ROUNDS_ASKED = 4 };
#define DROP 0.05

struct answer {
    json_int_t seen, of, wrong, open, shown; /* shown: of the console's fields, lost ones included */
    int status;
};

static uint64_t seed;

static json_int_t number(const json_t *json, const char *object, const char *key) {
    return json_integer_value(json_object_get(json_object_get(json, object), key));
}

static void by_mailbox(size_t index, void *out) {
    struct answer *answer = out;
    char command[512];
    snprintf(command, sizeof command,
             "'%s/slotjig' run --no-record --bench virtual --plan every --seed %llu --impair drop=%g "
             "--impair burst=%d:%d "
             "--quiet --json -",
             BUILD_DIR, (unsigned long long)(seed + index), DROP, AT, BURST);
    FILE *pipe = popen(command, "r");
    json_t *json = pipe != NULL ? json_loadf(pipe, 0, NULL) : NULL;
    answer->status = pipe != NULL ? pclose(pipe) : -1;
    answer->seen = number(json, "coverage", "seen");
    answer->of = number(json, "coverage", "of");
    answer->open = number(json, "coverage", "open");
    answer->wrong = number(json, "wrong", "pictures");
    const json_t *fields = json_object_get(json_object_get(json, "capture"), "fields");
    answer->shown = json_integer_value(json_object_get(fields, "fresh")) +
                    json_integer_value(json_object_get(fields, "lost")) + UNCOUNTED;
    json_decref(json);
}

static void free_running(size_t index, void *out) {
    struct answer *answer = out;
    struct virtual_options options;
    struct loop loop;
    char burst[64];
    virtual_defaults(STANDARD_NTSC, &options);
    options.seed = seed + index;
    snprintf(burst, sizeof burst, "burst=%d:%d", AT, BURST);
    loop_hold = 1;
    if (!virtual_add_impairment(&options, "drop=0.05", &loop.problem) ||
        !virtual_add_impairment(&options, burst, &loop.problem) ||
        !loop_run(&loop, "every", &options, NULL, NULL)) {
        fprintf(stderr, "%s\n", loop.problem.text);
        exit(3);
    }
    const struct result *result = loop.session.result;
    const struct frames_facts *facts = frames_facts(loop.session.frames);
    *answer = (struct answer){.seen = (json_int_t)result->coverage.seen,
                              .of = (json_int_t)result->coverage.of,
                              .wrong = (json_int_t)result->coverage.wrong,
                              .open = (json_int_t)result->coverage.open,
                              .shown = (json_int_t)(facts->fresh + facts->lost) + UNCOUNTED};
    loop_end(&loop);
}

/* Fewest of `runs` within four rounds that chance leaves with 99 %: a binomial [A]. */
static int least_within(int runs) {
    const double each = exp(-ROUND * pow(DROP, ROUNDS_ASKED));
    double at_most = 0, exactly = pow(1 - each, runs);
    for (int within = 0; within < runs; within++) {
        at_most += exactly;
        if (at_most > 0.01) {
            return within;
        }
        exactly *= (double)(runs - within) / (within + 1) * each / (1 - each);
    }
    return runs;
}

static bool part(const char *name, pool_work work, int runs, double most, int least) {
    struct answer *answers = calloc((size_t)runs, sizeof *answers);
    bool good = answers != NULL && pool_run((size_t)runs, work, answers, sizeof *answers);
    int within = 0;
    for (int i = 0; good && i < runs; i++) {
        const struct answer *answer = &answers[i];
        const bool all = answer->status == 0 && answer->seen == answer->of && answer->of == 1 << 21 &&
                         answer->wrong == 0 && answer->open == 0;
        within += (double)answer->shown <= most;
        printf("| %s | %llu | %lld | %lld | %lld | %lld | %.0f | %s |\n", name,
               (unsigned long long)seed + (unsigned)i, (long long)answer->seen, (long long)answer->wrong,
               (long long)answer->open, (long long)answer->shown, most,
               !all                            ? "NOT ALL"
               : (double)answer->shown <= most ? "yes"
                                               : "more");
        good = good && all;
    }
    printf("| %s, within | %d of %d | | | | | at least %d | %s |\n", name, within, runs, least,
           within >= least ? "yes" : "NO");
    free(answers);
    return good && within >= least;
}

int main(void) {
    const char *told = getenv("SLOTJIG_SEED"), *few = getenv("PROOF_RUNS");
    seed = told != NULL ? strtoull(told, NULL, 10) : 1;
    const int runs = few != NULL ? atoi(few) : RUNS;
    const double arithmetic = ROUND / (1 - DROP) + BURST;
    printf("Plan every, %.0f %% of fields lost at random and %d from field %d on; arithmetic asks for %.0f "
           "fields\n\n| way | seed | seen | wrong | open | console's fields | at most | as asked |\n"
           "| --- | ---: | ---: | ---: | ---: | ---: | ---: | --- |\n",
           DROP * 100, BURST, AT, arithmetic);
    bool good = part("mailbox", by_mailbox, runs, arithmetic * 1.1, runs);
    good &= part("free-running", free_running, runs, (double)ROUNDS_ASKED * ROUND, least_within(runs));
    printf("\nlosses: %s\n", good ? "as asked" : "NOT as asked");
    return good ? 0 : 1;
}
