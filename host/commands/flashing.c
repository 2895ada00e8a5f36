#include "commands/flashing.h"

#include "commands/setup.h"
#include "flash/flash.h"
#include "report/json.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- how long pictures are held ---- */

int flashing_calm_hold(const struct plan *plan, struct problem *problem) {
    const int hold = flashes_calm_hold(plan, &flash_screen_usual, problem);
    const int least = rom_hold_least(plan);
    if (hold == 0 && problem->kind == PROBLEM_NONE) {
        problem_set(problem, PROBLEM_INPUT,
                    "plan %s flashes beyond the limits however slowly it is shown; choose a --hold yourself",
                    plan->name);
    }
    return hold > 0 && hold < least ? least : hold;
}

static int full_speed_hold(const struct plan *plan) {
    return plan->kind == PLAN_EVERY || plan->kind == PLAN_CARTRIDGE ? 1 : HOLD_UNWATCHED;
}

int flashing_usual_hold(const struct plan *plan, bool watched, struct problem *problem) {
    const int fast = full_speed_hold(plan);
    if (!watched) {
        return fast;
    }
    const int calm = flashing_calm_hold(plan, problem);
    const int least = plan_counts(plan) ? fast : setup_watched_hold(plan->standard);
    return calm > 0 && calm < least ? least : calm;
}

/* ---- before anything is shown ---- */

static bool refuse(const struct plan *plan, int hold, const struct flashes *flashes,
                   struct problem *problem) {
    struct problem none = {0};
    const int calm = flashing_calm_hold(plan, &none);
    char slower[64] = "";
    if (calm > hold) {
        snprintf(slower, sizeof slower, "--calm (--hold %d), ", calm);
    }
    return problem_set(problem, PROBLEM_INPUT,
                       "plan %s at --hold %d is flashing: %s; at most %d over %d %% for viewers who are "
                       "sensitive to it. Say %s--agreed-to-flashing if everybody who can see the screen has "
                       "agreed, or --screen none if nobody can",
                       plan->name, hold, flashes->why, FLASH_LIMIT, FLASH_AREA_PERCENT, slower);
}

bool flashing_allowed(const struct plan *plan, int hold, bool watched, const struct options *options,
                      struct flashing *flashing, struct problem *problem) {
    struct flashes flashes;
    *flashing = (struct flashing){0};
    if (!flashes_of(plan, hold, 0, &flash_screen_usual, &flashes, problem)) {
        return false;
    }
    if (!flashes.over) {
        return true;
    }
    if (options->agreed_to_flashing) {
        flashing->dark = (int)ceil(DARK_SECONDS * flash_rate(plan->standard));
        snprintf(
            flashing->note, sizeof flashing->note,
            "plan %s at --hold %d is flashing: %s. It is shown since everybody who can see the screen has "
            "agreed; the picture stays dark for %d s first. Whoever it disturbs looks away",
            plan->name, hold, flashes.why, DARK_SECONDS);
        return true;
    }
    if (watched) {
        return refuse(plan, hold, &flashes, problem);
    }
    snprintf(flashing->note, sizeof flashing->note,
             "note: plan %s at --hold %d is flashing: %s; it is shown since nobody sees the screen",
             plan->name, hold, flashes.why);
    return true;
}

void flashing_tell(const struct flashing *flashing) {
    if (flashing->note[0] != '\0') {
        fprintf(stderr, "slotjig: %s\n", flashing->note);
    }
}

/* ---- plan --flashes ---- */

enum { SHOWN_MAX = 2, RULES = 4 };

struct shown {
    int hold;
    const char *when;
    struct flashes flashes;
};

struct answer {
    const struct plan *plan;
    int count, calm;
    struct shown shown[SHOWN_MAX];
};

static const struct {
    const char *key, *name, *of;
} rules[RULES] = {{"wcag_general", "WCAG 2.3.1, general", "of 10 degrees"},
                  {"wcag_red", "WCAG 2.3.1, red", "of 10 degrees"},
                  {"bt1702_luminance", "ITU-R BT.1702, luminance", "of the screen"},
                  {"bt1702_red", "ITU-R BT.1702, red", "of the screen"}};

static const struct flash_count *count_by(const struct flashes *flashes, int rule) {
    const struct flash_count *const counts[RULES] = {&flashes->general, &flashes->red, &flashes->luminance,
                                                     &flashes->bt_red};
    return counts[rule];
}

static json_t *shown_json(const struct shown *shown) {
    json_t *by_rule = json_object();
    for (int i = 0; i < RULES; i++) {
        const struct flash_count *count = count_by(&shown->flashes, i);
        json_object_set_new(by_rule, rules[i].key,
                            json_pack("{s:f,s:f,s:b}", "flashes_per_second", count->per_second, "area",
                                      count->area, "over", count->over));
    }
    return json_pack("{s:i,s:s,s:f,s:o,s:b,s:s}", "hold", shown->hold, "when", shown->when, "seconds",
                     shown->flashes.seconds, "rules", by_rule, "over", shown->flashes.over, "why",
                     shown->flashes.why);
}

