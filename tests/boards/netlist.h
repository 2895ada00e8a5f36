/* A board's net list and bill of materials as data, and the checks on them. The form of the net list is
 * described at the top of boards/pico/netlist.txt. */
#ifndef SLOTJIG_TESTS_BOARDS_NETLIST_H
#define SLOTJIG_TESTS_BOARDS_NETLIST_H

#include <stdbool.h>
#include <stddef.h>

enum {
    NETLIST_CLASSES = 24,
    NETLIST_CLASS_PINS = 48,
    NETLIST_PARTS = 96,
    NETLIST_NETS = 96,
    NETLIST_NODES = 512,
    NETLIST_RAILS = 8,
    NETLIST_NEAR = 32,
    NETLIST_WORD = 24
};

typedef char netlist_word[NETLIST_WORD];

struct netlist_pin {
    netlist_word number, name, type;
    char level; /* '5', '3', 't' or '-' */
};

struct netlist_class {
    netlist_word name;
    struct netlist_pin pins[NETLIST_CLASS_PINS];
    int count;
};

struct netlist_part {
    netlist_word ref, value, package;
    int class;
};

/* One pin of one part; net -1: open on purpose. */
struct netlist_node {
    int part, pin, net;
};

struct netlist_rail {
    int net;
    double lowest, highest;
};

struct netlist_near {
    int capacitor, part, pin;
};

struct netlist {
    struct netlist_class classes[NETLIST_CLASSES];
    struct netlist_part parts[NETLIST_PARTS];
    netlist_word nets[NETLIST_NETS];
    struct netlist_node nodes[NETLIST_NODES];
    struct netlist_rail rails[NETLIST_RAILS];
    struct netlist_near near[NETLIST_NEAR];
    int class_count, part_count, net_count, node_count, rail_count, near_count;
};

/* What checks found, one line each; empty: nothing. */
struct netlist_findings {
    char text[8192];
    size_t length;
};
void netlist_find(struct netlist_findings *found, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* False with the line number in the findings. */
bool netlist_parse(struct netlist *list, const char *text, struct netlist_findings *found);

int netlist_part_index(const struct netlist *list, const char *ref);
int netlist_net_index(const struct netlist *list, const char *name);
/* The net on which a pin lies; -1: on none. */
int netlist_net_of(const struct netlist *list, int part, int pin);
const struct netlist_pin *netlist_pin_of(const struct netlist *list, const struct netlist_node *node);
bool netlist_is_class(const struct netlist *list, int part, const char *name);
const struct netlist_rail *netlist_rail_of(const struct netlist *list, int net);
/* "4.7k" is 4700, "390" 390, "100n" 1e-7; a number before an x ("8x100k") is skipped. Below 0: unreadable. */
double netlist_value(const char *text);

struct netlist_gpio {
    const char *net;
    int gpio;
};

/* Each check appends what is wrong to the findings. */
void netlist_check_pins(const struct netlist *list, struct netlist_findings *found);
void netlist_check_gpios(const struct netlist *list, const struct netlist_gpio *gpios, size_t count,
                         struct netlist_findings *found);
void netlist_check_drivers(const struct netlist *list, struct netlist_findings *found);
void netlist_check_levels(const struct netlist *list, struct netlist_findings *found);
void netlist_check_enables(const struct netlist *list, struct netlist_findings *found);
/* inputs: of the gate that lets the translators drive. pulls: net, and the one that a resistor pulls it to.
 */
struct netlist_gate {
    const char *inputs[3];
    const char *pulls[8][2];
};
void netlist_check_gate(const struct netlist *list, const struct netlist_gate *wanted,
                        struct netlist_findings *found);
void netlist_check_supplies(const struct netlist *list, struct netlist_findings *found);
void netlist_check_backfeed(const struct netlist *list, struct netlist_findings *found);
void netlist_check_slot(const struct netlist *list, struct netlist_findings *found);
void netlist_check_socket(const struct netlist *list, struct netlist_findings *found);
void netlist_check_switch(const struct netlist *list, struct netlist_findings *found);
void netlist_check_bom(const struct netlist *list, const char *bom, struct netlist_findings *found);

#endif
