/* What is told of a board and of the slot, in JSON and in words. */
#ifndef SLOTJIG_COMMANDS_BOARD_REPORT_H
#define SLOTJIG_COMMANDS_BOARD_REPORT_H

#include "commands/bench_board.h"

#include <jansson.h>
#include <stddef.h>

/* Object `board`: transport, serial, firmware; after a push also what went over. null without a board. */
json_t *board_json(const struct bench_board *board);
/* Object `slot`: the watch's numbers of one second. */
json_t *slot_json(const struct link_watch *watch);

/* "usb E66164084319392A, firmware 0.2" */
void board_text(const struct bench_board *board, char *text, size_t size);
/* "2 of 2 blocks sent, read back and compared" */
void push_text(const struct bench_board *board, char *text, size_t size);
/* How the last push was checked: "crc_and_read_back", "crc" or "no". */
const char *verified_name(const struct bench_board *board);
/* How the console came to run it, and what to do where it did not. */
const char *start_text(const struct bench_board *board);

#endif
