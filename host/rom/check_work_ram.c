/*
 * Cartridge RAM by March C- (van de Goor 1991): any(w d); up(r d, w -d); up(r -d, w d); down(r d, w -d);
 * down(r -d, w d); any(r d), with each background as d. A field has one of the elements with a read.
 *
 * A store's indexed cycle before the write is at the same address [H MCS6500 Hardware Manual], and RAM
 * without a clock takes it for a write as well, of what happens to be on the bus (the operand's high byte,
 * $F0): each cell is written twice, last with what is meant. A bit goes the way it is meant to once and never
 * back. But a bit that turns at the first of the two writes has whatever it did to others of its byte written
 * over by the second: of couplings by a change within one byte half stay hidden in such RAM, of all other
 * faults none (tests/virtual/test_cart_ram.c). No instruction writes without something on the bus before.
 */
#include "rom/check_work.h"

enum {
    WRITE_AT = 0xE000 | SCHEME_RAM_WRITE | 0x1000,
    READ_AT = 0xE000 | SCHEME_RAM_READ | 0x1000,
    /* Kept through a round's backgrounds, in WORK_Q. */
    WRONG = WORK_Q, /* reads */
    WHEN,           /* of the first: background and element; 0: none */
    CELL,
    DIFFERENCE,
    /* Of an element. */
    BAD,
    BACKGROUND,
    LAST_ELEMENT = CHECK_ELEMENTS - 1,
    UPWARDS_FROM = 0,
    DOWNWARDS_FROM = SCHEME_RAM - 1
};

struct march_job {
    size_t bytes;
    int from, wanted, write_code, write, turn, when;
};

static struct march_job march_job(const struct work *work) {
    struct encoder *e = work->e;
    struct march_job job = {0};
    const size_t begin = job_begin(work, "march");
    job.from = job_here(work, begin) + 1;
    imm(e, "LDX", 0);
    encode_label(e, "march_on");
    encode(e, "LDA", MODE_ABSOLUTE_X, READ_AT, NULL);
    job.wanted = job_here(work, begin) + 1;
    imm(e, "EOR", 0);
    branch(e, "BNE", "march_bad");
    encode_label(e, "march_write");
    job.write_code = job_here(work, begin);
    job.write = job.write_code + 1;
    imm(e, "LDA", 0);
    encode(e, "STA", MODE_ABSOLUTE_X, WRITE_AT, NULL);
    job.turn = job_here(work, begin);
    one(e, "INX");
    branch(e, "BPL", "march_on");
    work_jump(work, "march_done");
    encode_label(e, "march_bad");
    zp(e, "STA", BAD);
    zp(e, "INC", WRONG);
    branch(e, "BNE", "march_counted");
    zp(e, "DEC", WRONG);
    encode_label(e, "march_counted");
    zp(e, "LDY", WHEN);
    branch(e, "BNE", "march_write");
    zp(e, "STX", CELL);
    zp(e, "STA", DIFFERENCE);
    job.when = job_here(work, begin) + 1;
    imm(e, "LDY", 0);
    zp(e, "STY", WHEN);
    branch(e, "BCC", "march_write"); /* always */
    job_end(work, begin);
    job.bytes = e->size - begin;
    return job;
}

static int code_of(const char *mnemonic, enum mode mode) {
    uint8_t code = 0;
    opcode_find(mnemonic, mode, &code);
    return code;
}

/* Before a background's first element with a read. */
static void fill_stage(const struct work *work) {
    struct encoder *e = work->e;
    zp(e, "LDA", WORK_COUNT);
    branch(e, "BNE", "ram_filled");
    zp(e, "STA", WORK_WHAT);
    zp(e, "LDX", WORK_PLACE);
    branch(e, "BNE", "ram_same_round");
    zp(e, "STA", WRONG);
    zp(e, "STA", WHEN);
    encode_label(e, "ram_same_round");
    zp(e, "LDA", WORK_PLACE);
    imm(e, "AND", CHECK_BACKGROUNDS - 1);
    one(e, "TAX");
    encode_to(e, "LDA", MODE_ABSOLUTE_X, "backgrounds", 0, NULL);
    zp(e, "STA", BACKGROUND);
    imm(e, "LDX", SCHEME_RAM - 1);
    encode_room(e, 16);
    encode_label(e, "ram_fill");
    encode(e, "STA", MODE_ABSOLUTE_X, WRITE_AT, NULL);
    one(e, "DEX");
    branch(e, "BPL", "ram_fill");
    encode_label(e, "ram_filled");
}

