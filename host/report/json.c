#include "report/json.h"

#include "base/output.h"
#include "base/utf8.h"
#include "report/check_report.h"
#include "report/moments_report.h"
#include "report/palette_report.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define HUE_LEAST 8.0 /* codes of saturation: a hue of less is noise's */

static json_t *registers_json(const uint8_t held[REG_COUNT]) {
    return json_pack("{s:i,s:i,s:i,s:i,s:i,s:i}", "PF0", held[REG_PF0], "PF1", held[REG_PF1], "PF2",
                     held[REG_PF2], "CTRLPF", held[REG_CTRLPF], "COLUPF", held[REG_COLUPF], "COLUBK",
                     held[REG_COLUBK]);
}

json_t *json_step(size_t index, const char *name, const char *mode, const uint8_t registers[REG_COUNT],
                  uint64_t expected, uint64_t sure) {
    char cells[CELLS + 1];
    cells_text(expected, ~sure & CELLS_ALL, cells);
    return json_pack("{s:I,s:s,s:s,s:o,s:s}", "step", (json_int_t)index, "name", name, "mode", mode,
                     "registers", registers_json(registers), "expected", cells);
}

static json_t *step_json(const struct plan *plan, size_t index, uint64_t expected, uint64_t sure) {
    const struct step *step = &plan->steps[index];
    uint8_t held[REG_COUNT];
    step_registers(step, held);
    return json_step(index, step->name, step_mode(step), held, expected, sure);
}

/* Steps of several bands carry every band's rows; the key `expected` is the first line's. */
static json_t *bands_json(const struct step *step, const struct expectation *expectation) {
    json_t *bands = json_array();
    int line = 0;
    for (size_t i = 0; i < step->band_count; i++) {
        char cells[CELLS + 1];
        uint64_t vague = ~expectation->sure[line] & CELLS_ALL;
        cells_text(expectation->lit[line], vague, cells);
        json_array_append_new(bands, json_pack("{s:i,s:i,s:s}", "line", line, "lines", step->bands[i].lines,
                                               "expected", cells));
        line += step->bands[i].lines;
    }
    return bands;
}

json_t *json_steps_expected(const struct plan *plan) {
    json_t *steps = json_array();
    int lines = standard_plan_lines(plan->standard);
    for (size_t i = 0; i < plan->step_count; i++) {
        struct expectation expectation;
        expect_step(&plan->steps[i], lines, &expectation);
        json_t *step = step_json(plan, i, expectation.lit[0], expectation.sure[0]);
        if (plan->steps[i].band_count > 1) {
            json_object_set_new(step, "bands", bands_json(&plan->steps[i], &expectation));
        }
        json_array_append_new(steps, step);
    }
    return steps;
}

/* level: 0 the slate's black, 1 its white. hue in degrees from the -Cb axis towards -Cr, null without colour.
 */
static json_t *colour_json(const struct cell_colour *colour) {
    if (colour->count == 0) {
        return json_null();
    }
    json_t *json = json_pack("{s:f,s:f}", "level", colour->level, "saturation", colour_saturation(colour));
    json_object_set_new(json, "hue",
                        colour_saturation(colour) >= HUE_LEAST ? json_real(colour_hue(colour)) : json_null());
    return json;
}

static json_t *colours_json(const struct step_result *step) {
    if (step->lit_colour.count == 0 && step->dark_colour.count == 0) {
        return json_null();
    }
    return json_pack("{s:o,s:o}", "lit", colour_json(&step->lit_colour), "dark",
                     colour_json(&step->dark_colour));
}

void json_step_seen(json_t *json, const struct step_result *step) {
    char seen[CELLS + 1];
    cells_text(step->seen, step->fields > 0 ? step->unclear : CELLS_ALL, seen);
    json_object_set_new(json, "verdict", json_string(verdict_name(step->verdict)));
    json_object_set_new(json, "fields", json_integer(step->fields));
    json_object_set_new(json, "failed_fields", json_integer(step->failed));
    json_object_set_new(json, "margin", json_real(step->margin));
    json_object_set_new(json, "seen", json_string(seen));
    json_object_set_new(json, "offset_clocks", json_real(step->offset));
    json_object_set_new(json, "colours", colours_json(step));
    if (step->wrong_line >= 0) {
        json_object_set_new(json, "wrong_line", json_integer(step->wrong_line));
    }
}

static json_t *steps_json(const struct report *report) {
    json_t *steps = json_array();
    for (size_t i = 0; i < report->result->step_count; i++) {
        const struct step_result *seen = &report->result->steps[i];
        json_t *step = step_json(report->plan, i, seen->expected, seen->sure);
        json_step_seen(step, seen);
        json_array_append_new(steps, step);
    }
    return steps;
}

