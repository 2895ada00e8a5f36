/*
 * Pages: CRC and sum, and the byte that is wrong.
 *
 * The CRC's polynomial g(x) = x^16 + x^12 + x^5 + 1, squared three times, is g^8 = x^128 + x^96 + x^40 + 1
 * (in GF(2) a square only doubles exponents), whose terms are whole bytes apart. So a page is divided by g^8
 * first, with nothing but exclusive-or of bytes, sixteen at a time: as a block comes in, what the register
 * had in byte j goes to bytes j - 5 and j - 12 (`fold`), the block is added where those bytes stand, and what
 * that makes goes on to bytes j + 4 and j + 11 (`carry`). What is left, sixteen bytes, has the same remainder
 * by g as the page, and is taken bit by bit as usual.
 */
#include "rom/check_work.h"

enum {
    BLOCK = 16,
    HALF = BLOCK / 2,
    LOCATE_STEPS = 64, /* of the register, back, in a field */
    /* Of STAGE_LOCATE, in WORK_Q: what the CRC ended with, then that going back. */
    ENDED_HIGH = WORK_Q,
    ENDED_LOW,
    BACK_HIGH,
    BACK_LOW,
    BACK_AT,  /* place in the page */
    FOUND,    /* places that explain it */
    FOUND_AT, /* the last of them */
    FOUND_FLIP
};

struct read_job {
    size_t bytes;
    int select, home, page[4];
};

static void select_operand(const struct work *work, const char *note, int *operand, size_t begin) {
    if (work_banked(work)) {
        *operand = job_here(work, begin) + 1;
        encode(work->e, "LDA", MODE_ABSOLUTE, (uint16_t)(0xFF00 | work->first), note);
    }
}

static void leave(const struct work *work, int *home, size_t begin, const char *to) {
    select_operand(work, "the bank that came up", home, begin);
    work_jump(work, to);
    job_end(work, begin);
}

static void read_page(const struct work *work, const char *mnemonic, int low, int *high, size_t begin) {
    *high = job_here(work, begin) + 2;
    encode(work->e, mnemonic, MODE_ABSOLUTE_Y, (uint16_t)(0xF000 | low), NULL);
}

static void zp_x(struct encoder *e, const char *mnemonic, int base) {
    encode(e, mnemonic, MODE_ZERO_X, (uint16_t)base, NULL);
}