static json_t *answer_json(const struct answer *answer) {
    json_t *shown = json_array();
    for (int i = 0; i < answer->count; i++) {
        json_array_append_new(shown, shown_json(&answer->shown[i]));
    }
    return json_pack("{s:s,s:s,s:s,s:f,s:{s:f,s:f},s:{s:i,s:f},s:o,s:o}", "command", "plan", "plan",
                     answer->plan->name, "standard", standard_table[answer->plan->standard].name,
                     "fields_per_second", flash_rate(answer->plan->standard), "screen", "peak_cd_m2",
                     flash_screen_usual.peak, "degrees", flash_screen_usual.degrees, "limit",
                     "flashes_per_second", FLASH_LIMIT, "area", FLASH_AREA_PERCENT / 100.0, "flashes", shown,
                     "calm_hold", answer->calm > 0 ? json_integer(answer->calm) : json_null());
}

static void print_shown(const struct plan *plan, const struct shown *shown) {
    printf("\n%s, --hold %d: %s, a round of %s%.1f s\n", shown->when, shown->hold,
           shown->flashes.over ? "OVER the limits" : "under the limits",
           /* what takes the console more than a field is shown longer, and flashes less */
           plan->kind == PLAN_CARTRIDGE ? "at least " : "", shown->flashes.seconds);
    for (int i = 0; i < RULES; i++) {
        const struct flash_count *count = count_by(&shown->flashes, i);
        printf("  %-25s %5.1f a second, at once up to %3.0f %% %s%s\n", rules[i].name, count->per_second,
               100 * count->area, rules[i].of, count->over ? "  OVER" : "");
    }
}

static void print_answer(const struct answer *answer) {
    const struct flash_screen *screen = &flash_screen_usual;
    const uint32_t pictures = plan_pictures(answer->plan);
    printf("plan %s, %s: how its %u picture%s, slate included, at %.2f fields a second\n", answer->plan->name,
           standard_table[answer->plan->standard].name, pictures, pictures == 1 ? " flashes" : "s flash",
           flash_rate(answer->plan->standard));
    printf("assumed: a screen %.0f degrees wide to the viewer, its white %.0f cd/m2, the picture in black\n",
           screen->degrees, screen->peak);
    printf("over: more than %d flashes in any one second over more than %d %% of any 10 degrees (WCAG "
           "2.3.1), or "
           "of the screen (BT.1702)\n",
           FLASH_LIMIT, FLASH_AREA_PERCENT);
    for (int i = 0; i < answer->count; i++) {
        print_shown(answer->plan, &answer->shown[i]);
    }
    if (answer->calm > 0) {
        printf("\nunder the limits from --hold %d on (--calm)\n", answer->calm);
    } else {
        printf("\nover the limits however slowly it is shown\n");
    }
}

static bool add_shown(struct answer *answer, int hold, const char *when, struct problem *problem) {
    struct shown *shown = &answer->shown[answer->count++];
    *shown = (struct shown){.hold = hold, .when = when};
    return flashes_of(answer->plan, hold, 0, &flash_screen_usual, &shown->flashes, problem);
}

static bool work_out(struct answer *answer, const struct options *options, struct problem *problem) {
    answer->calm = flashes_calm_hold(answer->plan, &flash_screen_usual, problem);
    if (answer->calm == 0 && problem->kind != PROBLEM_NONE) {
        return false;
    }
    const int least = rom_hold_least(answer->plan);
    answer->calm = answer->calm > 0 && answer->calm < least ? least : answer->calm;
    if (options->hold > 0) {
        return add_shown(answer, options->hold, "as asked for", problem);
    }
    struct problem never = {0};
    const bool all = options->screen == NULL, watched = all || strcmp(options->screen, "watched") == 0;
    const int hold = watched ? flashing_usual_hold(answer->plan, true, &never) : 0;
    return ((watched && !all) ||
            add_shown(answer, full_speed_hold(answer->plan), "at full speed", problem)) &&
           (hold == 0 || add_shown(answer, hold, "on a watched screen", problem));
}

bool flashing_show(const struct plan *plan, const struct options *options, struct problem *problem) {
    struct answer answer = {.plan = plan};
    if (!work_out(&answer, options, problem)) {
        return false;
    }
    if (options->json != NULL) {
        return json_write(answer_json(&answer), options->json, problem);
    }
    print_answer(&answer);
    return true;
}

static bool show_one(const char *name, const struct options *options, json_t *all, struct problem *problem) {
    struct plan *plan = NULL;
    struct options of_one = *options;
    of_one.plan = name;
    if (!setup_plan(&of_one, options->standard, &plan, problem)) {
        return false;
    }
    struct answer answer = {.plan = plan};
    const bool good = work_out(&answer, options, problem);
    if (good && options->json != NULL) {
        json_array_append_new(all, answer_json(&answer));
    } else if (good) {
        print_answer(&answer);
    }
    plan_free(plan);
    return good;
}

bool flashing_show_all(const struct options *options, struct problem *problem) {
    json_t *all = json_array();
    bool good = true;
    for (const struct plan_builtin *plan = plan_builtins; good && plan->name != NULL; plan++) {
        if (plan != plan_builtins && options->json == NULL) {
            printf("\n");
        }
        good = show_one(plan->name, options, all, problem);
    }
    if (good && options->json != NULL) {
        return json_write(json_pack("{s:s,s:o}", "command", "plan", "plans", all), options->json, problem);
    }
    json_decref(all);
    return good;
}
