/*
 * CRC and sum of a page, in images with banks and in those without.
 *
 * With banks there are many pages, and little time. The CRC's polynomial g(x) = x^16 + x^12 + x^5 + 1,
 * squared three times, is g^8 = x^128 + x^96 + x^40 + 1 (in GF(2) a square only doubles exponents), whose
 * terms are whole bytes apart. So a page is divided by g^8 first, with nothing but exclusive-or of bytes,
 * sixteen at a time: as a block comes in, what the register had in byte j goes to bytes j - 5 and j - 12
 * (fold()), the block is added where those bytes stand, and what that makes goes on to bytes j + 4 and j + 11
 * (carry()). What is left, sixteen bytes, has the same remainder by g as the page, and is taken byte by byte.
 *
 * Without banks it is byte by byte at once.
 */
#include "rom/check_work_page.h"

enum { BLOCK = 16, HALF = BLOCK / 2 };

static void read_page(const struct work *work, const char *mnemonic, int low, int *high, size_t begin) {
    *high = job_here(work, begin) + 2;
    encode(work->e, mnemonic, MODE_ABSOLUTE_Y, (uint16_t)(0xF000 | low), NULL);
}

/* X runs from -8 to 0, Y on through the page. */
static struct read_job block_job(const struct work *work) {
    struct encoder *e = work->e;
    struct read_job job = {0};
    const size_t begin = job_begin(work, "block");
    page_select(work, "the page's bank", &job.select, begin);
    imm(e, "LDX", 0x100 - HALF);
    encode_label(e, "block_on");
    for (int half = 0; half < 2; half++) {
        read_page(work, "LDA", HALF * half, &job.page[half], begin);
        page_zp_x(e, "EOR", WORK_Q + HALF * (half + 1));
        page_zp_x(e, "STA", WORK_Q + HALF * (half + 1));
    }
    zp(e, "LDA", WORK_SUM);
    for (int half = 0; half < 2; half++) {
        one(e, "CLC");
        read_page(work, "ADC", HALF * half, &job.page[2 + half], begin);
    }
    zp(e, "STA", WORK_SUM);
    one(e, "INY");
    one(e, "INX");
    branch(e, "BNE", "block_on");
    page_leave(work, &job, begin, "block_read");
    return job;
}

/* The last block of a bank has the hotspots in it: the bank is selected anew before each byte, and each byte
 * is read once. */
static struct read_job last_job(const struct work *work) {
    struct encoder *e = work->e;
    struct read_job job = {0};
    const size_t begin = job_begin(work, "last");
    imm(e, "LDX", 0);
    encode_label(e, "last_on");
    page_select(work, "the page's bank", &job.select, begin);
    encode(e, "LDA", MODE_ABSOLUTE_X, 0xFFF0, NULL);
    one(e, "TAY");
    page_zp_x(e, "EOR", WORK_Q);
    page_zp_x(e, "STA", WORK_Q);
    one(e, "TYA");
    one(e, "CLC");
    zp(e, "ADC", WORK_SUM);
    zp(e, "STA", WORK_SUM);
    one(e, "INX");
    imm(e, "CPX", BLOCK);
    branch(e, "BNE", "last_on");
    page_leave(work, &job, begin, "page_read");
    return job;
}

static void begin_block_page(const struct work *work) {
    struct encoder *e = work->e;
    imm(e, "LDX", BLOCK - 3);
    encode_label(e, "page_clear");
    page_zp_x(e, "STA", WORK_Q + 2);
    one(e, "DEX");
    branch(e, "BPL", "page_clear");
    zp(e, "LDA", WORK_PLACE);
    zp(e, "STA", WORK_Q);
    zp(e, "STA", WORK_SUM);
    imm(e, "EOR", 0xFF);
    zp(e, "STA", WORK_Q + 1); /* check_crc_start() */
}

/* Y: as far as the page is read. */
static void take_offset(struct encoder *e, int unit) {
    zp(e, "LDA", WORK_OFFSET);
    encode_each(e);
    imm(e, "AND", 0x100 - unit);
    one(e, "TAY");
    branch(e, "BNE", "page_goes_on");
}

static void page_stage(const struct work *work, const struct read_job *block, const struct read_job *last) {
    struct encoder *e = work->e;
    encode_label(e, "page");
    take_offset(e, BLOCK);
    begin_block_page(work);
    work_jump(work, "page_block");
    encode_label(e, "page_goes_on");
    imm(e, "CPY", SCHEME_PAGE - BLOCK);
    branch(e, "BNE", "page_block");
    job_copy(work, "last", last->bytes);
    page_aim(work, last);
    job_run(work);
    encode_label(e, "page_block");
    job_copy(work, "block", block->bytes);
    page_aim(work, block);
    job_run(work);
}

static void q(struct encoder *e, const char *mnemonic, int byte) {
    zp(e, mnemonic, WORK_Q + byte);
}

/* Bytes 4 and more apart are a chain: what was stored is still in A. */
static void carry(struct encoder *e) {
    for (int chain = 0; chain < 4; chain++) {
        q(e, "LDA", chain);
        for (int to = chain + 4; to < BLOCK; to += 4) {
            q(e, "EOR", to);
            if (to >= 11) {
                q(e, "EOR", to - 11);
            }
            q(e, "STA", to);
        }
    }
}

