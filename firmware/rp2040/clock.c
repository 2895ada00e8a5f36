#include "rp2040/clock.h"

#include "rp2040/clocks.h"
#include "rp2040/regs.h"
#include "rp2040/vectors.h"

void tick_start(void) {
    REG(SYST_RVR) = CLK_SYS_HZ / 1000 - 1;
    REG(SYST_CVR) = 0;
    REG(SYST_CSR) = 7; /* processor's clock, interrupt, on */
}

void tick_interrupt(void) {
}

uint64_t time_us(void) {
    for (;;) {
        uint32_t high = REG(TIMER_RAWH), low = REG(TIMER_RAWL);
        if (high == REG(TIMER_RAWH)) {
            return (uint64_t)high << 32 | low;
        }
    }
}
