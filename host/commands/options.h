/* The command line: GNU long options, one table for all commands, of which each command takes some. */
#ifndef SLOTJIG_COMMANDS_OPTIONS_H
#define SLOTJIG_COMMANDS_OPTIONS_H

#include "base/problem.h"
#include "base/standard.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

enum {
    FAULTS_MAX = 64,
    /* Decibels of noise that a virtual grabber can be given. */
    NOISE_DB_MIN = 0,
    NOISE_DB_MAX = 200
};

/* Which options a command takes. */
enum {
    TAKES_PLAN = 1 << 0,
    TAKES_BENCH = 1 << 1, /* --seed, --fault, --noise, --grabber, --impair */
    TAKES_STANDARD = 1 << 2,
    TAKES_HOLD = 1 << 3, /* --hold, --screen */
    TAKES_JSON = 1 << 4,
    TAKES_OUT = 1 << 5,     /* --out DIR: of a run */
    TAKES_OUTPUT = 1 << 6,  /* -o FILE */
    TAKES_LISTING = 1 << 7, /* --listing, --size */
    TAKES_PNG = 1 << 8,
    TAKES_CELLS = 1 << 9, /* --cells, --mode */
    TAKES_BY_EYE = 1 << 10,
    TAKES_FIELDS = 1 << 11,
    TAKES_OPERANDS = 1 << 12,
    TAKES_VIRTUAL = 1 << 13, /* --bench with `virtual` when left out */
    TAKES_BOARD = 1 << 14,   /* --bench with the board on USB when left out */
    TAKES_PUSH = 1 << 15,    /* --scheme, --ram, --step, --free */
    TAKES_LINK = 1 << 16,    /* --whole, --no-read-back */
    TAKES_CHOICE = 1 << 17,  /* --board, --serial, --baud */
    TAKES_LOADER = 1 << 19,
    TAKES_BENCHES = 1 << 18, /* --benches alone */
    TAKES_LIVE = 1 << 20,    /* --input, --wait */
    TAKES_THREADS = 1 << 21,
    TAKES_VIDEO = 1 << 22, /* --video, --seconds */
    TAKES_WRITE = 1 << 23,
    TAKES_WATCH = 1 << 24,    /* --port, --agreed-to-flashing, --loop, --no-push */
    TAKES_FLASHING = 1 << 25, /* --agreed-to-flashing, --calm */
    TAKES_AGAINST = 1 << 26,
    TAKES_EXPORT = 1 << 27,
    TAKES_FLASHES = 1 << 28,
    TAKES_STORE = 1 << 29 /* --store */
};
/* Beyond what an enum's constant holds. */
#define TAKES_RECORD (1ull << 32) /* --no-record, --console, --station, --cartridge, --on-for */
#define TAKES_CHOOSE                                                                                         \
    (1ull << 33) /* which records: --console, --revision, --of-bench, --station, --of-plan, --since,         \
                    --until, --last */
#define TAKES_FORMATS (1ull << 34) /* --html, --junit, --jsonl, --csv */
#define TAKES_SWEEP                                                                                          \
    (1ull << 35)                /* --plan and --bench more than once, --repeats, --retries, --patience, ... */
#define TAKES_ROWS (1ull << 39) /* --jsonl, --csv */
#define TAKES_REPORT (1ull << 36)   /* --run, --sweep */
#define TAKES_BASELINE (1ull << 37) /* --clear, --run */
#define TAKES_SOAK (1ull << 40)     /* --rounds, --for: of plan cartridge */
#define TAKES_READER (1ull << 41)   /* all options of `reader`, --plan, --bench ... in its own words */
#define TAKES_SHIP (1ull << 42)     /* --limits, --lot, ...: of `ship` */
#define TAKES_ITEM (1ull << 43)     /* --item: of plan cartridge, in words */
#define TAKES_GROUPS (1ull << 38)   /* --group, twice; --out DIR: of a comparison */

struct options {
    const char *plan, *bench, *benches, *json, *out, *output, *listing, *png, *cells, *mode, *screen, *board,
        *serial, *scheme, *grabber, *input, *video, *against, *windows, *export_to,
        *drawing, /* the picture of plan `drawing` */
        *store, *console, *station, *cartridge, *revision, *of_bench, *of_plan, *since, *until, *html, *junit,
        *jsonl, *csv, *sweep, *item, *image, *limits, *lot, *reader /* the bench whose reader it is */;
    enum standard standard;
    bool standard_given, seed_given, by_eye, quiet, help, ram, free, loader, whole, no_read_back, write;
    bool no_record, robot, anew, clear, again, list;
    bool bytes_only;
    bool agreed_to_flashing, calm, flashes, loop, no_push;
    bool flashing_told; /* no option: a sweep tells once what its runs show */
    bool soak_told;     /* likewise: what a console needs that is left to itself */
    bool wants_board;   /* the command is about a real board where no bench is named */
    bool wants_reader;  /* likewise a reader, and takes no other bench than one, or a virtual one */
    double minutes_on;  /* --on-for; below 0: not given */
    int last;           /* 0: not given */
    int passes;         /* 0: not given */
    int repeats;        /* 0: not given */
    int retries;        /* -1: not given */
    int rounds;         /* of plan cartridge; 0 or less: not given, or until told: */
    bool rounds_given;
    double for_minutes; /* 0: not given */
    int patience_s;     /* 0: not given */
    uint64_t run;       /* 0: not given */
    const char *plans[FAULTS_MAX], *bench_names[FAULTS_MAX],
        *groups[FAULTS_MAX]; /* of TAKES_SWEEP, TAKES_GROUPS */
    int plan_count, bench_count, group_count;
    int port; /* 0: not given */
    uint64_t seed;
    double noise;
    bool noise_given;
    int lines;    /* a pattern of plan `every`; 0: not given */
    int patterns; /* of plan `every`; 0: not given */
    int hold;     /* 0: not given */
    int fields;   /* 0: not given */
    int baud;     /* 0: not given */
    int step;     /* -1: not given */
    int wait_s;   /* -1: not given */
    int threads;  /* -1: not given */
    int seconds;  /* 0: not given */
    size_t size;
    const char *faults[FAULTS_MAX];
    int fault_count;
    const char *impairments[FAULTS_MAX];
    int impairment_count;
    char **operands; /* what is no option */
    int operand_count;
};

/* argv[0] is the command's name. Bad usage: PROBLEM_INPUT. */
bool options_parse(int argc, char **argv, uint64_t takes, struct options *options, struct problem *problem);

/* Whether a file's name says standard output; NULL: no. */
bool option_is_dash(const char *path);
/* Where what people read goes: standard error where --json takes standard output. */
FILE *options_people(const struct options *options);

/* The lines of --help about the options that a command takes. */
void options_help(uint64_t takes);

/* Takes apart what `plan` says beyond a name: `drawing:FILE` (or an operand) and `every:N`. */
bool options_plan(struct options *options, struct problem *problem);
/* A whole number in a range, or a problem that names the option. */
bool option_number(const char *name, const char *text, uint64_t least, uint64_t most, uint64_t *value,
                   struct problem *problem);

#endif
