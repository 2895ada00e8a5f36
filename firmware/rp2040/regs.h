/*
 * The chip's registers that this firmware touches. Addresses, offsets and bits: RP2040 data sheet, the
 * section named beside each block. Every peripheral register has three more addresses (2.1.2): writing there
 * flips, sets or clears the bits written as ones.
 */
#ifndef SLOTJIG_RP2040_REGS_H
#define SLOTJIG_RP2040_REGS_H

#include <stdint.h>

#define REG(address) (*(volatile uint32_t *)(uintptr_t)(address))
#define REG_SET(address) REG((address) + 0x2000u)
#define REG_CLEAR(address) REG((address) + 0x3000u)

/* 2.14 Resets */
#define RESETS_RESET 0x4000C000u
#define RESETS_DONE 0x4000C008u
enum {
    RESET_BUSCTRL = 1 << 1,
    RESET_DMA = 1 << 2,
    RESET_IO_BANK0 = 1 << 5,
    RESET_IO_QSPI = 1 << 6,
    RESET_PADS_BANK0 = 1 << 8,
    RESET_PADS_QSPI = 1 << 9,
    RESET_PIO0 = 1 << 10,
    RESET_PIO1 = 1 << 11,
    RESET_PLL_SYS = 1 << 12,
    RESET_PLL_USB = 1 << 13,
    RESET_SYSCFG = 1 << 18,
    RESET_SYSINFO = 1 << 19,
    RESET_TIMER = 1 << 21,
    RESET_UART0 = 1 << 22,
    RESET_USBCTRL = 1 << 24,
    RESET_ALL = (1 << 25) - 1
};

/* 2.15 Clocks, 2.16 XOSC, 2.18 PLL */
#define CLK_REF_CTRL 0x40008030u
#define CLK_REF_SELECTED 0x40008038u
#define CLK_SYS_CTRL 0x4000803Cu
#define CLK_SYS_SELECTED 0x40008044u
#define CLK_PERI_CTRL 0x40008048u
#define CLK_USB_CTRL 0x40008054u
enum { CLK_REF_XOSC = 2, CLK_SYS_AUX = 1, CLK_ENABLE = 1 << 11 };
#define XOSC_CTRL 0x40024000u
#define XOSC_STATUS 0x40024004u
#define XOSC_STARTUP 0x4002400Cu
#define XOSC_ON 0x00FABAA0u /* enable, 1-15 MHz */
#define XOSC_STABLE (1u << 31)
#define PLL_SYS_BASE 0x40028000u
#define PLL_USB_BASE 0x4002C000u
enum { PLL_CS = 0, PLL_PWR = 4, PLL_FBDIV = 8, PLL_PRIM = 12 };
#define PLL_LOCK (1u << 31)
enum { PLL_PD = 1 << 0, PLL_POSTDIVPD = 1 << 3, PLL_VCOPD = 1 << 5 };

/* 2.13 Power-on state machine, 4.7 Watchdog, 4.6 Timer */
#define PSM_WDSEL 0x40010008u
enum { PSM_ALL_BUT_OSCILLATORS = 0x1FFFF & ~3 };
#define WATCHDOG_CTRL 0x40058000u
#define WATCHDOG_LOAD 0x40058004u
#define WATCHDOG_TICK 0x4005802Cu
#define WATCHDOG_TRIGGER (1u << 31)
#define WATCHDOG_ENABLE (1u << 30)
enum { WATCHDOG_TICK_ENABLE = 1 << 9 };
#define TIMER_RAWH 0x40054024u
#define TIMER_RAWL 0x40054028u

/* 2.19 GPIO */
#define IO_BANK0_CTRL(pin) (0x40014004u + 8u * (uint32_t)(pin))
#define PADS_BANK0(pin) (0x4001C004u + 4u * (uint32_t)(pin))
enum {
    GPIO_UART = 2,
    GPIO_SIO = 5,
    PAD_SCHMITT = 1 << 1,
    PAD_DOWN = 1 << 2,
    PAD_UP = 1 << 3,
    PAD_4MA = 1 << 4,
    PAD_INPUT = 1 << 6
};
#define SIO_GPIO_IN 0xD0000004u
#define SIO_GPIO_OUT_SET 0xD0000014u
#define SIO_GPIO_OUT_CLEAR 0xD0000018u
#define SIO_GPIO_OE_SET 0xD0000024u
#define IO_QSPI_SS_CTRL 0x4001800Cu
enum { QSPI_SS_FORCE = 3 << 8, QSPI_SS_LOW = 2 << 8, QSPI_SS_HIGH = 3 << 8 };

/* 4.10 SSI */
#define SSI_ENABLE 0x18000008u
#define SSI_DIVIDER 0x18000014u
#define SSI_SR 0x18000028u
#define SSI_DR0 0x18000060u
enum { SSI_BUSY = 1 << 0, SSI_ROOM = 1 << 1, SSI_EMPTY = 1 << 2, SSI_GOT = 1 << 3 };

/* 4.2 UART */
#define UART0_DR 0x40034000u
#define UART0_IBRD 0x40034024u
#define UART0_FBRD 0x40034028u
#define UART0_LCR_H 0x4003402Cu
#define UART0_CR 0x40034030u
#define UART0_IMSC 0x40034038u
#define UART0_DMACR 0x40034048u
enum { UART_8_BITS = 3 << 5, UART_FIFOS = 1 << 4, UART_ON = 1 << 9 | 1 << 8 | 1 << 0, UART_DMA = 3 };

/* 2.5 DMA */
#define DMA_READ(channel) (0x50000000u + 0x40u * (uint32_t)(channel))
#define DMA_WRITE(channel) (DMA_READ(channel) + 4u)
#define DMA_COUNT(channel) (DMA_READ(channel) + 8u)
#define DMA_CTRL_TRIG(channel) (DMA_READ(channel) + 12u)
#define DMA_CTRL(channel) (DMA_READ(channel) + 16u)
enum {
    DMA_ENABLE = 1 << 0,
    DMA_READ_ON = 1 << 4,
    DMA_WRITE_ON = 1 << 5,
    DMA_RING_SHIFT = 6,
    DMA_RING_WRITE = 1 << 10,
    DMA_CHAIN_SHIFT = 11,
    DMA_DREQ_SHIFT = 15,
    DMA_QUIET = 1 << 21,
    DMA_BUSY = 1 << 24,
    DREQ_UART0_TX = 20,
    DREQ_UART0_RX = 21
};

/* 2.4 Processor: SysTick, NVIC, vector table */
#define SYST_CSR 0xE000E010u
#define SYST_RVR 0xE000E014u
#define SYST_CVR 0xE000E018u
#define NVIC_ENABLE 0xE000E100u
#define NVIC_UNPEND 0xE000E280u
#define SCB_VTOR 0xE000ED08u
enum { IRQ_USB = 5, IRQ_COUNT = 26 };

#endif
