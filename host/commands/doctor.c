#include "commands/commands.h"

#include "base/output.h"
#include "commands/bench_board.h"
#include "commands/board_report.h"
#include "commands/setup.h"
#include "commands/slot_report.h"
#include "report/json.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { TAKES = TAKES_BOARD | TAKES_CHOICE | TAKES_BENCH | TAKES_JSON };

static int help(void) {
    printf(
        "usage: slotjig doctor [--bench NAME | --board CHOICE | --serial DEV] [options]\n\n"
        "Looks, in this order, at the board, its firmware, the image it holds, and, through the slot, at the "
        "console's\n"
        "supply, its bus, its processor and its program. Stops blaming at the first that is wrong and says "
        "what to try,\n"
        "least invasive first. Nothing is pushed or changed. The console should be on. This version looks at "
        "no live video.\n\n"
        "Leave the console closed: what helps inside it belongs to its service manual and to those who are "
        "trained for it.\n\n");
    options_help(TAKES);
    printf("\n`slotjig run --help` lists the faults of the virtual bench.\n");
    printf("\nexit: 0 nothing wrong, 1 the console is at fault, 2 wrong usage, 3 board trouble, 4 cannot "
           "tell\n");
    return EXIT_PASS;
}

enum state { STATE_OK, STATE_FAULT, STATE_TROUBLE, STATE_UNKNOWN, STATE_SKIPPED };

static const struct {
    const char *name, *mark;
    int exit;
} states[] = {
    [STATE_OK] = {"ok", "ok", EXIT_PASS},
    [STATE_FAULT] = {"fault", "FAULT", EXIT_FAIL},
    [STATE_TROUBLE] = {"trouble", "TROUBLE", EXIT_BENCH},
    [STATE_UNKNOWN] = {"unknown", "?", EXIT_INCONCLUSIVE},
    [STATE_SKIPPED] = {"skipped", "-", EXIT_PASS},
};

struct check {
    enum state state;
    char text[420];
    char next[420]; /* empty: nothing to do */
};

/* What is known so far; each check adds to it. */
struct visit {
    const struct bench_settings *bench;
    struct bench_board board;
    struct link_status status;
    uint8_t bytes[WIRE_IMAGE_MAX];
    struct link_image image; /* what the board serves */
    struct slot_report slot;
};

static void say(struct check *check, enum state state, const char *text, const char *next) {
    check->state = state;
    snprintf(check->text, sizeof check->text, "%s", text);
    snprintf(check->next, sizeof check->next, "%s", next);
}

/* ---- the board ---- */

/* Problems read "what: why; what to do". */
static void say_problem(struct check *check, const struct problem *problem) {
    char text[sizeof problem->text];
    json_clean(problem->text, text, sizeof text);
    const char *advice = strrchr(text, ';');
    check->state = STATE_TROUBLE;
    snprintf(check->text, sizeof check->text, "%.*s",
             advice != NULL ? (int)(advice - text) : (int)sizeof check->text - 1, text);
    snprintf(check->next, sizeof check->next, "%s",
             advice != NULL ? advice + 1 + strspn(advice + 1, " ")
                            : "`slotjig boards` lists what is attached");
}

static void look_board(struct visit *visit, struct check *check) {
    const struct bench_board_options how = {0};
    struct problem problem = {0};
    if (visit->bench->board.way == BOARD_BY_COMMAND) {
        say(check, STATE_UNKNOWN, "this bench pushes by a program of yours, which cannot be asked",
            "ask by that program's own means whether its board is well");
    } else if (!bench_board_open(&visit->board, visit->bench, &how, &problem)) {
        say_problem(check, &problem);
    } else {
        board_text(&visit->board, check->text, sizeof check->text);
        check->state = STATE_OK;
    }
}

static void look_firmware(struct visit *visit, struct check *check) {
    const struct link_facts *facts = link_facts(visit->board.link);
    const bool watches = (facts->capabilities & WIRE_CAN_WATCH) != 0;
    snprintf(check->text, sizeof check->text, "%d.%d, wire version %d, images up to %zu KiB%s%s",
             facts->firmware_major, facts->firmware_minor, facts->version, facts->image_max / 1024,
             (facts->capabilities & WIRE_CAN_SELECT) != 0 ? ", holds steps" : "",
             watches ? ", watches the slot" : ", does not watch the slot");
    check->state = watches ? STATE_OK : STATE_UNKNOWN;
    snprintf(check->next, sizeof check->next, "%s",
             watches ? ""
                     : "load a firmware that watches the slot (`make firmware`, then the board's loader)");
}

