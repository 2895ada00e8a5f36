/* A picture's rows as the bands of one step: which registers must be rewritten where, and when. */
#include "plan/drawing.h"

#include "expect/expect.h"
#include "plan/art.h"
#include "plan/schedule.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PF_REGS = 3, MODES = 2 };

/* The writes a line may need, in the order in which a line draws. */
enum place {
    BEFORE_COLUBK,
    BEFORE_COLUPF,
    LEFT_PF0,
    LEFT_PF1,
    LEFT_PF2,
    RIGHT_PF0,
    RIGHT_PF1,
    RIGHT_PF2,
    PLACES
};

static const struct {
    enum reg reg;
    enum moment_register moment;
    int half;
} places[PLACES] = {
    {REG_COLUBK, MOMENT_COLUBK, HALF_LEFT}, {REG_COLUPF, MOMENT_COLUPF, HALF_LEFT},
    {REG_PF0, MOMENT_PF0, HALF_LEFT},       {REG_PF1, MOMENT_PF1, HALF_LEFT},
    {REG_PF2, MOMENT_PF2, HALF_LEFT},       {REG_PF0, MOMENT_PF0, HALF_RIGHT},
    {REG_PF1, MOMENT_PF1, HALF_RIGHT},      {REG_PF2, MOMENT_PF2, HALF_RIGHT},
};

/* What each place must write on each line, in one mode. */
struct sheet {
    bool mirror;
    int lines;
    uint8_t value[PLACES][PICTURE_LINES_MAX];
    uint8_t needs[PICTURE_LINES_MAX]; /* bit n: the line cannot do without place n */
    uint8_t all;                      /* of all lines */
    uint8_t wished; /* registers that keep one value which is not 0: written too where there is time, so that
                       the loop needs nothing set up before it */
};

/* ---- from picture to values ---- */

static void centre(const struct art *art, int lines, struct art *whole) {
    const int top = (lines - art->rows) / 2;
    const struct art_row dark = {.lit_colour = ART_ANY, .dark_colour = plan_default_colour(REG_COLUBK)};
    whole->rows = lines;
    for (int line = 0; line < lines; line++) {
        const bool inside = line >= top && line < top + art->rows;
        whole->row[line] = inside ? art->row[line - top] : dark;
    }
}

/* A colour that the line has no cells of stays as it was; before the first such line it is that one's. */
static void colours(const struct art *art, enum place place, uint8_t *values) {
    int now = ART_ANY;
    for (int line = 0; line < art->rows; line++) {
        const struct art_row *row = &art->row[line];
        const bool lit = place == BEFORE_COLUPF;
        const int colour = lit ? row->lit_colour : row->dark_colour;
        const bool used = lit ? row->lit != 0 : row->lit != CELLS_ALL;
        now = used && colour != ART_ANY ? colour : now;
        now = used && colour == ART_ANY ? plan_default_colour(places[place].reg) : now;
        values[line] = (uint8_t)(now == ART_ANY ? 0 : now);
        if (now != ART_ANY) {
            continue;
        }
        for (int next = line; next < art->rows && now == ART_ANY; next++) {
            const struct art_row *ahead = &art->row[next];
            if (lit ? ahead->lit != 0 : ahead->lit != CELLS_ALL) {
                now = lit ? ahead->lit_colour : ahead->dark_colour;
                now = now == ART_ANY ? plan_default_colour(places[place].reg) : now;
            }
        }
        now = now == ART_ANY ? plan_default_colour(places[place].reg) : now;
        values[line] = (uint8_t)now;
    }
}

static void playfield(uint64_t lit, bool mirror, int line, struct sheet *sheet) {
    for (int i = 0; i < CELLS / 2; i++) {
        const int reg = (int)expect_serial[i].reg - (int)REG_PF0;
        const int right = mirror ? CELLS - 1 - i : CELLS / 2 + i;
        sheet->value[LEFT_PF0 + reg][line] |= (uint8_t)((lit >> i & 1) << expect_serial[i].bit);
        sheet->value[RIGHT_PF0 + reg][line] |= (uint8_t)((lit >> right & 1) << expect_serial[i].bit);
    }
}

/* A register is written in mid-line where its halves differ on some line; and before a line where it does
 * not hold the same on all of them. */
