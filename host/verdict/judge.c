/* Accounts each field to its step and works out the verdict. */
#include "verdict/colours.h"
#include "verdict/counted.h"
#include "verdict/sightings.h"
#include "verdict/state.h"
#include "verdict/thin.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static size_t most_bands(const struct plan *plan) {
    size_t most = 1;
    for (size_t i = 0; i < plan->step_count; i++) {
        most = plan->steps[i].band_count > most ? plan->steps[i].band_count : most;
    }
    return most;
}

static enum flat flat_of(const struct expectation *expect) {
    uint64_t any = 0, all = CELLS_ALL;
    for (int line = 0; line < expect->lines; line++) {
        any |= expect->lit[line];
        all &= expect->lit[line];
    }
    return any == 0 ? FLAT_DARK : all == CELLS_ALL ? FLAT_LIT : FLAT_NOT;
}

static bool prepare_steps(struct judge *judge) {
    for (size_t i = 0; i < judge->plan->step_count; i++) {
        struct step_state *step = &judge->steps[i];
        expect_step(&judge->plan->steps[i], judge->lines, &step->expect);
        step->flat = flat_of(&step->expect);
        step->result.verdict = VERDICT_INCONCLUSIVE;
        step->result.expected = step->expect.lit[0];
        step->result.sure = step->expect.sure[0];
        step->result.wrong_line = -1;
        if (thin_step(&judge->plan->steps[i])) {
            if ((step->thin = calloc(1, sizeof *step->thin)) == NULL) {
                return false;
            }
            thin_begin(step->thin, &judge->plan->steps[i]);
        }
    }
    return true;
}

static bool choose_counted(struct judge *judge) {
    judge->counted = calloc(1, sizeof *judge->counted);
    if (judge->counted == NULL) {
        return false;
    }
    switch (judge->plan->kind) {
    case PLAN_EVERY:
        return every_judge(judge->plan, judge->counted);
    case PLAN_MOMENTS:
        return moments_judge(judge->plan, judge->counted);
    case PLAN_COLOURS:
        return palette_judge(judge->plan, judge->counted);
    case PLAN_CARTRIDGE:
        return check_judge(judge->plan, judge->counted);
    default:
        return true;
    }
}

static bool is_counted(const struct judge *judge) {
    return judge->counted->state != NULL;
}

struct judge *judge_new(const struct plan *plan, uint16_t hash) {
    struct judge *judge = calloc(1, sizeof *judge);
    if (judge == NULL) {
        return NULL;
    }
    size_t count = plan->step_count > 0 ? plan->step_count : 1;
    judge->plan = plan;
    judge->hash = hash;
    judge->lines = standard_plan_lines(plan->standard);
    judge->owed = plan->step_count;
    judge->last_step = -1;
    judge->steps = calloc(count, sizeof *judge->steps);
    judge->result.steps = calloc(count, sizeof *judge->result.steps);
    judge->bands = calloc(most_bands(plan), sizeof *judge->bands);
    if (judge->steps == NULL || judge->result.steps == NULL || judge->bands == NULL) {
        judge_free(judge);
        return NULL;
    }
    judge->cause_count = cause_list(judge->causes);
    if (!prepare_steps(judge) || !choose_counted(judge)) {
        judge_free(judge);
        return NULL;
    }
    return judge;
}

void judge_free(struct judge *judge) {
    if (judge != NULL) {
        if (judge->counted != NULL && is_counted(judge)) {
            judge->counted->free(judge->counted->state);
        }
        free(judge->counted);
        for (size_t i = 0; judge->steps != NULL && i < judge->plan->step_count; i++) {
            free(judge->steps[i].thin);
        }
        free(judge->steps);
        free(judge->result.steps);
        free(judge->bands);
        free(judge);
    }
}

double offset_wrap(double clocks) {
    return clocks - CELL_CLOCKS * floor(clocks / CELL_CLOCKS + 0.5);
}

/* Counts a field without a slate of this image. */
static void count_blind(struct field_counts *counts, const struct reading *reading) {
    counts->blind_run++;
    counts->dark_run = reading->state == FIELD_NO_SIGNAL ? counts->dark_run + 1 : 0;
    counts->still_run = 0;
    switch (reading->state) {
    case FIELD_NO_SIGNAL:
        counts->no_signal++;
        break;
    case FIELD_NO_SLATE:
        counts->no_slate++;
        break;
    case FIELD_BAD_SLATE:
        counts->bad_slate++;
        break;
    case FIELD_READ:
        if (reading->slate.hash == SLATE_HASH_IDLE) {
            counts->idle++;
        } else {
            counts->foreign++;
            counts->foreign_hash = reading->slate.hash;
        }
        break;
    }
}

/* Place n of those remembered, the newest being 0. */
static uint32_t *recent(struct judge *judge, int n) {
    return &judge->recent[(judge->recent_next + 2 * RECENT_FIELDS - 1 - n) % RECENT_FIELDS];
}