/* Elements count from 1 here. */
static void aim(const struct work *work, const struct march_job *job) {
    struct encoder *e = work->e;
    zp(e, "INC", WORK_COUNT);
    zp(e, "LDA", WORK_PLACE);
    shift(e, "ASL", 4);
    zp(e, "ORA", WORK_COUNT);
    zp(e, "STA", job->when);
    encode_room(e, 80);
    zp(e, "LDA", WORK_COUNT);
    encode_each(e);
    imm(e, "CMP", LAST_ELEMENT);
    branch(e, "BCC", "march_not_last");
    set(e, code_of("BCC", MODE_RELATIVE), job->write_code);
    imm(e, "LDY", 3); /* over the store */
    imm(e, "LDA", LAST_ELEMENT);
    encode_label(e, "march_not_last");
    one(e, "TAX");
    imm(e, "AND", 1);
    one(e, "SEC");
    imm(e, "SBC", 1); /* 0 where d is read, else all ones */
    zp(e, "EOR", BACKGROUND);
    zp(e, "STA", job->wanted);
    imm(e, "CPX", LAST_ELEMENT);
    branch(e, "BEQ", "march_reads");
    imm(e, "EOR", 0xFF);
    one(e, "TAY");
    encode_label(e, "march_reads");
    zp(e, "STY", job->write);
    imm(e, "CPX", 3); /* elements 3 and 4 go down */
    branch(e, "BCC", "march_up");
    imm(e, "CPX", LAST_ELEMENT);
    branch(e, "BCS", "march_up");
    set(e, DOWNWARDS_FROM, job->from);
    set(e, code_of("DEX", MODE_IMPLIED), job->turn);
    encode_label(e, "march_up");
    one(e, "CLC");
    set(e, 0, BAD);
}

static void march_stage(const struct work *work, const struct march_job *job) {
    struct encoder *e = work->e;
    encode_label(e, "ram");
    fill_stage(work);
    job_copy(work, "march", job->bytes);
    aim(work, job);
    job_run(work);
    encode_label(e, "march_done");
    zp(e, "LDA", BAD);
    branch(e, "BEQ", "march_good");
    zp(e, "LDX", WORK_COUNT);
    encode_to(e, "LDA", MODE_ABSOLUTE_X, "element_bits", 0, NULL);
    zp(e, "ORA", WORK_WHAT);
    zp(e, "STA", WORK_WHAT);
    encode_label(e, "march_good");
    zp(e, "LDA", WORK_COUNT);
    imm(e, "CMP", LAST_ELEMENT);
    branch(e, "BEQ", "march_over");
    work_jump(work, "work_done");
    encode_label(e, "march_over");
    set(e, 0, WORK_COUNT);
    zp(e, "LDX", WORK_PLACE);
    zp(e, "INC", WORK_PLACE);
    imm(e, "CPX", CHECK_BACKGROUNDS - 1);
    branch(e, "BNE", "march_show");
    zp(e, "STA", WORK_PLACE);
    imm(e, "LDA", STAGE_QUIET);
    zp(e, "LDY", WHEN);
    branch(e, "BEQ", "march_all_good");
    imm(e, "LDA", STAGE_RAM_CELL);
    encode_label(e, "march_all_good");
    zp(e, "STA", WORK_STAGE);
    encode_label(e, "march_show");
    zp(e, "LDA", WORK_WHAT);
    work_item(work, CHECK_RAM, "judge");
}

static void bad_stages(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "ram_cell");
    work_next_stage(work, STAGE_RAM_WHEN);
    zp(e, "LDA", DIFFERENCE);
    zp(e, "LDX", CELL);
    work_item(work, CHECK_RAM_CELL, "show");
    encode_label(e, "ram_when");
    work_next_stage(work, STAGE_QUIET);
    zp(e, "LDA", WRONG);
    zp(e, "LDX", WHEN);
    work_item(work, CHECK_RAM_WHEN, "show");
}

void work_ram(const struct work *work) {
    static const uint8_t bits[CHECK_ELEMENTS] = {1, 2, 4, 8, 16, 32};
    const struct march_job job = march_job(work);
    march_stage(work, &job);
    bad_stages(work);
    encode_room(work->e, CHECK_BACKGROUNDS + CHECK_ELEMENTS);
    encode_label(work->e, "backgrounds");
    encode_data(work->e, check_backgrounds, CHECK_BACKGROUNDS, "of March C-");
    encode_label(work->e, "element_bits");
    encode_data(work->e, bits, CHECK_ELEMENTS, NULL);
}
