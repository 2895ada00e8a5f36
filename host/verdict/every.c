/*
 * Plan `every`: each line of a field is a picture of its own, held against the handbook's 40 cells.
 *
 * One clear good line makes a picture right. A wrong one is called wrong when two different fields show the
 * same wrong cells. What is not the console's must not come so far: a line is not called wrong in a field
 * that cannot be trusted (noise, echo, lines mixed, cells between black and white on other lines), nor where
 * it shows, together with the line next to it, what other lines of this field or of one other base should
 * show: such a field is torn, or its lines lie elsewhere.
 */
#include "verdict/every.h"
#include "verdict/counted.h"
#include "verdict/every_colours.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    UNCLEAR_SHARE = 50, /* one line in so many with an unclear cell, and none of the field is called wrong */
    NEAR = 2,           /* lines by which a field's lines may be found elsewhere */
    STRETCHED = 8,      /* lines alike */
    STRETCHED_AT_END = 2,
    NEIGHBOURS = 4,
    STRAYS = 2 /* suppositions of where a line may come from: of a copy, of a mirrored base */
};
#define ECHO_MOST 0.2 /* as of steps */
#define ECHO_MOST_CLIPPED 0.05
#define MIXING_MOST 0.4
#define NOISE_MOST 0.355 /* rms over the black-white distance: 9 dB */
#define NOWHERE UINT32_MAX

enum line_seen { LINE_UNCLEAR, LINE_RIGHT, LINE_WRONG };

/* One field, line by line. */
struct field_lines {
    uint32_t base;
    int places;   /* that are judged: the last field of a mode shows more */
    int patterns; /* of which expected is known */
    uint64_t expected[PICTURE_LINES_MAX], lit[PICTURE_LINES_MAX];
    uint8_t seen[PICTURE_LINES_MAX];
    bool torn[PICTURE_LINES_MAX];
    uint32_t neighbours[NEIGHBOURS]; /* bases shown just before, or next in turn; or NOWHERE */
    int unclear, wrong;
};

/* ---- the start ---- */

static void fill_cells(struct every_state *every) {
    for (int mirror = 0; mirror < 2; mirror++) {
        const uint8_t ctrlpf = mirror != 0 ? CTRLPF_REFLECT : 0;
        for (int value = 0; value < 256; value++) {
            const uint8_t byte = (uint8_t)value;
            every->cells_of[mirror][0][value] = expect_cells((uint8_t)(byte << 4), 0, 0, ctrlpf);
            every->cells_of[mirror][1][value] = expect_cells(0, byte, 0, ctrlpf);
            every->cells_of[mirror][2][value] = expect_cells(0, 0, byte, ctrlpf);
        }
    }
}

static void free_every(void *state) {
    struct every_state *every = state;
    if (every != NULL) {
        every_ask_end(every);
        every_colours_end(every);
        free(every->state);
        free(every->cells);
        free(every->bases);
        free(every);
    }
}

/* ---- one field ---- */

/* What the field can be trusted with: false, and none of its lines is called wrong. */
static bool is_trusted(const struct every_state *every, const struct reading *reading,
                       const struct field_lines *lines) {
    const double distance = reading->raster.white - reading->raster.black;
    const double echo = reading->clips_white ? ECHO_MOST_CLIPPED : ECHO_MOST;
    return !reading->unsettled && !reading->blended && fabs(reading->echo) <= echo &&
           reading->noise <= NOISE_MOST * distance &&
           (every->plan->repeat >= 3 || reading->mixing <= MIXING_MOST) &&
           lines->unclear * UNCLEAR_SHARE <= lines->places;
}

static void read_lines(struct every_state *every, const struct reading *reading, struct field_lines *lines) {
    const int repeat = every->plan->repeat, read = every_line_read(every, reading);
    const bool mirror = every_is_mirror(every, lines->base);
    uint32_t v = every_pattern(every, lines->base, 0);
    for (int place = 0; place < every->plan->patterns; place++) {
        lines->expected[place] = every_expected(every, mirror, v);
        v = (v + EVERY_STEP) % EVERY_VALUES;
    }
    for (int place = 0; place < lines->places; place++) {
        const int line = place * repeat + read;
        every->lit |= reading->lit[line];
        lines->lit[place] = reading->lit[line];
        const bool clear = reading->unclear[line] == 0;
        const bool right = reading->lit[line] == lines->expected[place];
        lines->seen[place] = !clear ? LINE_UNCLEAR : right ? LINE_RIGHT : LINE_WRONG;
        lines->unclear += !clear;
        lines->wrong += clear && !right;
    }
}

