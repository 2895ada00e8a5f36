#include "boards/netlist.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void netlist_find(struct netlist_findings *found, const char *format, ...) {
    size_t room = sizeof found->text - found->length;
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(found->text + found->length, room, format, arguments);
    va_end(arguments);
    if (length < 0 || (size_t)length + 1 >= room) {
        return; /* full: what is there is enough to fail */
    }
    found->length += (size_t)length;
    found->text[found->length++] = '\n';
    found->text[found->length] = '\0';
}

int netlist_part_index(const struct netlist *list, const char *ref) {
    for (int i = 0; i < list->part_count; i++) {
        if (strcmp(list->parts[i].ref, ref) == 0) {
            return i;
        }
    }
    return -1;
}

int netlist_net_index(const struct netlist *list, const char *name) {
    for (int i = 0; i < list->net_count; i++) {
        if (strcmp(list->nets[i], name) == 0) {
            return i;
        }
    }
    return -1;
}

int netlist_net_of(const struct netlist *list, int part, int pin) {
    for (int i = 0; i < list->node_count; i++) {
        if (list->nodes[i].part == part && list->nodes[i].pin == pin) {
            return list->nodes[i].net;
        }
    }
    return -1;
}

const struct netlist_pin *netlist_pin_of(const struct netlist *list, const struct netlist_node *node) {
    return &list->classes[list->parts[node->part].class].pins[node->pin];
}

bool netlist_is_class(const struct netlist *list, int part, const char *name) {
    return part >= 0 && strcmp(list->classes[list->parts[part].class].name, name) == 0;
}

const struct netlist_rail *netlist_rail_of(const struct netlist *list, int net) {
    for (int i = 0; i < list->rail_count; i++) {
        if (list->rails[i].net == net) {
            return &list->rails[i];
        }
    }
    return NULL;
}

double netlist_value(const char *text) {
    static const struct {
        char letter;
        double factor;
    } scales[] = {{'p', 1e-12}, {'n', 1e-9}, {'u', 1e-6}, {'k', 1e3}, {'M', 1e6}, {'\0', 1}};
    const char *times = strchr(text, 'x');
    if (times != NULL) {
        text = times + 1;
    }
    char *end = NULL;
    double value = strtod(text, &end);
    if (end == text) {
        return -1;
    }
    for (size_t i = 0; i < sizeof scales / sizeof *scales; i++) {
        if (*end == scales[i].letter) {
            return value * scales[i].factor;
        }
    }
    return -1;
}

/* The parser: one function a statement, each over the line's words. */

enum { WORDS = 128 };

struct line {
    char *word[WORDS];
    int count;
};

static bool copy_word(netlist_word to, const char *from) {
    return snprintf(to, NETLIST_WORD, "%s", from) < NETLIST_WORD;
}

static bool add_class(struct netlist *list, const struct line *line) {
    if (line->count != 2 || list->class_count == NETLIST_CLASSES) {
        return false;
    }
    return copy_word(list->classes[list->class_count++].name, line->word[1]);
}

static bool add_pin(struct netlist *list, const struct line *line) {
    static const char *const types[] = {"in",      "out",   "tri",    "bidir",  "drain",
                                        "passive", "power", "source", "ground", "nc"};
    if (line->count != 5 || list->class_count == 0 || strlen(line->word[4]) != 1 ||
        strchr("53t-", line->word[4][0]) == NULL) {
        return false;
    }
    bool known = false;
    for (size_t i = 0; i < sizeof types / sizeof *types; i++) {
        known = known || strcmp(types[i], line->word[3]) == 0;
    }
    struct netlist_class *class = &list->classes[list->class_count - 1];
    if (!known || class->count == NETLIST_CLASS_PINS) {
        return false;
    }
    struct netlist_pin *pin = &class->pins[class->count++];
    pin->level = line->word[4][0];
    return copy_word(pin->number, line->word[1]) && copy_word(pin->name, line->word[2]) &&
           copy_word(pin->type, line->word[3]);
}

static bool add_part(struct netlist *list, const struct line *line) {
    if (line->count != 5 || list->part_count == NETLIST_PARTS ||
        netlist_part_index(list, line->word[1]) >= 0) {
        return false;
    }
    struct netlist_part *part = &list->parts[list->part_count++];
    part->class = -1;
    for (int i = 0; i < list->class_count; i++) {
        if (strcmp(list->classes[i].name, line->word[2]) == 0) {
            part->class = i;
        }
    }
    return part->class >= 0 && copy_word(part->ref, line->word[1]) && copy_word(part->value, line->word[3]) &&
           copy_word(part->package, line->word[4]);
}

