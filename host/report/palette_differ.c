/* Two consoles' colours, held side by side. */
#include "report/palette_report.h"

#include "verdict/verdict.h"

#include <math.h>

static bool is_measured(const struct palette_colour *colour) {
    return colour->fields >= JUDGE_GOOD_FIELDS;
}

/* Its level says nothing. */
static bool is_cut_off(const struct palette_colour *colour) {
    return colour->clipped || colour->white_clipped;
}

struct spreads {
    double level, hue; /* rms of single fields, of all codes together */
};

/* A code was seen in two fields or three, which says little of its own spread: all of them together say more.
 */
static struct spreads pool(const struct palette *palette) {
    double level = 0, hue = 0, free = 0, hues = 0;
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        const struct palette_colour *colour = &palette->colour[i / COLOUR_CODES][i % COLOUR_CODES];
        if (is_measured(colour)) {
            const bool coloured = palette_has_hue(palette, colour);
            level += colour->level_spread * colour->level_spread * colour->fields;
            free += colour->fields - 1;
            hue += coloured ? colour->hue_spread * colour->hue_spread * colour->fields : 0;
            hues += coloured ? colour->fields - 1 : 0;
        }
    }
    return (struct spreads){free > 0 ? sqrt(level / free) : 0, hues > 0 ? sqrt(hue / hues) : 0};
}

/* Of a mean over the fields. */
static double sigma_of(double own, double pooled, int fields) {
    return fmax(own, pooled) / sqrt(fields);
}

static void compare_levels(const struct palette_colour *first, const struct palette_colour *second,
                           const struct spreads spreads[2], struct colour_difference *out) {
    const double sigma = hypot(sigma_of(first->level_spread, spreads[0].level, first->fields),
                               sigma_of(second->level_spread, spreads[1].level, second->fields));
    out->level = second->level - first->level;
    out->level_bound = fmax(PALETTE_LEVEL_BOUND, PALETTE_SIGMAS * sigma);
    out->level_differs = !is_cut_off(first) && !is_cut_off(second) && fabs(out->level) > out->level_bound;
}

static void compare_hues(const struct palette_colour *first, const struct palette_colour *second,
                         const struct spreads spreads[2], struct colour_difference *out) {
    const double sigma = hypot(sigma_of(first->hue_spread, spreads[0].hue, first->fields),
                               sigma_of(second->hue_spread, spreads[1].hue, second->fields));
    out->hue = remainder(second->hue - first->hue, 360);
    out->hue_bound = fmax(PALETTE_HUE_BOUND, PALETTE_SIGMAS * sigma);
    out->hue_differs = fabs(out->hue) > out->hue_bound;
}

/* A code that is coloured on one console and grey on the other differs in hue, whatever the angle. */
static void compare(const struct palette *first, const struct palette *second,
                    const struct spreads spreads[2], struct colour_difference *out) {
    const struct palette_colour *one = &first->colour[out->reg][out->code],
                                *other = &second->colour[out->reg][out->code];
    out->missing = !is_measured(one) || !is_measured(other);
    if (out->missing) {
        return;
    }
    const bool one_hue = palette_has_hue(first, one), other_hue = palette_has_hue(second, other);
    compare_levels(one, other, spreads, out);
    if (one_hue && other_hue) {
        compare_hues(one, other, spreads, out);
    } else {
        out->hue_differs = one_hue != other_hue && first->has_chroma && second->has_chroma;
    }
}

void palette_differ(const struct palette *first, const struct palette *second,
                    struct palette_difference *difference) {
    const struct spreads spreads[2] = {pool(first), pool(second)};
    double x = 0, y = 0;
    *difference = (struct palette_difference){.compared = 0};
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        for (int code = 0; code < COLOUR_CODES; code++) {
            struct colour_difference *out = &difference->colour[reg][code];
            *out = (struct colour_difference){.reg = reg, .code = code};
            compare(first, second, spreads, out);
            difference->compared += !out->missing;
            difference->missing += out->missing;
            difference->differing += out->level_differs || out->hue_differs;
            x += out->hue_bound > 0 ? cos(out->hue * M_PI / 180) : 0;
            y += out->hue_bound > 0 ? sin(out->hue * M_PI / 180) : 0;
        }
    }
    difference->turn = hypot(x, y) > 0 ? atan2(y, x) * 180 / M_PI : 0;
}

