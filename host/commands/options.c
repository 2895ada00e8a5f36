#include "commands/options.h"

#include "commands/benches.h"
#include "plan/every.h"
#include "plan/plan_file.h"
#include "rom/rom.h"

#include <errno.h>
#include <getopt.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    THREADS_MAX = 64,
    SECONDS_MAX = 10000000,
    REPEATS_MAX = 10000,
    RETRIES_MAX = 100,
    MINUTES_MAX = 100000,
    ROUNDS_MAX = 1000000
};

/* One row an option: the codes are this table's own, from 256 on, so that getopt's letters stay free. */
enum code {
    CODE_PLAN = 256,
    CODE_BENCH,
    CODE_BENCHES,
    CODE_SEED,
    CODE_FAULT,
    CODE_NOISE,
    CODE_STANDARD,
    CODE_HOLD,
    CODE_SCREEN,
    CODE_JSON,
    CODE_OUT,
    CODE_LISTING,
    CODE_SIZE,
    CODE_PNG,
    CODE_CELLS,
    CODE_MODE,
    CODE_BY_EYE,
    CODE_FIELDS,
    CODE_BOARD,
    CODE_SERIAL,
    CODE_BAUD,
    CODE_SCHEME,
    CODE_RAM,
    CODE_STEP,
    CODE_FREE,
    CODE_LOADER,
    CODE_WHOLE,
    CODE_NO_READ_BACK,
    CODE_GRABBER,
    CODE_IMPAIR,
    CODE_INPUT,
    CODE_WAIT,
    CODE_THREADS,
    CODE_VIDEO,
    CODE_SECONDS,
    CODE_WRITE,
    CODE_PORT,
    CODE_AGREED,
    CODE_LOOP,
    CODE_NO_PUSH,
    CODE_CALM,
    CODE_AGAINST,
    CODE_WINDOWS,
    CODE_LINES,
    CODE_EXPORT,
    CODE_FLASHES,
    CODE_STORE,
    CODE_NO_RECORD,
    CODE_CONSOLE,
    CODE_STATION,
    CODE_CARTRIDGE,
    CODE_ON_FOR,
    CODE_REVISION,
    CODE_OF_BENCH,
    CODE_OF_PLAN,
    CODE_SINCE,
    CODE_UNTIL,
    CODE_LAST,
    CODE_HTML,
    CODE_JUNIT,
    CODE_JSONL,
    CODE_CSV,
    CODE_PLANS,
    CODE_BENCH_NAMES,
    CODE_REPEATS,
    CODE_RETRIES,
    CODE_PATIENCE,
    CODE_ROBOT,
    CODE_ANEW,
    CODE_RUN,
    CODE_SWEEP,
    CODE_CLEAR,
    CODE_GROUP,
    CODE_SHIP_SERIAL,
    CODE_LIMITS,
    CODE_LOT,
    CODE_READER,
    CODE_AGAIN,
    CODE_LIST,
    CODE_ROUNDS,
    CODE_ITEM,
    CODE_FOR,
    CODE_IMAGE,
    CODE_PASSES,
    CODE_BYTES_ONLY,
    CODE_QUIET,
    CODE_HELP,
    CODE_OUTPUT = 'o'
};

