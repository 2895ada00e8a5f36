/*
 * From the vector table in flash to main() in RAM. This file and clocks.c are all that runs from flash: what
 * goes on while flash is erased must not need it.
 */
#include "rp2040/clocks.h"
#include "rp2040/regs.h"
#include "rp2040/vectors.h"

#include <stdint.h>

/* From the linker script. */
extern uint32_t ram_image_start[], ram_image_end[], ram_image_source[], bss_start[], bss_end[], stack_top[];

int main(void);

/* No crystal or PLL: at the ring oscillator's speed the slot could not be served in time, so nothing is
 * driven and the chip starts again. restart.c is in RAM, which is not filled yet. */
static _Noreturn void start_again(void) {
    REG(PSM_WDSEL) = PSM_ALL_BUT_OSCILLATORS;
    REG(WATCHDOG_CTRL) = WATCHDOG_TRIGGER;
    for (;;) {
    }
}

_Noreturn void start(void) {
    if (!clocks_start()) {
        start_again();
    }
    const uint32_t *from = ram_image_source;
    for (uint32_t *to = ram_image_start; (uintptr_t)to < (uintptr_t)ram_image_end;) {
        *to++ = *from++;
    }
    for (uint32_t *to = bss_start; (uintptr_t)to < (uintptr_t)bss_end;) {
        *to++ = 0;
    }
    REG(SCB_VTOR) = (uint32_t)(uintptr_t)vectors;
    __asm volatile("dsb\n cpsie i" ::: "memory");
    /* By address: a branch of flash's range does not reach RAM. */
    int (*volatile enter)(void) = main;
    enter();
    start_again();
}

/* The boot reads the first two; faults before RAM is filled start again. */
__attribute__((section(".flash_vectors"), used)) static void *const flash_vectors[4] = {
    stack_top, (void *)start, (void *)start_again, (void *)start_again};