/* ---- written out ---- */

static json_t *colour_json(const struct colour_difference *colour) {
    json_t *json = json_pack("{s:s,s:i,s:b,s:b,s:b}", "register", palette_register_name(colour->reg), "code",
                             2 * colour->code, "missing", (int)colour->missing, "level_differs",
                             (int)colour->level_differs, "hue_differs", (int)colour->hue_differs);
    const bool level = !colour->missing, hue = colour->hue_bound > 0;
    json_object_set_new(json, "level", level ? json_real(colour->level) : json_null());
    json_object_set_new(json, "level_bound", level ? json_real(colour->level_bound) : json_null());
    json_object_set_new(json, "hue", hue ? json_real(colour->hue) : json_null());
    json_object_set_new(json, "hue_bound", hue ? json_real(colour->hue_bound) : json_null());
    return json;
}

json_t *palette_difference_json(const struct palette_difference *difference) {
    json_t *colours = json_array();
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        json_array_append_new(colours, colour_json(&difference->colour[i / COLOUR_CODES][i % COLOUR_CODES]));
    }
    return json_pack("{s:i,s:i,s:i,s:f,s:{s:f,s:f,s:i},s:o}", "compared", difference->compared, "missing",
                     difference->missing, "differing", difference->differing, "turn", difference->turn,
                     "bounds", "level", PALETTE_LEVEL_BOUND, "hue_degrees", PALETTE_HUE_BOUND, "sigmas",
                     PALETTE_SIGMAS, "colours", colours);
}

static void print_colour(FILE *stream, const struct colour_difference *colour) {
    fprintf(stream, "  %-6s  $%02X  ", palette_register_name(colour->reg), 2u * (unsigned)colour->code);
    fprintf(stream, "%+7.3f (%.3f)%c  ", colour->level, colour->level_bound,
            colour->level_differs ? '!' : ' ');
    if (colour->hue_bound > 0) {
        fprintf(stream, "%+7.1f (%.1f)%c\n", colour->hue, colour->hue_bound, colour->hue_differs ? '!' : ' ');
    } else {
        fprintf(stream, "%s\n", colour->hue_differs ? "grey on one of them alone !" : "      -");
    }
}

void palette_difference_text(FILE *stream, const struct palette_difference *difference) {
    fprintf(stream,
            "%d of %d colours differ: the level by more than %.2f of the black-white distance, or the hue by "
            "more than %.0f degrees; or by more than %d sigma of both measurements, where that is more.\n",
            difference->differing, difference->compared, PALETTE_LEVEL_BOUND, PALETTE_HUE_BOUND,
            PALETTE_SIGMAS);
    if (difference->missing > 0) {
        fprintf(stream, "%d could not be compared: too few fields of them were seen.\n", difference->missing);
    }
    if (fabs(difference->turn) >= 0.05) {
        fprintf(stream, "All hues together are turned by %+.1f degrees, which may be the grabber's tint.\n",
                difference->turn);
    }
    if (difference->differing == 0) {
        return;
    }
    fprintf(stream, "\n  second less first; in brackets the bound; ! marks what is beyond it\n"
                    "  register code  level            hue, degrees\n");
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        const struct colour_difference *colour = &difference->colour[i / COLOUR_CODES][i % COLOUR_CODES];
        if (colour->level_differs || colour->hue_differs) {
            print_colour(stream, colour);
        }
    }
}

void palette_difference_csv(FILE *stream, const struct palette_difference *difference) {
    fprintf(stream, "register,code,missing,level,level_bound,level_differs,hue_degrees,hue_bound_degrees,"
                    "hue_differs\n");
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        const struct colour_difference *colour = &difference->colour[i / COLOUR_CODES][i % COLOUR_CODES];
        fprintf(stream, "%s,%d,%d,", palette_register_name(colour->reg), 2 * colour->code, colour->missing);
        if (colour->missing) {
            fprintf(stream, ",,,,,\n");
            continue;
        }
        fprintf(stream, "%.5f,%.5f,%d,", colour->level, colour->level_bound, colour->level_differs);
        if (colour->hue_bound > 0) {
            fprintf(stream, "%.3f,%.3f,", colour->hue, colour->hue_bound);
        } else {
            fprintf(stream, ",,");
        }
        fprintf(stream, "%d\n", colour->hue_differs);
    }
}
