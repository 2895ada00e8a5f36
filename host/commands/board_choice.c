#include "commands/board_choice.h"

#include "slotjig/wire.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool is_serial_number(const char *text) {
    static const char digits[] = "0123456789abcdefABCDEF";
    return strlen(text) == 2 * WIRE_SERIAL && strspn(text, digits) == strlen(text);
}

/* Bus, a dash, and the ports from the root hub on: 1-2.3 */
static bool is_port_path(const char *text) {
    static const char digits[] = "0123456789";
    size_t length = strspn(text, digits);
    if (length == 0 || text[length] != '-') {
        return false;
    }
    do {
        text += length + 1;
        length = strspn(text, digits);
    } while (length > 0 && text[length] == '.');
    return length > 0 && text[length] == '\0';
}

bool board_choice_parse(const char *text, struct board_choice *choice, struct problem *problem) {
    static const char serial[] = "serial:";
    const bool told = strncmp(text, serial, strlen(serial)) == 0;
    const char *device = told ? text + strlen(serial) : text;
    struct board_choice made = {.way = BOARD_BY_USB, .baud = choice->baud};
    if (strlen(device) >= sizeof made.text) {
        return problem_set(problem, PROBLEM_INPUT, "board %.40s...: longer than %d characters; shorten it",
                           text, BOARD_CHOICE_MAX - 1);
    }
    if (!told && strcmp(text, "none") == 0) {
        made.way = BOARD_NONE;
    } else if (*device == '/') {
        made.way = BOARD_BY_SERIAL;
        snprintf(made.text, sizeof made.text, "%s", device);
    } else if (!told && (is_serial_number(text) || is_port_path(text))) {
        snprintf(made.text, sizeof made.text, "%s", text);
    } else if (told || strcmp(text, "usb") != 0) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "board '%s': say usb (the only one there), none, a board's serial (%d hexadecimal digits), "
            "its port path as in 1-2.3, or the serial device as in /dev/ttyACM0; `slotjig boards` "
            "lists them",
            text, 2 * WIRE_SERIAL);
    }
    *choice = made;
    return true;
}

int board_baud(const char *text) {
    char *end = NULL;
    const long baud = strtol(text, &end, 10);
    return *text >= '0' && *text <= '9' && *end == '\0' && baud >= BAUD_MIN && baud <= BAUD_MAX ? (int)baud
                                                                                                : 0;
}

void board_choice_text(const struct board_choice *choice, char *text, unsigned long size) {
    switch (choice->way) {
    case BOARD_BY_USB:
        snprintf(text, size, "%s%s", choice->text[0] != '\0' ? "usb " : "the only board on USB",
                 choice->text);
        break;
    case BOARD_BY_SERIAL:
        snprintf(text, size, "serial %s, %d baud", choice->text, choice->baud);
        break;
    case BOARD_BY_COMMAND:
        snprintf(text, size, "command %s", choice->text);
        break;
    case BOARD_NONE:
        snprintf(text, size, "none; the image is put in by hand");
        break;
    default:
        snprintf(text, size, "virtual");
    }
}
