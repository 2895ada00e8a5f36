#include "commands/cover_march.h"

#include "commands/cover.h"
#include "link/reader.h"
#include "plan/check.h"
#include "rom/kernel.h"
#include "virtual/console.h"
#include "virtual/reader.h"
#include "virtual/socket.h"

#include <stdio.h>
#include <stdlib.h>

enum {
    RAM_CELLS = SCHEME_RAM,
    LINES = 7,
    SINGLES = RAM_CELLS * 8 * 2,
    VALUES = 2 + 4 + 4, /* inversion, idempotent, state */
    NEIGHBOURS = RAM_CELLS * LINES,
    WITHIN = 8 * 7,
    OTHERS = 1000,
    PAIRS = NEIGHBOURS + 2 * WITHIN + OTHERS,
    DECODERS = NEIGHBOURS + OTHERS,
    FIELDS_MOST = 2000
};

/* splitmix64 */
static uint32_t mixed(uint64_t seed) {
    uint64_t z = (seed + 1) * UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return (uint32_t)(z >> 32);
}

/* ---- the list ---- */

size_t cover_march_faults(void) {
    return 2 * SINGLES + (size_t)PAIRS * VALUES + RAM_CELLS + 2 * DECODERS;
}

/* An ordered pair of cells: neighbours first, then others by seed. */
static void pair_of_cells(size_t index, struct cart_ram_fault *fault) {
    const uint32_t any = mixed(index);
    const unsigned cell = index < NEIGHBOURS ? (unsigned)(index / LINES) : any % RAM_CELLS;
    const unsigned by_cell = index < NEIGHBOURS ? cell ^ 1u << index % LINES
                                                : (cell + 1 + (any >> 8) % (RAM_CELLS - 1)) % RAM_CELLS;
    fault->cell = (uint8_t)cell;
    fault->by_cell = (uint8_t)by_cell;
    fault->bit = any >> 16 & 7;
    fault->by = any >> 20 & 7;
}

static void pair_within(size_t index, struct cart_ram_fault *fault) {
    const unsigned bit = (unsigned)(index % WITHIN / 7);
    fault->cell = fault->by_cell = (uint8_t)(mixed(index) % RAM_CELLS);
    fault->bit = (uint8_t)bit;
    fault->by = (uint8_t)((bit + 1 + index % 7) & 7);
}

static void coupled(size_t index, struct cart_ram_fault *fault) {
    const unsigned values = (unsigned)(index % VALUES);
    const size_t pair = index / VALUES;
    if (pair < 2 * WITHIN) {
        pair_within(pair, fault);
    } else {
        pair_of_cells(pair - 2 * WITHIN, fault);
    }
    fault->kind = values < 2 ? CART_RAM_INVERSION : values < 6 ? CART_RAM_IDEMPOTENT : CART_RAM_STATE;
    fault->when = values & 1;
    fault->value = values >> 1 & 1 && values >= 2;
}

void cover_march_fault(size_t index, struct cart_ram_fault *fault) {
    *fault = (struct cart_ram_fault){0};
    if (index < 2 * SINGLES) {
        fault->kind = index < SINGLES ? CART_RAM_STUCK : CART_RAM_TRANSITION;
        fault->cell = (uint8_t)(index % SINGLES / 16);
        fault->bit = index / 2 % 8;
        fault->value = index % 2;
        return;
    }
    index -= 2 * SINGLES;
    if (index < (size_t)PAIRS * VALUES) {
        coupled(index, fault);
        return;
    }
    index -= (size_t)PAIRS * VALUES;
    if (index < RAM_CELLS) {
        fault->kind = CART_RAM_NO_CELL;
        fault->cell = (uint8_t)index;
        return;
    }
    index -= RAM_CELLS;
    pair_of_cells(index % DECODERS, fault);
    fault->kind = index < DECODERS ? CART_RAM_OTHER_CELL : CART_RAM_BOTH_CELLS;
}

/* ---- found? ---- */

/* The real image, without video: the items as the slate is to show them. */
static struct check_item item_of(const struct console *console) {
    const uint8_t *const value = &console->riot.ram[RAM_VALUE & (RIOT_RAM - 1)];
    return (struct check_item){(enum check_kind)value[2], value[1], value[0]};
}

static void put_in(struct console *console, struct socket *socket, struct cart_model *model) {
    const struct virtual_faults none = {0};
    *socket = (struct socket){.console = console, .model = model};
    cart_model_power(model, 0, true);
    console->cartridge = socket_cartridge(socket, &none);
    console->listens = console->cartridge.hold != NULL;
}

/* Up to where the RAM is first touched all cartridges are alike: run once, on a good one. */
static const struct console *at_ram(struct cart_model *good, uint64_t seed) {
    static struct console console;
    static bool ready;
    static struct socket socket;
    struct tia_chip chip;
    if (ready) {
        return &console;
    }
    tia_chip_default(&chip);
    put_in(&console, &socket, good);
    const struct cartridge cartridge = console.cartridge;
    console_power_on(&console, &chip, &cartridge, seed);
    for (int field = 0; field < FIELDS_MOST && item_of(&console).kind != CHECK_VECTORS; field++) {
        console_run_field(&console, TIA_LINES_MAX);
    }
    ready = true;
    return &console;
}

static bool by_console(struct cart_model *model, struct cart_model *good, uint64_t seed) {
    static struct console console;
    static struct socket socket;
    console = *at_ram(good, seed);
    put_in(&console, &socket, model);
    for (int field = 0; field < FIELDS_MOST; field++) {
        console_run_field(&console, TIA_LINES_MAX);
        const struct check_item item = item_of(&console);
        if (item.kind == CHECK_RAM && item.what != 0) {
            return true;
        }
        if (item.kind == CHECK_ROUND) {
            return false;
        }
    }
    fprintf(stderr, "the console did not come to the end of a round in %d fields\n", FIELDS_MOST);
    exit(3);
}

static bool by_reader(struct cart_model *model, uint64_t seed) {
    uint8_t result[4 + 5 * WIRE_RAM_LOG];
    struct problem problem;
    struct transport transport;
    struct link *link = NULL;
    struct link_task_state state;
    size_t size = 0;
    const struct link_task task = {.task = WIRE_TASK_RAM, .scheme = WIRE_4K, .ram = true};
    struct virtual_reader *reader = virtual_reader_new(model, seed, &problem);
    bool good = reader != NULL;
    if (good) {
        virtual_reader_transport(reader, &transport);
        good = link_open(&transport, &(struct link_options){0}, &link, &problem) &&
               link_task(link, &task, 15000, result, sizeof result, &size, &state, &problem);
    }
    if (!good || size < 4) {
        fprintf(stderr, "no March by the reader: %s\n", problem.text);
        exit(3);
    }
    link_close(link);
    virtual_reader_free(reader);
    return (result[0] | result[1] | result[2] | result[3]) != 0;
}

static void insert(struct cart_model *model, const struct cart_ram_fault *fault, uint64_t seed) {
    struct cart_faults faults;
    cart_faults_none(WIRE_4K, &faults);
    if (fault != NULL) {
        faults.ram[faults.ram_faults++] = *fault;
    }
    cart_model_init(model, WIRE_4K, true, cover_image(WIRE_4K, true), &faults, seed);
}

void cover_march_run(const struct cart_ram_fault *fault, uint64_t seed, struct march_seen *seen) {
    static struct cart_model model, good;
    insert(&good, NULL, seed);
    insert(&model, fault, seed);
    seen->console = by_console(&model, &good, seed);
    insert(&model, fault, seed);
    seen->reader = by_reader(&model, seed);
}