static void find_needs(struct sheet *sheet) {
    for (int line = 0; line < sheet->lines; line++) {
        for (int place = 0; place < PLACES; place++) {
            const uint8_t *left = sheet->value[place >= RIGHT_PF0 ? place - PF_REGS : place];
            const bool changes = place >= RIGHT_PF0 ? sheet->value[place][line] != left[line]
                                                    : line > 0 && left[line] != left[line - 1];
            if (changes) {
                sheet->needs[line] |= (uint8_t)(1 << place);
            }
        }
        const int again = sheet->needs[line] >> RIGHT_PF0 & ((1 << PF_REGS) - 1);
        sheet->all |= (uint8_t)(sheet->needs[line] | again << LEFT_PF0);
    }
    for (int place = LEFT_PF0; place < RIGHT_PF0 && sheet->all != 0; place++) {
        const bool kept = (sheet->all >> place & 1) == 0 && sheet->value[place][0] != 0;
        sheet->wished |= (uint8_t)(kept << place);
    }
}

static void fill(const struct art *art, bool mirror, struct sheet *sheet) {
    memset(sheet, 0, sizeof *sheet);
    sheet->mirror = mirror;
    sheet->lines = art->rows;
    colours(art, BEFORE_COLUBK, sheet->value[BEFORE_COLUBK]);
    colours(art, BEFORE_COLUPF, sheet->value[BEFORE_COLUPF]);
    for (int line = 0; line < art->rows; line++) {
        playfield(art->row[line].lit, mirror, line, sheet);
    }
    find_needs(sheet);
}

/* ---- whether it fits ---- */

/* No store shows before it is made [A]: whatever a record says, one that ends after its cells' beginning is
 * for the cells that come next. */
static int bound(const struct wanted_write *write, int half, bool mirror) {
    struct write_windows plain;
    windows_arithmetic(&plain);
    for (int place = 0; place < PLACES; place++) {
        if (places[place].reg == write->reg && places[place].half == half) {
            return plain.window[places[place].moment][mirror][half].last;
        }
    }
    return LINE_CYCLES - 1;
}

static bool window_fits(const struct write_windows *windows, enum place place, bool mirror,
                        struct wanted_write *wanted) {
    const struct write_window *window = &windows->window[places[place].moment][mirror][places[place].half];
    *wanted = (struct wanted_write){places[place].reg, window->first, window->last};
    const int last = bound(wanted, places[place].half, mirror);
    wanted->last = wanted->last < last ? wanted->last : last;
    if (places[place].half == HALF_RIGHT && wanted->first < SCHEDULE_RIGHT_LEAST) {
        wanted->first = SCHEDULE_RIGHT_LEAST;
    }
    return window->exists && wanted->first <= wanted->last;
}

struct fit {
    struct schedule schedule;
    enum place of[PLACES]; /* of the writes wanted */
    int count;
};

static bool try_fit(const struct sheet *sheet, const struct write_windows *windows, uint8_t set,
                    struct fit *fit) {
    struct wanted_write wanted[PLACES];
    fit->count = 0;
    for (int place = 0; place < PLACES; place++) {
        if ((set >> place & 1) == 0) {
            continue;
        }
        if (!window_fits(windows, (enum place)place, sheet->mirror, &wanted[fit->count])) {
            return false;
        }
        fit->of[fit->count++] = (enum place)place;
    }
    return schedule_find(wanted, fit->count, &fit->schedule);
}

/* ---- what does not fit ---- */

static int bits_in(unsigned set) {
    return __builtin_popcount(set);
}

/* Lines that need nothing out of the set. */
static int lines_without(const struct sheet *sheet, uint8_t missing) {
    int lines = 0;
    for (int line = 0; line < sheet->lines; line++) {
        lines += (sheet->needs[line] & missing) == 0;
    }
    return lines;
}

static void add_wished(const struct sheet *sheet, const struct write_windows *windows, struct fit *fit) {
    struct fit more;
    if (sheet->wished != 0 && try_fit(sheet, windows, (uint8_t)(sheet->all | sheet->wished), &more)) {
        *fit = more;
    }
}

/* The fewest places to do without, in lines lost and then in number. 0: it all fits. */
static uint8_t find_missing(const struct sheet *sheet, const struct write_windows *windows, struct fit *fit) {
    uint8_t best = sheet->all;
    for (unsigned missing = 0; missing < 1U << PLACES; missing++) {
        const uint8_t lack = (uint8_t)missing;
        const int lines = lines_without(sheet, lack), most = lines_without(sheet, best);
        if ((lack & ~sheet->all) != 0 || lines < most ||
            (lines == most && missing != 0 && bits_in(lack) >= bits_in(best))) {
            continue;
        }
        if (try_fit(sheet, windows, (uint8_t)(sheet->all & ~lack), fit)) {
            if (missing == 0) {
                add_wished(sheet, windows, fit);
                return 0;
            }
            best = lack;
        }
    }
    return best;
}

