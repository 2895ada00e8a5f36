/*
 * What a run of plan moments says is wrong. Cells that are not the handbook's come first: the causes that
 * plan bits knows are tried on the lines that hold a value; where none explains all of them, each register is
 * told by itself. Of a register whose cells are wrong no delay is believed.
 */
#include "verdict/advice.h"
#include "verdict/findings.h"
#include "verdict/moments_judge.h"

#include <math.h>
#include <stdio.h>

enum {
    PLAYFIELD = MOMENT_SCORE, /* registers before it draw cells */
    TOLD_CAUSES = 4,
    FLAKY_FIELDS = 4,  /* in which a bit must fail to be called one that comes and goes */
    FLAKY_SHARE = 50,  /* and one field in so many */
    AGAINST_LEAST = 4, /* halves of lines that a delay does not fit, to say that it varies */
    AGAINST_SHARE = 8  /* and one for so many changes; fewer may be the video's */
};
/* Clocks by which a change may come before its write has ended: what measuring may do. */
static const double early_least = 0.5;
/* By which the picture may lie beside the slate. */
static const double beside_most = 0.3;

/* What most fields showed of one picture. */
struct majority {
    uint64_t light, dark;
};

static struct majority majority_of(const struct cell_counts *counts, int picture) {
    struct majority most = {0};
    for (int cell = 0; cell < CELLS; cell++) {
        most.light |= (uint64_t)(2 * counts->light[picture][cell] > counts->fields) << cell;
        most.dark |= (uint64_t)(2 * counts->dark[picture][cell] > counts->fields) << cell;
    }
    return most;
}

static uint64_t wrong_cells(const struct majority *seen, uint64_t expected) {
    return (seen->light & ~expected) | (seen->dark & expected);
}

/* Of both pictures. */
static uint64_t all_wrong(const struct moments_state *state, int reg, int mode) {
    const struct cell_counts *counts = &state->cells[reg][mode];
    const struct moment_cells *expected = &state->expected[reg][mode];
    if (counts->fields < JUDGE_GOOD_FIELDS) {
        return 0;
    }
    const struct majority before = majority_of(counts, 0), after = majority_of(counts, 1);
    return wrong_cells(&before, expected->before) | wrong_cells(&after, expected->after);
}

static bool is_wrong(const struct moments_state *state, int reg) {
    return (all_wrong(state, reg, 0) | all_wrong(state, reg, 1)) != 0;
}

/* ---- findings ---- */

static struct finding *add(struct judge *judge, enum finding_kind kind, int reg) {
    struct finding *finding = finding_add(&judge->result, kind);
    if (finding != NULL) {
        finding->reg = reg;
    }
    return finding;
}

static int register_of(int reg) {
    return (int)moment_setting((enum moment_register)reg, false).reg;
}

static const char *name_of(int reg) {
    return moment_name((enum moment_register)reg);
}

/* ---- causes ---- */

static bool predicts_picture(const struct cause *cause, const struct moments_state *state, int reg, int mode,
                             int picture) {
    const struct cell_counts *counts = &state->cells[reg][mode];
    const struct moment_setting setting = moment_setting((enum moment_register)reg, mode != 0);
    if (counts->fields < JUDGE_GOOD_FIELDS) {
        return true;
    }
    uint8_t held[REG_COUNT];
    uint64_t half;
    moment_held(&setting, picture == 0 ? setting.before : setting.after, held);
    const uint64_t predicted = moment_white(held, cause_cells(cause, held, &half));
    const struct majority seen = majority_of(counts, picture);
    return (wrong_cells(&seen, predicted) & ~half) == 0;
}

/* Cells and where they lie. */
static bool predicts(const struct cause *cause, const struct moments_state *state) {
    if (state->late_fields >= OFFSET_FIELDS_MIN &&
        fabs(offset_wrap(state->late - cause->shift)) > OFFSET_WRONG) {
        return false;
    }
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * MOMENT_PICTURES; i++) {
        if (!predicts_picture(cause, state, i / MOMENT_PICTURES / MOMENT_MODES,
                              i / MOMENT_PICTURES % MOMENT_MODES, i % MOMENT_PICTURES)) {
            return false;
        }
    }
    return true;
}

static void tell_cause(struct judge *judge, const struct cause *cause, int number) {
    char text[240];
    struct finding *finding = add(judge, cause->kind, cause->reg);
    advice_describe(cause, text, sizeof text);
    if (finding != NULL) {
        finding->bit = cause->bit;
        finding->explanation = number;
        finding_say(finding, "%s: so on all lines that hold a value.", text);
    }
}

/* How many single causes predict every picture of the playfield's registers. */
static int tell_causes(const struct moments_state *state, struct judge *judge) {
    int told = 0;
    for (size_t i = 0; i < judge->cause_count && told < TOLD_CAUSES; i++) {
        if (predicts(&judge->causes[i], state)) {
            tell_cause(judge, &judge->causes[i], told++);
        }
    }
    for (size_t i = 0; i < judge->result.finding_count && told > 1; i++) {
        judge->result.findings[i].alternative = true;
    }
    return told;
}

