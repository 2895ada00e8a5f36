/*
 * A drawing's export, assembled by two assemblers that are not ours within a frame that is written here, and
 * run on the console model: it draws the picture, clock by clock, and keeps what the text at its top
 * promises.
 */
#include "plan/drawing.h"
#include "plan/sketch.h"
#include "plan/sketch_file.h"
#include "rom/export.h"
#include "virtual/console.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

enum { IMAGE = 4096, TOP = 11 /* dark lines of the picture above the drawing */ };

static uint8_t bytes[IMAGE + 1];
static struct console console;

/* And what the assembler was given, and made. */
static int stop(void **state) {
    (void)state;
    static const char *const names[] = {"drawing.txt", "in", "out"};
    scratch_remove(sketch_folder, names, 3);
    return 0;
}

static char *export(const struct sketch *sketch, uint64_t seed) {
    struct write_windows windows;
    struct problem problem = {0};
    struct plan *plan = NULL;
    char *text = NULL;
    int first = -1, lines = -1;
    windows_handbook(&windows);
    assert_true(sketch_write(sketch, sketch_path));
    if (!drawing_plan(sketch_path, STANDARD_NTSC, &windows, &plan, &problem) ||
        !drawing_lines(sketch_path, STANDARD_NTSC, &first, &lines, &problem) ||
        !export_text(plan, first, lines, &text, &problem)) {
        fail_msg("seed %llu: %s", (unsigned long long)seed, problem.text);
    }
    assert_int_equal(lines, sketch->rows);
    assert_int_equal(first, (standard_plan_lines(STANDARD_NTSC) - lines) / 2);
    plan_free(plan);
    return text;
}

/* "with at least N of its 76 cycles left" */
static int cycles_asked(const char *text) {
    const char *at = strstr(text, "with at least ");
    int cycles = 0;
    assert_non_null(at);
    assert_int_equal(sscanf(at, "with at least %d of", &cycles), 1);
    return cycles;
}

static void put_wait(FILE *out, int lines, const char *label) {
    fprintf(out, "        ldx #%d\n%s sta $02\n        dex\n        bne %s\n", lines, label, label);
}

/* 262 lines: 3 of sync, 37 blank, 192 of picture, 30 of overscan [H Programmer's Guide 3.3]. The call is made
 * with `left` cycles of the line above the picture left, what the call itself takes among them. to_page: how
 * the assembler is told to fill up to the next page. */
static void write_program(const char *text, const char *to_page, int rows, int left) {
    char in[SCRATCH_MAX + 64];
    scratch_path(sketch_folder, "in", in);
    FILE *out = fopen(in, "w");
    assert_non_null(out);
    fprintf(out, "        * = $f000\nreset   sei\n        cld\n        ldx #$ff\n        txs\n"
                 "        lda #0\n        ldx #$19\nclear   sta $06,x\n        dex\n        bpl clear\n"
                 "frame   lda #2\n        sta $02\n        sta $01\n        sta $00\n"
                 "        sta $02\n        sta $02\n        sta $02\n        lda #0\n        sta $00\n");
    put_wait(out, 37, "blank");
    fprintf(out, "        lda #0\n        sta $01\n        sta $09\n");
    put_wait(out, TOP - 1, "above"); /* the line above the drawing has begun: DEX and BNE took 4 of it */
    for (int gone = 4; gone + 2 <= LINE_CYCLES - left; gone += 2) {
        fprintf(out, "        nop\n");
    }
    fprintf(out, "        jsr drawing\n        lda #0\n        sta $09\n");
    put_wait(out, 192 - TOP - rows, "below");
    fprintf(out, "        lda #2\n        sta $01\n");
    put_wait(out, 30 - 1, "over");
    fprintf(out, "        jmp frame\n");
    fprintf(out, "        %s\n%s", to_page, text);
    fclose(out);
}

static size_t assemble(const char *command) {
    char line[1200];
    snprintf(line, sizeof line, "cd %s && rm -f out && timeout 20 %s -o out in", sketch_folder, command);
    if (system(line) != 0) {
        fail_msg("'%s' fails", line);
    }
    return scratch_read(sketch_folder, "out", bytes, sizeof bytes);
}

