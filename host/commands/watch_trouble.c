#include "commands/watch_trouble.h"

#include <stdio.h>

/* Shares of what came in the stretch. One field is lost or doubled every minute by the two clocks alone [A,
 * 59.923 against 59.94 Hz], so a few are no trouble. Noise and mixing: common practice, no source. */
#define SHARE_LOST 0.02
#define SHARE_MANY 0.1
#define NOISY_DB 24.0
#define MIXING_MUCH 0.2

struct watch_stretch watch_stretch_of(const struct frames_facts *from, const struct frames_facts *to,
                                      const struct video_counts *counts_from,
                                      const struct video_counts *counts_to) {
    struct watch_stretch stretch = {.facts = *to};
    struct frames_facts *facts = &stretch.facts;
    facts->frames -= from->frames;
    facts->read -= from->read;
    facts->fresh -= from->fresh;
    facts->lost -= from->lost;
    facts->doubled -= from->doubled;
    facts->swapped -= from->swapped;
    facts->blended -= from->blended;
    facts->half_black -= from->half_black;
    facts->frames_repeated -= from->frames_repeated;
    facts->clipped -= from->clipped;
    stretch.counts = (struct video_counts){.delivered = counts_to->delivered - counts_from->delivered,
                                           .lost = counts_to->lost - counts_from->lost,
                                           .empty = counts_to->empty - counts_from->empty,
                                           .broken = counts_to->broken - counts_from->broken,
                                           .repeated = counts_to->repeated - counts_from->repeated,
                                           .overrun = counts_to->overrun - counts_from->overrun,
                                           .gone = counts_to->gone - counts_from->gone};
    return stretch;
}

struct share {
    const char *headline;
    uint64_t count, of;
    double least;
    const char *what, *next;
};

static size_t add_shares(const struct watch_stretch *stretch,
                         struct watch_trouble troubles[WATCH_TROUBLES_MAX]) {
    const struct frames_facts *facts = &stretch->facts;
    const struct video_counts *counts = &stretch->counts;
    const uint64_t fields = facts->read + facts->lost;
    const struct share shares[] = {
        {"Device went away", counts->gone, 1, 1, "times the device went away",
         "Hold the grabber's USB plug still; try another cable or port."},
        {"Broken buffers", counts->broken + counts->empty, counts->delivered, SHARE_LOST,
         "buffers came empty or broken", "Plug the grabber into another USB port, not through a hub."},
        {"Computer too slow", counts->overrun, counts->delivered, SHARE_LOST,
         "frames were dropped since this computer was too slow", "Close other programs."},
        {"Fields lost", facts->lost, fields, SHARE_LOST, "fields passed unseen",
         "Plug the grabber into another USB port; close other programs that use the bus."},
        {"Fields swapped", facts->swapped, fields, SHARE_LOST, "fields came before the one they follow",
         "Set the grabber's field order, or let it give single fields."},
        {"Half black", facts->half_black, facts->frames, SHARE_MANY, "frames were black in one half",
         "Nothing is wrong with the console; another grabber would see every field."},
        {"Fields blended", facts->blended, fields, SHARE_MANY, "fields were mixed two into one",
         "Switch the grabber's deinterlacer off."},
        {"Level clipped", facts->clipped, fields, SHARE_MANY, "fields had white or black cut off",
         "Turn the grabber's contrast or brightness down."},
    };
    size_t count = 0;
    for (size_t i = 0; i < sizeof shares / sizeof shares[0] && count < WATCH_TROUBLES_MAX; i++) {
        const struct share *share = &shares[i];
        if (share->count == 0 || (double)share->count < share->least * (double)share->of) {
            continue;
        }
        struct watch_trouble *trouble = &troubles[count++];
        *trouble = (struct watch_trouble){.headline = share->headline, .next = share->next};
        snprintf(trouble->text, sizeof trouble->text, "%llu %s in the last seconds.",
                 (unsigned long long)share->count, share->what);
    }
    return count;
}

size_t watch_troubles(const struct watch_stretch *stretch,
                      struct watch_trouble troubles[WATCH_TROUBLES_MAX]) {
    size_t count = add_shares(stretch, troubles);
    if (stretch->noise_db > 0 && stretch->noise_db < NOISY_DB && count < WATCH_TROUBLES_MAX) {
        struct watch_trouble *trouble = &troubles[count++];
        *trouble = (struct watch_trouble){
            .headline = "Noisy",
            .next = "Move or seat the video plug; try a shorter cable; keep it off mains leads."};
        snprintf(trouble->text, sizeof trouble->text, "Noise is %.0f dB below black to white.",
                 stretch->noise_db);
    }
    if (stretch->mixing > MIXING_MUCH && count < WATCH_TROUBLES_MAX) {
        struct watch_trouble *trouble = &troubles[count++];
        *trouble = (struct watch_trouble){.headline = "Lines mixed",
                                          .next = "Switch the grabber's comb filter or deinterlacer off."};
        snprintf(trouble->text, sizeof trouble->text, "Each line holds %.0f %% of its neighbours.",
                 100 * stretch->mixing);
    }
    return count;
}
