/* What the cartridge does while A12 = 0: it should leave the data lines alone. */
#include "stats/stats.h"
#include "verdict/findings.h"
#include "verdict/reader_parts.h"

#include <math.h>

static void say_lines(struct finding *finding, uint8_t mask, const char *how) {
    for (int line = 0, said = 0; line < DATA_LINES; line++) {
        if (mask >> line & 1) {
            finding_say(finding, "%s D%d", said++ == 0 ? how : "", line);
        }
    }
}

static bool one_line(uint8_t mask) {
    return mask != 0 && (mask & (mask - 1)) == 0;
}

static int line_of(uint8_t mask) {
    int line = 0;
    while (!(mask >> line & 1)) {
        line++;
    }
    return line;
}

/* One line low at one address and high at another: bytes, so it is selected now and then. */
static bool is_selected_at_times(const struct reader_seen *seen) {
    return (seen->held_low & seen->held_high) != 0 && seen->held_count > 0;
}

static void tell_contact(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    /* Each address was looked at twice; held is what was held at either [A]. */
    const double share = fmin((double)seen->held_count / READER_ADDRESSES, 1);
    const struct interval interval = wilson_interval((long)(share * READER_ADDRESSES), READER_ADDRESSES);
    struct finding *finding = reader_add(work, FINDING_CART_CONTACT, SELECT_LINE, -1);
    if (finding != NULL) {
        finding->rate = 1 - sqrt(1 - share);
        finding->rate_low = 1 - sqrt(1 - interval.low);
        finding->rate_high = 1 - sqrt(1 - interval.high);
        finding->explanation = ++work->explanations;
    }
    finding_say(
        finding,
        "The contact of A12 comes and goes: with A12 low the cartridge answered all the same at %u of %d "
        "addresses.",
        seen->held_count, READER_ADDRESSES);
    work->contact_told = true;
}

void reader_quiet(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    const uint8_t held = seen->held_low | seen->held_high;
    if (work->quiet_told || !seen->has_quiet || held == 0) {
        return;
    }
    if (is_selected_at_times(seen)) {
        tell_contact(work);
        return;
    }
    struct finding *finding =
        reader_add(work, FINDING_CART_BUS_HELD, one_line(held) ? line_of(held) : -1, -1);
    finding_say(finding, "With A12 low, when it should leave the data lines alone, it holds");
    say_lines(finding, seen->held_low, " low:");
    say_lines(finding, seen->held_high, " high:");
    finding_say(finding, " (at %u of %d addresses).", seen->held_count, READER_ADDRESSES);
    if (finding != NULL) {
        finding->explanation = ++work->explanations;
    }
}
