/*
 * Failing steps to causes. What was seen in all steps is held against suppositions, those that assume least
 * first: one cause; two stuck bits; more stuck bits; a bit that shows another's value; one cause that comes
 * and goes; a stuck bit and one that comes and goes. The first kind of which some predict every wrong field
 * and contradict no good one is told, all of them if there are several, with what would tell them apart.
 * Where none does, the best partial one is named. Of a failing field only the first band that was wrong is
 * used.
 */
#include "verdict/advice.h"
#include "verdict/colours.h"
#include "verdict/findings.h"
#include "verdict/tally.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum {
    EXPLANATIONS_MAX = 8,
    BITS = CELLS / 2,
    BIT_CAUSES = 2 * BITS /* the first of cause_list(): each bit low, high */
};
/* Fields torn on their way: where nothing explains all of many wrong ones, one in fifty may fit nothing. */
enum { TORN_SHARE = 50 };
/* A cause twenty times less likely than the best is not worth naming: ln 20. */
#define LIKELY_ENOUGH 3.0

/* One way to explain a run: a supposition and the causes it is made of. */
struct explanation {
    struct supposition supposition;
    struct cause parts[BITS];
    int part_count;
    int flaky; /* which of the parts comes and goes, or -1 */
    struct tally tally;
    struct finding *first; /* that tells it */
};

struct explanations {
    struct explanation list[EXPLANATIONS_MAX];
    size_t count;
    long slack; /* fields that may disagree */
};

/* ---- making them ---- */

static struct explanation explanation_of(const struct cause *cause) {
    struct explanation explanation = {.supposition.shown = *cause, .part_count = 1, .flaky = -1};
    explanation.parts[0] = *cause;
    return explanation;
}

static void add_part(struct explanation *explanation, const struct cause *bit) {
    cause_add(&explanation->supposition.shown, bit);
    explanation->parts[explanation->part_count++] = *bit;
}

static void keep(struct judge *judge, struct explanations *found, const struct explanation *explanation) {
    if (found->count < EXPLANATIONS_MAX) {
        found->list[found->count] = *explanation;
        found->list[found->count].tally = tally_of(judge, &explanation->supposition);
        found->count++;
    }
}

static void keep_if_explains(struct judge *judge, struct explanations *found,
                             const struct explanation *explanation) {
    if (tally_would_explain(judge, &explanation->supposition, found->slack)) {
        keep(judge, found, explanation);
    }
}

/* ---- single causes and pairs of stuck bits ---- */

static void find_singles(struct judge *judge, struct explanations *found) {
    for (size_t i = 0; i < judge->cause_count; i++) {
        if (!colours_rule_out(judge, &judge->causes[i])) {
            struct explanation explanation = explanation_of(&judge->causes[i]);
            keep_if_explains(judge, found, &explanation);
        }
    }
}

static void find_pairs(struct judge *judge, struct explanations *found) {
    for (int a = 0; a < BIT_CAUSES; a++) {
        for (int b = (a / 2 + 1) * 2; b < BIT_CAUSES; b++) {
            struct explanation explanation = explanation_of(&judge->causes[a]);
            add_part(&explanation, &judge->causes[b]);
            keep_if_explains(judge, found, &explanation);
        }
    }
}

/* A stuck data line draws the cells that the same bit of two registers would: one assumption against two,
 * unless the colours tell. */
static bool pairs_may_explain(const struct judge *judge, const struct explanations *found) {
    if (found->count > 0 && colours_rule_out(judge, NULL)) {
        return false;
    }
    for (size_t i = 0; i < found->count; i++) {
        if (found->list[i].parts[0].kind != FINDING_DATA_LINE_STUCK) {
            return false;
        }
    }
    return true;
}

/* ---- a playfield that is as dark as the background ---- */

/* No cell is lit in any field, and the plan lights some in each that was judged wrong: one register that
 * draws too dark is less to assume than all those bits. */
