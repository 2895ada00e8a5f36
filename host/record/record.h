/*
 * What is kept of a run, as plain data: made by commands/ from a result, written and read by records.h, shown
 * by report/. Knows no file and no SQL.
 *
 * Texts are UTF-8 without control characters, never NULL, "" where nothing is known. Whoever fills a struct
 * to have it written owns what it points to; what a store gives is freed with record_free() or
 * record_list_free().
 */
#ifndef SLOTJIG_RECORD_RECORD_H
#define SLOTJIG_RECORD_RECORD_H

#include "plan/plan.h"
#include "verdict/verdict.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { RECORD_ID_TEXT = 65 }; /* a SHA-256 in hex, with its 0 */

/* The console as its user describes it at the time of the run; runs of one `name` are one console's, whatever
 * was done to it meanwhile. */
struct record_console {
    const char *name;          /* the user's own; never empty */
    const char *revision;      /* of its board, as read */
    const char *markings;      /* of its chips, as read */
    const char *modifications; /* what was done to it */
};

/* What was in the slot. */
struct record_cartridge {
    /* How the image came there: "usb", "serial", "command", "virtual", "none" (by the user's own means),
     * "file" (a recording was judged). */
    const char *kind;
    const char *serial; /* the board's, or what the user says of it */
    const char *firmware;
};

/* A plan, once for all runs of it. Steps only where the plan has any. */
struct record_plan_step {
    const char *name, *mode; /* "copy", "mirror" */
    uint8_t registers[REG_COUNT];
    uint64_t expected, sure; /* the first line's cells; sure: those that are judged */
    int bands;
};
struct record_plan {
    char id[RECORD_ID_TEXT]; /* of text and standard */
    const char *name;
    const char *text; /* as a plan file */
    enum standard standard;
    enum plan_kind kind;
    size_t step_count;
    const struct record_plan_step *steps;
};

/* Bytes kept by their content: the same bytes take room once. */
struct record_blob {
    const char *name; /* within the run: "moments" and "colours" (the keys of these plans in a result's JSON,
                         as one object), "cartridge" (key `check`), "field" (a captured field with its
                         raster), "step-0012" */
    const char *type; /* "application/json", "image/png" */
    const uint8_t *bytes;
    size_t size;
    char id[RECORD_ID_TEXT]; /* SHA-256 of the bytes; filled by the store */
};

/* How a run ended. */
enum record_end { RECORD_PASS, RECORD_FAIL, RECORD_INCONCLUSIVE, RECORD_TROUBLE, RECORD_ENDS };
const char *record_end_name(enum record_end end); /* "pass", "fail", "inconclusive", "trouble" */

struct record_run {
    int64_t id;         /* the store's; 0: not written yet */
    int64_t started_ms; /* since 1970, UTC */
    int64_t took_ms;
    double minutes_on; /* since the console was switched on, at the run's start; below 0: not known */
    /* Whose, and with what. */
    const char *station; /* a place's name, never a person's */
    const char *bench;
    struct record_console console;
    struct record_cartridge cartridge;
    const char *tool; /* version of slotjig */
    const struct record_plan *plan;
    /* JSON object, without the seed: hold, lines, faults, grabber, impairments, signal */
    const char *settings;
    uint64_t seed;
    uint16_t image_hash;
    bool has_seed;
    const char *command; /* "run", "judge" */
    bool seen_by_eye;    /* a person answered: steps have no cells and no margin */
    /* Of a sweep. */
    int64_t item;  /* record_item.id; 0: of no sweep */
    int attempt;   /* from 1; of a run of its own 1 */
    int64_t sweep; /* whose item it is, and which repeat; filled by the store, else 0 */
    int repeat;
    /* What came of it. */
    enum record_end end;
    int exit;
    double margin;
    uint64_t fields_seen, fields_judged, fields_unreadable;
    struct coverage coverage;
    double noise_db; /* 0: not known */
    bool has_raster;
    struct raster raster;
    int frame_lines;
    const char *problem; /* why it ended early; "" */
    size_t step_count;   /* that of the plan, or 0 where they were not asked for */
    const struct step_result *steps;
    size_t finding_count;
    const struct finding *findings;
    size_t trouble_count; /* of the capture chain */
    const struct finding *troubles;
    size_t blob_count;
    const struct record_blob *blobs;
};

struct record_list {
    size_t count;
    struct record_run **runs;
};

/* Plans by consoles by repeats. */
struct record_item {
    int64_t id;
    const char *plan; /* its name in the sweep: what was asked for */
    struct record_console console;
    const char *bench;
    int repeat; /* from 1 */
};
struct record_sweep {
    int64_t id;
    const char *name;
    const char *definition; /* canonical text; the same text is the same sweep */
    int64_t started_ms;
    int repeats, retries;
    size_t item_count;
    struct record_item *items; /* in the order of the work */
};

#endif
