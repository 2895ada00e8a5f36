/* Cartridges that are not good, each watched for a round; for the tests/rom/test_check_faults*.c, with their
 * names. */
#ifndef TESTS_ROM_CHECK_FAULTY_H
#define TESTS_ROM_CHECK_FAULTY_H

#include "rom/check_rounds.h"

enum { SEED = 20, MOST_FIELDS = 4000 };

static struct plan *plan;
static struct image *image;
static struct round_seen seen;

static inline bool is_small(void) {
    return getenv("SLOTJIG_TEST_SMALL") != NULL;
}

/* splitmix64 */
static inline uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

static inline void begin(int scheme, bool ram) {
    plan = check_plan_of(scheme, ram, STANDARD_NTSC);
    image = check_image_of(plan, 1, 0);
}

static inline void end(void) {
    rom_free(image);
    plan_free(plan);
}

static inline struct cart_faults good(void) {
    struct cart_faults faults;
    cart_faults_none(plan->check.scheme, &faults);
    return faults;
}

static inline bool watch(const struct cart_faults *faults, const struct cartridge *slot) {
    round_power_on(plan, image, faults, slot, SEED);
    return round_begin(plan) && round_watch(plan, &seen, MOST_FIELDS);
}

static inline void must_watch(const struct cart_faults *faults, const struct cartridge *slot,
                              const char *what) {
    const int odd = round_odd;
    if (!watch(faults, slot) || round_odd != odd) {
        fail_msg("%s, %s: no round after %d fields, %zu items, the last %05X",
                 scheme_name(plan->check.scheme), what, seen.fields, seen.count,
                 check_pack(seen.item[seen.count - 1]));
    }
}

static inline int what_of(enum check_kind kind, int place) {
    const struct check_item *item = round_item(&seen, kind, place);
    if (item == NULL) {
        fail_msg("%s: no item %s of place %d", scheme_name(plan->check.scheme), check_kind_name(kind), place);
        return -1;
    }
    return item->what;
}

/* Items of a kind that say something is wrong. */
static inline int wrong_of(enum check_kind kind) {
    int wrong = 0;
    for (size_t i = 0; i < seen.count; i++) {
        wrong += seen.item[i].kind == kind && seen.item[i].what != 0;
    }
    return wrong;
}

#endif