/* X runs from -8 to 0, Y on through the page. */
static struct read_job block_job(const struct work *work) {
    struct encoder *e = work->e;
    struct read_job job = {0};
    const size_t begin = job_begin(work, "block");
    select_operand(work, "the page's bank", &job.select, begin);
    imm(e, "LDX", 0x100 - HALF);
    encode_label(e, "block_on");
    for (int half = 0; half < 2; half++) {
        read_page(work, "LDA", HALF * half, &job.page[half], begin);
        zp_x(e, "EOR", WORK_Q + HALF * (half + 1));
        zp_x(e, "STA", WORK_Q + HALF * (half + 1));
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
    leave(work, &job.home, begin, "block_read");
    job.bytes = e->size - begin;
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
    select_operand(work, "the page's bank", &job.select, begin);
    encode(e, "LDA", MODE_ABSOLUTE_X, 0xFFF0, NULL);
    one(e, "TAY");
    zp_x(e, "EOR", WORK_Q);
    zp_x(e, "STA", WORK_Q);
    one(e, "TYA");
    one(e, "CLC");
    zp(e, "ADC", WORK_SUM);
    zp(e, "STA", WORK_SUM);
    one(e, "INX");
    imm(e, "CPX", BLOCK);
    branch(e, "BNE", "last_on");
    leave(work, &job.home, begin, "page_read");
    job.bytes = e->size - begin;
    return job;
}

static struct read_job byte_job(const struct work *work) {
    struct encoder *e = work->e;
    struct read_job job = {0};
    const size_t begin = job_begin(work, "byte");
    select_operand(work, "the page's bank", &job.select, begin);
    job.page[0] = job_here(work, begin) + 2;
    encode(e, "LDX", MODE_ABSOLUTE, 0xF000, NULL);
    leave(work, &job.home, begin, "byte_read");
    job.bytes = e->size - begin;
    return job;
}

/* The page of WORK_PLACE, its bank and the one to come back to. */
static void aim(const struct work *work, const struct read_job *job) {
    struct encoder *e = work->e;
    if (job->page[0] != 0) {
        zp(e, "LDA", WORK_PLACE);
        imm(e, "AND", 0xFF - work->window_high);
        imm(e, "ORA", work->window_high);
        for (int i = 0; i < 4 && job->page[i] != 0; i++) {
            zp(e, "STA", job->page[i]);
        }
    }
    if (work_banked(work)) {
        zp(e, "LDA", WORK_PLACE);
        shift(e, "LSR", 4);
        job_select(work, job->select);
        job_home(work, job->home);
    }
}

static void begin_page(const struct work *work) {
    struct encoder *e = work->e;
    imm(e, "LDX", BLOCK - 3);
    encode_label(e, "page_clear");
    zp_x(e, "STA", WORK_Q + 2);
    one(e, "DEX");
    branch(e, "BPL", "page_clear");
    zp(e, "LDA", WORK_PLACE);
    zp(e, "STA", WORK_Q);
    zp(e, "STA", WORK_SUM);
    imm(e, "EOR", 0xFF);
    zp(e, "STA", WORK_Q + 1); /* check_crc_start() */
}

static void page_stage(const struct work *work, const struct read_job *block, const struct read_job *last) {
    struct encoder *e = work->e;
    encode_label(e, "page");
    zp(e, "LDA", WORK_OFFSET);
    branch(e, "BNE", "page_goes_on");
    begin_page(work);
    if (work_banked(work)) {
        work_jump(work, "page_block");
        encode_label(e, "page_goes_on");
        imm(e, "CMP", 0x100 - BLOCK);
        branch(e, "BNE", "page_block");
        job_copy(work, "last", last->bytes);
        aim(work, last);
        job_run(work);
        encode_label(e, "page_block");
    } else {
        encode_label(e, "page_goes_on");
    }
    job_copy(work, "block", block->bytes);
    aim(work, block);
    zp(e, "LDY", WORK_OFFSET);
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
    if (work_banked(work)) {
        imm(e, "CPY", SCHEME_PAGE - BLOCK);
        branch(e, "BNE", "block_again");
        zp(e, "LDA", WORK_PLACE);
        imm(e, "AND", 0x0F);
        imm(e, "CMP", 0x0F);
        branch(e, "BEQ", "page_pause");
    }
    encode_label(e, "block_again");
    job_run(work);
    encode_label(e, "page_pause");
    zp(e, "STY", WORK_OFFSET);
    work_jump(work, "work_done");
}

/* x = t ^ t >> 4 from A, to WORK_X. */
static void half_on(struct encoder *e) {
    zp(e, "STA", WORK_X);
    shift(e, "LSR", 4);
    zp(e, "EOR", WORK_X);
    zp(e, "STA", WORK_X);
}

/* The remainder of sixteen bytes, byte by byte. With t = the register's high byte exclusive-or the byte, and
 * x = t ^ t >> 4 (which bits of g come in, x^12 having fed back), the high byte becomes the low one
 * ^ x << 4 ^ x >> 3, the low one x ^ x << 5 [A]. */
static void finish_crc(struct encoder *e) {
    imm(e, "LDX", 0);
    zp(e, "STX", WORK_T);
    zp(e, "STX", WORK_U);
    encode_room(e, 48);
    encode_label(e, "crc_on");
    zp_x(e, "LDA", WORK_Q);
    zp(e, "EOR", WORK_T);
    half_on(e);
    shift(e, "ASL", 4);
    one(e, "TAY");
    zp(e, "EOR", WORK_U);
    zp(e, "STA", WORK_T);
    one(e, "TYA");
    shift(e, "ASL", 1);
    zp(e, "EOR", WORK_X);
    zp(e, "STA", WORK_U);
    zp(e, "LDA", WORK_X);
    shift(e, "LSR", 3);
    zp(e, "EOR", WORK_T);
    zp(e, "STA", WORK_T);
    one(e, "INX");
    imm(e, "CPX", BLOCK);
    branch(e, "BNE", "crc_on");
}

static void page_read(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "page_read");
    finish_crc(e);
    set(e, 0, WORK_OFFSET);
    zp(e, "LDX", WORK_PLACE);
    zp(e, "STX", WORK_COUNT);
    zp(e, "LDA", WORK_T);
    zp(e, "STA", ENDED_HIGH);
    zp(e, "LDA", WORK_U);
    zp(e, "STA", ENDED_LOW);
    zp(e, "ORA", WORK_T);
    branch(e, "BEQ", "crc_right");
    imm(e, "LDA", 1);
    encode_label(e, "crc_right");
    zp(e, "LDX", WORK_SUM);
    branch(e, "BEQ", "sum_right");
    imm(e, "ORA", 2);
    encode_label(e, "sum_right");
    zp(e, "STA", WORK_WHAT);
    imm(e, "CMP", 0);
    branch(e, "BNE", "page_bad");
    encode_to(e, "JSR", MODE_ABSOLUTE, "page_next", 0, NULL);
    work_jump(work, "page_show");
    encode_label(e, "page_bad");
    zp(e, "INC", WORK_STAGE);
    encode_label(e, "page_show");
    zp(e, "LDA", WORK_WHAT);
    zp(e, "LDX", WORK_COUNT);
    work_item(work, CHECK_PAGE, "judge");
}

