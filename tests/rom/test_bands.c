/*
 * Steps whose registers change down the picture or in mid-line: compiled, run on the console model and
 * compared cell by cell with expect_step(), which is the handbook's table and knows neither code nor chip.
 * Cells being scanned when their register changes are left out, as the handbook leaves them open.
 */
#include "commands/loop.h"
#include "expect/expect.h"
#include "rom/kernel.h"
#include "rom/prove.h"
#include "rom/rom.h"
#include "virtual/console.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include <stdio.h>
#include <unistd.h>

enum { HOLD = 4, BACK = 0x00, LIT = 0x0E };

static struct console console;
static const struct image *image;

static uint8_t read_image(void *state, uint16_t address, uint8_t bus) {
    (void)bus;
    (void)state;
    return image->bytes[address & (image->size - 1)];
}

static struct plan *new_plan(enum standard standard) {
    struct plan *plan = plan_new("bands", standard);
    assert_non_null(plan);
    return plan;
}

static void add(struct plan *plan, const char *name, struct band *bands, size_t count) {
    struct problem problem = {0};
    int lines = standard_plan_lines(plan->standard);
    for (size_t i = 0; i + 1 < count; i++) {
        lines -= bands[i].lines;
    }
    bands[count - 1].lines = (uint16_t)lines;
    if (!plan_add_step(plan, name, bands, count, &problem)) {
        fail_msg("step %s: %s", name, problem.text);
    }
}
#define ADD(plan, name, ...)                                                                                 \
    add(plan, name, (struct band[]){__VA_ARGS__}, sizeof((struct band[]){__VA_ARGS__}) / sizeof(struct band))

/* The drawn cell: 1 lit, 0 dark, -1 anything else. */
static int drawn_cell(const uint8_t *row, int cell) {
    const uint8_t *pixel = row + CELL_CLOCKS * cell;
    for (int i = 1; i < CELL_CLOCKS; i++) {
        if (pixel[i] != pixel[0]) {
            return -1;
        }
    }
    return pixel[0] == LIT ? 1 : pixel[0] == BACK ? 0 : -1;
}

static int compare_step(const struct plan *plan, size_t number) {
    const struct standard_facts *facts = &standard_table[plan->standard];
    const struct step *step = &plan->steps[number];
    const int top =
        facts->sync_lines + facts->blank_lines + (facts->picture_lines - standard_plan_lines(plan->standard));
    struct expectation wanted;
    int compared = 0;
    expect_step(step, standard_plan_lines(plan->standard), &wanted);
    for (int line = 0; line < wanted.lines; line++) {
        for (int cell = 0; cell < CELLS; cell++) {
            int lit = (int)(wanted.lit[line] >> cell & 1);
            if ((wanted.sure[line] >> cell & 1) == 0) {
                continue;
            }
            int drawn = drawn_cell(console.tia.field.pixel[top + line], cell);
            if (drawn != lit) {
                fail_msg("plan %s, %s, step %s, line %d, cell %d: drawn %d, promised %d", plan->name,
                         facts->name, step->name, line, cell, drawn, lit);
            }
            compared++;
        }
    }
    return compared;
}

/* Compiled, powered on, and past the field that power-on falls into. */
static struct image *start(struct plan *plan, size_t size) {
    struct image *made = NULL;
    struct problem problem = {0};
    struct rom_options options = {.hold = HOLD, .size = size};
    struct tia_chip chip;
    const struct cartridge cartridge = {.read = read_image};
    if (!rom_build(plan, &options, &made, &problem)) {
        fail_msg("%s", problem.text);
    }
    image = made;
    assert_true(made->account.line_cycles <= LINE_CYCLES);
    assert_int_equal(made->account.frame_lines, standard_lines(plan->standard));
    tia_chip_default(&chip);
    console_power_on(&console, &chip, &cartridge, 7);
    console_run_field(&console, TIA_LINES_MAX);
    return made;
}

