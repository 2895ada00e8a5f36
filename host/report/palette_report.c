#include "report/palette_report.h"

#include "report/chart.h"
#include "report/text_file.h"
#include "verdict/verdict.h"

#include <math.h>
#include <string.h>

#define HUE_LEAST 0.25 /* of the hues' saturation: with less a code's angle says nothing */
enum { WIDE = 4 };

const char *palette_register_name(int reg) {
    return reg_name(reg == PALETTE_COLUPF ? REG_COLUPF : REG_COLUBK);
}

double palette_saturation(const struct palette *palette) {
    double sum = 0;
    int count = 0;
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        for (int hue = 1; hue < COLOUR_HUES; hue++) {
            sum += palette->hue[reg][hue].known ? palette->hue[reg][hue].saturation : 0;
            count += palette->hue[reg][hue].known;
        }
    }
    return count > 0 ? sum / count : 0;
}

bool palette_has_hue(const struct palette *palette, const struct palette_colour *colour) {
    return palette->has_chroma && colour->fields > 0 &&
           colour->saturation > HUE_LEAST * palette_saturation(palette);
}

bool palette_hue_is_known(const struct palette *palette, int reg, int number) {
    const struct palette_hue *hue = &palette->hue[reg][number];
    return number > 0 && hue->known && palette->has_chroma &&
           hue->saturation > HUE_LEAST * palette_saturation(palette);
}

static bool next_is_known(const struct palette *palette, int reg, int number) {
    return palette_hue_is_known(palette, reg, number) &&
           palette_hue_is_known(palette, reg, number < COLOUR_HUES - 1 ? number + 1 : 1);
}

/* ---- JSON ---- */

static json_t *number_or_null(bool known, double value) {
    return known ? json_real(value) : json_null();
}

static json_t *colour_json(const struct palette *palette, int reg, int code) {
    const struct palette_colour *colour = &palette->colour[reg][code];
    const bool seen = colour->fields > 0, hue = palette_has_hue(palette, colour);
    return json_pack(
        "{s:s,s:i,s:i,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:b,s:b}", "register", palette_register_name(reg), "code",
        2 * code, "fields", colour->fields, "level", number_or_null(seen, colour->level), "level_spread",
        number_or_null(seen, colour->level_spread), "cb", number_or_null(seen, colour->cb), "cr",
        number_or_null(seen, colour->cr), "saturation", number_or_null(seen, colour->saturation), "hue",
        number_or_null(hue, colour->hue), "hue_spread", number_or_null(hue, colour->hue_spread), "clipped",
        (int)colour->clipped, "white_clipped", (int)colour->white_clipped);
}

static json_t *hue_json(const struct palette *palette, int reg, int number) {
    const struct palette_hue *hue = &palette->hue[reg][number];
    const bool angle = palette_hue_is_known(palette, reg, number);
    return json_pack(
        "{s:s,s:i,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:o}", "register", palette_register_name(reg), "hue", number,
        "degrees", number_or_null(angle, hue->hue), "spread", number_or_null(angle, hue->hue_spread),
        "to_next", number_or_null(next_is_known(palette, reg, number), hue->to_next), "saturation",
        number_or_null(hue->known, hue->saturation), "slope", number_or_null(hue->known, hue->slope),
        "offset", number_or_null(hue->known, hue->offset), "nonlinearity",
        number_or_null(hue->known, hue->nonlinearity), "ordered",
        hue->known ? json_boolean(hue->ordered) : json_null());
}

json_t *palette_json(const struct palette *palette) {
    json_t *colours = json_array(), *hues = json_array();
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        for (int code = 0; code < COLOUR_CODES; code++) {
            json_array_append_new(colours, colour_json(palette, reg, code));
        }
        for (int hue = 0; hue < COLOUR_HUES; hue++) {
            json_array_append_new(hues, hue_json(palette, reg, hue));
        }
    }
    return json_pack("{s:o,s:o}", "colours", colours, "hues", hues);
}

/* ---- text ---- */

static void print_number(FILE *stream, bool known, const char *format, int width, double value) {
    char text[32] = "-";
    if (known) {
        snprintf(text, sizeof text, format, value);
    }
    fprintf(stream, " %*s", width, text);
}

