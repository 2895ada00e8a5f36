#include "commands/board_report.h"

#include <stdio.h>

static const char *start_name(enum wire_start start) {
    static const char *const names[] = {
        [WIRE_START_POWER] = "power", [WIRE_START_HANDED] = "handed_over", [WIRE_START_FORCED] = "forced"};
    return start <= WIRE_START_FORCED ? names[start] : "unknown";
}

static void add_push(json_t *json, const struct bench_board *board) {
    const struct link_push *push = &board->push;
    json_object_set_new(json, "image_bytes", json_integer((json_int_t)board->size));
    json_object_set_new(json, "scheme", json_string(link_scheme_name(board->scheme)));
    if (board->link == NULL) {
        return;
    }
    json_object_update_new(json, json_pack("{s:I,s:I,s:I,s:b,s:I,s:I,s:i,s:i,s:s}", "blocks",
                                           (json_int_t)push->blocks, "sent_blocks", (json_int_t)push->sent,
                                           "kept_blocks", (json_int_t)push->kept, "already_there",
                                           (int)push->skipped, "bytes_out", (json_int_t)push->bytes_out,
                                           "bytes_in", (json_int_t)push->bytes_in, "retries", push->retries,
                                           "reconnects", push->reconnects, "start", start_name(push->start)));
}

json_t *board_json(const struct bench_board *board) {
    if (board->link == NULL && board->settings->board.way != BOARD_BY_COMMAND) {
        return json_null();
    }
    json_t *json = json_pack("{s:s}", "transport", board->transport);
    if (board->link != NULL) {
        const struct link_facts *facts = link_facts(board->link);
        char firmware[32];
        snprintf(firmware, sizeof firmware, "%d.%d", facts->firmware_major, facts->firmware_minor);
        json_object_set_new(json, "serial", json_string(facts->serial));
        json_object_set_new(json, "firmware", json_string(firmware));
    }
    if (board->pushed) {
        add_push(json, board);
    }
    return json;
}

json_t *slot_json(const struct link_watch *watch) {
    json_t *trace = json_array();
    for (int i = 0; i < watch->traced; i++) {
        json_array_append_new(trace, json_integer(watch->trace[i]));
    }
    json_t *json = json_pack("{s:b,s:I,s:I,s:I,s:I,s:I,s:i,s:i,s:o}", "supply", (int)watch->supply, "cycles",
                             (json_int_t)watch->cycles, "resets", (json_int_t)watch->resets, "vsyncs",
                             (json_int_t)watch->vsyncs, "mailbox_reads", (json_int_t)watch->mailbox, "missed",
                             (json_int_t)watch->missed, "address_high", (int)watch->high, "address_low",
                             (int)watch->low, "trace", trace);
    const bool vector = watch->echoed_low && watch->echoed_high;
    json_object_set_new(json, "vector_echoed",
                        vector ? json_integer(watch->vector_high << 8 | watch->vector_low) : json_null());
    json_object_set_new(json, "step_echoed", watch->echoed_step ? json_integer(watch->step) : json_null());
    return json;
}

void board_text(const struct bench_board *board, char *text, size_t size) {
    if (board->link == NULL) {
        snprintf(text, size, "a program of yours: %s", board->settings->board.text);
        return;
    }
    const struct link_facts *facts = link_facts(board->link);
    snprintf(text, size, "%s %s, firmware %d.%d", board->transport, facts->serial, facts->firmware_major,
             facts->firmware_minor);
}

const char *verified_name(const struct bench_board *board) {
    const bool read_back = board->push.verify_in >= board->size;
    return board->link == NULL || !board->pushed ? "no" : read_back ? "crc_and_read_back" : "crc";
}

void push_text(const struct bench_board *board, char *text, size_t size) {
    const struct link_push *push = &board->push;
    const char *read_back = push->verify_in >= board->size ? "read back and compared" : "not read back";
    if (board->link == NULL) {
        snprintf(text, size, "handed to your program, which ended well; nothing was compared");
    } else if (push->skipped) {
        snprintf(text, size, "the board has this very image already, nothing was sent; CRC agrees, %s",
                 read_back);
    } else {
        snprintf(text, size, "%zu blocks of 1 KiB sent, %zu left as the board had them; CRC agrees, %s",
                 push->sent, push->kept, read_back);
    }
}

const char *start_text(const struct bench_board *board) {
    if (board->link == NULL) {
        return "how the console starts it is your program's and your cartridge's business";
    }
    if (board->push.skipped) {
        return "if the console shows another picture, switch it off and on";
    }
    switch (board->push.start) {
    case WIRE_START_HANDED:
        return "the console took it over and runs it";
    case WIRE_START_POWER:
        return "the board serves it since it was switched on";
    default:
        return "the console has not started it: switch the console off, wait two seconds, switch it on";
    }
}