/* Every step twice round; every field has its standard's lines. */
static void run_plan(struct plan *plan, size_t size) {
    struct image *made = start(plan, size);
    for (size_t field = 0; field < 2 * HOLD * plan->step_count; field++) {
        uint64_t before = console.cycles;
        assert_true(console_run_field(&console, TIA_LINES_MAX));
        assert_int_equal(console.tia.field.lines, standard_lines(plan->standard));
        assert_true(field == 0 ||
                    console.cycles - before == (uint64_t)standard_lines(plan->standard) * LINE_CYCLES);
        size_t number = console.riot.ram[RAM_STEP - 0x80];
        assert_true(number < plan->step_count);
        assert_true(compare_step(plan, number) > 20 * standard_plan_lines(plan->standard));
    }
    assert_int_equal(console.unmodelled_writes, 0);
    rom_free(made);
    plan_free(plan);
}

static struct plan *mixed_plan(enum standard standard) {
    struct plan *plan = new_plan(standard);
    struct problem problem = {0};
    assert_true(plan_add_hold(plan, "held", 0, 0xA0, 0x5A, 0xC3, &problem));
    ADD(plan, "two bands", {.lines = 80, .count = 2, .writes = {{REG_PF0, 0xF0, -1}, {REG_PF1, 0xFF, -1}}},
        {.count = 2, .writes = {{REG_PF1, 0xA5, -1}, {REG_PF2, 0x3C, -1}}});
    ADD(plan, "halves differ",
        {.count = 3, .writes = {{REG_PF1, 0xF0, -1}, {REG_PF1, 0x0F, 45}, {REG_PF1, 0xF0, 70}}});
    assert_true(plan_add_hold(plan, "held mirror", 1, 0x50, 0xA5, 0x3C, &problem));
    ADD(plan, "several", {.lines = 1, .count = 1, .writes = {{REG_PF1, 0x0F, -1}}},
        {.lines = 2, .count = 3, .writes = {{REG_PF2, 0xAA, -1}, {REG_PF1, 0xF0, 44}, {REG_PF1, 0x11, 50}}},
        {.lines = 3, .count = 1, .writes = {{REG_PF0, 0x50, -1}}},
        {.lines = 4, .count = 3, .writes = {{REG_PF2, 0x55, -1}, {REG_PF2, 0x0F, 48}, {REG_PF2, 0xF0, 73}}},
        {.lines = 40, .count = 2, .writes = {{REG_PF1, 0x88, 42}, {REG_PF1, 0x88, 45}}},
        {.lines = 5, .count = 2, .writes = {{REG_PF0, 0x90, 5}, {REG_PF0, 0x60, 40}}},
        {.lines = 1,
         .count = 4,
         .writes = {{REG_CTRLPF, 1, -1}, {REG_PF0, 0xC0, -1}, {REG_PF1, 0x3C, -1}, {REG_PF2, 0x71, -1}}},
        {.count = 0});
    return plan;
}

static void test_cells_are_as_promised(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        run_plan(mixed_plan((enum standard)standard), 0);
        run_plan(mixed_plan((enum standard)standard), 4096);
    }
}

/* Plans drawn at random: bands of any length with up to three writes a line, at least five cycles apart. */
static void add_random(struct plan *plan, const char *name) {
    struct band bands[6] = {0};
    size_t count = 1 + (size_t)(rand() % 6);
    for (size_t b = 0; b < count; b++) {
        bands[b].lines = (uint16_t)(1 + rand() % 25);
        for (enum reg reg = REG_PF0; reg <= REG_PF2; reg++) {
            if (rand() % 2 == 0) {
                bands[b].writes[bands[b].count++] = (struct write){reg, (uint8_t)rand(), WRITE_BEFORE};
            }
        }
        for (int cycle = 37 + rand() % 8; cycle <= 73 && rand() % 4 != 0; cycle += 5 + rand() % 8) {
            enum reg reg = (enum reg)(REG_PF0 + rand() % 3);
            bands[b].writes[bands[b].count++] = (struct write){reg, (uint8_t)rand(), (int16_t)cycle};
        }
    }
    add(plan, name, bands, count);
}

