#include "rp2040/vectors.h"

#include "rp2040/restart.h"

extern uint32_t stack_top[];

/* Faults and interrupts that nobody enabled: start again, which lets go of the bus for the time it takes. */
static void unexpected(void) {
    restart();
}

/* Aligned as the processor wants it: to the power of two not below the table's size (ARMv6-M B1.5.3). */
__attribute__((section(".vectors"), aligned(256), used)) void *const vectors[16 + IRQ_COUNT] = {
    [0] = stack_top,
    [1 ... 14] = (void *)unexpected,
    [15] = (void *)tick_interrupt,
    [16 ... 16 + IRQ_USB - 1] = (void *)unexpected,
    [16 + IRQ_USB] = (void *)usb_interrupt,
    [16 + IRQ_USB + 1 ... 16 + IRQ_COUNT - 1] = (void *)unexpected,
};
