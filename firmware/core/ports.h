/* What every kind of board does alike on its ports: frames in, frames out, hello, lines of log. */
#ifndef SLOTJIG_CORE_PORTS_H
#define SLOTJIG_CORE_PORTS_H

#include "core/frame.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    BOARD_PORTS = 3,         /* USB vendor interface, USB serial port, UART */
    BOARD_FIRMWARE = 0x0002, /* 0.2 */
    BOARD_LOADER_US = 50000, /* for the reply to get out before the chip restarts */
    PORTS_HELLO = 17 + WIRE_SERIAL
};

struct port_ops {
    void *state;
    /* Bytes that send() takes now; WIRE_FRAME_MAX at least once all before is out. */
    size_t (*room)(void *state);
    void (*send)(void *state, const uint8_t *bytes, size_t count);
};

struct board_port {
    struct frame_decoder decoder;
    bool fed; /* since the last poll */
    uint64_t fed_at;
    uint8_t unacknowledged;
    uint8_t last_data; /* block's number of the last WIRE_DATA */
    uint8_t log_level;
};

/* What a kind of board does with frames. */
struct ports_server {
    /* Room on the wire that the answer to a frame of that type may need. */
    size_t (*answer_room)(uint8_t type);
    void (*answer)(void *board, int port, const struct frame_in *in);
};

/* Feeds bytes that came in on port `number`. Returns how many were taken: fewer when a reply has no room. */
size_t ports_input(const struct ports_server *server, void *board, const struct port_ops *ops,
                   struct board_port *port, int number, const uint8_t *bytes, size_t count);
/* Writes hello's reply (PORTS_HELLO bytes) and returns its length. ask: the request's payload. */
size_t ports_hello(const uint8_t *ask, uint32_t capabilities, const uint8_t *serial, uint8_t *reply);
/* Encodes into `wire` (WIRE_FRAME_MAX bytes) and sends; the caller has looked for room. */
void ports_send(const struct port_ops *ops, uint8_t *wire, uint8_t type, uint8_t sequence,
                const uint8_t *payload, size_t count);
void ports_refuse(const struct port_ops *ops, uint8_t *wire, const struct frame_in *in,
                  enum wire_status status);
/* A line to each of the `count` ports whose host asked for that level, where there is room. */
void ports_log(const struct port_ops *ops, const struct board_port *ports, int count, uint8_t *wire,
               uint8_t level, const char *text);
/* WIRE_LOG_LEVEL's and WIRE_LOADER's requests. */
enum wire_status ports_log_level(struct board_port *port, const uint8_t *ask);
enum wire_status ports_loader(const uint8_t *ask, uint64_t now_us, uint64_t *loader_at);

#endif
