/* The Pico board: pin map, net list and bill of materials say the same, and the circuit keeps its promises.
 * Every check is also shown to fail, on a net list with one line changed. */
#include "boards/board_files.h"
#include "boards/netlist.h"
#include "pico/pins.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { GPIOS = PIN_ADDRESS_COUNT + PIN_DATA_COUNT + 5 };

static char *netlist_text, *bom_text;
static char gpio_names[GPIOS][24];
static struct netlist_gpio gpios[GPIOS];

/* The nets that pins.h asks for. */
static void name_gpios(void) {
    size_t count = 0;
    for (int i = 0; i < PIN_ADDRESS_COUNT; i++, count++) {
        snprintf(gpio_names[count], sizeof *gpio_names, "ADDRESS%d", i);
        gpios[count].gpio = PIN_ADDRESS + i;
    }
    for (int i = 0; i < PIN_DATA_COUNT; i++, count++) {
        snprintf(gpio_names[count], sizeof *gpio_names, "DATA%d", i);
        gpios[count].gpio = PIN_DATA + i;
    }
    for (size_t i = 0; i < count; i++) {
        gpios[i].net = gpio_names[i];
    }
    gpios[count++] = (struct netlist_gpio){"DIRECTION", PIN_DIRECTION};
    gpios[count++] = (struct netlist_gpio){"ENABLE", PIN_ENABLE};
    gpios[count++] = (struct netlist_gpio){"SUPPLY", PIN_SUPPLY};
    gpios[count++] = (struct netlist_gpio){"UART_TX", PIN_UART_TX};
    gpios[count++] = (struct netlist_gpio){"UART_RX", PIN_UART_RX};
    assert_int_equal(count, GPIOS);
}

static int load(void **state) {
    (void)state;
    netlist_text = board_file(SOURCE_DIR "/boards/pico/netlist.txt");
    bom_text = board_file(SOURCE_DIR "/boards/pico/bom.txt");
    name_gpios();
    return 0;
}

static int unload(void **state) {
    (void)state;
    free(netlist_text);
    free(bom_text);
    return 0;
}

/* What says that the supply is there is made from the console's side alone. */
static const struct netlist_gate gate = {
    {"A12", "POWERED", "ENABLE"},
    {{"ENABLE", "GND"}, {"DIRECTION", "GND"}, {"A12", "GND"}, {"POWERED", "3V3S"}, {"POWERED", "GND"}}};

static void check_all(const char *text, const char *bom, struct netlist_findings *found) {
    static struct netlist list;
    if (!netlist_parse(&list, text, found)) {
        return;
    }
    netlist_check_pins(&list, found);
    netlist_check_gpios(&list, gpios, GPIOS, found);
    netlist_check_drivers(&list, found);
    netlist_check_levels(&list, found);
    netlist_check_enables(&list, found);
    netlist_check_gate(&list, &gate, found);
    netlist_check_supplies(&list, found);
    netlist_check_backfeed(&list, found);
    netlist_check_slot(&list, found);
    netlist_check_bom(&list, bom, found);
}

static void board_is_sound(void **state) {
    (void)state;
    struct netlist_findings found = {0};
    check_all(netlist_text, bom_text, &found);
    if (found.length > 0) {
        print_error("%s", found.text);
    }
    assert_int_equal(found.length, 0);
}

/* pins.h alone: 26 GPIOs, none twice, all on the module's edge (0-22 and 26-28, Raspberry Pi Pico data
 * sheet). */
static void pin_map_fits_the_module(void **state) {
    (void)state;
    assert_int_equal(GPIOS, 26);
    assert_int_equal(PIN_A12, PIN_ADDRESS + PIN_ADDRESS_COUNT - 1);
    unsigned long used = 0;
    for (size_t i = 0; i < GPIOS; i++) {
        int gpio = gpios[i].gpio;
        assert_true((gpio >= 0 && gpio <= 22) || (gpio >= 26 && gpio <= 28));
        assert_false(used >> gpio & 1);
        used |= 1UL << gpio;
    }
}

