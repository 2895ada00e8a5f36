/* Starting the chip again, and the watchdog that does it when the firmware hangs. */
#ifndef SLOTJIG_RP2040_RESTART_H
#define SLOTJIG_RP2040_RESTART_H

/* As after power-up, but for the oscillators. The slot's pins let go and nothing is served for some 20 ms. */
_Noreturn void restart(void);

/* From now on the chip starts again when watchdog_feed() was not called for eight seconds: longer than any
 * single operation of the flash may take. The slot is served without the processor, so the console does not
 * notice a hung core; the watchdog brings the link back. */
void watchdog_start(void);
void watchdog_feed(void);

#endif
