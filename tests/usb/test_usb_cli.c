/*
 * The program itself on the stage: what it lists and says of boards on USB, and a push. With what test_usb.c
 * says about modelled kernels.
 */
#include "commands/commands.h"
#include "commands/program.h"
#include "link/discover.h"
#include "link/usb_device.h"
#include "usb/rig.h"
#include "usb/start.h"

#include <stdio.h>

#include <cmocka.h>

static struct rig rigs[2];
static char serials[2][2 * WIRE_SERIAL + 1];

static const struct stage_port *plug(int number) {
    struct problem problem = {0};
    struct rig *rig = &rigs[number];
    rig_prepare(rig);
    rig->options.serial[7] = (uint8_t)number;
    rig->board = virtual_board_new(&rig->options, &problem);
    assert_non_null(rig->board);
    const struct model_identity identity = usb_rig_identity(rig, serials[number]);
    const struct stage_port *port = usb_rig_plug(rig, number, &identity);
    assert_non_null(port);
    return port;
}

static int clear(void **state) {
    (void)state;
    stage_clear();
    for (int i = 0; i < 2; i++) {
        virtual_board_free(rigs[i].board);
        rigs[i].board = NULL;
    }
    return 0;
}

static void no_board(void **state) {
    (void)state;
    program_slotjig(EXIT_BENCH, "boards");
    program_says("no board on USB");
    program_slotjig(EXIT_BENCH, "push");
    program_says("no board");
    program_slotjig(EXIT_BENCH, "doctor");
    program_says("TROUBLE  board");
}

static void one_board(void **state) {
    (void)state;
    const struct stage_port *port = plug(0);
    char line[200];
    program_slotjig(EXIT_PASS, "boards");
    program_says(port->where);
    program_says("ready");
    program_says(serials[0]);
    program_slotjig(EXIT_PASS, "push --plan bits");
    program_says("2 blocks of 1 KiB sent, 0 left as the board had them; CRC agrees, read back and compared");
    program_says("switch the console off");
    snprintf(line, sizeof line, "push --plan bits --board %s", serials[0]);
    program_slotjig(EXIT_PASS, line);
    program_says("has this very image already");
    program_slotjig(EXIT_INCONCLUSIVE, "doctor");
    program_says("2048 bytes, 2K");
    program_says("?        supply");
}

static void two_boards_want_a_choice(void **state) {
    (void)state;
    plug(0);
    const struct stage_port *second = plug(1);
    char line[200];
    program_slotjig(EXIT_INPUT, "push --plan bits");
    program_says(serials[0]);
    program_says(serials[1]);
    snprintf(line, sizeof line, "push --plan bits --board %s", second->where);
    program_slotjig(EXIT_PASS, line);
    program_says(serials[1]);
    snprintf(line, sizeof line, "push --step 3 --board %s", serials[1]);
    program_slotjig(EXIT_PASS, line);
    snprintf(line, sizeof line, "push --step 3 --board %s", serials[0]);
    program_slotjig(EXIT_BENCH, line);
    program_says("holds no image");
}

static void near_misses(void **state) {
    (void)state;
    const struct model_identity other = {
        USB_VENDOR, USB_PRODUCT, {"someone", "thermometer", "7"}, .in = 1, .out = 1};
    const struct model_identity loader = {
        USB_LOADER_VENDOR, USB_LOADER_PRODUCT, {"x", "y", "E0C9"}, .in = 1, .out = 1};
    struct problem problem = {0};
    rig_prepare(&rigs[0]);
    rigs[0].board = virtual_board_new(&rigs[0].options, &problem);
    assert_non_null(usb_rig_plug(&rigs[0], 0, &other));
    assert_non_null(usb_rig_plug(&rigs[0], 1, &loader));
    program_slotjig(EXIT_BENCH, "boards");
    program_says("wrong product");
    program_says("thermometer");
    program_says("loader");
    program_says("next: ");
    program_slotjig(EXIT_BENCH, "push --plan bits");
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(no_board, clear),
        cmocka_unit_test_teardown(one_board, clear),
        cmocka_unit_test_teardown(two_boards_want_a_choice, clear),
        cmocka_unit_test_teardown(near_misses, clear),
    };
    return usb_tests_run(argv, "usb_cli", tests, sizeof tests / sizeof tests[0]);
}
