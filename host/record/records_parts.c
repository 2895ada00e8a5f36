/* What a run has in other tables, in a few bits of its own row: so that what is missing there is noticed. */
#include "record/records_inside.h"

#include <string.h>
#include <zlib.h>

/* From the lowest: of a run without parts only KNOWN is set. */
enum {
    KNOWN = 1,
    STEPS = 2,
    BLOBS_SHIFT = 2, /* how many, modulo 16 */
    BLOBS = 15 << BLOBS_SHIFT,
    FINDINGS_SHIFT = 6, /* a check of them and of how many there are */
    FINDINGS_BITS = 9,
    FINDINGS = ((1 << FINDINGS_BITS) - 1) << FINDINGS_SHIFT
};

static unsigned long add_rate(unsigned long sum, double rate) {
    uint64_t bits;
    const double plain = rate + 0.0; /* -0 is kept as 0 */
    memcpy(&bits, &plain, sizeof bits);
    return sum_number(sum, bits);
}

static unsigned long add_finding(unsigned long sum, const struct finding *finding) {
    const char *kind = finding_name(finding->kind);
    sum = crc32(sum, (const Bytef *)kind, (uInt)strlen(kind));
    sum = sum_number(sum, finding->reg >= 0 && finding->reg < REG_COUNT ? (uint64_t)finding->reg : REG_COUNT);
    sum = sum_number(sum, (uint64_t)finding->bit);
    sum = sum_number(sum, (uint64_t)finding->explanation * 2 + finding->alternative);
    return add_rate(add_rate(add_rate(sum, finding->rate), finding->rate_low), finding->rate_high);
}

static int64_t findings_part(const struct record_run *run) {
    unsigned long sum = crc32(0, NULL, 0);
    for (size_t i = 0; i < run->finding_count; i++) {
        sum = add_finding(sum, &run->findings[i]);
    }
    sum = sum_number(sum, run->finding_count);
    for (size_t i = 0; i < run->trouble_count; i++) {
        sum = add_finding(sum, &run->troubles[i]);
    }
    return (int64_t)(sum % (1u << FINDINGS_BITS)) << FINDINGS_SHIFT;
}

int64_t parts_of(const struct record_run *run) {
    return KNOWN | (run->step_count > 0 ? STEPS : 0) | (int64_t)(run->blob_count % 16) << BLOBS_SHIFT |
           findings_part(run);
}

bool parts_agree(int64_t parts, const struct record_run *run, unsigned read) {
    const int64_t looked_at = ((read & RECORDS_STEPS) ? STEPS : 0) | ((read & RECORDS_BLOBS) ? BLOBS : 0) |
                              ((read & RECORDS_FINDINGS) ? FINDINGS : 0);
    return parts == 0 || ((parts ^ parts_of(run)) & looked_at) == 0;
}
