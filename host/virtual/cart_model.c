#include "virtual/cart_model.h"

#include "virtual/cart_lines.h"
#include "virtual/cart_ram.h"

enum { A12 = 0x1000, OFFSET = 0x0FFF, WINDOW = 4096, RAM_END = 2 * SCHEME_RAM };

/* splitmix64 */
static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

void cart_faults_none(int scheme, struct cart_faults *faults) {
    *faults = (struct cart_faults){.also_selects = -1};
    for (int bank = 0; bank < SCHEME_BANKS_MAX; bank++) {
        faults->selects[bank] = (int8_t)bank;
    }
    (void)scheme;
    faults->first_bank = SCHEME_BANKS_MAX - 1;
}

/* ---- what it is made of ---- */

static void fill_rom(struct cart_model *model, const uint8_t *image) {
    const size_t size = scheme_bytes(model->scheme);
    const size_t room = size < WINDOW ? WINDOW : size;
    for (size_t at = 0; at < room && size > 0; at++) {
        model->rom[at] = image[at % size];
    }
    for (int i = 0; i < model->faults.bytes; i++) {
        const struct cart_byte *byte = &model->faults.byte[i];
        for (size_t at = byte->offset; at < room && size > 0; at += size) {
            model->rom[at] ^= byte->exclusive_or;
        }
    }
}

static void fill_times(struct cart_model *model) {
    const struct cart_faults *faults = &model->faults;
    for (int page = 0; page < SCHEME_PAGES_MAX; page++) {
        model->access_ns[page] = faults->access_ns > 0 ? faults->access_ns : (uint16_t)CART_ACCESS_NS;
    }
    for (int i = 0; i < faults->slow_pages; i++) {
        model->access_ns[faults->slow[i].page & (SCHEME_PAGES_MAX - 1)] = faults->slow[i].ns;
    }
}

static bool in_time(const struct cart_model *model) {
    for (int page = 0; page < SCHEME_PAGES_MAX; page++) {
        if (model->access_ns[page] > CART_LIMIT_NS) {
            return false;
        }
    }
    return model->faults.release_ns <= CART_LIMIT_NS && model->faults.late_us == 0;
}

static bool contacts_good(const struct cart_faults *faults) {
    return (faults->address_open | faults->address_low | faults->address_high | faults->data_low |
            faults->data_high | faults->data_open | faults->held_low | faults->held_high |
            faults->loose_address | faults->loose_data | faults->address_shorts | faults->data_shorts) == 0;
}

void cart_model_init(struct cart_model *model, int scheme, bool ram, const uint8_t *image,
                     const struct cart_faults *faults, uint64_t seed) {
    *model = (struct cart_model){
        .scheme = scheme, .has_ram = ram, .faults = *faults, .random = seed, .floating = 0xFF};
    fill_rom(model, image);
    fill_times(model);
    const uint16_t hotspot = scheme_hotspot(scheme, 0);
    model->hot_from = hotspot != 0 ? hotspot & OFFSET : WINDOW;
    model->ram_end = ram ? RAM_END : 0;
    model->also_at = faults->also_selects >= 0 ? faults->also_at & OFFSET : WINDOW;
    model->quick = contacts_good(faults) && in_time(model) && faults->ram_faults == 0;
}

static void come_up(struct cart_model *model) {
    const struct cart_faults *faults = &model->faults;
    const unsigned banks = (unsigned)scheme_banks(model->scheme);
    const unsigned any = (unsigned)next_random(&model->random);
    model->bank = (uint8_t)((faults->first_bank_random ? any : faults->first_bank) & (banks - 1));
    for (int i = 0; i < SCHEME_RAM; i++) {
        model->cells[i] = (uint8_t)next_random(&model->random);
    }
    cart_ram_settle(model);
}

/* ---- an access ---- */

static bool awake(const struct cart_model *model, uint64_t now_ns) {
    return model->powered && now_ns >= model->powered_ns + model->faults.late_us * UINT64_C(1000);
}

static void select_bank(struct cart_model *model, uint16_t seen) {
    const int hotspot = scheme_selects(model->scheme, seen);
    const unsigned last = (unsigned)scheme_banks(model->scheme) - 1;
    if (hotspot >= 0 && model->faults.selects[hotspot] >= 0) {
        model->bank = (uint8_t)((unsigned)model->faults.selects[hotspot] & last);
    }
    if ((seen & OFFSET) == model->also_at) {
        model->bank = (uint8_t)((unsigned)model->faults.also_selects & last);
    }
}

static bool steady(const struct cart_model *model, uint64_t now_ns) {
    return (model->seen & A12) != 0 && awake(model, now_ns) && now_ns >= model->changed_ns + CART_STEADY_NS;
}

static void try_select(struct cart_model *model, uint64_t now_ns) {
    if (!model->selected && steady(model, now_ns)) {
        model->selected = true;
        select_bank(model, model->seen);
    }
}

/* What it drives when the access has lasted long enough. */
static struct cart_drive answer(const struct cart_model *model, uint16_t *access_ns) {
    const unsigned at = model->seen & OFFSET;
    *access_ns = model->faults.access_ns > 0 ? model->faults.access_ns : CART_ACCESS_NS;
    if (at < model->ram_end) {
        const bool drives = at >= SCHEME_RAM && !model->faults.no_ram;
        return (struct cart_drive){drives ? 0xFF : 0,
                                   drives ? cart_ram_read(model, at - SCHEME_RAM) : (uint8_t)0};
    }
    const size_t page = scheme_offset(model->scheme, model->bank, model->seen) / SCHEME_PAGE;
    *access_ns = model->access_ns[page];
    return (struct cart_drive){0xFF, model->rom[(unsigned)model->bank << 12 | at]};
}

