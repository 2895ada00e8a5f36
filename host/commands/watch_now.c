#include "commands/watch_now.h"

#include "expect/expect.h"
#include "verdict/verdict.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    KNOWN_SLATES = 8,  /* a grabber that hangs repeats a frame, and so two fields */
    RECENT = 16,       /* fields, of which the most frequent kind says what is there instead of a slate */
    RATE_BINS = 4,     /* whole ones: two seconds */
    TROUBLE_BINS = 10, /* five seconds */
    SETTLE_MS = 700    /* a better word is believed after this; a graver one at once */
};

/* Half a second of the past. */
struct bin {
    uint64_t number; /* time over the bin's length; 0: never filled */
    int frames, fields, fresh, read, cut;
    double margin;                  /* worst */
    double noise, mixing, contrast; /* sums over the fields read */
    double white_low, white_high, black_low, black_high;
    struct frames_facts facts; /* as they stood when it ended, or now */
    struct video_counts counts;
};

struct step_now {
    bool seen, wrong;
    uint64_t cells;
    uint64_t order; /* of sight: the greater, the later */
};

struct watch_now {
    const struct plan *plan;
    struct judge *judge;
    struct judge *recent_judge; /* is given what the last seconds counted, and nothing else */
    uint16_t hash;
    struct expectation expect; /* of the step in `expected` */
    long expected;
    struct step_now *steps;
    struct bin bins[WATCH_BINS];
    uint64_t bin, first_bin; /* the one that is being filled, and the one at the start */
    enum watch_kind recent[RECENT];
    unsigned recent_count;
    bool any_frame;
    uint64_t frame_us, good_us, fresh_us; /* when last; good: with a slate of the image */
    uint32_t slates[KNOWN_SLATES];        /* of the last fresh fields: value and counter */
    unsigned slate_count;
    struct raster raster;
    bool has_raster;
    int lines;
    uint16_t foreign_hash;
    long step;
    uint64_t sights;
    enum watch_kind shown;
    uint64_t shown_us; /* when something at least as grave was last so */
};

static struct bin *bin_at(struct watch_now *now, uint64_t number) {
    return &now->bins[number % WATCH_BINS];
}

static bool is_filled(struct watch_now *now, uint64_t number) {
    return number > 0 && bin_at(now, number)->number == number;
}

/* Goes on to the bin that time_us lies in; those skipped stay empty. */
static struct bin *advance(struct watch_now *now, uint64_t time_us) {
    const uint64_t number = time_us / (WATCH_BIN_MS * 1000) + 1;
    struct bin *bin = bin_at(now, number);
    if (bin->number != number) {
        const struct bin *before = bin_at(now, now->bin);
        const struct frames_facts facts = before->facts;
        const struct video_counts counts = before->counts;
        *bin = (struct bin){.number = number, .margin = -1, .facts = facts, .counts = counts};
    }
    now->bin = number;
    now->first_bin = now->first_bin == 0 ? number : now->first_bin;
    return bin;
}

struct watch_now *watch_now_new(const struct plan *plan, uint16_t hash) {
    struct watch_now *now = calloc(1, sizeof *now);
    if (now == NULL) {
        return NULL;
    }
    now->plan = plan;
    now->hash = hash;
    now->step = now->expected = -1;
    now->shown = WATCH_NO_FRAMES;
    now->judge = judge_new(plan, hash);
    now->steps = calloc(plan->step_count > 0 ? plan->step_count : 1, sizeof *now->steps);
    now->recent_judge = judge_new(plan, hash);
    if (now->judge == NULL || now->recent_judge == NULL || now->steps == NULL) {
        watch_now_free(now);
        return NULL;
    }
    return now;
}

void watch_now_free(struct watch_now *now) {
    if (now != NULL) {
        judge_free(now->judge);
        judge_free(now->recent_judge);
        free(now->steps);
        free(now);
    }
}

/* ---- what comes in ---- */

void watch_now_frame(struct watch_now *now, uint64_t time_us) {
    advance(now, time_us)->frames++;
    now->any_frame = true;
    now->frame_us = time_us;
}