static void print_hue(FILE *stream, const struct palette *palette, int reg, int number) {
    const struct palette_hue *hue = &palette->hue[reg][number];
    const bool angle = palette_hue_is_known(palette, reg, number);
    fprintf(stream, "  %3d", number);
    print_number(stream, angle, "%.1f", 7, hue->hue);
    print_number(stream, angle, "%.1f", 6, hue->hue_spread);
    print_number(stream, next_is_known(palette, reg, number), "%+.1f", 7, hue->to_next);
    print_number(stream, hue->known && palette->has_chroma, "%.0f", 5, hue->saturation);
    for (int level = 0; level < COLOUR_LEVELS; level++) {
        const struct palette_colour *colour = &palette->colour[reg][number * COLOUR_LEVELS + level];
        print_number(stream, colour->fields > 0, colour->clipped ? "%.3f*" : "%.3f", WIDE + 2,
                     fabs(colour->level) < 0.0005 ? 0 : colour->level);
    }
    print_number(stream, hue->known, "%.1f%%", 7, 100 * hue->nonlinearity);
    fprintf(stream, " %s\n", !hue->known ? "-" : hue->ordered ? "yes" : "no");
}

static bool any_clipped(const struct palette *palette) {
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        if (palette->colour[i / COLOUR_CODES][i % COLOUR_CODES].clipped) {
            return true;
        }
    }
    return false;
}

void palette_terminal(FILE *stream, const struct palette *palette) {
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        fprintf(
            stream,
            "\n  %s  angle and spread of the hue, angle to the next (degrees); saturation (codes); levels "
            "of D3-D1 (0 black, 1 the slate's white)\n"
            "  hue   angle spread to next  sat.      0      1      2      3      4      5      6      7 "
            "off line rising\n",
            palette_register_name(reg));
        for (int hue = 0; hue < COLOUR_HUES; hue++) {
            print_hue(stream, palette, reg, hue);
        }
    }
    fprintf(stream,
            "  Angles from the -Cb axis, where the burst lies, towards -Cr. Off line: most that a level lies "
            "off the straight line through all, of its rise.%s\n",
            any_clipped(palette) ? " *: cut off by the grabber." : "");
}

static void print_csv(FILE *stream, const struct palette *palette) {
    fprintf(stream, "register,code,hue_code,level_code,fields,level,level_spread,saturation_codes,"
                    "hue_degrees,hue_spread_degrees,clipped\n");
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        for (int code = 0; code < COLOUR_CODES; code++) {
            const struct palette_colour *colour = &palette->colour[reg][code];
            fprintf(stream, "%s,%d,%d,%d,%d,", palette_register_name(reg), 2 * code, code / COLOUR_LEVELS,
                    code % COLOUR_LEVELS, colour->fields);
            if (colour->fields > 0) {
                fprintf(stream, "%.5f,%.5f,%.3f,", colour->level, colour->level_spread, colour->saturation);
            } else {
                fprintf(stream, ",,,");
            }
            if (palette_has_hue(palette, colour)) {
                fprintf(stream, "%.3f,%.3f,", colour->hue, colour->hue_spread);
            } else {
                fprintf(stream, ",,");
            }
            fprintf(stream, "%d\n", colour->clipped);
        }
    }
}

struct written {
    const struct palette *palette;
    const char *of;
};

static void write_csv(FILE *stream, const void *what) {
    const struct written *written = what;
    print_csv(stream, written->palette);
}

static void write_text(FILE *stream, const void *what) {
    const struct written *written = what;
    fprintf(stream, "  plan colours: %s\n", written->of);
    palette_terminal(stream, written->palette);
}

static void write_chart(FILE *stream, const void *what) {
    const struct written *written = what;
    chart_colours(stream, 0, written->palette, written->of);
}

bool palette_write(const struct palette *palette, const char *of, const char *folder,
                   struct problem *problem) {
    const struct written written = {palette, of};
    return text_file(folder, "colours.csv", write_csv, &written, problem) &&
           text_file(folder, "colours.txt", write_text, &written, problem) &&
           text_file(folder, "colours.svg", write_chart, &written, problem);
}
