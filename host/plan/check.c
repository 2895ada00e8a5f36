#include "plan/check.h"

#include <string.h>

enum { CRC_POLY = 0x1021, SEAL = 4 };

const uint8_t check_backgrounds[CHECK_BACKGROUNDS] = {0x00, 0x55, 0x33, 0x0F, 0xFF, 0xAA, 0xCC, 0xF0};

uint32_t check_pack(struct check_item item) {
    return (uint32_t)item.kind << 16 | (uint32_t)item.place << 8 | item.what;
}

struct check_item check_unpack(uint32_t value) {
    return (struct check_item){(enum check_kind)(value >> 16 & 0xF), (uint8_t)(value >> 8), (uint8_t)value};
}

bool check_plan(int scheme, bool ram, enum standard standard, struct plan **plan, struct problem *problem) {
    if (scheme_bytes(scheme) == 0) {
        return problem_set(problem, PROBLEM_INPUT, "plan cartridge: --scheme is 2K, 4K, F8, F6 or F4");
    }
    if (ram && scheme == WIRE_2K) {
        return problem_set(problem, PROBLEM_INPUT,
                           "plan cartridge: 2K with --ram: 2048 bytes have no room for the RAM's check too; "
                           "leave --ram out, or use a reader and name the image (image =, --image)");
    }
    struct plan *made = plan_new("cartridge", standard);
    if (made == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for plan cartridge");
    }
    made->kind = PLAN_CARTRIDGE;
    made->check = (struct cart_check){.scheme = (uint8_t)scheme, .ram = ram};
    *plan = made;
    return true;
}

bool check_page_shows(const struct cart_check *check, int page) {
    const int of_bank = (int)(scheme_bank_bytes(check->scheme) / SCHEME_PAGE);
    /* A 2 KiB image shows twice, so its first page is there once more. */
    return !check->ram || check->scheme == WIRE_2K || page % of_bank != 0;
}

struct listing {
    struct check_item *list;
    size_t count;
};

static void add(struct listing *listing, enum check_kind kind, int place, int what) {
    if (listing->count < CHECK_ITEMS_MAX) {
        listing->list[listing->count++] = (struct check_item){kind, (uint8_t)place, (uint8_t)what};
    }
}

static void add_banks(struct listing *listing, const struct cart_check *check) {
    const int banks = scheme_banks(check->scheme);
    for (int manner = 0; manner < CHECK_MANNERS && banks > 1; manner++) {
        for (int bank = 0; bank < banks; bank++) {
            add(listing, CHECK_HOTSPOT, manner * 8 + bank, 0);
        }
    }
    for (int place = 0; place < CHECK_NEIGHBOURS && banks > 1; place++) {
        add(listing, CHECK_NEIGHBOUR, place, 0);
    }
    for (int bank = 0; bank < banks; bank++) {
        add(listing, CHECK_VECTORS, bank, 0);
    }
}

size_t check_items(const struct cart_check *check, struct check_item *list) {
    struct listing listing = {.list = list};
    add(&listing, CHECK_START, 0, check->scheme | (check->ram ? 8 : 0));
    for (int page = 0; page < scheme_pages(check->scheme); page++) {
        if (check_page_shows(check, page)) {
            add(&listing, CHECK_PAGE, page, 0);
        }
    }
    add_banks(&listing, check);
    for (int background = 0; background < CHECK_BACKGROUNDS && check->ram; background++) {
        add(&listing, CHECK_RAM, background, 0);
    }
    for (int quiet = 0; quiet < CHECK_QUIETS; quiet++) {
        add(&listing, CHECK_QUIET, quiet, 0);
    }
    add(&listing, CHECK_ROUND, 0, 0);
    add(&listing, CHECK_ERRORS, 0, 0);
    return listing.count;
}

static uint16_t crc_byte(uint16_t crc, uint8_t byte) {
    crc ^= (uint16_t)(byte << 8);
    for (int bit = 0; bit < 8; bit++) {
        crc = (uint16_t)(crc & 0x8000 ? crc << 1 ^ CRC_POLY : crc << 1);
    }
    return crc;
}

uint16_t check_crc(uint16_t crc, const uint8_t *bytes, size_t count) {
    for (size_t i = 0; i < count; i++) {
        crc = crc_byte(crc, bytes[i]);
    }
    return crc;
}

uint16_t check_crc_start(int page) {
    return (uint16_t)(page << 8 | (page ^ 0xFF));
}

uint16_t check_crc_back(uint16_t crc) {
    for (int bit = 0; bit < 8; bit++) {
        crc = (uint16_t)(crc & 1 ? (crc ^ CRC_POLY) >> 1 | 0x8000 : crc >> 1);
    }
    return crc;
}

/* The register that the bytes from here to the page's end turn into 0. */
static uint16_t crc_before(const uint8_t *bytes, size_t count) {
    uint16_t crc = 0;
    for (size_t i = count; i > 0; i--) {
        crc = (uint16_t)(check_crc_back(crc) ^ (uint16_t)(bytes[i - 1] << 8));
    }
    return crc;
}

void check_seal(uint8_t bytes[SCHEME_PAGE], int page, int place) {
    uint8_t *const seal = bytes + place;
    uint8_t sum = (uint8_t)page;
    for (int i = 0; i < SCHEME_PAGE; i++) {
        sum = (uint8_t)(sum + (i < place || i >= place + SEAL ? bytes[i] : 0));
    }
    const uint16_t before = check_crc(check_crc_start(page), bytes, (size_t)place);
    const uint16_t after = crc_before(seal + SEAL, (size_t)(SCHEME_PAGE - place - SEAL));
    for (int first = 0; first < 65536; first++) {
        seal[0] = (uint8_t)first;
        seal[1] = (uint8_t)(first >> 8);
        /* Of the last two bytes one pair alone goes on to `after`: the register that zeros would have needed,
         * exclusive-or the one that there is. */
        const uint16_t pair = (uint16_t)(check_crc_back(check_crc_back(after)) ^ check_crc(before, seal, 2));
        seal[2] = (uint8_t)(pair >> 8);
        seal[3] = (uint8_t)pair;
        if ((uint8_t)(sum + seal[0] + seal[1] + seal[2] + seal[3]) == 0) {
            return;
        }
    }
}

const char *check_kind_name(enum check_kind kind) {
    static const char *const names[CHECK_KINDS] = {
        "start",     "page",    "crc-high", "crc-low",  "sum",      "byte",  "xor",   "hotspot",
        "neighbour", "vectors", "ram",      "ram-cell", "ram-when", "quiet", "round", "errors"};
    return kind >= 0 && kind < CHECK_KINDS ? names[kind] : "?";
}