static void remember(struct judge *judge, uint32_t key) {
    judge->recent[judge->recent_next] = key;
    judge->recent_next = (judge->recent_next + 1) % RECENT_FIELDS;
    judge->recent_count += judge->recent_count < RECENT_FIELDS;
}

/* It becomes the newest: a stale field that comes again and again is not forgotten over those between. */
static void touch(struct judge *judge, int n) {
    uint32_t key = *recent(judge, n);
    for (; n > 0; n--) {
        *recent(judge, n) = *recent(judge, n - 1);
    }
    *recent(judge, 0) = key;
}

/* True when the field is one of the last few different ones again; else it is remembered. */
static bool is_doubled(struct judge *judge, const struct slate *slate) {
    uint32_t key = slate->value << SLATE_COUNTER_BITS | slate->counter;
    for (int n = 0; n < judge->recent_count; n++) {
        if (*recent(judge, n) == key) {
            touch(judge, n);
            return true;
        }
    }
    remember(judge, key);
    return false;
}

/* Does what every slate of the image needs, and says whether the field is a new one of a known step. */
static bool accept(struct judge *judge, const struct reading *reading) {
    struct field_counts *counts = &judge->counts;
    counts->blind_run = 0;
    counts->dark_run = 0;
    if (!plan_counts(judge->plan) && reading->slate.value >= judge->plan->step_count) {
        counts->beyond++;
        judge->result.fields_unreadable++;
        return false;
    }
    if (is_doubled(judge, &reading->slate)) {
        counts->doubled++;
        counts->still_run++;
        return false;
    }
    counts->still_run = 0;
    counts->accepted++;
    return true;
}

/* A pass speaks for every line, so a field cut off below is not judged; a cartridge's check says all in its
 * slate. */
static bool shows_all_lines(const struct judge *judge, const struct reading *reading) {
    return reading->lines >= judge->lines || judge->plan->kind == PLAN_CARTRIDGE;
}

static void add_raster(struct judge *judge, const struct raster *raster, int frame_lines) {
    judge->raster_sum.left += raster->left;
    judge->raster_sum.top += raster->top;
    judge->raster_sum.clock_width += raster->clock_width;
    judge->raster_sum.black += raster->black;
    judge->raster_sum.white += raster->white;
    judge->raster_sum.slant += raster->slant;
    judge->result.frame_lines = frame_lines;
}

static void add_offset(struct step_state *step, const struct reading *reading) {
    if (reading->edges > 0) {
        step->offsets++;
        double away = offset_wrap(reading->offset - step->result.offset);
        step->result.offset = offset_wrap(step->result.offset + away / step->offsets);
    }
}

static void add_field(struct judge *judge, struct step_state *step, const struct reading *reading,
                      bool wrong) {
    struct result *result = &judge->result;
    if (step->result.fields == 0 || reading->margin < step->result.margin) {
        step->result.margin = reading->margin;
    }
    if (result->fields_judged == 0 || reading->margin < result->margin) {
        result->margin = reading->margin;
    }
    result->fields_judged++;
    step->result.fields++;
    step->result.failed += wrong;
    judge->owed -= step->result.fields == JUDGE_GOOD_FIELDS;
    add_offset(step, reading);
}

static void add_run_offset(struct judge *judge, const struct step_state *step,
                           const struct reading *reading) {
    if (sighting_has_offset(step, reading)) {
        judge->offsets++;
        double away = offset_wrap(reading->offset - judge->offset);
        judge->offset = offset_wrap(judge->offset + away / (double)judge->offsets);
    }
}

/* A worn time base puts one field or another beside its raster; a late playfield is late in all of them. */
static bool is_late_throughout(const struct judge *judge) {
    return judge->offsets >= OFFSET_FIELDS_MIN && fabs(judge->offset) > OFFSET_WRONG;
}

/* Settling is the counted judge's own matter. */
static enum judged read_counted(struct judge *judge, const struct reading *reading, int frame_lines) {
    const enum judged judged = judge->counted->read(judge->counted->state, reading);
    if (judged == JUDGED_NOT) {
        return judged;
    }
    if (judge->result.fields_judged == 0 || reading->margin < judge->result.margin) {
        judge->result.margin = reading->margin;
    }
    judge->result.fields_judged++;
    add_raster(judge, &reading->raster, frame_lines);
    return judged;
}

/* The first field of a step is not judged: a grabber may have mixed the one before into it. One that is two
 * fields mixed, of the same step by its slate, and follows on one that could not be read, has its step's
 * first field in it already. */
