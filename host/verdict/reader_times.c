/* Times: of every address, of letting go, of waking up; each against its limit. */
#include "verdict/findings.h"
#include "verdict/reader_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    WORST = 10,
    COUNTS = 256,
    BUFFERS_NS = 52 /* the most that the reader's own add to a time: timing.md */
};

double reader_ns(const struct reader_seen *seen, uint8_t cycles) {
    const int steps = cycles - seen->own;
    return steps > 0 ? steps * (double)seen->cycle_ps / 1000 : 0;
}

/* The slowest of an address' three; *manner which. */
static uint8_t slowest_at(const struct reader_seen *seen, size_t offset, int *manner) {
    uint8_t most = 0;
    *manner = 0;
    for (int i = 0; i < READER_TIMES; i++) {
        if (seen->map[offset][i] > most) {
            most = seen->map[offset][i];
            *manner = i;
        }
    }
    return most;
}

/* ---- figures ---- */

static void add_worst(struct reader_result *result, const struct reader_address_time *time) {
    size_t at = result->worst_count;
    while (at > 0 && time->ns > result->worst[at - 1].ns) {
        at--;
    }
    if (at >= WORST) {
        return;
    }
    const size_t last = result->worst_count < WORST ? result->worst_count : WORST - 1;
    memmove(&result->worst[at + 1], &result->worst[at], (last - at) * sizeof result->worst[0]);
    result->worst[at] = *time;
    result->worst_count = last + 1;
}

static uint8_t median_of(const uint32_t counts[COUNTS], uint32_t all) {
    uint32_t passed = 0;
    for (int cycles = 0; cycles < COUNTS; cycles++) {
        passed += counts[cycles];
        if (2 * passed >= all) {
            return (uint8_t)cycles;
        }
    }
    return 0;
}

/* The fastest and the slowest of addresses, each by its slowest manner. */
static void profile(struct reader_result *result, size_t offset, const uint8_t times[READER_TIMES],
                    uint8_t slowest) {
    struct reader_span *span = &result->spans[offset / READER_SPAN];
    span->least = !span->known || slowest < span->least ? slowest : span->least;
    for (int i = 0; i < READER_TIMES; i++) {
        span->most[i] = times[i] > span->most[i] ? times[i] : span->most[i];
    }
    span->known = true;
}

static void figures(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    struct reader_result *result = work->result;
    uint32_t counts[COUNTS] = {0}, all = 0;
    for (size_t offset = 0; offset < scheme_bytes(seen->scheme); offset++) {
        int manner;
        const uint8_t cycles = slowest_at(seen, offset, &manner);
        if (!reader_reads(seen, offset) || cycles == 0) {
            continue; /* 0: its byte stood on the lines before, whatever was done: there was nothing to see */
        }
        const struct reader_address_time time = {offset, reader_ns(seen, cycles), manner,
                                                 cycles == READER_NEVER};
        counts[cycles]++;
        all++;
        result->never += time.never;
        add_worst(result, &time);
        profile(result, offset, seen->map[offset], cycles);
    }
    result->mapped = all;
    if (all > 0) {
        result->slowest_ns = result->worst[0].ns;
        result->typical_ns = reader_ns(seen, median_of(counts, all));
        result->margin_ns = work->limits->access_ns - result->slowest_ns;
    }
}

/* ---- findings ---- */

static double most_ns(const struct reader_limits *limits) {
    return limits->access_ns - limits->margin_ns;
}

/* Right in time in one manner, and not at all in another: not slow, but not steady. */
static bool is_odd(const struct reader_work *work, size_t offset) {
    bool never = false, quick = false;
    for (int i = 0; i < READER_TIMES; i++) {
        const uint8_t cycles = work->seen->map[offset][i];
        never |= cycles == READER_NEVER;
        quick |=
            cycles > 0 && cycles != READER_NEVER && reader_ns(work->seen, cycles) <= most_ns(work->limits);
    }
    return never && quick;
}

struct slow {
    uint32_t addresses, pages, all, all_pages;
    uint16_t page[SCHEME_PAGES_MAX];
    double worst[SCHEME_PAGES_MAX];
};