static const struct {
    enum code code;
    uint64_t takes; /* 0: every command */
    const char *name, *value, *about;
} table[] = {
    {CODE_PLAN, TAKES_PLAN, "plan", "NAME|FILE", "a built-in plan or a plan file (default bits)"},
    {CODE_PLAN, TAKES_READER, "plan", "cartridge",
     "what should be on the cartridge: what `slotjig rom --plan cartridge` makes of the same words"},
    {CODE_BENCH, TAKES_VIRTUAL, "bench", "NAME", "the bench (default virtual)"},
    {CODE_BENCH, TAKES_BOARD, "bench", "NAME", "the bench whose board it is (default: the board on USB)"},
    {CODE_BENCH, TAKES_READER, "bench", "NAME",
     "the reader's bench, or virtual (default: the reader on USB)"},
    {CODE_BENCHES, TAKES_READER | TAKES_VIRTUAL | TAKES_BOARD | TAKES_BENCHES, "benches", "FILE",
     "benches file instead of the one in the configuration folder"},
    {CODE_BOARD, TAKES_CHOICE, "board", "CHOICE",
     "usb, a board's serial, its port path (1-2.3) or its device (/dev/ttyACM0)"},
    {CODE_BOARD, TAKES_READER, "board", "CHOICE",
     "the reader: usb, its serial, its port path (1-2.3) or its device (/dev/ttyACM0)"},
    {CODE_SERIAL, TAKES_CHOICE, "serial", "DEV", "the board on this serial device"},
    {CODE_SERIAL, TAKES_READER, "serial", "DEV", "the reader on this serial device"},
    {CODE_BAUD, TAKES_CHOICE | TAKES_READER, "baud", "N", "speed of the serial device (default 115200)"},
    {CODE_STANDARD, TAKES_STANDARD, "standard", "ntsc|pal|secam",
     "the console's television standard (default ntsc, or what the plan file says)"},
    {CODE_STANDARD, TAKES_READER, "standard", "ntsc|pal|secam",
     "of plan cartridge: the standard that its image is made for (default ntsc)"},
    {CODE_SEED, TAKES_READER, "seed", "N", "seed of all that is random on the virtual reader"},
    {CODE_FAULT, TAKES_READER, "fault", "TEXT",
     "break the virtual reader's cartridge: cart-... as `slotjig run --help` lists them; may be given more "
     "than "
     "once"},
    {CODE_SEED, TAKES_BENCH, "seed", "N", "seed of all that is random on the virtual bench"},
    {CODE_FAULT, TAKES_BENCH, "fault", "TEXT",
     "break something on the virtual bench; may be given more than once"},
    {CODE_GRABBER, TAKES_BENCH, "grabber", "SET", "what kind of grabber the virtual bench has"},
    {CODE_IMPAIR, TAKES_BENCH, "impair", "TEXT",
     "impair what the virtual grabber gives; may be given more than once"},
    {CODE_NOISE, TAKES_BENCH, "noise", "DB", "noise of the virtual grabber: black-to-white over rms, in dB"},
    {CODE_VIDEO, TAKES_VIDEO | TAKES_WATCH, "video", "WHERE",
     "look at this video: v4l2:/dev/video0, KIND:NAME, file:PATH"},
    {CODE_SECONDS, TAKES_VIDEO, "seconds", "N", "how long the video is looked at (default 3)"},
    {CODE_INPUT, TAKES_LIVE, "input", "NAME|N", "which input of the video device"},
    {CODE_WAIT, TAKES_LIVE, "wait", "SECONDS",
     "how long a video device that went away is waited for (default 30; watch: to the end)"},
    {CODE_THREADS, TAKES_THREADS, "threads", "N",
     "threads beside the judge's (default: as many as help; 1: none)"},
    {CODE_WRITE, TAKES_WRITE, "write", NULL,
     "leave what works as a section of the benches file: of the bench named, or a new one"},
    {CODE_HOLD, TAKES_HOLD, "hold", "FIELDS", "fields each step is shown"},
    {CODE_HOLD, TAKES_READER, "hold", "FIELDS", "of plan cartridge: as its image was made (default 1)"},
    {CODE_SCREEN, TAKES_HOLD, "screen", "watched|none", "watched keeps below the limits of flashing"},
    {CODE_JSON, TAKES_JSON | TAKES_READER, "json", "FILE", "the result as JSON (- is standard output)"},
    {CODE_OUT, TAKES_OUT, "out", "DIR", "folder for page, pictures, failing fields, image and result"},
    {CODE_OUT, TAKES_READER, "out", "DIR", "folder for reader.txt, reader.csv and reader.svg"},
    {CODE_OUT, TAKES_SWEEP, "out", "DIR", "folder for report.html, junit.xml, runs.jsonl and steps.csv"},
    {CODE_OUT, TAKES_GROUPS, "out", "DIR", "of two results: folder for difference.txt, .csv and .svg"},
    {CODE_IMAGE, TAKES_READER, "image", "FILE", "what should be on the cartridge"},
    {CODE_PASSES, TAKES_READER, "passes", "N",
     "read every byte so often (default 2); many find a contact that comes and goes"},
    {CODE_BYTES_ONLY, TAKES_READER, "bytes-only", NULL, "read and compare, and measure nothing else"},
    {CODE_OUTPUT, TAKES_READER, "output", "FILE", "write what was read (-o FILE)"},
    {CODE_OUTPUT, TAKES_OUTPUT, "output", "FILE", "what to write (-o FILE)"},
    {CODE_LISTING, TAKES_LISTING, "listing", "FILE", "the program as MOS assembly (- is standard output)"},
    {CODE_SIZE, TAKES_LISTING, "size", "2048|4096", "size of the image (default: the smaller that fits)"},
    {CODE_PNG, TAKES_PNG, "png", "FILE", "the cells as a picture"},
    {CODE_CELLS, TAKES_CELLS, "cells", "####....", "a row of 20 or 40 cells: finds mode and registers"},
    {CODE_MODE, TAKES_CELLS, "mode", "copy|mirror", "mode for 20 cells (default copy)"},
    {CODE_BY_EYE, TAKES_BY_EYE, "by-eye", NULL,
     "no grabber: says what must be on the screen and asks what is"},
    {CODE_FIELDS, TAKES_FIELDS, "fields", "N", "fields to record (default: two rounds of the plan)"},
    {CODE_SCHEME, TAKES_PUSH | TAKES_PLAN, "scheme", "2K|4K|F8|F6|F4",
     "bank scheme: of plan cartridge, or of a file (default there: by its size)"},
    {CODE_SCHEME, TAKES_READER, "scheme", "2K|4K|F8|F6|F4",
     "the cartridge's bank scheme (default with --image: by its size)"},
    {CODE_RAM, TAKES_READER, "ram", NULL, "it has 128 bytes of RAM at $1000-$10FF"},
    {CODE_RAM, TAKES_PUSH | TAKES_PLAN, "ram", NULL,
     "of plan cartridge, or a file: with 128 bytes of cartridge RAM at $1000-$10FF"},
    {CODE_STEP, TAKES_PUSH, "step", "N", "hold this step; without plan and file, of the image that is there"},
    {CODE_LOADER, TAKES_LOADER, "loader", NULL,
     "restart the board in its chip's own loader, for new firmware"},
    {CODE_FREE, TAKES_PUSH, "free", NULL, "let the plan step on by itself again"},
    {CODE_WHOLE, TAKES_LINK, "whole", NULL, "send every block, even those the board has"},
    {CODE_NO_READ_BACK, TAKES_LINK, "no-read-back", NULL,
     "do not read the image back (the board's own CRC is always compared)"},
    {CODE_PORT, TAKES_WATCH, "port", "N", "port of the page on 127.0.0.1 (default: any that is free)"},
    {CODE_SECONDS, TAKES_WATCH, "seconds", "N", "end after so long (default: Ctrl-C, or the source's end)"},
    {CODE_LOOP, TAKES_WATCH, "loop", NULL, "play a recording over and over"},
    {CODE_NO_PUSH, TAKES_WATCH, "no-push", NULL, "leave the board as it is"},
    {CODE_WINDOWS, TAKES_PLAN, "windows", "FILE",
     "of a drawing: rewrite registers where this result of plan moments says (default: the handbook)"},
    {CODE_LINES, TAKES_PLAN, "lines", "N",
     "of plan every: lines that each pattern stands on (default 1; run takes as many as the grabber needs)"},
    {CODE_EXPORT, TAKES_EXPORT, "export", "FILE", "of a drawing: its tables and kernel as MOS assembly"},
    {CODE_AGAINST, TAKES_AGAINST, "against", "FILE",
     "an earlier result of the same plan (moments, colours): what differs"},
    {CODE_FLASHES, TAKES_FLASHES, "flashes", NULL, "how the plan flashes, by WCAG 2.3.1 and ITU-R BT.1702"},
    {CODE_CALM, TAKES_FLASHING | TAKES_WATCH, "calm", NULL,
     "show it so slowly that it stays below the limits of flashing"},
    {CODE_AGREED, TAKES_FLASHING, "agreed-to-flashing", NULL,
     "everybody who can see the screen has agreed to a plan that flashes"},
    {CODE_AGREED, TAKES_WATCH, "agreed-to-flashing", NULL,
     "everybody who can see the console's screen has agreed to a plan that flashes; and viewers of the page "
     "who agree too may have up to ten pictures a second"},
    {CODE_ITEM, TAKES_ITEM, "item", "DIGITS",
     "of plan cartridge: what these five digits on the screen say, in words"},
    {CODE_ROUNDS, TAKES_SOAK, "rounds", "N",
     "of plan cartridge: rounds to watch (default 2); 0: until Ctrl-C"},
    {CODE_FOR, TAKES_SOAK, "for", "MINUTES", "of plan cartridge: rounds for so long, or until Ctrl-C"},
    {CODE_CONSOLE, TAKES_RECORD, "console", "NAME",
     "what you call the console (run: as the bench says without it; judge: recorded only with it)"},
    {CODE_CARTRIDGE, TAKES_READER, "cartridge", "SERIAL",
     "the cartridge's: the reading is kept on record, which it is not without it"},
    {CODE_STATION, TAKES_RECORD | TAKES_SWEEP | TAKES_READER, "station", "NAME",
     "what you call the place (default: local)"},
    {CODE_CARTRIDGE, TAKES_RECORD, "cartridge", "SERIAL", "of a cartridge of your own in the slot"},
    {CODE_ON_FOR, TAKES_RECORD, "on-for", "MINUTES", "how long the console has been switched on"},
    {CODE_NO_RECORD, TAKES_RECORD, "no-record", NULL, "keep no record of it"},
    {CODE_CONSOLE, TAKES_CHOOSE, "console", "NAME", "records of this console"},
    {CODE_REVISION, TAKES_CHOOSE, "revision", "TEXT", "records of consoles of this revision"},
    {CODE_OF_BENCH, TAKES_CHOOSE, "of-bench", "NAME", "records of this bench"},
    {CODE_STATION, TAKES_CHOOSE, "station", "NAME", "records of this place"},
    {CODE_OF_PLAN, TAKES_CHOOSE, "plan", "NAME", "records of the plan of that name"},
    {CODE_SINCE, TAKES_CHOOSE, "since", "DATE",
     "records from that day on: 2026-11-26, or 2026-11-26T14:05, UTC"},
    {CODE_UNTIL, TAKES_CHOOSE, "until", "DATE", "records before that day, or minute"},
    {CODE_LAST, TAKES_CHOOSE, "last", "N", "the latest N of them"},
    {CODE_RUN, TAKES_REPORT | TAKES_BASELINE, "run", "NUMBER", "the run of this number"},
    {CODE_SWEEP, TAKES_REPORT, "sweep", "NAME|NUMBER",
     "the latest sweep of this name, or the one of this number"},
    {CODE_PLANS, TAKES_SWEEP, "plan", "NAME|FILE",
     "a plan to run; may be given more than once (default bits)"},
    {CODE_BENCH_NAMES, TAKES_SWEEP, "bench", "NAME",
     "a bench with the console it has; may be given more than once (default virtual)"},
    {CODE_REPEATS, TAKES_SWEEP, "repeats", "N", "runs of each plan on each console (default 1)"},
    {CODE_RETRIES, TAKES_SWEEP, "retries", "N",
     "how often a run that does not pass is tried again (default 1); a pass then counts as unsteady"},
    {CODE_PATIENCE, TAKES_SWEEP, "patience", "SECONDS",
     "how long a console that must be put in is waited for (default 3600)"},
    {CODE_ROBOT, TAKES_SWEEP, "robot", NULL,
     "ask a program: requests on standard output, answers on standard input"},
    {CODE_ANEW, TAKES_SWEEP, "anew", NULL, "begin anew, even where an earlier one was interrupted"},
    {CODE_CLEAR, TAKES_BASELINE, "clear", NULL, "forget the baseline"},
    {CODE_GROUP, TAKES_GROUPS, "group", "KIND:TEXT",
     "twice: two groups of consoles, revision:TEXT, console:NAME, bench:NAME or station:NAME"},
    {CODE_HTML, TAKES_FORMATS, "html", "FILE", "a page for people, in one file (- is standard output)"},
    {CODE_JUNIT, TAKES_FORMATS, "junit", "FILE", "JUnit XML, for CI servers"},
    {CODE_JSONL, TAKES_FORMATS | TAKES_ROWS, "jsonl", "FILE", "JSON Lines, a run a line"},
    {CODE_CSV, TAKES_FORMATS | TAKES_ROWS, "csv", "FILE", "CSV, a step a row"},
    {CODE_SHIP_SERIAL, TAKES_SHIP, "serial", "TEXT", "the cartridge's serial"},
    {CODE_LIMITS, TAKES_SHIP, "limits", "FILE", "what it is tested for, and within which limits"},
    {CODE_LOT, TAKES_SHIP, "lot", "NAME",
     "the lot that it belongs to; without --serial: the lot to be shown"},
    {CODE_READER, TAKES_SHIP, "reader", "BENCH", "the bench whose reader it is (default: that of --bench)"},
    {CODE_AGAIN, TAKES_SHIP, "again", NULL,
     "test a serial that has a verdict already; the earlier tests stay as they are"},
    {CODE_LIST, TAKES_SHIP, "list", NULL, "the tests on record"},
    {CODE_HTML, TAKES_SHIP, "html", "FILE",
     "a page for the box of the cartridge, or of the lot (- is standard output)"},
    {CODE_STATION, TAKES_SHIP, "station", "NAME", "what you call the place (default: local)"},
    {CODE_STORE, TAKES_STORE | TAKES_RECORD | TAKES_READER, "store", "FILE",
     "file of records (default: slotjig/records.sqlite in the data folder)"},
    {CODE_QUIET, 0, "quiet", NULL, "no progress and no report on the terminal"},
    {CODE_HELP, 0, "help", NULL, "this text"},
};
enum { TABLE_ROWS = sizeof table / sizeof table[0] };