static json_t *finding_json(const struct finding *finding) {
    char text[sizeof finding->text], next[sizeof finding->next];
    utf8_clean(finding->text, text, sizeof text, false);
    utf8_clean(finding->next, next, sizeof next, false);
    json_t *json =
        json_pack("{s:s,s:s,s:s,s:f,s:[f,f],s:b,s:i}", "kind", finding_name(finding->kind), "text", text,
                  "next", next, "rate", finding->rate, "rate_95", finding->rate_low, finding->rate_high,
                  "alternative", (int)finding->alternative, "explanation", finding->explanation);
    const bool cartridge = finding_is_cartridge(finding->kind);
    const char *reg = finding_reg(finding);
    json_object_set_new(json, "register", reg[0] != '\0' && !cartridge ? json_string(reg) : json_null());
    json_object_set_new(json, "bit", finding->bit >= 0 ? json_integer(finding->bit) : json_null());
    if (cartridge) {
        char place[FINDING_PLACE_MAX];
        finding_place(finding, place);
        json_object_set_new(json, "lines", place[0] != '\0' ? json_string(place) : json_null());
    }
    return json;
}

json_t *json_findings(const struct finding *findings, size_t count) {
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++) {
        json_array_append_new(list, finding_json(&findings[i]));
    }
    return list;
}

json_t *json_raster(const struct raster *raster, int frame_lines) {
    return json_pack("{s:f,s:f,s:f,s:f,s:f}", "left", raster->left, "top", raster->top * frame_lines,
                     "cell_width", raster->clock_width * CELL_CLOCKS, "line_height", (double)frame_lines,
                     "slant", raster->slant);
}

json_t *json_numbers(const int64_t *numbers, size_t count) {
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++) {
        json_array_append_new(list, json_integer(numbers[i]));
    }
    return list;
}

json_t *json_text(const char *text) {
    char *clean = utf8_copy(text);
    json_t *json = json_string(clean == NULL ? "" : clean);
    free(clean);
    return json;
}

json_t *json_texts(const struct texts *texts) {
    json_t *list = json_array();
    const char *text = NULL;
    while (texts != NULL && (text = texts_next(texts, text)) != NULL) {
        json_array_append_new(list, json_string(text));
    }
    return list;
}

/* What a device or a file says of itself may be any bytes; nothing said is null. */
static json_t *said(const char *text) {
    char clean[512];
    json_clean(text, clean, sizeof clean);
    return clean[0] != '\0' ? json_string(clean) : json_null();
}

static json_t *source_json(const struct video_about *about) {
    return json_pack("{s:o,s:o,s:o,s:i,s:i,s:f,s:o,s:o,s:b,s:b}", "kind", said(about->kind), "name",
                     said(about->name), "format", said(about->format), "width", about->width, "height",
                     about->height, "rate", about->rate, "input", said(about->input), "standard",
                     said(about->standard), "live", (int)about->live, "untried", (int)about->untried);
}

static json_t *buffers_json(const struct video_counts *counts) {
    return json_pack("{s:I,s:I,s:I,s:I,s:I,s:I,s:I}", "delivered", (json_int_t)counts->delivered, "lost",
                     (json_int_t)counts->lost, "empty", (json_int_t)counts->empty, "broken",
                     (json_int_t)counts->broken, "repeated", (json_int_t)counts->repeated, "overrun",
                     (json_int_t)counts->overrun, "gone", (json_int_t)counts->gone);
}

static json_t *fields_json(const struct frames_facts *facts) {
    return json_pack("{s:I,s:I,s:I,s:I,s:I,s:I}", "read", (json_int_t)facts->read, "fresh",
                     (json_int_t)facts->fresh, "lost", (json_int_t)facts->lost, "doubled",
                     (json_int_t)facts->doubled, "swapped", (json_int_t)facts->swapped, "blended",
                     (json_int_t)facts->blended);
}

static json_t *frames_json(const struct frames_facts *facts) {
    return json_pack("{s:I,s:I,s:I,s:I,s:i}", "seen", (json_int_t)facts->frames, "half_black",
                     (json_int_t)facts->half_black, "repeated", (json_int_t)facts->frames_repeated, "relocks",
                     (json_int_t)facts->relocks, "layout_changes", facts->changes);
}

static json_t *levels_json(const struct frames_facts *facts) {
    if (facts->read == 0) {
        return json_null();
    }
    return json_pack("{s:[f,f],s:[f,f],s:I}", "black", facts->black_low, facts->black_high, "white",
                     facts->white_low, facts->white_high, "clipped", (json_int_t)facts->clipped);
}

/* Which of two fields: null where that is not known, or nothing is. */
static json_t *which_json(int which) {
    return which < 0 ? json_null() : json_string(which == 0 ? "top" : "bottom");
}