static void count_slow(const struct reader_work *work, struct slow *slow) {
    const struct reader_seen *seen = work->seen;
    bool there[SCHEME_PAGES_MAX] = {false};
    *slow = (struct slow){.addresses = 0};
    for (size_t offset = 0; offset < scheme_bytes(seen->scheme); offset++) {
        int manner;
        if (!reader_reads(seen, offset)) {
            continue;
        }
        const uint8_t cycles = slowest_at(seen, offset, &manner);
        const double ns = reader_ns(seen, cycles);
        const size_t page = offset / SCHEME_PAGE;
        slow->all++;
        slow->all_pages += !there[page];
        there[page] = true;
        if ((cycles == READER_NEVER || ns > most_ns(work->limits)) && !is_odd(work, offset)) {
            slow->addresses++;
            slow->pages += slow->page[page]++ == 0;
            slow->worst[page] = fmax(slow->worst[page], ns);
        }
    }
}

static void say_time(struct finding *finding, const struct reader_work *work, double ns, bool never) {
    if (never) {
        finding_say(finding, "not within %.0f ns, or not steady", reader_ns(work->seen, READER_NEVER - 1));
    } else {
        finding_say(finding, "%.0f ns", ns);
    }
}

static const char *manner_words(int manner) {
    static const char *const words[READER_TIMES] = {"A12 rising", "one address bit changing",
                                                    "all address bits changing"};
    return words[manner];
}

static void say_limit(struct finding *finding, const struct reader_limits *limits) {
    finding_say(finding, "; allowed are %.0f ns", limits->access_ns);
    if (limits->margin_ns > 0) {
        finding_say(finding, " less a margin of %.0f ns", limits->margin_ns);
    }
    finding_say(finding, ".");
}

static void say_pages(struct finding *finding, const struct reader_work *work, const struct slow *slow) {
    uint32_t said = 0;
    for (size_t page = 0; page < SCHEME_PAGES_MAX && said < 6; page++) {
        if (slow->page[page] > 0) {
            char place[READER_PLACE];
            reader_place(work->seen->scheme, page * SCHEME_PAGE, place);
            finding_say(finding, "%s %s", said++ == 0 ? "" : ",", place);
        }
    }
    finding_say(finding, slow->pages > said ? " and more: " : ": ");
}

static void tell_slow(struct reader_work *work) {
    const struct reader_result *result = work->result;
    struct slow slow;
    count_slow(work, &slow);
    if (slow.addresses == 0) {
        return;
    }
    struct finding *finding = reader_add(work, FINDING_CART_SLOW, -1, -1);
    char place[READER_PLACE];
    reader_place(work->seen->scheme, result->worst[0].offset, place);
    if (slow.addresses == 1) {
        finding_say(finding, "One address is slow, %s: ", place);
    } else if (slow.pages == slow.all_pages && slow.addresses > slow.all / 2) {
        finding_say(finding, "All of it is slow, %u addresses; the slowest, %s: ", slow.addresses, place);
    } else {
        finding_say(finding, "%u addresses in %u page%s are slow, of", slow.addresses, slow.pages,
                    slow.pages == 1 ? "" : "s");
        say_pages(finding, work, &slow);
    }
    say_time(finding, work, result->worst[0].ns, result->worst[0].never);
    finding_say(finding, " with %s, and typically %.0f ns", manner_words(result->worst[0].manner),
                result->typical_ns);
    say_limit(finding, work->limits);
    if (!result->worst[0].never && result->worst[0].ns - most_ns(work->limits) <= BUFFERS_NS) {
        finding_say(finding, " 26 to %d ns of it are the reader's own buffers: it may be just in time.",
                    BUFFERS_NS);
    }
    if (finding != NULL) {
        finding->explanation = ++work->explanations;
    }
}

/* ---- what being late does to the rest ---- */

/* Of an address that is right in the end, or it would have no time. */
static bool is_late(const struct reader_work *work, size_t offset) {
    int manner;
    const uint8_t cycles = slowest_at(work->seen, offset, &manner);
    return cycles != READER_NEVER && reader_ns(work->seen, cycles) > most_ns(work->limits);
}

/* In another bank than its own a hotspot shows nothing of that bank. */
static bool shows(const struct reader_seen *seen, size_t offset) {
    int bank;
    const int selects = scheme_selects(seen->scheme, scheme_address(seen->scheme, offset, &bank));
    return reader_reads(seen, offset) && (selects < 0 || selects == bank);
}