static uint32_t reversed(uint32_t cells) {
    uint32_t out = 0;
    for (int i = 0; i < EVERY_BITS; i++) {
        out |= (cells >> i & 1) << (EVERY_BITS - 1 - i);
    }
    return out;
}

/* The value whose left half this is: cells 0-3 are PF0 D4-D7, 4-11 PF1 D7-D0, 12-19 PF2 D0-D7. */
static uint32_t value_of(uint32_t left) {
    uint32_t pf1 = 0;
    for (int i = 0; i < 8; i++) {
        pf1 |= (left >> (4 + i) & 1) << (7 - i);
    }
    return (left & 0x0F) << 16 | pf1 << 8 | left >> 12;
}

/* Shown shortly before or after. The same field in the other mode is what a chip shows that ignores the mode.
 */
static bool may_stray(const struct every_state *every, uint32_t from, uint32_t to) {
    if (from % every->plan->bases == to % every->plan->bases) {
        return false;
    }
    const uint32_t away = (from + every->total - to) % every->total;
    bool near = away <= EVERY_NEAR || away >= every->total - EVERY_NEAR;
    for (int i = 0; i < EVERY_NEAR; i++) {
        near = near || every->recent[i] == from;
    }
    return near;
}

static uint32_t base_that_shows(const struct every_state *every, uint32_t v, bool mirror, int place) {
    const uint32_t first = (v - (uint32_t)place * EVERY_STEP) % EVERY_VALUES;
    bool mode;
    uint32_t field;
    if (first % 2 != 0 || !every_field_of(every->plan, first | mirror, &mode, &field)) {
        return NOWHERE;
    }
    return mirror ? every->plan->bases + field : field;
}

/* Bases, one of each mode at most, that show these cells at this place, and may be here. */
static void find_strays(const struct every_state *every, const struct field_lines *lines, int place,
                        uint32_t strays[STRAYS]) {
    const uint64_t lit = lines->lit[place];
    const uint32_t left = (uint32_t)(lit & (EVERY_VALUES - 1)), right = (uint32_t)(lit >> EVERY_BITS);
    const uint32_t v = value_of(left);
    strays[0] = left == right ? base_that_shows(every, v, false, place) : NOWHERE;
    strays[1] = reversed(left) == right ? base_that_shows(every, v, true, place) : NOWHERE;
    for (int i = 0; i < STRAYS; i++) {
        if (strays[i] != NOWHERE && !may_stray(every, strays[i], lines->base)) {
            strays[i] = NOWHERE;
        }
    }
}

/* What a picture was seen as last; false: it was not. */
static bool shown_before(const struct every_state *every, uint32_t base, int place, uint64_t *cells) {
    const size_t picture = (size_t)base * (size_t)every->plan->patterns + (size_t)place;
    switch (every->state[picture] & SEEN_STATE) {
    case SEEN_RIGHT:
        *cells = every_expected(every, every_is_mirror(every, base), every_pattern(every, base, place));
        return true;
    case SEEN_WRONG:
    case SEEN_WRONG_ONCE:
        *cells = every->cells[picture];
        return true;
    default:
        return false;
    }
}

/* Where a wrong line may come from: bases whose line it is, by the handbook or as a broken chip drew it
 * before. */
struct origin {
    uint32_t strays[STRAYS];
    unsigned neighbours; /* bit n: of neighbour n */
};

static void find_origin(const struct every_state *every, const struct field_lines *lines, int place,
                        struct origin *origin) {
    uint64_t cells;
    find_strays(every, lines, place, origin->strays);
    origin->neighbours = 0;
    for (int i = 0; i < NEIGHBOURS; i++) {
        const uint32_t base = lines->neighbours[i];
        if (base != NOWHERE && place < every_places(every, base) &&
            shown_before(every, base, place, &cells) && cells == lines->lit[place]) {
            origin->neighbours |= 1u << i;
        }
    }
}

