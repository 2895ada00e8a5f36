/* Time, and sleep until something happens. */
#ifndef SLOTJIG_RP2040_CLOCK_H
#define SLOTJIG_RP2040_CLOCK_H

#include <stdint.h>

/* An interrupt each millisecond, so that sleep() is never longer. */
void tick_start(void);
uint64_t time_us(void);
/* Until an interrupt. One that came since the last sleep() ends it at once: the processor's event register
 * keeps it (ARMv6-M B1.5.18), so nothing is lost between looking for work and going to sleep. */
static inline void sleep(void) {
    __asm volatile("wfe" ::: "memory");
}

/* Keeps interrupts out of a few instructions. Nests. */
static inline uint32_t interrupts_off(void) {
    uint32_t before;
    __asm volatile("mrs %0, primask\n cpsid i" : "=r"(before)::"memory");
    return before;
}

static inline void interrupts_back(uint32_t before) {
    __asm volatile("msr primask, %0" ::"r"(before) : "memory");
}

#endif