/* Those that the cartridge's RAM hides are left out; behind the last page come the banks. */
static void page_next(const struct work *work) {
    struct encoder *e = work->e;
    const bool hides = !check_page_shows(work->check, 0);
    encode_label(e, "page_next");
    work_next_stage(work, STAGE_PAGE);
    zp(e, "INC", WORK_PLACE);
    zp(e, "LDA", WORK_PLACE);
    if (hides) {
        imm(e, "AND", 0x0F);
        branch(e, "BNE", "page_shows");
        zp(e, "INC", WORK_PLACE);
        encode_label(e, "page_shows");
        zp(e, "LDA", WORK_PLACE);
    }
    imm(e, "CMP", scheme_pages(work->check->scheme));
    branch(e, "BCC", "page_is_next");
    set(e, 0, WORK_PLACE);
    work_next_stage(work, work_banked(work) ? STAGE_HOTSPOT : STAGE_VECTORS);
    encode_label(e, "page_is_next");
    one(e, "RTS");
}

static void ended_stage(const struct work *work, const char *label, int from, enum check_kind kind) {
    struct encoder *e = work->e;
    encode_label(e, label);
    zp(e, "INC", WORK_STAGE);
    zp(e, "LDA", from);
    zp(e, "LDX", WORK_PLACE);
    work_item(work, kind, "show");
}

/* Where too many pages are bad, no single byte is looked for. */
static void sum_stage(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "sum");
    zp(e, "LDX", WORK_PLACE);
    zp(e, "STX", WORK_COUNT);
    zp(e, "LDA", WORK_LEFT);
    branch(e, "BEQ", "sum_only");
    zp(e, "DEC", WORK_LEFT);
    zp(e, "INC", WORK_STAGE);
    zp(e, "LDA", ENDED_HIGH);
    zp(e, "STA", BACK_HIGH);
    zp(e, "LDA", ENDED_LOW);
    zp(e, "STA", BACK_LOW);
    imm(e, "LDA", 0);
    zp(e, "STA", BACK_AT);
    zp(e, "STA", FOUND);
    zp(e, "STA", FOUND_AT);
    work_jump(work, "sum_show");
    encode_label(e, "sum_only");
    encode_to(e, "JSR", MODE_ABSOLUTE, "page_next", 0, NULL);
    encode_label(e, "sum_show");
    zp(e, "LDA", WORK_SUM);
    zp(e, "LDX", WORK_COUNT);
    work_item(work, CHECK_SUM, "show");
}

/* A wrong byte leaves its flip in the register's high byte, as far back as it stands before the page's end.
 * The register goes a byte back: finish_crc()'s step undone, with nothing come in. */
