#include "virtual/response.h"

#include <math.h>

/* The Gaussian exp(-2 (pi sigma f)^2) is 1/sqrt(2) at f = bandwidth. */
static double sigma_of(double bandwidth) {
    return sqrt(log(2.0)) / (2 * M_PI * bandwidth);
}

static double gaussian_step(double instant, double sigma) {
    return erfc(-instant / (sigma * sqrt(2.0))) / 2;
}

/* Sharpening as receivers do it: the signal, and what a low-pass twice as soft would have taken from it. The
 * difference of the two steps is largest where their slopes are the same. */
#define SOFTER 2.0

static double step_at(double instant, double sigma, double sharpening) {
    double step = gaussian_step(instant, sigma);
    return step + sharpening * (step - gaussian_step(instant, SOFTER * sigma));
}

static double overshoot_of(double sharpening) {
    double most = 0;
    for (int i = 0; i < 160; i++) {
        most = fmax(most, step_at(i / 20.0, 1, sharpening) - 1);
    }
    return most;
}

/* How much of it makes this overshoot: found by halving. */
static double sharpening_of(double overshoot) {
    double low = 0, high = 20;
    for (int turn = 0; turn < 50 && overshoot > 0; turn++) {
        double middle = (low + high) / 2;
        *(overshoot_of(middle) < overshoot ? &low : &high) = middle;
    }
    return low;
}

static void fill_table(struct response *response, double sigma, double sharpening) {
    for (int phase = 0; phase < RESPONSE_PHASES; phase++) {
        for (int tap = 0; tap < 2 * response->reach; tap++) {
            double instant = tap - response->reach + (double)phase / RESPONSE_PHASES;
            double ideal = tap >= response->reach ? 1.0 : 0.0;
            response->correction[phase][tap] = (float)(step_at(instant, sigma, sharpening) - ideal);
        }
    }
}

void response_init(struct response *response, double bandwidth, double overshoot, double left, double pitch,
                   int width) {
    double sigma = sigma_of(bandwidth), widest = overshoot > 0 ? SOFTER * sigma : sigma;
    int reach = (int)ceil(4.5 * widest) + 1; /* what is left beyond is less than 1/100,000 */
    response->width = width;
    response->reach = reach < RESPONSE_REACH ? reach : RESPONSE_REACH;
    fill_table(response, sigma, sharpening_of(overshoot));
    for (int edge = 0; edge < RESPONSE_EDGES; edge++) {
        response->at[edge] = (int)round((left + edge * pitch) * RESPONSE_PHASES);
    }
}

/* The first sample at or after the edge, and how far after, in phases. An edge far outside is moved to where
 * it is still out of sight. */
struct place {
    int sample, phase;
};

static struct place place_edge(const struct response *response, int edge, int late) {
    const int least = -RESPONSE_REACH * RESPONSE_PHASES;
    const int most = (response->width + RESPONSE_REACH) * RESPONSE_PHASES;
    int at = response->at[edge] + late;
    at = (at < least ? least : at > most ? most : at) - least;
    const int sample = (at + RESPONSE_PHASES - 1) / RESPONSE_PHASES;
    return (struct place){sample - RESPONSE_REACH, sample * RESPONSE_PHASES - at};
}

static void fill(float *samples, int from, int to, float level) {
    for (int x = from; x < to; x++) {
        samples[x] = level;
    }
}

static void add_correction(const struct response *response, struct place place, float rise, float *samples) {
    const float *correction = response->correction[place.phase];
    float *at = samples + place.sample - response->reach;
    for (int tap = 0; tap < 2 * response->reach; tap++) {
        at[tap] += rise * correction[tap];
    }
}

void response_draw(const struct response *response, const float clocks[TIA_VISIBLE], float outside, int late,
                   float *samples) {
    int count = 0, drawn = -RESPONSE_MARGIN;
    struct place places[RESPONSE_EDGES];
    float rises[RESPONSE_EDGES], level = outside;
    for (int edge = 0; edge < RESPONSE_EDGES; edge++) {
        float next = edge < TIA_VISIBLE ? clocks[edge] : outside;
        float rise = next - level;
        if (rise < 0 || rise > 0) {
            places[count] = place_edge(response, edge, late);
            fill(samples, drawn, places[count].sample, level);
            drawn = places[count].sample;
            rises[count++] = rise;
            level = next;
        }
    }
    fill(samples, drawn, response->width + RESPONSE_MARGIN, outside);
    for (int i = 0; i < count; i++) {
        add_correction(response, places[i], rises[i], samples);
    }
}
