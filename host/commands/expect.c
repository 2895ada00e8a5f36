#include "commands/commands.h"

#include "commands/setup.h"
#include "report/json.h"
#include "report/pictures.h"
#include "report/terminal.h"

#include <stdio.h>
#include <string.h>

enum { TAKES = TAKES_PLAN | TAKES_STANDARD | TAKES_JSON | TAKES_PNG | TAKES_CELLS | TAKES_OPERANDS };

static int help(void) {
    printf("usage: slotjig expect [--plan NAME|FILE] [options]\n"
           "       slotjig expect PF0=$F0 PF1=%%10101010 PF2=0 [CTRLPF=1] [options]\n"
           "       slotjig expect --cells ####.... [--mode copy|mirror] [options]\n\n"
           "Which cells must light, out of the handbook's serial output table: for a plan, for registers, or "
           "the other\n"
           "way round. (In a shell, quote the $.) CTRLPF D0 is the mode: 0 copy, 1 mirror.\n\n");
    options_help(TAKES);
    return EXIT_PASS;
}

static bool parse_register(const char *text, uint8_t held[REG_COUNT], struct problem *problem) {
    const char *equals = strchr(text, '=');
    char name[16] = {0};
    enum reg reg;
    if (equals == NULL || equals == text || (size_t)(equals - text) >= sizeof name) {
        return problem_set(problem, PROBLEM_INPUT, "%s: give registers as PF0=$F0", text);
    }
    memcpy(name, text, (size_t)(equals - text));
    if (!reg_from_name(name, &reg) || reg > REG_PF2) {
        return problem_set(problem, PROBLEM_INPUT, "%s: the registers are PF0, PF1, PF2 and CTRLPF", text);
    }
    if (!parse_byte(equals + 1, &held[reg])) {
        return problem_set(problem, PROBLEM_INPUT, "%s: give a byte as $F0, %%11110000 or 0 to 255", text);
    }
    return true;
}

static bool plan_of_registers(const struct options *options, struct plan *plan, struct problem *problem) {
    uint8_t held[REG_COUNT] = {0};
    for (int i = 0; i < options->operand_count; i++) {
        if (!parse_register(options->operands[i], held, problem)) {
            return false;
        }
    }
    return plan_add_hold(plan, "registers", held[REG_CTRLPF], held[REG_PF0], held[REG_PF1], held[REG_PF2],
                         problem);
}

static bool plan_of_cells(const struct options *options, struct plan *plan, struct problem *problem) {
    uint8_t cells[CELLS];
    struct solved solved;
    int count = 0;
    if (!cells_parse(options->cells, cells, &count, problem)) {
        return false;
    }
    bool mirror = options->mode != NULL && strcmp(options->mode, "mirror") == 0;
    return expect_solve(cells, count, mirror, &solved, problem) &&
           plan_add_hold(plan, "cells", solved.mirror ? CTRLPF_REFLECT : 0, solved.pf0, solved.pf1,
                         solved.pf2, problem);
}

static bool make_plan(const struct options *options, struct plan **plan, struct problem *problem) {
    if (options->cells != NULL && (options->operand_count > 0 || options->plan != NULL)) {
        return problem_set(problem, PROBLEM_INPUT, "expect: give a plan, registers or --cells, one of them");
    }
    if (options->cells == NULL && options->operand_count == 0) {
        return setup_plan(options, options->standard, plan, problem) &&
               (!plan_counts(*plan) || setup_has_steps(*plan, "expect", problem));
    }
    if (options->plan != NULL) {
        return problem_set(problem, PROBLEM_INPUT, "expect: give a plan, registers or --cells, one of them");
    }
    *plan = plan_new("command line", options->standard);
    if (*plan == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory");
    }
    return options->cells != NULL ? plan_of_cells(options, *plan, problem)
                                  : plan_of_registers(options, *plan, problem);
}

static void print_step(const struct plan *plan, size_t index) {
    const struct step *step = &plan->steps[index];
    struct expectation expectation;
    uint8_t held[REG_COUNT];
    char text[CELLS + 2];
    int line = 0;
    expect_step(step, standard_plan_lines(plan->standard), &expectation);
    step_registers(step, held);
    for (size_t i = 0; i < step->band_count; i++) {
        terminal_cells(expectation.lit[line], ~expectation.sure[line] & CELLS_ALL, text);
        if (i == 0) {
            printf("%s  PF0 $%02X PF1 $%02X PF2 $%02X CTRLPF $%02X  %s\n", text, held[REG_PF0], held[REG_PF1],
                   held[REG_PF2], held[REG_CTRLPF], step->name);
        } else {
            printf("%s  from line %d\n", text, line);
        }
        line += step->bands[i].lines;
    }
}

static bool write_all(const struct options *options, const struct plan *plan, struct problem *problem) {
    if (options->json == NULL && options->png == NULL && !options->quiet) {
        for (size_t i = 0; i < plan->step_count; i++) {
            print_step(plan, i);
        }
    }
    json_t *json = options->json == NULL
                       ? NULL
                       : json_pack("{s:s,s:s,s:o}", "plan", plan->name, "standard",
                                   standard_table[plan->standard].name, "steps", json_steps_expected(plan));
    return (options->json == NULL || json_write(json, options->json, problem)) &&
           (options->png == NULL || picture_expected(options->png, plan, problem));
}

int command_expect(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    struct plan *plan = NULL;
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    bool good = make_plan(&options, &plan, &problem) && plan != NULL && write_all(&options, plan, &problem);
    if (plan != NULL) {
        plan_free(plan);
    }
    return good ? EXIT_PASS : command_refuse(&problem);
}
