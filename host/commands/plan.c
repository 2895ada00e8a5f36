#include "commands/commands.h"

#include "commands/flashing.h"
#include "commands/setup.h"
#include "plan/check.h"
#include "plan/every.h"
#include "plan/moments.h"
#include "report/json.h"
#include "report/terminal.h"
#include "verdict/check.h"

#include <stdio.h>

static const uint64_t takes =
    TAKES_PLAN | TAKES_STANDARD | TAKES_FLASHES | TAKES_HOLD | TAKES_JSON | TAKES_ITEM;

static int help(void) {
    printf("usage: slotjig plan [--plan NAME|FILE] [options]\n\n"
           "Without --plan: the built-in plans. With it: the plan's steps and what their registers hold.\n"
           "--flashes: how the pictures flash when they follow each other, on a screen that is assumed and "
           "stated; how slowly they must\n"
           "follow each other to stay below the limits. Who is sensitive to flashing goes by the standards' "
           "own texts, not by this.\n"
           "Without --plan: each built-in plan.\n\n");
    options_help(takes);
    return EXIT_PASS;
}

static int list(void) {
    for (const struct plan_builtin *plan = plan_builtins; plan->name != NULL; plan++) {
        printf("%-10s %s\n", plan->name, plan->about);
    }
    printf("%-10s %s\n", "cartridge",
           "checks the cartridge that it is on, every byte and bank of it: with --scheme 4K, F8 ... [--ram]");
    printf("%-10s %s\n", "drawing", "a picture of yours, 40 cells wide: --plan drawing FILE");
    return EXIT_PASS;
}

/* What the items of a round are, kind by kind. */
static void show_cartridge(const struct plan *plan) {
    const struct cart_check *check = &plan->check;
    struct check_item items[CHECK_ITEMS_MAX];
    const size_t count = check_items(check, items);
    printf(
        "plan cartridge, %s: %s, %zu bytes in %d bank%s%s; %zu items a round, each five hexadecimal digits "
        "on the screen and in the slate\n",
        standard_table[plan->standard].name, scheme_name(check->scheme), scheme_bytes(check->scheme),
        scheme_banks(check->scheme), scheme_banks(check->scheme) == 1 ? "" : "s",
        check->ram ? ", and 128 bytes of RAM" : "", count);
    for (size_t i = 0, of_kind = 0; i < count; i += of_kind) {
        of_kind = 1;
        while (i + of_kind < count && items[i + of_kind].kind == items[i].kind) {
            of_kind++;
        }
        printf("  %05X", check_pack(items[i]));
        printf(of_kind == 1 ? "         " : " to %05X", check_pack(items[i + of_kind - 1]));
        printf("  %s\n", check_kind_name(items[i].kind));
    }
}

/* The steps' registers, or what the console counts through. */
static void show_counted(const struct plan *plan, double fields) {
    const uint32_t pictures = plan_pictures(plan);
    if (plan->kind == PLAN_CARTRIDGE) {
        show_cartridge(plan);
        return;
    }
    printf("plan %s, %s: ", plan->name, standard_table[plan->standard].name);
    if (plan->kind == PLAN_EVERY) {
        const struct every *every = &plan->every;
        printf(
            "%u patterns in copy and as many in mirror, each on %d line%s, %d a field: %u fields, %.1f s at "
            "%.2f fields a second\n",
            every->count, every->repeat, every->repeat == 1 ? "" : "s", every->patterns, pictures,
            pictures / fields, fields);
        printf("pattern n is %d n modulo %d: PF2 its bits 0-7, PF1 8-15, PF0 16-19; the slate's value is the "
               "field's first one, and the mode in bit 0\n",
               EVERY_STEP, EVERY_VALUES);
        return;
    }
    printf("%u moments: %d registers, %d modes, %d cycles; each %d fields: %.1f s\n", pictures,
           MOMENT_REGISTERS, MOMENT_MODES, LINE_CYCLES, HOLD_UNWATCHED, pictures * HOLD_UNWATCHED / fields);
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        for (int mode = 0; mode < MOMENT_MODES; mode++) {
            const struct moment_setting setting = moment_setting((enum moment_register)reg, mode != 0);
            printf("%4d  %-9s  %-6s  %s from $%02X to $%02X and back\n",
                   (reg * MOMENT_MODES + mode) * LINE_CYCLES, moment_name((enum moment_register)reg),
                   mode != 0 ? "mirror" : "copy", reg_name(setting.reg), setting.before, setting.after);
        }
    }
}

