/* The reader: pin map, net list and bill of materials say the same, and the circuit keeps its promises. Every
 * check is also shown to fail, on a net list with one line changed. */
#include "boards/board_files.h"
#include "boards/netlist.h"
#include "reader/pins.h"

#include <math.h>
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
    static const struct netlist_gpio others[] = {{"SUPPLY_ON", PIN_SUPPLY_ON},
                                                 {"FAULT", PIN_SUPPLY_FAULT},
                                                 {"DIRECTION", PIN_DIRECTION},
                                                 {"PULL", PIN_PULL},
                                                 {"SUPPLY", PIN_SUPPLY}};
    size_t count = 0;
    for (int i = 0; i < PIN_ADDRESS_COUNT; i++, count++) {
        snprintf(gpio_names[count], sizeof *gpio_names, "ADDRESS%d", i);
        gpios[count] = (struct netlist_gpio){gpio_names[count], PIN_ADDRESS + i};
    }
    for (int i = 0; i < PIN_DATA_COUNT; i++, count++) {
        snprintf(gpio_names[count], sizeof *gpio_names, "DATA%d", i);
        gpios[count] = (struct netlist_gpio){gpio_names[count], PIN_DATA + i};
    }
    for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
        gpios[count++] = others[i];
    }
    assert_int_equal(count, GPIOS);
}

static int load(void **state) {
    (void)state;
    netlist_text = board_file(SOURCE_DIR "/boards/reader/netlist.txt");
    bom_text = board_file(SOURCE_DIR "/boards/reader/bom.txt");
    name_gpios();
    return 0;
}

static int unload(void **state) {
    (void)state;
    free(netlist_text);
    free(bom_text);
    return 0;
}

/* Nothing drives the cartridge unless its supply is there and the module wants it to be. */
static const struct netlist_gate gate = {{"POWERED", "SUPPLY_ON", "3V3M"},
                                         {{"SUPPLY_ON", "GND"},
                                          {"DIRECTION", "GND"},
                                          {"FAULT", "3V3M"},
                                          {"POWERED", "3V3S"},
                                          {"POWERED", "GND"},
                                          {"PULLED", "GND"},
                                          {"DR12", "GND"}}};

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
    netlist_check_switch(&list, found);
    netlist_check_socket(&list, found);
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

/* 26 GPIOs, none twice, all on the module's edge (0-22 and 26-28, Raspberry Pi Pico data sheet); the 21 lines
 * in a row, as the PIO program has them. */
static void pin_map_fits_the_module(void **state) {
    (void)state;
    assert_int_equal(GPIOS, 26);
    assert_int_equal(PIN_A12, PIN_ADDRESS + PIN_ADDRESS_COUNT - 1);
    assert_int_equal(PIN_DATA, PIN_ADDRESS + PIN_ADDRESS_COUNT);
    unsigned long used = 0;
    for (size_t i = 0; i < GPIOS; i++) {
        int gpio = gpios[i].gpio;
        assert_true((gpio >= 0 && gpio <= 22) || (gpio >= 26 && gpio <= 28));
        assert_false(used >> gpio & 1);
        used |= 1UL << gpio;
    }
}

static double value_of(const struct netlist *list, const char *ref) {
    const int part = netlist_part_index(list, ref);
    assert_true(part >= 0);
    return netlist_value(list->parts[part].value);
}

static double highest(const struct netlist *list, const char *net) {
    const struct netlist_rail *rail = netlist_rail_of(list, netlist_net_index(list, net));
    assert_non_null(rail);
    return rail->highest;
}

/* The switch's limit: TPS2553 data sheet (SLVS841E), 23950 V / R(kilohm)^0.977 nominal, its table's row "300
 * mA": 88.7 k, 262 to 342 mA. A mask ROM of the period takes 150 mA at most [H 6540 data sheet]; a port of
 * USB gives 500 mA [S USB 2.0 7.2.1], of which the module takes up to 100 [M]. */
