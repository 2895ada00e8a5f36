/* Plan files: what is taken, and that everything wrong in one is said with its line. */
#include "expect/expect.h"
#include "plan/every.h"
#include "plan/plan_file.h"
#include "plan/plan_text.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static char path[4096];

static void write_file(const char *bytes, size_t size) {
    const char *folder = getenv("TMPDIR");
    snprintf(path, sizeof path, "%s/slotjig-XXXXXX", folder != NULL ? folder : "/tmp");
    int file = mkstemp(path);
    assert_true(file >= 0);
    assert_int_equal(write(file, bytes, size), size);
    close(file);
}

static struct plan *open_text(const char *text) {
    struct plan *plan = NULL;
    struct problem problem = {0};
    write_file(text, strlen(text));
    if (!plan_open(path, STANDARD_NTSC, &plan, &problem)) {
        fail_msg("%s\nin\n%s", problem.text, text);
    }
    unlink(path);
    return plan;
}

static void check_hold(const struct step *step, const char *name, uint8_t ctrlpf, uint8_t pf0, uint8_t pf1,
                       uint8_t pf2) {
    uint8_t registers[REG_COUNT];
    step_registers(step, registers);
    assert_string_equal(step->name, name);
    assert_true(step_is_hold(step));
    if (registers[REG_CTRLPF] != ctrlpf || registers[REG_PF0] != pf0 || registers[REG_PF1] != pf1 ||
        registers[REG_PF2] != pf2) {
        fail_msg("%s: CTRLPF=$%02X PF0=$%02X PF1=$%02X PF2=$%02X", name, registers[REG_CTRLPF],
                 registers[REG_PF0], registers[REG_PF1], registers[REG_PF2]);
    }
}

static void registers_in_all_spellings(void **unused) {
    (void)unused;
    struct plan *plan = open_text("\xEF\xBB\xBF; a comment\r\n[plan]\r\nname = mine\r\n\r\n"
                                  "[step one]\nPF0 = $F0 ; inline\n  pf1 = %10100101\n\tPF2=12\n"
                                  "# a comment\n[step two]\nmode = mirror\nscore = yes\nPF2 = 0x80\n"
                                  "[step empty]\n[step  last ]\nCTRLPF = $05");
    assert_string_equal(plan->name, "mine");
    assert_int_equal(plan->step_count, 4);
    check_hold(&plan->steps[0], "one", 0, 0xF0, 0xA5, 12);
    check_hold(&plan->steps[1], "two", 3, 0, 0, 0x80);
    check_hold(&plan->steps[2], "empty", 0, 0, 0, 0);
    check_hold(&plan->steps[3], "last", 5, 0, 0, 0);
    plan_free(plan);
}

static void cells_are_solved(void **unused) {
    (void)unused;
    struct plan *plan =
        open_text("[step half]\ncells = ####X111 ........ ---#\n"
                  "[step half mirrored]\nmode = mirror\ncells = #0000000000000000000\n"
                  "[step copied]\ncells = #...................#...................\n"
                  "[step mirrored]\ncells = #......................................#\n"
                  "[step either]\nmode = mirror\ncells = ########################################\n");
    check_hold(&plan->steps[0], "half", 0, 0xF0, 0xF0, 0x80);
    check_hold(&plan->steps[1], "half mirrored", 1, 0x10, 0, 0);
    check_hold(&plan->steps[2], "copied", 0, 0x10, 0, 0);
    check_hold(&plan->steps[3], "mirrored", 1, 0x10, 0, 0);
    check_hold(&plan->steps[4], "either", 1, 0xF0, 0xFF, 0xFF);
    plan_free(plan);
}

/* Colours may be written in mid-line too; and a step may be vouched for, the next one is not. */
static void colours_and_vouching(void **unused) {
    (void)unused;
    struct plan *plan = open_text("[step s]\nvouched = yes\n[band]\nlines = 9\nwrite = COLUPF $4A at 6\n"
                                  "write = COLUBK $92 at 9\n[band]\n[step t]\nPF0 = $10\n"
                                  "[step u]\nvouched = no\n");
    const struct band *band = &plan->steps[0].bands[0];
    assert_true(plan->steps[0].vouched);
    assert_false(plan->steps[1].vouched);
    assert_false(plan->steps[2].vouched);
    assert_int_equal(band->count, 6);
    assert_int_equal(band->writes[4].reg, REG_COLUPF);
    assert_int_equal(band->writes[4].cycle, 6);
    assert_int_equal(band->writes[5].value, 0x92);
    plan_free(plan);
}

