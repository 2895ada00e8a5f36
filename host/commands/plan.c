#include "commands/commands.h"

#include "commands/setup.h"
#include "report/json.h"
#include "report/terminal.h"

#include <stdio.h>

enum { TAKES = TAKES_PLAN | TAKES_STANDARD | TAKES_JSON };

static int help(void) {
    printf(
        "usage: slotjig plan [--plan NAME|FILE] [options]\n\n"
        "Without --plan: the built-in plans. With it: the plan's steps and what their registers hold.\n\n");
    options_help(TAKES);
    return EXIT_PASS;
}

static int list(void) {
    for (const struct plan_builtin *plan = plan_builtins; plan->name != NULL; plan++) {
        printf("%-10s %s\n", plan->name, plan->about);
    }
    return EXIT_PASS;
}

static void show(const struct plan *plan) {
    double fields = standard_table[plan->standard].clock_hz / (LINE_CLOCKS * standard_lines(plan->standard));
    int watched = setup_watched_hold(plan->standard);
    printf("plan %s, %s: %zu steps; a round takes %.1f s on a watched screen, %.1f s on an unwatched one\n",
           plan->name, standard_table[plan->standard].name, plan->step_count,
           (double)plan->step_count * watched / fields, (double)plan->step_count * HOLD_UNWATCHED / fields);
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
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    if (options.plan == NULL && options.json == NULL) {
        return list();
    }
    if (!setup_plan(&options, options.standard, &plan, &problem)) {
        return command_refuse(&problem);
    }
    bool good = true;
    if (options.json != NULL) {
        good = json_write(json_pack("{s:s,s:s,s:o}", "plan", plan->name, "standard",
                                    standard_table[plan->standard].name, "steps", json_steps_expected(plan)),
                          options.json, &problem);
    } else {
        show(plan);
    }
    plan_free(plan);
    return good ? EXIT_PASS : command_refuse(&problem);
}
