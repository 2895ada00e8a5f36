#include "base/scheme.h"

static const struct {
    uint16_t bytes, bank_bytes, first_hotspot;
    uint8_t banks;
    const char *name;
} schemes[WIRE_SCHEMES] = {
    [WIRE_2K] = {2048, 2048, 0, 1, "2K"},       [WIRE_4K] = {4096, 4096, 0, 1, "4K"},
    [WIRE_F8] = {8192, 4096, 0x1FF8, 2, "F8"},  [WIRE_F6] = {16384, 4096, 0x1FF6, 4, "F6"},
    [WIRE_F4] = {32768, 4096, 0x1FF4, 8, "F4"},
};

static bool is_scheme(int scheme) {
    return scheme >= 0 && scheme < WIRE_SCHEMES;
}

size_t scheme_bytes(int scheme) {
    return is_scheme(scheme) ? schemes[scheme].bytes : 0;
}

int scheme_banks(int scheme) {
    return is_scheme(scheme) ? schemes[scheme].banks : 0;
}

size_t scheme_bank_bytes(int scheme) {
    return is_scheme(scheme) ? schemes[scheme].bank_bytes : 0;
}

int scheme_pages(int scheme) {
    return (int)(scheme_bytes(scheme) / SCHEME_PAGE);
}

uint16_t scheme_hotspot(int scheme, int bank) {
    const bool has = scheme_banks(scheme) > 1 && bank >= 0 && bank < scheme_banks(scheme);
    return has ? (uint16_t)(schemes[scheme].first_hotspot + bank) : 0;
}

int scheme_selects(int scheme, uint16_t address) {
    const int bank = (int)(address & 0x1FFF) - (is_scheme(scheme) ? schemes[scheme].first_hotspot : 0);
    return scheme_banks(scheme) > 1 && bank >= 0 && bank < scheme_banks(scheme) ? bank : -1;
}

uint16_t scheme_address(int scheme, size_t offset, int *bank) {
    const size_t bytes = scheme_bank_bytes(scheme);
    if (bytes == 0) {
        *bank = 0;
        return 0;
    }
    *bank = (int)(offset / bytes);
    return (uint16_t)(0x2000 - bytes + offset % bytes);
}

size_t scheme_offset(int scheme, int bank, uint16_t address) {
    const size_t bytes = scheme_bank_bytes(scheme);
    return (size_t)bank * bytes + (address & (bytes - 1));
}

const char *scheme_name(int scheme) {
    return is_scheme(scheme) ? schemes[scheme].name : "?";
}

static char upper(char c) {
    return c >= 'a' && c <= 'z' ? (char)(c - 'a' + 'A') : c;
}

bool scheme_from_name(const char *name, int *scheme) {
    for (int i = 0; i < WIRE_SCHEMES; i++) {
        const char *const known = schemes[i].name; /* two characters each */
        if (upper(name[0]) == known[0] && name[0] != 0 && upper(name[1]) == known[1] && name[2] == 0) {
            *scheme = i;
            return true;
        }
    }
    return false;
}