static uint8_t read_bytes(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    (void)bus;
    const unsigned at = address & (IMAGE - 1);
    return at == 0xFFC ? 0x00 : at == 0xFFD ? 0xF0 : bytes[at];
}

static int run(void) {
    struct tia_chip chip;
    const struct cartridge cartridge = {.read = read_bytes};
    tia_chip_default(&chip);
    console_power_on(&console, &chip, &cartridge, 9);
    for (int field = 0; field < 3; field++) {
        console_run_field(&console, TIA_LINES_MAX);
    }
    return console.tia.field.lines;
}

static void compare(const struct sketch *sketch, uint64_t seed) {
    const int top = 3 + 37 + TOP;
    for (int row = -1; row <= sketch->rows; row++) {
        const uint8_t *pixel = console.tia.field.pixel[top + row];
        for (int clock = 0; clock < TIA_VISIBLE; clock++) {
            const bool inside = row >= 0 && row < sketch->rows;
            const bool lit = inside && (sketch->lit[row] >> clock / CELL_CLOCKS & 1) != 0;
            const uint8_t wanted =
                lit ? sketch->lit_colour[inside ? row : 0] : sketch->dark_colour[inside ? row : 0];
            /* Above and below no cell is lit: the background is as dark as any. */
            const bool good = inside ? pixel[clock] == wanted : (pixel[clock] >> 1 & 7) <= 2;
            if (!good) {
                fail_msg("seed %llu: row %d, clock %d shows $%02X, not $%02X", (unsigned long long)seed, row,
                         clock, pixel[clock], wanted);
            }
        }
    }
}

static void one_picture(const struct sketch *sketch, const char *command, const char *to_page,
                        uint64_t seed) {
    char *text = export(sketch, seed);
    const int left = cycles_asked(text) + cycles_asked(text) % 2;
    write_program(text, to_page, sketch->rows, left);
    assert_true(assemble(command) > 0x100);
    const int lines = run();
    compare(sketch, seed);
    if (lines != 262) {
        fail_msg("seed %llu: %d lines", (unsigned long long)seed, lines);
    }
    /* Too late a call costs a line. */
    write_program(text, to_page, sketch->rows, left - 2);
    assemble(command);
    assert_int_equal(run(), cycles_asked(text) > left - 2 ? 263 : 262);
    free(text);
}

static void with(const char *tool, const char *command, const char *to_page) {
    const uint64_t count = getenv("SLOTJIG_TEST_SMALL") != NULL ? 3 : 16;
    if (!have_program(tool)) {
        print_message("SKIP: %s is not installed\n", tool);
        skip();
    }
    for (uint64_t seed = 1; seed <= count; seed++) {
        struct sketch sketch;
        sketch_make(&sketch, seed, STANDARD_NTSC);
        one_picture(&sketch, command, to_page, seed);
    }
    /* A border that stays the same, and a picture that does as a whole. */
    struct sketch border, still;
    for (uint64_t seed = 7; seed < 9; seed++) {
        sketch_make(&border, seed, STANDARD_NTSC);
        still = border;
        for (int row = 0; row < border.rows; row++) {
            border.lit[row] |= UINT64_C(0xF00000000F);
            still.lit[row] = border.lit[0];
            still.lit_colour[row] = still.lit_colour[0];
            still.dark_colour[row] = still.dark_colour[0];
        }
        one_picture(&border, command, to_page, 1000 + seed);
        one_picture(&still, command, to_page, 2000 + seed);
    }
}

static void test_64tass(void **state) {
    (void)state;
    with("64tass", "64tass -q --flat -b", ".fill $f100-*, 0");
}

static void test_xa(void **state) {
    (void)state;
    with("xa", "xa", ".dsb $f100-*, 0");
}

/* Whatever the picture, the text has no colon behind a semicolon, where some assemblers end a statement. */
static void test_comments(void **state) {
    (void)state;
    struct sketch sketch;
    sketch_make(&sketch, 3, STANDARD_NTSC);
    char *text = export(&sketch, 3);
    assert_null(strchr(text, ':'));
    free(text);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_64tass), cmocka_unit_test(test_xa),
                                       cmocka_unit_test(test_comments)};
    return cmocka_run_group_tests(tests, sketch_start, stop);
}
