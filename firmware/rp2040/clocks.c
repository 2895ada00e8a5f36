#include "rp2040/clocks.h"

#include "rp2040/regs.h"

/* Every wait's bound in turns of its loop. On the ring oscillator (at most 12 MHz, 2.17) a turn takes over
 * 0.5 us, so this is over 50 ms where the longest of them, the crystal, needs about 1 ms. */
enum { TURNS = 100000 };

enum {
    NEEDED = RESET_BUSCTRL | RESET_DMA | RESET_IO_BANK0 | RESET_PADS_BANK0 | RESET_PIO0 | RESET_PIO1 |
             RESET_SYSCFG | RESET_SYSINFO | RESET_TIMER | RESET_UART0 | RESET_USBCTRL | RESET_PLL_SYS |
             RESET_PLL_USB,
    /* What the flash hangs on stays as the boot left it. */
    KEPT = RESET_IO_QSPI | RESET_PADS_QSPI
};

static bool wait_for(uint32_t address, uint32_t bits) {
    for (int turn = 0; turn < TURNS; turn++) {
        if ((REG(address) & bits) == bits) {
            return true;
        }
    }
    return false;
}

static bool crystal_start(void) {
    REG(XOSC_STARTUP) = 47; /* 47 * 256 clocks of 12 MHz: 1 ms (2.16.3) */
    REG(XOSC_CTRL) = XOSC_ON;
    return wait_for(XOSC_STATUS, XOSC_STABLE);
}

/* 2.18.3: VCO at 12 MHz * fbdiv (750 to 1600 MHz), then two dividers. */
static bool pll_start(uint32_t base, uint32_t fbdiv, uint32_t divider1, uint32_t divider2) {
    REG(base + PLL_CS) = 1;
    REG(base + PLL_FBDIV) = fbdiv;
    REG_CLEAR(base + PLL_PWR) = PLL_PD | PLL_VCOPD;
    if (!wait_for(base + PLL_CS, PLL_LOCK)) {
        return false;
    }
    REG(base + PLL_PRIM) = divider1 << 16 | divider2 << 12;
    REG_CLEAR(base + PLL_PWR) = PLL_POSTDIVPD;
    return true;
}

bool clocks_start(void) {
    /* A restart through the watchdog has reset all of it already; a debugger has not. */
    REG(CLK_SYS_CTRL) = 0;
    REG_SET(RESETS_RESET) = RESET_ALL & ~KEPT;
    REG_CLEAR(RESETS_RESET) = RESET_PLL_SYS | RESET_PLL_USB;
    if (!wait_for(RESETS_DONE, RESET_PLL_SYS | RESET_PLL_USB) || !crystal_start()) {
        return false;
    }
    REG(CLK_REF_CTRL) = CLK_REF_XOSC;
    if (!wait_for(CLK_REF_SELECTED, 1 << CLK_REF_XOSC)) {
        return false;
    }
    if (!pll_start(PLL_SYS_BASE, 125, 6, 2) || !pll_start(PLL_USB_BASE, 100, 5, 5)) {
        return false;
    }
    /* The auxiliary source (PLL_SYS is number 0) first, then the switch that does not glitch (2.15.3.2). */
    REG(CLK_SYS_CTRL) = CLK_SYS_AUX;
    if (!wait_for(CLK_SYS_SELECTED, 1 << CLK_SYS_AUX)) {
        return false;
    }
    REG(CLK_PERI_CTRL) = CLK_ENABLE;
    REG(CLK_USB_CTRL) = CLK_ENABLE;
    REG(WATCHDOG_TICK) = WATCHDOG_TICK_ENABLE | 12;
    REG_CLEAR(RESETS_RESET) = NEEDED;
    return wait_for(RESETS_DONE, NEEDED);
}
