#include "boards/netlist.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool is_type(const struct netlist *list, const struct netlist_node *node, const char *type) {
    return strcmp(netlist_pin_of(list, node)->type, type) == 0;
}

static const char *ref_of(const struct netlist *list, const struct netlist_node *node) {
    return list->parts[node->part].ref;
}

/* Names a node for a finding; the buffer is the caller's. */
static const char *node_name(const struct netlist *list, const struct netlist_node *node, char *text,
                             size_t size) {
    snprintf(text, size, "%s.%s", ref_of(list, node), netlist_pin_of(list, node)->number);
    return text;
}

static int uses_of(const struct netlist *list, int part, int pin) {
    int uses = 0;
    for (int i = 0; i < list->node_count; i++) {
        uses += list->nodes[i].part == part && list->nodes[i].pin == pin;
    }
    return uses;
}

static int nodes_on(const struct netlist *list, int net) {
    int count = 0;
    for (int i = 0; i < list->node_count; i++) {
        count += list->nodes[i].net == net;
    }
    return count;
}

/* Every pin of every part stands once: on a net, or open on purpose. Every net joins something. */
void netlist_check_pins(const struct netlist *list, struct netlist_findings *found) {
    for (int part = 0; part < list->part_count; part++) {
        const struct netlist_class *class = &list->classes[list->parts[part].class];
        for (int pin = 0; pin < class->count; pin++) {
            int uses = uses_of(list, part, pin);
            if (uses != 1) {
                netlist_find(found, "%s.%s (%s) stands %d times", list->parts[part].ref,
                             class->pins[pin].number, class->pins[pin].name, uses);
            }
        }
    }
    for (int net = 0; net < list->net_count; net++) {
        if (nodes_on(list, net) < 2) {
            netlist_find(found, "net %s joins fewer than two pins", list->nets[net]);
        }
    }
    for (int i = 0; i < list->node_count; i++) {
        char name[64];
        if (list->nodes[i].net >= 0 && is_type(list, &list->nodes[i], "nc")) {
            netlist_find(found, "%s has no connection inside, yet lies on %s",
                         node_name(list, &list->nodes[i], name, sizeof name), list->nets[list->nodes[i].net]);
        }
    }
}

/* Every GPIO on the net of its name, and the module's other GPIOs nowhere. */
void netlist_check_gpios(const struct netlist *list, const struct netlist_gpio *gpios, size_t count,
                         struct netlist_findings *found) {
    size_t seen = 0;
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        const char *pin = netlist_pin_of(list, node)->name;
        if (!netlist_is_class(list, node->part, "pico-module") || strncmp(pin, "GP", 2) != 0) {
            continue;
        }
        const char *want = NULL;
        for (size_t g = 0; g < count; g++) {
            want = atoi(pin + 2) == gpios[g].gpio ? gpios[g].net : want;
        }
        const char *have = node->net < 0 ? "no net" : list->nets[node->net];
        if (want == NULL) {
            netlist_find(found, "%s is on %s but not in pins.h", pin, have);
        } else if (strcmp(want, have) != 0) {
            netlist_find(found, "%s is on %s; pins.h says %s", pin, have, want);
        } else {
            seen++;
        }
    }
    if (seen != count) {
        netlist_find(found, "%zu of %zu GPIOs of pins.h are on their nets", seen, count);
    }
}

/*
 * At most one pin drives a net for good. A three-state output whose enable is tied counts as such, and here
 * all are. Two-way pins may meet one another or one driver: which of them drives is the gate's and the
 * firmware's affair. Open drains may share.
 */
