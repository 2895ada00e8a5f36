/*
 * Pages of a check: what their two files share.
 */
#ifndef SLOTJIG_ROM_CHECK_WORK_PAGE_H
#define SLOTJIG_ROM_CHECK_WORK_PAGE_H

#include "rom/check_work.h"

enum {
    /* What a page's CRC and sum ended with, in WORK_Q. */
    ENDED_HIGH = WORK_Q,
    ENDED_LOW,
    ENDED_SUM,
    PAGE_SCRATCH,
    PAGE_OPERANDS = 4
};

/* Operands, in RAM, of a job that reads a page: its bank, the one that came up, the page's high byte. */
struct read_job {
    size_t bytes;
    int select, home, page[PAGE_OPERANDS]; /* 0: none */
};

void page_select(const struct work *work, const char *note, int *operand, size_t begin);
/* Ends a job: back to the bank that came up, and to a label. */
void page_leave(const struct work *work, struct read_job *job, size_t begin, const char *to);
/* Sets the operands to the page of WORK_PLACE. */
void page_aim(const struct work *work, const struct read_job *job);

/* STAGE_PAGE up to where the page is read: ENDED_HIGH, ENDED_LOW, WORK_SUM; then falls out of the end. */
void page_crc(const struct work *work);

static inline void page_zp_x(struct encoder *e, const char *mnemonic, int base) {
    encode(e, mnemonic, MODE_ZERO_X, (uint16_t)base, NULL);
}

#endif
