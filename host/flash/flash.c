#include "flash/flash.h"

#include "flash/change.h"
#include "flash/flicker.h"
#include "flash/scene.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* WCAG's estimate takes 341 of 1024 pixels for 10 degrees, so 30 for the width: a viewer nearer than one of
 * television usually is, and so the stricter assumption. 200 cd/m2: what analysers by BT.1702 take for
 * standard dynamic range [M]. */
const struct flash_screen flash_screen_usual = {.peak = 200, .degrees = 1024.0 / 341 * 10};

enum {
    FIELD_DEGREES = 10,
    CHANGES_OVER = 2 * FLASH_LIMIT + 1, /* half a flash more than the limit */
    CALM_HOLD_MAX = 600,                /* ten seconds a picture: slower is no plan */
    SLATE_BANDS = (SLATE_LINES + FLICKER_BAND - 1) / FLICKER_BAND
};
_Static_assert(SLATE_LINES % FLICKER_BAND == 0, "the slate's bands are its own");

/* A plan being shown, field by field. */
struct show {
    struct scenes scenes;
    double peak;
    struct scene scene[2]; /* the field before and this one, in turn */
    int now;
    struct shade shades[SHADES];
    struct change changes[CHANGE_RULES][PICTURE_LINES_MAX]
                         [CELLS];         /* below the slate, where there are shades */
    struct flicker flicker[CHANGE_RULES]; /* of two levels only the first: general and luminance are one */
};

double flash_rate(enum standard standard) {
    return standard_table[standard].clock_hz / (LINE_CLOCKS * standard_lines(standard));
}

/* Fields of which the first and the last are less than a second apart. */
static int window_of(enum standard standard) {
    return (int)ceil(flash_rate(standard));
}

/* ---- places ---- */

static void add_views(struct show *show, const struct flash_screen *screen) {
    const enum standard standard = show->scenes.plan->standard;
    const double cells = 720 / standard_samples_per_clock(standard) / CELL_CLOCKS; /* BT.601: 720 samples */
    const double lines = standard_table[standard].frame_height / 2.0;
    const double part = fmin(1, FIELD_DEGREES / screen->degrees), share = FLASH_AREA_PERCENT / 100.0;
    for (int rule = 0; rule < CHANGE_RULES; rule++) {
        struct flicker *flicker = &show->flicker[rule];
        flicker_init(flicker, show->scenes.lines, window_of(standard));
        if (rule != CHANGE_LUMINANCE) {
            flicker_add_view(flicker, cells * part, lines * part, share);
        }
        if (rule != CHANGE_GENERAL || show->scenes.two_level) {
            flicker_add_view(flicker, cells, lines, share);
        }
    }
}

/* ---- fields ---- */

/* This field begins as the one before was. */
static void repeat_scene(struct show *show) {
    const struct scene *before = &show->scene[!show->now];
    struct scene *scene = &show->scene[show->now];
    memcpy(scene->white, before->white, sizeof scene->white);
    if (!show->scenes.two_level) {
        memcpy(scene->code, before->code, sizeof scene->code);
    }
}

/* Cells of a line whose light turns round with this picture. */
static uint64_t turned(struct show *show, enum change_rule rule, int line) {
    const uint8_t *codes = show->scene[show->now].code[line];
    uint64_t cells = 0;
    for (int cell = 0; cell < CELLS; cell++) {
        const bool turns =
            change_step(&show->changes[rule][line][cell], rule, show->peak, &show->shades[codes[cell]]);
        cells |= (uint64_t)turns << cell;
    }
    return cells;
}

static uint64_t changed_cells(struct show *show, enum change_rule rule, int line) {
    if (!show->scenes.two_level && line >= SLATE_LINES) {
        return turned(show, rule, line);
    }
    /* Black and white: every change is a large one, and none is red. */
    return !show->scenes.two_level && rule == CHANGE_RED
               ? 0
               : show->scene[0].white[line] ^ show->scene[1].white[line];
}

static void count_field(struct show *show, enum change_rule rule, uint32_t bands) {
    uint64_t changed[PICTURE_LINES_MAX];
    for (int line = 0; line < show->scenes.lines; line++) {
        if ((bands >> line / FLICKER_BAND & 1) != 0) {
            changed[line] = changed_cells(show, rule, line);
        }
    }
    flicker_field(&show->flicker[rule], changed, bands);
}

/* picture: -1 for the dark one, which comes first and has no slate. */
static void show_field(struct show *show, long picture, bool fresh, uint64_t field) {
    struct scene *scene = &show->scene[show->now];
    const uint32_t bands = fresh ? UINT32_MAX : (UINT32_C(1) << SLATE_BANDS) - 1;
    repeat_scene(show);
    if (picture >= 0) {
        scene_slate(&show->scenes, (uint32_t)picture, (uint8_t)(field % 64), scene);
        if (fresh) {
            scene_picture(&show->scenes, (uint32_t)picture, scene);
        }
    }
    for (int rule = 0; rule < (show->scenes.two_level ? 1 : CHANGE_RULES); rule++) {
        count_field(show, (enum change_rule)rule, bands);
    }
    show->now = !show->now;
}

