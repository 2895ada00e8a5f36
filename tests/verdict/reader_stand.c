#include "verdict/reader_stand.h"

#include "plan/check.h"
#include "virtual/reader.h"

#include <stddef.h>
#include <stdio.h>

/* xorshift64* (S. Vigna, 2016). */
uint64_t stand_random(uint64_t *seed) {
    *seed ^= *seed >> 12;
    *seed ^= *seed << 25;
    *seed ^= *seed >> 27;
    return *seed * UINT64_C(0x2545F4914F6CDD1D);
}

void stand_image(int scheme, uint64_t seed, uint8_t *image) {
    uint64_t random = seed * 2 + 1;
    for (size_t i = 0; i < scheme_bytes(scheme); i++) {
        image[i] = (uint8_t)(stand_random(&random) >> 32);
    }
    for (int bank = 0; bank < scheme_banks(scheme); bank++) {
        image[scheme_offset(scheme, bank, 0x1000 | CHECK_BANK_AT)] = (uint8_t)bank;
    }
}

void stand_order(int scheme, bool ram, const uint8_t *image, struct reader_order *order) {
    reader_order_all(scheme, ram, image, order);
    order->times = false;
}

bool stand_measure(const uint8_t *on, const struct cart_faults *faults, uint64_t seed,
                   const struct reader_order *order, struct reader_seen *seen) {
    static struct cart_model cartridge;
    struct problem problem = {.text = ""};
    struct transport transport;
    struct link_options options;
    struct link *link = NULL;
    uint64_t chip_us;
    cart_model_init(&cartridge, order->scheme, order->ram, on, faults, seed);
    struct virtual_reader *reader = virtual_reader_new(&cartridge, seed, &problem);
    if (reader == NULL) {
        return false;
    }
    virtual_reader_transport(reader, &transport);
    link_defaults(&options);
    bool good = link_open(&transport, &options, &link, &problem);
    if (good) {
        good = reader_measure(link, order, seen, &chip_us, &problem);
        link_close(link);
    }
    virtual_reader_free(reader);
    return good;
}

void stand_print(const char *what, const struct reader_result *result) {
    fprintf(stderr, "%s: %s, %zu findings, %u wrong bytes\n", what, verdict_name(result->verdict),
            result->finding_count, result->wrong_bytes);
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        fprintf(stderr, "  %s %d %d (%d%s): %s\n", finding_name(finding->kind), finding->bit, finding->reg,
                finding->explanation, finding->alternative ? ", alternative" : "", finding->text);
    }
}
