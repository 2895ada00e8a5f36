#include "flash/change.h"

/* WCAG 2.3.1: 10 % of the maximum, the darker state below 0.80. */
static bool is_general(float low, float high) {
    /* Figures are of single precision; 0.3 - 0.2 must count as a tenth. */
    return high - low >= 0.1F - 1e-6F && low < 0.80F;
}

/* BT.1702: 20 cd/m2, the darker state below 160; from there on a contrast of 1/17. */
static bool is_luminance(double low, double high) {
    return low < 160 ? high - low >= 20 - 1e-4 : (high - low) * 17 >= high + low;
}

static bool counts(const struct change *change, enum change_rule rule, double peak) {
    switch (rule) {
    case CHANGE_GENERAL:
        return is_general(change->low, change->high);
    case CHANGE_RED:
        return change->high - change->low > 20 && (change->low_red || change->high_red);
    default:
        return is_luminance(change->low * peak, change->high * peak);
    }
}

static void turn(struct change *change, signed char way, float value, bool red) {
    change->way = way;
    change->low = change->high = value;
    change->low_red = change->high_red = red;
}

bool change_step(struct change *change, enum change_rule rule, double peak, const struct shade *shade) {
    const float value = rule == CHANGE_RED ? shade->red : shade->luminance;
    const bool red = shade->saturated;
    /* A further rise after a rise only moves the peak; the valley before it is done with. */
    if (value > change->high) {
        change->high = value;
        change->high_red = red;
        if (change->way > 0) {
            turn(change, 1, value, red);
        }
    } else if (value < change->low) {
        change->low = value;
        change->low_red = red;
        if (change->way < 0) {
            turn(change, -1, value, red);
        }
    }
    if (change->high == change->low || (value != change->high && value != change->low) ||
        !counts(change, rule, peak)) {
        return false;
    }
    turn(change, value == change->high ? 1 : -1, value, red);
    return true;
}