bool reader_is_hopeless(const struct reader_seen *seen) {
    enum { ONE_IN = 16 };
    size_t all = 0, never = 0, unsteady = 0;
    for (size_t offset = 0; offset < scheme_bytes(seen->scheme) && seen->has_map; offset++) {
        int manner;
        if (reader_reads(seen, offset)) {
            all++;
            never += slowest_at(seen, offset, &manner) == READER_NEVER;
            unsteady += seen->unsteady[offset] != 0;
        }
    }
    return 2 * never > all && ONE_IN * unsteady < all;
}

void reader_late(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    size_t all = 0, late = 0, wrong = 0;
    bool tells = false;
    if (!seen->has_map || !seen->has_bytes) {
        return;
    }
    if (reader_is_hopeless(seen)) {
        work->bytes_told = work->banks_told = work->ram_told = true;
        return;
    }
    for (size_t offset = 0; offset < scheme_bytes(seen->scheme); offset++) {
        int bank;
        if (!shows(seen, offset)) {
            continue;
        }
        const bool is = is_late(work, offset);
        const bool odd = seen->unsteady[offset] != 0 ||
                         (work->image != NULL && seen->bytes[offset] != work->image[offset]);
        all++;
        late += is;
        wrong += odd;
        tells = tells || (is && scheme_address(seen->scheme, offset, &bank) == seen->tells);
        if (odd && !is) {
            return;
        }
    }
    work->bytes_told = wrong > 0;
    work->banks_told = tells || 2 * late > all;
    work->ram_told = 2 * late > all;
}

static void release(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    const uint8_t worst = seen->release_high > seen->release_low ? seen->release_high : seen->release_low;
    if (!seen->has_release) {
        return;
    }
    work->result->release_known = true;
    work->result->release_never = worst == READER_NEVER;
    work->result->release_ns = reader_ns(seen, worst);
    /* What holds the lines for good was found by a look with A12 low. */
    const bool held = worst == READER_NEVER &&
                      (work->contact_told || (seen->has_quiet && (seen->held_low | seen->held_high) != 0));
    if ((worst == READER_NEVER || work->result->release_ns > work->limits->release_ns) && !held) {
        struct finding *finding = reader_add(work, FINDING_CART_RELEASE_SLOW, -1, -1);
        finding_say(finding, "After A12 has fallen it lets go of the data lines late: ");
        say_time(finding, work, work->result->release_ns, worst == READER_NEVER);
        finding_say(finding, "; allowed are %.0f ns.", work->limits->release_ns);
        if (finding != NULL) {
            finding->explanation = ++work->explanations;
        }
    }
}

static void wake(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    if (!seen->has_wake) {
        return;
    }
    work->result->wake_known = true;
    work->result->wake_never = seen->wake_us == UINT32_MAX;
    work->result->wake_ms = work->result->wake_never ? 0 : seen->wake_us / 1000.0;
    if (work->result->wake_never && work->result->finding_count > 0) {
        return; /* with broken lines the byte that is waited for may never read as before */
    }
    if (work->result->wake_never || work->result->wake_ms > work->limits->wake_ms) {
        struct finding *finding = reader_add(work, FINDING_CART_WAKES_LATE, -1, -1);
        if (work->result->wake_never) {
            finding_say(finding, "After its supply came up it did not answer as before within 2 s");
        } else {
            finding_say(finding, "After its supply came up it answered after %.3g ms only",
                        work->result->wake_ms);
        }
        finding_say(finding, "; allowed are %.3g ms.", work->limits->wake_ms);
        if (finding != NULL) {
            finding->explanation = ++work->explanations;
        }
    }
}

void reader_odd_times(struct reader_work *work) {
    const size_t most = sizeof work->odd / sizeof work->odd[0];
    for (size_t offset = 0; work->seen->has_map && offset < scheme_bytes(work->seen->scheme); offset++) {
        if (reader_reads(work->seen, offset) && is_odd(work, offset)) {
            if (work->odd_count < most) {
                work->odd[work->odd_count] = (uint16_t)offset;
            }
            work->odd_count++;
        }
    }
}

void reader_times(struct reader_work *work) {
    if (work->seen->has_map) {
        figures(work);
        if (!work->contact_told) {
            tell_slow(work);
        }
    }
    release(work);
    wake(work);
}