static void test_random_plans(void **state) {
    (void)state;
    for (unsigned seed = 1; seed <= 40; seed++) {
        srand(seed);
        struct plan *plan = new_plan((enum standard)(seed % STANDARD_COUNT));
        snprintf(plan->name, sizeof plan->name, "seed %u", seed);
        static const char *const names[] = {"a", "b", "c", "d", "e"};
        for (size_t i = 0; i < 5; i++) {
            add_random(plan, names[i]);
        }
        run_plan(plan, 4096);
    }
}

/* COLUBK acts at once on the model, so it shows the exact clock of a store: three times its cycle, 68 of them
 * blank. */
static void compare_background(const struct plan *plan, const struct step *step, unsigned seed) {
    const struct standard_facts *facts = &standard_table[plan->standard];
    int line =
        facts->sync_lines + facts->blank_lines + facts->picture_lines - standard_plan_lines(plan->standard);
    uint8_t now = BACK;
    for (size_t b = 0; b < step->band_count; b++) {
        const struct band *band = &step->bands[b];
        for (int in_band = 0; in_band < band->lines; in_band++, line++) {
            int next = 0;
            if (band->count > 0 && band->writes[0].cycle == WRITE_BEFORE) {
                now = in_band == 0 ? band->writes[0].value : now;
                next = 1;
            }
            for (int x = 0; x < PICTURE_CLOCKS; x++) {
                for (; next < band->count && x >= 3 * band->writes[next].cycle - BLANK_CLOCKS; next++) {
                    now = band->writes[next].value;
                }
                if (console.tia.field.pixel[line][x] != now) {
                    fail_msg("seed %u, step %s, band %zu, line %d of it, clock %d: $%02X, not $%02X", seed,
                             step->name, b, in_band, x, console.tia.field.pixel[line][x], now);
                }
            }
        }
    }
}

static void add_backgrounds(struct plan *plan, const char *name) {
    struct band bands[8] = {0};
    size_t count = 1 + (size_t)(rand() % 8);
    for (size_t b = 0; b < count; b++) {
        bands[b].lines = (uint16_t)(1 + rand() % 12);
        if (rand() % 2 == 0) {
            bands[b].writes[bands[b].count++] =
                (struct write){REG_COLUBK, (uint8_t)(rand() & 0xFE), WRITE_BEFORE};
        }
        for (int cycle = 23 + rand() % 20; cycle <= 73 && rand() % 5 != 0; cycle += 5 + rand() % 7) {
            bands[b].writes[bands[b].count++] =
                (struct write){REG_COLUBK, (uint8_t)(rand() & 0xFE), (int16_t)cycle};
        }
    }
    add(plan, name, bands, count);
}

static void test_stores_end_with_their_cycle(void **state) {
    (void)state;
    for (unsigned seed = 1; seed <= 60; seed++) {
        static const char *const names[] = {"a", "b", "c", "d"};
        struct plan *plan = new_plan((enum standard)(seed % STANDARD_COUNT));
        srand(seed);
        for (size_t i = 0; i < 4; i++) {
            add_backgrounds(plan, names[i]);
        }
        struct image *made = start(plan, 4096);
        for (size_t field = 0; field < HOLD * plan->step_count; field++) {
            assert_true(console_run_field(&console, TIA_LINES_MAX));
            compare_background(plan, &plan->steps[console.riot.ram[RAM_STEP - 0x80]], seed);
        }
        rom_free(made);
        plan_free(plan);
    }
}

static void refused(struct band band, const char *const *words) {
    struct image *made = NULL;
    struct problem problem = {0};
    struct rom_options options = {.hold = HOLD};
    struct plan *plan = new_plan(STANDARD_NTSC);
    ADD(plan, "offender", band);
    assert_false(rom_build(plan, &options, &made, &problem));
    assert_null(made);
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    for (; *words != NULL; words++) {
        if (strstr(problem.text, *words) == NULL) {
            fail_msg("'%s' is not in: %s", *words, problem.text);
        }
    }
    plan_free(plan);
}
#define WORDS(...) ((const char *const[]){"offender", __VA_ARGS__, NULL})