/* What a field is; WATCH_WELL: one with a slate of the image. */
static enum watch_kind kind_of(const struct watch_now *now, const struct reading *reading) {
    switch (reading->state) {
    case FIELD_NO_SIGNAL:
        return WATCH_NO_SIGNAL;
    case FIELD_NO_SLATE:
        return WATCH_NO_SLATE;
    case FIELD_BAD_SLATE:
        return WATCH_BAD_SLATE;
    default:
        break;
    }
    if (reading->slate.hash == SLATE_HASH_IDLE) {
        return WATCH_IDLE;
    }
    return reading->slate.hash == now->hash && reading->slate.value < now->plan->step_count
               ? WATCH_WELL
               : WATCH_OTHER_IMAGE;
}

static const struct expectation *expectation_of(struct watch_now *now, long step) {
    if (now->expected != step) {
        expect_step(&now->plan->steps[step], standard_plan_lines(now->plan->standard), &now->expect);
        now->expected = step;
    }
    return &now->expect;
}

/* Cells that are clearly wrong on more than a quarter of all lines, as the judge's own rule has it for a
 * band. */
static uint64_t wrong_cells(const struct expectation *expect, const struct reading *reading) {
    uint64_t cells = 0;
    const int lines = reading->lines < expect->lines ? reading->lines : expect->lines;
    for (int cell = 0; cell < CELLS; cell++) {
        int count = 0;
        for (int line = 0; line < lines; line++) {
            const uint64_t wrong = (reading->lit[line] ^ expect->lit[line]) & expect->sure[line];
            count += (int)((wrong & ~reading->unclear[line]) >> cell & 1);
        }
        cells |= (uint64_t)(4 * count > lines) << cell;
    }
    return cells;
}

static void note_step(struct watch_now *now, const struct reading *reading, enum judged judged) {
    struct step_now *step = &now->steps[reading->slate.value];
    if (judged == JUDGED_NOT) {
        return;
    }
    step->seen = true;
    step->wrong = judged == JUDGED_FAIL;
    step->cells = step->wrong ? wrong_cells(expectation_of(now, now->step), reading) : 0;
    step->order = ++now->sights;
}

static bool is_fresh(struct watch_now *now, const struct slate *slate) {
    const uint32_t key = slate->value << SLATE_COUNTER_BITS | slate->counter;
    for (unsigned i = 0; i < now->slate_count && i < KNOWN_SLATES; i++) {
        if (now->slates[i] == key) {
            return false;
        }
    }
    now->slates[now->slate_count++ % KNOWN_SLATES] = key;
    return true;
}

static void note_levels(struct bin *bin, const struct raster *raster) {
    const bool first = bin->read == 0;
    bin->white_low = first ? raster->white : fmin(bin->white_low, raster->white);
    bin->white_high = first ? raster->white : fmax(bin->white_high, raster->white);
    bin->black_low = first ? raster->black : fmin(bin->black_low, raster->black);
    bin->black_high = first ? raster->black : fmax(bin->black_high, raster->black);
}

static void note_good(struct watch_now *now, struct bin *bin, uint64_t time_us,
                      const struct reading *reading) {
    const bool fresh = is_fresh(now, &reading->slate);
    now->good_us = time_us;
    if (fresh) {
        now->fresh_us = time_us;
    }
    now->raster = reading->raster;
    now->has_raster = true;
    now->lines = reading->lines;
    now->step = (long)reading->slate.value;
    bin->fresh += fresh;
    note_levels(bin, &reading->raster);
    bin->read++;
    bin->cut += reading->lines < standard_plan_lines(now->plan->standard);
    bin->margin = bin->margin < 0 || reading->margin < bin->margin ? reading->margin : bin->margin;
    bin->noise += reading->noise;
    bin->mixing += reading->mixing;
    bin->contrast += reading->raster.white - reading->raster.black;
}

uint64_t watch_now_field(struct watch_now *now, uint64_t time_us, const struct reading *reading,
                         int frame_lines) {
    struct bin *bin = advance(now, time_us);
    const enum watch_kind kind = kind_of(now, reading);
    const enum judged judged = judge_reading(now->judge, reading, frame_lines);
    bin->fields++;
    now->recent[now->recent_count++ % RECENT] = kind;
    if (kind != WATCH_WELL) {
        now->foreign_hash = reading->slate.hash;
        return 0;
    }
    note_good(now, bin, time_us, reading);
    note_step(now, reading, judged);
    return judged == JUDGED_FAIL ? now->steps[now->step].cells : 0;
}