static void build(uint64_t takes, struct option *longs) {
    int count = 0;
    for (int i = 0; i < TABLE_ROWS; i++) {
        if (table[i].takes == 0 || (table[i].takes & takes) != 0) {
            longs[count++] =
                (struct option){table[i].name, table[i].value == NULL ? no_argument : required_argument, NULL,
                                (int)table[i].code};
        }
    }
    longs[count] = (struct option){NULL, 0, NULL, 0};
}

void options_help(uint64_t takes) {
    for (int i = 0; i < TABLE_ROWS; i++) {
        if (table[i].takes != 0 && (table[i].takes & takes) == 0) {
            continue;
        }
        char left[64];
        snprintf(left, sizeof left, "--%s%s%s", table[i].name, table[i].value == NULL ? "" : " ",
                 table[i].value == NULL ? "" : table[i].value);
        printf("  %-26s %s\n", left, table[i].about);
    }
}

bool option_is_dash(const char *path) {
    return path != NULL && strcmp(path, "-") == 0;
}

FILE *options_people(const struct options *options) {
    return option_is_dash(options->json) ? stderr : stdout;
}

bool option_number(const char *name, const char *text, uint64_t least, uint64_t most, uint64_t *value,
                   struct problem *problem) {
    char *end = NULL;
    errno = 0;
    unsigned long long number = strtoull(text, &end, 10);
    if (errno != 0 || end == text || *end != '\0' || strchr(text, '-') != NULL || number < least ||
        number > most) {
        return problem_set(problem, PROBLEM_INPUT, "--%s %s: give a whole number from %llu to %llu", name,
                           text, (unsigned long long)least, (unsigned long long)most);
    }
    *value = number;
    return true;
}

