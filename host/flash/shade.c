#include "flash/shade.h"

#include <math.h>

/* Cb and Cr of a hue's colour, as a share of their whole range: half as much again as the burst's 40 codes of
 * 224, for a strong colour is the worse one here [P]. */
static const double saturation = 60.0 / 224;
static const double hue_degrees = 24; /* 15 hues round the circle [M] */

/* sRGB's transfer, as in WCAG's definition "relative luminance". */
static double linear(double coded) {
    const double value = coded < 0 ? 0 : coded > 1 ? 1 : coded;
    return value <= 0.03928 ? value / 12.92 : pow((value + 0.055) / 1.055, 2.4);
}

struct shade shade_of(double red, double green, double blue) {
    const double r = linear(red), g = linear(green), b = linear(blue);
    const double excess = (r - g - b) * 320, sum = r + g + b;
    return (struct shade){.luminance = (float)(0.2126 * r + 0.7152 * g + 0.0722 * b),
                          .red = (float)(excess > 0 ? excess : 0),
                          .saturated = sum > 0 && r / sum >= 0.8};
}

/* The angle from the -Cb axis (the burst) towards -Cr; matrix of BT.601. */
static struct shade of_angle(double luma, double degrees) {
    const double angle = degrees * M_PI / 180;
    const double cb = -saturation * cos(angle), cr = -saturation * sin(angle);
    return shade_of(luma + 1.402 * cr, luma - 0.344136 * cb - 0.714136 * cr, luma + 1.772 * cb);
}

/* Where the order of the hues is not known, each may be the worst: the brightest and the reddest. */
static struct shade of_any_angle(double luma) {
    struct shade worst = of_angle(luma, 0);
    for (int degrees = 1; degrees < 360; degrees++) {
        const struct shade shade = of_angle(luma, degrees);
        worst.luminance = fmaxf(worst.luminance, shade.luminance);
        worst.saturated = worst.saturated || shade.saturated;
        worst.red = fmaxf(worst.red, shade.red);
    }
    return worst;
}

/* SECAM: eight colours by the level alone [M]; which one is red is not known. */
static struct shade of_level(int level) {
    struct shade shade = shade_of(level / 7.0, level / 7.0, level / 7.0);
    if (level > 0 && level < 7) {
        shade.saturated = true;
        shade.red = 320;
    }
    return shade;
}

void shades_of(enum standard standard, struct shade shades[SHADES]) {
    for (int i = 0; i < SHADES; i++) {
        const int hue = i >> 3, level = i & 7;
        const double luma = level / 7.0;
        shades[i] = standard == STANDARD_SECAM  ? of_level(level)
                    : hue == 0                  ? shade_of(luma, luma, luma)
                    : standard == STANDARD_NTSC ? of_angle(luma, (hue - 1) * hue_degrees)
                                                : of_any_angle(luma);
    }
}