static bool view_over(const struct flicker_view *view) {
    return view->most_by_cell >= CHANGES_OVER || view->most_at_once >= CHANGES_OVER;
}

static bool any_over(const struct show *show) {
    for (int rule = 0; rule < CHANGE_RULES; rule++) {
        for (int i = 0; i < show->flicker[rule].views; i++) {
            if (view_over(&show->flicker[rule].view[i])) {
                return true;
            }
        }
    }
    return false;
}

/* One round after the dark fields, and on into the next one until every second that a console goes through
 * was seen. */
static void show_plan(struct show *show, int hold, int dark, bool until_over) {
    const struct plan *plan = show->scenes.plan;
    const uint64_t pictures = plan_pictures(plan), round = pictures * (uint64_t)hold;
    const uint64_t fields = (uint64_t)dark + round + 2 * (uint64_t)window_of(plan->standard);
    for (uint64_t field = 0; field < fields; field++) {
        const bool is_dark = field < (uint64_t)dark;
        const uint64_t shown = is_dark ? 0 : field - (uint64_t)dark;
        const long picture = is_dark ? -1 : (long)(shown / (uint64_t)hold % pictures);
        show_field(show, picture, !is_dark && shown % (uint64_t)hold == 0, field);
        if (until_over && any_over(show)) {
            return;
        }
    }
}

/* ---- answers ---- */

static struct flash_count count_of(const struct flicker_view *view) {
    const int most = view->most_by_cell > view->most_at_once ? view->most_by_cell : view->most_at_once;
    return (struct flash_count){.per_second = most / 2.0, .area = view->largest, .over = view_over(view)};
}

static void explain(struct flashes *flashes) {
    const struct {
        const struct flash_count *count;
        const char *rule, *of;
    } rules[] = {{&flashes->general, "general flashes (WCAG 2.3.1)", "of 10 degrees"},
                 {&flashes->red, "red flashes (WCAG 2.3.1)", "of 10 degrees"},
                 {&flashes->luminance, "flashes (BT.1702)", "of the screen"},
                 {&flashes->bt_red, "red flashes (BT.1702)", "of the screen"}};
    size_t used = 0;
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++) {
        if (rules[i].count->over && used < sizeof flashes->why) {
            const int more =
                snprintf(flashes->why + used, sizeof flashes->why - used,
                         "%s%.1f %s in one second, up to %.0f %% %s at once", used > 0 ? "; " : "",
                         rules[i].count->per_second, rules[i].rule, 100 * rules[i].count->area, rules[i].of);
            used += more > 0 ? (size_t)more : 0;
        }
    }
}

static struct show *new_show(const struct plan *plan, const struct flash_screen *screen,
                             struct problem *problem) {
    struct show *show = calloc(1, sizeof *show);
    if (show == NULL) {
        problem_set(problem, PROBLEM_BENCH, "plan %s: out of memory for its flashes; close other programs",
                    plan->name);
        return NULL;
    }
    scenes_init(&show->scenes, plan);
    shades_of(plan->standard, show->shades);
    show->peak = screen->peak;
    add_views(show, screen);
    return show;
}

bool flashes_of(const struct plan *plan, int hold, int dark, const struct flash_screen *screen,
                struct flashes *flashes, struct problem *problem) {
    struct show *show = new_show(plan, screen, problem);
    if (show == NULL) {
        return false;
    }
    show_plan(show, hold, dark, false);
    const bool two = show->scenes.two_level;
    *flashes = (struct flashes){
        .screen = *screen,
        .seconds = (dark + (double)plan_pictures(plan) * hold) / flash_rate(plan->standard),
        .general = count_of(&show->flicker[CHANGE_GENERAL].view[0]),
        .red = count_of(&show->flicker[CHANGE_RED].view[0]),
        .luminance = count_of(&show->flicker[two ? CHANGE_GENERAL : CHANGE_LUMINANCE].view[two ? 1 : 0]),
        .bt_red = count_of(&show->flicker[CHANGE_RED].view[1])};
    flashes->over =
        flashes->general.over || flashes->red.over || flashes->luminance.over || flashes->bt_red.over;
    explain(flashes);
    free(show);
    return true;
}

/* -1: memory is short. */
static int is_over(const struct plan *plan, int hold, const struct flash_screen *screen,
                   struct problem *problem) {
    struct show *show = new_show(plan, screen, problem);
    if (show == NULL) {
        return -1;
    }
    show_plan(show, hold, 0, true);
    const bool over = any_over(show);
    free(show);
    return over;
}

int flashes_calm_hold(const struct plan *plan, const struct flash_screen *screen, struct problem *problem) {
    /* Pictures shown this long change no oftener than the limit allows, whatever they are. */
    int hold = (window_of(plan->standard) + 2 * FLASH_LIMIT - 1) / (2 * FLASH_LIMIT);
    int over = is_over(plan, hold, screen, problem);
    while (over > 0 && ++hold <= CALM_HOLD_MAX) {
        over = is_over(plan, hold, screen, problem);
    }
    if (over != 0) {
        return 0;
    }
    while (hold > 1 && (over = is_over(plan, hold - 1, screen, problem)) == 0) {
        hold--;
    }
    return over < 0 ? 0 : hold;
}
