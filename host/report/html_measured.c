/* What the plans that measure have measured: delays and windows, colours. */
#include "report/chart.h"
#include "report/html_inside.h"
#include "report/moments_report.h"
#include "report/moments_words.h"
#include "report/palette_report.h"

#include <stdlib.h>

static void chart_region(struct html *html, const char *title) {
    html_put(html, "<div class=s role=region tabindex=0 aria-label=\"Chart %d: ", ++html->numbers);
    html_say(html, "%s", title);
    html_put(html, "\">");
}

/* ---- moments ---- */

static void delays(struct html *html, const struct moments *moments) {
    html_table(
        html,
        "Delays, measured: colour clocks from the end of the store's cycle to the change, by the phase "
        "of the write; of a range every whole clock draws the same",
        "Register|Phase 0|Phase 1|Phase 2|Phase 3|>Changes seen");
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        int seen = 0;
        html_put(html, "<tr data-register=\"%s\"><th scope=row>%s</th>",
                 moment_name((enum moment_register)reg), moment_name((enum moment_register)reg));
        for (int phase = 0; phase < MOMENT_PHASES; phase++) {
            char text[MOMENTS_TEXT];
            moments_delay_text(&moments->delay[reg][phase], text);
            html_put(html, "<td>%s</td>", text);
            seen += moments->delay[reg][phase].observations;
        }
        html_put(html, "<td class=r>%d</td></tr>\n", seen);
    }
    html_table_end(html);
}

static void windows(struct html *html, const struct moments *moments) {
    html_table(html,
               "Windows: cycles in which a write is clean, below 0 in the line before; measured, and by "
               "arithmetic without any delay",
               "Register|Mode|Left, measured|Left, derived|Right, measured|Right, derived");
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES; i++) {
        const int reg = i / MOMENT_MODES, mode = i % MOMENT_MODES;
        html_put(html, "<tr><th scope=row>%s</th><td>%s</td>", moment_name((enum moment_register)reg),
                 moments_mode_names[mode]);
        for (int half = 0; half < HALVES; half++) {
            char measured[MOMENTS_TEXT], derived[MOMENTS_TEXT];
            moments_window_text(&moments->windows.window[reg][mode][half], measured);
            moments_window_text(&moments->arithmetic.window[reg][mode][half], derived);
            html_put(html, "<td>%s</td><td class=q>%s</td>", measured, derived);
        }
        html_put(html, "</tr>\n");
    }
    html_table_end(html);
}

static void clocks(struct html *html, const struct moments *moments) {
    html_details(html, false, "Where the screen changes, by cycle of the write");
    html_put(html, "<div class=cols>\n");
    html_table(html, "Clock at which a half of the screen changes, measured; old and new: all of it",
               "Register|Mode|>Cycle|>Rising, left|>Rising, right|>Falling, left|>Falling, right");
    for (uint32_t value = 0; value < MOMENT_VALUES; value++) {
        const struct moment moment = moment_of(value);
        const struct moment_seen *seen = &moments->seen[value];
        if (seen->fields == 0) {
            continue;
        }
        html_put(html, "<tr><th scope=row>%s</th><td>%s</td><td class=r>%d</td>", moment_name(moment.reg),
                 moments_mode_names[moment.mirror], moment.cycle);
        for (int i = 0; i < MOMENT_EDGES * HALVES; i++) {
            char text[MOMENTS_TEXT];
            moments_half_text(&seen->half[i / HALVES][i % HALVES], text);
            html_put(html, "<td class=r>%s</td>", text);
        }
        html_put(html, "</tr>\n");
    }
    html_table_end(html);
    html_put(html, "</div>\n");
    html_details_end(html);
}

/* Why there is nothing to show. */
static void cannot_show(struct html *html, const struct problem *problem) {
    html_put(html, "<p>What is kept of it cannot be shown: ");
    html_say(html, "%s", problem->text);
    html_put(html, "</p>\n");
}

static void moments_parts(struct html *html, const struct record_run *run, const struct moments *moments) {
    delays(html, moments);
    windows(html, moments);
    chart_region(html, "when writes take effect");
    chart_moments(html->stream, html->numbers, moments, run->console.name);
    html_put(html, "</div>\n");
    clocks(html, moments);
}

