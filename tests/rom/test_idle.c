/*
 * The idle picture: firmware/core/idle.c is what rom_build_idle() makes, byte for byte and as text, and the
 * console draws what its plan promises. With SLOTJIG_WRITE_IDLE=FILE it writes that file instead (`make
 * idle`).
 */
#include "base/output.h"
#include "commands/loop.h"
#include "core/idle.h"
#include "expect/expect.h"
#include "plan/plan.h"
#include "rom/idle.h"
#include "rom/rom.h"
#include "slotjig/mailbox.h"
#include "slotjig/slate.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { A_LINE = 16, TEXT_MAX = 8 * IDLE_SIZE };

static struct image *image;
static char text[TEXT_MAX];

static size_t write_text(void) {
    size_t at = (size_t)snprintf(text, sizeof text,
                                 "/* Written by `make idle`, which takes it from the host's rom/ stage. */\n"
                                 "#include \"core/idle.h\"\n\n/* clang-format off */\n"
                                 "const uint8_t idle_image[IDLE_SIZE] = {\n");
    for (size_t i = 0; i < image->size; i++) {
        const char *before = i % A_LINE == 0 ? "    " : " ";
        at += (size_t)snprintf(text + at, sizeof text - at, "%s0x%02X,%s", before, image->bytes[i],
                               i % A_LINE == A_LINE - 1 ? "\n" : "");
    }
    return at + (size_t)snprintf(text + at, sizeof text - at, "};\n/* clang-format on */\n");
}

static int start(void **state) {
    struct problem problem = {0};
    (void)state;
    if (!rom_build_idle(&image, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
        return 1;
    }
    return 0;
}

static int stop(void **state) {
    (void)state;
    rom_free(image);
    return 0;
}

static void test_firmware_has_it(void **state) {
    (void)state;
    static char stored[TEXT_MAX];
    const size_t size = write_text();
    FILE *in = fopen(SOURCE_DIR "/firmware/core/idle.c", "rb");
    assert_non_null(in);
    const size_t found = fread(stored, 1, sizeof stored, in);
    fclose(in);
    assert_int_equal(image->size, IDLE_SIZE);
    assert_memory_equal(idle_image, image->bytes, IDLE_SIZE);
    if (found != size || memcmp(stored, text, size) != 0) {
        fail_msg("firmware/core/idle.c is not what rom/ makes; run `make idle`");
    }
}

static void test_facts(void **state) {
    (void)state;
    assert_int_equal(image->hash, SLATE_HASH_IDLE);
    assert_int_equal(image->account.frame_lines, 262);
    assert_in_range(image->account.line_cycles, 1, 76);
    const uint8_t *entry = image->bytes + (MAILBOX_ENTRY & (IDLE_SIZE - 1));
    const uint8_t *vector = image->bytes + (RESET_VECTOR & (IDLE_SIZE - 1));
    assert_int_equal((vector[1] << 8 | vector[0]) & 0x1FFF, MAILBOX_ENTRY);
    assert_int_equal(entry[0], 0x4C); /* JMP, to the start of a page */
    assert_int_equal(entry[1], 0);
}

/* Cells are compared by the judge, whose expectation knows neither code nor chip. */
static void test_console_draws_it(void **state) {
    (void)state;
    struct problem problem = {0};
    struct loop loop = {0};
    struct virtual_options options;
    virtual_defaults(STANDARD_NTSC, &options);
    loop.plan = idle_plan(&problem);
    assert_non_null(loop.plan);
    assert_true(virtual_open(&options, image->bytes, image->size, &loop.source, &problem));
    loop.session = (struct session){.plan = loop.plan, .hash = SLATE_HASH_IDLE, .hold = LOOP_HOLD};
    assert_true(session_run(&loop.session, &loop.source, &problem));
    assert_int_equal(loop.session.result->verdict, VERDICT_PASS);
    loop_end(&loop);
}

/* Asked for another plan, the judge says what it sees. */
static void test_judge_says_idle(void **state) {
    (void)state;
    struct problem problem = {0};
    struct loop loop = {0};
    struct virtual_options options;
    const struct rom_options rom = {.hold = LOOP_HOLD};
    virtual_defaults(STANDARD_NTSC, &options);
    assert_true(plan_open("bits", STANDARD_NTSC, &loop.plan, &problem));
    assert_true(rom_build(loop.plan, &rom, &loop.image, &problem));
    assert_true(virtual_open(&options, image->bytes, image->size, &loop.source, &problem));
    loop.session = (struct session){.plan = loop.plan, .hash = loop.image->hash, .hold = LOOP_HOLD};
    assert_true(session_run(&loop.session, &loop.source, &problem));
    assert_int_equal(loop.session.result->verdict, VERDICT_INCONCLUSIVE);
    assert_true(loop_found(&loop, FINDING_NO_SLATE, REG_COUNT, -1));
    assert_non_null(strstr(loop_findings(&loop), "idle (a board with nothing loaded)"));
    loop_end(&loop);
}

static int write_file(const char *path) {
    struct problem problem = {0};
    if (start(NULL) != 0) {
        return 1;
    }
    const size_t size = write_text();
    const bool good = output_write(path, text, size, &problem);
    if (!good) {
        fprintf(stderr, "%s\n", problem.text);
    }
    stop(NULL);
    return good ? 0 : 1;
}

int main(void) {
    const char *path = getenv("SLOTJIG_WRITE_IDLE");
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_firmware_has_it),
        cmocka_unit_test(test_facts),
        cmocka_unit_test(test_console_draws_it),
        cmocka_unit_test(test_judge_says_idle),
    };
    return path != NULL ? write_file(path) : cmocka_run_group_tests(tests, start, stop);
}