enum judged judge_reading(struct judge *judge, const struct reading *reading, int frame_lines) {
    judge->result.fields_seen++;
    if (reading->state != FIELD_READ || reading->slate.hash != judge->hash) {
        judge->result.fields_unreadable++;
        count_blind(&judge->counts, reading);
        if (is_counted(judge) && judge->counted->blind != NULL) {
            judge->counted->blind(judge->counted->state);
        }
        return JUDGED_NOT;
    }
    bool after_gap = judge->counts.blind_run > 0;
    if (!accept(judge, reading)) {
        return JUDGED_NOT;
    }
    bool settled = judge->last_step == (long)reading->slate.value || (after_gap && reading->blended);
    judge->last_step = (long)reading->slate.value;
    if (!shows_all_lines(judge, reading)) {
        judge->counts.cropped++;
        judge->result.fields_unreadable++;
        return JUDGED_NOT;
    }
    if (is_counted(judge)) {
        return read_counted(judge, reading, frame_lines);
    }
    if (!settled) {
        return JUDGED_NOT;
    }
    struct step_state *step = &judge->steps[reading->slate.value];
    add_run_offset(judge, step, reading);
    enum sight sight = sighting_of(judge, reading->slate.value, reading, is_late_throughout(judge));
    if (sight != SIGHT_TORN) {
        colours_add(judge, step, reading);
    }
    if (sight == SIGHT_UNCLEAR || sight == SIGHT_TORN) {
        step->unclear++;
        step->torn += sight == SIGHT_TORN;
        judge->result.fields_unreadable++;
        return JUDGED_NOT;
    }
    add_raster(judge, &reading->raster, frame_lines);
    add_field(judge, step, reading, sight == SIGHT_WRONG);
    return sight == SIGHT_WRONG ? JUDGED_FAIL : JUDGED_PASS;
}

void judge_capture(struct judge *judge, const struct frames_facts *facts, const struct video_counts *counts) {
    judge->capture = *facts;
    judge->buffers = *counts;
}

bool judge_complete(const struct judge *judge) {
    return judge_owed(judge) == 0;
}

size_t judge_owed(const struct judge *judge) {
    return is_counted(judge) ? judge->counted->owed(judge->counted->state) : judge->owed;
}

size_t judge_ask(struct judge *judge, uint32_t *values, size_t most) {
    return is_counted(judge) && judge->counted->ask != NULL
               ? judge->counted->ask(judge->counted->state, values, most)
               : 0;
}

int judge_repeat_wanted(const struct judge *judge) {
    return is_counted(judge) && judge->counted->repeat_wanted != NULL
               ? judge->counted->repeat_wanted(judge->counted->state)
               : 0;
}

long judge_last_step(const struct judge *judge) {
    return judge->last_step;
}

/* One wrong field beside a second one, right or wrong, is enough: a field is called wrong only when a cell is
 * wrong throughout a band or all edges are off, which noise does not do. */
static enum verdict step_verdict(const struct step_result *step) {
    if (step->fields < JUDGE_GOOD_FIELDS) {
        return VERDICT_INCONCLUSIVE;
    }
    return step->failed > 0 ? VERDICT_FAIL : VERDICT_PASS;
}

static enum verdict overall_verdict(const struct judge *judge) {
    bool missing = judge->plan->step_count == 0;
    for (size_t i = 0; i < judge->plan->step_count; i++) {
        enum verdict verdict = judge->result.steps[i].verdict;
        if (verdict == VERDICT_FAIL) {
            return VERDICT_FAIL;
        }
        missing = missing || verdict == VERDICT_INCONCLUSIVE;
    }
    return missing ? VERDICT_INCONCLUSIVE : VERDICT_PASS;
}

static void mean_raster(struct judge *judge) {
    struct result *result = &judge->result;
    double count = (double)result->fields_judged;
    result->has_raster = result->fields_judged > 0;
    if (result->has_raster) {
        result->raster.left = judge->raster_sum.left / count;
        result->raster.top = judge->raster_sum.top / count;
        result->raster.clock_width = judge->raster_sum.clock_width / count;
        result->raster.black = judge->raster_sum.black / count;
        result->raster.white = judge->raster_sum.white / count;
        result->raster.slant = judge->raster_sum.slant / count;
    }
}

/* A wrong colour may be why cells are wrong; and a data line that makes cells wrong makes colours wrong. */
static void find_causes(struct judge *judge) {
    struct result *result = &judge->result;
    result->finding_count = 0;
    colours_judge(judge, NULL);
    if (result->verdict == VERDICT_FAIL && !colours_explain_cells(judge)) {
        result->finding_count = 0;
        colours_judge(judge, explain_failures(judge));
    }
    if (judge->colours.wrong) {
        result->verdict = VERDICT_FAIL;
    }
}

const struct result *judge_result(struct judge *judge) {
    struct result *result = &judge->result;
    result->step_count = judge->plan->step_count;
    if (is_counted(judge)) {
        result->finding_count = 0;
        mean_raster(judge);
        judge->counted->result(judge->counted->state, judge, result);
        find_troubles(judge);
        explain_absence(judge);
        return result;
    }
    for (size_t i = 0; i < result->step_count; i++) {
        result->steps[i] = judge->steps[i].result;
        result->steps[i].verdict = step_verdict(&result->steps[i]);
    }
    result->verdict = overall_verdict(judge);
    mean_raster(judge);
    find_causes(judge);
    find_troubles(judge);
    explain_absence(judge);
    return result;
}
