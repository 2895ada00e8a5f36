/*
 * Pages: what a bad one ended with, and the byte that is wrong.
 */
#include "rom/check_work_page.h"

enum {
    LOCATE_STEPS = 64, /* of the register, back, in a field */
    /* Of STAGE_LOCATE, in WORK_Q. The register goes back in place. */
    BACK_HIGH = ENDED_HIGH,
    BACK_LOW = ENDED_LOW,
    BACK_AT = PAGE_SCRATCH, /* place in the page */
    FOUND,                  /* places that explain it */
    FOUND_AT,               /* the last of them */
    FOUND_FLIP
};

void page_select(const struct work *work, const char *note, int *operand, size_t begin) {
    if (work_banked(work)) {
        *operand = job_here(work, begin) + 1;
        encode(work->e, "LDA", MODE_ABSOLUTE, (uint16_t)(0xFF00 | work->first), note);
    }
}

void page_leave(const struct work *work, struct read_job *job, size_t begin, const char *to) {
    page_select(work, "the bank that came up", &job->home, begin);
    work_jump(work, to);
    job_end(work, begin);
    job->bytes = work->e->size - begin;
}

static void page_high(const struct work *work) {
    zp(work->e, "LDA", WORK_PLACE);
    imm(work->e, "AND", 0xFF - work->window_high);
    imm(work->e, "ORA", work->window_high);
}

