/*
 * Plan `every`: verdict and findings. A set of wrong pictures is described by what predicts it exactly: a
 * playfield that is late; one cause; bits that are stuck, show another's value or are joined with it, beside
 * a cause or without; bits that are stuck at times. Where nothing does, by counts; unless the video may be
 * why, for then nothing is called wrong.
 */
#include "verdict/advice.h"
#include "verdict/every_colours.h"
#include "verdict/every_doubt.h"
#include "verdict/findings.h"

#include <math.h>
#include <stdio.h>

enum { SINGLES_MAX = 6, WORD = 96 };

struct telling {
    struct every_state *every;
    struct judge *judge;
    const struct cause *cause; /* the one that explains the cells, or NULL */
    struct result *result;
};

static struct finding *add(struct telling *telling, enum finding_kind kind, int explanation) {
    struct finding *finding = finding_add(telling->result, kind);
    if (finding != NULL) {
        finding->explanation = explanation;
    }
    return finding;
}

static unsigned long long ull(uint64_t count) {
    return (unsigned long long)count;
}

/* A finding of a cause, its text the clause that describes it. */
static struct finding *add_cause(struct telling *telling, const struct cause *cause, int explanation) {
    struct finding *finding = add(telling, cause->kind, explanation);
    if (finding != NULL) {
        finding->reg = cause->reg;
        finding->bit = cause->bit;
        advice_describe(cause, finding->text, sizeof finding->text);
    }
    return finding;
}

/* ---- a playfield that is late ---- */

static bool sample_fits(const struct every_state *every, const struct cause *cause,
                        const struct unclear_sample *sample) {
    const uint32_t patterns = (uint32_t)every->plan->patterns, base = sample->picture / patterns;
    uint8_t pf[3], registers[REG_COUNT] = {0};
    uint64_t half;
    every_registers(every_pattern(every, base, (int)(sample->picture % patterns)), pf);
    registers[REG_PF0] = pf[0];
    registers[REG_PF1] = pf[1];
    registers[REG_PF2] = pf[2];
    registers[REG_CTRLPF] = every_is_mirror(every, base) ? CTRLPF_REFLECT : 0;
    const uint64_t cells = cause_cells(cause, registers, &half);
    return ((sample->lit ^ cells) & ~half & ~sample->unclear) == 0 && (sample->unclear & ~half) == 0;
}

static bool samples_fit(const struct every_state *every, const struct cause *cause) {
    int fits = 0;
    for (int i = 0; i < every->sample_count; i++) {
        fits += sample_fits(every, cause, &every->samples[i]);
    }
    return 10 * fits > 9 * every->sample_count;
}

/* Edges where cells cannot be read say nothing, but for those half a cell late: then just the cells are
 * unclear that have an edge in their middle. */
static bool is_late(const struct telling *telling) {
    const struct every_state *every = telling->every;
    if (every->offsets < OFFSET_FIELDS_MIN || fabs(every->offset) <= OFFSET_WRONG) {
        return false;
    }
    if (10 * every->unclear_lines < every->lines) {
        return true;
    }
    for (size_t i = 0; i < telling->judge->cause_count; i++) {
        const struct cause *cause = &telling->judge->causes[i];
        if (cause->kind == FINDING_SHIFTED && cause->shift % CELL_CLOCKS == 2 &&
            fabs(offset_wrap(cause->shift - every->offset)) <= OFFSET_SAME && samples_fit(every, cause)) {
            return true;
        }
    }
    return false;
}

/* The shift that fits both the edges and the cells. */
static const struct cause *find_shift(const struct telling *telling, const struct cell_rules *rules) {
    const struct every_state *every = telling->every;
    for (size_t i = 0; i < telling->judge->cause_count; i++) {
        const struct cause *cause = &telling->judge->causes[i];
        if (cause->kind == FINDING_SHIFTED &&
            fabs(offset_wrap(cause->shift - every->offset)) <= OFFSET_SAME &&
            (cause->shift % CELL_CLOCKS == 2 ? samples_fit(every, cause) : rules_allow(rules, cause))) {
            return cause;
        }
    }
    return NULL;
}

static void tell_late(struct telling *telling, const struct cell_rules *rules) {
    const struct cause *cause = find_shift(telling, rules);
    struct finding *finding = cause != NULL ? add_cause(telling, cause, 0) : add(telling, FINDING_SHIFTED, 0);
    if (finding != NULL && cause == NULL) {
        finding_say(
            finding,
            "the playfield's edges lie %.1f colour clocks beside their places, whole cells not counted",
            telling->every->offset);
    }
    if (finding != NULL) {
        finding_say(finding, ": mean of the edges of %ld fields.", telling->every->offsets);
    }
}

/* ---- one cause ---- */

