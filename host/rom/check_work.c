/*
 * What the console does between `work` and `work_done`: a stage a field, chosen by WORK_STAGE.
 */
#include "rom/check_work.h"

#include <stdio.h>

enum { WHOLE_PAGE = 12200 /* cycles that a window has in which all of a page is read */ };

static const char *const stage_labels[STAGES] = {[STAGE_PAGE] = "page",
                                                 [STAGE_CRC_HIGH] = "ended",
                                                 [STAGE_CRC_LOW] = "ended",
                                                 [STAGE_SUM] = "ended",
                                                 [STAGE_LOCATE] = "locate",
                                                 [STAGE_XOR] = "exclusive_or",
                                                 [STAGE_HOTSPOT] = "hotspot",
                                                 [STAGE_NEIGHBOUR] = "neighbour",
                                                 [STAGE_VECTORS] = "vectors_of",
                                                 [STAGE_RAM] = "ram",
                                                 [STAGE_RAM_CELL] = "ram_cell",
                                                 [STAGE_RAM_WHEN] = "ram_when",
                                                 [STAGE_QUIET] = "quiet_ram",
                                                 [STAGE_QUIET_PORTS] = "quiet_ports",
                                                 [STAGE_QUIET_TIMER] = "quiet_timer",
                                                 [STAGE_QUIET_OPEN] = "quiet_open",
                                                 [STAGE_ROUND] = "round",
                                                 [STAGE_ERRORS] = "errors",
                                                 [STAGE_START] = "start"};

size_t job_begin(const struct work *work, const char *name) {
    encode_room(work->e, CHECK_JOB_MAX);
    encode_label(work->e, name);
    return work->e->size;
}

int job_here(const struct work *work, size_t begin) {
    return CHECK_JOB_AT + (int)(work->e->size - begin);
}

void job_end(const struct work *work, size_t begin) {
    if (work->e->size - begin > CHECK_JOB_MAX && work->e->problem.kind == PROBLEM_NONE) {
        problem_set(&work->e->problem, PROBLEM_INPUT, "image: a job of %zu bytes does not fit into RAM",
                    work->e->size - begin);
    }
}

void job_copy(const struct work *work, const char *name, size_t bytes) {
    struct encoder *e = work->e;
    char again[LABEL_MAX];
    snprintf(again, sizeof again, "copy_%s", name);
    encode_room(e, 10);
    imm(e, "LDX", (int)bytes - 1);
    encode_label(e, again);
    encode_to(e, "LDA", MODE_ABSOLUTE_X, name, 0, NULL);
    encode(e, "STA", MODE_ZERO_X, CHECK_JOB_AT, NULL);
    one(e, "DEX");
    branch(e, "BPL", again);
}

void job_run(const struct work *work) {
    encode(work->e, "JMP", MODE_ABSOLUTE, CHECK_JOB_AT, "the copy in RAM");
}

void job_select(const struct work *work, int operand) {
    one(work->e, "CLC");
    imm(work->e, "ADC", work->first);
    zp(work->e, "STA", operand);
}

void job_home(const struct work *work, int operand) {
    zp(work->e, "LDA", RAM_HOME);
    job_select(work, operand);
}

void work_jump(const struct work *work, const char *label) {
    encode_to(work->e, "JMP", MODE_ABSOLUTE, label, 0, NULL);
}

void work_item(const struct work *work, enum check_kind kind, const char *label) {
    imm(work->e, "LDY", kind);
    work_jump(work, label);
}

void work_next_stage(const struct work *work, enum work_stage stage) {
    imm(work->e, "LDX", stage);
    zp(work->e, "STX", WORK_STAGE);
}

static int stages(const struct work *work) {
    return work_banked(work) ? STAGES : work->check->ram ? STAGE_HOTSPOT : STAGES_LEAST;
}

static bool has_stage(const struct work *work, int stage) {
    return work->check->ram || stage < STAGE_RAM || stage > STAGE_RAM_WHEN;
}

static void stage_table(const struct work *work, const char *name, bool high) {
    encode_label(work->e, name);
    for (int stage = 0; stage < stages(work); stage++) {
        encode_address_half(work->e, stage_labels[has_stage(work, stage) ? stage : STAGE_PAGE], high);
    }
}