void netlist_check_drivers(const struct netlist *list, struct netlist_findings *found) {
    for (int net = 0; net < list->net_count; net++) {
        int push = 0, drain = 0, both = 0;
        for (int i = 0; i < list->node_count; i++) {
            const struct netlist_node *node = &list->nodes[i];
            if (node->net == net) {
                push +=
                    is_type(list, node, "out") || is_type(list, node, "tri") || is_type(list, node, "source");
                drain += is_type(list, node, "drain");
                both += is_type(list, node, "bidir");
            }
        }
        if (push > 1) {
            netlist_find(found, "%d outputs drive %s", push, list->nets[net]);
        }
        if (push > 0 && drain > 0) {
            netlist_find(found, "an output and an open drain share %s", list->nets[net]);
        }
        if (both + push > 2 || (both > 0 && netlist_rail_of(list, net) != NULL)) {
            netlist_find(found, "too many two-way pins on %s", list->nets[net]);
        }
    }
}

/* Of a two-legged part: the net at its other leg; -2: no such part. */
static int other_net(const struct netlist *list, const struct netlist_node *node, const char *class) {
    if (!netlist_is_class(list, node->part, class)) {
        return -2;
    }
    return netlist_net_of(list, node->part, 1 - node->pin);
}

/* The resistor from this net to that one; -1: none. Networks count with their common leg. */
static int resistor_between(const struct netlist *list, int net, int to) {
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        if (node->net != net) {
            continue;
        }
        bool network = netlist_is_class(list, node->part, "resistor-network") && node->pin > 0 &&
                       netlist_net_of(list, node->part, 0) == to;
        if (network || other_net(list, node, "resistor") == to) {
            return node->part;
        }
    }
    return -1;
}

/* Highest voltage that a net's own pins and rail put on it. */
static void seed_levels(const struct netlist *list, bool *five) {
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        bool drives = is_type(list, node, "out") || is_type(list, node, "tri") ||
                      is_type(list, node, "source") || is_type(list, node, "bidir");
        if (node->net >= 0 && drives && netlist_pin_of(list, node)->level == '5') {
            five[node->net] = true;
        }
    }
    for (int i = 0; i < list->rail_count; i++) {
        five[list->rails[i].net] = five[list->rails[i].net] || list->rails[i].highest > 3.6;
    }
}

/* What a divider from a 5 V net to ground leaves; the net itself where it is none. */
static double divided(const struct netlist *list, int net, int from, int resistor) {
    int ground = netlist_net_index(list, "GND");
    int lower = resistor_between(list, net, ground);
    const struct netlist_rail *rail = netlist_rail_of(list, from);
    double highest = rail == NULL ? 5.25 : rail->highest;
    if (lower < 0) {
        return highest;
    }
    double up = netlist_value(list->parts[resistor].value), down = netlist_value(list->parts[lower].value);
    return highest * down / (up + down);
}

/* Does 5 V come through this part's leg to its other leg? */
static bool passes(const struct netlist *list, const struct netlist_node *node, int to) {
    if (netlist_is_class(list, node->part, "diode")) {
        return node->pin == 0; /* from the anode */
    }
    if (netlist_is_class(list, node->part, "resistor")) {
        return divided(list, to, node->net, node->part) > 3.6;
    }
    return netlist_is_class(list, node->part, "fuse");
}

static bool spread_levels(const struct netlist *list, bool *five) {
    bool changed = false;
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        const struct netlist_class *class = &list->classes[list->parts[node->part].class];
        if (node->net < 0 || !five[node->net] || class->count != 2) {
            continue;
        }
        int to = netlist_net_of(list, node->part, 1 - node->pin);
        bool stiff = to >= 0 && (netlist_rail_of(list, to) != NULL || to == netlist_net_index(list, "GND"));
        if (to >= 0 && !five[to] && !stiff && passes(list, node, to)) {
            five[to] = true;
            changed = true;
        }
    }
    return changed;
}

/* No 3.3 V pin where 5 V can come, be it through a resistor, a fuse or a diode; dividers are worked out. */
void netlist_check_levels(const struct netlist *list, struct netlist_findings *found) {
    bool five[NETLIST_NETS] = {false};
    seed_levels(list, five);
    while (spread_levels(list, five)) {
    }
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        char name[64];
        if (node->net >= 0 && five[node->net] && netlist_pin_of(list, node)->level == '3') {
            netlist_find(found, "5 V reaches %s (3.3 V only) on %s", node_name(list, node, name, sizeof name),
                         list->nets[node->net]);
        }
    }
}