struct singles {
    int count;
    const struct cause *cause[SINGLES_MAX];
};

static void find_singles(const struct telling *telling, const struct cell_rules *rules,
                         struct singles *singles) {
    singles->count = 0;
    for (size_t i = 0; i < telling->judge->cause_count && singles->count < SINGLES_MAX; i++) {
        const struct cause *cause = &telling->judge->causes[i];
        if (rules_allow(rules, cause) && !every_colours_rule_out(telling->every, cause)) {
            singles->cause[singles->count++] = cause;
        }
    }
}

static void name_set(const struct rule_set *set, char *text, size_t size) {
    size_t used = 0;
    text[0] = '\0';
    for (int i = 0; i < set->count && used < size; i++) {
        const struct cause cause = rule_part_cause(&set->part[i]);
        char name[WORD];
        advice_short(&cause, name, sizeof name);
        used += (size_t)snprintf(text + used, size - used, "%s%s", i > 0 ? " and " : "", name);
    }
}

static void tell_singles(struct telling *telling, const struct singles *singles) {
    for (int i = 0; i < singles->count; i++) {
        struct finding *finding = add_cause(telling, singles->cause[i], i);
        if (finding == NULL) {
            return;
        }
        finding_say(finding, ": so in all %llu wrong pictures, and in no right one.",
                    ull(telling->every->wrong));
        finding->alternative = singles->count > 1;
        if (singles->count > 1) {
            char name[WORD];
            advice_short(singles->cause[(i + 1) % singles->count], name, sizeof name);
            finding_say(finding, " Same pictures: %s.", name);
        }
    }
}

/* ---- several bits ---- */

static const char *where_drawn(int drawn) {
    switch (drawn) {
    case DRAWN_ALL:
        return "";
    case DRAWN_COPY_LEFT | DRAWN_COPY_RIGHT:
        return " in copy mode only";
    case DRAWN_MIRROR_LEFT | DRAWN_MIRROR_RIGHT:
        return " in mirror mode only";
    case DRAWN_COPY_LEFT | DRAWN_MIRROR_LEFT:
        return " in the left half only";
    case DRAWN_COPY_RIGHT | DRAWN_MIRROR_RIGHT:
        return " in the right half only";
    case DRAWN_COPY_LEFT:
        return " in the left half in copy mode only";
    case DRAWN_COPY_RIGHT:
        return " in the right half in copy mode only";
    case DRAWN_MIRROR_LEFT:
        return " in the left half in mirror mode only";
    case DRAWN_MIRROR_RIGHT:
        return " in the right half in mirror mode only";
    default:
        return " in some places only";
    }
}

static void tell_part(struct telling *telling, const struct rule_set *set, int index, int explanation) {
    const struct rule_part *part = &set->part[index];
    const struct cause cause = rule_part_cause(part);
    const int parts = set->count + (set->cause != NULL);
    struct finding *finding = add_cause(telling, &cause, explanation);
    if (finding == NULL) {
        return;
    }
    finding_say(finding, "%s", where_drawn(part->drawn));
    if (set->cause == NULL) {
        finding_say(finding, ": it shows in %llu of %llu wrong pictures", ull(part->pictures),
                    ull(telling->every->wrong));
    }
    if (parts > 1) {
        finding_say(finding, ". One of %d causes that together draw every picture that was seen", parts);
    } else if (set->cause == NULL) {
        finding_say(finding, ", and in no right one");
    }
    finding_say(finding, part->ambiguous ? "; too few pictures were seen to tell it from others." : ".");
}

static void tell_set(struct telling *telling, const struct rule_set *set) {
    if (set->cause != NULL) {
        struct finding *finding = add_cause(telling, set->cause, 0);
        if (finding != NULL) {
            finding_say(finding, ". One of %d causes that together draw every picture that was seen.",
                        set->count + 1);
        }
    }
    for (int i = 0; i < set->count; i++) {
        tell_part(telling, set, i, 0);
    }
}

/* A stuck data line draws the cells that the same bits of two registers would. */
static void tell_bits_instead(struct telling *telling, const struct cell_rules *rules, int explanation) {
    struct result *result = telling->result;
    struct rule_set set;
    char names[2 * WORD];
    if (result->finding_count == 0 || result->findings[0].kind != FINDING_DATA_LINE_STUCK ||
        every_colours_rule_out(telling->every, NULL) || !rule_set_plain(rules, &set)) {
        return;
    }
    name_set(&set, names, sizeof names);
    finding_say(&result->findings[0], " Same pictures: %s.", names);
    rule_set_count(telling->every, &set);
    for (int i = 0; i < set.count; i++) {
        tell_part(telling, &set, i, explanation);
    }
    for (size_t i = 0; i < result->finding_count; i++) {
        result->findings[i].alternative = true;
    }
}

