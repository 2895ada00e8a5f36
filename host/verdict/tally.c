#include "verdict/tally.h"

#include "verdict/sightings.h"

/* What the two sides of a supposition say of one step's sightings. */
struct sides {
    bool shown[SIGHTINGS_MAX], rest[SIGHTINGS_MAX];
};

static void match_all(struct judge *judge, size_t index, const struct cause *cause, bool matches[]) {
    const struct step_state *step = &judge->steps[index];
    cause_predict(cause, &judge->plan->steps[index], judge->lines, judge->bands, &judge->prediction);
    for (int i = 0; i < step->sighting_count; i++) {
        matches[i] = sighting_matches(&step->sightings[i], step, &judge->prediction, cause->shift);
    }
}

static void count_sighting(const struct sighting *sighting, bool at_times, bool shown, bool rest,
                           struct tally *tally) {
    const bool predicted = shown || (at_times && rest);
    if (sighting->pass) {
        tally->contradicted += predicted ? 0 : sighting->count;
    } else {
        tally->wrong += sighting->count;
        tally->explained += predicted ? sighting->count : 0;
    }
    tally->with += shown && !rest ? sighting->count : 0;
    tally->without += rest && !shown ? sighting->count : 0;
}

static void tally_step(struct judge *judge, size_t index, const struct supposition *supposition,
                       struct tally *tally) {
    const struct step_state *step = &judge->steps[index];
    struct sides sides = {{false}, {false}};
    tally->wrong += step->stray;
    if (step->sighting_count == 0) {
        return;
    }
    match_all(judge, index, &supposition->shown, sides.shown);
    if (supposition->at_times) {
        match_all(judge, index, &supposition->rest, sides.rest);
    }
    for (int i = 0; i < step->sighting_count; i++) {
        count_sighting(&step->sightings[i], supposition->at_times, sides.shown[i],
                       supposition->at_times && sides.rest[i], tally);
    }
}

struct tally tally_of(struct judge *judge, const struct supposition *supposition) {
    struct tally tally = {0};
    for (size_t i = 0; i < judge->plan->step_count; i++) {
        tally_step(judge, i, supposition, &tally);
    }
    return tally;
}

struct tally tally_cause(struct judge *judge, const struct cause *cause) {
    struct supposition supposition = {.shown = *cause};
    return tally_of(judge, &supposition);
}

bool tally_would_explain(struct judge *judge, const struct supposition *supposition, long slack) {
    struct tally tally = {0};
    for (int failing = 1; failing >= 0; failing--) { /* the failing steps rule out most, so they come first */
        for (size_t i = 0; i < judge->plan->step_count; i++) {
            if ((judge->steps[i].result.failed > 0) == (failing == 1)) {
                tally_step(judge, i, supposition, &tally);
            }
            if (tally.wrong - tally.explained + tally.contradicted > slack) {
                return false;
            }
        }
    }
    return true;
}