static bool nothing_is_lit(const struct judge *judge) {
    bool any = false;
    for (size_t i = 0; i < judge->plan->step_count; i++) {
        const struct step_state *step = &judge->steps[i];
        for (int j = 0; j < step->sighting_count; j++) {
            const struct sighting *sighting = &step->sightings[j];
            if (sighting->patchy || sighting->lit != 0 ||
                (sighting->pass && step->expect.lit[sighting->line] != 0)) {
                return false;
            }
            any = any || !sighting->pass;
        }
    }
    return any;
}

/* ---- larger sets of stuck bits ---- */

/* What the sightings say of one bit's two cells. */
struct bit_record {
    bool low_ruled_out, high_ruled_out, seen_missing, seen_surplus;
};

static void record_cells(struct bit_record *record, uint64_t cells, uint64_t expected, uint64_t seen,
                         uint64_t unclear) {
    uint64_t clear = cells & ~unclear;
    record->low_ruled_out |= (expected & seen & clear) != 0;
    record->high_ruled_out |= (~expected & ~seen & clear) != 0;
    record->seen_missing |= (expected & ~seen & clear) != 0;
    record->seen_surplus |= (~expected & seen & clear) != 0;
}

/* The cells that the bit alone lights, in the mode of the step. */
static uint64_t cells_of_bit(int position, bool mirror) {
    uint8_t registers[REG_COUNT] = {[REG_CTRLPF] = mirror ? CTRLPF_REFLECT : 0};
    const struct pf_bit *bit = &expect_serial[position];
    registers[bit->reg] = (uint8_t)(1u << bit->bit);
    return expect_cells(registers[REG_PF0], registers[REG_PF1], registers[REG_PF2], registers[REG_CTRLPF]);
}

static struct bit_record record_bit(const struct judge *judge, int position) {
    struct bit_record record = {false, false, false, false};
    for (size_t i = 0; i < judge->plan->step_count; i++) {
        const struct step_state *step = &judge->steps[i];
        uint8_t registers[REG_COUNT];
        step_registers(&judge->plan->steps[i], registers);
        uint64_t cells = cells_of_bit(position, registers[REG_CTRLPF] & CTRLPF_REFLECT);
        for (int j = 0; j < step->sighting_count; j++) {
            const struct sighting *sighting = &step->sightings[j];
            uint64_t expected = step->expect.lit[sighting->line];
            uint64_t unclear = sighting->unclear | ~step->expect.sure[sighting->line];
            record_cells(&record, cells, expected, sighting->pass ? expected : sighting->lit, unclear);
        }
    }
    return record;
}

/* The bits that never did what they should. The set's own prediction is what decides. */
static void find_stuck_set(struct judge *judge, struct explanations *found) {
    const struct cause nothing = cause_none(FINDING_UNEXPLAINED);
    struct explanation explanation = explanation_of(&nothing);
    explanation.part_count = 0;
    for (int position = 0; position < BITS; position++) {
        struct bit_record record = record_bit(judge, position);
        bool low = record.seen_missing && !record.low_ruled_out;
        bool high = record.seen_surplus && !record.high_ruled_out;
        if (low != high) {
            add_part(&explanation, &judge->causes[2 * position + (high ? 1 : 0)]);
        }
    }
    if (explanation.part_count > 0) {
        keep_if_explains(judge, found, &explanation);
    }
}

/* ---- bits that show another's value ---- */

/* Also the two bits of one bridge, each of which shows both joined. */
static void find_bridges(struct judge *judge, struct explanations *found, enum joining how) {
    for (int a = 0; a < BITS; a++) {
        for (int b = a + 1; b < BITS; b++) {
            const struct cause one = cause_join(how, a, b), other = cause_join(how, b, a);
            struct explanation explanation = explanation_of(&one);
            add_part(&explanation, &other);
            keep_if_explains(judge, found, &explanation);
        }
    }
}