/* ---- nothing lit ---- */

enum { DARK_FIELDS = 16 };

static uint64_t fields_read(const struct every_state *every) {
    uint64_t fields = 0;
    for (uint32_t base = 0; base < every->total; base++) {
        fields += (uint64_t)every->bases[base].visits;
    }
    return fields;
}

static bool nothing_is_lit(const struct every_state *every) {
    return every->lit == 0 && fields_read(every) >= DARK_FIELDS;
}

static void tell_too_dark(struct telling *telling) {
    struct finding *finding = add(telling, FINDING_COLOUR_WRONG, 0);
    if (finding != NULL) {
        finding->reg = REG_COLUPF;
        finding_say(
            finding,
            "No cell is lit in any of %llu fields, whatever the registers hold: COLUPF draws too dark to be "
            "told from COLUBK. All bits, stuck low at once, would look the same.",
            ull(fields_read(telling->every)));
    }
}

static void tell_dim(struct telling *telling) {
    struct finding *finding = add(telling, FINDING_COLOUR_WRONG, 0);
    if (finding != NULL) {
        finding->reg = REG_COLUPF;
        finding_say(
            finding,
            "The cells that should be lit, and only they, lie between black and white in %llu of %llu "
            "fields, "
            "where the slate's white is white: COLUPF draws too dark.",
            ull(telling->every->dim), ull(telling->every->field));
    }
}

/* ---- at times ---- */

static void tell_flaky(struct telling *telling, const struct flaky_bits *flaky) {
    const struct interval interval = wilson_interval((long)flaky->hits, (long)flaky->tries);
    for (int i = 0; i < 2 * EVERY_BITS; i++) {
        const bool high = i % 2 != 0;
        const struct rule_part part = {.position = i / 2, .rule = {high ? RULE_HIGH : RULE_LOW, 0}};
        if (((high ? flaky->high : flaky->low) >> part.position & 1) == 0) {
            continue;
        }
        const struct cause cause = rule_part_cause(&part);
        struct finding *finding = add(telling, FINDING_INTERMITTENT, 0);
        if (finding == NULL) {
            return;
        }
        char name[WORD];
        advice_short(&cause, name, sizeof name);
        finding->reg = cause.reg;
        finding->bit = cause.bit;
        finding->rate = (double)flaky->hits / (double)flaky->tries;
        finding->rate_low = interval.low;
        finding->rate_high = interval.high;
        finding_say(finding,
                    "%s, but not always: in %llu of %llu fields (%.3g %%; 95 %% interval %.3g to %.3g %%), "
                    "and then on every line that can show it.",
                    name, ull(flaky->hits), ull(flaky->tries), 100 * finding->rate, 100 * interval.low,
                    100 * interval.high);
    }
}

/* ---- none of all these ---- */

struct wrong_counts {
    uint64_t mode[2], cell[CELLS];
    uint32_t least, most;
};

static void count_wrong(const struct every_state *every, struct wrong_counts *counts) {
    *counts = (struct wrong_counts){.least = UINT32_MAX};
    for (uint32_t base = 0; base < every->total; base++) {
        const size_t first = (size_t)base * (size_t)every->plan->patterns;
        const int places = every->bases[base].wrong_visits > 0 ? every_places(every, base) : 0;
        const bool mirror = every_is_mirror(every, base);
        for (int place = 0; place < places; place++) {
            const size_t picture = first + (size_t)place;
            if ((every->state[picture] & SEEN_STATE) != SEEN_WRONG) {
                continue;
            }
            const uint32_t v = every_pattern(every, base, place);
            uint64_t wrong = every_expected(every, mirror, v) ^ every->cells[picture];
            counts->mode[mirror]++;
            counts->least = v < counts->least ? v : counts->least;
            counts->most = v > counts->most ? v : counts->most;
            for (; wrong != 0; wrong &= wrong - 1) {
                counts->cell[__builtin_ctzll(wrong) % CELLS]++;
            }
        }
    }
}

/* The cell that is wrong most often, and is not among those said already. */
static int worst_cell(const struct wrong_counts *counts, uint64_t said) {
    int worst = -1;
    for (int cell = 0; cell < CELLS; cell++) {
        if ((said >> cell & 1) == 0 && counts->cell[cell] > 0 &&
            (worst < 0 || counts->cell[cell] > counts->cell[worst])) {
            worst = cell;
        }
    }
    return worst;
}