static bool has_origin(const struct origin *origin) {
    return origin->strays[0] != NOWHERE || origin->strays[1] != NOWHERE || origin->neighbours != 0;
}

static bool same_origin(const struct origin *a, const struct origin *b) {
    return (a->neighbours & b->neighbours) != 0 ||
           (a->strays[0] != NOWHERE && a->strays[0] == b->strays[0]) ||
           (a->strays[1] != NOWHERE && a->strays[1] == b->strays[1]);
}

static void find_neighbours(const struct every_state *every, struct field_lines *lines) {
    const uint32_t newest = every->recent[(every->shown + EVERY_NEAR - 1) % EVERY_NEAR];
    const uint32_t older = every->recent[(every->shown + EVERY_NEAR - 2) % EVERY_NEAR];
    const uint32_t near[NEIGHBOURS] = {newest, older, (lines->base + 1) % every->total,
                                       (lines->base + every->total - 1) % every->total};
    for (int i = 0; i < NEIGHBOURS; i++) {
        lines->neighbours[i] =
            near[i] != NOWHERE && near[i] % every->plan->bases != lines->base % every->plan->bases ? near[i]
                                                                                                   : NOWHERE;
    }
}

/* Lines that follow each other, or stand at an end, and show one other base's: they are that base's. No fault
 * of up to three bits turns a base's lines into those of one so near [A: of all sums of up to three powers of
 * two, signs and all, none is as far from a value as 1 to 8 fields of 168 or of 204 patterns are]. */
static bool drop_torn(const struct every_state *every, struct field_lines *lines) {
    struct origin origins[2];
    bool torn = false, before = false;
    find_neighbours(every, lines);
    for (int place = 0; place < lines->places; place++) {
        const bool wrong = lines->seen[place] == LINE_WRONG;
        const bool at_end = place == 0 || place == lines->places - 1;
        struct origin *now = &origins[place % 2], *last = &origins[(place + 1) % 2];
        if (wrong) {
            find_origin(every, lines, place, now);
        }
        if (wrong && at_end && has_origin(now)) {
            lines->torn[place] = true;
        }
        if (wrong && before && same_origin(last, now)) {
            lines->torn[place] = lines->torn[place - 1] = true;
        }
        before = wrong;
    }
    for (int place = 0; place < lines->places; place++) {
        torn = torn || lines->torn[place];
        lines->seen[place] = lines->torn[place] ? LINE_UNCLEAR : lines->seen[place];
    }
    return torn;
}

/* Lines that follow each other and are all alike, where the plan's never are: black, or one line stretched.
 * Few at an end of the picture, or many. */
static bool drop_stretched(struct field_lines *lines) {
    bool stretched = false;
    for (int first = 0, next; first < lines->places; first = next) {
        next = first + 1;
        while (next < lines->places && lines->lit[next] == lines->lit[first] &&
               lines->seen[next] != LINE_UNCLEAR) {
            next++;
        }
        const bool at_end = first == 0 || next == lines->places;
        if (next - first < (at_end ? STRETCHED_AT_END : STRETCHED)) {
            continue;
        }
        for (int place = first; place < next; place++) {
            lines->seen[place] = lines->seen[place] == LINE_WRONG ? LINE_UNCLEAR : lines->seen[place];
        }
        stretched = true;
    }
    return stretched;
}

static bool shows_line(const struct field_lines *lines, int place, int by) {
    const int other = place + by;
    return other >= 0 && other < lines->patterns && lines->lit[place] == lines->expected[other] &&
           lines->expected[place] != lines->expected[other];
}

/* Lines that follow each other and show those some lines above or below: the raster is off there. */
static bool drop_displaced(struct field_lines *lines) {
    bool displaced = false;
    for (int by = -NEAR; by <= NEAR; by++) {
        for (int place = 1; by != 0 && place < lines->places; place++) {
            if (shows_line(lines, place, by) && shows_line(lines, place - 1, by)) {
                lines->seen[place] = lines->seen[place - 1] = LINE_UNCLEAR;
                displaced = true;
            }
        }
    }
    return displaced;
}

