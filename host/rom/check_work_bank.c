/*
 * Banks: what selects them, what does not, and the vectors. Each bank's own number, at CHECK_BANK_AT, tells
 * which one is there.
 */
#include "rom/check_work.h"

#include "slotjig/mailbox.h"

#include <stdio.h>

enum {
    BANK_AT = 0xE000 | CHECK_BANK_AT,
    VECTORS = 0xFFFA,
    VECTOR_BYTES = 6,
    OVER_PAGE = 0xFF, /* Y: what is indexed by it is a page's end away, and one place below */
    MANNER_SHIFT = 3,
    TO_MASK = 7,
    WARM_TOO = WORK_Q + 8, /* says, with RAM_WARM and the stage, that a start is not power-on */
    WARM_SIGN = 0xB4
};

struct bank_job {
    size_t bytes;
    int select, home, code, operand, value, wanted;
};

static void every_bank(const struct work *work) {
    encode(work->e, "LDA", MODE_ABSOLUTE_X, (uint16_t)(0xFF00 | work->first), "from each bank");
}

static void leave(const struct work *work, struct bank_job *job, size_t begin, const char *to) {
    job->home = job_here(work, begin) + 1;
    encode(work->e, "LDA", MODE_ABSOLUTE, (uint16_t)(0xFF00 | work->first), "the bank that came up");
    work_jump(work, to);
    job_end(work, begin);
    job->bytes = work->e->size - begin;
}

/* What is written to a hotspot is what the cartridge has there: a write makes nobody drive against it. */
static struct bank_job hotspot_job(const struct work *work) {
    struct encoder *e = work->e;
    struct bank_job job = {0};
    const size_t begin = job_begin(work, "hot_job");
    job.value = job_here(work, begin) + 1;
    encode(e, "LDA", MODE_ABSOLUTE, (uint16_t)(0xFF00 | work->first), NULL);
    zp(e, "STA", WORK_Q);
    encode_label(e, "hot_on");
    every_bank(work);
    zp(e, "LDA", WORK_Q);
    job.code = job_here(work, begin);
    job.operand = job.code + 1;
    encode(e, "STA", MODE_ABSOLUTE, (uint16_t)(0xFF00 | work->first), "one of the manners");
    encode(e, "LDA", MODE_ABSOLUTE, BANK_AT, NULL);
    job.wanted = job_here(work, begin) + 1;
    imm(e, "EOR", 0);
    imm(e, "CMP", 1);
    zp(e, "ROL", WORK_WHAT);
    one(e, "DEX");
    branch(e, "BPL", "hot_on");
    leave(work, &job, begin, "hot_done");
    return job;
}

/* The instruction's code in A, from the manner in X; X is less than 0 for READ and WRITE afterwards. */
static void manner_code(struct encoder *e) {
    static const struct {
        const char *mnemonic;
        enum mode mode;
    } manners[CHECK_MANNERS] = {[CHECK_READ] = {"LDA", MODE_ABSOLUTE},
                                [CHECK_WRITE] = {"STA", MODE_ABSOLUTE},
                                [CHECK_INDEXED_READ] = {"LDA", MODE_ABSOLUTE_Y},
                                [CHECK_INDEXED_WRITE] = {"STA", MODE_ABSOLUTE_Y}};
    for (int manner = 0; manner < CHECK_MANNERS; manner++) {
        uint8_t code = 0;
        opcode_find(manners[manner].mnemonic, manners[manner].mode, &code);
        imm(e, "LDA", code);
        if (manner < CHECK_MANNERS - 1) {
            one(e, "DEX");
            branch(e, "BMI", "manner_known");
        }
    }
    encode_label(e, "manner_known");
}

