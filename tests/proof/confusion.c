/*
 * Every fault that a console's chips can have on this bench, at every position, on every named set of
 * impairments: is it found, under its right name? And every pair of stuck playfield bits on the clean set.
 * Asked: all.
 *
 * Prints one confusion matrix over all sets (what was broken by what was named first), the misses one by one,
 * and draws the matrix to $PROOF_OUT/confusion.png. Ends with 1 when anything asked did not come out.
 * SLOTJIG_SEED.
 */
#include "commands/promise.h"
#include "proof/hold.h"
#include "proof/pool.h"
#include "report/canvas.h"
#include "report/png.h"

enum {
    FAULTS_ROOM = 400,
    SETS_ROOM = 40,
    CLASSES_MAX = 24,
    NAMES_MAX = FINDING_KINDS + 1,
    NOTHING = FINDING_KINDS,
    BITS = 20,
    PAIRS = BITS * (BITS - 1) / 2 * 4
};

static char faults[FAULTS_ROOM][64];
static size_t fault_count, set_count;
static uint64_t first_seed;

struct answer {
    int named; /* first finding's kind, or NOTHING */
    bool kept;
    bool inconclusive; /* told so, where a finding was asked: no wrong name, and no right one */
    char findings[400];
};

/* ---- single faults by sets ---- */

/* What breaks the slot, the supply or the grabber leaves no picture to name it by: the slot watch's tests
 * have those. */
static bool is_of_the_chip(const char *fault) {
    static const char *const chip[] = {"bit-", "flaky", "order",       "swap",     "mirror",
                                       "copy", "late",  "unconnected", "tia-data", "colour"};
    for (size_t i = 0; i < sizeof chip / sizeof chip[0]; i++) {
        if (strncmp(fault, chip[i], strlen(chip[i])) == 0) {
            return true;
        }
    }
    return false;
}

/* PROOF_FAULTS: only those that begin so, for a closer look. */
static void list_faults(void) {
    const char *only = getenv("PROOF_FAULTS");
    char text[64];
    for (size_t i = 0; virtual_fault_text(i, text, sizeof text) && fault_count < FAULTS_ROOM; i++) {
        if (is_of_the_chip(text) && (only == NULL || strncmp(text, only, strlen(only)) == 0)) {
            snprintf(faults[fault_count++], sizeof faults[0], "%s", text);
        }
    }
    while (virtual_sets[set_count].name != NULL) {
        set_count++;
    }
}

static void run_single(size_t index, void *out) {
    struct answer *answer = out;
    const char *fault = faults[index % fault_count];
    const struct grabber_set *set = &virtual_sets[index / fault_count];
    struct promise promise = promise_on(fault, set->name);
    struct virtual_options options;
    struct problem problem;
    struct loop loop;
    virtual_defaults(STANDARD_NTSC, &options);
    options.seed = first_seed + index;
    loop_hold = hold_for(set->name);
    if (!virtual_use_set(&options, set->name, &problem) || !loop_run(&loop, "bits", &options, fault, NULL)) {
        fprintf(stderr, "set %s, fault %s: no run\n", set->name, fault);
        exit(3);
    }
    const struct result *result = loop.session.result;
    answer->named = result->finding_count > 0 ? (int)result->findings[0].kind : NOTHING;
    answer->kept = promise_kept(&promise, &loop);
    answer->inconclusive = result->verdict == VERDICT_INCONCLUSIVE;
    snprintf(answer->findings, sizeof answer->findings, "%s: %s", verdict_name(result->verdict),
             loop_findings(&loop));
    loop_end(&loop);
}

/* Faults of one class share what stands before the sign of equality. */
static int class_of(const char *fault, char names[CLASSES_MAX][24], int *count) {
    char name[24];
    snprintf(name, sizeof name, "%.*s", (int)strcspn(fault, "="), fault);
    for (int i = 0; i < *count; i++) {
        if (strcmp(names[i], name) == 0) {
            return i;
        }
    }
    memcpy(names[*count], name, sizeof name);
    return (*count)++;
}

static const char *name_of(int kind) {
    return kind == NOTHING ? "nothing" : finding_name((enum finding_kind)kind);
}

struct matrix {
    char classes[CLASSES_MAX][24];
    int class_count;
    int cells[CLASSES_MAX][NAMES_MAX];
    int kept[CLASSES_MAX], all[CLASSES_MAX];
};