/* ---- registers by themselves ---- */

static bool changes_nothing(const struct moments_state *state, int reg, int mode) {
    const struct cell_counts *counts = &state->cells[reg][mode];
    const struct majority before = majority_of(counts, 0), after = majority_of(counts, 1);
    return counts->fields >= JUDGE_GOOD_FIELDS && before.light == after.light && before.dark == after.dark;
}

static void tell_register(const struct moments_state *state, struct judge *judge, int reg) {
    char cells[CELLS + 1];
    if (changes_nothing(state, reg, 0) && changes_nothing(state, reg, 1)) {
        struct finding *finding = add(judge, FINDING_MOMENT_MISSING, register_of(reg));
        finding_say(finding,
                    "Writes to %s change nothing on the screen, in copy and in mirror, in any of %d fields.",
                    name_of(reg), state->cells[reg][0].fields + state->cells[reg][1].fields);
        return;
    }
    const int mode = all_wrong(state, reg, 0) != 0 ? 0 : 1;
    cells_text(all_wrong(state, reg, mode), 0, cells);
    finding_say(add(judge, FINDING_MOMENT_CELLS, register_of(reg)),
                "%s in %s: cells are not those of the handbook before or after the write (1: wrong): %s. Its "
                "delays are not told.",
                name_of(reg), mode == 0 ? "copy" : "mirror", cells);
}

static void disbelieve(struct moments_state *state, int reg) {
    for (int phase = 0; phase < MOMENT_PHASES; phase++) {
        state->moments.delay[reg][phase].known = false;
    }
}

static bool tell_cells(struct moments_state *state, struct judge *judge) {
    bool any = false;
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        if (is_wrong(state, reg)) {
            any = true;
            disbelieve(state, reg);
        }
    }
    if (!any || tell_causes(state, judge) > 0) {
        return any;
    }
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        if (is_wrong(state, reg)) {
            tell_register(state, judge, reg);
        }
    }
    return true;
}

/* ---- late, and at times ---- */

/* The cells are right and lie beside the background's. */
static bool tell_late(struct moments_state *state, struct judge *judge) {
    if (state->late_fields < OFFSET_FIELDS_MIN || fabs(state->late) <= OFFSET_WRONG) {
        return false;
    }
    finding_say(
        add(judge, FINDING_SHIFTED, -1),
        "The playfield's cells lie %+.2f clocks beside the background's edges, mean of %ld fields. Delays of "
        "playfield registers are not told.",
        state->late, state->late_fields);
    for (int reg = 0; reg < PLAYFIELD; reg++) {
        disbelieve(state, reg);
    }
    return true;
}

/* Fields in which a playfield bit's cell was another than in most, where hardly any other cell ever was. */
static void count_flaky(const struct moments_state *state, int cell, int *fields, int *wrong) {
    for (int i = 0; i < PLAYFIELD * MOMENT_MODES * MOMENT_PICTURES; i++) {
        const int reg = i / MOMENT_PICTURES / MOMENT_MODES, mode = i / MOMENT_PICTURES % MOMENT_MODES,
                  picture = i % MOMENT_PICTURES;
        const struct cell_counts *counts = &state->cells[reg][mode];
        const uint64_t expected =
            picture == 0 ? state->expected[reg][mode].before : state->expected[reg][mode].after;
        const int other = expected >> cell & 1 ? counts->dark[picture][cell] : counts->light[picture][cell];
        if (other > 0) {
            *fields += counts->fields;
            *wrong += other;
        }
    }
}

static bool tell_flaky(const struct moments_state *state, struct judge *judge) {
    int fields[CELLS / 2] = {0}, wrong[CELLS / 2] = {0}, worst = 0, second = 0;
    for (int cell = 0; cell < CELLS / 2; cell++) {
        count_flaky(state, cell, &fields[cell], &wrong[cell]);
        if (wrong[cell] > wrong[worst]) {
            worst = cell;
        }
    }
    for (int cell = 0; cell < CELLS / 2; cell++) {
        second = cell != worst && wrong[cell] > second ? wrong[cell] : second;
    }
    if (wrong[worst] < FLAKY_FIELDS || FLAKY_SHARE * wrong[worst] < fields[worst] ||
        4 * second > wrong[worst]) {
        return false;
    }
    const struct interval interval = wilson_interval(wrong[worst], fields[worst]);
    struct finding *finding = add(judge, FINDING_INTERMITTENT, (int)expect_serial[worst].reg);
    if (finding != NULL) {
        finding->bit = expect_serial[worst].bit;
        finding->rate = (double)wrong[worst] / fields[worst];
        finding->rate_low = interval.low;
        finding->rate_high = interval.high;
        finding_say(finding, "%s D%d is wrong, but not always: in %d of the %d fields that can show it.",
                    reg_name(expect_serial[worst].reg), expect_serial[worst].bit, wrong[worst],
                    fields[worst]);
    }
    return true;
}