/* Module pin of each GPIO: Raspberry Pi Pico data sheet, "Pico pinout". A second copy of what the net list's
 * class says, typed apart. */
static void module_pins_are_the_data_sheets(void **state) {
    (void)state;
    static const signed char pin_of_gpio[29] = {1,  2,  4,  5,  6,  7,  9,  10, 11, 12, 14, 15, 16, 17, 19,
                                                20, 21, 22, 24, 25, 26, 27, 29, -1, -1, -1, 31, 32, 34};
    static struct netlist list;
    struct netlist_findings found = {0};
    assert_true(netlist_parse(&list, netlist_text, &found));
    int module = netlist_part_index(&list, "M1");
    assert_true(module >= 0);
    const struct netlist_class *class = &list.classes[list.parts[module].class];
    assert_int_equal(class->count, 40);
    int seen = 0;
    for (int i = 0; i < class->count; i++) {
        if (strncmp(class->pins[i].name, "GP", 2) == 0) {
            int gpio = atoi(class->pins[i].name + 2);
            assert_in_range(gpio, 0, 28);
            assert_int_equal(atoi(class->pins[i].number), pin_of_gpio[gpio]);
            seen++;
        }
    }
    assert_int_equal(seen, 26);
}

/*
 * The divider at the module's pin. RP2040 data sheet, pins at IOVDD 3.3 V: high from 2.0 V; pull-down, which
 * the chip has on at reset, 50 to 80 kohm; at most IOVDD + 0.5 V. The highest supply must stay under the rail
 * itself, so that nothing flows into the chip; into an unpowered one at most 0.5 mA [P: far below what upsets
 * a pin].
 */
static void supply_sense_is_in_bounds(void **state) {
    (void)state;
    static struct netlist list;
    struct netlist_findings found = {0};
    assert_true(netlist_parse(&list, netlist_text, &found));
    const struct netlist_rail *console = netlist_rail_of(&list, netlist_net_index(&list, "+5V"));
    const struct netlist_rail *module = netlist_rail_of(&list, netlist_net_index(&list, "3V3M"));
    int upper = netlist_part_index(&list, "R14"), lower = netlist_part_index(&list, "R15");
    assert_true(console != NULL && module != NULL && upper >= 0 && lower >= 0);
    double up = netlist_value(list.parts[upper].value), down = netlist_value(list.parts[lower].value);
    double loaded = 1 / (1 / down + 1 / 50e3);
    assert_true(console->highest * down / (down + up * 0.99) < module->lowest);
    assert_true(console->lowest * loaded / (loaded + up * 1.01) > 2.0);
    assert_true(console->highest / up < 0.0005);
}

