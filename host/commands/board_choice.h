/* Which board: a word of the user's, from --board or from the key `board` of a bench. */
#ifndef SLOTJIG_COMMANDS_BOARD_CHOICE_H
#define SLOTJIG_COMMANDS_BOARD_CHOICE_H

#include "base/problem.h"

#include <stdbool.h>
#include <stdint.h>

enum { BOARD_CHOICE_MAX = 200, BAUD_MIN = 1200, BAUD_MAX = 4000000, BAUD_DEFAULT = 115200 };

enum board_way {
    BOARD_BY_USB,     /* text: serial, port path, or empty for the only one */
    BOARD_BY_SERIAL,  /* text: the device */
    BOARD_BY_COMMAND, /* text: a program of the user's with its arguments */
    BOARD_VIRTUAL,    /* the virtual bench's */
    BOARD_NONE        /* none: the image is put into the slot by the user's own means */
};

struct board_choice {
    enum board_way way;
    char text[BOARD_CHOICE_MAX];
    int baud; /* serial lines only */
};

/* "usb", "none", "1-2.3", sixteen hexadecimal digits, "/dev/ttyACM0", "serial:/dev/ttyACM0". Leaves baud
 * alone. PROBLEM_INPUT else. */
bool board_choice_parse(const char *text, struct board_choice *choice, struct problem *problem);

/* A line's speed, or 0 when the text is none. */
int board_baud(const char *text);

/* "the board on USB", "the board on /dev/ttyACM0" ... */
void board_choice_text(const struct board_choice *choice, char *text, unsigned long size);

#endif
