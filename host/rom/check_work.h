/*
 * The work of a check (rom/check.h) in its parts: pages, banks, cartridge RAM, what is quiet. Each part has
 * one stage for each thing that a field can bring on; a stage leaves by showing an item, or by `work_done`
 * when it wants another field. Code that must run while another bank may be there is a job: it is emitted
 * like any other code, has no jump within itself, and is run as a copy in the console's RAM, some of its
 * operands changed there.
 */
#ifndef SLOTJIG_ROM_CHECK_WORK_H
#define SLOTJIG_ROM_CHECK_WORK_H

#include "rom/check.h"
#include "rom/phrases.h"

/* In the order of a round, but for what not every image has: those that banks or RAM bring on come last. From
 * STAGE_CRC_HIGH to STAGE_XOR an item's kind is the stage's number and 1. */
enum work_stage {
    STAGE_PAGE,
    STAGE_CRC_HIGH,
    STAGE_CRC_LOW,
    STAGE_SUM,
    STAGE_LOCATE,
    STAGE_XOR,
    STAGE_VECTORS,
    STAGE_QUIET, /* one for each enum check_quiet, in its order */
    STAGE_QUIET_PORTS,
    STAGE_QUIET_TIMER,
    STAGE_QUIET_OPEN,
    STAGE_ROUND,
    STAGE_ERRORS,
    STAGE_START,
    STAGES_LEAST,
    STAGE_RAM = STAGES_LEAST,
    STAGE_RAM_CELL,
    STAGE_RAM_WHEN,
    STAGE_HOTSPOT,
    STAGE_NEIGHBOUR,
    STAGES
};

enum {
    /* RAM_JOBS: sixteen bytes that each stage uses anew, then what is kept. */
    WORK_Q = RAM_JOBS,
    WORK_SUM = RAM_JOBS + 16,
    WORK_OFFSET, /* in the page, up to which it is read */
    WORK_STAGE,
    WORK_PLACE, /* of the item that is worked out */
    WORK_WHAT,
    WORK_COUNT,
    WORK_LEFT, /* bad pages whose byte is still looked for in this round */
    WORK_BAD,  /* mask of the banks that had a bad page in this round */
    WORK_USED_END,
    /* A job's scratch, or another's while no job is there. */
    WORK_T = CHECK_JOB_AT,
    WORK_U,
    WORK_V,
    WORK_LOCATES = 8,
    WORK_WARM = 0x69 /* RAM_WARM during a start through a vector */
};

struct work {
    struct encoder *e;
    const struct cart_check *check;
    int banks;
    int first;       /* low byte of the lowest hotspot */
    int chunk;       /* bytes of a page that a field reads: 64, 128 or 256 */
    int window_high; /* high byte of the image's first page in the window */
};

/* A job begins: it lies in one page. Returns where, for job_here(). */
size_t job_begin(const struct work *work, const char *name);
/* Address in RAM of what is emitted next. */
int job_here(const struct work *work, size_t begin);
void job_end(const struct work *work, size_t begin);
void job_copy(const struct work *work, const char *name, size_t bytes);
void job_run(const struct work *work);
/* Sets a job's operand so that it selects the bank in A, or the one that came up. */
void job_select(const struct work *work, int operand);
void job_home(const struct work *work, int operand);

/* Code for several banks is left out of an image that has one. */
static inline bool work_banked(const struct work *work) {
    return work->banks > 1;
}

/* With A: what, X: place, Y: kind, jump to `show`, or to `judge` where A is not 0 when something is wrong. */
void work_jump(const struct work *work, const char *label);
void work_item(const struct work *work, enum check_kind kind, const char *label);
void work_next_stage(const struct work *work, enum work_stage stage);

void work_pages(const struct work *work);
void work_banks(const struct work *work);
void work_ram(const struct work *work);
void work_quiet(const struct work *work);

#endif