static bool set_noise(const char *text, struct options *options, struct problem *problem) {
    char *end = NULL;
    options->noise = strtod(text, &end);
    options->noise_given = true;
    if (end == text || *end != '\0' || !isfinite(options->noise) || options->noise < NOISE_DB_MIN ||
        options->noise > NOISE_DB_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "--noise %s: give decibels from %d to %d", text,
                           NOISE_DB_MIN, NOISE_DB_MAX);
    }
    return true;
}

static bool set_minutes(const char *text, struct options *options, struct problem *problem) {
    char *end = NULL;
    options->minutes_on = strtod(text, &end);
    if (end == text || *end != '\0' || !isfinite(options->minutes_on) || options->minutes_on < 0 ||
        options->minutes_on > MINUTES_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "--on-for %s: give minutes from 0 to %d", text,
                           MINUTES_MAX);
    }
    return true;
}

static bool set_soak(const char *text, struct options *options, struct problem *problem) {
    char *end = NULL;
    options->for_minutes = strtod(text, &end);
    if (end == text || *end != '\0' || !isfinite(options->for_minutes) || options->for_minutes <= 0 ||
        options->for_minutes > MINUTES_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "--for %s: give minutes, more than 0, at most %d", text,
                           MINUTES_MAX);
    }
    return true;
}

