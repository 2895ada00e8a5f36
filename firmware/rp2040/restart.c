#include "rp2040/restart.h"

#include "rp2040/regs.h"

/* The counter loses two each microsecond (erratum RP2040-E1): half of this is the time. */
enum { WATCHDOG_COUNT = 16000000 };

_Noreturn void restart(void) {
    REG(PSM_WDSEL) = PSM_ALL_BUT_OSCILLATORS;
    REG_SET(WATCHDOG_CTRL) = WATCHDOG_TRIGGER;
    for (;;) {
    }
}

void watchdog_start(void) {
    REG(PSM_WDSEL) = PSM_ALL_BUT_OSCILLATORS;
    watchdog_feed();
    REG_SET(WATCHDOG_CTRL) = WATCHDOG_ENABLE;
}

void watchdog_feed(void) {
    REG(WATCHDOG_LOAD) = WATCHDOG_COUNT;
}