/* A level without any firmware: a rail, ground, or a resistor to one. */
static bool is_defined(const struct netlist *list, int net) {
    int ground = netlist_net_index(list, "GND");
    if (net == ground || netlist_rail_of(list, net) != NULL || resistor_between(list, net, ground) >= 0) {
        return true;
    }
    for (int i = 0; i < list->rail_count; i++) {
        if (resistor_between(list, net, list->rails[i].net) >= 0) {
            return true;
        }
    }
    return false;
}

/* Enables, directions and the gate's inputs have a level while the module is in reset or unplugged. */
void netlist_check_enables(const struct netlist *list, struct netlist_findings *found) {
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        const char *pin = netlist_pin_of(list, node)->name;
        bool enable = strncmp(pin, "/OE", 3) == 0 || strcmp(pin, "DIR") == 0 || strcmp(pin, "EN") == 0;
        bool gate = netlist_is_class(list, node->part, "triple-nand3") && is_type(list, node, "in");
        char name[64];
        if ((enable || gate) && (node->net < 0 || !is_defined(list, node->net))) {
            netlist_find(found, "%s (%s) has no level at reset", node_name(list, node, name, sizeof name),
                         pin);
        }
    }
}

static int net_of_named_pin(const struct netlist *list, int part, const char *name) {
    const struct netlist_class *class = &list->classes[list->parts[part].class];
    for (int pin = 0; pin < class->count; pin++) {
        if (strcmp(class->pins[pin].name, name) == 0) {
            return netlist_net_of(list, part, pin);
        }
    }
    return -1;
}

/* The gate of which this net is the output: its part and its digit, '1' to '3'. */
static bool gate_of(const struct netlist *list, int net, int *part, char *digit) {
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        if (node->net == net && netlist_is_class(list, node->part, "triple-nand3") &&
            is_type(list, node, "out")) {
            *part = node->part;
            *digit = netlist_pin_of(list, node)->name[0];
            return true;
        }
    }
    return false;
}

static bool gate_has_input(const struct netlist *list, int part, char digit, const char *net) {
    bool has = false;
    for (const char *letter = "ABC"; *letter != '\0'; letter++) {
        const char name[] = {digit, *letter, '\0'};
        has = has || net_of_named_pin(list, part, name) == netlist_net_index(list, net);
    }
    return has;
}

static void check_pull(const struct netlist *list, const char *net, const char *to,
                       struct netlist_findings *found) {
    int from = netlist_net_index(list, net), rail = netlist_net_index(list, to);
    if (from < 0 || rail < 0 || resistor_between(list, from, rail) < 0) {
        netlist_find(found, "%s is not pulled to %s", net, to);
    }
}

/* Which way a translator drives, by its class: what its DIR must be. */
static const char *direction_of(const struct netlist *list, int part) {
    if (netlist_is_class(list, part, "octal-translator")) {
        return "DIRECTION";
    }
    return netlist_is_class(list, part, "octal-driver") ? "3V3M" : NULL;
}

/* Each translator's enable is the NAND of the board's inputs; released when nothing drives it; and the pulls
 * are there. */