static bool set_rounds(const char *text, struct options *options, struct problem *problem) {
    uint64_t rounds = 0;
    if (!option_number("rounds", text, 0, ROUNDS_MAX, &rounds, problem) || rounds == 1) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--rounds %s: give a whole number from 2 to %d, or 0 for until Ctrl-C", text,
                           ROUNDS_MAX);
    }
    options->rounds = (int)rounds;
    options->rounds_given = true;
    return true;
}

static bool add_text(const char *name, const char *text, const char **texts, int *count,
                     struct problem *problem) {
    if (*count == FAULTS_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "--%s %s: at most %d of them at a time", name, text,
                           FAULTS_MAX);
    }
    texts[(*count)++] = text;
    return true;
}

static bool one_of(const char *name, const char *text, const char *first, const char *second,
                   struct problem *problem) {
    if (strcmp(text, first) == 0 || strcmp(text, second) == 0) {
        return true;
    }
    return problem_set(problem, PROBLEM_INPUT, "--%s %s: say %s or %s", name, text, first, second);
}

static bool set_size(const char *text, struct options *options, struct problem *problem) {
    uint64_t number = 0;
    if (!option_number("size", text, 2048, 4096, &number, problem) || (number != 2048 && number != 4096)) {
        return problem_set(problem, PROBLEM_INPUT, "--size %s: say 2048 or 4096", text);
    }
    options->size = (size_t)number;
    return true;
}

