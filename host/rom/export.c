#include "rom/export.h"

#include "rom/rows.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CALL_CYCLES = 6, PAGE = 256, BYTES_A_LINE = 16, OPERAND_MAX = 48 };

/* What the text is made from. */
struct export {
    const struct plan *plan;
    int first, lines;
    struct rows rows;
    uint8_t start[REG_COUNT]; /* what the registers hold where the picture begins */
    FILE *out;
    int at; /* bytes since the routine's first page began */
};

/* ---- what has to be known ---- */

/* The registers at the start of the first line: after its writes before the line. */
static void find_start(struct export *export) {
    const struct step *step = &export->plan->steps[0];
    for (int reg = 0; reg < REG_COUNT; reg++) {
        export->start[reg] = plan_default_colour((enum reg)reg);
    }
    for (int line = 0; line <= export->first; line++) {
        const struct band *band = step_band_at(step, line);
        for (int i = 0; i < band->count; i++) {
            if (line < export->first || band->writes[i].cycle == WRITE_BEFORE) {
                export->start[band->writes[i].reg] = band->writes[i].value;
            }
        }
    }
}

static bool is_written(const struct rows *rows, enum reg reg) {
    for (int i = 0; i < rows->count; i++) {
        if (rows->wanted[i].reg == reg) {
            return true;
        }
    }
    return false;
}

/* A playfield register that keeps one value is rewritten on each line too: it must not show on the line
 * above. */
static bool add_constants(struct export *export) {
    static const enum reg playfield[] = {REG_PF0, REG_PF1, REG_PF2};
    for (int i = 0; i < 3; i++) {
        if (!is_written(&export->rows, playfield[i]) && export->start[playfield[i]] != 0 &&
            !rows_want_before(&export->rows, playfield[i])) {
            return false;
        }
    }
    return true;
}

static bool prepare(struct export *export, struct problem *problem) {
    const bool good = rows_collect(export->plan, export->first, export->lines, &export->rows) &&
                      (find_start(export), add_constants(export)) && rows_fill(&export->rows);
    return good || problem_set(problem, PROBLEM_INPUT,
                               "step '%s' cannot be exported: it is no drawing, or a register that keeps one "
                               "value finds no time in a line",
                               export->plan->steps[0].name);
}

/* ---- text ---- */

static int operand_bytes(const char *operand) {
    const bool table = strstr(operand, ",y") != NULL, absolute = operand[0] == '$' && strlen(operand) == 5;
    return operand[0] == '\0' ? 0 : table || absolute ? 2 : 1;
}

/* Comments have no colons: to some assemblers one ends a statement even there. */
static void code(struct export *export, const char *mnemonic, const char *operand, int cycles,
                 const char *note) {
    char text[64];
    snprintf(text, sizeof text, "%s%s%s", mnemonic, operand[0] == '\0' ? "" : " ", operand);
    export->at += 1 + operand_bytes(operand);
    fprintf(export->out, "        %-24s; %d%s%s\n", text, cycles, note[0] == '\0' ? "" : "  ", note);
}

static void store(struct export *export, const char *mnemonic, enum reg reg, bool absolute,
                  const char *note) {
    char operand[16];
    snprintf(operand, sizeof operand, absolute ? "$%04x" : "$%02x", reg_address(reg));
    code(export, mnemonic, operand, SCHEDULE_STORE + absolute, note);
}

static void immediate(struct export *export, const char *mnemonic, int value) {
    char operand[16];
    snprintf(operand, sizeof operand, "#$%02x", value);
    code(export, mnemonic, operand, 2, "");
}

static void wait(struct export *export, int cycles) {
    if (cycles % 2 == 1) {
        code(export, "bit", "$80", 3, "");
        cycles -= 3;
    }
    for (; cycles > 0; cycles -= 2) {
        code(export, "nop", "", 2, "");
    }
}

static const char *load_of(int place) {
    return schedule_uses_x(place) ? "ldx" : "lda";
}