static void the_limit_is_between_cartridge_and_port(void **state) {
    (void)state;
    static struct netlist list;
    struct netlist_findings found = {0};
    assert_true(netlist_parse(&list, netlist_text, &found));
    const double nominal = 23950 / pow(value_of(&list, "R33") / 1e3, 0.977);
    assert_in_range((int)nominal, 290, 310);
    assert_true(nominal * 262.1 / 299.4 > 150 + 40); /* the rest: this board's own on the cartridge's side */
    assert_true(nominal * 342.3 / 299.4 + 100 <= 450);
}

/* The sense pin as on the cartridge board: RP2040 data sheet, high from 2.0 V, pull-down 50 k at the least;
 * never above the module's own rail. */
static void supply_sense_is_in_bounds(void **state) {
    (void)state;
    static struct netlist list;
    struct netlist_findings found = {0};
    assert_true(netlist_parse(&list, netlist_text, &found));
    const struct netlist_rail *supply = netlist_rail_of(&list, netlist_net_index(&list, "+5V"));
    const struct netlist_rail *module = netlist_rail_of(&list, netlist_net_index(&list, "3V3M"));
    const double up = value_of(&list, "R28"), down = value_of(&list, "R29"),
                 loaded = 1 / (1 / down + 1 / 50e3);
    assert_true(supply->highest * down / (down + up * 0.99) < module->lowest);
    assert_true(supply->lowest * loaded / (loaded + up * 1.01) > 2.0);
}

/* Two address lines shorted in the cartridge, one high, one low: what flows, and that the low one wins. The
 * driver's low: 0.55 V at 32 mA, 17 ohm (SN74LVC8T245 data sheet SCES584A); the diode 0.3 V at this current
 * [M]. TTL's low is 0.8 V. Into a dead short at most the driver's 32 mA. */
static void shorted_lines_are_bounded(void **state) {
    (void)state;
    static struct netlist list;
    struct netlist_findings found = {0};
    assert_true(netlist_parse(&list, netlist_text, &found));
    for (int line = 0; line < PIN_ADDRESS_COUNT; line++) {
        netlist_word ref;
        snprintf(ref, sizeof ref, "R%d", 9 + line);
        const double least = value_of(&list, ref) * 0.95, most = highest(&list, "+5V");
        assert_true(most / least < 0.032);
        assert_true(0.3 + most / least * 0.55 / 0.032 < 0.8);
    }
}

/* A cartridge's low bears the pull: 1.6 mA (6540 data sheet), and its level at the translator stays under 0.8
 * V behind the series resistor, which carries nothing. */
static void pulls_are_weak_enough(void **state) {
    (void)state;
    static struct netlist list;
    struct netlist_findings found = {0};
    assert_true(netlist_parse(&list, netlist_text, &found));
    assert_true(highest(&list, "+5V") / (value_of(&list, "RN3") * 0.95) < 0.0016);
    /* The lower one is for A12 = 0 only; U8 bears eight lines that are held: 32 mA [M: 74LVC1G125 at 4.5 V].
     */
    assert_int_equal(netlist_net_of(&list, netlist_part_index(&list, "U8"), 0),
                     netlist_net_index(&list, "DR12"));
    assert_true(8 * highest(&list, "+5V") / (value_of(&list, "RN4") * 0.95) < 0.032);
}