static void bands_and_writes(void **unused) {
    (void)unused;
    struct plan *plan = open_text("[step s]\nPF1 = $0F\nmode = mirror\n"
                                  "[band]\nlines = 100\nwrite = PF1 $F0 at 45\nwrite = pf1 %1111 at 70\n"
                                  "[band]\nlines = 8\nPF0 = $F0\n"
                                  "[band]\nmode = copy\n"
                                  "[step t]\nwrite = PF2 1 at 30\n");
    assert_int_equal(plan->step_count, 2);
    const struct step *step = &plan->steps[0];
    assert_int_equal(step->band_count, 3);
    assert_int_equal(step->bands[0].lines, 100);
    assert_int_equal(step->bands[1].lines, 8);
    assert_int_equal(step->bands[2].lines, 192 - 24 - 108);
    assert_int_equal(step->bands[0].count, 6);
    assert_int_equal(step->bands[0].writes[4].cycle, 45);
    assert_int_equal(step->bands[0].writes[5].value, 0x0F);
    assert_int_equal(step->bands[1].count, 1);
    assert_false(step_is_hold(step));
    static struct expectation seen;
    expect_step(step, 168, &seen);
    assert_true(seen.lit[99] ==
                ((expect_cells(0, 0x0F, 0, 1) & 0xFFFFF) | (expect_cells(0, 0xF0, 0, 1) & ~0xFFFFFULL)));
    assert_true(seen.lit[100] == expect_cells(0xF0, 0x0F, 0, 1));
    assert_true(seen.lit[108] == expect_cells(0xF0, 0x0F, 0, 0));
    assert_int_equal(plan->steps[1].bands[0].lines, 168);
    assert_int_equal(plan->steps[1].bands[0].count, 5);
    plan_free(plan);
}

static void name_is_the_files_when_none_is_given(void **unused) {
    (void)unused;
    struct plan *plan = open_text("[step s]\n");
    assert_non_null(strstr(plan->name, "slotjig-"));
    assert_null(strchr(plan->name, '/'));
    plan_free(plan);
}

static void refuse_bytes(const char *text, size_t size, int line, const char *says) {
    struct plan *plan = (struct plan *)&plan_builtins;
    struct problem problem = {0};
    char where[4200];
    write_file(text, size);
    const bool taken = plan_open(path, STANDARD_NTSC, &plan, &problem);
    unlink(path);
    if (line > 0) {
        snprintf(where, sizeof where, "%s:%d: ", path, line);
    } else {
        snprintf(where, sizeof where, "%s: ", path);
    }
    if (taken || problem.kind != PROBLEM_INPUT || strstr(problem.text, says) == NULL ||
        strncmp(problem.text, where, strlen(where)) != 0) {
        fail_msg("%s\nkind %d: %s\nwanted line %d: %s", text, problem.kind, taken ? "taken" : problem.text,
                 line, says);
    }
    assert_ptr_equal(plan, &plan_builtins);
}

static void refuse(const char *text, int line, const char *says) {
    refuse_bytes(text, strlen(text), line, says);
}

static void expect_colours(const struct step *step, int lit, int dark) {
    static struct expectation seen;
    expect_step(step, 168, &seen);
    assert_int_equal(seen.lit_colour, lit);
    assert_int_equal(seen.dark_colour, dark);
}

