#include "virtual/cart_model.h"

/* So far a good cartridge only. */

void cart_faults_none(int scheme, struct cart_faults *faults) {
    *faults = (struct cart_faults){.also_selects = -1};
    for (int bank = 0; bank < SCHEME_BANKS_MAX; bank++) {
        faults->selects[bank] = (int8_t)bank;
    }
    faults->first_bank = (uint8_t)(scheme_banks(scheme) > 0 ? scheme_banks(scheme) - 1 : 0);
}

void cart_model_init(struct cart_model *model, int scheme, bool ram, const uint8_t *image,
                     const struct cart_faults *faults, uint64_t seed) {
    *model = (struct cart_model){.scheme = scheme, .has_ram = ram, .faults = *faults, .random = seed};
    for (size_t i = 0; i < scheme_bytes(scheme); i++) {
        model->rom[i] = image[i];
    }
}

void cart_model_power(struct cart_model *model, uint64_t now_ns, bool on) {
    model->powered = on;
    model->powered_ns = now_ns;
    model->bank = model->faults.first_bank;
}

void cart_model_drive(struct cart_model *model, uint64_t now_ns, uint16_t address, uint8_t driven,
                      uint8_t data) {
    if (address != model->address) {
        model->before = cart_model_data(model, now_ns, 0xFF);
        model->changed_ns = now_ns;
        model->address = address;
    }
    model->driven = driven;
    model->data = data;
    if (address & 0x1000) {
        const int bank = scheme_selects(model->scheme, address);
        const unsigned at = address & 0xFFF;
        model->bank = bank < 0 ? model->bank : (uint8_t)bank;
        if (model->has_ram && at < SCHEME_RAM) {
            model->cells[at] = data;
        }
    }
}

uint8_t cart_model_data(struct cart_model *model, uint64_t now_ns, uint8_t floating) {
    const unsigned at = model->address & 0xFFF;
    if (!(model->address & 0x1000) || !model->powered || (model->has_ram && at < SCHEME_RAM)) {
        return (uint8_t)((floating & ~model->driven) | (model->data & model->driven));
    }
    if (now_ns < model->changed_ns + CART_ACCESS_NS) {
        return model->before;
    }
    return model->has_ram && at < 2 * SCHEME_RAM
               ? model->cells[at - SCHEME_RAM]
               : model->rom[scheme_offset(model->scheme, model->bank, model->address)];
}

uint8_t cart_model_cycle(struct cart_model *model, uint16_t address, uint8_t bus, bool write) {
    const uint64_t now = model->changed_ns + 838;
    cart_model_drive(model, now, address, write ? 0xFF : 0, bus);
    return write ? bus : cart_model_data(model, now + CART_LIMIT_NS, bus);
}
