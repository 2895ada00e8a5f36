#include "commands/commands.h"

#include "base/output.h"
#include "commands/flashing.h"
#include "commands/setup.h"
#include "plan/drawing.h"
#include "report/terminal.h"
#include "rom/export.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    TAKES = TAKES_PLAN | TAKES_STANDARD | TAKES_HOLD | TAKES_FLASHING | TAKES_OUTPUT | TAKES_LISTING |
            TAKES_EXPORT
};

static int help(void) {
    printf("usage: slotjig rom [--plan NAME|FILE] [options] -o FILE\n\n"
           "Compiles a plan to the bytes a cartridge serves. It shows each step for --hold fields, round and "
           "round.\n"
           "Without --screen none it takes for granted that somebody watches, and keeps below the limits of\n"
           "flashing (`slotjig plan --flashes` tells them). Beyond them only with --agreed-to-flashing: then "
           "the picture\n"
           "stays dark for three seconds first, so that anybody whom flashing disturbs can look away.\n\n");
    options_help(TAKES);
    return EXIT_PASS;
}

static int make_image(const struct options *options, const struct plan *plan, const struct rom_options *rom,
                      struct problem *problem) {
    struct image *image = NULL;
    if (!rom_build(plan, rom, &image, problem)) {
        return command_refuse(problem);
    }
    bool good =
        (options->output == NULL || output_write(options->output, image->bytes, image->size, problem)) &&
        (options->listing == NULL ||
         output_write(options->listing, image->listing, strlen(image->listing), problem));
    if (good && !options->quiet) {
        char pace[PACE_MAX], work[96] = "";
        const struct rom_account *account = &image->account;
        if (plan->kind == PLAN_CARTRIDGE) {
            snprintf(work, sizeof work, "; at most %d of the %d cycles that a field has for its work",
                     account->work, account->window);
        }
        fprintf(stderr,
                "%s: %zu bytes (%d code, %d tables), hash %04x; %d lines a frame on every path, fullest line "
                "%d of 76 cycles "
                "(%s)%s; %d bytes of RAM, %d of stack; %s\n",
                options->output == NULL ? plan->name : options->output, image->size, account->code_bytes,
                account->table_bytes, image->hash, account->frame_lines, account->line_cycles,
                account->line_where, work, account->ram_bytes, account->stack_bytes,
                terminal_pace(plan, rom->hold, pace));
    }
    rom_free(image);
    return good ? EXIT_PASS : command_refuse(problem);
}

/* A drawing for the user's own program. */
static bool export_drawing(const struct options *options, const struct plan *plan, struct problem *problem) {
    int first = 0, lines = 0;
    char *text = NULL;
    const bool good = drawing_lines(options->drawing, options->standard, &first, &lines, problem) &&
                      export_text(plan, first, lines, &text, problem) &&
                      output_write(options->export_to, text, strlen(text), problem);
    free(text);
    return good;
}

int command_rom(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    struct plan *plan = NULL;
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    if (options.output == NULL && options.listing == NULL && options.export_to == NULL) {
        problem_set(&problem, PROBLEM_INPUT,
                    "rom: say what to write: -o FILE, --listing FILE, or --export FILE");
        return command_refuse(&problem);
    }
    if (options.export_to != NULL && options.drawing == NULL) {
        problem_set(&problem, PROBLEM_INPUT,
                    "--export: only a drawing has tables and a loop; say --plan drawing FILE");
        return command_refuse(&problem);
    }
    if (options.output != NULL && options.listing != NULL && strcmp(options.output, options.listing) == 0) {
        problem_set(&problem, PROBLEM_INPUT, "%s: image and listing need a file each", options.output);
        return command_refuse(&problem);
    }
    const bool watched = options.screen == NULL || strcmp(options.screen, "watched") == 0;
    struct rom_options rom = {.size = options.size};
    struct flashing flashing;
    int status = EXIT_INPUT;
    if (!setup_plan(&options, options.standard, &plan, &problem) ||
        !setup_hold(plan, watched, &options, &rom.hold, &problem) ||
        !flashing_allowed(plan, rom.hold, watched, &options, &flashing, &problem)) {
        status = command_refuse(&problem);
    } else {
        rom.dark = flashing.dark;
        flashing_tell(&flashing);
        const bool image = options.output != NULL || options.listing != NULL;
        status = image ? make_image(&options, plan, &rom, &problem) : EXIT_PASS;
    }
    if (status == EXIT_PASS && options.export_to != NULL && !export_drawing(&options, plan, &problem)) {
        status = command_refuse(&problem);
    }
    if (plan != NULL) {
        plan_free(plan);
    }
    return status;
}
