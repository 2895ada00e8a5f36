/* One row an option, or several where commands mean different things by it. */
#include "commands/options_table.h"

#include "commands/options.h"

#include <stdio.h>

static const struct {
    enum option_code code;
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
_Static_assert((int)TABLE_ROWS <= (int)OPTION_ROWS_MAX, "more options than there is room for");

void options_longs(uint64_t takes, struct option *longs) {
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
