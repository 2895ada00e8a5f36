/* The virtual board's flash: memory with a flash's rules, times and ways to fail. */
#ifndef SLOTJIG_VIRTUAL_FLASH_H
#define SLOTJIG_VIRTUAL_FLASH_H

#include "core/store.h"

#include <stdbool.h>
#include <stdint.h>

struct virtual_flash {
    uint8_t *bytes; /* STORE_BYTES, not owned */
    uint64_t random;
    uint32_t erase_us, program_us;
    long cut_after;        /* operations until power goes, the last one torn; -1: never */
    uint32_t fault_one_in; /* one operation in so many fails and leaves a torn result; 0: none */
    uint64_t spent_us;     /* time that operations took, for the caller to take off */
    bool dead;             /* power is gone: everything fails */
};

/* flash must stay where it is while the ops are used. */
struct flash_ops virtual_flash_ops(struct virtual_flash *flash);

#endif