static int count_wrong(const struct field_lines *lines) {
    int wrong = 0;
    for (int place = 0; place < lines->places; place++) {
        wrong += lines->seen[place] == LINE_WRONG;
    }
    return wrong;
}

static void believe_none(struct field_lines *lines) {
    for (int place = 0; place < lines->places; place++) {
        if (lines->seen[place] == LINE_WRONG) {
            lines->seen[place] = LINE_UNCLEAR;
        }
    }
}

/* Takes back what may not be the console's. */
static void doubt(struct every_state *every, const struct reading *reading, struct field_lines *lines) {
    if (!is_trusted(every, reading, lines)) {
        believe_none(lines);
        every->distrusted++;
    } else {
        bool torn = drop_torn(every, lines);
        torn |= drop_displaced(lines);
        torn |= drop_stretched(lines);
        every->torn += torn;
    }
    lines->wrong = count_wrong(lines);
}

/* ---- what it says of each picture ---- */

static void count(struct every_state *every, uint8_t state, int by) {
    switch (state & SEEN_STATE) {
    case SEEN_RIGHT:
        every->right += (uint64_t)by;
        break;
    case SEEN_WRONG:
        every->wrong += (uint64_t)by;
        break;
    case SEEN_UNCLEAR:
    case SEEN_WRONG_ONCE:
        every->open += (uint64_t)by;
        break;
    default:
        break;
    }
}

static uint8_t after_right(uint8_t state) {
    switch (state & SEEN_STATE) {
    case SEEN_WRONG_ONCE:
        return SEEN_RIGHT | SEEN_WAS_WRONG;
    case SEEN_WRONG:
        return state | SEEN_WAS_RIGHT;
    case SEEN_RIGHT:
        return state;
    default:
        return SEEN_RIGHT;
    }
}

static uint8_t after_wrong(uint8_t state, uint64_t lit, uint64_t *cells) {
    const bool again = *cells == lit;
    switch (state & SEEN_STATE) {
    case SEEN_WRONG:
        return state;
    case SEEN_WRONG_ONCE:
        *cells = lit;
        return again ? SEEN_WRONG : SEEN_WRONG_ONCE;
    case SEEN_RIGHT:
        *cells = lit;
        return (state & SEEN_WAS_WRONG) != 0 && again ? SEEN_WRONG | SEEN_WAS_RIGHT
                                                      : SEEN_RIGHT | SEEN_WAS_WRONG;
    default:
        *cells = lit;
        return SEEN_WRONG_ONCE;
    }
}

static uint8_t after_unclear(uint8_t state) {
    return (state & SEEN_STATE) == SEEN_NEW ? SEEN_UNCLEAR : state;
}

static bool is_open(uint8_t state) {
    return (state & SEEN_STATE) == SEEN_UNCLEAR || (state & SEEN_STATE) == SEEN_WRONG_ONCE;
}

static void account(struct every_state *every, const struct field_lines *lines) {
    struct base_state *base = &every->bases[lines->base];
    const size_t first = (size_t)lines->base * (size_t)every->plan->patterns;
    uint8_t *const state = every->state + first;
    int open = 0;
    for (int place = 0; place < lines->places; place++) {
        const uint8_t before = state[place];
        switch (lines->seen[place]) {
        case LINE_RIGHT:
            state[place] = after_right(before);
            break;
        case LINE_WRONG:
            state[place] = after_wrong(before, lines->lit[place], &every->cells[first + (size_t)place]);
            break;
        default:
            state[place] = after_unclear(before);
            break;
        }
        if (state[place] != before) {
            count(every, before, -1);
            count(every, state[place], 1);
        }
        open += is_open(state[place]);
    }
    base->open = open;
    base->seen = true;
    base->visits++;
    base->wrong_visits += lines->wrong > 0;
}

/* ---- the playfield against its raster ---- */

static void add_offset(struct every_state *every, const struct reading *reading) {
    if (reading->edges >= OFFSET_EDGES_MIN && reading->offset_spread <= OFFSET_SPREAD_MAX &&
        !reading->unsettled) {
        every->offsets++;
        const double away = offset_wrap(reading->offset - every->offset);
        every->offset = offset_wrap(every->offset + away / (double)every->offsets);
    }
}