static void tell_window(const struct sheet *sheet, const struct write_windows *windows, enum place place,
                        char *text, size_t size) {
    struct wanted_write wanted;
    const struct write_window *window =
        &windows->window[places[place].moment][sheet->mirror][places[place].half];
    if (window_fits(windows, place, sheet->mirror, &wanted)) {
        snprintf(text, size, ", and its window, cycles %d to %d, has no room beside the other writes",
                 wanted.first, wanted.last);
    } else if (window->first != 0 || window->last != 0) {
        snprintf(text, size, "; no cycle fits: the window is %d to %d", wanted.first, wanted.last);
    } else {
        snprintf(text, size, "; no cycle fits: there is no window");
    }
}

enum { TOLD_LEAST = 150, TOLD_TEXT = 480, TOLD_AROUND = 120 /* characters beside the rows */ };

static void tell_place(const struct sheet *sheet, const struct write_windows *windows, enum place place,
                       int top, int rows, size_t room, char text[TOLD_TEXT]) {
    bool lines[PICTURE_LINES_MAX] = {0};
    char list[TOLD_TEXT - TOLD_AROUND], why[80];
    int count = 0;
    for (int row = 0; row < rows; row++) {
        lines[row] = (sheet->needs[top + row] >> place & 1) != 0;
        count += lines[row];
    }
    if (count == 0) { /* the dark line below the last row needs it */
        lines[rows - 1] = true;
        count = 1;
    }
    art_rows_text(lines, rows, list, room - TOLD_AROUND);
    tell_window(sheet, windows, place, why, sizeof why);
    snprintf(text, TOLD_TEXT, "row%s %s need%s %s rewritten %s%s", count == 1 ? "" : "s", list,
             count == 1 ? "s" : "", reg_name(places[place].reg),
             places[place].half == HALF_RIGHT ? "in mid-line" : "before the line", why);
}

/* The first three at most: what follows from them is the same. */
static bool refuse(const char *path, const struct sheet *sheet, const struct write_windows *windows,
                   uint8_t missing, int top, int rows, struct problem *problem) {
    const size_t count = (size_t)bits_in(missing), room = TOLD_TEXT / count;
    char text[TOLD_TEXT + 4] = "";
    for (int place = 0; place < PLACES; place++) {
        const size_t used = strlen(text);
        if ((missing >> place & 1) != 0 && used + TOLD_LEAST < TOLD_TEXT) {
            char one[TOLD_TEXT];
            tell_place(sheet, windows, (enum place)place, top, rows, room < TOLD_LEAST ? TOLD_LEAST : room,
                       one);
            snprintf(text + used, sizeof text - used, "%s%.*s", used == 0 ? "" : "; ",
                     (int)(TOLD_TEXT - used), one);
        }
    }
    return problem_set(problem, PROBLEM_INPUT, "%.60s: %s (windows: %.40s)", path, text, windows->source);
}

/* ---- the plan ---- */

static void add_write(struct band *band, enum reg reg, uint8_t value, int cycle) {
    band->writes[band->count++] = (struct write){reg, value, (int16_t)cycle};
}

static void begin_picture(const struct sheet *sheet, struct band *band) {
    add_write(band, REG_CTRLPF, sheet->mirror ? CTRLPF_REFLECT : 0, WRITE_BEFORE);
    for (int place = LEFT_PF0; place < RIGHT_PF0; place++) {
        add_write(band, places[place].reg, sheet->value[place][0], WRITE_BEFORE);
    }
    for (int place = BEFORE_COLUPF; place >= BEFORE_COLUBK; place--) {
        if (sheet->value[place][0] != plan_default_colour(places[place].reg)) {
            add_write(band, places[place].reg, sheet->value[place][0], WRITE_BEFORE);
        }
    }
}

/* The last line's writes for the next one change nothing. */
static uint8_t value_of(const struct sheet *sheet, enum place place, int line, bool early) {
    if (!early) {
        return sheet->value[place][line];
    }
    if (line + 1 < sheet->lines) {
        return sheet->value[place][line + 1];
    }
    const enum place now = place >= LEFT_PF0 && (sheet->all >> (place + PF_REGS) & 1) != 0
                               ? (enum place)(place + PF_REGS)
                               : place;
    return sheet->value[now][line];
}

static void fill_bands(const struct sheet *sheet, const struct fit *fit, struct band *bands) {
    for (int line = 0; line < sheet->lines; line++) {
        struct band *band = &bands[line];
        *band = (struct band){.lines = 1};
        if (line == 0) {
            begin_picture(sheet, band);
        }
        for (int i = 0; i < fit->schedule.count; i++) {
            const struct placed_write *store = &fit->schedule.stores[i];
            const enum place place = fit->of[store->wanted];
            if (line == 0 && places[place].half == HALF_LEFT && !store->early) {
                continue; /* the first line begins with it */
            }
            add_write(band, places[place].reg, value_of(sheet, place, line, store->early), store->cycle);
        }
    }
}