static void hotspot_stage(const struct work *work, const struct bank_job *job) {
    struct encoder *e = work->e;
    encode_label(e, "hotspot");
    job_copy(work, "hot_job", job->bytes);
    job_home(work, job->home);
    zp(e, "LDA", WORK_PLACE);
    encode_each(e);
    imm(e, "AND", CHECK_MANNERS * 8 - 1);
    one(e, "TAY");
    shift(e, "LSR", MANNER_SHIFT);
    one(e, "TAX");
    encode_room(e, 64);
    manner_code(e);
    zp(e, "STA", job->code);
    one(e, "TYA");
    imm(e, "CPY", CHECK_INDEXED_READ * 8); /* carry: an indexed one, whose operand is one higher */
    imm(e, "AND", work->banks - 1);
    zp(e, "STA", job->wanted);
    imm(e, "ADC", work->first);
    zp(e, "STA", job->operand);
    zp(e, "LDA", job->wanted);
    job_select(work, job->value);
    imm(e, "LDX", work->banks - 1);
    imm(e, "LDY", 0);
    zp(e, "STY", WORK_WHAT);
    imm(e, "LDY", OVER_PAGE);
    job_run(work);
    encode_label(e, "hot_done");
    zp(e, "LDX", WORK_PLACE);
    zp(e, "INC", WORK_PLACE);
    if (work->banks < 8) {
        one(e, "TXA");
        imm(e, "AND", TO_MASK);
        imm(e, "CMP", work->banks - 1);
        branch(e, "BNE", "hot_next");
        one(e, "TXA");
        one(e, "CLC");
        imm(e, "ADC", 8 - (work->banks - 1));
        zp(e, "STA", WORK_PLACE);
        encode_label(e, "hot_next");
    }
    zp(e, "LDA", WORK_PLACE);
    imm(e, "CMP", CHECK_MANNERS * 8);
    branch(e, "BNE", "hot_show");
    set(e, 0, WORK_PLACE);
    zp(e, "INC", WORK_STAGE);
    encode_label(e, "hot_show");
    zp(e, "LDA", WORK_WHAT);
    work_item(work, CHECK_HOTSPOT, "judge");
}

/* Whichever bank is selected, the neighbour's read leaves it. */
static struct bank_job neighbour_job(const struct work *work) {
    struct encoder *e = work->e;
    struct bank_job job = {0};
    const size_t begin = job_begin(work, "near_job");
    encode_label(e, "near_on");
    every_bank(work);
    encode(e, "LDY", MODE_ABSOLUTE, BANK_AT, NULL);
    job.operand = job_here(work, begin) + 1;
    encode(e, "LDA", MODE_ABSOLUTE, (uint16_t)(0x1F00 | work->first), "the neighbour");
    one(e, "TYA");
    encode(e, "EOR", MODE_ABSOLUTE, BANK_AT, NULL);
    zp(e, "ORA", WORK_Q);
    zp(e, "STA", WORK_Q);
    one(e, "DEX");
    branch(e, "BPL", "near_on");
    leave(work, &job, begin, "near_done");
    return job;
}

enum { NEAR_ROUND_HOTSPOT = 4, PLACE_BELOW = CHECK_NEIGHBOURS - 2 };

/* The place, and how many hotspots have a neighbour there. */
static void neighbour_place(const struct work *work) {
    struct encoder *e = work->e;
    set(e, 0, WORK_WHAT);
    imm(e, "LDY", work->banks - 1);
    zp(e, "LDX", WORK_PLACE);
    encode_each(e);
    imm(e, "CPX", CHECK_NEIGHBOURS);
    branch(e, "BCC", "near_place");
    imm(e, "LDX", CHECK_NEIGHBOURS - 1);
    encode_label(e, "near_place");
    imm(e, "CPX", PLACE_BELOW);
    branch(e, "BCC", "near_all");
    imm(e, "LDY", 0);
    encode_label(e, "near_all");
    zp(e, "STY", WORK_COUNT);
    zp(e, "STX", WORK_Q + 1);
}

/* The neighbour of one hotspot after the other. */
static void neighbour_each(const struct work *work, const struct bank_job *job) {
    struct encoder *e = work->e;
    encode_room(e, 96);
    encode_label(e, "near_hotspot");
    zp(e, "LDX", WORK_Q + 1);
    encode_to(e, "LDA", MODE_ABSOLUTE_X, "near_high", 0, NULL);
    zp(e, "STA", job->operand + 1);
    zp(e, "LDA", WORK_COUNT);
    one(e, "CLC");
    imm(e, "ADC", work->first);
    encode_to(e, "EOR", MODE_ABSOLUTE_X, "near_low", 0, NULL);
    zp(e, "STA", job->operand);
    imm(e, "CPX", NEAR_ROUND_HOTSPOT);
    branch(e, "BCS", "near_read");
    one(e, "SEC");
    imm(e, "SBC", work->first);
    imm(e, "CMP", work->banks);
    branch(e, "BCC", "near_counted"); /* a hotspot itself */
    encode_label(e, "near_read");
    set(e, 0, WORK_Q);
    imm(e, "LDX", work->banks - 1);
    job_run(work);
    encode_label(e, "near_done");
    zp(e, "LDA", WORK_Q);
    imm(e, "CMP", 1);
    encode_label(e, "near_counted");
    zp(e, "ROL", WORK_WHAT);
    zp(e, "DEC", WORK_COUNT);
    branch(e, "BPL", "near_hotspot");
}

