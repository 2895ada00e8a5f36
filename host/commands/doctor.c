#include "commands/doctor.h"

#include "base/output.h"
#include "base/stop.h"
#include "commands/board_report.h"
#include "commands/commands.h"
#include "commands/setup.h"
#include "commands/slot_report.h"
#include "report/json.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum {
    TAKES = TAKES_BOARD | TAKES_CHOICE | TAKES_BENCH | TAKES_STANDARD | TAKES_JSON | TAKES_VIDEO |
            TAKES_LIVE | TAKES_WRITE
};

static int help(void) {
    printf(
        "usage: slotjig doctor [--bench NAME | --board CHOICE | --serial DEV] [--video WHERE] [options]\n\n"
        "Looks, in this order, at the board, its firmware, the image it holds, and, through the slot, at the "
        "console's\n"
        "supply, its bus, its processor and its program; then at the bench's video: device, standard, "
        "signal, "
        "slate, raster,\n"
        "margin, fields a second. Stops blaming at the first that is wrong and says what to try, least "
        "invasive first.\n"
        "Nothing is pushed or changed. The console should be on.\n\n"
        "With --write it looks for the video by itself (or takes --video), tries the device's inputs and the "
        "standards, and\n"
        "leaves what works as a section of the benches file, whose other lines stay as they are.\n\n"
        "Leave the console closed: what helps inside it belongs to its service manual and to those who are "
        "trained for it.\n\n");
    options_help(TAKES);
    printf("\n`slotjig run --help` lists the faults of the virtual bench.\n");
    printf("\nexit: 0 nothing wrong, 1 the console is at fault, 2 wrong usage, 3 board or video device in "
           "trouble, 4 cannot tell\n");
    return EXIT_PASS;
}

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

/* What is known so far; each check adds to it. */
struct visit {
    const struct options *options;
    struct bench_settings bench; /* --write changes it to what was found */
    struct bench_board board;
    struct link_status status;
    uint8_t bytes[WIRE_IMAGE_MAX];
    struct link_image image; /* what the board serves */
    struct slot_report slot;
    bool has_look, found; /* found: something to write of */
    struct video_look look;
    bool wrote;
    char told[700]; /* what was written */
};

void check_say(struct check *check, enum check_state state, const char *text, const char *next) {
    check->state = state;
    snprintf(check->text, sizeof check->text, "%s", text);
    snprintf(check->next, sizeof check->next, "%s", next);
}

/* ---- the board ---- */