static void print_matrix(const struct matrix *matrix) {
    printf("| broken | times | right name and place | named first as |\n| --- | ---: | ---: | --- |\n");
    for (int row = 0; row < matrix->class_count; row++) {
        printf("| %s | %d | %d |", matrix->classes[row], matrix->all[row], matrix->kept[row]);
        for (int kind = 0; kind < NAMES_MAX; kind++) {
            if (matrix->cells[row][kind] > 0) {
                printf(" %s %d", name_of(kind), matrix->cells[row][kind]);
            }
        }
        printf(" |\n");
    }
}

/* Rows are what was broken, columns the names given; the darker, the larger the share of the row. */
static void draw_matrix(const struct matrix *matrix) {
    enum { SIDE = 44, LEFT = 210, TOP = 30, LETTER = 2 };
    const struct colour white = {255, 255, 255}, ink = {20, 24, 32};
    int columns[NAMES_MAX], count = 0;
    for (int kind = 0; kind < NAMES_MAX; kind++) {
        int used = 0;
        for (int row = 0; row < matrix->class_count; row++) {
            used += matrix->cells[row][kind];
        }
        if (used > 0) {
            columns[count++] = kind;
        }
    }
    int legend = TOP + matrix->class_count * SIDE + 20;
    struct canvas canvas = canvas_new(LEFT + count * SIDE + 300, legend + count * 16 + 20, white);
    if (canvas.rgb == NULL) {
        return;
    }
    canvas_text(&canvas, 8, 8, LETTER, "WHAT WAS BROKEN (ROWS) BY WHAT WAS NAMED FIRST (COLUMNS)", ink);
    for (int row = 0; row < matrix->class_count; row++) {
        canvas_text(&canvas, 8, TOP + row * SIDE + 16, LETTER, matrix->classes[row], ink);
        for (int column = 0; column < count; column++) {
            int times = matrix->cells[row][columns[column]];
            int shade = times == 0 ? 255 : 235 - 175 * times / matrix->all[row];
            char number[16];
            int x = LEFT + column * SIDE, y = TOP + row * SIDE;
            canvas_fill(&canvas, x, y, SIDE - 2, SIDE - 2,
                        (struct colour){(uint8_t)shade, (uint8_t)(shade < 255 ? shade + 15 : 255), 255});
            canvas_frame(&canvas, x, y, SIDE - 2, SIDE - 2, (struct colour){200, 204, 212});
            snprintf(number, sizeof number, "%d", times);
            if (times > 0) {
                canvas_text(&canvas, x + 3, y + 14, LETTER, number, shade < 140 ? white : ink);
            }
        }
    }
    for (int column = 0; column < count; column++) {
        char text[64];
        snprintf(text, sizeof text, "%c %s", 'A' + column, name_of(columns[column]));
        canvas_text(&canvas, LEFT, legend + column * 16, LETTER, text, ink);
        snprintf(text, sizeof text, "%c", 'A' + column);
        canvas_text(&canvas, LEFT + column * SIDE + 16, TOP + matrix->class_count * SIDE + 2, LETTER, text,
                    ink);
    }
    const char *folder = getenv("PROOF_OUT");
    char path[4096];
    struct problem problem;
    snprintf(path, sizeof path, "%s/confusion.png", folder != NULL ? folder : ".");
    if (!png_write(path, canvas.rgb, canvas.width, canvas.height, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
    }
    canvas_free(&canvas);
    printf("\nThe matrix as a picture: %s\n", path);
}

static bool singles(void) {
    static struct matrix matrix;
    size_t count = fault_count * set_count;
    struct answer *answers = calloc(count, sizeof *answers);
    bool good = answers != NULL && pool_run(count, run_single, answers, sizeof *answers);
    int missed = 0, unnamed = 0;
    printf("%zu faults of the chip, each on %zu sets\n\n", fault_count, set_count);
    for (size_t i = 0; good && i < count; i++) {
        int row = class_of(faults[i % fault_count], matrix.classes, &matrix.class_count);
        matrix.cells[row][answers[i].named]++;
        matrix.all[row]++;
        matrix.kept[row] += answers[i].kept;
    }
    print_matrix(&matrix);
    printf("\n");
    for (size_t i = 0; good && i < count; i++) {
        if (!answers[i].kept) {
            missed++;
            unnamed += answers[i].inconclusive;
            printf("- missed: %s on %s, seed %llu: %s\n", faults[i % fault_count],
                   virtual_sets[i / fault_count].name, (unsigned long long)(first_seed + i),
                   answers[i].findings);
        }
    }
    printf("\nsingle faults: %zu tries, %d missed (of them %d inconclusive)\n", count, missed, unnamed);
    draw_matrix(&matrix);
    free(answers);
    return good && missed == 0;
}

/* ---- pairs of stuck bits, clean ---- */

struct pair {
    int a, b;
    bool high_a, high_b;
};

static struct pair pair_at(size_t index) {
    struct pair pair = {0, 1, (index & 1) != 0, (index & 2) != 0};
    for (size_t left = index / 4; left > 0; left--) {
        if (++pair.b == BITS) {
            pair.b = ++pair.a + 1;
        }
    }
    return pair;
}

static void stick(struct virtual_options *options, int position, bool high) {
    uint32_t bit = UINT32_C(1) << position;
    if (high) {
        options->faults.chip.stuck_high |= bit;
    } else {
        options->faults.chip.stuck_low |= bit;
    }
}

static bool names(const struct result *result, int position, bool high) {
    const struct pf_bit *bit = &expect_serial[position];
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        if (finding->kind == (high ? FINDING_BIT_STUCK_HIGH : FINDING_BIT_STUCK_LOW) &&
            finding->reg == (int)bit->reg && finding->bit == bit->bit) {
            return true;
        }
    }
    return false;
}