static void test_what_cannot_be_made_is_named(void **state) {
    (void)state;
    /* JMP (vector) 5, LDX # 2, LDA # 2, STA 3: 12 [H MOS programming manual] */
    refused((struct band){.count = 1, .writes = {{REG_PF1, 1, 11}}},
            WORDS("band 1", "PF1 at cycle 11", "cycle 12"));
    refused((struct band){.count = 1, .writes = {{REG_PF2, 1, 74}}}, WORDS("PF2 at cycle 74", "cycle 73"));
    refused((struct band){.count = 2, .writes = {{REG_PF1, 1, 40}, {REG_PF0, 2, 44}}},
            WORDS("PF0 at cycle 44", "cycle 45"));
    refused((struct band){.count = 1, .writes = {{REG_COLUP0, 0x20, 40}}}, WORDS("COLUP0"));
}

/* The proof follows every row of the table: a wrong address in one, or no table at all, is refused. */
static void test_proof_follows_the_table(void **state) {
    (void)state;
    static struct encoder encoder;
    struct plan *plan = mixed_plan(STANDARD_NTSC);
    struct kernel_options options = {.plan = plan, .hash = 1, .hold = HOLD};
    struct prove_limits limits = {standard_lines(STANDARD_NTSC), RAM_SLATE, RAM_SLATE_END, HANDOVER_RAM};
    struct rom_account account;
    struct problem problem = {0};
    encoder_start(&encoder, 4096);
    kernel_emit(&encoder, &options);
    assert_true(encoder_finish(&encoder, &problem));
    assert_true(prove(&encoder, &limits, &account, &problem));
    size_t low = (size_t)encoder.labels[encoder.target_low].offset;
    size_t high = (size_t)encoder.labels[encoder.target_high].offset;
    for (size_t i = 0; i < plan->step_count; i++) {
        uint8_t good = encoder.bytes[high + i];
        encoder.bytes[high + i] = 0x10;
        assert_false(prove(&encoder, &limits, &account, &problem));
        assert_non_null(strstr(problem.text, "out of the image"));
        encoder.bytes[high + i] = good;
        good = encoder.bytes[low + i];
        encoder.bytes[low + i] = (uint8_t)(good + 40); /* into the middle of what comes there */
        assert_false(prove(&encoder, &limits, &account, &problem));
        encoder.bytes[low + i] = good;
    }
    encoder.target_count = 0;
    assert_false(prove(&encoder, &limits, &account, &problem));
    assert_non_null(strstr(problem.text, "does not follow"));
    plan_free(plan);
}

/* The whole way through grabber, picture and verdict, by a plan file. */
static void check_run(const char *fault, enum verdict wanted) {
    static const char text[] = "[step whole]\nPF0 = $F0\nPF1 = $FF\nPF2 = $FF\n"
                               "[step halves]\nPF1 = $F0\nwrite = PF1 $0F at 45\nwrite = PF1 $F0 at 70\n"
                               "[step bands]\nPF1 = $18\n[band]\nlines = 60\n[band]\nPF1 = $0C\nPF2 = $AA\n";
    char path[] = "/tmp/slotjig-bands-XXXXXX";
    int file = mkstemp(path);
    struct loop loop;
    struct virtual_options options;
    assert_true(file >= 0);
    assert_int_equal(write(file, text, sizeof text - 1), sizeof text - 1);
    close(file);
    virtual_defaults(STANDARD_NTSC, &options);
    options.seed = 3;
    bool good = loop_run(&loop, path, &options, fault, NULL);
    unlink(path);
    if (!good) {
        fail_msg("%s: %s", fault == NULL ? "no fault" : fault, loop.problem.text);
    }
    if (loop.session.result->verdict != wanted) {
        fail_msg("%s: verdict %d, not %d: %s", fault == NULL ? "no fault" : fault,
                 loop.session.result->verdict, wanted, loop_findings(&loop));
    }
    loop_end(&loop);
}

static void test_whole_way(void **state) {
    (void)state;
    check_run(NULL, VERDICT_PASS);
    check_run("bit-low=PF1.3", VERDICT_FAIL);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cells_are_as_promised),
        cmocka_unit_test(test_random_plans),
        cmocka_unit_test(test_stores_end_with_their_cycle),
        cmocka_unit_test(test_what_cannot_be_made_is_named),
        cmocka_unit_test(test_proof_follows_the_table),
        cmocka_unit_test(test_whole_way),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
