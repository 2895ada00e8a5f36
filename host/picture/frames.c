/*
 * How the fields lie in a frame is tried in the order of likelihood until a slate reads, and then kept as
 * long as it reads. A wrong split shows rows that are no slate's: a slate's rows are three lines high, and
 * lie within lines of twice or half that height in any other split.
 */
#include "picture/frames.h"

#include "picture/counting.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    LAYOUT_RUN = 6,   /* frames in a row that must show another layout before one that stood is given up */
    LAYOUT_FIRST = 2, /* the same of one that did not stand that long */
    STALE_RUN = 4,    /* frames in a row after which one place is called stale, or no more */
    AWAY_RUN = 3, /* frames in a row without slate, not all of them flat, after which the picture was away */
    VOTES_MAX = 8,
    SPLITS = 3
};

/* Of the measure of mixing, beyond what noise makes. */
#define MIXING_APART 0.1

/* What was last seen in a place of the frame. */
struct place {
    bool known;
    struct slate slate;
};

struct frames {
    struct picture_options options;
    struct picture *picture;
    struct counting counting;
    enum split split;
    int height; /* of the frames the split was found in */
    struct place last[2];
    int last_read; /* fields of the frame before */
    int without;   /* frames in a row without slate */
    bool away;
    int skip;                /* fields still not to be given out */
    enum layout candidate;   /* other than the layout */
    int candidate_run, held; /* frames that showed it; that showed the layout */
    int older_votes;         /* below 0: top */
    int stale_run[2], fresh_run;
    struct field other_fields[2];
    struct reading other_readings[2];
};

/* The fields of one frame, in the order in which they go out. */
struct view {
    int count;
    struct field *fields;
    struct reading *readings;
    bool left_out[2];
};

const char *layout_name(enum layout layout) {
    static const char *const names[LAYOUTS] = {"unknown", "woven", "stacked", "single", "bobbed", "blended"};
    return names[layout];
}

struct frames *frames_new(const struct picture_options *options) {
    struct frames *frames = calloc(1, sizeof *frames);
    if (frames == NULL) {
        return NULL;
    }
    frames->options = *options;
    counting_init(&frames->counting);
    frames->picture = picture_new(options);
    if (frames->picture == NULL) {
        frames_free(frames);
        return NULL;
    }
    return frames;
}

void frames_free(struct frames *frames) {
    if (frames != NULL) {
        picture_free(frames->picture);
        free(frames);
    }
}

const struct frames_facts *frames_facts(const struct frames *frames) {
    return &frames->counting.facts;
}

/* ---- reading ---- */

static bool is_read(const struct view *view, int i) {
    return i < view->count && view->readings[i].state == FIELD_READ;
}

static int read_count(const struct view *view) {
    return is_read(view, 0) + is_read(view, 1);
}

static bool same_slate(const struct slate *a, const struct slate *b) {
    return a->counter == b->counter && a->value == b->value && a->hash == b->hash;
}

static bool is_flat(const struct view *view) {
    for (int i = 0; i < view->count; i++) {
        if (view->readings[i].state != FIELD_NO_SIGNAL) {
            return false;
        }
    }
    return true;
}

/* The place whose field is likely the older one. */
static int older_place(const struct frames *frames, enum split split) {
    if (frames->counting.facts.older >= 0) {
        return frames->counting.facts.older;
    }
    return split == SPLIT_WOVEN && !standard_table[frames->options.standard].top_first;
}

static void look(struct frames *frames, const struct frame *frame, enum split split, struct view *view) {
    view->count = frame_split(frame, split, view->fields);
    if (view->count == 2 && older_place(frames, split) == 1) {
        struct field top = view->fields[0];
        view->fields[0] = view->fields[1];
        view->fields[1] = top;
    }
    for (int i = 0; i < view->count; i++) {
        picture_read(frames->picture, &view->fields[i], &view->readings[i]);
    }
}

/* What a frame of this height may be: a single field is not taller than that, save where a grabber takes the
 * blanking too; a half of a stacked one holds the whole picture. */
static bool may_be(const struct frames *frames, const struct frame *frame, enum split split) {
    if (frame->height <= FIELD_LINES_MAX) {
        return split == SPLIT_NONE;
    }
    return split != SPLIT_STACKED ||
           frame->height / 2 >= standard_table[frames->options.standard].picture_lines;
}

static void search(struct frames *frames, const struct frame *frame, struct view *view) {
    static const enum split order[SPLITS] = {SPLIT_WOVEN, SPLIT_STACKED, SPLIT_NONE};
    struct view other = {.fields = frames->other_fields, .readings = frames->other_readings};
    for (int i = 0; i < SPLITS; i++) {
        if (order[i] == frames->split || !may_be(frames, frame, order[i])) {
            continue;
        }
        look(frames, frame, order[i], &other);
        if (read_count(&other) > 0) {
            frames->split = order[i];
            memset(frames->last, 0, sizeof frames->last);
            memcpy(view->fields, other.fields, sizeof frames->other_fields);
            memcpy(view->readings, other.readings, sizeof frames->other_readings);
            view->count = other.count;
            return;
        }
    }
}