/* ---- delays ---- */

static void name_phases(unsigned phases, char text[16]) {
    int used = 0;
    for (int phase = 0; phase < MOMENT_PHASES; phase++) {
        if (phases >> phase & 1) {
            used += snprintf(text + used, 16 - (size_t)used, "%s%d", used > 0 ? ", " : "", phase);
        }
    }
}

static bool does_vary(const struct moment_delay *delay) {
    return delay->against >= AGAINST_LEAST && AGAINST_SHARE * delay->against >= delay->observations;
}

static bool tell_delays(const struct moments_state *state, struct judge *judge, int reg) {
    unsigned early = 0, varies = 0;
    const struct moment_delay *example = NULL;
    for (int phase = 0; phase < MOMENT_PHASES; phase++) {
        const struct moment_delay *delay = &state->moments.delay[reg][phase];
        early |= (unsigned)(delay->known && delay->high < -early_least) << phase;
        varies |= (unsigned)does_vary(delay) << phase;
        example = does_vary(delay) && example == NULL ? delay : example;
    }
    char phases[16] = "";
    if (early != 0) {
        name_phases(early, phases);
        finding_say(
            add(judge, FINDING_MOMENT_EARLY, register_of(reg)),
            "%s: the screen changes before the write has ended (phase %s). No chip does that: the program or "
            "the picture is not in the line that it should be in.",
            name_of(reg), phases);
    }
    if (varies != 0) {
        const struct moment moment = moment_of(example->example);
        name_phases(varies, phases);
        finding_say(add(judge, FINDING_MOMENT_VARIES, register_of(reg)),
                    "%s: no one delay fits all writes of a phase (phase %s). Of %d changes seen %d halves of "
                    "lines do not fit, one of them in %s at cycle %d.",
                    name_of(reg), phases, example->observations, example->against,
                    moment.mirror ? "mirror" : "copy", moment.cycle);
    }
    return early != 0 || varies != 0;
}

/* The background's own edges lie where the slate says, or else no clock is worth anything: lines that bend,
 * or a picture that is not the slate's. */
static bool tell_beside(struct moments_state *state, struct judge *judge) {
    if (fabs(state->beside) <= beside_most) {
        return false;
    }
    struct finding *finding = add(judge, FINDING_UNEXPLAINED, -1);
    finding_say(
        finding,
        "The picture lies %+.2f clocks beside its slate, mean of %ld fields with nothing but background: the "
        "grabber bends or moves lines. No delay is told.",
        state->beside, state->white_fields);
    if (finding != NULL) {
        snprintf(
            finding->next, sizeof finding->next,
            "Stabilising and time base correction of the grabber or recorder on, or off; another grabber; a "
            "direct cable in place of a tape.");
    }
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        disbelieve(state, reg);
    }
    return true;
}

/* Every picture had its fields, and still some delay can't be told. */
static void tell_unknown(const struct moments_state *state, struct judge *judge) {
    int unknown = 0, mixed = 0;
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        unknown += !state->moments.delay[i / MOMENT_PHASES][i % MOMENT_PHASES].known;
    }
    for (int i = 0; i < MOMENT_VALUES * MOMENT_EDGES * HALVES; i++) {
        const struct moment_seen *seen = &state->moments.seen[i / (MOMENT_EDGES * HALVES)];
        mixed += seen->half[i / HALVES % MOMENT_EDGES][i % HALVES].state == HALF_MIXED;
    }
    if (unknown > 0) {
        struct finding *finding = add(judge, FINDING_UNEXPLAINED, -1);
        finding_say(
            finding,
            "%d of %d delays can't be told: in %d halves of lines no one change could be placed, or fields "
            "disagree.",
            unknown, MOMENT_REGISTERS * MOMENT_PHASES, mixed);
        if (finding != NULL) {
            snprintf(
                finding->next, sizeof finding->next,
                "The video first: what is said of the capture; deinterlacing and sharpening off, another "
                "grabber. Then run again with each value shown longer (--hold).");
        }
    }
}

bool moments_tell(struct moments_state *state, struct judge *judge) {
    const bool cells = tell_cells(state, judge);
    if (tell_beside(state, judge)) {
        return cells;
    }
    const bool late = !cells && tell_late(state, judge);
    bool fault = cells || late || tell_flaky(state, judge);
    /* Score and COLUPF show in the playfield's cells, which then begin elsewhere. */
    for (int reg = late ? MOMENT_COLUBK : 0; reg < MOMENT_REGISTERS; reg++) {
        if (!is_wrong(state, reg)) {
            fault = tell_delays(state, judge, reg) || fault;
        }
    }
    if (!fault && state->owed == 0) {
        tell_unknown(state, judge);
    }
    return fault;
}