void html_plan_moments(struct html *html, const struct record_run *run) {
    json_t *json = html_blob_json(run, "moments");
    struct moments *moments = malloc(sizeof *moments);
    struct problem problem = {.text = "no JSON, or out of memory"};
    if (html_has_blob(run, "moments")) {
        html_section(html, "moments", "When writes take effect");
        if (json != NULL && moments != NULL &&
            moments_from_json(json, "record", run->plan->standard, moments, &problem)) {
            moments_parts(html, run, moments);
        } else {
            cannot_show(html, &problem);
        }
        html_section_end(html);
    }
    free(moments);
    json_decref(json);
}

/* ---- colours ---- */

static void hues(struct html *html, const struct palette *palette) {
    html_table(
        html,
        "Hues, measured: angle in degrees from the burst's axis, saturation in the grabber's codes, and "
        "the levels against a straight line",
        "Register|>Hue|>Angle|>To the next|>Saturation|>Slope|>Off the line|In order");
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_HUES; i++) {
        const int reg = i / COLOUR_HUES, number = i % COLOUR_HUES;
        const struct palette_hue *hue = &palette->hue[reg][number];
        const bool angle = palette_hue_is_known(palette, reg, number);
        const bool next =
            angle && palette_hue_is_known(palette, reg, number < COLOUR_HUES - 1 ? number + 1 : 1);
        if (!hue->known) {
            continue;
        }
        html_put(html, "<tr data-register=\"%s\" data-hue=%d><th scope=row>%s</th><td class=r>%d</td>",
                 palette_register_name(reg), number, palette_register_name(reg), number);
        html_put(html, angle ? "<td class=r>%.1f\u00b0</td>" : "<td class=r>\u2013</td>", hue->hue);
        html_put(html, next ? "<td class=r>%.1f\u00b0</td>" : "<td class=r>\u2013</td>", hue->to_next);
        html_put(html, "<td class=r>%.1f</td><td class=r>%.3f</td><td class=r>%.1f %%</td><td>%s</td></tr>\n",
                 hue->saturation, hue->slope, 100 * hue->nonlinearity, hue->ordered ? "yes" : "no");
    }
    html_table_end(html);
}

static void codes(struct html *html, const struct palette *palette) {
    html_details(html, false, "Every colour code");
    html_put(html, "<div class=cols>\n");
    html_table(html, "Every code's colour, measured: level 0 the slate's black, 1 its white",
               "Register|>Code|>Fields|>Level|>Spread|>Saturation|>Angle|Cut off");
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        const int reg = i / COLOUR_CODES, code = i % COLOUR_CODES;
        const struct palette_colour *colour = &palette->colour[reg][code];
        if (colour->fields == 0) {
            continue;
        }
        html_put(html,
                 "<tr data-register=\"%s\" data-code=%d data-level=%.6g><th scope=row>%s</th>"
                 "<td class=r>$%02X</td>",
                 palette_register_name(reg), 2 * code, colour->level, palette_register_name(reg), 2 * code);
        html_put(html, "<td class=r>%d</td><td class=r>%.3f</td><td class=r>%.3f</td><td class=r>%.1f</td>",
                 colour->fields, colour->level, colour->level_spread, colour->saturation);
        html_put(html,
                 palette_has_hue(palette, colour) ? "<td class=r>%.1f\u00b0</td>" : "<td class=r>\u2013</td>",
                 colour->hue);
        html_put(html, "<td>%s</td></tr>\n",
                 colour->clipped         ? "yes"
                 : colour->white_clipped ? "white is"
                                         : "no");
    }
    html_table_end(html);
    html_put(html, "</div>\n");
    html_details_end(html);
}

static void colours_parts(struct html *html, const struct record_run *run, const struct palette *palette) {
    chart_region(html, "colours of the console");
    chart_colours(html->stream, html->numbers, palette, run->console.name);
    html_put(html, "</div>\n");
    hues(html, palette);
    codes(html, palette);
}

void html_plan_colours(struct html *html, const struct record_run *run) {
    json_t *json = html_blob_json(run, "colours");
    struct palette *palette = malloc(sizeof *palette);
    struct problem problem = {.text = "no JSON, or out of memory"};
    if (html_has_blob(run, "colours")) {
        html_section(html, "colours", "Colours");
        if (json != NULL && palette != NULL && palette_from_json(json, "record", palette, &problem)) {
            colours_parts(html, run, palette);
        } else {
            cannot_show(html, &problem);
        }
        html_section_end(html);
    }
    free(palette);
    json_decref(json);
}
