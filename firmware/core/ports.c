#include "core/ports.h"

#include "core/bytes.h"

static bool can_answer(const struct ports_server *server, const struct port_ops *ops,
                       const struct frame_decoder *decoder) {
    return !decoder->started || decoder->length == 0 ||
           ops->room(ops->state) >= server->answer_room(decoder->plain[0]);
}

size_t ports_input(const struct ports_server *server, void *board, const struct port_ops *ops,
                   struct board_port *port, int number, const uint8_t *bytes, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (bytes[i] == 0 && !can_answer(server, ops, &port->decoder)) {
            return i;
        }
        port->fed = true;
        struct frame_in in;
        if (frame_feed(&port->decoder, bytes[i], &in) && !(in.type & WIRE_REPLY)) {
            server->answer(board, number, &in);
        }
    }
    return count;
}

size_t ports_hello(const uint8_t *ask, uint32_t capabilities, const uint8_t *serial, uint8_t *reply) {
    const bool common = ask[0] <= WIRE_VERSION && ask[1] >= WIRE_VERSION;
    reply[0] = common ? WIRE_OK : WIRE_BAD_VERSION;
    reply[1] = WIRE_VERSION;
    put16(reply + 2, BOARD_FIRMWARE);
    put32(reply + 4, capabilities);
    put16(reply + 8, WIRE_PAYLOAD_MAX);
    put16(reply + 10, WIRE_BLOCK);
    reply[12] = WIRE_WINDOW;
    put32(reply + 13, WIRE_IMAGE_MAX);
    bytes_copy(reply + 17, serial, WIRE_SERIAL);
    return PORTS_HELLO;
}

void ports_send(const struct port_ops *ops, uint8_t *wire, uint8_t type, uint8_t sequence,
                const uint8_t *payload, size_t count) {
    ops->send(ops->state, wire, frame_encode(type, sequence, payload, count, wire));
}

void ports_refuse(const struct port_ops *ops, uint8_t *wire, const struct frame_in *in,
                  enum wire_status status) {
    const uint8_t payload[2] = {(uint8_t)status, in->type};
    ports_send(ops, wire, WIRE_ERROR, in->sequence, payload, sizeof payload);
}

static size_t text_length(const char *text) {
    size_t length = 0;
    while (length < WIRE_LOG_TEXT && text[length] != '\0') {
        length++;
    }
    return length;
}

void ports_log(const struct port_ops *ops, const struct board_port *ports, int count, uint8_t *wire,
               uint8_t level, const char *text) {
    uint8_t payload[1 + WIRE_LOG_TEXT];
    const size_t length = text_length(text);
    payload[0] = level;
    for (size_t i = 0; i < length; i++) {
        payload[1 + i] = (uint8_t)text[i];
    }
    for (int port = 0; port < count; port++) {
        if (ports[port].log_level >= level && ops[port].room(ops[port].state) >= length + 16) {
            ports_send(&ops[port], wire, WIRE_LOG, 0, payload, 1 + length);
        }
    }
}

enum wire_status ports_log_level(struct board_port *port, const uint8_t *ask) {
    if (ask[0] > 2) {
        return WIRE_BAD_VALUE;
    }
    port->log_level = ask[0];
    return WIRE_OK;
}

enum wire_status ports_loader(const uint8_t *ask, uint64_t now_us, uint64_t *loader_at) {
    if (get32(ask) != WIRE_LOADER_KEY) {
        return WIRE_BAD_VALUE;
    }
    *loader_at = now_us + BOARD_LOADER_US;
    return WIRE_OK;
}