/* REF.NUMBER, which is cut in two. */
static bool find_node(const struct netlist *list, char *word, struct netlist_node *node) {
    char *dot = strchr(word, '.');
    if (dot == NULL) {
        return false;
    }
    *dot = '\0';
    node->part = netlist_part_index(list, word);
    if (node->part < 0) {
        return false;
    }
    const struct netlist_class *class = &list->classes[list->parts[node->part].class];
    for (node->pin = 0; node->pin < class->count; node->pin++) {
        if (strcmp(class->pins[node->pin].number, dot + 1) == 0) {
            return true;
        }
    }
    return false;
}

static bool add_node(struct netlist *list, char *word, int net) {
    struct netlist_node node = {0};
    if (list->node_count == NETLIST_NODES || !find_node(list, word, &node)) {
        return false;
    }
    node.net = net;
    list->nodes[list->node_count++] = node;
    return true;
}

static int net_named(struct netlist *list, const char *name) {
    int net = netlist_net_index(list, name);
    if (net >= 0 || list->net_count == NETLIST_NETS || !copy_word(list->nets[list->net_count], name)) {
        return net;
    }
    return list->net_count++;
}

static bool add_net(struct netlist *list, const struct line *line) {
    int net = line->count < 3 ? -1 : net_named(list, line->word[1]);
    if (net < 0) {
        return false;
    }
    for (int i = 2; i < line->count; i++) {
        if (!add_node(list, line->word[i], net)) {
            return false;
        }
    }
    return true;
}

static bool add_rail(struct netlist *list, const struct line *line) {
    if (line->count != 4 || list->rail_count == NETLIST_RAILS) {
        return false;
    }
    struct netlist_rail *rail = &list->rails[list->rail_count++];
    rail->net = net_named(list, line->word[1]);
    rail->lowest = strtod(line->word[2], NULL);
    rail->highest = strtod(line->word[3], NULL);
    return rail->net >= 0 && rail->lowest > 0 && rail->highest >= rail->lowest;
}

static bool add_near(struct netlist *list, const struct line *line) {
    struct netlist_node node = {0};
    if (line->count != 3 || list->near_count == NETLIST_NEAR || !find_node(list, line->word[2], &node)) {
        return false;
    }
    struct netlist_near *near = &list->near[list->near_count++];
    *near = (struct netlist_near){netlist_part_index(list, line->word[1]), node.part, node.pin};
    return near->capacitor >= 0;
}

static bool add_open(struct netlist *list, const struct line *line) {
    return line->count >= 3 && add_node(list, line->word[1], -1);
}

static bool add_line(struct netlist *list, const struct line *line) {
    static const struct {
        const char *word;
        bool (*add)(struct netlist *list, const struct line *line);
    } statements[] = {
        {"class", add_class}, {"pin", add_pin},   {"part", add_part}, {"net", add_net},
        {"rail", add_rail},   {"near", add_near}, {"open", add_open},
    };
    for (size_t i = 0; i < sizeof statements / sizeof *statements; i++) {
        if (strcmp(statements[i].word, line->word[0]) == 0) {
            return statements[i].add(list, line);
        }
    }
    return false;
}

bool netlist_parse(struct netlist *list, const char *text, struct netlist_findings *found) {
    *list = (struct netlist){0};
    for (int number = 1; *text != '\0'; number++) {
        char copy[512];
        struct line line = {0};
        size_t length = strcspn(text, "\n");
        if (length >= sizeof copy) {
            netlist_find(found, "line %d is too long", number);
            return false;
        }
        memcpy(copy, text, length);
        copy[length] = '\0';
        text += length + (text[length] == '\n');
        copy[strcspn(copy, "#")] = '\0';
        char *rest = copy;
        for (char *word; line.count < WORDS && (word = strtok_r(rest, " \t", &rest)) != NULL;) {
            line.word[line.count++] = word;
        }
        if (line.count > 0 && !add_line(list, &line)) {
            netlist_find(found, "line %d cannot be read: it starts with %s", number, line.word[0]);
            return false;
        }
    }
    return true;
}
