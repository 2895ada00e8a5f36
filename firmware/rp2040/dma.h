/* Who has which DMA channel. */
#ifndef SLOTJIG_RP2040_DMA_H
#define SLOTJIG_RP2040_DMA_H

enum { DMA_SLOT_FIRST = 0, DMA_SLOT_LAST = 9, DMA_UART_RX = 10, DMA_UART_TX = 11 };

#endif
