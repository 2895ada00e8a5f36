/*
 * Failing steps to causes. Every single cause is held against every sighting; what predicts them all is
 * reported. Only then a set of stuck bits is tried, then a single cause that comes and goes, and last of all
 * the best partial explanation is told. Of a failing field only the first band that was wrong is used.
 */
#include "verdict/advice.h"
#include "verdict/sightings.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

enum { ALTERNATIVES_MAX = 8 };
/* A cause twenty times less likely than the best is not worth naming: ln 20. */
#define LIKELY_ENOUGH 3.0

struct tally {
    long explained;    /* wrong fields the cause predicts */
    long wrong;        /* all wrong fields */
    long contradicted; /* good fields that the cause says must be wrong */
};

static bool explains(const struct tally *tally) {
    return tally->explained == tally->wrong && tally->contradicted == 0;
}

static bool explains_at_times(const struct tally *tally) {
    return tally->explained == tally->wrong && tally->contradicted > 0;
}

static void tally_step(struct judge *judge, size_t index, const struct cause *cause, struct tally *tally) {
    const struct step_state *step = &judge->steps[index];
    tally->wrong += step->stray;
    if (step->sighting_count == 0) {
        return;
    }
    cause_predict(cause, &judge->plan->steps[index], judge->lines, judge->bands, &judge->prediction);
    for (int i = 0; i < step->sighting_count; i++) {
        const struct sighting *sighting = &step->sightings[i];
        bool matches = sighting_matches(sighting, step, &judge->prediction, cause->shift);
        if (sighting->pass) {
            tally->contradicted += matches ? 0 : sighting->count;
        } else {
            tally->wrong += sighting->count;
            tally->explained += matches ? sighting->count : 0;
        }
    }
}

static struct tally tally_cause(struct judge *judge, const struct cause *cause) {
    struct tally tally = {0, 0, 0};
    for (size_t i = 0; i < judge->plan->step_count; i++) {
        tally_step(judge, i, cause, &tally);
    }
    return tally;
}

/* NULL when there is no more room. Text and the rest are the caller's. */
static struct finding *add_finding(struct judge *judge, enum finding_kind kind) {
    struct result *result = &judge->result;
    if (result->finding_count == FINDINGS_MAX) {
        return NULL;
    }
    struct finding *finding = &result->findings[result->finding_count++];
    *finding = (struct finding){.kind = kind, .reg = -1, .bit = -1, .rate = 1, .rate_low = 1, .rate_high = 1};
    snprintf(finding->next, sizeof finding->next, "%s", advice_next(kind));
    return finding;
}

__attribute__((format(printf, 2, 3))) static void say(struct finding *finding, const char *format, ...) {
    size_t used = 0;
    while (finding->text[used] != 0) {
        used++;
    }
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(finding->text + used, sizeof finding->text - used, format, arguments);
    va_end(arguments);
}

static struct finding *add_cause(struct judge *judge, const struct cause *cause, const struct tally *tally) {
    struct finding *finding = add_finding(judge, cause->kind);
    if (finding != NULL) {
        finding->reg = cause->reg;
        finding->bit = cause->bit;
        advice_describe(cause, finding->text, sizeof finding->text);
        say(finding, ": so in all %ld fields that show it.", tally->wrong);
    }
    return finding;
}

static bool tells_apart(const struct cause *a, const struct cause *b, const uint8_t registers[REG_COUNT]) {
    uint64_t half_a, half_b;
    uint64_t differs = cause_cells(a, registers, &half_a) ^ cause_cells(b, registers, &half_b);
    return (differs & ~half_a & ~half_b) != 0;
}

/* A setting of the registers that the two causes draw differently: one bit alone, or all but one. */
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

static void say_alternative(struct finding *finding, const struct cause *cause, const struct cause *other) {
    char name[64];
    uint8_t registers[REG_COUNT] = {0};
    advice_short(other, name, sizeof name);
    finding->alternative = true;
    say(finding, " Same pictures: %s.", name);
    if (find_test(cause, other, registers)) {
        say(finding, " Told apart by PF0 $%02X PF1 $%02X PF2 $%02X CTRLPF $%02X.", registers[REG_PF0],
            registers[REG_PF1], registers[REG_PF2], registers[REG_CTRLPF]);
    }
}

struct candidate {
    const struct cause *cause;
    struct tally tally;
    struct finding *finding;
};

/* Each of several names the next one; the last names the first. */
static void link_alternatives(const struct candidate *candidates, size_t count) {
    for (size_t i = 0; count > 1 && i < count; i++) {
        if (candidates[i].finding != NULL) {
            say_alternative(candidates[i].finding, candidates[i].cause, candidates[(i + 1) % count].cause);
        }
    }
}

static bool explain_single(struct judge *judge) {
    struct candidate found[ALTERNATIVES_MAX];
    size_t count = 0;
    for (size_t i = 0; i < judge->cause_count && count < ALTERNATIVES_MAX; i++) {
        struct tally tally = tally_cause(judge, &judge->causes[i]);
        if (explains(&tally)) {
            found[count].cause = &judge->causes[i];
            found[count].tally = tally;
            found[count].finding = add_cause(judge, found[count].cause, &tally);
            count++;
        }
    }
    link_alternatives(found, count);
    return count > 0;
}

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