void watch_now_facts(struct watch_now *now, uint64_t time_us, const struct frames_facts *facts,
                     const struct video_counts *counts) {
    struct bin *bin = advance(now, time_us);
    bin->facts = *facts;
    bin->counts = *counts;
}

/* ---- what is so ---- */

/* What most of the last fields were instead. */
static enum watch_kind blind_kind(const struct watch_now *now) {
    int counts[WATCH_KINDS] = {0};
    enum watch_kind most = WATCH_NO_SIGNAL;
    const unsigned known = now->recent_count < RECENT ? now->recent_count : RECENT;
    for (unsigned i = 0; i < known; i++) {
        counts[now->recent[i]]++;
    }
    for (int kind = WATCH_NO_SIGNAL; kind <= WATCH_OTHER_IMAGE; kind++) {
        most = counts[kind] > counts[most] ? (enum watch_kind)kind : most;
    }
    return most;
}

static bool older(uint64_t then_us, uint64_t time_us, int ms) {
    return then_us == 0 || time_us - then_us > (uint64_t)ms * 1000;
}

static bool is_silent(const struct watch_now *now, uint64_t time_us) {
    return !now->any_frame || older(now->frame_us, time_us, WATCH_SILENT_MS);
}

/* Frames come, and for a while none had a slate of the image. */
static bool is_blind(const struct watch_now *now) {
    return older(now->good_us, now->frame_us, WATCH_BLIND_MS);
}

/* Worst of this bin and the one before; below 0: nothing was read. */
static double margin_now(struct watch_now *now) {
    double margin = -1;
    for (uint64_t number = now->bin - 1; number <= now->bin; number++) {
        const struct bin *bin = bin_at(now, number);
        if (is_filled(now, number) && bin->margin >= 0 && (margin < 0 || bin->margin < margin)) {
            margin = bin->margin;
        }
    }
    return margin;
}

static bool is_cut_off(struct watch_now *now) {
    int cut = 0, read = 0;
    for (uint64_t number = now->bin - 1; number <= now->bin; number++) {
        cut += is_filled(now, number) ? bin_at(now, number)->cut : 0;
        read += is_filled(now, number) ? bin_at(now, number)->read : 0;
    }
    return 2 * cut > read;
}

/* The last seconds' own figures in the place of those since the start. */
static void measure_levels(struct watch_now *now, uint64_t from, struct frames_facts *facts) {
    double noise = 0, mixing = 0, contrast = 0;
    int read = 0;
    for (uint64_t number = from; number <= now->bin; number++) {
        const struct bin *bin = bin_at(now, number);
        if (!is_filled(now, number) || bin->read == 0) {
            continue;
        }
        facts->white_low = read == 0 ? bin->white_low : fmin(facts->white_low, bin->white_low);
        facts->white_high = read == 0 ? bin->white_high : fmax(facts->white_high, bin->white_high);
        facts->black_low = read == 0 ? bin->black_low : fmin(facts->black_low, bin->black_low);
        facts->black_high = read == 0 ? bin->black_high : fmax(facts->black_high, bin->black_high);
        noise += bin->noise;
        mixing += bin->mixing;
        contrast += bin->contrast;
        read += bin->read;
    }
    facts->noise_db = noise > 0 && contrast > 0 ? 20 * log10(contrast / noise) : 0;
    facts->mixing = read > 0 ? mixing / read : 0;
    if (read == 0) {
        facts->white_low = facts->white_high = facts->black_low = facts->black_high = 0;
    }
}

/* What the judge would say of the capture if it had seen the last seconds alone. */
static const struct result *last_seconds(struct watch_now *now, double *noise_db) {
    uint64_t from = now->bin > TROUBLE_BINS ? now->bin - TROUBLE_BINS : now->first_bin;
    while (from < now->bin && !is_filled(now, from)) {
        from++;
    }
    const struct bin *first = bin_at(now, from), *last = bin_at(now, now->bin);
    struct frames_facts facts = watch_facts_between(&first->facts, &last->facts);
    const struct video_counts counts = watch_counts_between(&first->counts, &last->counts);
    measure_levels(now, from, &facts);
    *noise_db = facts.noise_db;
    judge_capture(now->recent_judge, &facts, &counts);
    return judge_result(now->recent_judge);
}