static bool set_number(enum code code, const char *text, struct options *options, struct problem *problem) {
    const struct {
        enum code code;
        const char *name;
        uint64_t least, most;
        int *where;
    } numbers[] = {{CODE_HOLD, "hold", 1, HOLD_MAX, &options->hold},
                   {CODE_LINES, "lines", 1, EVERY_REPEAT_MAX, &options->lines},
                   {CODE_FIELDS, "fields", 2, 100000000, &options->fields},
                   {CODE_BAUD, "baud", BAUD_MIN, BAUD_MAX, &options->baud},
                   {CODE_STEP, "step", 0, UINT8_MAX, &options->step},
                   {CODE_WAIT, "wait", 0, WAIT_MAX_S, &options->wait_s},
                   {CODE_THREADS, "threads", 1, THREADS_MAX, &options->threads},
                   {CODE_PORT, "port", 0, UINT16_MAX, &options->port},
                   {CODE_SECONDS, "seconds", 1, SECONDS_MAX, &options->seconds},
                   {CODE_LAST, "last", 1, 1000000, &options->last},
                   {CODE_REPEATS, "repeats", 1, REPEATS_MAX, &options->repeats},
                   {CODE_RETRIES, "retries", 0, RETRIES_MAX, &options->retries},
                   {CODE_PASSES, "passes", 1, UINT16_MAX, &options->passes},
                   {CODE_PATIENCE, "patience", 1, SECONDS_MAX, &options->patience_s}};
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        uint64_t number = 0;
        if (numbers[i].code != code) {
            continue;
        }
        if (!option_number(numbers[i].name, text, numbers[i].least, numbers[i].most, &number, problem)) {
            return false;
        }
        *numbers[i].where = (int)number;
        return true;
    }
    if (code == CODE_RUN) {
        return option_number("run", text, 1, INT64_MAX, &options->run, problem);
    }
    if (code == CODE_SEED) {
        options->seed_given = true;
        return option_number("seed", text, 0, INT64_MAX, &options->seed, problem);
    }
    return set_size(text, options, problem);
}