static void read_frame(struct frames *frames, const struct frame *frame, struct view *view) {
    frames->counting.facts.height = frame->height;
    if (frame->height != frames->height) {
        frames->height = frame->height;
        frames->split = frame->height > FIELD_LINES_MAX ? SPLIT_WOVEN : SPLIT_NONE;
        memset(frames->last, 0, sizeof frames->last);
    }
    look(frames, frame, frame->y.data != NULL ? frames->split : SPLIT_NONE, view);
    if (read_count(view) == 0 && !is_flat(view)) {
        search(frames, frame, view);
    }
}

/* ---- what the frame shows ---- */

/* LAYOUT_UNKNOWN: one of two woven halves alone does not say which. */
static enum layout layout_shown(enum split split, const struct view *view) {
    if ((is_read(view, 0) && view->readings[0].blended) || (is_read(view, 1) && view->readings[1].blended)) {
        return LAYOUT_BLENDED;
    }
    if (split != SPLIT_WOVEN) {
        return split == SPLIT_STACKED ? LAYOUT_STACKED : LAYOUT_SINGLE;
    }
    if (read_count(view) == 2) {
        bool same = same_slate(&view->readings[0].slate, &view->readings[1].slate);
        return same ? LAYOUT_BOBBED : LAYOUT_WOVEN;
    }
    const struct reading *unread = &view->readings[is_read(view, 0) ? 1 : 0];
    return unread->state == FIELD_NO_SIGNAL ? LAYOUT_WOVEN : LAYOUT_UNKNOWN;
}

static void believe(struct frames *frames, enum layout shown) {
    struct frames_facts *facts = &frames->counting.facts;
    if (shown == LAYOUT_UNKNOWN) {
        facts->layout = facts->layout == LAYOUT_UNKNOWN ? LAYOUT_WOVEN : facts->layout;
        return;
    }
    if (shown == facts->layout) {
        frames->candidate_run = 0;
        frames->held++;
        return;
    }
    frames->candidate_run = shown == frames->candidate ? frames->candidate_run + 1 : 1;
    frames->candidate = shown;
    bool stood = frames->held >= LAYOUT_RUN;
    if (facts->layout == LAYOUT_UNKNOWN || frames->candidate_run >= (stood ? LAYOUT_RUN : LAYOUT_FIRST)) {
        facts->changes += stood; /* what only the first frames seemed to be is no change */
        facts->layout = shown;
        frames->held = frames->candidate_run;
        frames->candidate_run = 0;
    }
}

/* Two fields of which the second is the older one change places. */
static void put_in_order(struct frames *frames, struct view *view) {
    const struct slate *first = &view->readings[0].slate, *second = &view->readings[1].slate;
    if (read_count(view) < 2 || first->hash != second->hash) {
        return;
    }
    int ahead = (second->counter - first->counter) & ((1 << SLATE_COUNTER_BITS) - 1);
    bool swap = ahead > 1 << (SLATE_COUNTER_BITS - 1);
    bool neighbours = ahead == 1 || ahead == (1 << SLATE_COUNTER_BITS) - 1;
    enum layout layout = frames->counting.facts.layout;
    if (neighbours && (layout == LAYOUT_WOVEN || layout == LAYOUT_STACKED)) {
        int older = view->fields[swap ? 1 : 0].parity;
        int votes = frames->older_votes + (older == 0 ? -1 : 1);
        frames->older_votes = votes > VOTES_MAX ? VOTES_MAX : votes < -VOTES_MAX ? -VOTES_MAX : votes;
        frames->counting.facts.older = frames->older_votes == 0 ? older : frames->older_votes > 0;
    }
    if (swap) {
        struct field field = view->fields[0];
        frames->other_readings[0] = view->readings[0];
        view->fields[0] = view->fields[1];
        view->readings[0] = view->readings[1];
        view->fields[1] = field;
        view->readings[1] = frames->other_readings[0];
    }
}

/* ---- what is not worth judging ---- */

/* Lines that differ from the one above, or are not clear. */
static int roughness(const struct reading *reading) {
    int rough = 0;
    for (int line = 0; line < reading->lines; line++) {
        rough += reading->unclear[line] != 0;
        rough += line > 0 && reading->lit[line] != reading->lit[line - 1];
    }
    return rough;
}

/* Lines filled in are made of their neighbours: wherever the picture changes from line to line there is one
 * more kind of line, and the neighbours are mixed. The grabber's own are sharper. */
static int sharper(const struct view *view) {
    const struct reading *first = &view->readings[0], *second = &view->readings[1];
    int rougher = roughness(first) - roughness(second);
    if (rougher != 0) {
        return rougher > 0;
    }
    if (fabs(first->mixing - second->mixing) > MIXING_APART) {
        return second->mixing < first->mixing;
    }
    return second->margin > first->margin;
}

