/* The virtual bench's board, its restart, and how the slot's findings get into a result. */
#include "commands/bench_board.h"
#include "commands/image_file.h"
#include "commands/slot_report.h"
#include "rom/rom.h"
#include "slotjig/mailbox.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <string.h>
#include <unistd.h>

static struct plan *plan;
static struct image *image;

static int make_image(void **state) {
    (void)state;
    struct problem problem = {0};
    struct rom_options rom = {.hold = 4};
    return plan_open("bits", STANDARD_NTSC, &plan, &problem) && rom_build(plan, &rom, &image, &problem) ? 0
                                                                                                        : -1;
}

static int free_image(void **state) {
    (void)state;
    rom_free(image);
    plan_free(plan);
    return 0;
}

static void watch_once(struct bench_board *board, struct link_watch *watch) {
    struct problem problem = {0};
    bool asked = false;
    assert_true(bench_board_watch(board, watch, &asked, &problem));
    assert_true(asked);
}

static void a_restart_goes_through_the_reset_vector(void **unused) {
    (void)unused;
    enum { MORE_THAN_A_SECOND = 2200 };
    struct bench_settings settings;
    struct bench_board board;
    struct link_watch watch;
    struct problem problem = {0};
    const struct bench_board_options how = {0};
    struct link_image pushed = {.bytes = image->bytes, .size = image->size, .flags = WIRE_IMAGE_MAILBOX};
    assert_true(link_scheme(image->size, &pushed.scheme));
    assert_true(bench_find("virtual", NULL, STANDARD_NTSC, false, &settings, &problem));
    assert_true(bench_board_open(&board, &settings, &how, &problem));
    assert_true(bench_board_push(&board, &pushed, &problem));
    assert_false(bench_board_needs_restart(&board));
    virtual_stand_wait(board.stand, MORE_THAN_A_SECOND);
    watch_once(&board, &watch);
    assert_int_equal(watch.resets, 0);
    assert_true(watch.mailbox > 0);
    assert_true(bench_board_restart(&board, &problem));
    watch_once(&board, &watch);
    for (int i = 0; i < 25 && watch.resets == 0; i++) { /* the second in which it was switched on ends */
        virtual_stand_wait(board.stand, 100);
        watch_once(&board, &watch);
    }
    assert_int_equal(watch.resets, 1);
    bench_board_close(&board);
}

/* On a terminal what went wrong has a line of its own, not one behind the count of blocks. */
static void the_count_of_blocks_is_cleared(void **unused) {
    (void)unused;
    struct bench_settings settings;
    struct bench_board board;
    struct problem problem = {0};
    const struct bench_board_options how = {.progress = true};
    const struct link_image odd = {.bytes = image->bytes, .size = 3000};
    char text[256];
    FILE *said = tmpfile();
    const int kept = dup(STDERR_FILENO);
    assert_true(said != NULL && kept >= 0);
    assert_true(bench_find("virtual", NULL, STANDARD_NTSC, false, &settings, &problem));
    assert_true(bench_board_open(&board, &settings, &how, &problem));
    dup2(fileno(said), STDERR_FILENO);
    const bool pushed = bench_board_push(&board, &odd, &problem);
    dup2(kept, STDERR_FILENO);
    close(kept);
    assert_false(pushed);
    rewind(said);
    text[fread(text, 1, sizeof text - 1, said)] = '\0';
    fclose(said);
    assert_non_null(strstr(text, "\r\033[K"));
    bench_board_close(&board);
}

static void findings_of_the_slot_in_a_result(void **unused) {
    (void)unused;
    struct slot_report slot = {.asked = true, .count = 2};
    struct result result = {.verdict = VERDICT_INCONCLUSIVE, .finding_count = 1};
    slot.findings[0].kind = FINDING_SLOT_DATA_LINE_STUCK;
    slot.findings[1].kind = FINDING_ADDRESS_LINE_STUCK;
    result.findings[0].kind = FINDING_NO_VIDEO;
    slot_add_findings(&slot, &result);
    assert_int_equal(result.finding_count, 3);
    assert_int_equal(result.findings[0].kind, FINDING_SLOT_DATA_LINE_STUCK);
    assert_int_equal(result.findings[1].kind, FINDING_ADDRESS_LINE_STUCK);
    assert_int_equal(result.findings[2].kind, FINDING_NO_VIDEO);

    result.verdict = VERDICT_FAIL;
    result.findings[0].kind = FINDING_BIT_STUCK_LOW;
    result.finding_count = FINDINGS_MAX; /* full: the slot's take the place of the last */
    slot_add_findings(&slot, &result);
    assert_int_equal(result.finding_count, FINDINGS_MAX);
    assert_int_equal(result.findings[0].kind, FINDING_BIT_STUCK_LOW);
    assert_int_equal(result.findings[FINDINGS_MAX - 2].kind, FINDING_SLOT_DATA_LINE_STUCK);
    assert_int_equal(result.findings[FINDINGS_MAX - 1].kind, FINDING_ADDRESS_LINE_STUCK);
}

/* The board changes bytes only of an image that is made for it. */
static void the_mailbox_of_an_image(void **unused) {
    (void)unused;
    static const uint16_t places[] = {RESET_VECTOR, RESET_VECTOR + 1, MAILBOX_ENTRY,    MAILBOX_ENTRY + 1,
                                      MAILBOX_MODE, MAILBOX_STEP,     MAILBOX_VALUE + 2};
    uint8_t bytes[8192] = {0};
    assert_true(image_has_mailbox(image->bytes, image->size));
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        memcpy(bytes, image->bytes, image->size);
        bytes[places[i] % image->size] ^= 0x11;
        if (image_has_mailbox(bytes, image->size)) {
            fail_msg("$%04X differs and was not looked at", places[i]);
        }
    }
    memset(bytes, 0, sizeof bytes); /* all but an instruction that reads it */
    memcpy(bytes + 2048 - 32, image->bytes + image->size - 32, 32);
    assert_false(image_has_mailbox(bytes, 2048));
    memcpy(bytes + sizeof bytes - image->size, image->bytes, image->size);
    assert_false(image_has_mailbox(bytes, sizeof bytes));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_restart_goes_through_the_reset_vector),
        cmocka_unit_test(the_count_of_blocks_is_cleared),
        cmocka_unit_test(findings_of_the_slot_in_a_result),
        cmocka_unit_test(the_mailbox_of_an_image),
    };
    return cmocka_run_group_tests(tests, make_image, free_image);
}