static bool set_text(enum code code, const char *text, struct options *options) {
    const struct {
        enum code code;
        const char **where;
    } texts[] = {{CODE_PLAN, &options->plan},
                 {CODE_BENCH, &options->bench},
                 {CODE_BENCHES, &options->benches},
                 {CODE_JSON, &options->json},
                 {CODE_OUT, &options->out},
                 {CODE_OUTPUT, &options->output},
                 {CODE_LISTING, &options->listing},
                 {CODE_PNG, &options->png},
                 {CODE_CELLS, &options->cells},
                 {CODE_BOARD, &options->board},
                 {CODE_SERIAL, &options->serial},
                 {CODE_SCHEME, &options->scheme},
                 {CODE_AGAINST, &options->against},
                 {CODE_WINDOWS, &options->windows},
                 {CODE_EXPORT, &options->export_to},
                 {CODE_GRABBER, &options->grabber},
                 {CODE_INPUT, &options->input},
                 {CODE_VIDEO, &options->video},
                 {CODE_STORE, &options->store},
                 {CODE_CONSOLE, &options->console},
                 {CODE_STATION, &options->station},
                 {CODE_CARTRIDGE, &options->cartridge},
                 {CODE_REVISION, &options->revision},
                 {CODE_OF_BENCH, &options->of_bench},
                 {CODE_OF_PLAN, &options->of_plan},
                 {CODE_SINCE, &options->since},
                 {CODE_UNTIL, &options->until},
                 {CODE_HTML, &options->html},
                 {CODE_JUNIT, &options->junit},
                 {CODE_JSONL, &options->jsonl},
                 {CODE_CSV, &options->csv},
                 {CODE_SWEEP, &options->sweep},
                 {CODE_SHIP_SERIAL, &options->serial},
                 {CODE_LIMITS, &options->limits},
                 {CODE_LOT, &options->lot},
                 {CODE_READER, &options->reader},
                 {CODE_ITEM, &options->item},
                 {CODE_IMAGE, &options->image}};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        if (texts[i].code == code) {
            *texts[i].where = text;
            return true;
        }
    }
    return false;
}

static bool set_flag(enum code code, struct options *options) {
    const struct {
        enum code code;
        bool *where;
    } flags[] = {{CODE_BY_EYE, &options->by_eye},
                 {CODE_QUIET, &options->quiet},
                 {CODE_HELP, &options->help},
                 {CODE_RAM, &options->ram},
                 {CODE_FREE, &options->free},
                 {CODE_LOADER, &options->loader},
                 {CODE_WHOLE, &options->whole},
                 {CODE_NO_READ_BACK, &options->no_read_back},
                 {CODE_WRITE, &options->write},
                 {CODE_LOOP, &options->loop},
                 {CODE_AGREED, &options->agreed_to_flashing},
                 {CODE_CALM, &options->calm},
                 {CODE_FLASHES, &options->flashes},
                 {CODE_NO_RECORD, &options->no_record},
                 {CODE_ROBOT, &options->robot},
                 {CODE_ANEW, &options->anew},
                 {CODE_CLEAR, &options->clear},
                 {CODE_AGAIN, &options->again},
                 {CODE_LIST, &options->list},
                 {CODE_NO_PUSH, &options->no_push},
                 {CODE_BYTES_ONLY, &options->bytes_only}};
    for (size_t i = 0; i < sizeof flags / sizeof flags[0]; i++) {
        if (flags[i].code == code) {
            *flags[i].where = true;
            return true;
        }
    }
    return false;
}

static bool set_option(enum code code, const char *text, struct options *options, struct problem *problem) {
    if (set_text(code, text, options) || set_flag(code, options)) {
        return true;
    }
    switch (code) {
    case CODE_STANDARD:
        options->standard_given = true;
        return standard_from_name(text, &options->standard) ||
               problem_set(problem, PROBLEM_INPUT, "--standard %s: say ntsc, pal or secam", text);
    case CODE_SCREEN:
        options->screen = text;
        return one_of("screen", text, "watched", "none", problem);
    case CODE_MODE:
        options->mode = text;
        return one_of("mode", text, "copy", "mirror", problem);
    case CODE_FAULT:
        return add_text("fault", text, options->faults, &options->fault_count, problem);
    case CODE_IMPAIR:
        return add_text("impair", text, options->impairments, &options->impairment_count, problem);
    case CODE_PLANS:
        return add_text("plan", text, options->plans, &options->plan_count, problem);
    case CODE_BENCH_NAMES:
        return add_text("bench", text, options->bench_names, &options->bench_count, problem);
    case CODE_GROUP:
        return add_text("group", text, options->groups, &options->group_count, problem);
    case CODE_ROUNDS:
        return set_rounds(text, options, problem);
    case CODE_FOR:
        return set_soak(text, options, problem);
    case CODE_ON_FOR:
        return set_minutes(text, options, problem);
    case CODE_NOISE:
        return set_noise(text, options, problem);
    default:
        return set_number(code, text, options, problem);
    }
}

