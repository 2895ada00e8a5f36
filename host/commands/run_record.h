/* What is kept of a run: its record, made from what the run has at its end. Knows no store. */
#ifndef SLOTJIG_COMMANDS_RUN_RECORD_H
#define SLOTJIG_COMMANDS_RUN_RECORD_H

#include "commands/bench_board.h"
#include "commands/benches.h"
#include "commands/keeper.h"
#include "record/record.h"
#include "report/json.h"

enum { RUN_RECORD_STEPS_MOST = 8, RUN_RECORD_BLOBS = 3 + RUN_RECORD_STEPS_MOST };

/* All borrowed. */
struct run_facts {
    const struct report *report;
    const struct bench_settings
        *bench; /* NULL: a recording was judged, or a person used means of their own */
    const char *bench_name;
    const struct keeper *keeper;   /* NULL: no field was kept */
    struct record_console console; /* as it is to be kept, like station and cartridge */
    const char *station;
    struct record_cartridge cartridge;
    bool seen_by_eye;
    double minutes_on;
};

struct run_record {
    struct record_run run; /* id, started_ms, took_ms, item and attempt: the recorder's */
    size_t picture_from;   /* blobs from here on are pictures, which not every run keeps */
    /* What it points to. */
    struct record_plan plan;
    struct record_plan_step *plan_steps;
    char (*step_names)[STEP_NAME_MAX];
    char *plan_text, *settings;
    struct finding *findings; /* and troubles */
    char texts[8][BENCH_TEXT_MAX], plan_name[64], problem[600];
    struct record_blob blobs[RUN_RECORD_BLOBS];
    char blob_names[RUN_RECORD_BLOBS][16];
};

/* Without pictures. The report's steps must outlive it. NULL: short of memory. */
struct run_record *run_record_make(const struct run_facts *facts, struct problem *problem);
/* Adds those of the field that stands for the run, and of the first failing steps, unless they are there. */
bool run_record_pictures(struct run_record *record, const struct run_facts *facts, struct problem *problem);
void run_record_free(struct run_record *record); /* NULL: nothing */

/* "usb", "serial", "command", "virtual", "none": how a bench's image gets into the slot. */
const char *run_record_way(const struct bench_settings *bench);
/* How the picture gets from the console to the grabber; null where that is not told. */
json_t *run_record_signal(const struct bench_settings *bench);

#endif