static void keep_sample(struct every_state *every, const struct field_lines *lines,
                        const struct reading *reading) {
    const int read = every_line_read(every, reading);
    for (int place = 0; place < lines->places && every->sample_count < EVERY_SAMPLES; place += 8) {
        const int line = place * every->plan->repeat + read;
        if (reading->unclear[line] != 0) {
            every->samples[every->sample_count++] =
                (struct unclear_sample){lines->base * (uint32_t)every->plan->patterns + (uint32_t)place,
                                        reading->lit[line], reading->unclear[line]};
        }
    }
}

/* On nine lines of ten the cells that should be lit are unclear, and no others. */
static bool is_dim(const struct every_state *every, const struct reading *reading,
                   const struct field_lines *lines) {
    const int read = every_line_read(every, reading);
    int dim = 0;
    for (int place = 0; 10 * lines->unclear > 9 * lines->places && place < lines->places; place++) {
        dim += reading->unclear[place * every->plan->repeat + read] == lines->expected[place];
    }
    return 10 * dim > 9 * lines->places;
}

/* ---- the judge's ---- */

static enum judged read_every(void *user, const struct reading *reading) {
    struct every_state *every = user;
    struct field_lines lines = {.base = 0};
    bool mirror;
    uint32_t field;
    if (!every_field_of(every->plan, reading->slate.value, &mirror, &field)) {
        every->unread++;
        return JUDGED_NOT;
    }
    lines.base = mirror ? every->plan->bases + field : field;
    lines.places = every_places(every, lines.base);
    lines.patterns = every->plan->patterns;
    const bool owed_before = every_base_owes(every, lines.base);
    every_ask_seen(every, lines.base);
    read_lines(every, reading, &lines);
    every_mixing_add(every, reading, lines.expected);
    if (lines.wrong > 0) {
        doubt(every, reading, &lines);
    }
    every->lines += (uint64_t)lines.places;
    if (lines.unclear > 0) {
        keep_sample(every, &lines, reading);
        every->unclear_lines += (uint64_t)lines.unclear;
    }
    add_offset(every, reading);
    every_colours_add(every, reading, lines.expected, is_dim(every, reading, &lines));
    account(every, &lines);
    const bool owes = every_base_owes(every, lines.base);
    every->owed -= owed_before && !owes;
    if (owes) {
        every_ask_again(every, lines.base);
    }
    if (lines.unclear == lines.places) {
        every->unread++;
        return JUDGED_NOT;
    }
    return lines.wrong > 0 ? JUDGED_FAIL : JUDGED_PASS;
}

static size_t owed(const void *user) {
    return ((const struct every_state *)user)->owed;
}

static int repeat_wanted(const void *user) {
    return ((const struct every_state *)user)->repeat_wanted;
}

static void add_result(void *user, struct judge *judge, struct result *result) {
    struct every_state *every = user;
    result->fields_unreadable += every->unread - every->told;
    every->told = every->unread;
    result->repeat_wanted = every->repeat_wanted;
    result->coverage = (struct coverage){.seen = every->right + every->wrong,
                                         .of = UINT64_C(2) * every->plan->count,
                                         .wrong = every->wrong,
                                         .open = every->open};
    every_explain(every, judge, result);
}

bool every_judge(const struct plan *plan, struct counted *counted) {
    struct every_state *every = calloc(1, sizeof *every);
    if (every == NULL) {
        return false;
    }
    every->plan = &plan->every;
    every->total = 2 * plan->every.bases;
    every->owed = every->total;
    const size_t pictures = (size_t)every->total * (size_t)plan->every.patterns;
    every->state = calloc(pictures, sizeof *every->state);
    every->cells = calloc(pictures, sizeof *every->cells); /* touched where something is wrong only */
    every->bases = calloc(every->total, sizeof *every->bases);
    if (every->state == NULL || every->cells == NULL || every->bases == NULL || !every_ask_start(every) ||
        !every_colours_start(every, plan->standard)) {
        free_every(every);
        return false;
    }
    fill_cells(every);
    *counted = (struct counted){.state = every,
                                .free = free_every,
                                .read = read_every,
                                .owed = owed,
                                .ask = every_ask,
                                .repeat_wanted = repeat_wanted,
                                .result = add_result};
    return true;
}