void check_problem(struct check *check, const struct problem *problem) {
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
    if (visit->bench.board.way == BOARD_NONE) {
        check_say(check, STATE_SKIPPED, "none; the image is put in by hand", "");
    } else if (visit->bench.board.way == BOARD_BY_COMMAND) {
        check_say(check, STATE_UNKNOWN, "this bench pushes by a program of yours, which cannot be asked",
                  "ask by that program's own means whether its board is well");
    } else if (!bench_board_open(&visit->board, &visit->bench, &how, &problem)) {
        check_problem(check, &problem);
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
        check_problem(check, &problem);
    } else if (status->size == 0) {
        check_say(check, STATE_OK, "none stored; the idle picture is served", "");
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
        check_say(check, STATE_TROUBLE, "the board does not say what it sees in the slot",
                  "unplug the board, plug it in again and repeat");
        return;
    }
    check_say(check, STATE_OK, "the console's +5 V is there", "");
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

static const struct {
    const char *name;
    enum slot_part part;
    void (*look)(struct visit *visit, struct check *check);
} board_checks[] = {
    {"board", SLOT_NO_PART, look_board},
    {"firmware", SLOT_NO_PART, look_firmware},
    {"image", SLOT_NO_PART, look_image},
    {"supply", SLOT_SUPPLY, look_supply},
    {"bus", SLOT_BUS, look_bus},
    {"processor", SLOT_PROCESSOR, look_processor},
    {"program", SLOT_PROGRAM, look_program},
};
enum { BOARD_CHECKS = sizeof board_checks / sizeof board_checks[0], CHECKS = BOARD_CHECKS + VIDEO_CHECKS };

static const char *check_name(int index) {
    return index < BOARD_CHECKS ? board_checks[index].name : doctor_video_names[index - BOARD_CHECKS];
}

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

static int examine_board(struct visit *visit, struct check results[BOARD_CHECKS]) {
    int status = EXIT_PASS;
    for (int i = 0; i < BOARD_CHECKS; i++) {
        if (status != EXIT_PASS || (i > 0 && visit->bench.board.way == BOARD_NONE)) {
            check_say(&results[i], STATE_SKIPPED, "not looked at", "");
            continue;
        }
        board_checks[i].look(visit, &results[i]);
        if (board_checks[i].part != SLOT_NO_PART) {
            blame(&visit->slot, board_checks[i].part, &results[i]);
        }
        status = states[results[i].state].exit;
    }
    return status;
}

/* ---- the video ---- */

static void look_at_video(struct visit *visit) {
    const struct options *options = visit->options;
    const struct bench_settings *bench = &visit->bench;
    const double seconds = options->seconds > 0 ? options->seconds : LOOK_SECONDS;
    struct video_source source;
    struct problem problem;
    if (options->write) {
        visit->found = doctor_search(&visit->bench, options, &visit->look);
        visit->has_look = true;
    } else if (bench->kind == BENCH_BOARD && bench->video.where[0] != '\0') {
        const struct video_request request = bench_request(bench);
        video_look_at(&request, seconds, &visit->look);
        visit->has_look = true;
    } else if (visit->board.stand != NULL && setup_open_video(bench, &visit->board, &source, &problem)) {
        video_look(&source, bench->options.standard, seconds, false, &visit->look);
        visit->has_look = true;
    }
}

static int examine(struct visit *visit, struct check results[CHECKS]) {
    int status = examine_board(visit, results);
    look_at_video(visit);
    doctor_video(&visit->bench, visit->has_look ? &visit->look : NULL, results + BOARD_CHECKS);
    for (int i = BOARD_CHECKS; i < CHECKS; i++) {
        status = status == EXIT_PASS ? states[results[i].state].exit : status;
    }
    return status;
}

/* ---- telling ---- */

/* By the first check that is not well. */
static const char *summary(const struct check results[CHECKS], int status) {
    int first = 0;
    while (first < CHECKS && states[results[first].state].exit == EXIT_PASS) {
        first++;
    }
    switch (status) {
    case EXIT_PASS:
        return results[CHECKS - 1].state != STATE_OK ? "nothing wrong up to the console's program"
               : results[0].state != STATE_OK        ? "nothing wrong with the picture"
                                                     : "nothing wrong, up to the picture";
    case EXIT_FAIL:
        return "the console is at fault, or its contact with the board";
    case EXIT_BENCH:
        return first < BOARD_CHECKS ? "the board is in trouble, so nothing can be said of the console"
                                    : "the video device is in trouble, so nothing can be said of the picture";
    default:
        return first < BOARD_CHECKS ? "cannot tell" : "the picture cannot be judged as it is";
    }
}

/* Other causes that would give the same numbers. */
static void print_others(FILE *stream, const struct slot_report *slot) {
    for (size_t i = 1; i < slot->count; i++) {
        fprintf(stream, "           %-10s or %s\n           %-10s    next: %s\n", "", slot->findings[i].text,
                "", slot->findings[i].next);
    }
}

/* They spoil no check by themselves. */
static size_t troubles_of(const struct visit *visit, struct finding list[TROUBLES_MAX]) {
    const struct video_look *look = &visit->look;
    return visit->has_look && look->opened ? capture_troubles(&look->facts, &look->counts, list) : 0;
}

static void print_troubles(FILE *stream, const struct visit *visit) {
    struct finding list[TROUBLES_MAX];
    const size_t count = troubles_of(visit, list);
    for (size_t i = 0; i < count; i++) {
        fprintf(stream, "  capture: %s: %s\n           %-10s next: %s\n", finding_name(list[i].kind),
                list[i].text, "", list[i].next);
    }
}

static void print(FILE *stream, const struct visit *visit, const struct check results[CHECKS], int status) {
    fprintf(stream, "bench %s: %s\n", visit->bench.name, summary(results, status));
    for (int i = 0; i < CHECKS; i++) {
        fprintf(stream, "  %-8s %-10s %s\n", states[results[i].state].mark, check_name(i), results[i].text);
        if (results[i].next[0] != '\0') {
            fprintf(stream, "           %-10s next: %s\n", "", results[i].next);
        }
        if (i < BOARD_CHECKS && board_checks[i].part != SLOT_NO_PART && results[i].next[0] != '\0') {
            print_others(stream, &visit->slot);
        }
    }
    print_troubles(stream, visit);
    if (visit->wrote) {
        fprintf(stream, "written to %s\n", visit->told);
    }
}

static json_t *visit_json(const struct visit *visit, const struct check results[CHECKS], int status) {
    json_t *list = json_array();
    for (int i = 0; i < CHECKS; i++) {
        json_array_append_new(list, json_pack("{s:s,s:s,s:s,s:s}", "check", check_name(i), "state",
                                              states[results[i].state].name, "text", results[i].text, "next",
                                              results[i].next));
    }
    const struct video_look *look = &visit->look;
    struct finding troubles[TROUBLES_MAX];
    const size_t trouble_count = troubles_of(visit, troubles);
    const struct report_capture capture = {.about = visit->has_look && look->opened ? &look->about : NULL,
                                           .counts = &look->counts,
                                           .facts = &look->facts};
    return json_pack("{s:s,s:s,s:i,s:s,s:o,s:o,s:o,s:o,s:o,s:o}", "command", "doctor", "bench",
                     visit->bench.name, "exit", status, "summary", summary(results, status), "checks", list,
                     "findings", json_findings(visit->slot.findings, visit->slot.count), "board",
                     visit->board.link != NULL ? board_json(&visit->board) : json_null(), "slot",
                     slot_report_json(&visit->slot), "capture",
                     json_capture(&capture, troubles, trouble_count), "written",
                     visit->wrote ? json_string(visit->told) : json_null());
}

/* Only what was seen to work: a device with a signal. */
static bool write_section(struct visit *visit, struct problem *problem) {
    if (!visit->found) {
        return problem_set(problem, PROBLEM_VIDEO,
                           "nothing was written: no video with a signal was found; switch the console on, or "
                           "name the device with --video");
    }
    visit->wrote = doctor_write(&visit->bench, &visit->board, visit->options->benches, visit->told,
                                sizeof visit->told, problem);
    return visit->wrote;
}

static int visit_bench(struct visit *visit) {
    const struct options *options = visit->options;
    struct check results[CHECKS] = {0};
    struct problem problem = {0}, unwritten = {0};
    stop_catch(); /* a look is cut short, and what was seen is told */
    int status = examine(visit, results);
    stop_release();
    const bool written = !options->write || write_section(visit, &unwritten);
    if (!options->quiet) {
        print(options_people(options), visit, results, status);
    }
    if (options->json != NULL && !json_write(visit_json(visit, results, status), options->json, &problem)) {
        status = command_refuse(&problem);
    }
    if (!written) {
        const int refused = command_refuse(&unwritten);
        status = status == EXIT_PASS ? refused : status;
    }
    bench_board_close(&visit->board);
    return status;
}

int command_doctor(int argc, char **argv) {
    struct options options;
    static struct visit visit;
    struct problem problem = {0};
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    visit = (struct visit){.options = &options, .board = {.settings = &visit.bench}};
    if (!output_ready(options.json, &problem) || !doctor_bench(&visit.bench, &options, &problem)) {
        return command_refuse(&problem);
    }
    return visit_bench(&visit);
}