static enum watch_kind kind_now(struct watch_now *now, uint64_t time_us, const struct watch_view *view) {
    if (is_silent(now, time_us)) {
        return WATCH_NO_FRAMES;
    }
    if (is_blind(now)) {
        return blind_kind(now);
    }
    if (older(now->fresh_us, now->frame_us, WATCH_STILL_MS)) {
        return WATCH_STANDS_STILL;
    }
    if (is_cut_off(now)) {
        return WATCH_CUT_OFF;
    }
    if (view->margin < PICTURE_UNCLEAR) {
        return WATCH_UNCLEAR;
    }
    if (view->wrong_count > 0) {
        return WATCH_WRONG;
    }
    if (view->trouble_count > 0) {
        return WATCH_TROUBLE;
    }
    return view->margin < WATCH_MARGIN_THIN ? WATCH_THIN : WATCH_WELL;
}

/* What was seen before the picture went away says nothing of how it is when it is back. */
static void forget_steps(struct watch_now *now) {
    memset(now->steps, 0, now->plan->step_count * sizeof *now->steps);
}

/* A graver word at once, a better one once it has stood for a while: words that flicker cannot be read. */
static enum watch_kind settled(struct watch_now *now, uint64_t time_us, enum watch_kind kind) {
    if (kind <= now->shown || older(now->shown_us, time_us, SETTLE_MS)) {
        now->shown = kind;
        now->shown_us = time_us;
    }
    return now->shown;
}

static void list_wrong(const struct watch_now *now, struct watch_view *view) {
    for (size_t i = 0; i < now->plan->step_count; i++) {
        const struct step_now *step = &now->steps[i];
        view->steps_seen += step->seen;
        view->steps_good += step->seen && !step->wrong;
        if (!step->wrong) {
            continue;
        }
        size_t at = view->wrong_count < WATCH_STEPS_SHOWN ? view->wrong_count : WATCH_STEPS_SHOWN;
        view->wrong_count++;
        while (at > 0 && now->steps[view->wrong[at - 1]].order < step->order) {
            if (at < WATCH_STEPS_SHOWN) {
                view->wrong[at] = view->wrong[at - 1];
                view->wrong_cells[at] = view->wrong_cells[at - 1];
            }
            at--;
        }
        if (at < WATCH_STEPS_SHOWN) {
            view->wrong[at] = (long)i;
            view->wrong_cells[at] = step->cells;
        }
    }
}

static void measure_rates(struct watch_now *now, struct watch_view *view) {
    int frames = 0, fresh = 0, bins = 0;
    /* The first bin is not a whole one. */
    for (uint64_t number = now->first_bin + 1; number < now->bin; number++) {
        if (number + RATE_BINS < now->bin) {
            number = now->bin - RATE_BINS;
        }
        if (is_filled(now, number)) {
            frames += bin_at(now, number)->frames;
            fresh += bin_at(now, number)->fresh;
        }
        bins++;
    }
    if (bins > 0) {
        view->frames_a_second = frames * 1000.0 / (bins * WATCH_BIN_MS);
        view->fields_a_second = fresh * 1000.0 / (bins * WATCH_BIN_MS);
    }
}

/* A bin that has only begun is not told to be empty. */
static bool has_just_begun(const struct watch_now *now, uint64_t number, uint64_t time_us) {
    const uint64_t begun_us = (number - 1) * WATCH_BIN_MS * 1000;
    return number == now->bin && time_us - begun_us < WATCH_BLIND_MS * 1000;
}

static void fill_strip(struct watch_now *now, uint64_t time_us, struct watch_view *view) {
    for (uint64_t i = 0; i < WATCH_BINS; i++) {
        const uint64_t back = WATCH_BINS - 1 - i;
        const uint64_t number = now->bin > back ? now->bin - back : 0;
        const struct bin *bin = bin_at(now, number);
        if (is_filled(now, number) && bin->margin >= 0) {
            view->strip[i] = bin->margin;
        } else {
            const bool blank = number < now->first_bin || has_just_begun(now, number, time_us);
            view->strip[i] = blank ? WATCH_NOT_YET : WATCH_NOTHING_READ;
        }
    }
}