static void find_joined(struct judge *judge, struct explanations *found) {
    for (enum joining how = JOINED_COUPLED; how < JOININGS; how++) {
        for (int at = 0; at < BITS; at++) {
            for (int from = 0; from < BITS; from++) {
                const struct cause cause = cause_join(how, at, from);
                struct explanation explanation = explanation_of(&cause);
                if (at != from) {
                    keep_if_explains(judge, found, &explanation);
                }
            }
        }
        find_bridges(judge, found, how);
    }
}

/* ---- causes that come and go ---- */

/* Logarithm of how likely just these fields would fail, at the rate that fits them best. */
static double likelihood(const struct tally *tally) {
    double hits = (double)tally->with, misses = (double)tally->without;
    double all = hits + misses;
    return (hits > 0 ? hits * log(hits / all) : 0) + (misses > 0 ? misses * log(misses / all) : 0);
}

/* Most likely first; of equals the one that was listed first. */
static void insert(struct explanations *found, const struct explanation *explanation) {
    size_t at = found->count;
    while (at > 0 && likelihood(&explanation->tally) > likelihood(&found->list[at - 1].tally)) {
        at--;
    }
    if (at == EXPLANATIONS_MAX) {
        return;
    }
    size_t last = found->count < EXPLANATIONS_MAX ? found->count : EXPLANATIONS_MAX - 1;
    memmove(&found->list[at + 1], &found->list[at], (last - at) * sizeof found->list[0]);
    found->list[at] = *explanation;
    found->count = last + 1;
}

static void drop_unlikely(struct explanations *found) {
    while (found->count > 1 && likelihood(&found->list[found->count - 1].tally) <
                                   likelihood(&found->list[0].tally) - LIKELY_ENOUGH) {
        found->count--;
    }
}

static void insert_if_explains(struct judge *judge, struct explanations *found,
                               struct explanation *explanation) {
    if (tally_would_explain(judge, &explanation->supposition, found->slack)) {
        explanation->tally = tally_of(judge, &explanation->supposition);
        if (explanation->tally.with > 0) {
            insert(found, explanation);
        }
    }
}

static void find_intermittent(struct judge *judge, struct explanations *found) {
    for (size_t i = 0; i < judge->cause_count; i++) {
        struct explanation explanation = explanation_of(&judge->causes[i]);
        explanation.flaky = 0;
        explanation.supposition.rest = cause_none(FINDING_UNEXPLAINED);
        explanation.supposition.at_times = true;
        insert_if_explains(judge, found, &explanation);
    }
    drop_unlikely(found);
}

static void find_stuck_and_intermittent(struct judge *judge, struct explanations *found) {
    for (int stuck = 0; stuck < BIT_CAUSES; stuck++) {
        for (int flaky = 0; flaky < BIT_CAUSES; flaky++) {
            if (stuck / 2 != flaky / 2) {
                struct explanation explanation = explanation_of(&judge->causes[stuck]);
                explanation.supposition.rest = explanation.supposition.shown;
                explanation.supposition.at_times = true;
                add_part(&explanation, &judge->causes[flaky]);
                explanation.flaky = 1;
                insert_if_explains(judge, found, &explanation);
            }
        }
    }
    drop_unlikely(found);
}

/* ---- telling them ---- */

static void say_rate(struct finding *finding, const struct cause *cause, const struct tally *tally) {
    long tries = tally->with + tally->without;
    struct interval interval = wilson_interval(tally->with, tries);
    char name[64];
    advice_short(cause, name, sizeof name);
    finding->rate = (double)tally->with / (double)tries;
    finding->rate_low = interval.low;
    finding->rate_high = interval.high;
    finding_say(
        finding,
        "%s, but not always: in %ld of the %ld fields that can show it (%.3g %%; 95 %% interval %.3g to "
        "%.3g %%).",
        name, tally->with, tries, 100 * finding->rate, 100 * interval.low, 100 * interval.high);
}

