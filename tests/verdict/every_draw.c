#include "verdict/every_draw.h"

#include <stdio.h>
#include <string.h>

enum { STEP = 648055, VALUES = 1 << 20 }; /* plan/every.h's text */

static int register_of(int position, int *bit) {
    *bit = position < 4 ? position + 4 : position < 12 ? 11 - position : position - 12;
    return position < 4 ? 0 : position < 12 ? 1 : 2;
}

uint32_t every_serial(uint32_t v) {
    uint32_t bits = 0;
    for (int position = 0; position < SERIAL_BITS; position++) {
        int bit;
        const int reg = register_of(position, &bit);
        const uint32_t value = reg == 2 ? v & 0xFF : reg == 1 ? v >> 8 & 0xFF : v >> 16 << 4;
        bits |= (value >> bit & 1) << position;
    }
    return bits;
}

uint32_t every_broken(const struct every_fault *fault, uint32_t bits) {
    uint32_t shown = bits;
    for (int i = 0; i < FAULT_PARTS; i++) {
        const struct part *part = &fault->part[i];
        const uint32_t own = bits >> part->at & 1, other = bits >> part->from & 1;
        const uint32_t of_kind[PART_KINDS] = {own, 0, 1, other, own & other, own | other};
        if (part->kind != PART_NONE) {
            shown = (shown & ~(UINT32_C(1) << part->at)) | of_kind[part->kind] << part->at;
        }
    }
    return shown;
}

uint64_t every_cells(uint32_t bits, bool mirror) {
    uint64_t cells = bits;
    for (int i = 0; i < SERIAL_BITS; i++) {
        cells |= (uint64_t)(bits >> i & 1) << (mirror ? 39 - i : 20 + i);
    }
    return cells;
}

void every_blank(const struct plan *plan, uint32_t base, unsigned counter, struct reading *reading) {
    *reading = (struct reading){.state = FIELD_READ,
                                .slate = {EVERY_HASH, base, counter % 64},
                                .raster = {60, 20, 3.7714, 16, 235, 0},
                                .lines = standard_plan_lines(plan->standard),
                                .margin = 0.9};
}

static uint64_t draw_line(const struct every_fault *fault, uint32_t v, bool mirror) {
    const uint32_t bits = every_serial(v);
    if (fault == NULL) {
        return every_cells(bits, mirror);
    }
    return every_cells(every_broken(fault, bits), (mirror && !fault->mirror_ignored) || fault->copy_ignored);
}

void every_draw(const struct plan *plan, const struct every_fault *fault, uint32_t base, unsigned counter,
                struct reading *reading) {
    every_blank(plan, base, counter, reading);
    for (int line = 0; line < plan->every.lines; line++) {
        const uint32_t place = (uint32_t)(line / plan->every.repeat);
        const uint32_t v = ((base & ~UINT32_C(1)) + place * STEP) % VALUES;
        reading->lit[line] = draw_line(fault, v, (base & 1) != 0);
    }
}

uint64_t every_wrong(const struct plan *plan, const struct every_fault *fault) {
    uint64_t wrong = 0;
    for (uint32_t n = 0; n < plan->every.count; n++) {
        const uint32_t v = n * STEP % VALUES;
        for (int mirror = 0; mirror < 2; mirror++) {
            wrong += draw_line(fault, v, mirror != 0) != draw_line(NULL, v, mirror != 0);
        }
    }
    return wrong;
}

uint64_t every_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15); /* splitmix64 */
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

static bool is_taken(const struct every_fault *fault, int count, int at) {
    for (int i = 0; i < count; i++) {
        if (fault->part[i].at == at) {
            return true;
        }
    }
    return false;
}

void every_random_fault(uint64_t *random, struct every_fault *fault) {
    const int count = 1 + (int)(every_random(random) % FAULT_PARTS);
    *fault = (struct every_fault){.mirror_ignored = false};
    for (int i = 0; i < count; i++) {
        struct part *part = &fault->part[i];
        do {
            part->at = (int)(every_random(random) % SERIAL_BITS);
        } while (is_taken(fault, i, part->at));
        part->kind = (enum part_kind)(1 + every_random(random) % (PART_KINDS - 1));
        part->from = (part->at + 1 + (int)(every_random(random) % (SERIAL_BITS - 1))) % SERIAL_BITS;
    }
}

const char *every_fault_name(const struct every_fault *fault) {
    static const char *const kinds[PART_KINDS] = {"", "low", "high", "couple", "and", "or"};
    static char text[160];
    text[0] = '\0';
    for (int i = 0; i < FAULT_PARTS; i++) {
        const struct part *part = &fault->part[i];
        const size_t used = strlen(text);
        int bit, other;
        if (part->kind != PART_NONE) {
            const int reg = register_of(part->at, &bit), from = register_of(part->from, &other);
            snprintf(text + used, sizeof text - used, "%s=PF%d.%d:PF%d.%d ", kinds[part->kind], reg, bit,
                     from, other);
        }
    }
    return text;
}
