/*
 * Second stage of the boot, run by the boot ROM out of the last 256 bytes of SRAM: sets the SSI up for the
 * standard serial read (03h, 24 address bits), which every W25Q-class flash knows, then enters the firmware by
 * its vector table. Slow (64 clocks a word) and safe; the firmware runs from RAM, so speed matters only once.
 * Registers: RP2040 data sheet 4.10.13. The four bytes after these 252 are the CRC the boot ROM asks for
 * (2.8.1.3.1); firmware/tools/pack.c puts it there.
 */
        .syntax unified
        .cpu    cortex-m0plus
        .thumb
        .section .boot2, "ax"
        .global boot2
        .type   boot2, %function
        .thumb_func
boot2:
        cpsid   i
        ldr     r3, =0x18000000         @ SSI
        movs    r0, #0
        str     r0, [r3, #0x08]         @ SSIENR: off while it is set up
        movs    r0, #4
        str     r0, [r3, #0x14]         @ BAUDR: 31.25 MHz once clk_sys runs at 125 MHz; 03h allows 50
        ldr     r0, =(31 << 16) | (3 << 8)
        str     r0, [r3, #0x00]         @ CTRLR0: serial, frames of 32 bits, EEPROM read
        movs    r0, #0
        str     r0, [r3, #0x04]         @ CTRLR1: one frame an access
        ldr     r0, =(0x03 << 24) | (2 << 8) | (6 << 2)
        ldr     r1, =0x180000F4
        str     r0, [r1]                @ SPI_CTRLR0: command 03h of 8 bits, 24 bits of address
        movs    r0, #1
        str     r0, [r3, #0x10]         @ SER
        str     r0, [r3, #0x08]         @ SSIENR: on; every access to 0x10000000 is now a read
        ldr     r0, =0x10000100
        ldr     r1, =0xE000ED08         @ VTOR
        str     r0, [r1]
        ldmia   r0, {r0, r1}
        msr     msp, r0
        bx      r1
        .ltorg
        .size   boot2, . - boot2