static void colours(void **unused) {
    (void)unused;
    struct plan *plan = open_text("[step plain]\nPF1 = $0F\n"
                                  "[step coloured]\nCOLUPF = $4A\nCOLUBK = $24\n"
                                  "[step lines]\nCOLUBK = $02\n[band]\nlines = 9\n[band]\nCOLUPF = $6E\n"
                                  "[step score]\nscore = yes\nCOLUPF = $00\n");
    assert_int_equal(plan->steps[0].bands[0].count, 4); /* as ever: the image of old plans stays the same */
    expect_colours(&plan->steps[0], 0x0E, 0x00);
    expect_colours(&plan->steps[1], 0x4A, 0x24);
    expect_colours(&plan->steps[2], -1, 0x02);
    expect_colours(&plan->steps[3], 0x0E, 0x00); /* COLUP0 and COLUP1 [H CTRLPF D1] */
    plan_free(plan);
    refuse("[step s]\nCOLUPF = $08\n", 1, "luminance 4 of 7");
    refuse("[step s]\nPF0 = $F0\n[band]\nlines = 9\n[band]\nCOLUBK = $E6\n", 5, "luminance 3 of 7");
}

static void wrong_keys_and_values(void **unused) {
    (void)unused;
    refuse("[step s]\nPF3 = 1\n", 2, "'PF3'");
    refuse("[step s]\n\nCOLUP0 = 1\n", 3, "'COLUP0'");
    refuse("[step s]\nPF0 = 256\n", 2, "PF0 = 256 is no byte");
    refuse("[step s]\nPF0 = $\n", 2, "is no byte");
    refuse("[step s]\nPF0 = \n", 2, "is no byte");
    refuse("[step s]\nPF0 = 1\nPF0 = 2\n", 3, "twice");
    refuse("[step s]\nmode = both\n", 2, "copy or mirror");
    refuse("[step s]\nscore = perhaps\n", 2, "yes or no");
    refuse("[step s]\nmode = copy\nCTRLPF = 1\n", 1, "CTRLPF and mode");
    refuse("[step s]\nlines = 3\n", 2, "belongs to a [band]");
    refuse("[plan]\nnom = x\n", 2, "unknown key 'nom'");
    refuse("[plan]\nname =\n", 2, "1 to 63 characters");
    refuse("PF0 = 1\n", 1, "before any section");
}

static void wrong_cells(void **unused) {
    (void)unused;
    refuse("[step s]\ncells = ###\n", 2, "3 cells");
    refuse("[step s]\ncells = #########################################\n", 2, "more than 40 cells");
    refuse("[step s]\ncells = ###############?####\n", 2, "'?' in cells");
    refuse("[step s]\ncells = ####################\nPF0 = 1\n", 2, "one or the other");
    refuse("[step s]\ncells = ....................#...................\n", 2, "no register setting");
    refuse("[step s]\nmode = copy\ncells = #......................................#\n", 3,
           "mirror mode only");
}

static void wrong_sections(void **unused) {
    (void)unused;
    refuse("[stop s]\n", 1, "unknown section [stop s]");
    refuse("[step]\n", 1, "without a name");
    refuse("[step s]\n[step t]\n[step s]\n", 3, "there twice");
    refuse("[step s]\n[plan]\n", 2, "before the first step");
    refuse("[band]\n", 1, "before any step");
    refuse("[plan]\nname = x\n", 0, "no steps");
    refuse("", 0, "no steps");
    refuse("[step s\n", 1, "no closing ]");
    refuse("[step s] t]\n", 1, "behind the section's ]");
    refuse("[step s]\nPF0\n", 2, "neither [section] nor key = value");
    refuse("[step 1234567890123456789012345678901234567890123456789]\n", 1, "49 characters");
}

