/*
 * Plan `moments` on chips with random delays, the whole way: image, console model, a clean grabber with noise
 * at 30 dB, video alone. Each delay is recovered: within 0.1 clocks where no other delay draws the same
 * pictures, else as exactly the interval of those that do (tried out one by one on the chip's model). Then
 * two chips: the same one seen again with other noise is not told apart; one that differs in one phase of one
 * register, so that its pictures differ, is.
 *
 * The delays themselves are the model's: no chip was measured. SLOTJIG_SEED: the first seed. PROOF_RUNS: how
 * many chips (50).
 */
#include "commands/loop.h"
#include "proof/pool.h"
#include "verdict/moments_differ.h"
#include "verdict/moments_stand.h"

#include <math.h>
#include <stdlib.h>

enum { CHIPS = 50, DELAYS = MOMENT_REGISTERS * MOMENT_PHASES };
#define NOISE_DB 30

struct answer {
    int agrees, exact, widest; /* delays */
    double worst;              /* clocks away, of the exact ones */
    bool passes, same_alike, other_told, other_differs;
    uint64_t fields;
};

static uint64_t seed;

/* The chip seen once; false with a line on standard error. */
static bool measure(const struct tia_chip *chip, uint64_t noise_seed, struct moments *moments,
                    struct answer *answer) {
    struct virtual_options options;
    struct loop loop;
    virtual_defaults(STANDARD_NTSC, &options);
    options.faults.chip = *chip;
    options.seed = noise_seed;
    options.grabber.noise_db = NOISE_DB;
    loop_hold = LOOP_HOLD;
    bool good = loop_run(&loop, "moments", &options, NULL, NULL) && loop.session.result->moments != NULL;
    if (good) {
        *moments = *loop.session.result->moments;
        answer->passes = loop.session.result->verdict == VERDICT_PASS;
        answer->fields = loop.session.result->fields_seen;
        if (!answer->passes) {
            fprintf(stderr, "seed %llu: %s: %s\n", (unsigned long long)noise_seed,
                    verdict_name(loop.session.result->verdict), loop_findings(&loop));
        }
    } else {
        fprintf(stderr, "seed %llu: %s\n", (unsigned long long)noise_seed, loop.problem.text);
    }
    loop_end(&loop);
    return good;
}

/* The smallest of a set, a bit a clock. */
static int least(unsigned same) {
    return __builtin_ctz(same);
}

static void compare_delays(const struct moments_stand *stand, const struct moments *moments,
                           uint64_t chip_seed, struct answer *answer) {
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        for (int phase = 0; phase < MOMENT_PHASES; phase++) {
            const unsigned same = moments_stand_same(stand, (enum moment_register)reg, phase);
            const struct moment_delay *delay = &moments->delay[reg][phase];
            const bool right = moments_stand_agrees(delay, same);
            const int width = __builtin_popcount(same);
            answer->agrees += right;
            answer->widest = width > answer->widest ? width : answer->widest;
            if (width == 1) {
                answer->exact++;
                answer->worst = fmax(answer->worst, fabs(delay->clocks - least(same)));
            }
            if (!right) {
                fprintf(stderr, "chip %llu: %s phase %d: same pictures %#x, measured %s %.2f..%.2f\n",
                        (unsigned long long)chip_seed, moment_name((enum moment_register)reg), phase, same,
                        delay->known ? "known" : "unknown", delay->low, delay->high);
            }
        }
    }
}

static bool any(const struct moments_difference *difference) {
    return difference->delays + difference->windows + difference->moments > 0;
}

/* A delay of one register and phase that another one's pictures cannot be mistaken for. */
static bool change_one(struct moments_stand *stand, uint64_t chip_seed) {
    static const enum moment_register of[] = {MOMENT_REFLECT, MOMENT_PF0,    MOMENT_PF1,
                                              MOMENT_PF2,     MOMENT_COLUPF, MOMENT_COLUBK};
    const int which = (int)(chip_seed % 6), phase = (int)(chip_seed / 6 % MOMENT_PHASES);
    const unsigned same = moments_stand_same(stand, of[which], phase);
    for (int delay = 0; delay <= MOMENT_DELAY_MOST; delay++) {
        if ((same >> delay & 1) == 0) {
            stand->chip.delay[which][phase] = (uint8_t)delay;
            return true;
        }
    }
    return false;
}

static void run_piece(size_t index, void *out) {
    struct answer *answer = out;
    const uint64_t chip_seed = seed + index;
    struct moments_stand stand;
    struct moments *seen = calloc(3, sizeof *seen);
    struct moments_difference *difference = calloc(1, sizeof *difference);
    moments_stand_defaults(STANDARD_NTSC, &stand);
    moments_stand_random_chip(&stand, chip_seed);
    if (seen == NULL || difference == NULL || !measure(&stand.chip, chip_seed + 2000000, &seen[1], answer) ||
        !measure(&stand.chip, chip_seed + 1000000, &seen[0], answer)) {
        exit(3);
    }
    compare_delays(&stand, &seen[0], chip_seed, answer);
    moments_differ(&seen[0], &seen[1], difference);
    answer->same_alike = !any(difference);
    answer->other_differs = change_one(&stand, chip_seed);
    struct answer ignored = {0};
    if (!measure(&stand.chip, chip_seed + 3000000, &seen[2], &ignored)) {
        exit(3);
    }
    moments_differ(&seen[0], &seen[2], difference);
    answer->other_told = any(difference) || !answer->other_differs;
    free(difference);
    free(seen);
}

int main(void) {
    const char *told = getenv("SLOTJIG_SEED"), *few = getenv("PROOF_RUNS");
    seed = told != NULL ? strtoull(told, NULL, 10) : 1;
    const size_t chips = few != NULL ? strtoul(few, NULL, 10) : CHIPS;
    struct answer *answers = calloc(chips > 0 ? chips : 1, sizeof *answers), sum = {0};
    bool good = answers != NULL && chips > 0 && pool_run(chips, run_piece, answers, sizeof *answers);
    size_t passes = 0, alike = 0, apart = 0, changed = 0;
    for (size_t i = 0; good && i < chips; i++) {
        sum.agrees += answers[i].agrees;
        sum.exact += answers[i].exact;
        sum.worst = fmax(sum.worst, answers[i].worst);
        sum.widest = answers[i].widest > sum.widest ? answers[i].widest : sum.widest;
        passes += answers[i].passes;
        alike += answers[i].same_alike;
        changed += answers[i].other_differs;
        apart += answers[i].other_differs && answers[i].other_told;
    }
    good = good && sum.agrees == (int)chips * DELAYS && passes == chips && alike == chips && apart == changed;
    printf("Plan moments on %zu chips with random delays of 0 to %d clocks, noise at %d dB, seeds from %llu "
           "(SLOTJIG_SEED)\n\n"
           "| delays | recovered | of them exact | farthest off, clocks | widest interval | chips that pass "
           "| the "
           "same chip again: no difference | one phase changed: told |\n"
           "| ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n"
           "| %zu | %d | %d | %.3f | %d | %zu of %zu | %zu of %zu | %zu of %zu |\n",
           chips, MOMENT_DELAY_MOST, NOISE_DB, (unsigned long long)seed, chips * DELAYS, sum.agrees,
           sum.exact, sum.worst, sum.widest, passes, chips, alike, chips, apart, changed);
    printf("\nmoments: %s\n", good ? "as asked" : "NOT as asked");
    free(answers);
    return good ? 0 : 1;
}