void page_aim(const struct work *work, const struct read_job *job) {
    struct encoder *e = work->e;
    if (job->page[0] != 0) {
        page_high(work);
        for (int i = 0; i < PAGE_OPERANDS && job->page[i] != 0; i++) {
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

static struct read_job byte_job(const struct work *work) {
    struct read_job job = {0};
    const size_t begin = job_begin(work, "byte");
    page_select(work, "the page's bank", &job.select, begin);
    job.page[0] = job_here(work, begin) + 2;
    encode(work->e, "LDX", MODE_ABSOLUTE, 0xF000, NULL);
    page_leave(work, &job, begin, "byte_read");
    return job;
}

static void page_judged(const struct work *work) {
    struct encoder *e = work->e;
    encode_room(e, work_banked(work) ? 64 : 48);
    zp(e, "LDA", ENDED_HIGH);
    zp(e, "ORA", ENDED_LOW);
    branch(e, "BEQ", "crc_right");
    imm(e, "LDA", 1);
    encode_label(e, "crc_right");
    zp(e, "LDX", WORK_SUM);
    zp(e, "STX", ENDED_SUM);
    branch(e, "BEQ", "sum_right");
    imm(e, "ORA", 2);
    encode_label(e, "sum_right");
    one(e, "TAY");
    branch(e, "BNE", "page_bad");
    encode_to(e, "JSR", MODE_ABSOLUTE, "page_next", 0, NULL);
    imm(e, "LDA", 0);
    branch(e, "BEQ", "page_show");
    encode_label(e, "page_bad");
    zp(e, "INC", WORK_STAGE);
    if (work_banked(work)) {
        zp(e, "LDA", WORK_PLACE);
        shift(e, "LSR", 4);
        one(e, "TAX");
        encode_to(e, "LDA", MODE_ABSOLUTE_X, "bank_bits", 0, NULL);
        zp(e, "ORA", WORK_BAD);
        zp(e, "STA", WORK_BAD);
        one(e, "TYA");
    }
    imm(e, "LDX", 0);
    zp(e, "STX", BACK_AT);
    zp(e, "STX", FOUND);
    zp(e, "STX", FOUND_AT);
    zp(e, "LDX", WORK_PLACE);
    encode_label(e, "page_show");
    work_item(work, CHECK_PAGE, "judge");
}

/* X: the page that there was. Those that the cartridge's RAM hides are left out; behind the last one come the
 * banks. */
static void page_next(const struct work *work) {
    struct encoder *e = work->e;
    const bool hides = !check_page_shows(work->check, 0);
    encode_label(e, "page_next");
    zp(e, "LDX", WORK_PLACE);
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
    imm(e, "LDA", STAGE_PAGE);
    branch(e, "BCC", "page_is_next");
    zp(e, "STA", WORK_PLACE);
    imm(e, "LDA", work_banked(work) ? STAGE_HOTSPOT : STAGE_VECTORS);
    encode_label(e, "page_is_next");
    zp(e, "STA", WORK_STAGE);
    one(e, "RTS");
}

/* One after the other, and on to STAGE_LOCATE. */
static void ended_stages(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "ended");
    zp(e, "LDX", WORK_STAGE);
    encode_each(e);
    one(e, "INX");
    zp(e, "STX", WORK_STAGE);
    one(e, "TXA");
    one(e, "TAY");
    page_zp_x(e, "LDA", ENDED_HIGH - STAGE_CRC_HIGH - 1);
    zp(e, "LDX", WORK_PLACE);
    work_jump(work, "show");
}

/* A wrong byte leaves its flip in the register's high byte, as far back as it stands before the page's end.
 * The register goes a byte back: finish_crc()'s step undone, with nothing come in. */
static void step_back(struct encoder *e) {
    zp(e, "DEC", BACK_AT);
    zp(e, "LDA", BACK_LOW);
    shift(e, "ASL", 5);
    zp(e, "EOR", BACK_LOW);
    zp(e, "STA", WORK_U); /* x */
    shift(e, "LSR", 4);
    zp(e, "EOR", WORK_U);
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

/* It is this byte if the sum is wrong by just what it reads too much. */
static void is_it(const struct work *work) {
    struct encoder *e = work->e;
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
    imm(e, "LDY", 1); /* the field's last step */
    work_jump(work, "locate_no");
}

static void read_byte(const struct work *work, const struct read_job *byte) {
    struct encoder *e = work->e;
    if (work_banked(work)) {
        job_copy(work, "byte", byte->bytes);
        zp(e, "LDA", BACK_AT);
        zp(e, "STA", byte->page[0] - 1);
        page_aim(work, byte);
        job_run(work);
        encode_label(e, "byte_read");
    } else {
        page_high(work);
        zp(e, "STA", WORK_T + 1);
        set(e, 0, WORK_T);
        zp(e, "LDY", BACK_AT);
        encode(e, "LDA", MODE_INDIRECT_Y, WORK_T, NULL);
        one(e, "TAX");
    }
}

/* Where too many pages are bad, no single byte is looked for. */
static void take_locate(const struct work *work) {
    struct encoder *e = work->e;
    zp(e, "LDA", BACK_AT);
    branch(e, "BNE", "locate_taken");
    zp(e, "LDA", WORK_LEFT);
    branch(e, "BNE", "locate_take");
    encode_to(e, "JSR", MODE_ABSOLUTE, "page_next", 0, NULL);
    work_jump(work, "work_done");
    encode_label(e, "locate_take");
    zp(e, "DEC", WORK_LEFT);
    encode_label(e, "locate_taken");
}

static void locate_stage(const struct work *work) {
    struct encoder *e = work->e;
    const struct read_job byte = work_banked(work) ? byte_job(work) : (struct read_job){0};
    encode_label(e, "locate");
    if (work_banked(work)) {
        take_locate(work);
    }
    imm(e, "LDY", LOCATE_STEPS);
    encode_room(e, 72);
    encode_label(e, "locate_on");
    step_back(e);
    branch(e, "BEQ", "locate_flip"); /* a store leaves the flags alone */
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
    read_byte(work, &byte);
    is_it(work);
}

static void xor_stage(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "exclusive_or");
    encode_to(e, "JSR", MODE_ABSOLUTE, "page_next", 0, NULL);
    imm(e, "LDA", 0);
    zp(e, "LDY", FOUND);
    one(e, "DEY");
    branch(e, "BNE", "no_single_byte");
    zp(e, "LDA", FOUND_FLIP);
    encode_label(e, "no_single_byte");
    work_item(work, CHECK_XOR, "show");
}

void work_pages(const struct work *work) {
    page_crc(work);
    page_judged(work);
    page_next(work);
    ended_stages(work);
    locate_stage(work);
    xor_stage(work);
}
