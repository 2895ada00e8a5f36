#include "rp2040/uart.h"

#include "pico/pins.h"
#include "rp2040/clocks.h"
#include "rp2040/dma.h"
#include "rp2040/regs.h"
#include "rp2040/ring.h"

/* 64ths of a bit's sixteenth (4.2.3.2.1), rounded. */
enum { DIVIDER = (CLK_SYS_HZ * 8LL / UART_BAUD + 1) / 2, BEGIN = 0x7FFFFFFF };

/* The DMA's ring wants its memory aligned to its size. */
static uint8_t received[UART_RING] __attribute__((aligned(UART_RING)));
static uint32_t taken;
static struct ring sending;
static size_t under_way; /* bytes of sending that the DMA has been given */

static uint32_t channel(uint32_t index, uint32_t dreq, uint32_t more) {
    return DMA_ENABLE | index << DMA_CHAIN_SHIFT | dreq << DMA_DREQ_SHIFT | DMA_QUIET | more;
}

/* The count is days of bytes; when it has run out (or at the start) it begins anew where it stopped. */
static void keep_receiving(void) {
    if (REG(DMA_CTRL(DMA_UART_RX)) & DMA_BUSY) {
        return;
    }
    REG(DMA_COUNT(DMA_UART_RX)) = BEGIN;
    REG(DMA_CTRL_TRIG(DMA_UART_RX)) =
        channel(DMA_UART_RX, DREQ_UART0_RX, DMA_WRITE_ON | DMA_RING_WRITE | UART_RING_BITS << DMA_RING_SHIFT);
}

void uart_start(void) {
    REG(UART0_CR) = 0;
    REG(UART0_IMSC) = 0;
    REG(UART0_IBRD) = DIVIDER / 64;
    REG(UART0_FBRD) = DIVIDER % 64;
    REG(UART0_LCR_H) = UART_8_BITS | UART_FIFOS; /* after the divider, which it latches */
    REG(UART0_DMACR) = UART_DMA;
    REG(UART0_CR) = UART_ON;
    REG(PADS_BANK0(PIN_UART_TX)) = PAD_4MA | PAD_INPUT | PAD_SCHMITT;
    /* Pulled up: a line that nobody drives is idle, not a break. */
    REG(PADS_BANK0(PIN_UART_RX)) = PAD_4MA | PAD_INPUT | PAD_SCHMITT | PAD_UP;
    REG(IO_BANK0_CTRL(PIN_UART_TX)) = GPIO_UART;
    REG(IO_BANK0_CTRL(PIN_UART_RX)) = GPIO_UART;
    REG(DMA_READ(DMA_UART_RX)) = UART0_DR;
    REG(DMA_WRITE(DMA_UART_RX)) = (uint32_t)(uintptr_t)received;
    keep_receiving();
}

const uint8_t *uart_piece(size_t *count) {
    uint32_t at = (REG(DMA_WRITE(DMA_UART_RX)) - (uint32_t)(uintptr_t)received) % UART_RING;
    *count = at >= taken ? at - taken : UART_RING - taken;
    return received + taken;
}

void uart_taken(size_t count) {
    taken = (uint32_t)(taken + count) % UART_RING;
}

void uart_poll(void) {
    keep_receiving();
    if (REG(DMA_CTRL(DMA_UART_TX)) & DMA_BUSY) {
        return;
    }
    sending.taken += (uint32_t)under_way;
    const uint8_t *piece = ring_piece(&sending, &under_way);
    if (under_way == 0) {
        return;
    }
    REG(DMA_READ(DMA_UART_TX)) = (uint32_t)(uintptr_t)piece;
    REG(DMA_WRITE(DMA_UART_TX)) = UART0_DR;
    REG(DMA_COUNT(DMA_UART_TX)) = (uint32_t)under_way;
    REG(DMA_CTRL_TRIG(DMA_UART_TX)) = channel(DMA_UART_TX, DREQ_UART0_TX, DMA_READ_ON);
}

static size_t room(void *state) {
    (void)state;
    return ring_room(&sending);
}

static void send(void *state, const uint8_t *bytes, size_t count) {
    (void)state;
    ring_put(&sending, bytes, count);
    uart_poll();
}

struct port_ops uart_port(void) {
    return (struct port_ops){.state = NULL, .room = room, .send = send};
}