json_t *json_capture(const struct report_capture *capture, const struct finding *troubles, size_t count) {
    const struct frames_facts *facts = capture->facts;
    if (capture->about == NULL) {
        return json_null();
    }
    return json_pack(
        "{s:o,s:s,s:o,s:o,s:o,s:o,s:o,s:o,s:f,s:f,s:o,s:o}", "source", source_json(capture->about), "layout",
        layout_name(facts->layout), "older", which_json(facts->older), "stale", which_json(facts->stale),
        "fields", fields_json(facts), "frames", frames_json(facts), "buffers", buffers_json(capture->counts),
        "noise_db", facts->noise_db > 0 ? json_real(facts->noise_db) : json_null(), "mixing", facts->mixing,
        "slant", facts->slant, "levels", levels_json(facts), "trouble", json_findings(troubles, count));
}

json_t *json_settings(const struct report *report) {
    char hash[8];
    snprintf(hash, sizeof hash, "%04x", report->hash);
    json_t *settings = json_pack("{s:s}", "image_hash", hash);
    if (report->hold > 0) {
        json_object_set_new(settings, "hold", json_integer(report->hold));
    }
    if (report->plan->kind == PLAN_EVERY) {
        json_object_set_new(settings, "lines", json_integer(report->plan->every.repeat));
    }
    if (report->has_seed) {
        json_object_set_new(settings, "seed", json_integer((json_int_t)report->seed));
    }
    json_object_set_new(settings, "faults", json_texts(report->faults));
    if (report->grabber != NULL) {
        json_object_set_new(settings, "grabber", json_string(report->grabber));
        json_object_set_new(settings, "impairments", json_texts(report->impairments));
    }
    return settings;
}

void json_add_coverage(json_t *json, const struct coverage *coverage) {
    if (coverage->of > 0) {
        json_object_set_new(json, "coverage",
                            json_pack("{s:I,s:I,s:I}", "seen", (json_int_t)coverage->seen, "of",
                                      (json_int_t)coverage->of, "open", (json_int_t)coverage->open));
        json_object_set_new(json, "wrong", json_pack("{s:I}", "pictures", (json_int_t)coverage->wrong));
    }
}

/* Keys that only some plans have. */
static void add_measured(json_t *json, const struct result *result) {
    json_add_coverage(json, &result->coverage);
    if (result->moments != NULL) {
        json_object_update_new(json, moments_json(result->moments));
    }
    if (result->check != NULL) {
        json_object_set_new(json, "check", check_json(result->check));
    }
    if (result->palette != NULL) {
        json_object_update_new(json, palette_json(result->palette));
    }
}

json_t *json_result(const struct report *report) {
    const struct result *result = report->result;
    json_t *fields =
        json_pack("{s:I,s:I,s:I}", "seen", (json_int_t)result->fields_seen, "judged",
                  (json_int_t)result->fields_judged, "unreadable", (json_int_t)result->fields_unreadable);
    json_t *json =
        json_pack("{s:s,s:s,s:s,s:s,s:s,s:i,s:f,s:o,s:o,s:o,s:o,s:o}", "command", report->command, "plan",
                  report->plan->name, "bench", report->bench, "standard",
                  standard_table[report->plan->standard].name, "verdict", verdict_name(result->verdict),
                  "exit", report->exit, "margin", result->margin, "fields", fields, "raster",
                  result->has_raster ? json_raster(&result->raster, result->frame_lines) : json_null(),
                  "settings", json_settings(report), "steps", steps_json(report), "findings",
                  json_findings(result->findings, result->finding_count));
    json_object_set_new(json, "capture",
                        json_capture(&report->capture, result->troubles, result->trouble_count));
    json_object_set_new(json, "problem", report->problem != NULL ? said(report->problem) : json_null());
    add_measured(json, result);
    if (report->more != NULL) {
        json_object_update(json, report->more);
    }
    return json;
}

void json_clean(const char *text, char *clean, size_t size) {
    snprintf(clean, size, "%s", text);
    json_t *valid = json_string(clean);
    for (char *c = clean; *c != '\0'; c++) {
        unsigned char byte = (unsigned char)*c;
        if (byte < ' ' || byte == 0x7F || (valid == NULL && byte >= 0x80)) {
            *c = '?';
        }
    }
    json_decref(valid);
}

bool json_write(json_t *json, const char *path, struct problem *problem) {
    char *text = json == NULL ? NULL : json_dumps(json, JSON_INDENT(1) | JSON_REAL_PRECISION(6));
    json_decref(json);
    if (text == NULL) {
        return problem_set(problem, PROBLEM_BENCH,
                           "%s: the JSON could not be made: a text that is not UTF-8, or out of memory",
                           path);
    }
    size_t length = strlen(text);
    text[length] = '\n'; /* in place of the final 0: output_write() takes a length */
    bool good = output_write(path, text, length + 1, problem);
    free(text);
    return good;
}