void netlist_check_gate(const struct netlist *list, const struct netlist_gate *wanted,
                        struct netlist_findings *found) {
    for (int part = 0; part < list->part_count; part++) {
        const char *direction = direction_of(list, part);
        if (direction == NULL) {
            continue;
        }
        int enable = net_of_named_pin(list, part, "/OE"), gate = -1;
        char digit = '0';
        if (enable < 0 || !gate_of(list, enable, &gate, &digit)) {
            netlist_find(found, "no gate drives the enable of %s", list->parts[part].ref);
            continue;
        }
        for (size_t i = 0; i < sizeof wanted->inputs / sizeof *wanted->inputs; i++) {
            if (!gate_has_input(list, gate, digit, wanted->inputs[i])) {
                netlist_find(found, "the gate of %s does not take %s", list->parts[part].ref,
                             wanted->inputs[i]);
            }
        }
        if (net_of_named_pin(list, part, "DIR") != netlist_net_index(list, direction)) {
            netlist_find(found, "DIR of %s is not %s", list->parts[part].ref, direction);
        }
        check_pull(list, list->nets[enable], "3V3M", found);
    }
    for (size_t i = 0; i < sizeof wanted->pulls / sizeof *wanted->pulls && wanted->pulls[i][0]; i++) {
        check_pull(list, wanted->pulls[i][0], wanted->pulls[i][1], found);
    }
}

static bool is_chip(const struct netlist *list, int part) {
    return list->parts[part].ref[0] == 'U';
}

static bool has_ground(const struct netlist *list, int part) {
    int ground = netlist_net_index(list, "GND");
    bool any = false, all = true;
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        if (node->part == part && is_type(list, node, "ground")) {
            any = true;
            all = all && node->net == ground;
        }
    }
    return any && all;
}

static bool fits(const struct netlist_rail *rail, char level) {
    return level == '5' ? rail->lowest > 4 : rail->highest <= 3.6 && rail->lowest >= 3.0;
}

/* The capacitor that stands near this pin joins its rail to ground. */
static bool is_decoupled(const struct netlist *list, const struct netlist_node *node) {
    int ground = netlist_net_index(list, "GND");
    for (int i = 0; i < list->near_count; i++) {
        const struct netlist_near *near = &list->near[i];
        if (near->part != node->part || near->pin != node->pin ||
            !netlist_is_class(list, near->capacitor, "capacitor")) {
            continue;
        }
        int one = netlist_net_of(list, near->capacitor, 0), two = netlist_net_of(list, near->capacitor, 1);
        double farads = netlist_value(list->parts[near->capacitor].value);
        if (one == node->net && two == ground && farads >= 99e-9) {
            return true;
        }
    }
    return false;
}

/* Every chip has ground, the right supply at every supply pin, and a capacitor there. */
void netlist_check_supplies(const struct netlist *list, struct netlist_findings *found) {
    for (int part = 0; part < list->part_count; part++) {
        if (is_chip(list, part) && !has_ground(list, part)) {
            netlist_find(found, "%s lacks its ground", list->parts[part].ref);
        }
    }
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        char name[64];
        if (!is_chip(list, node->part) || !is_type(list, node, "power")) {
            continue;
        }
        node_name(list, node, name, sizeof name);
        const struct netlist_rail *rail = netlist_rail_of(list, node->net);
        if (rail == NULL || !fits(rail, netlist_pin_of(list, node)->level)) {
            netlist_find(found, "%s has no or the wrong supply", name);
        } else if (!is_decoupled(list, node)) {
            netlist_find(found, "%s has no capacitor near it", name);
        }
    }
    for (int part = 0; part < list->part_count; part++) {
        if (netlist_is_class(list, part, "pico-module") && !has_ground(list, part)) {
            netlist_find(found, "%s lacks a ground", list->parts[part].ref);
        }
    }
}

/* Can current go from this net to the other through fuses and diodes? */
static bool conducts(const struct netlist *list, int from, int to, int depth) {
    if (from == to) {
        return true;
    }
    for (int i = 0; i < list->node_count && depth > 0; i++) {
        const struct netlist_node *node = &list->nodes[i];
        bool fuse = netlist_is_class(list, node->part, "fuse");
        bool diode = netlist_is_class(list, node->part, "diode") && node->pin == 0;
        if (node->net != from || (!fuse && !diode)) {
            continue;
        }
        int next = netlist_net_of(list, node->part, 1 - node->pin);
        if (next >= 0 && next != netlist_net_index(list, "GND") && conducts(list, next, to, depth - 1)) {
            return true;
        }
    }
    return false;
}

