/* What the cartridge does while A12 = 0: it should leave the data lines alone. */
#include "verdict/findings.h"
#include "verdict/reader_parts.h"

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

void reader_quiet(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    const uint8_t held = seen->held_low | seen->held_high;
    if (work->quiet_told || !seen->has_quiet || held == 0) {
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