static const struct board_change changes[] = {
    {"net   DR3        U1.18 R12.1 D4.K", "net   DR3        U1.18 R12.1", "D4.K (K) stands 0 times", false},
    {"open  U5.4    no connection", "net   GND        U5.4", "U5.4 has no connection inside", false},
    {"net   ADDRESS3   M1.7", "net   ADDRESS3   M1.9", "GP6 is on ADDRESS3", false},
    {"net   SUPPLY_ON  M1.1 U7.3", "net   SUPPLY_ON  M1.2 U7.3", "GP1 is on SUPPLY_ON", false},
    {"net   RELEASE    U6.12", "net   RELEASE    U6.12 U6.8", "2 outputs drive RELEASE", false},
    {"net   DATA0      U3.3", "net   DATA0      U3.3 U3.4", "too many two-way pins on DATA0", false},
    {"net   D3         J1.D3", "net   D3         J1.D3 M1.22", "5 V reaches M1.22", false},
    {"net   DR3        U1.18", "net   DR3        U1.18 M1.7", "5 V reaches M1.7", false},
    {"net   PULLED     U2.16", "net   PULLED     U2.16 M1.32", "5 V reaches M1.32", false},
    {"15k          0.25W", "1.5k         0.25W", "5 V reaches M1.34", false},
    {"U7.3 U6.1 R22.1", "U7.3 U6.1", "U7.3 (EN) has no level at reset", false},
    {"U7.3 U6.1 R22.1", "U7.3 U6.1", "SUPPLY_ON is not pulled to GND", false},
    {"U3.2 R23.1", "U3.2", "U3.2 (DIR) has no level at reset", false},
    {"U3.22 R24.2", "U3.22", "U1.22 (/OE) has no level at reset", false},
    {"net   RELEASE    U6.12 U1.22", "net   GND        U1.22\nnet   RELEASE    U6.12",
     "no gate drives the enable of U1", false},
    {"U5.1 U6.2", "U5.1", "the gate of U2 does not take POWERED", false},
    {"U7.3 U6.1", "U7.3", "the gate of U3 does not take SUPPLY_ON", false},
    {"U1.1 U1.2", "U1.1", "DIR of U1 is not 3V3M", false},
    {" R25.1 ", " ", "FAULT is not pulled to 3V3M", false},
    {" U1.13 U2.9", " U2.9\nnet   3V3M       U1.13", "U1 lacks its ground", false},
    {"near  C4   U2.24\n", "", "U2.24 has no capacitor near it", false},
    {"U3.23 U3.24 D14.A", "U3.23 D14.A\nnet   +5V        U3.24", "U3.24 has no or the wrong supply", false},
    {"net   USB5V      M1.40 U7.1", "net   USB5V      M1.40 U7.1 J1.V5", "slot signal +5V is not on +5V",
     false},
    {"net   USB5V      M1.40", "net   +5V        M1.40", "M1.40 can feed the cartridge past the switch",
     false},
    {"net   USB5V      M1.40 U7.1 C11.1", "net   USB5V      M1.40 U7.1 C11.1 D14.A",
     "M1.40 can feed the cartridge past the switch", false},
    {"net   +5V        U7.6", "net   SPARE      U7.6\nnet   +5V        ", "0 switches feed the cartridge",
     false},
    {"net   SUPPLY_ON  M1.1 U7.3", "net   3V3M       U7.3\nnet   SUPPLY_ON  M1.1",
     "the switch is not SUPPLY_ON's", false},
    {"R12.2 D4.A J1.A3", "R12.2 D4.A J1.A4", "signal A3 is not on A3", false},
    {"D4.A J1.A3", "J1.A3", "no diode from A3 to DR3", false},
    {"R12.2 D4.A J1.A3", "D4.A J1.A3", "A3 does not go to DR3 through a resistor", false},
    {"J1.D3 R4.1 RN3.5", "J1.D3 R4.1", "D3 is not pulled to PULLED", false},
    {"R4.1 RN3.5 RN4.5", "R4.1 RN3.5", "D3 is not pulled to STRONG", false},
    {"U8.1 R34.1", "U8.1", "U8.1 (/OE) has no level at reset", false},
    {"RN3.1 U8.2 R35.1", "RN3.1 U8.2", "PULLED is not pulled to GND", false},
    {"21 | 390", "20 | 390", "the bill counts 20 of 390 and names 21", true},
    {"R20 R21 |", "R20 |", "the bill names R21 0 times", true},
    {"21 | 390", "21 | 220", "R1 is 390 in the net list, 220 in the bill", true},
};

static void every_check_can_fail(void **state) {
    (void)state;
    board_every_check_can_fail(netlist_text, bom_text, changes, sizeof changes / sizeof *changes, check_all);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(board_is_sound),
        cmocka_unit_test(pin_map_fits_the_module),
        cmocka_unit_test(the_limit_is_between_cartridge_and_port),
        cmocka_unit_test(supply_sense_is_in_bounds),
        cmocka_unit_test(shorted_lines_are_bounded),
        cmocka_unit_test(pulls_are_weak_enough),
        cmocka_unit_test(every_check_can_fail),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