static void neighbour_stage(const struct work *work, const struct bank_job *job) {
    struct encoder *e = work->e;
    encode_label(e, "neighbour");
    job_copy(work, "near_job", job->bytes);
    job_home(work, job->home);
    neighbour_place(work);
    neighbour_each(work, job);
    zp(e, "LDX", WORK_PLACE);
    zp(e, "INC", WORK_PLACE);
    imm(e, "CPX", CHECK_NEIGHBOURS - 1);
    branch(e, "BNE", "near_show");
    set(e, 0, WORK_PLACE);
    set(e, STAGE_VECTORS, WORK_STAGE);
    encode_label(e, "near_show");
    zp(e, "LDA", WORK_WHAT);
    work_item(work, CHECK_NEIGHBOUR, "judge");
}

/* What turns a hotspot's address into its neighbour's: the low byte to be exclusive-or'd, the high one as it
 * is. */
static void neighbour_tables(const struct work *work) {
    uint8_t low[CHECK_NEIGHBOURS], high[CHECK_NEIGHBOURS];
    for (int place = 0; place < CHECK_NEIGHBOURS; place++) {
        const int line = place < PLACE_BELOW ? 1 << place : 0;
        const int beside = place == PLACE_BELOW  ? work->first - 1
                           : place > PLACE_BELOW ? work->first + work->banks
                                                 : work->first;
        low[place] = (uint8_t)((line & 0xFF) | (work->first ^ beside));
        high[place] = (uint8_t)(0x1F ^ line >> 8);
    }
    encode_room(work->e, 2 * CHECK_NEIGHBOURS);
    encode_label(work->e, "near_low");
    encode_data(work->e, low, CHECK_NEIGHBOURS, "by line, the low byte's change");
    encode_label(work->e, "near_high");
    encode_data(work->e, high, CHECK_NEIGHBOURS, "the high byte");
}

/* The hotspots are among these bytes, so the bank is selected before each. */
static struct bank_job vectors_job(const struct work *work) {
    struct encoder *e = work->e;
    struct bank_job job = {0};
    const size_t begin = job_begin(work, "vec_job");
    imm(e, "LDX", VECTOR_BYTES - 1);
    encode_label(e, "vec_on");
    job.select = job_here(work, begin) + 1;
    encode(e, "LDA", MODE_ABSOLUTE, (uint16_t)(0xFF00 | work->first), NULL);
    encode(e, "LDA", MODE_ABSOLUTE_X, VECTORS, NULL);
    encode(e, "STA", MODE_ZERO_X, WORK_Q, NULL);
    one(e, "DEX");
    branch(e, "BPL", "vec_on");
    leave(work, &job, begin, "vec_read");
    return job;
}

static void start(struct encoder *e) {
    encode(e, "JMP", MODE_INDIRECT, 0xE000 | RESET_VECTOR, "starts there");
}

static struct bank_job start_job(const struct work *work) {
    struct encoder *e = work->e;
    struct bank_job job = {0};
    const size_t begin = job_begin(work, "start_job");
    job.select = job_here(work, begin) + 1;
    encode(e, "LDA", MODE_ABSOLUTE, (uint16_t)(0xFF00 | work->first), NULL);
    start(e);
    job_end(work, begin);
    job.bytes = e->size - begin;
    return job;
}

static void aim(const struct work *work, const struct bank_job *job) {
    zp(work->e, "LDA", WORK_PLACE);
    job_select(work, job->select);
    if (job->home != 0) {
        job_home(work, job->home);
    }
}

/* Into the mask, the words in the order $FFFA, $FFFE, $FFFC: whether each is another than the start's. */
static void compare_words(const struct work *work) {
    struct encoder *e = work->e;
    const enum mode mode = work_banked(work) ? MODE_ZERO_X : MODE_ABSOLUTE_X;
    const uint16_t words = work_banked(work) ? WORK_Q : VECTORS;
    encode_room(e, 48);
    imm(e, "LDX", 0);
    zp(e, "STX", WORK_WHAT);
    encode_label(e, "vec_word");
    encode(e, "LDA", mode, words, NULL);
    encode_to(e, "EOR", MODE_ABSOLUTE, "start_at", 0, NULL);
    zp(e, "STA", WORK_T);
    encode(e, "LDA", mode, (uint16_t)(words + 1), NULL);
    encode_to(e, "EOR", MODE_ABSOLUTE, "start_at", 1, NULL);
    zp(e, "ORA", WORK_T);
    imm(e, "CMP", 1);
    zp(e, "ROL", WORK_WHAT);
    one(e, "DEX");
    one(e, "DEX");
    branch(e, "BEQ", "vec_compared");
    branch(e, "BPL", "vec_word");
    imm(e, "LDX", VECTOR_BYTES - 2);
    branch(e, "BNE", "vec_word");
    encode_label(e, "vec_compared");
}