static void step_name(const char *path, int top, int rows, int lines, char name[STEP_NAME_MAX]) {
    enum { MOST = 24 };
    const char *slash = strrchr(path, '/'), *base = slash == NULL ? path : slash + 1;
    char clean[MOST + 1] = "";
    for (int i = 0; i < MOST && base[i] != '\0'; i++) {
        const bool plain = isalnum((unsigned char)base[i]) != 0 || strchr("._-", base[i]) != NULL;
        clean[i] = plain ? base[i] : '_';
        clean[i + 1] = '\0';
    }
    if (rows == lines) {
        snprintf(name, STEP_NAME_MAX, "%s", clean);
    } else {
        snprintf(name, STEP_NAME_MAX, "%s at lines %d-%d", clean, top, top + rows - 1);
    }
}

static bool make_plan(const struct sheet *sheet, const struct fit *fit, bool vouched, const char *name,
                      enum standard standard, struct plan **out, struct problem *problem) {
    struct plan *plan = plan_new("drawing", standard);
    struct band *bands = calloc((size_t)sheet->lines, sizeof *bands);
    bool good = plan != NULL && bands != NULL;
    if (good) {
        fill_bands(sheet, fit, bands);
        size_t count = (size_t)sheet->lines;
        if (fit->schedule.count == 0) { /* all lines alike */
            bands[0].lines = (uint16_t)sheet->lines;
            count = 1;
        }
        good = plan_add_step(plan, name, bands, count, problem);
        plan->steps[0].vouched = good && vouched && count > 1;
    } else {
        problem_set(problem, PROBLEM_BENCH, "plan drawing: out of memory");
    }
    free(bands);
    if (!good) {
        plan_free(plan);
        return false;
    }
    *out = plan;
    return true;
}

/* Copy where both modes will do with as many writes. */
static bool choose(struct sheet sheets[MODES], const struct write_windows *windows, struct fit fits[MODES],
                   uint8_t missing[MODES]) {
    for (int mode = 0; mode < MODES; mode++) {
        missing[mode] = find_missing(&sheets[mode], windows, &fits[mode]);
    }
    if (missing[0] == 0 && missing[1] == 0) {
        return fits[1].count < fits[0].count;
    }
    if (missing[0] == 0 || missing[1] == 0) {
        return missing[1] == 0;
    }
    return lines_without(&sheets[1], missing[1]) > lines_without(&sheets[0], missing[0]);
}

struct work {
    struct art art, whole;
    struct sheet sheets[MODES];
    struct fit fits[MODES];
};

static bool draw(const char *path, enum standard standard, const struct write_windows *windows,
                 struct work *work, struct plan **plan, struct problem *problem) {
    const int lines = standard_plan_lines(standard);
    uint8_t missing[MODES];
    char name[STEP_NAME_MAX];
    if (!art_open(path, lines, &work->art, problem)) {
        return false;
    }
    const int rows = work->art.rows, top = (lines - rows) / 2;
    centre(&work->art, lines, &work->whole);
    for (int mode = 0; mode < MODES; mode++) {
        fill(&work->whole, mode != 0, &work->sheets[mode]);
    }
    const int mode = choose(work->sheets, windows, work->fits, missing);
    if (missing[mode] != 0) {
        return refuse(path, &work->sheets[mode], windows, missing[mode], top, rows, problem);
    }
    step_name(path, top, rows, lines, name);
    return make_plan(&work->sheets[mode], &work->fits[mode], strcmp(windows->source, "handbook") != 0, name,
                     standard, plan, problem);
}

bool drawing_plan(const char *path, enum standard standard, const struct write_windows *windows,
                  struct plan **plan, struct problem *problem) {
    struct work *work = calloc(1, sizeof *work);
    if (work == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "plan drawing: out of memory");
    }
    const bool good = draw(path, standard, windows, work, plan, problem);
    free(work);
    return good;
}

bool drawing_lines(const char *path, enum standard standard, int *first, int *lines,
                   struct problem *problem) {
    struct art *art = malloc(sizeof *art);
    const int whole = standard_plan_lines(standard);
    if (art == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "plan drawing: out of memory");
    }
    const bool good = art_open(path, whole, art, problem);
    if (good) {
        *first = (whole - art->rows) / 2;
        *lines = art->rows;
    }
    free(art);
    return good;
}
