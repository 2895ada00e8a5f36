/* The serial line: 115,200 baud, 8N1, both ways through DMA, so that nothing is lost and sending goes on
 * while the processor waits for the flash. */
#ifndef SLOTJIG_RP2040_UART_H
#define SLOTJIG_RP2040_UART_H

#include "core/board.h"

enum {
    UART_BAUD = 115200,
    /* A sector's erase may take 400 ms, in which 4,608 bytes come. */
    UART_RING_BITS = 13,
    UART_RING = 1 << UART_RING_BITS
};

void uart_start(void);
/* The bytes that have come and lie in one piece; uart_taken() says how many of them are done with. */
const uint8_t *uart_piece(size_t *count);
void uart_taken(size_t count);
/* Lets sending go on; to be called often. */
void uart_poll(void);
struct port_ops uart_port(void);

#endif
