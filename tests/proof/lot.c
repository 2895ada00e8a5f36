/*
 * A lot of virtual cartridges (500) with 5 % of planted faults, tested by `slotjig ship` in a console and on
 * a reader: every one caught and named, none of the good ones failed, and the lot's page holds exactly the
 * planted numbers. The store, page and JSON stay in build/proof/lot.
 *
 * SLOTJIG_SEED: the seed (1); PROOF_RUNS: how many cartridges.
 */
#include "commands/lots.h"
#include "proof/pool.h"

#include <sys/stat.h>

enum { COUNT = 500, SHARE = 20 /* one in so many */ };

int main(void) {
    const char *seed = getenv("SLOTJIG_SEED"), *runs = getenv("PROOF_RUNS"), *out = getenv("PROOF_OUT");
    const int wanted = runs != NULL ? atoi(runs) : COUNT, count = wanted < SHARE ? SHARE : wanted;
    char folder[500], line[600];
    snprintf(folder, sizeof folder, "%s/lot", out != NULL ? out : ".");
    snprintf(line, sizeof line, "rm -rf '%s'", folder);
    if (system(line) != 0 || mkdir(folder, 0755) != 0) { /* NOLINT(cert-env33-c): the proof's own words */
        fprintf(stderr, "%s cannot be made\n", folder);
        return 1;
    }
    const struct lots_order order = {.folder = folder,
                                     .count = count,
                                     .faulty = (count + SHARE / 2) / SHARE,
                                     .seed = seed != NULL ? strtoull(seed, NULL, 10) : 1,
                                     .jobs = pool_jobs()};
    const int wrong = lots_test(&order, stdout);
    printf("%d not as it should be\n", wrong);
    return wrong > 0;
}