/* The idle picture is known here; any other image is read from the board. */
static bool read_image(struct visit *visit, struct problem *problem) {
    const struct link_status *status = &visit->status;
    visit->image = (struct link_image){.bytes = visit->bytes,
                                       .size = status->size,
                                       .scheme = status->scheme,
                                       .flags = status->size > 0 ? status->flags : WIRE_IMAGE_MAILBOX};
    if (status->size > 0) {
        return link_read(visit->board.link, 0, visit->bytes, status->size, problem);
    }
    struct image *idle = NULL;
    if (!rom_build_idle(&idle, problem)) {
        return false;
    }
    visit->image.size = idle->size;
    memcpy(visit->bytes, idle->bytes, idle->size);
    rom_free(idle);
    return true;
}

static void look_image(struct visit *visit, struct check *check) {
    static const char *const starts[] = {[WIRE_START_POWER] = "served since the board was switched on",
                                         [WIRE_START_HANDED] = "taken over by the console",
                                         [WIRE_START_FORCED] = "put in without the console's help"};
    struct problem problem = {0};
    const struct link_status *status = &visit->status;
    if (!link_status(visit->board.link, &visit->status, &problem) || !read_image(visit, &problem)) {
        say_problem(check, &problem);
    } else if (status->size == 0) {
        say(check, STATE_OK, "none stored; the idle picture is served", "");
    } else {
        check->state = STATE_OK;
        char held[80] = "";
        if (status->select == WIRE_HOLD_STEP) {
            snprintf(held, sizeof held, "; step %d is held (`slotjig push --free` lets the plan step on)",
                     status->step);
        }
        snprintf(check->text, sizeof check->text, "%zu bytes, %s, CRC %08X, %s%s", status->size,
                 link_scheme_name(status->scheme), status->crc, starts[status->start], held);
    }
}

/* ---- the slot ---- */

static void look_supply(struct visit *visit, struct check *check) {
    slot_look(&visit->board, &visit->image, SLOT_VIDEO_UNKNOWN, &visit->slot);
    if (!visit->slot.asked) {
        say(check, STATE_TROUBLE, "the board does not say what it sees in the slot",
            "unplug the board, plug it in again and repeat");
        return;
    }
    say(check, STATE_OK, "the console's +5 V is there", "");
}

static void look_bus(struct visit *visit, struct check *check) {
    check->state = STATE_OK;
    snprintf(check->text, sizeof check->text, "%u address changes in the last second",
             visit->slot.watch.cycles);
}

static void look_processor(struct visit *visit, struct check *check) {
    const struct link_watch *watch = &visit->slot.watch;
    check->state = STATE_OK;
    snprintf(check->text, sizeof check->text,
             "runs; the reset vector was fetched %u times in the last second", watch->resets);
}

static void look_program(struct visit *visit, struct check *check) {
    const struct link_watch *watch = &visit->slot.watch;
    check->state = STATE_OK;
    snprintf(check->text, sizeof check->text,
             "%u writes to VSYNC and %u reads of the mailbox in the last second", watch->vsyncs,
             watch->mailbox);
}

static void look_video(struct visit *visit, struct check *check) {
    (void)visit;
    say(check, STATE_SKIPPED, "this version looks at no live video", "");
}

static const struct {
    const char *name;
    enum slot_part part;
    void (*look)(struct visit *visit, struct check *check);
} checks[] = {
    {"board", SLOT_NO_PART, look_board},
    {"firmware", SLOT_NO_PART, look_firmware},
    {"image", SLOT_NO_PART, look_image},
    {"supply", SLOT_SUPPLY, look_supply},
    {"bus", SLOT_BUS, look_bus},
    {"processor", SLOT_PROCESSOR, look_processor},
    {"program", SLOT_PROGRAM, look_program},
    {"video", SLOT_NO_PART, look_video},
};
enum { CHECKS = sizeof checks / sizeof checks[0] };

/* The slot's findings are one cause, or several that could be it: the first counts, at the part it is about.
 */