static void tell_counts(struct telling *telling) {
    enum { CELLS_SAID = 3 };
    struct wrong_counts counts;
    uint64_t said = 0;
    struct finding *finding = add(telling, FINDING_UNEXPLAINED, 0);
    if (finding == NULL) {
        return;
    }
    count_wrong(telling->every, &counts);
    finding_say(finding,
                "%llu pictures are wrong, and no rule predicts just those: %llu in copy, %llu in mirror "
                "mode; PF0 PF1 PF2 from $%05X to $%05X (PF0 by its upper half).",
                ull(telling->every->wrong), ull(counts.mode[0]), ull(counts.mode[1]), counts.least,
                counts.most);
    for (int i = 0; i < CELLS_SAID; i++) {
        const int cell = worst_cell(&counts, said);
        if (cell < 0) {
            break;
        }
        const struct pf_bit *bit = &expect_serial[rule_position(false, cell)];
        said |= UINT64_C(1) << cell;
        finding_say(finding, "%s cell %d (in copy %s D%d) in %llu", i == 0 ? " Wrong most often:" : ",", cell,
                    reg_name(bit->reg), bit->bit, ull(counts.cell[cell]));
    }
    finding_say(finding, ".");
}

/* ---- the video's ---- */

static void take_back(struct telling *telling) {
    struct coverage *coverage = &telling->result->coverage;
    coverage->seen -= coverage->wrong;
    coverage->open += coverage->wrong;
    coverage->wrong = 0;
}

static void tell_place(struct telling *telling, int first, int last) {
    struct finding *finding = add(telling, FINDING_UNEXPLAINED, 0);
    if (finding != NULL) {
        finding_say(
            finding,
            "%llu pictures look wrong, all of them between lines %d and %d of the picture, whatever the "
            "registers hold: a console draws a value alike on every line. Something lies over the video, or "
            "it is stale or cut off there.",
            ull(telling->every->wrong), first, last);
        snprintf(finding->next, sizeof finding->next, "%s", advice_next(FINDING_HALF_BLACK));
    }
}

static void tell_unclear(struct telling *telling) {
    struct finding *finding = add(telling, FINDING_UNEXPLAINED, 0);
    if (finding != NULL) {
        finding_say(
            finding,
            "%llu pictures look wrong, and %llu lines had cells between black and white: video like this may "
            "misread so many by itself.",
            ull(telling->every->wrong), ull(telling->every->unclear_lines));
        snprintf(finding->next, sizeof finding->next, "%s", advice_next(FINDING_NOISY));
    }
}

/* ---- which of them ---- */

static bool tell_rules(struct telling *telling, const struct cell_rules *rules) {
    struct singles singles;
    struct rule_set set;
    if (telling->every->wrong == 0 || rules_fail(rules)) {
        return false;
    }
    find_singles(telling, rules, &singles);
    if (singles.count > 0) {
        tell_singles(telling, &singles);
        telling->cause = singles.cause[0];
        tell_bits_instead(telling, rules, singles.count);
        return true;
    }
    if (!rule_set_find(telling->judge, rules, &set)) {
        return false;
    }
    rule_set_count(telling->every, &set);
    tell_set(telling, &set);
    return true;
}

/* True: the console is at fault. */
static bool tell_wrong(struct telling *telling) {
    struct cell_rules rules;
    struct flaky_bits flaky;
    int first, last;
    rules_find(telling->every, &rules);
    if (is_late(telling)) {
        tell_late(telling, &rules);
        return true;
    }
    if (nothing_is_lit(telling->every)) {
        tell_too_dark(telling);
        return true;
    }
    if (tell_rules(telling, &rules)) {
        return true;
    }
    if (flaky_find(telling->every, &flaky)) {
        tell_flaky(telling, &flaky);
        return true;
    }
    if (telling->every->wrong == 0) {
        return false;
    }
    if (doubt_place(telling->every, &first, &last)) {
        tell_place(telling, first, last);
    } else if (doubt_clarity(telling->every)) {
        tell_unclear(telling);
    } else {
        tell_counts(telling);
        return true;
    }
    take_back(telling);
    return false;
}

static bool any_was_wrong(const struct every_state *every) {
    for (uint32_t base = 0; base < every->total; base++) {
        if (every->bases[base].wrong_visits > 0) {
            return true;
        }
    }
    return false;
}

void every_explain(struct every_state *every, struct judge *judge, struct result *result) {
    struct telling telling = {.every = every, .judge = judge, .result = result};
    const bool whole = result->coverage.seen == result->coverage.of;
    bool wrong = (any_was_wrong(every) || is_late(&telling) || nothing_is_lit(every)) && tell_wrong(&telling);
    if (every_colours_judge(every, telling.cause, result)) {
        wrong = true;
    } else if (!wrong && every_colours_dim(every)) {
        tell_dim(&telling);
        wrong = true;
    }
    if (wrong) {
        result->verdict = VERDICT_FAIL;
    } else {
        result->verdict =
            whole && result->coverage.seen == result->coverage.of ? VERDICT_PASS : VERDICT_INCONCLUSIVE;
    }
}