/* A data line of the video chip that is stuck changes bits of several registers, so it draws what a pair
 * draws only where just two of them reach the playfield: D2 and D3 of PF1 and PF2, stuck alike, for PF0 does
 * not show those. Then the line is the simpler cause and comes first. */
static bool is_data_line(const struct pair *pair) {
    const struct pf_bit *a = &expect_serial[pair->a], *b = &expect_serial[pair->b];
    return pair->high_a == pair->high_b && a->reg != b->reg && a->bit == b->bit && a->bit >= 2 && a->bit <= 3;
}

static void run_pair(size_t index, void *out) {
    struct answer *answer = out;
    struct pair pair = pair_at(index);
    struct virtual_options options;
    struct loop loop;
    virtual_defaults(STANDARD_NTSC, &options);
    options.seed = first_seed + index;
    stick(&options, pair.a, pair.high_a);
    stick(&options, pair.b, pair.high_b);
    if (!loop_run(&loop, "bits", &options, NULL, NULL)) {
        exit(3);
    }
    const struct result *result = loop.session.result;
    bool both = result->finding_count == 2 && names(result, pair.a, pair.high_a) &&
                names(result, pair.b, pair.high_b);
    bool line = is_data_line(&pair) &&
                loop_found(&loop, FINDING_DATA_LINE_STUCK, REG_COUNT, expect_serial[pair.a].bit);
    answer->kept = result->verdict == VERDICT_FAIL && (both || line);
    answer->named = both ? 0 : 1;
    snprintf(answer->findings, sizeof answer->findings, "%s", loop_findings(&loop));
    loop_end(&loop);
}

static bool pairs(void) {
    struct answer *answers = calloc(PAIRS, sizeof *answers);
    bool good = answers != NULL && pool_run(PAIRS, run_pair, answers, sizeof *answers);
    int kept = 0, lines = 0;
    for (int i = 0; good && i < PAIRS; i++) {
        kept += answers[i].kept;
        lines += answers[i].kept && answers[i].named == 1;
        if (!answers[i].kept) {
            struct pair pair = pair_at((size_t)i);
            printf("- missed: positions %d %s and %d %s: %s\n", pair.a, pair.high_a ? "high" : "low", pair.b,
                   pair.high_b ? "high" : "low", answers[i].findings);
        }
    }
    printf(
        "pairs of stuck bits, clean set: %d of %d named (%d of them as the data line that does the same)\n",
        kept, PAIRS, lines);
    free(answers);
    return good && kept == PAIRS;
}

int main(void) {
    const char *told = getenv("SLOTJIG_SEED");
    first_seed = told != NULL ? strtoull(told, NULL, 10) : 1;
    list_faults();
    printf("Faults by grabber: plan bits, NTSC, seeds from %llu (SLOTJIG_SEED)\n\n",
           (unsigned long long)first_seed);
    bool good = singles();
    good &= pairs();
    return good ? 0 : 1;
}