static void say_part(struct finding *finding, const struct explanation *explanation, int part) {
    const struct cause *cause = &explanation->parts[part];
    const struct tally *tally = &explanation->tally;
    long torn = tally->wrong - tally->explained + tally->contradicted;
    if (part == explanation->flaky) {
        say_rate(finding, cause, &explanation->tally);
    } else {
        advice_describe(cause, finding->text, sizeof finding->text);
        if (explanation->part_count == 1) {
            finding_say(finding, ": so in all %ld fields that show it.", explanation->tally.explained);
        } else if (explanation->flaky < 0) {
            finding_say(finding, ". One of %d bits that are %s at the same time.", explanation->part_count,
                        cause->joints[0].how == JOINED_NOT ? "stuck" : "joined");
        } else {
            finding_say(finding, ".");
        }
    }
    if (part == 0 && torn > 0) {
        finding_say(finding, " %ld other field%s nothing.", torn, torn == 1 ? " fits" : "s fit");
    }
}

static void tell(struct judge *judge, struct explanation *explanation, int number) {
    for (int part = 0; part < explanation->part_count; part++) {
        const struct cause *cause = &explanation->parts[part];
        struct finding *finding =
            finding_add(&judge->result, part == explanation->flaky ? FINDING_INTERMITTENT : cause->kind);
        if (finding == NULL) {
            return;
        }
        finding->reg = cause->reg;
        finding->bit = cause->bit;
        finding->explanation = number;
        say_part(finding, explanation, part);
        explanation->first = part == 0 ? finding : explanation->first;
    }
}

static bool tells_apart(const struct cause *a, const struct cause *b, const uint8_t registers[REG_COUNT]) {
    uint64_t half_a, half_b;
    uint64_t differs = cause_cells(a, registers, &half_a) ^ cause_cells(b, registers, &half_b);
    return (differs & ~half_a & ~half_b) != 0;
}

/* A setting of the registers that the two draw differently: one bit alone, or all but one. */
static bool find_test(const struct cause *a, const struct cause *b, uint8_t registers[REG_COUNT]) {
    for (unsigned trial = 0; trial < 24 * 2 * 2; trial++) {
        unsigned bit = trial % 24;
        uint32_t bits = (trial / 24 & 1) != 0 ? ~(UINT32_C(1) << bit) : UINT32_C(1) << bit;
        registers[REG_CTRLPF] = trial < 48 ? 0 : CTRLPF_REFLECT;
        registers[REG_PF0] = (uint8_t)bits;
        registers[REG_PF1] = (uint8_t)(bits >> 8);
        registers[REG_PF2] = (uint8_t)(bits >> 16);
        if (tells_apart(a, b, registers)) {
            return true;
        }
    }
    return false;
}

static void name_parts(const struct explanation *explanation, char *text, size_t size) {
    size_t used = 0;
    for (int part = 0; part < explanation->part_count && used < size; part++) {
        char name[64];
        advice_short(&explanation->parts[part], name, sizeof name);
        used += (size_t)snprintf(text + used, size - used, "%s%s", part > 0 ? " and " : "", name);
    }
}

static void say_alternative(const struct explanation *explanation, const struct explanation *other) {
    char names[100];
    uint8_t registers[REG_COUNT] = {0};
    name_parts(other, names, sizeof names);
    finding_say(explanation->first, " Same pictures: %s.", names);
    if (find_test(&explanation->supposition.shown, &other->supposition.shown, registers)) {
        finding_say(explanation->first, " Told apart by PF0 $%02X PF1 $%02X PF2 $%02X CTRLPF $%02X.",
                    registers[REG_PF0], registers[REG_PF1], registers[REG_PF2], registers[REG_CTRLPF]);
    }
}