static struct cart_drive drives(const struct cart_model *model, uint64_t now_ns) {
    const struct cart_faults *faults = &model->faults;
    const uint64_t release = faults->release_ns > 0 ? faults->release_ns : CART_RELEASE_NS;
    if (!awake(model, now_ns)) {
        return (struct cart_drive){0, 0};
    }
    if (!(model->seen & A12)) {
        const struct cart_drive held = {faults->held_low | faults->held_high, faults->held_high};
        const struct cart_drive still = {model->fell_drives, model->fell_byte};
        return now_ns < model->fell_ns + release ? still : held;
    }
    uint16_t access_ns;
    struct cart_drive out = answer(model, &access_ns);
    out.level = now_ns < model->changed_ns + access_ns ? model->before : out.level;
    return out;
}

static struct cart_lines lines(const struct cart_model *model, uint64_t now_ns, struct cart_drive outside) {
    const struct cart_drive inside = drives(model, now_ns);
    if (model->seen & A12) {
        return cart_lines_data(&model->faults, model->loose_data, outside, inside, model->floating);
    }
    const uint8_t level =
        cart_lines_idle(&model->faults, model->loose_data, outside, inside, model->floating);
    return (struct cart_lines){level, level};
}

static void try_write(struct cart_model *model, uint64_t now_ns) {
    const unsigned at = model->seen & OFFSET;
    if (model->has_ram && !model->faults.no_ram && at < SCHEME_RAM && steady(model, now_ns)) {
        const struct cart_drive outside = {model->wrote, model->written};
        cart_ram_write(model, at, lines(model, now_ns, outside).inside);
    }
}

static void end_access(struct cart_model *model, uint64_t now_ns) {
    try_select(model, now_ns);
    try_write(model, now_ns);
}

/* Each loose contact by itself. */
static unsigned loose_now(struct cart_model *model, unsigned which) {
    unsigned open = 0;
    for (unsigned left = which; left != 0; left &= left - 1) {
        const bool is_open = (uint32_t)next_random(&model->random) < model->faults.loose_rate;
        open |= is_open ? left & -left : 0;
    }
    return open;
}

static void begin_access(struct cart_model *model, uint64_t now_ns, uint16_t address) {
    const struct cart_drive outside = {model->driven, model->data};
    const bool was = (model->seen & A12) != 0;
    const struct cart_drive drove = drives(model, now_ns);
    model->before = lines(model, now_ns, outside).outside;
    model->changed_ns = now_ns;
    model->address = address;
    model->loose_address = (uint16_t)loose_now(model, model->faults.loose_address);
    model->loose_data = (uint8_t)loose_now(model, model->faults.loose_data);
    model->seen = cart_lines_address(&model->faults, model->loose_address, address);
    model->selected = false;
    model->wrote = model->written = 0;
    if (was && !(model->seen & A12)) {
        model->fell_ns = now_ns;
        model->fell_drives = drove.lines;
        model->fell_byte = drove.level;
    }
}

/* ---- from outside ---- */

void cart_model_power(struct cart_model *model, uint64_t now_ns, bool on) {
    if (model->powered) {
        end_access(model, now_ns);
    }
    model->now_ns = now_ns;
    if (on && !model->powered) {
        come_up(model);
        model->powered_ns = now_ns;
        model->fell_drives = 0;
        model->before = model->floating;
        model->changed_ns = now_ns;
        model->selected = false;
        model->seen = cart_lines_address(&model->faults, 0, model->address);
    }
    model->powered = on;
}

void cart_model_drive(struct cart_model *model, uint64_t now_ns, uint16_t address, uint8_t driven,
                      uint8_t data) {
    model->now_ns = now_ns;
    if (address != model->address) {
        end_access(model, now_ns);
        begin_access(model, now_ns, address);
    }
    model->driven = driven;
    model->data = data;
    model->written = (uint8_t)((model->written & ~driven) | (data & driven));
    model->wrote |= driven;
}

uint8_t cart_model_data(struct cart_model *model, uint64_t now_ns, uint8_t floating) {
    const struct cart_drive outside = {model->driven, model->data};
    model->now_ns = now_ns;
    model->floating = floating;
    try_select(model, now_ns);
    return lines(model, now_ns, outside).outside;
}

/* ---- a console's cycles ---- */

static uint8_t quick_bus(struct cart_model *model, uint16_t address, uint8_t driven, uint8_t bus) {
    const unsigned at = address & OFFSET;
    select_bank(model, address);
    if (at >= model->ram_end) {
        return (uint8_t)(model->rom[(unsigned)model->bank << 12 | at] & (bus | ~driven));
    }
    if (model->faults.no_ram) {
        return bus;
    }
    if (at < SCHEME_RAM) {
        model->cells[at] = bus;
        return bus;
    }
    return (uint8_t)(model->cells[at - SCHEME_RAM] & (bus | ~driven));
}

uint8_t cart_model_bus(struct cart_model *model, uint16_t address, uint8_t driven, uint8_t bus) {
    if (model->quick && model->powered) {
        return address & A12 ? quick_bus(model, address, driven, bus) : bus;
    }
    const uint64_t now = model->now_ns;
    cart_model_drive(model, now, address, driven, bus);
    const uint8_t level = cart_model_data(model, now + CART_LIMIT_NS, bus);
    model->now_ns = now + CART_CYCLE_NS;
    return level;
}

uint8_t cart_model_cycle(struct cart_model *model, uint16_t address, uint8_t bus, bool write) {
    return cart_model_bus(model, address, write ? 0xFF : 0, bus);
}

void cart_model_wait(struct cart_model *model, uint64_t ns) {
    model->now_ns += ns;
}