static void wrong_bands(void **unused) {
    (void)unused;
    refuse("[step s]\n[band]\nPF0 = 1\n[band]\n", 2, "only a step's last band");
    refuse("[step s]\n[band]\nlines = 168\n[band]\n", 1, "168 lines before the last band");
    refuse("[step s]\n[band]\nlines = 20\n", 1, "have 20 lines");
    refuse("[step s]\n[band]\nlines = 0\n", 3, "lines = 0");
    refuse("[step s]\nwrite = PF0 1 at 30\n[band]\n", 1, "write keys");
    refuse("[step s]\nwrite = PF0 1 30\n", 2, "write it like");
    refuse("[step s]\nwrite = PF0 1 at 30 31\n", 2, "write it like");
    refuse("[step s]\nwrite = COLUP0 14 at 30\n", 2, "'COLUP0'");
    refuse("[step s]\nwrite = COLUBK $06 at 30\n", 2, "luminance 3 of 7");
    refuse("[step s]\nwrite = COLUPF $18 at 30\n", 2, "luminance 4 of 7");
    refuse("[step s]\nvouched = perhaps\n", 2, "vouched = perhaps");
    refuse("[step s]\nvouched = yes\nvouched = no\n", 3, "give it once");
    refuse("[step s]\n[band]\nvouched = yes\n", 3, "in a [step]");
    refuse("[step s]\nwrite = PF0 300 at 30\n", 2, "'300' is no byte");
    refuse("[step s]\nwrite = PF0 1 at 76\n", 2, "'76' is no cycle");
    refuse("[step s]\nwrite = PF0 1 at 30\nwrite = PF0 2 at 31\n", 1, "at least 3 apart");
}

static void wrong_files(void **unused) {
    (void)unused;
    refuse_bytes("[step s]\nPF0 = 1\0\n", 19, 0, "not a text file");
    refuse_bytes("\x1A\x45\xDF\xA3\x01\x02", 6, 0, "not a text file");
    refuse("[step \xC3(]\n", 0, "not a text file");
    struct plan *plan = NULL;
    struct problem problem = {0};
    assert_false(plan_open("/", STANDARD_NTSC, &plan, &problem));
    assert_non_null(strstr(problem.text, "cannot be read"));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
}

/* A line is refused rather than cut, at exactly the length that the header gives; comments may be any length.
 */
static void long_lines(void **unused) {
    (void)unused;
    char text[600] = "[step s]\nPF0 = 1";
    const size_t begin = strlen("[step s]\n");
    memset(text + strlen(text), ' ', begin + 197 - strlen(text));
    snprintf(text + begin + 197, sizeof text - begin - 197, "2\n");
    refuse(text, 2, "PF0 = 1");
    memset(text + begin + 7, ' ', 192);
    snprintf(text + begin + 198, sizeof text - begin - 198, "2\n");
    refuse(text, 2, "too long");
    text[begin] = ';';
    plan_free(open_text(text));
}

static void a_step_too_many(void **unused) {
    (void)unused;
    enum { EACH = 16 };
    char *text = calloc(PLAN_STEPS_MAX + 2, EACH);
    size_t used = 0;
    for (int i = 0; i < PLAN_STEPS_MAX; i++) {
        used += (size_t)snprintf(text + used, EACH, "[step %d]\n", i);
    }
    plan_free(open_text(text));
    snprintf(text + used, EACH, "[step more]\n");
    refuse(text, PLAN_STEPS_MAX + 1, "one too many");
    free(text);
}

static void check_round(struct plan *plan, enum standard standard) {
    struct plan *again = NULL;
    struct problem problem = {0};
    char *text = plan_text(plan);
    assert_non_null(text);
    if (!plan_file_text("text", text, standard, &again, &problem)) {
        fail_msg("%s in\n%s", problem.text, text);
    }
    assert_string_equal(again->name, plan->name);
    assert_int_equal(again->kind, plan->kind);
    assert_int_equal(again->standard, standard);
    assert_memory_equal(&again->every, &plan->every, sizeof plan->every);
    assert_int_equal(plan_pictures(again), plan_pictures(plan));
    assert_int_equal(again->step_count, plan->step_count);
    for (size_t i = 0; i < plan->step_count; i++) {
        assert_string_equal(again->steps[i].name, plan->steps[i].name);
        assert_int_equal(again->steps[i].band_count, plan->steps[i].band_count);
        assert_memory_equal(again->steps[i].bands, plan->steps[i].bands,
                            plan->steps[i].band_count * sizeof *plan->steps[i].bands);
    }
    plan_free(again);
    plan_free(plan);
    free(text);
}