static void leave_out_same(const struct frames *frames, struct view *view) {
    enum layout layout = frames->counting.facts.layout;
    if (view->count < 2 || (layout != LAYOUT_BOBBED && layout != LAYOUT_BLENDED)) {
        return;
    }
    if (read_count(view) < 2) {
        view->left_out[is_read(view, 1) ? 0 : 1] = true;
    } else if (same_slate(&view->readings[0].slate, &view->readings[1].slate)) {
        view->left_out[1 - sharper(view)] = true;
    }
}

static void leave_out_black(struct frames *frames, struct view *view) {
    for (int i = 0; i < view->count; i++) {
        if (is_read(view, 1 - i) && view->readings[i].state == FIELD_NO_SIGNAL) {
            frames->counting.facts.half_black++;
            view->left_out[i] = true;
        }
    }
}

static bool is_as_before(const struct frames *frames, const struct view *view, int i) {
    const struct place *last = &frames->last[view->fields[i].parity];
    return is_read(view, i) && last->known && same_slate(&last->slate, &view->readings[i].slate);
}

static void count_stale(struct frames *frames, int place) {
    frames->fresh_run = 0;
    frames->stale_run[place]++;
    frames->stale_run[1 - place] = 0;
    if (frames->stale_run[place] >= STALE_RUN) {
        frames->counting.facts.stale = place;
    }
}

static void count_fresh(struct frames *frames) {
    if (++frames->fresh_run >= STALE_RUN) {
        frames->counting.facts.stale = -1;
        frames->stale_run[0] = frames->stale_run[1] = 0;
    }
}

/* A field that is still the one of the frame before, while the other one is not. A frame that is all as
 * before is given out: frozen video is the judge's to see. */
static void leave_out_stale(struct frames *frames, struct view *view) {
    int same = 0, read = read_count(view);
    for (int i = 0; i < view->count; i++) {
        bool as_before = is_as_before(frames, view, i);
        same += as_before;
        if (view->count == 2 && as_before && is_read(view, 1 - i) && !is_as_before(frames, view, 1 - i)) {
            view->left_out[i] = true;
            count_stale(frames, view->fields[i].parity);
        } else if (view->count == 2 && as_before && frames->counting.facts.stale == view->fields[i].parity) {
            view->left_out[i] = true;
        }
    }
    frames->counting.facts.frames_repeated += read > 0 && same == read && read >= frames->last_read;
    if (read == 2 && same == 0) {
        count_fresh(frames);
    }
}

static void remember(struct frames *frames, const struct view *view) {
    frames->last_read = read_count(view);
    for (int i = 0; i < view->count; i++) {
        if (is_read(view, i)) {
            frames->last[view->fields[i].parity] = (struct place){true, view->readings[i].slate};
        }
    }
}

/* ---- giving out ---- */

/* A picture that is torn, or another channel's, is no loss of it at once; one that is flat is. */
static void note_presence(struct frames *frames, const struct view *view) {
    struct counting *counting = &frames->counting;
    if (read_count(view) == 0) {
        bool broken = view->readings[0].state == FIELD_BAD_SLATE ||
                      (view->count == 2 && view->readings[1].state == FIELD_BAD_SLATE);
        frames->without = broken ? 0 : frames->without + 1;
        frames->away = frames->away || is_flat(view) || frames->without >= AWAY_RUN;
        return;
    }
    if (frames->away) {
        frames->skip = FRAMES_SKIPPED;
        counting->facts.relocks += counting->facts.read > 0;
        counting_away(counting);
    }
    frames->away = false;
    frames->without = 0;
}

void frames_paused(struct frames *frames) {
    frames->skip = FRAMES_SKIPPED;
    counting_away(&frames->counting);
}

static bool goes_out(struct frames *frames, const struct view *view, int i) {
    bool blended = frames->counting.facts.layout == LAYOUT_BLENDED;
    if (!is_read(view, i)) {
        frames->counting.unread += blended ? 2 : !view->left_out[i];
        return !view->left_out[i];
    }
    if (view->left_out[i]) {
        return false;
    }
    counting_read(&frames->counting, &view->readings[i]);
    if (frames->skip > 0) {
        frames->skip--;
        return false;
    }
    return true;
}

static int give_out(struct frames *frames, struct view *view) {
    int count = 0;
    for (int i = 0; i < view->count; i++) {
        if (!goes_out(frames, view, i)) {
            continue;
        }
        if (count < i) {
            view->fields[count] = view->fields[i];
            view->readings[count] = view->readings[i];
        }
        count++;
    }
    return count;
}

int frames_read(struct frames *frames, const struct frame *frame, struct field fields[2],
                struct reading readings[2]) {
    struct view view = {.fields = fields, .readings = readings};
    frames->counting.facts.frames++;
    read_frame(frames, frame, &view);
    note_presence(frames, &view);
    if (read_count(&view) > 0) {
        believe(frames, layout_shown(frames->split, &view));
        put_in_order(frames, &view);
        leave_out_black(frames, &view);
        leave_out_stale(frames, &view);
        remember(frames, &view);
    }
    leave_out_same(frames, &view);
    return give_out(frames, &view);
}