static void step_back(struct encoder *e) {
    zp(e, "LDA", BACK_LOW);
    shift(e, "ASL", 5);
    zp(e, "EOR", BACK_LOW);
    zp(e, "STA", WORK_U); /* x */
    zp(e, "STA", WORK_X);
    shift(e, "LSR", 4);
    zp(e, "EOR", WORK_X);
    one(e, "TAX"); /* t */
    zp(e, "LDA", WORK_U);
    shift(e, "ASL", 4);
    zp(e, "EOR", BACK_HIGH);
    zp(e, "STA", WORK_T);
    zp(e, "LDA", WORK_U);
    shift(e, "LSR", 3);
    zp(e, "EOR", WORK_T);
    zp(e, "STX", BACK_HIGH);
    zp(e, "STA", BACK_LOW);
}

static void locate_stage(const struct work *work, const struct read_job *byte) {
    struct encoder *e = work->e;
    encode_label(e, "locate");
    imm(e, "LDY", LOCATE_STEPS);
    encode_room(e, 64);
    encode_label(e, "locate_on");
    step_back(e);
    zp(e, "DEC", BACK_AT);
    imm(e, "CMP", 0);
    branch(e, "BEQ", "locate_flip");
    encode_label(e, "locate_no");
    zp(e, "LDX", BACK_AT);
    branch(e, "BEQ", "located");
    one(e, "DEY");
    branch(e, "BNE", "locate_on");
    work_jump(work, "work_done");
    encode_label(e, "located");
    zp(e, "INC", WORK_STAGE);
    zp(e, "LDA", FOUND_AT);
    zp(e, "LDX", WORK_PLACE);
    work_item(work, CHECK_BYTE, "show");
    encode_label(e, "locate_flip");
    zp(e, "LDA", BACK_HIGH);
    branch(e, "BEQ", "locate_no");
    job_copy(work, "byte", byte->bytes);
    zp(e, "LDA", BACK_AT);
    zp(e, "STA", byte->page[0] - 1);
    aim(work, byte);
    job_run(work);
}

/* It is this byte if the sum is wrong by just what it reads too much. */
static void byte_read(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "byte_read");
    one(e, "TXA");
    zp(e, "EOR", BACK_HIGH);
    zp(e, "STA", WORK_T);
    one(e, "TXA");
    one(e, "SEC");
    zp(e, "SBC", WORK_T);
    zp(e, "CMP", WORK_SUM);
    branch(e, "BNE", "byte_no");
    zp(e, "INC", FOUND);
    zp(e, "LDA", BACK_AT);
    zp(e, "STA", FOUND_AT);
    zp(e, "LDA", BACK_HIGH);
    zp(e, "STA", FOUND_FLIP);
    encode_label(e, "byte_no");
    imm(e, "LDY", 1);
    work_jump(work, "locate_no");
}

static void xor_stage(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "exclusive_or");
    zp(e, "LDX", WORK_PLACE);
    zp(e, "STX", WORK_COUNT);
    encode_to(e, "JSR", MODE_ABSOLUTE, "page_next", 0, NULL);
    imm(e, "LDA", 0);
    zp(e, "LDX", FOUND);
    imm(e, "CPX", 1);
    branch(e, "BNE", "no_single_byte");
    zp(e, "LDA", FOUND_FLIP);
    encode_label(e, "no_single_byte");
    zp(e, "LDX", WORK_COUNT);
    work_item(work, CHECK_XOR, "show");
}

void work_pages(const struct work *work) {
    const struct read_job block = block_job(work);
    const struct read_job last = work_banked(work) ? last_job(work) : (struct read_job){0};
    const struct read_job byte = byte_job(work);
    page_stage(work, &block, &last);
    block_read(work);
    page_read(work);
    page_next(work);
    ended_stage(work, "crc_high", ENDED_HIGH, CHECK_CRC_HIGH);
    ended_stage(work, "crc_low", ENDED_LOW, CHECK_CRC_LOW);
    sum_stage(work);
    locate_stage(work, &byte);
    byte_read(work);
    xor_stage(work);
}