/* Each of several names the next one; the last names the first. */
static void tell_all(struct judge *judge, struct explanations *found) {
    for (size_t i = 0; i < found->count; i++) {
        tell(judge, &found->list[i], (int)i);
    }
    if (found->count < 2) {
        return;
    }
    for (size_t i = 0; i < found->count && found->list[i].first != NULL; i++) {
        say_alternative(&found->list[i], &found->list[(i + 1) % found->count]);
    }
    for (size_t i = 0; i < judge->result.finding_count; i++) {
        judge->result.findings[i].alternative = true;
    }
}

static long first_failing(const struct judge *judge) {
    for (size_t i = 0; i < judge->plan->step_count; i++) {
        if (judge->steps[i].result.failed > 0) {
            return (long)i;
        }
    }
    return 0;
}

static void tell_unexplained(struct judge *judge) {
    const struct cause *best = NULL;
    struct tally most = {0};
    for (size_t i = 0; i < judge->cause_count; i++) {
        struct tally tally = tally_cause(judge, &judge->causes[i]);
        if (tally.explained - tally.contradicted > most.explained - most.contradicted) {
            best = &judge->causes[i];
            most = tally;
        }
        most.wrong = tally.wrong;
    }
    struct finding *finding = finding_add(&judge->result, FINDING_UNEXPLAINED);
    if (finding == NULL) {
        return;
    }
    finding_say(finding, "%ld wrong fields, first in step %ld (%.40s), and no cause predicts them all.",
                most.wrong, first_failing(judge), judge->plan->steps[first_failing(judge)].name);
    if (best != NULL) {
        char name[64];
        advice_short(best, name, sizeof name);
        finding_say(finding, " Nearest: %s, which predicts %ld of them and contradicts %ld good ones.", name,
                    most.explained, most.contradicted);
    }
}

static long wrong_fields(const struct judge *judge) {
    long wrong = 0;
    for (size_t i = 0; i < judge->plan->step_count; i++) {
        wrong += judge->steps[i].result.failed;
    }
    return wrong;
}

static void tell_too_dark(struct judge *judge) {
    struct finding *finding = finding_add(&judge->result, FINDING_COLOUR_WRONG);
    if (finding != NULL) {
        finding->reg = REG_COLUPF;
        finding_say(
            finding,
            "No cell is lit in any of %ld fields, whatever the registers hold: COLUPF draws too dark to "
            "be told from COLUBK. All bits that the plan lights, stuck low at once, "
            "would look the same.",
            wrong_fields(judge));
    }
}

/* The cause of the list that the explanation is made of alone. */
static const struct cause *single_of(const struct judge *judge, const struct explanation *explanation) {
    for (size_t i = 0; i < judge->cause_count && explanation->part_count == 1; i++) {
        if (memcmp(&judge->causes[i], &explanation->parts[0], sizeof judge->causes[i]) == 0) {
            return &judge->causes[i];
        }
    }
    return NULL;
}

/* One cause, or a pair of stuck bits. */
static void find_few(struct judge *judge, struct explanations *found) {
    find_singles(judge, found);
    if (pairs_may_explain(judge, found)) {
        find_pairs(judge, found);
    }
}

static void find_all(struct judge *judge, struct explanations *found) {
    static void (*const kinds[])(struct judge * judge, struct explanations * found) = {
        find_stuck_set, find_joined, find_intermittent, find_stuck_and_intermittent};
    find_few(judge, found);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0] && found->count == 0; i++) {
        kinds[i](judge, found);
    }
}

const struct cause *explain_failures(struct judge *judge) {
    struct explanations found = {.count = 0};
    if (nothing_is_lit(judge)) {
        find_few(judge, &found);
        if (found.count == 0) {
            tell_too_dark(judge);
            return NULL;
        }
        found.count = 0;
    }
    find_all(judge, &found);
    if (found.count == 0) {
        found.slack = wrong_fields(judge) / TORN_SHARE;
        find_all(judge, &found);
    }
    if (found.count == 0) {
        tell_unexplained(judge);
        return NULL;
    }
    tell_all(judge, &found);
    return single_of(judge, &found.list[0]);
}