/* ---- in words ---- */

static const struct watch_words words[WATCH_KINDS] = {
    [WATCH_NO_FRAMES] =
        {"no_frames", "blind", "No frames", "The source gives no frames.",
         "Is the grabber plugged in? Plug it in again, and close other programs that use it."},
    [WATCH_NO_SIGNAL] = {"no_signal", "blind", "No signal",
                         "The fields are flat: nothing in them differs from line to line.",
                         "Is the console on? Then seat the video plug, at both ends."},
    [WATCH_NO_SLATE] = {"no_slate", "blind", "No slate", "There is a picture, but no slate at its top.",
                        "Is the test image in the slot? Switch the console off and on."},
    [WATCH_BAD_SLATE] = {"bad_slate", "blind", "Slate unreadable",
                         "There is a slate, but its check code disagrees.", "Move or seat the video plug."},
    [WATCH_IDLE] = {"idle", "blind", "Board is empty", "The board shows its idle picture: it has no image.",
                    "Push one: slotjig push --plan NAME."},
    [WATCH_OTHER_IMAGE] = {"other_image", "blind", "Another image", "",
                           "Push this plan's image, or name the other plan with --plan."},
    [WATCH_STANDS_STILL] = {"stands_still", "blind", "Picture stands still",
                            "The same field comes again and again.",
                            "Start the capture again; if the picture still stands, switch the console off "
                            "and on."},
    [WATCH_CUT_OFF] = {"cut_off", "wrong", "Cut off below", "",
                       "Set the grabber to the whole height of the picture."},
    [WATCH_UNCLEAR] = {"unclear", "wrong", "Hard to read",
                       "Cells lie too near the middle between black and white to be sure of.",
                       "Move or seat the video plug until the margin rises; then a shorter cable."},
    [WATCH_WRONG] = {"wrong", "wrong", "Wrong cells", "",
                     "Power off, seat cartridge and plug. If it stays, slotjig run names the cause."},
    [WATCH_TROUBLE] = {"trouble", "look", "", "", ""},
    [WATCH_THIN] = {"thin", "look", "Thin margin", "All is read, but not by much.",
                    "Move or seat the video plug; try a shorter cable."},
    [WATCH_WELL] = {"well", "well", "All well", "", "Nothing to do."},
};

/* "7, 27": as many as there is room for. */
static void cells_list(uint64_t cells, char *text, size_t size) {
    size_t used = 0;
    text[0] = '\0';
    for (int cell = 0; cell < CELLS && used + 8 < size; cell++) {
        if (cells >> cell & 1) {
            used += (size_t)snprintf(text + used, size - used, "%s%d", used > 0 ? ", " : "", cell);
        }
    }
}

static void say_wrong(const struct watch_now *now, const struct watch_view *view, char *text, size_t size) {
    char cells[64];
    cells_list(view->wrong_cells[0], cells, sizeof cells);
    const struct step *step = &now->plan->steps[view->wrong[0]];
    if (view->wrong_cells[0] == 0) {
        snprintf(text, size,
                 "Step %ld (%.40s): its cells do not lie where they should. Wrong: %zu of %zu steps seen.",
                 view->wrong[0], step->name, view->wrong_count, view->steps_seen);
        return;
    }
    snprintf(text, size, "Step %ld (%.40s): cells %s. Wrong: %zu of %zu steps seen.", view->wrong[0],
             step->name, cells, view->wrong_count, view->steps_seen);
}

/* The word may stand a moment longer than the trouble. */
static void say_trouble(const struct result *result, struct watch_words *out) {
    const struct finding *trouble = &result->troubles[0];
    if (result->trouble_count == 0) {
        out->headline = "Capture was uneven";
        return;
    }
    out->headline = watch_trouble_name(trouble->kind);
    snprintf(out->text, sizeof out->text, "%s", trouble->text);
    snprintf(out->next, sizeof out->next, "%s", trouble->next);
}