/* Digits from the screen. */
static bool show_item(const struct plan *plan, const char *digits, struct problem *problem) {
    char words[200];
    struct check_item item;
    if (plan->kind != PLAN_CARTRIDGE) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--item: only plan cartridge has items; say --plan cartridge");
    }
    if (!check_from_digits(digits, &item)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--item %.20s: five hexadecimal digits as on the screen, such as 11303", digits);
    }
    if (!check_item_possible(&plan->check, item)) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "--item %.20s: an image of %s%s never shows that; were the digits copied right, and "
            "are --scheme and --ram the cartridge's?",
            digits, scheme_name(plan->check.scheme), plan->check.ram ? " with RAM" : "");
    }
    check_words(&plan->check, item, words, sizeof words);
    printf("%05X  %s%s\n", check_pack(item),
           check_pack(item) == 0 ? "in the top row: nothing was wrong so far; in the fourth: " : "", words);
    return true;
}

static void show(const struct plan *plan) {
    double fields = standard_table[plan->standard].clock_hz / (LINE_CLOCKS * standard_lines(plan->standard));
    int watched = setup_watched_hold(plan->standard);
    if (plan_counts(plan)) {
        show_counted(plan, fields);
        return;
    }
    printf("plan %s, %s: %zu step%s; a round takes %.1f s on a watched screen, %.1f s on an unwatched one\n",
           plan->name, standard_table[plan->standard].name, plan->step_count,
           plan->step_count == 1 ? "" : "s", (double)plan->step_count * watched / fields,
           (double)plan->step_count * HOLD_UNWATCHED / fields);
    for (size_t i = 0; i < plan->step_count; i++) {
        uint8_t held[REG_COUNT];
        step_registers(&plan->steps[i], held);
        printf("%4zu  PF0 $%02X  PF1 $%02X  PF2 $%02X  CTRLPF $%02X  %s%s\n", i, held[REG_PF0], held[REG_PF1],
               held[REG_PF2], held[REG_CTRLPF], plan->steps[i].name,
               step_is_hold(&plan->steps[i]) ? "" : "  (first line; changes further down)");
    }
}

int command_plan(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    struct plan *plan = NULL;
    if (!options_parse(argc, argv, takes, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    if (!options.flashes && (options.hold != 0 || options.screen != NULL)) {
        problem_set(&problem, PROBLEM_INPUT, "plan: --hold and --screen go with --flashes");
        return command_refuse(&problem);
    }
    if (options.plan == NULL && options.item != NULL) {
        problem_set(&problem, PROBLEM_INPUT,
                    "plan: --item is of plan cartridge; say --plan cartridge, with --scheme and --ram as the "
                    "cartridge has them");
        return command_refuse(&problem);
    }
    if (options.plan == NULL && options.flashes) {
        return flashing_show_all(&options, &problem) ? EXIT_PASS : command_refuse(&problem);
    }
    if (options.plan == NULL && options.json == NULL) {
        return list();
    }
    if (!setup_plan(&options, options.standard, &plan, &problem)) {
        return command_refuse(&problem);
    }
    bool good = true;
    if (options.item != NULL) {
        good = show_item(plan, options.item, &problem);
    } else if (options.flashes) {
        good = flashing_show(plan, &options, &problem);
    } else if (options.json != NULL) {
        good = json_write(json_pack("{s:s,s:s,s:I,s:o}", "plan", plan->name, "standard",
                                    standard_table[plan->standard].name, "pictures",
                                    (json_int_t)plan_pictures(plan), "steps", json_steps_expected(plan)),
                          options.json, &problem);
    } else {
        show(plan);
    }
    plan_free(plan);
    return good ? EXIT_PASS : command_refuse(&problem);
}