/* Which bits never did what they should. The set's own prediction is what decides. */
static int find_stuck_bits(const struct judge *judge, struct cause *set, struct cause bits[CELLS / 2]) {
    int count = 0;
    *set = cause_none(FINDING_UNEXPLAINED);
    for (int position = 0; position < CELLS / 2; position++) {
        struct bit_record record = record_bit(judge, position);
        bool low = record.seen_missing && !record.low_ruled_out;
        bool high = record.seen_surplus && !record.high_ruled_out;
        if (low != high) {
            struct cause *bit = &bits[count++];
            *bit = cause_none(high ? FINDING_BIT_STUCK_HIGH : FINDING_BIT_STUCK_LOW);
            bit->reg = expect_serial[position].reg;
            bit->bit = expect_serial[position].bit;
            bit->high = high;
            cause_add_stuck(bit, position, high);
            cause_add_stuck(set, position, high);
        }
    }
    return count;
}

static bool explain_stuck_set(struct judge *judge) {
    struct cause set, bits[CELLS / 2];
    int count = find_stuck_bits(judge, &set, bits);
    if (count == 0) {
        return false;
    }
    struct tally tally = tally_cause(judge, &set);
    if (!explains(&tally)) {
        return false;
    }
    for (int i = 0; i < count; i++) {
        struct finding *finding = add_finding(judge, bits[i].kind);
        if (finding != NULL) {
            finding->reg = bits[i].reg;
            finding->bit = bits[i].bit;
            advice_describe(&bits[i], finding->text, sizeof finding->text);
            say(finding, ". One of %d bits that are stuck at the same time.", count);
        }
    }
    return true;
}

/* Logarithm of how likely just these fields would fail, at the rate that fits them best. */
static double likelihood(const struct tally *tally) {
    double hits = (double)tally->explained, misses = (double)tally->contradicted;
    double all = hits + misses;
    return hits * log(hits / all) + misses * log(misses / all);
}

/* Most likely first; of equals the one that was listed first. */
static size_t insert_candidate(struct candidate *found, size_t count, const struct candidate *candidate) {
    size_t at = count;
    while (at > 0 && likelihood(&candidate->tally) > likelihood(&found[at - 1].tally)) {
        at--;
    }
    if (at == ALTERNATIVES_MAX) {
        return count;
    }
    size_t last = count < ALTERNATIVES_MAX ? count : ALTERNATIVES_MAX - 1;
    for (size_t i = last; i > at; i--) {
        found[i] = found[i - 1];
    }
    found[at] = *candidate;
    return last + 1;
}

static void add_intermittent(struct judge *judge, struct candidate *candidate) {
    const struct tally *tally = &candidate->tally;
    long tries = tally->explained + tally->contradicted;
    struct interval interval = wilson_interval(tally->explained, tries);
    struct finding *finding = candidate->finding = add_finding(judge, FINDING_INTERMITTENT);
    if (finding != NULL) {
        char name[64];
        advice_short(candidate->cause, name, sizeof name);
        finding->reg = candidate->cause->reg;
        finding->bit = candidate->cause->bit;
        finding->rate = (double)tally->explained / (double)tries;
        finding->rate_low = interval.low;
        finding->rate_high = interval.high;
        say(finding,
            "%s, but not always: in %ld of the %ld fields that can show it (%.3g %%; 95 %% interval %.3g to "
            "%.3g %%).",
            name, tally->explained, tries, 100 * finding->rate, 100 * interval.low, 100 * interval.high);
    }
}

static bool explain_intermittent(struct judge *judge) {
    struct candidate found[ALTERNATIVES_MAX];
    size_t count = 0;
    for (size_t i = 0; i < judge->cause_count; i++) {
        struct candidate candidate = {&judge->causes[i], tally_cause(judge, &judge->causes[i]), NULL};
        if (explains_at_times(&candidate.tally)) {
            count = insert_candidate(found, count, &candidate);
        }
    }
    size_t likely = 0;
    while (likely < count &&
           likelihood(&found[likely].tally) >= likelihood(&found[0].tally) - LIKELY_ENOUGH) {
        add_intermittent(judge, &found[likely++]);
    }
    link_alternatives(found, likely);
    return count > 0;
}

static long first_failing(const struct judge *judge) {
    for (size_t i = 0; i < judge->plan->step_count; i++) {
        if (judge->steps[i].result.failed > 0) {
            return (long)i;
        }
    }
    return 0;
}

static void add_unexplained(struct judge *judge) {
    const struct cause *best = NULL;
    struct tally most = {0, 0, 0};
    for (size_t i = 0; i < judge->cause_count; i++) {
        struct tally tally = tally_cause(judge, &judge->causes[i]);
        if (tally.explained - tally.contradicted > most.explained - most.contradicted) {
            best = &judge->causes[i];
            most = tally;
        }
        most.wrong = tally.wrong;
    }
    struct finding *finding = add_finding(judge, FINDING_UNEXPLAINED);
    if (finding == NULL) {
        return;
    }
    say(finding, "%ld wrong fields, first in step %ld (%.40s), and no single cause predicts them all.",
        most.wrong, first_failing(judge), judge->plan->steps[first_failing(judge)].name);
    if (best != NULL) {
        char name[64];
        advice_short(best, name, sizeof name);
        say(finding, " Nearest: %s, which predicts %ld of them and contradicts %ld good ones.", name,
            most.explained, most.contradicted);
    }
}

void explain_failures(struct judge *judge) {
    if (!explain_single(judge) && !explain_stuck_set(judge) && !explain_intermittent(judge)) {
        add_unexplained(judge);
    }
}