/* Nothing that USB can power leads to the console's supply, which itself does feed the module. */
void netlist_check_backfeed(const struct netlist *list, struct netlist_findings *found) {
    enum { DEPTH = 6 };
    int console = netlist_net_index(list, "SLOT5V");
    int vsys = netlist_net_index(list, "VSYS");
    if (console < 0 || vsys < 0 || !conducts(list, console, vsys, DEPTH)) {
        netlist_find(found, "the console's supply does not reach VSYS");
    }
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        bool usb = netlist_is_class(list, node->part, "pico-module") &&
                   (is_type(list, node, "source") || is_type(list, node, "power"));
        char name[64];
        if (usb && node->net >= 0 && conducts(list, node->net, console, DEPTH)) {
            netlist_find(found, "%s can feed the console", node_name(list, node, name, sizeof name));
        }
        if (usb && strcmp(netlist_pin_of(list, node)->name, "VBUS") == 0 && node->net >= 0) {
            netlist_find(found, "VBUS is wired");
        }
    }
}

static void check_slot_signal(const struct netlist *list, const char *name, const char *net,
                              struct netlist_findings *found) {
    int slot = netlist_part_index(list, "J1");
    int have = slot < 0 ? -1 : net_of_named_pin(list, slot, name);
    if (have < 0 || have != netlist_net_index(list, net)) {
        netlist_find(found, "slot signal %s is not on %s", name, net);
    }
}

/* Each line of a slot on its net, and through a resistor on that of the chip behind it. `others`: pins that
 * share the line's net with slot and resistor. */
static void check_slot_lines(const struct netlist *list, const char *line, const char *behind, int count,
                             int others, struct netlist_findings *found) {
    for (int i = 0; i < count; i++) {
        netlist_word name, far;
        snprintf(name, sizeof name, "%s%d", line, i);
        check_slot_signal(list, name, name, found);
        if (behind == NULL) {
            continue;
        }
        int net = netlist_net_index(list, name);
        snprintf(far, sizeof far, "%s%d", behind, i);
        int resistor = net < 0 ? -1 : resistor_between(list, net, netlist_net_index(list, far));
        if (resistor < 0 || nodes_on(list, net) != 2 + others) {
            netlist_find(found, "%s does not go to %s through a resistor alone", name, far);
        }
    }
}

/* A0-A12, D0-D7, +5 V and ground, each on its net; data only through a resistor. */
void netlist_check_slot(const struct netlist *list, struct netlist_findings *found) {
    check_slot_lines(list, "A", NULL, 13, 0, found);
    check_slot_lines(list, "D", "B", 8, 0, found);
    check_slot_signal(list, "+5V", "SLOT5V", found);
    check_slot_signal(list, "GND", "GND", found);
}

static int other_end(const struct netlist *list, int net, const char *class, int pin) {
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        if (node->net == net && node->pin == pin && netlist_is_class(list, node->part, class)) {
            return netlist_net_of(list, node->part, 1 - node->pin);
        }
    }
    return -1;
}

/* The reader's socket: addresses through a resistor with a diode across it (so that low wins), data through
 * a resistor, and a pull on each data line. */
void netlist_check_socket(const struct netlist *list, struct netlist_findings *found) {
    check_slot_lines(list, "A", "DR", 13, 1, found);
    check_slot_lines(list, "D", "B", 8, 2, found);
    check_slot_signal(list, "+5V", "+5V", found);
    check_slot_signal(list, "GND", "GND", found);
    for (int i = 0; i < 13; i++) {
        netlist_word line, driver;
        snprintf(line, sizeof line, "A%d", i);
        snprintf(driver, sizeof driver, "DR%d", i);
        int net = netlist_net_index(list, line);
        if (net < 0 || other_end(list, net, "diode", 0) != netlist_net_index(list, driver)) {
            netlist_find(found, "no diode from %s to %s", line, driver);
        }
    }
    for (int i = 0; i < 8; i++) {
        netlist_word line;
        snprintf(line, sizeof line, "D%d", i);
        check_pull(list, line, "PULLED", found);
        check_pull(list, line, "STRONG", found);
    }
}

