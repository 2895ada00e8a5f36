/*
 * Drawings scheduled by a console's own windows: chips of the model with other delays for each register and
 * phase, windows as such a chip has them, and then every clock of every line as in the picture; or a refusal.
 * By the handbook alone not every cell of these would be sure; expect/ takes them as vouched for.
 */
#include "expect/expect.h"
#include "plan/drawing.h"
#include "plan/sketch.h"
#include "plan/sketch_file.h"
#include "rom/rom.h"
#include "virtual/console.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

enum { FIRST_CELLS, LAST_CELLS };

static struct console console;
static const struct image *served;

/* First and last cell of PF0, PF1, PF2 in the left half, and in the right one in copy and mirror [H TIA 1A].
 */
static const int cells[3][3][2] = {
    {{0, 3}, {20, 23}, {36, 39}}, {{4, 11}, {24, 31}, {28, 35}}, {{12, 19}, {32, 39}, {20, 27}}};

static int edge(int cell) {
    return BLANK_CLOCKS + CELL_CLOCKS * cell;
}

/* The model's promise (tia.h): a store that ends with clock t acts at t + delay[phase]; a cell shows what the
 * register held at its left edge [M]. */
static int acts(const uint8_t delay[4], int cycle) {
    const int clock = 3 * cycle, phase = ((clock - BLANK_CLOCKS) % 4 + 4) % 4;
    return clock + delay[phase];
}

/* The longest run of cycles that are clean. */
static struct write_window longest(const bool *clean, int from) {
    struct write_window best = {.exists = false};
    int run = 0;
    for (int i = 0; i <= 2 * LINE_CYCLES; i++) {
        run = i < 2 * LINE_CYCLES && clean[i] ? run + 1 : 0;
        if (run > 0 && (!best.exists || run > best.last - best.first + 1)) {
            best = (struct write_window){.exists = true, .first = from + i - run + 1, .last = from + i};
        }
    }
    return best;
}

static struct write_window window(const uint8_t delay[4], int after, int before) {
    bool clean[2 * LINE_CYCLES];
    for (int i = 0; i < 2 * LINE_CYCLES; i++) {
        const int at = acts(delay, i - LINE_CYCLES);
        clean[i] = at > after && at <= before;
    }
    struct write_window found = longest(clean, -LINE_CYCLES);
    found.exists = found.exists && found.last < LINE_CYCLES;
    found.first = found.first < 1 - LINE_CYCLES ? 1 - LINE_CYCLES : found.first;
    return found;
}

static void windows_of(const struct tia_chip *chip, struct write_windows *windows) {
    memset(windows, 0, sizeof *windows);
    strcpy(windows->source, "a chip");
    for (int pf = 0; pf < 3; pf++) {
        const uint8_t *delay = chip->delay[TIA_PF0 + pf];
        for (int mirror = 0; mirror < 2; mirror++) {
            const int *left = cells[pf][0], *right = cells[pf][1 + mirror];
            windows->window[MOMENT_PF0 + pf][mirror][HALF_LEFT] =
                window(delay, edge(right[LAST_CELLS]) - LINE_CLOCKS, edge(left[FIRST_CELLS]));
            windows->window[MOMENT_PF0 + pf][mirror][HALF_RIGHT] =
                window(delay, edge(left[LAST_CELLS]), edge(right[FIRST_CELLS]));
        }
    }
    for (int mirror = 0; mirror < 2; mirror++) {
        windows->window[MOMENT_COLUPF][mirror][HALF_LEFT] = window(chip->delay[TIA_COLUPF], -1, edge(0));
        windows->window[MOMENT_COLUBK][mirror][HALF_LEFT] = window(chip->delay[TIA_COLUBK], -1, edge(0));
    }
}

static uint8_t read_image(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    (void)bus;
    return served->bytes[address & (served->size - 1)];
}

static void compare(const struct sketch *sketch, const struct plan *plan, uint64_t seed) {
    const enum standard standard = plan->standard;
    const struct standard_facts *facts = &standard_table[standard];
    const int lines = standard_plan_lines(standard);
    const int top = facts->sync_lines + facts->blank_lines + facts->picture_lines - lines;
    struct expectation expect;
    expect_step(&plan->steps[0], lines, &expect);
    for (int line = 0; line < lines; line++) {
        const int row = line - (lines - sketch->rows) / 2;
        const uint64_t lit = row < 0 || row >= sketch->rows ? 0 : sketch->lit[row];
        if (expect.sure[line] != CELLS_ALL || expect.lit[line] != lit) {
            fail_msg("seed %llu, line %d: expected %010llx, sure %010llx; the picture has %010llx",
                     (unsigned long long)seed, line, (unsigned long long)expect.lit[line],
                     (unsigned long long)expect.sure[line], (unsigned long long)lit);
        }
        for (int clock = 0; clock < TIA_VISIBLE; clock++) {
            const uint8_t wanted = sketch_pixel(sketch, standard, line, clock / CELL_CLOCKS);
            const uint8_t shown = console.tia.field.pixel[top + line][clock];
            if (shown != wanted) {
                fail_msg("seed %llu: line %d, clock %d shows $%02X, the picture has $%02X",
                         (unsigned long long)seed, line, clock, shown, wanted);
            }
        }
    }
}

/* True where the picture can be drawn on that chip; then it is. */
static bool draws(uint64_t seed, const struct tia_chip *chip) {
    struct sketch sketch;
    struct write_windows windows;
    struct problem problem = {0};
    struct plan *plan = NULL;
    struct image *image = NULL;
    const struct rom_options options = {.hold = 4};
    const struct cartridge cartridge = {.read = read_image};
    sketch_make(&sketch, seed, STANDARD_NTSC);
    assert_true(sketch_write(&sketch, sketch_path));
    windows_of(chip, &windows);
    if (!drawing_plan(sketch_path, STANDARD_NTSC, &windows, &plan, &problem)) {
        assert_int_equal(problem.kind, PROBLEM_INPUT);
        assert_non_null(strstr(problem.text, "row"));
        return false;
    }
    if (!rom_build(plan, &options, &image, &problem)) {
        fail_msg("seed %llu: %s", (unsigned long long)seed, problem.text);
    }
    served = image;
    console_power_on(&console, chip, &cartridge, 3);
    for (int field = 0; field < 3; field++) {
        console_run_field(&console, TIA_LINES_MAX);
    }
    compare(&sketch, plan, seed);
    rom_free(image);
    plan_free(plan);
    return true;
}

static void test_chips(void **state) {
    (void)state;
    const uint64_t count = getenv("SLOTJIG_TEST_SMALL") != NULL ? 10 : 100;
    int drawn = 0;
    for (uint64_t seed = 1; seed <= count; seed++) {
        struct tia_chip chip;
        uint64_t random = seed * 977;
        tia_chip_default(&chip);
        for (int reg = TIA_PF0; reg <= TIA_COLUBK; reg++) {
            const int most = reg <= TIA_PF2 ? 9 : 4; /* clocks */
            for (int phase = 0; phase < 4; phase++) {
                chip.delay[reg][phase] = (uint8_t)(sketch_random(&random) % (uint64_t)(most + 1));
            }
        }
        drawn += draws(seed, &chip);
    }
    print_message("%d of %d drawn\n", drawn, (int)count);
    assert_true(drawn >= (int)count / 2);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_chips)};
    return cmocka_run_group_tests(tests, sketch_start, sketch_stop);
}
