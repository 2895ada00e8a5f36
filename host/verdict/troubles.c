/*
 * Trouble of the capture chain, from what the frames and the source's buffers have told. None of it is the
 * console's. A bound is that of what a good chain does anyway: a console's fields and a grabber's do not come
 * at quite the same rate, so that NTSC loses or repeats a field in 3,465 and PAL one in 359 [A: 59.923
 * against 59.940 Hz, 49.861 against 50]; bounds of one in a hundred stay clear of that.
 */
#include "verdict/advice.h"
#include "verdict/colours.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

enum { FEW = 3 }; /* once or twice is no trouble */
#define SHARE_LOST 0.01
#define SHARE_BLENDED 0.05
#define SHARE_CLIPPED 0.1
#define MIXING_MOST 0.12 /* of the lines next to it: a soft picture has some */
#define NOISE_LEAST 22.0 /* dB: below about 20 single cells of single lines are misread [A] */
#define HUNTING_MOST 0.1 /* of the black-white distance */

struct troubles {
    struct finding *list;
    size_t count;
};

__attribute__((format(printf, 3, 4))) static void add(struct troubles *troubles, enum finding_kind kind,
                                                      const char *format, ...) {
    if (troubles->count == TROUBLES_MAX) {
        return;
    }
    struct finding *trouble = &troubles->list[troubles->count++];
    *trouble = (struct finding){.kind = kind, .reg = -1, .bit = -1, .rate = 1, .rate_low = 1, .rate_high = 1};
    snprintf(trouble->next, sizeof trouble->next, "%s", advice_next(kind));
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(trouble->text, sizeof trouble->text, format, arguments);
    va_end(arguments);
}

static bool many(uint64_t count, uint64_t of, double share) {
    return count >= FEW && (double)count > share * (double)of;
}

static unsigned long long ull(uint64_t count) {
    return (unsigned long long)count;
}

/* A source that shows one field of two never shows the others: that is its way, and no loss. */
static uint64_t fields_missed(const struct frames_facts *facts) {
    bool halves = facts->stale >= 0 || (facts->layout != LAYOUT_WOVEN && facts->layout != LAYOUT_STACKED);
    uint64_t usual = halves ? facts->fresh : 0;
    return facts->lost > usual ? facts->lost - usual : 0;
}

static void of_the_device(struct troubles *troubles, const struct video_counts *buffers) {
    if (buffers->gone > 0) {
        add(troubles, FINDING_DEVICE_LOST, "The video device went away %llu time%s and came back.",
            ull(buffers->gone), buffers->gone == 1 ? "" : "s");
    }
    uint64_t bad = buffers->broken + buffers->empty;
    if (many(bad, buffers->delivered + bad, SHARE_LOST)) {
        add(troubles, FINDING_BROKEN_BUFFERS,
            "Of %llu buffers %llu were broken or short and %llu empty; none of them was judged.",
            ull(buffers->delivered + bad), ull(buffers->broken), ull(buffers->empty));
    }
}

static void of_the_fields(struct troubles *troubles, const struct frames_facts *facts,
                          const struct video_counts *buffers) {
    uint64_t missed = fields_missed(facts), all = facts->fresh + missed;
    if (many(missed, all, SHARE_LOST)) {
        add(troubles, FINDING_FIELDS_LOST, "By the slates' counters %llu of %llu fields were never seen.",
            ull(missed), ull(all));
    } else if (many(buffers->overrun, buffers->delivered, SHARE_LOST)) {
        add(troubles, FINDING_FIELDS_LOST,
            "%llu of %llu frames were dropped since the computer did not keep up with the device.",
            ull(buffers->overrun), ull(buffers->delivered + buffers->overrun));
    } else if (facts->relocks > 0) {
        add(troubles, FINDING_FIELDS_LOST, "The picture went away and came back %llu time%s.",
            ull(facts->relocks), facts->relocks == 1 ? "" : "s");
    }
    if (many(facts->swapped, facts->read, SHARE_LOST)) {
        add(troubles, FINDING_FIELDS_SWAPPED, "%llu of %llu fields came before the one that they follow.",
            ull(facts->swapped), ull(facts->read));
    }
    if (many(facts->blended, facts->read, SHARE_BLENDED)) {
        add(troubles, FINDING_FIELDS_BLENDED,
            "%llu of %llu fields are two of the console's mixed into one: a deinterlacer's work.",
            ull(facts->blended), ull(facts->read));
    }
    if (many(facts->half_black, facts->frames, SHARE_LOST)) {
        add(troubles, FINDING_HALF_BLACK, "In %llu of %llu frames one half is black.", ull(facts->half_black),
            ull(facts->frames));
    }
}

/* Share of the black-white distance by which levels may move and still be steady: noise moves what is
 * measured of them (a quarter of its rms is more than was seen from 30 down to 4 dB), and so do the lines
 * next to the slate's white and black under a comb filter. */
static double steady(const struct frames_facts *facts) {
    const bool noisy = facts->noise_db > 0 && facts->noise_db < NOISE_LEAST;
    const double noise = noisy ? pow(10, -facts->noise_db / 20) / 4 : 0;
    return HUNTING_MOST + noise + (facts->mixing > MIXING_MOST ? facts->mixing / 2 : 0);
}

static void of_the_levels(struct troubles *troubles, const struct frames_facts *facts) {
    double white = facts->white_high - facts->white_low, black = facts->black_high - facts->black_low;
    double contrast = facts->white_high - facts->black_low, most = steady(facts) * contrast;
    if (many(facts->clipped, facts->read, SHARE_CLIPPED)) {
        add(troubles, FINDING_CLIPPING,
            "In %llu of %llu fields black or white stand at the end of the grabber's range: levels beyond it "
            "are cut off, so that a wrong luminance may not be seen.",
            ull(facts->clipped), ull(facts->read));
    }
    if (facts->layout != LAYOUT_BLENDED && contrast > 0 && (white > most || black > most)) {
        add(troubles, FINDING_GAIN_HUNTING,
            "Levels move: white between %.0f and %.0f, black between %.0f and %.0f. The grabber's gain "
            "hunts, or the supply hums.",
            facts->white_low, facts->white_high, facts->black_low, facts->black_high);
    }
    if (facts->noise_db > 0 && facts->noise_db < NOISE_LEAST) {
        add(troubles, FINDING_NOISY,
            "Noise: %.0f dB from black to white over the noise's rms; below about 20 dB cells are misread.",
            facts->noise_db);
    }
    if (facts->layout != LAYOUT_BLENDED && facts->mixing > MIXING_MOST) {
        add(troubles, FINDING_COMB_FILTER,
            "Each line holds %.0f %% of the lines next to it: a comb filter, or a vertical one. Changes from "
            "line to line are softened.",
            100 * facts->mixing);
    }
}

size_t capture_troubles(const struct frames_facts *facts, const struct video_counts *buffers,
                        struct finding list[TROUBLES_MAX]) {
    struct troubles troubles = {list, 0};
    of_the_device(&troubles, buffers);
    of_the_fields(&troubles, facts, buffers);
    of_the_levels(&troubles, facts);
    return troubles.count;
}

void find_troubles(struct judge *judge) {
    struct result *result = &judge->result;
    struct troubles troubles = {result->troubles, 0};
    troubles.count = capture_troubles(&judge->capture, &judge->buffers, result->troubles);
    if (judge->colours.fields > 0 && colours_lack_hue(judge)) {
        add(&troubles, FINDING_NO_COLOUR,
            "The plan draws hues and none was seen in any field, so that hues could not be judged.");
    }
    result->trouble_count = troubles.count;
}