static void fold(struct encoder *e) {
    for (int to = 0; to < BLOCK - 5; to++) {
        q(e, "LDA", to);
        q(e, "EOR", to + 5);
        if (to < 4) {
            q(e, "EOR", to + 12);
        }
        q(e, "STA", to);
    }
}

/* Where a field leaves a page: as far as its time goes, and before the block that has the hotspots. */
static void block_read(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "block_read");
    one(e, "TYA");
    one(e, "CLC");
    imm(e, "ADC", HALF);
    one(e, "TAY");
    branch(e, "BNE", "block_next");
    work_jump(work, "page_read");
    encode_label(e, "block_next");
    carry(e);
    fold(e);
    encode_room(e, 32);
    if (work->chunk < SCHEME_PAGE) {
        imm(e, "CPY", work->chunk);
        branch(e, "BEQ", "page_pause");
    }
    imm(e, "CPY", SCHEME_PAGE - BLOCK);
    branch(e, "BNE", "block_again");
    zp(e, "LDA", WORK_PLACE);
    imm(e, "AND", 0x0F);
    imm(e, "CMP", 0x0F);
    branch(e, "BEQ", "page_pause");
    encode_label(e, "block_again");
    job_run(work);
    encode_label(e, "page_pause");
    zp(e, "STY", WORK_OFFSET);
    work_jump(work, "work_done");
}

/* The register takes in a byte, exclusive-or'd with its high byte in A as t. With x = t ^ t >> 4 (which bits
 * of g come in, x^12 having fed back), the high byte becomes the low one ^ x << 4 ^ x >> 3, the low one
 * x ^ x << 5 [A]. `spare`: TAX and TXA, or TAY and TYA. */
static void crc_byte(struct encoder *e, int high, int low, int x, const char *spare, const char *back) {
    zp(e, "STA", x);
    shift(e, "LSR", 4);
    zp(e, "EOR", x);
    zp(e, "STA", x);
    shift(e, "ASL", 4);
    one(e, spare);
    zp(e, "EOR", low);
    zp(e, "STA", high);
    one(e, back);
    shift(e, "ASL", 1);
    zp(e, "EOR", x);
    zp(e, "STA", low);
    zp(e, "LDA", x);
    shift(e, "LSR", 3);
    zp(e, "EOR", high);
    zp(e, "STA", high);
}

static void finish_crc(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "page_read");
    imm(e, "LDX", 0);
    zp(e, "STX", WORK_OFFSET);
    zp(e, "STX", WORK_T);
    zp(e, "STX", WORK_U);
    encode_room(e, 64);
    encode_label(e, "crc_on");
    page_zp_x(e, "LDA", WORK_Q);
    zp(e, "EOR", WORK_T);
    crc_byte(e, WORK_T, WORK_U, WORK_V, "TAY", "TYA");
    one(e, "INX");
    imm(e, "CPX", BLOCK);
    branch(e, "BNE", "crc_on");
    zp(e, "LDA", WORK_T);
    zp(e, "STA", ENDED_HIGH);
    zp(e, "LDA", WORK_U);
    zp(e, "STA", ENDED_LOW);
}

static struct read_job single_job(const struct work *work) {
    struct encoder *e = work->e;
    struct read_job job = {0};
    const size_t begin = job_begin(work, "single");
    encode_label(e, "single_on");
    read_page(work, "LDA", 0, &job.page[0], begin);
    one(e, "CLC");
    zp(e, "ADC", WORK_SUM);
    zp(e, "STA", WORK_SUM);
    read_page(work, "LDA", 0, &job.page[1], begin);
    zp(e, "EOR", ENDED_HIGH);
    crc_byte(e, ENDED_HIGH, ENDED_LOW, PAGE_SCRATCH, "TAX", "TXA");
    one(e, "INY");
    one(e, "TYA");
    imm(e, "AND", work->chunk - 1);
    branch(e, "BNE", "single_on");
    page_leave(work, &job, begin, "single_read");
    return job;
}

static void single_crc(const struct work *work) {
    struct encoder *e = work->e;
    const struct read_job job = single_job(work);
    encode_label(e, "page");
    take_offset(e, work->chunk);
    zp(e, "LDA", WORK_PLACE);
    zp(e, "STA", ENDED_HIGH);
    zp(e, "STA", WORK_SUM);
    imm(e, "EOR", 0xFF);
    zp(e, "STA", ENDED_LOW); /* check_crc_start() */
    encode_label(e, "page_goes_on");
    job_copy(work, "single", job.bytes);
    page_aim(work, &job);
    job_run(work);
    encode_label(e, "single_read");
    zp(e, "STY", WORK_OFFSET);
    one(e, "TYA");
    branch(e, "BEQ", "page_read");
    work_jump(work, "work_done");
    encode_label(e, "page_read");
}

void page_crc(const struct work *work) {
    if (work_banked(work)) {
        const struct read_job block = block_job(work), last = last_job(work);
        page_stage(work, &block, &last);
        block_read(work);
        finish_crc(work);
    } else {
        single_crc(work);
    }
}