static const char *store_of(int place) {
    return schedule_uses_x(place) ? "stx" : "sta";
}

static void table_operand(const struct export *export, int place, bool ahead, char operand[OPERAND_MAX]) {
    char name[LABEL_MAX];
    rows_table_name(&export->rows, place, name);
    snprintf(operand, OPERAND_MAX, "drawing_%s%s,y", name, ahead ? "-1" : "");
}

/* ---- the routine ---- */

static const enum reg beforehand[] = {REG_CTRLPF, REG_COLUPF, REG_COLUBK, REG_PF0, REG_PF1, REG_PF2};
enum { BEFOREHAND = sizeof beforehand / sizeof beforehand[0] };

/* What the loop writes too late for the first line, or not at all. */
static bool is_beforehand(const struct export *export, int i) {
    const struct rows *rows = &export->rows;
    const enum reg reg = beforehand[i];
    const bool playfield = reg == REG_PF0 || reg == REG_PF1 || reg == REG_PF2;
    for (int place = 0; place < rows->schedule.count; place++) {
        const struct placed_write *placed = &rows->schedule.stores[place];
        if (rows->wanted[placed->wanted].reg == reg && placed->cycle <= rows_last_before(reg)) {
            return false;
        }
    }
    return !playfield || is_written(rows, reg);
}

static int waiting(const struct export *export) {
    const int count = export->rows.schedule.count;
    return count < SCHEDULE_WAITING ? count : SCHEDULE_WAITING;
}

/* From the call on, the store to WSYNC included. */
static int cycles_before(const struct export *export) {
    int cycles = CALL_CYCLES + 2 + SCHEDULE_LOAD * waiting(export) + SCHEDULE_STORE;
    for (int i = 0; i < BEFOREHAND; i++) {
        cycles += is_beforehand(export, i) ? 2 + SCHEDULE_STORE : 0;
    }
    return cycles;
}

static void begin(struct export *export) {
    fprintf(export->out, "drawing\n");
    for (int i = 0; i < BEFOREHAND; i++) {
        if (is_beforehand(export, i)) {
            immediate(export, "lda", export->start[beforehand[i]]);
            store(export, "sta", beforehand[i], false, reg_name(beforehand[i]));
        }
    }
    immediate(export, "ldy", export->lines);
    for (int place = 0; place < waiting(export); place++) {
        char operand[OPERAND_MAX];
        table_operand(export, place, false, operand);
        code(export, load_of(place), operand, SCHEDULE_LOAD, "");
    }
}

static void loop(struct export *export) {
    const struct schedule *schedule = &export->rows.schedule;
    fprintf(export->out, "drawing_row\n");
    code(export, "sta", "$02", 3, "WSYNC, a line begins");
    for (int i = 0; i < schedule->op_count; i++) {
        const struct schedule_op *op = &schedule->ops[i];
        char operand[OPERAND_MAX], note[32];
        if (op->kind == SCHEDULE_DELAY) {
            wait(export, op->cycles);
        } else if (op->kind == SCHEDULE_READ) {
            table_operand(export, op->store, op->ahead, operand);
            code(export, load_of(op->store), operand, SCHEDULE_LOAD, op->ahead ? "of the next row" : "");
        } else {
            const struct placed_write *placed = &schedule->stores[op->store];
            const enum reg reg = export->rows.wanted[placed->wanted].reg;
            snprintf(note, sizeof note, "%s, ends with cycle %d", reg_name(reg), placed->cycle);
            store(export, store_of(op->store), reg, op->cycles > SCHEDULE_STORE, note);
        }
    }
    code(export, "dey", "", 2, "");
    code(export, "bne", "drawing_row", 3, "");
}

static void end(struct export *export) {
    code(export, "sta", "$02", 3, "WSYNC, the line below the picture begins");
    immediate(export, "lda", 0);
    store(export, "sta", REG_PF0, false, "PF0");
    store(export, "sta", REG_PF1, false, "PF1");
    store(export, "sta", REG_PF2, false, "PF2");
    code(export, "rts", "", 6, "");
}

