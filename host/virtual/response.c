#include "virtual/response.h"

#include <math.h>

/* The Gaussian exp(-2 (pi sigma f)^2) is 1/sqrt(2) at f = bandwidth. */
static double sigma_of(double bandwidth) {
    return sqrt(log(2.0)) / (2 * M_PI * bandwidth);
}

static double step_at(double instant, double sigma) {
    return erfc(-instant / (sigma * sqrt(2.0))) / 2;
}

static void fill_table(struct response *response, double sigma) {
    for (int phase = 0; phase < RESPONSE_PHASES; phase++) {
        for (int tap = 0; tap < 2 * response->reach; tap++) {
            double instant = tap - response->reach + (double)phase / RESPONSE_PHASES;
            double ideal = tap >= response->reach ? 1.0 : 0.0;
            response->correction[phase][tap] = (float)(step_at(instant, sigma) - ideal);
        }
    }
}

/* An edge far outside is moved to where it is still out of sight. */
static void place_edge(struct response *response, int edge, double instant) {
    double steps = round(instant * RESPONSE_PHASES);
    double least = -RESPONSE_REACH * RESPONSE_PHASES;
    double most = (response->width + RESPONSE_REACH) * RESPONSE_PHASES;
    int at = (int)fmax(least, fmin(most, steps)) + RESPONSE_REACH * RESPONSE_PHASES;
    int sample = (at + RESPONSE_PHASES - 1) / RESPONSE_PHASES;
    response->sample[edge] = sample - RESPONSE_REACH;
    response->phase[edge] = sample * RESPONSE_PHASES - at;
}

void response_init(struct response *response, double bandwidth, double left, double pitch, int width) {
    double sigma = sigma_of(bandwidth);
    int reach = (int)ceil(4.5 * sigma) + 1; /* what is left beyond is less than 1/100,000 */
    response->width = width;
    response->reach = reach < RESPONSE_REACH ? reach : RESPONSE_REACH;
    fill_table(response, sigma);
    for (int edge = 0; edge < RESPONSE_EDGES; edge++) {
        place_edge(response, edge, left + edge * pitch);
    }
}

static void fill(float *samples, int from, int to, float level) {
    for (int x = from; x < to; x++) {
        samples[x] = level;
    }
}

static void add_correction(const struct response *response, int edge, float rise, float *samples) {
    const float *correction = response->correction[response->phase[edge]];
    float *at = samples + response->sample[edge] - response->reach;
    for (int tap = 0; tap < 2 * response->reach; tap++) {
        at[tap] += rise * correction[tap];
    }
}

void response_draw(const struct response *response, const float clocks[TIA_VISIBLE], float outside,
                   float *samples) {
    int edges[RESPONSE_EDGES], count = 0, drawn = -RESPONSE_MARGIN;
    float rises[RESPONSE_EDGES], level = outside;
    for (int edge = 0; edge < RESPONSE_EDGES; edge++) {
        float next = edge < TIA_VISIBLE ? clocks[edge] : outside;
        float rise = next - level;
        if (rise < 0 || rise > 0) {
            fill(samples, drawn, response->sample[edge], level);
            drawn = response->sample[edge];
            edges[count] = edge;
            rises[count++] = rise;
            level = next;
        }
    }
    fill(samples, drawn, response->width + RESPONSE_MARGIN, outside);
    for (int i = 0; i < count; i++) {
        add_correction(response, edges[i], rises[i], samples);
    }
}