static void say(const struct watch_now *now, const struct watch_view *view, const struct result *result,
                struct watch_words *out) {
    *out = words[view->kind];
    switch (view->kind) {
    case WATCH_OTHER_IMAGE:
        snprintf(out->text, sizeof out->text, "The slate is of image $%04X; plan %.60s makes $%04X.",
                 now->foreign_hash, now->plan->name, now->hash);
        break;
    case WATCH_CUT_OFF:
        snprintf(out->text, sizeof out->text, "%d of the picture's %d lines are in the field.", now->lines,
                 standard_plan_lines(now->plan->standard));
        break;
    case WATCH_WRONG:
        if (view->wrong_count > 0) {
            say_wrong(now, view, out->text, sizeof out->text);
        }
        break;
    case WATCH_TROUBLE:
        say_trouble(result, out);
        break;
    case WATCH_WELL:
        snprintf(out->text, sizeof out->text,
                 "Every step was right when last seen; %zu of the plan's %zu since the picture came.",
                 view->steps_good, now->plan->step_count);
        break;
    default:
        break;
    }
}

/* Each check is known only where those before it are well. */
static void fill_checks(struct watch_view *view) {
    static const enum watch_check of[WATCH_KINDS] = {
        [WATCH_NO_FRAMES] = CHECK_FRAMES,   [WATCH_NO_SIGNAL] = CHECK_SIGNAL,
        [WATCH_NO_SLATE] = CHECK_SLATE,     [WATCH_BAD_SLATE] = CHECK_SLATE,
        [WATCH_IDLE] = CHECK_SLATE,         [WATCH_OTHER_IMAGE] = CHECK_SLATE,
        [WATCH_STANDS_STILL] = CHECK_SLATE, [WATCH_CUT_OFF] = CHECK_RASTER,
        [WATCH_UNCLEAR] = CHECK_MARGIN,     [WATCH_WRONG] = CHECK_CELLS,
        [WATCH_TROUBLE] = CHECK_CAPTURE,    [WATCH_THIN] = CHECK_MARGIN,
        [WATCH_WELL] = WATCH_CHECKS};
    const enum watch_check bad = of[view->kind];
    const bool blind = view->kind <= WATCH_STANDS_STILL;
    for (int check = 0; check < WATCH_CHECKS; check++) {
        view->checks[check] = check == (int)bad           ? WATCH_BAD
                              : blind && check > (int)bad ? WATCH_UNKNOWN
                                                          : WATCH_GOOD;
    }
    if (!blind) {
        view->checks[CHECK_CELLS] = view->wrong_count > 0   ? WATCH_BAD
                                    : view->steps_seen == 0 ? WATCH_UNKNOWN
                                                            : WATCH_GOOD;
        view->checks[CHECK_CAPTURE] = view->trouble_count > 0 ? WATCH_BAD : WATCH_GOOD;
        view->checks[CHECK_MARGIN] = view->margin < WATCH_MARGIN_THIN ? WATCH_BAD : WATCH_GOOD;
    }
}

void watch_now_look(struct watch_now *now, uint64_t time_us, struct watch_view *view) {
    advance(now, time_us);
    *view = (struct watch_view){.step = now->step};
    const struct result *result = last_seconds(now, &view->noise_db);
    const double margin = margin_now(now);
    for (size_t i = 0; i < result->trouble_count; i++) {
        view->troubles[view->trouble_count++] = watch_trouble_name(result->troubles[i].kind);
    }
    view->has_raster = now->has_raster && !is_silent(now, time_us) && !is_blind(now);
    view->raster = now->raster;
    view->has_margin = margin >= 0 && view->has_raster;
    view->margin = view->has_margin ? margin : 0;
    if (!view->has_raster) {
        forget_steps(now);
    }
    list_wrong(now, view);
    measure_rates(now, view);
    fill_strip(now, time_us, view);
    view->kind = settled(now, time_us, kind_now(now, time_us, view));
    say(now, view, result, &view->words);
    view->silent = words[WATCH_NO_FRAMES];
    fill_checks(view);
}

const char *watch_check_name(enum watch_check check) {
    static const char *const names[WATCH_CHECKS] = {"frames", "signal", "slate",  "raster",
                                                    "margin", "cells",  "capture"};
    return names[check];
}