/* ---- the tables ---- */

static void put_bytes(struct export *export, const uint8_t *bytes, int count) {
    for (int i = 0; i < count; i++) {
        fprintf(export->out, "%s$%02x", i % BYTES_A_LINE == 0 ? "        .byte " : ",", bytes[i]);
        if (i % BYTES_A_LINE == BYTES_A_LINE - 1 || i == count - 1) {
            fputc('\n', export->out);
        }
    }
    export->at += count;
}

/* To the second byte of the next page, for the loop reads the byte before a table too. */
static void next_page(struct export *export) {
    static const uint8_t nothing[PAGE + 1];
    fprintf(export->out, "        ; to the next page\n");
    put_bytes(export, nothing, PAGE - export->at % PAGE + 1);
}

static void tables(struct export *export) {
    for (int place = 0; place < export->rows.schedule.count; place++) {
        char name[LABEL_MAX];
        const int size = export->lines + 1;
        if (rows_table_place(&export->rows, place) != place) {
            continue;
        }
        if (export->at % PAGE == 0 || export->at % PAGE + size > PAGE) {
            next_page(export);
        }
        rows_table_name(&export->rows, place, name);
        fprintf(export->out, "drawing_%s\n", name);
        put_bytes(export, export->rows.table[place], size);
    }
}

static const char *written_list(const struct export *export, char *text, size_t size) {
    text[0] = '\0';
    for (int i = 0; i < export->rows.schedule.count; i++) {
        const struct placed_write *placed = &export->rows.schedule.stores[i];
        const size_t used = strlen(text);
        snprintf(text + used, size - used, "%s%s %d", used == 0 ? "" : ", ",
                 reg_name(export->rows.wanted[placed->wanted].reg), placed->cycle);
    }
    return text;
}

static void header(struct export *export) {
    const struct standard_facts *facts = &standard_table[export->plan->standard];
    char text[160];
    fprintf(
        export->out,
        "; %s, 40 cells by %d lines, %s timing.\n"
        ";\n"
        "; Put it at the start of a page. Its tables are filled up so that none crosses one, and the loop\n"
        "; lies in the first; each would take a cycle more else.\n"
        ";\n"
        "; jsr drawing   in the line above the picture, with at least %d of its 76 cycles left, and with "
        "PF0,\n"
        ";               PF1 and PF2 holding 0.\n"
        "; It uses       A, X and Y, the two bytes of stack of the call, and no other RAM.\n"
        "; It draws      %d lines, each with one store to WSYNC and %d of 76 cycles.\n"
        "; It returns    in the line below, 17 cycles of which are gone, with PF0, PF1 and PF2 cleared and "
        "A\n"
        ";               and Y 0. CTRLPF and the colours stay as the last row had them.\n"
        "; In each line  the stores end with these cycles (%s)\n"
        "; They lie      %s.\n\n",
        export->plan->steps[0].name, export->lines, facts->name, cycles_before(export), export->lines,
        export->rows.schedule.cycles, written_list(export, text, sizeof text),
        export->plan->steps[0].vouched
            ? "where one console, measured by plan moments, takes them; others may not"
            : "where the handbook vouches for them");
}

bool export_text(const struct plan *plan, int first, int lines, char **text, struct problem *problem) {
    size_t size = 0;
    struct export *export = calloc(1, sizeof *export);
    if (export == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the export");
    }
    *export = (struct export){.plan = plan, .first = first, .lines = lines};
    *text = NULL;
    bool good = prepare(export, problem);
    if (good && (export->out = open_memstream(text, &size)) == NULL) {
        good = problem_set(problem, PROBLEM_BENCH, "out of memory for the export");
    }
    if (good) {
        header(export);
        begin(export);
        loop(export);
        end(export);
        tables(export);
        good =
            fclose(export->out) == 0 || problem_set(problem, PROBLEM_BENCH, "out of memory for the export");
    }
    free(export);
    return good;
}