static void plans_that_count_come_back(void **unused) {
    (void)unused;
    static const struct {
        uint32_t count;
        int repeat;
    } every[] = {{2 * EVERY_VALUES, 1}, {EVERY_LEAST, 8}, {16384, 3}};
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        const char *const builtin[] = {"every", "moments", "colours", "bits"};
        struct plan *plan = NULL;
        struct problem problem;
        for (size_t i = 0; i < sizeof builtin / sizeof builtin[0]; i++) {
            assert_true(plan_open(builtin[i], (enum standard)standard, &plan, &problem));
            check_round(plan, (enum standard)standard);
        }
        for (size_t i = 0; i < sizeof every / sizeof every[0]; i++) {
            assert_true(
                every_plan(every[i].count, every[i].repeat, (enum standard)standard, &plan, &problem));
            check_round(plan, (enum standard)standard);
        }
    }
}

static void every_as_people_write_it(void **unused) {
    (void)unused;
    struct plan *plan = open_text("[plan]\ncounts = every\nname = mine\n");
    assert_string_equal(plan->name, "mine");
    assert_int_equal(plan->every.count, EVERY_VALUES);
    assert_int_equal(plan->every.repeat, 1);
    plan_free(plan);
    plan = open_text("[plan]\nname = mine\ncounts = every   4096\t2\n");
    assert_string_equal(plan->name, "mine");
    assert_int_equal(plan->every.count, 2048);
    assert_int_equal(plan->every.repeat, 2);
    plan_free(plan);
}

static void bad_counts_are_refused_with_their_line(void **unused) {
    (void)unused;
    static const struct {
        const char *text, *where;
    } bad[] = {{"[plan]\ncounts = all\n", ":2:"},
               {"[plan]\n\ncounts = everything\n", ":3:"},
               {"[plan]\ncounts = every 1022 1\n", ":2:"},
               {"[plan]\ncounts = every 4097 1\n", ":2:"},
               {"[plan]\ncounts = every 2097154 1\n", ":2:"},
               {"[plan]\ncounts = every 99999999999999999999 1\n", ":2:"},
               {"[plan]\ncounts = every -4096 1\n", ":2:"},
               {"[plan]\ncounts = every 4096 0\n", ":2:"},
               {"[plan]\ncounts = every 4096 9\n", ":2:"},
               {"[plan]\ncounts = every 4096 -1\n", ":2:"},
               {"[plan]\ncounts = every 4096 1 1\n", ":2:"},
               {"[plan]\ncounts = every 4096 x\n", ":2:"},
               {"[plan]\ncounts = every x\n", ":2:"},
               {"[plan]\ncounts = moments 3\n", ":2:"},
               {"[plan]\ncounts = moments\ncounts = moments\n", ":3:"},
               {"[plan]\ncounts = moments\n[step one]\nPF0 = $F0\n", ":3:"},
               {"[plan]\ncounts = colours\n[step one]\nPF0 = $F0\n", ":3:"},
               {"[plan]\ncounts = moments\n[band]\n", ":3:"},
               {"[step one]\ncounts = moments\n", ":2:"}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct plan *plan = NULL;
        struct problem problem = {0};
        if (plan_file_text("text", bad[i].text, STANDARD_NTSC, &plan, &problem) ||
            problem.kind != PROBLEM_INPUT || strstr(problem.text, bad[i].where) == NULL) {
            fail_msg("%s\n%s", bad[i].text, problem.text);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plans_that_count_come_back),
        cmocka_unit_test(every_as_people_write_it),
        cmocka_unit_test(bad_counts_are_refused_with_their_line),
        cmocka_unit_test(registers_in_all_spellings),
        cmocka_unit_test(cells_are_solved),
        cmocka_unit_test(bands_and_writes),
        cmocka_unit_test(colours_and_vouching),
        cmocka_unit_test(colours),
        cmocka_unit_test(name_is_the_files_when_none_is_given),
        cmocka_unit_test(wrong_keys_and_values),
        cmocka_unit_test(wrong_cells),
        cmocka_unit_test(wrong_sections),
        cmocka_unit_test(wrong_bands),
        cmocka_unit_test(wrong_files),
        cmocka_unit_test(long_lines),
        cmocka_unit_test(a_step_too_many),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