static const struct board_change changes[] = {
    {"net   D3         J1.D3 R4.1", "net   D3         J1.D3 R4.1 R4.1", "R4.1 (1) stands 2 times", false},
    {"net   D3         J1.D3 R4.1", "net   D3         J1.D3", "R4.1 (1) stands 0 times", false},
    {"net   D3         J1.D3 R4.1", "net   D3         J1.D3", "joins fewer than two pins", false},
    {"open  U5.4    no connection", "net   GND        U5.4", "U5.4 has no connection inside", false},
    {"open  U5.4", "open  U5.9", "cannot be read", false},
    {"open  U6.6    output of a spare gate", "open  U6.6", "cannot be read", false},
    {"bidir    5\n", "botch    5\n", "cannot be read", false},
    {"net   ADDRESS3   U1.15 M1.7", "net   ADDRESS3   U1.15 M1.9", "GP6 is on ADDRESS3", false},
    {"net   ENABLE     M1.32", "net   ENABLE     M1.31", "GP26 is on ENABLE", false},
    {"net   UART_RX    M1.2 R19.1", "net   UART_XX    M1.2 R19.1", "GP1 is on UART_XX; pins.h says UART_RX",
     false},
    {"net   RELEASE    U6.12", "net   RELEASE    U6.12 U6.8", "2 outputs drive RELEASE", false},
    {"open  U2.13   output of a spare buffer", "net   ADDRESS0   U2.13", "2 outputs drive ADDRESS0", false},
    {"net   RELEASE    U6.12", "net   RELEASE    U6.12 U5.1", "an output and an open drain share", false},
    {"net   DATA0      U3.3", "net   DATA0      U3.3 U3.4", "too many two-way pins on DATA0", false},
    {"net   ADDRESS3   U1.15 M1.7", "net   A3         U1.15 M1.7", "5 V reaches M1.7", false},
    {"net   B0         R1.2 U3.21", "net   B0         R1.2 U3.21 M1.1", "5 V reaches M1.1", false},
    {"15k          0.25W", "1.5k         0.25W", "5 V reaches M1.34", false},
    {"net   VSYS       D1.K M1.39", "net   VSYS       D1.K M1.39 M1.30", "5 V reaches M1.30", false},
    {" R14.2 R15.1", " R14.2", "5 V reaches M1.34", false},
    {"U6.13 R10.1", "U6.13", "U6.13 (1C) has no level at reset", false},
    {"U3.2 R9.1", "U3.2", "U3.2 (DIR) has no level at reset", false},
    {"U3.22 R11.2", "U3.22", "U3.22 (/OE) has no level at reset", false},
    {"U6.2 R12.2 R13.1", "U6.2", "U6.2 (1B) has no level at reset", false},
    {" RN2.6 U6.1\n", " RN2.6\nnet   3V3M       U6.1\n", "does not take A12", false},
    {"net   RELEASE    U6.12 U3.22", "net   RELEASE    U3.22", "no gate drives the enable of U3", false},
    {"U5.1 U6.2", "U5.1", "does not take POWERED", false},
    {"M1.32 U6.13", "M1.32", "does not take ENABLE", false},
    {" R12.1 R17.1", " R17.1", "POWERED is not pulled to 3V3S", false},
    {"M1.31 U3.2", "M1.31", "DIR of U3 is not DIRECTION", false},
    {" R9.2 R10.2", " R9.2", "ENABLE is not pulled to GND", false},
    {"net   GND        U1.1 ", "net   SPARE      U1.1\nnet   GND        ",
     "U1.1 (/OE1) has no level at reset", false},
    {" U3.13 U4.1", " U4.1\nnet   3V3M       U3.13", "U3 lacks its ground", false},
    {"net   3V3S       U4.2 U3.23 U3.24", "net   +5V        U3.24\nnet   3V3S       U4.2 U3.23",
     "U3.24 has no or the wrong supply", false},
    {"near  C4   U3.24\n", "", "U3.24 has no capacitor near it", false},
    {"part  C8   capacitor         100n", "part  C8   capacitor         10n ",
     "U6.14 has no capacitor near it", false},
    {"net   VSYS       D1.K", "net   VSYS       D1.K D3.A", "M1.39 can feed the console", false},
    {"open  M1.40   VBUS: USB's 5 V must reach nothing but the module", "net   VSYS       M1.40",
     "VBUS is wired", false},
    {"+5V        F1.2 D1.A", "+5V        F1.2", "the console's supply does not reach VSYS", false},
    {"net   A7         J1.A7", "net   A7         J1.X", "slot signal A7 is not on A7", false},
    {"net   D3         J1.D3 R4.1", "net   D3         J1.D3 U3.18", "D3 does not go to B3 through a resistor",
     false},
    {"8 | 390", "7 | 390", "the bill counts 7 of 390 and names 8", true},
    {"R7 R8 |", "R7 R88 |", "R88 of the bill is not in the net list", true},
    {"R7 R8 |", "R7 |", "the bill names R8 0 times", true},
    {"8 | 390", "8 | 220", "R1 is 390 in the net list, 220 in the bill", true},
};

static void every_check_can_fail(void **state) {
    (void)state;
    board_every_check_can_fail(netlist_text, bom_text, changes, sizeof changes / sizeof *changes, check_all);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(board_is_sound),
        cmocka_unit_test(pin_map_fits_the_module),
        cmocka_unit_test(module_pins_are_the_data_sheets),
        cmocka_unit_test(supply_sense_is_in_bounds),
        cmocka_unit_test(every_check_can_fail),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
