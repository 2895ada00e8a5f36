/*
 * Plan `every` against random faults: the number of wrong pictures that the tool reports is the number that
 * arithmetic over all 2^20 values says. Each run breaks one to three of the 20 positions of the serial
 * output: stuck low or high, or showing another position's bit, or the AND or OR with one. A position is
 * drawn in both halves and in both modes, so a value is wrong in both or in none [A: H TIA 1A, serial output
 * table].
 *
 * Prints a table; ends with 1 when anything asked did not come out. SLOTJIG_SEED: the first seed.
 * PROOF_FAULTS: how many (200).
 */
#include "commands/loop.h"
#include "proof/pool.h"

#include <stdlib.h>
#include <string.h>

enum { FAULTS = 200, PARTS_MAX = 3, POSITIONS = 20, ALL = 1 << POSITIONS, KINDS = 5 };

enum part_kind { LOW, HIGH, COUPLE, AND, OR };
static const char *const spelling[KINDS] = {"bit-low", "bit-high", "couple", "and", "or"};

struct part {
    enum part_kind kind;
    int at, from; /* positions */
};

struct piece {
    int count;
    struct part part[PARTS_MAX];
    uint64_t seed;
    char text[PARTS_MAX][64];
};

struct answer {
    uint64_t seen, of, wrong, open, fields;
    enum verdict verdict;
    int named; /* findings that say more than counts */
    char finding[320];
};

static struct piece *pieces;

static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

/* [H TIA 1A, serial output table]: PF0 D4-D7, PF1 D7-D0, PF2 D0-D7 */
static void position_text(int position, char text[16]) {
    const int reg = position < 4 ? 0 : position < 12 ? 1 : 2;
    const int bit = position < 4 ? position + 4 : position < 12 ? 11 - position : position - 12;
    snprintf(text, 16, "PF%d.%d", reg, bit);
}

static void make_piece(struct piece *piece, uint64_t seed) {
    uint64_t random = seed;
    piece->seed = seed;
    piece->count = 1 + (int)(next_random(&random) % PARTS_MAX);
    for (int i = 0; i < piece->count; i++) {
        struct part *part = &piece->part[i];
        char at[16], from[16];
        bool again;
        do {
            part->at = (int)(next_random(&random) % POSITIONS);
            again = false;
            for (int j = 0; j < i; j++) {
                again |= piece->part[j].at == part->at;
            }
        } while (again);
        part->kind = (enum part_kind)(next_random(&random) % KINDS);
        part->from = (part->at + 1 + (int)(next_random(&random) % (POSITIONS - 1))) % POSITIONS;
        position_text(part->at, at);
        position_text(part->from, from);
        snprintf(piece->text[i], sizeof piece->text[i], part->kind < COUPLE ? "%s=%s" : "%s=%s:%s",
                 spelling[part->kind], at, from);
    }
}

static int shown(const struct part *part, uint32_t value) {
    const int own = (int)(value >> part->at & 1), other = (int)(value >> part->from & 1);
    switch (part->kind) {
    case LOW:
        return 0;
    case HIGH:
        return 1;
    case COUPLE:
        return other;
    case AND:
        return own & other;
    default:
        return own | other;
    }
}

/* Values are counted by the serial output's positions: which register's bit that is does not matter for how
 * many there are. */
static uint64_t wrong_pictures(const struct piece *piece) {
    uint64_t wrong = 0;
    for (uint32_t value = 0; value < ALL; value++) {
        bool bad = false;
        for (int i = 0; i < piece->count; i++) {
            bad |= shown(&piece->part[i], value) != (int)(value >> piece->part[i].at & 1);
        }
        wrong += bad;
    }
    return 2 * wrong;
}

static void run_piece(size_t index, void *out) {
    const struct piece *piece = &pieces[index];
    struct answer *answer = out;
    struct virtual_options options;
    struct problem problem;
    struct loop loop;
    virtual_defaults(STANDARD_NTSC, &options);
    options.seed = piece->seed;
    for (int i = 0; i < piece->count; i++) {
        if (!virtual_add_fault(&options, piece->text[i], &problem)) {
            fprintf(stderr, "%s\n", problem.text);
            exit(3);
        }
    }
    loop_hold = 1;
    if (!loop_run(&loop, "every", &options, NULL, NULL)) {
        fprintf(stderr, "seed %llu: %s\n", (unsigned long long)piece->seed, loop.problem.text);
        exit(3);
    }
    const struct result *result = loop.session.result;
    *answer = (struct answer){.seen = result->coverage.seen,
                              .of = result->coverage.of,
                              .wrong = result->coverage.wrong,
                              .open = result->coverage.open,
                              .fields = result->fields_seen,
                              .verdict = result->verdict};
    for (size_t i = 0; i < result->finding_count; i++) {
        answer->named += result->findings[i].kind != FINDING_UNEXPLAINED;
    }
    if (result->finding_count > 0) {
        snprintf(answer->finding, sizeof answer->finding, "%s", result->findings[0].text);
    }
    loop_end(&loop);
}

int main(void) {
    const char *told = getenv("SLOTJIG_SEED"), *few = getenv("PROOF_FAULTS");
    const uint64_t seed = told != NULL ? strtoull(told, NULL, 10) : 1;
    const size_t count = few != NULL ? strtoul(few, NULL, 10) : FAULTS;
    struct answer *answers = calloc(count, sizeof *answers);
    pieces = calloc(count, sizeof *pieces);
    if (answers == NULL || pieces == NULL || count == 0) {
        return 3;
    }
    for (size_t i = 0; i < count; i++) {
        make_piece(&pieces[i], seed + i);
    }
    printf(
        "Plan every against random faults, free-running, a clean grabber, seeds from %llu (SLOTJIG_SEED)\n\n",
        (unsigned long long)seed);
    bool good = pool_run(count, run_piece, answers, sizeof *answers);
    size_t exact = 0, named = 0, whole = 0;
    uint64_t fields = 0, most = 0;
    for (size_t i = 0; i < count; i++) {
        const struct piece *piece = &pieces[i];
        const uint64_t asked = wrong_pictures(piece);
        const bool right = answers[i].wrong == asked && answers[i].open == 0;
        const bool all = answers[i].seen == answers[i].of && answers[i].of == 2 * ALL;
        exact += right;
        whole += all;
        named += answers[i].named > 0;
        fields += answers[i].fields;
        most = answers[i].fields > most ? answers[i].fields : most;
        if (!right || !all || answers[i].verdict != VERDICT_FAIL || answers[i].named == 0) {
            good = good && right && all && answers[i].verdict == VERDICT_FAIL;
            printf("seed %llu: %s %s %s: arithmetic %llu, reported %llu wrong, %llu open, %llu of %llu seen, "
                   "%s: %s\n",
                   (unsigned long long)piece->seed, piece->text[0], piece->text[1], piece->text[2],
                   (unsigned long long)asked, (unsigned long long)answers[i].wrong,
                   (unsigned long long)answers[i].open, (unsigned long long)answers[i].seen,
                   (unsigned long long)answers[i].of, verdict_name(answers[i].verdict), answers[i].finding);
        }
    }
    printf("| faults | exact number | all 2,097,152 seen | with a rule | fields, mean | most |\n"
           "| ---: | ---: | ---: | ---: | ---: | ---: |\n| %zu | %zu | %zu | %zu | %.0f | %llu |\n",
           count, exact, whole, named, (double)fields / (double)count, (unsigned long long)most);
    printf("\nevery: %s\n", good && exact == count && whole == count ? "as asked" : "NOT as asked");
    free(answers);
    free(pieces);
    return good && exact == count && whole == count ? 0 : 1;
}