/* A start is tried where the word for it is right, and no byte of the bank was wrong in this round: what is
 * broken there is known then, and the picture need not be lost for it. */
static void try_start(const struct work *work, const struct bank_job *job) {
    struct encoder *e = work->e;
    zp(e, "LDA", WORK_WHAT);
    shift(e, "LSR", 1);
    branch(e, "BCS", "vec_show");
    if (work_banked(work)) {
        zp(e, "LDX", WORK_PLACE);
        encode_to(e, "LDA", MODE_ABSOLUTE_X, "bank_bits", 0, NULL);
        zp(e, "AND", WORK_BAD);
        branch(e, "BNE", "vec_show");
    }
    set(e, WARM_SIGN, WARM_TOO);
    if (work_banked(work)) {
        job_copy(work, "start_job", job->bytes);
        aim(work, job);
    }
    set(e, WORK_WARM, RAM_WARM);
    if (work_banked(work)) {
        job_run(work);
    } else {
        start(e);
    }
    encode_label(e, "warm");
    set(e, 0, RAM_WARM);
    if (work_banked(work)) {
        zp(e, "LDX", RAM_HOME);
        every_bank(work);
    }
}

static void vectors_stage(const struct work *work) {
    struct encoder *e = work->e;
    struct bank_job words = {0}, begun = {0};
    if (work_banked(work)) {
        words = vectors_job(work);
        begun = start_job(work);
        encode_label(e, "vectors_of");
        job_copy(work, "vec_job", words.bytes);
        aim(work, &words);
        job_run(work);
        encode_label(e, "vec_read");
    } else {
        encode_label(e, "vectors_of");
    }
    compare_words(work);
    encode_room(e, work_banked(work) ? 88 : 56);
    try_start(work, &begun);
    encode_label(e, "vec_show");
    zp(e, "LDX", WORK_PLACE);
    zp(e, "INC", WORK_PLACE);
    imm(e, "CPX", work->banks - 1);
    branch(e, "BNE", "vec_next");
    set(e, 0, WORK_PLACE);
    if (work->check->ram) {
        zp(e, "STA", WORK_COUNT);
    }
    imm(e, "LDA", work->check->ram ? STAGE_RAM : STAGE_QUIET);
    zp(e, "STA", WORK_STAGE);
    encode_label(e, "vec_next");
    zp(e, "LDA", WORK_WHAT);
    work_item(work, CHECK_VECTORS, "judge");
    encode_room(e, 2);
    encode_label(e, "start_at");
    encode_address(e, "reset");
}

static void is_warm(struct encoder *e, int at, int sign) {
    zp(e, "LDA", at);
    imm(e, "CMP", sign);
    branch(e, "BNE", "cold");
}

void check_work_warm(struct encoder *encoder, const struct cart_check *check) {
    (void)check;
    is_warm(encoder, RAM_WARM, WORK_WARM);
    is_warm(encoder, WARM_TOO, WARM_SIGN);
    is_warm(encoder, WORK_STAGE, STAGE_VECTORS);
    encode_to(encoder, "JMP", MODE_ABSOLUTE, "warm", 0, NULL);
    encode_never(encoder); /* at power-on */
}

void work_banks(const struct work *work) {
    static const uint8_t bits[SCHEME_BANKS_MAX] = {1, 2, 4, 8, 16, 32, 64, 128};
    vectors_stage(work);
    if (work_banked(work)) {
        encode_room(work->e, SCHEME_BANKS_MAX);
        encode_label(work->e, "bank_bits");
        encode_data(work->e, bits, SCHEME_BANKS_MAX, NULL);
        const struct bank_job hotspot = hotspot_job(work), neighbour = neighbour_job(work);
        hotspot_stage(work, &hotspot);
        neighbour_stage(work, &neighbour);
        neighbour_tables(work);
    }
}
