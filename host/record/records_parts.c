/* What a run has in other tables, in a few bits of its own row: so that it is noticed when that is missing,
 * or another run's. */
#include "record/pack.h"
#include "record/records_inside.h"

#include <string.h>
#include <zlib.h>

/* A check of each part, from the lowest bit on; 0 where there is nothing of it. */
enum {
    KNOWN = 1,
    STEPS_SHIFT = 1,
    STEPS_BITS = 12,
    BLOBS_SHIFT = 13,
    BLOBS_BITS = 8,
    FINDINGS_SHIFT = 21,
    FINDINGS_BITS = 10,
    TEXT_LOOKED_AT = 256
};

static int64_t part(unsigned long sum, bool any, int shift, int bits) {
    return any ? (int64_t)(1 + sum % ((1u << bits) - 1)) << shift : 0;
}

/* As it is kept. Not its end: what cleaning has made longer may be cut when it is read. */
static unsigned long add_text(unsigned long sum, struct arena *arena, const char *text) {
    const char *kept = arena_clean(arena, text, false, false);
    return kept == NULL ? sum : crc32(sum, (const Bytef *)kept, (uInt)strnlen(kept, TEXT_LOOKED_AT));
}

static int64_t mask(int shift, int bits) {
    return (int64_t)((1u << bits) - 1) << shift;
}

static int64_t steps_part(const struct record_run *run) {
    unsigned long sum = crc32(0, NULL, 0);
    for (size_t i = 0; i < run->step_count; i++) {
        const struct step_result *step = &run->steps[i];
        const uint64_t numbers[] = {step->seen, (uint64_t)kept_quanta(step->margin, KEPT_MARGIN)};
        sum = sum_numbers(sum, numbers, 2);
    }
    return part(sum, run->step_count > 0, STEPS_SHIFT, STEPS_BITS);
}

static int64_t blobs_part(struct arena *arena, const struct record_run *run) {
    unsigned long sum = crc32(0, NULL, 0);
    for (size_t i = 0; i < run->blob_count; i++) {
        sum = add_text(add_text(sum, arena, run->blobs[i].name), arena, run->blobs[i].type);
        sum = sum_number(sum, run->blobs[i].size);
    }
    return part(sum, run->blob_count > 0, BLOBS_SHIFT, BLOBS_BITS);
}

static unsigned long add_rate(unsigned long sum, double rate) {
    uint64_t bits;
    const double plain = rate + 0.0; /* -0 is kept as 0 */
    memcpy(&bits, &plain, sizeof bits);
    return sum_number(sum, bits);
}

static unsigned long add_finding(unsigned long sum, struct arena *arena, const struct finding *finding) {
    sum = add_text(sum, arena, finding_name(finding->kind));
    sum = add_text(add_text(sum, arena, finding->text), arena, finding->next);
    sum = add_text(sum, arena, finding_reg(finding));
    sum = sum_number(sum, (uint64_t)finding->bit);
    sum = sum_number(sum, (uint64_t)finding->explanation * 2 + finding->alternative);
    return add_rate(add_rate(add_rate(sum, finding->rate), finding->rate_low), finding->rate_high);
}

static int64_t findings_part(struct arena *arena, const struct record_run *run) {
    unsigned long sum = crc32(0, NULL, 0);
    for (size_t i = 0; i < run->finding_count; i++) {
        sum = add_finding(sum, arena, &run->findings[i]);
    }
    sum = sum_number(sum, run->finding_count);
    for (size_t i = 0; i < run->trouble_count; i++) {
        sum = add_finding(sum, arena, &run->troubles[i]);
    }
    return part(sum, run->finding_count + run->trouble_count > 0, FINDINGS_SHIFT, FINDINGS_BITS);
}

int64_t parts_of(struct arena *arena, const struct record_run *run) {
    return KNOWN | steps_part(run) | blobs_part(arena, run) | findings_part(arena, run);
}

bool parts_agree(struct arena *arena, int64_t parts, const struct record_run *run, unsigned read) {
    const int64_t looked_at = ((read & RECORDS_STEPS) ? mask(STEPS_SHIFT, STEPS_BITS) : 0) |
                              ((read & RECORDS_BLOBS) ? mask(BLOBS_SHIFT, BLOBS_BITS) : 0) |
                              ((read & RECORDS_FINDINGS) ? mask(FINDINGS_SHIFT, FINDINGS_BITS) : 0);
    return parts == 0 || ((parts ^ parts_of(arena, run)) & looked_at) == 0;
}