/* A stage that there is none of is as good as the first. */
static void choose(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "work");
    zp(e, "LDX", WORK_STAGE);
    encode_each(e);
    imm(e, "CPX", stages(work));
    branch(e, "BCC", "stage_known");
    imm(e, "LDX", STAGE_PAGE);
    encode_label(e, "stage_known");
    zp(e, "STX", WORK_STAGE);
    encode_to(e, "LDA", MODE_ABSOLUTE_X, "stage_low", 0, NULL);
    zp(e, "STA", WORK_T);
    encode_to(e, "LDA", MODE_ABSOLUTE_X, "stage_high", 0, NULL);
    zp(e, "STA", WORK_T + 1);
    encode(e, "JMP", MODE_INDIRECT, WORK_T, "to the stage");
    encode_room(e, 2 * (size_t)stages(work));
    stage_table(work, "stage_low", false);
    stage_table(work, "stage_high", true);
}

static int first_page(const struct cart_check *check) {
    return check_page_shows(check, 0) ? 0 : 1;
}

/* A new round, and the item that it begins with: at power-on, too. */
static void start_stage(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, stage_labels[STAGE_START]);
    encode_to(e, "JSR", MODE_ABSOLUTE, "round_start", 0, NULL);
    work_jump(work, "shown");
    encode_label(e, "round_start");
    set(e, first_page(work->check), WORK_PLACE);
    if (work_banked(work)) {
        set(e, WORK_LOCATES, WORK_LEFT);
        set(e, 0, WORK_BAD);
    }
    set(e, work->check->scheme | (work->check->ram ? 8 : 0), RAM_VALUE);
    zp(e, "LDX", RAM_HOME);
    zp(e, "STX", RAM_VALUE + 1);
    work_next_stage(work, STAGE_PAGE);
    encode(e, "STX", MODE_ZERO, RAM_VALUE + 2, "CHECK_START, 0 as well");
    one(e, "RTS");
}

static void round_stages(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, stage_labels[STAGE_ROUND]);
    zp(e, "INC", WORK_STAGE);
    zp(e, "INC", RAM_ROUNDS);
    branch(e, "BNE", "round_counted");
    zp(e, "INC", RAM_ROUNDS + 1);
    encode_label(e, "round_counted");
    zp(e, "LDA", RAM_ROUNDS);
    zp(e, "LDX", RAM_ROUNDS + 1);
    work_item(work, CHECK_ROUND, "show");
    encode_label(e, stage_labels[STAGE_ERRORS]);
    zp(e, "INC", WORK_STAGE);
    zp(e, "LDA", RAM_ERRORS);
    zp(e, "LDX", RAM_ERRORS + 1);
    work_item(work, CHECK_ERRORS, "show");
}

static void store_item(struct encoder *e, int to) {
    zp(e, "STA", to);
    zp(e, "STX", to + 1);
    zp(e, "STY", to + 2);
}

/* Wrong items are counted up to 65535; the first one is kept. Its kind is never 0. */
static void show_item(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "judge");
    store_item(e, RAM_VALUE);
    imm(e, "CMP", 0);
    branch(e, "BEQ", "shown");
    zp(e, "INC", RAM_ERRORS);
    branch(e, "BNE", "error_counted");
    zp(e, "INC", RAM_ERRORS + 1);
    branch(e, "BNE", "error_counted");
    zp(e, "DEC", RAM_ERRORS);
    zp(e, "DEC", RAM_ERRORS + 1);
    encode_label(e, "error_counted");
    zp(e, "LDA", RAM_FIRST_ERROR + 2);
    branch(e, "BNE", "shown");
    zp(e, "LDA", RAM_VALUE);
    store_item(e, RAM_FIRST_ERROR);
    work_jump(work, "shown");
    encode_label(e, "show");
    store_item(e, RAM_VALUE);
    encode_label(e, "shown");
    set(e, 0, RAM_SHOWN_FOR);
    work_jump(work, "work_done");
}

_Static_assert((int)WORK_USED_END <= (int)RAM_JOBS_END, "the jobs' RAM");

void check_work_emit(struct encoder *encoder, const struct cart_check *check, int window) {
    const struct work work = {.e = encoder,
                              .check = check,
                              .banks = scheme_banks(check->scheme),
                              .first = scheme_hotspot(check->scheme, 0) & 0xFF,
                              .chunk = scheme_banks(check->scheme) == 1 ? 64
                                       : window >= WHOLE_PAGE           ? 256
                                                                        : 128,
                              .window_high = scheme_bank_bytes(check->scheme) == 2048 ? 0xF8 : 0xF0};
    choose(&work);
    start_stage(&work);
    round_stages(&work);
    show_item(&work);
    work_quiet(&work);
    work_pages(&work);
    work_banks(&work);
    if (check->ram) {
        work_ram(&work);
    }
}

void check_work_start(struct encoder *encoder, const struct cart_check *check) {
    (void)check;
    encode_to(encoder, "JSR", MODE_ABSOLUTE, "round_start", 0, NULL);
}