/* The cartridge's supply comes out of the switch and from nowhere else: not from the module's supplies by
 * wire, diode or fuse; the switch is off unless it is told otherwise. */
void netlist_check_switch(const struct netlist *list, struct netlist_findings *found) {
    int supply = netlist_net_index(list, "+5V"), sources = 0;
    for (int i = 0; i < list->node_count; i++) {
        const struct netlist_node *node = &list->nodes[i];
        char name[64];
        bool source = is_type(list, node, "source");
        bool is_switch = netlist_is_class(list, node->part, "power-switch");
        sources += source && is_switch && node->net == supply;
        bool made_of_it = netlist_is_class(list, node->part, "regulator");
        if (source && !is_switch && !made_of_it && node->net >= 0 && conducts(list, node->net, supply, 6)) {
            netlist_find(found, "%s can feed the cartridge past the switch",
                         node_name(list, node, name, sizeof name));
        }
        if (is_switch && strcmp(netlist_pin_of(list, node)->name, "EN") == 0 &&
            node->net != netlist_net_index(list, "SUPPLY_ON")) {
            netlist_find(found, "the switch is not SUPPLY_ON's");
        }
    }
    if (sources != 1) {
        netlist_find(found, "%d switches feed the cartridge", sources);
    }
}

/* One line of the bill: quantity | value | package | refs | notes. Ranges like R1-R8 are spelt out. */
static int bom_refs(const struct netlist *list, char *refs, int *listed, const char *value,
                    struct netlist_findings *found) {
    int count = 0;
    for (char *ref; (ref = strtok_r(refs, " ", &refs)) != NULL; count++) {
        int part = netlist_part_index(list, ref);
        if (part < 0) {
            netlist_find(found, "%s of the bill is not in the net list", ref);
            continue;
        }
        listed[part]++;
        if (strcmp(list->parts[part].value, value) != 0) {
            netlist_find(found, "%s is %s in the net list, %s in the bill", ref, list->parts[part].value,
                         value);
        }
    }
    return count;
}

static void bom_line(const struct netlist *list, char *line, int *listed, struct netlist_findings *found) {
    char *field[5] = {NULL};
    for (size_t i = 0; i < 5; i++) {
        field[i] = strsep(&line, "|");
        if (field[i] == NULL) {
            netlist_find(found, "a line of the bill has fewer than 5 fields");
            return;
        }
    }
    char *value = strtok(field[1], " ");
    int count = bom_refs(list, field[3], listed, value == NULL ? "" : value, found);
    if (count != atoi(field[0])) {
        netlist_find(found, "the bill counts %d of %s and names %d", atoi(field[0]),
                     value == NULL ? "nothing" : value, count);
    }
}

void netlist_check_bom(const struct netlist *list, const char *bom, struct netlist_findings *found) {
    int listed[NETLIST_PARTS] = {0};
    for (; *bom != '\0'; bom += strcspn(bom, "\n"), bom += *bom == '\n') {
        char line[512];
        size_t length = strcspn(bom, "\n");
        if (length >= sizeof line) {
            netlist_find(found, "a line of the bill is too long");
            return;
        }
        memcpy(line, bom, length);
        line[length] = '\0';
        if (length > 0 && line[0] != '#') {
            bom_line(list, line, listed, found);
        }
    }
    for (int part = 0; part < list->part_count; part++) {
        if (listed[part] != 1) {
            netlist_find(found, "the bill names %s %d times", list->parts[part].ref, listed[part]);
        }
    }
}