static void blame(const struct slot_report *slot, enum slot_part part, struct check *check) {
    const struct finding *first = &slot->findings[0];
    if (check->state != STATE_OK || slot->count == 0 || slot_part_of(first->kind) != part) {
        return;
    }
    /* Without a supply the console may just be off. */
    check->state = part == SLOT_SUPPLY ? STATE_UNKNOWN : STATE_FAULT;
    snprintf(check->text, sizeof check->text, "%s", first->text);
    snprintf(check->next, sizeof check->next, "%s", first->next);
}

static int examine(struct visit *visit, struct check results[CHECKS]) {
    int status = EXIT_PASS;
    for (int i = 0; i < CHECKS; i++) {
        if (status != EXIT_PASS && checks[i].look != look_video) {
            say(&results[i], STATE_SKIPPED, "not looked at", "");
            continue;
        }
        checks[i].look(visit, &results[i]);
        if (checks[i].part != SLOT_NO_PART) {
            blame(&visit->slot, checks[i].part, &results[i]);
        }
        status = status == EXIT_PASS ? states[results[i].state].exit : status;
    }
    return status;
}

/* ---- telling ---- */

static const char *summary(int status) {
    switch (status) {
    case EXIT_PASS:
        return "nothing wrong up to the console's program";
    case EXIT_FAIL:
        return "the console is at fault, or its contact with the board";
    case EXIT_BENCH:
        return "the board is in trouble, so nothing can be said of the console";
    default:
        return "cannot tell";
    }
}

/* Other causes that would give the same numbers. */
static void print_others(FILE *stream, const struct slot_report *slot) {
    for (size_t i = 1; i < slot->count; i++) {
        fprintf(stream, "           %-10s or %s\n           %-10s    next: %s\n", "", slot->findings[i].text,
                "", slot->findings[i].next);
    }
}

static void print(FILE *stream, const struct visit *visit, const struct check results[CHECKS], int status) {
    fprintf(stream, "bench %s: %s\n", visit->bench->name, summary(status));
    for (int i = 0; i < CHECKS; i++) {
        fprintf(stream, "  %-8s %-10s %s\n", states[results[i].state].mark, checks[i].name, results[i].text);
        if (results[i].next[0] != '\0') {
            fprintf(stream, "           %-10s next: %s\n", "", results[i].next);
        }
        if (checks[i].part != SLOT_NO_PART && results[i].next[0] != '\0') {
            print_others(stream, &visit->slot);
        }
    }
}

static json_t *visit_json(const struct visit *visit, const struct check results[CHECKS], int status) {
    json_t *list = json_array();
    for (int i = 0; i < CHECKS; i++) {
        json_array_append_new(list, json_pack("{s:s,s:s,s:s,s:s}", "check", checks[i].name, "state",
                                              states[results[i].state].name, "text", results[i].text, "next",
                                              results[i].next));
    }
    return json_pack("{s:s,s:s,s:i,s:s,s:o,s:o,s:o,s:o}", "command", "doctor", "bench", visit->bench->name,
                     "exit", status, "summary", summary(status), "checks", list, "findings",
                     json_findings(visit->slot.findings, visit->slot.count), "board",
                     visit->board.link != NULL ? board_json(&visit->board) : json_null(), "slot",
                     slot_report_json(&visit->slot));
}

static int visit_bench(struct visit *visit, const struct options *options) {
    struct check results[CHECKS] = {0};
    struct problem problem = {0};
    const bool json_takes_stdout = options->json != NULL && strcmp(options->json, "-") == 0;
    int status = examine(visit, results);
    if (!options->quiet) {
        print(json_takes_stdout ? stderr : stdout, visit, results, status);
    }
    if (options->json != NULL && !json_write(visit_json(visit, results, status), options->json, &problem)) {
        status = command_refuse(&problem);
    }
    bench_board_close(&visit->board);
    return status;
}

int command_doctor(int argc, char **argv) {
    struct options options;
    struct bench_settings bench;
    static struct visit visit;
    struct problem problem = {0};
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    if (!output_ready(options.json, &problem) || !setup_bench(&bench, &options, &problem)) {
        return command_refuse(&problem);
    }
    visit = (struct visit){.bench = &bench, .board = {.settings = &bench}};
    return visit_bench(&visit, &options);
}