static bool refuse(int code, char **argv, struct problem *problem) {
    const char *word = argv[optind - 1];
    if (code == ':') {
        return problem_set(problem, PROBLEM_INPUT, "%s: needs a value; see `slotjig %s --help`", word,
                           argv[0]);
    }
    return problem_set(problem, PROBLEM_INPUT, "%s: not an option of `%s`; see `slotjig %s --help`", word,
                       argv[0], argv[0]);
}

/* `--plan drawing FILE` and `--plan drawing:FILE`; the file is the first word that is no option. */
static bool take_drawing(struct options *options, struct problem *problem) {
    const char *const plan = options->plan;
    if (plan == NULL || strncmp(plan, "drawing", 7) != 0 || (plan[7] != '\0' && plan[7] != ':')) {
        return true;
    }
    if (plan[7] == ':') {
        options->drawing = plan + 8;
    } else if (options->operand_count > 0) {
        options->drawing = *options->operands++;
        options->operand_count--;
    }
    if (options->drawing == NULL || options->drawing[0] == '\0') {
        return problem_set(problem, PROBLEM_INPUT,
                           "--plan drawing: name the picture: --plan drawing FILE, or --plan drawing:FILE");
    }
    options->plan = "drawing";
    return true;
}

/* `--plan every:N`: N patterns. */
static bool take_every(struct options *options, struct problem *problem) {
    uint64_t patterns = 0;
    if (options->plan == NULL || strncmp(options->plan, "every:", 6) != 0) {
        return true;
    }
    if (!option_number("plan", options->plan + 6, EVERY_LEAST, 2 * EVERY_VALUES, &patterns, problem)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--plan %.80s: how many patterns? Give every:N, N an even number from %d to %d",
                           options->plan, EVERY_LEAST, 2 * EVERY_VALUES);
    }
    options->plan = "every";
    options->patterns = (int)patterns;
    return true;
}

bool options_plan(struct options *options, struct problem *problem) {
    return take_drawing(options, problem) && take_every(options, problem);
}

static bool is_plan_file(const char *name) {
    if (name != NULL && strcmp(name, "drawing") == 0) {
        return false;
    }
    for (const struct plan_builtin *plan = plan_builtins; name != NULL && plan->name != NULL; plan++) {
        if (strcmp(plan->name, name) == 0) {
            return false;
        }
    }
    return name != NULL;
}

bool options_parse(int argc, char **argv, uint64_t takes, struct options *options, struct problem *problem) {
    struct option longs[TABLE_ROWS + 1];
    const char *letters = takes & (TAKES_OUTPUT | TAKES_READER) ? ":o:" : ":";
    *options = (struct options){.standard = STANDARD_NTSC,
                                .seed = 1,
                                .step = -1,
                                .wait_s = -1,
                                .threads = -1,
                                .minutes_on = -1,
                                .retries = -1,
                                .wants_board = (takes & TAKES_BOARD) != 0,
                                .wants_reader = (takes & TAKES_READER) != 0};
    build(takes, longs);
    opterr = 0;
    optind = 1;
    for (int code = getopt_long(argc, argv, letters, longs, NULL); code != -1;
         code = getopt_long(argc, argv, letters, longs, NULL)) {
        if (code == '?' || code == ':') {
            return refuse(code, argv, problem);
        }
        if (!set_option((enum code)code, optarg, options, problem)) {
            return false;
        }
    }
    options->operands = argv + optind;
    options->operand_count = argc - optind;
    if ((takes & TAKES_PLAN) != 0 && !options_plan(options, problem)) {
        return false;
    }
    if (options->operand_count > 0 && (takes & TAKES_OPERANDS) == 0 && !options->help) {
        return problem_set(problem, PROBLEM_INPUT, "%s: `%s` takes no such word; see `slotjig %s --help`",
                           options->operands[0], argv[0], argv[0]);
    }
    if ((takes & TAKES_PLAN) != 0 && is_plan_file(options->plan) && !options->standard_given) {
        plan_file_standard(options->plan, &options->standard);
    }
    return true;
}
