#include "report/json.h"

#include "base/output.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static json_t *registers_json(const struct step *step) {
    uint8_t held[REG_COUNT];
    step_registers(step, held);
    return json_pack("{s:i,s:i,s:i,s:i}", "PF0", held[REG_PF0], "PF1", held[REG_PF1], "PF2", held[REG_PF2],
                     "CTRLPF", held[REG_CTRLPF]);
}

static json_t *step_json(const struct plan *plan, size_t index, const char *expected) {
    const struct step *step = &plan->steps[index];
    return json_pack("{s:I,s:s,s:s,s:o,s:s}", "step", (json_int_t)index, "name", step->name, "mode",
                     step_mode(step), "registers", registers_json(step), "expected", expected);
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
        char cells[CELLS + 1];
        expect_step(&plan->steps[i], lines, &expectation);
        cells_text(expectation.lit[0], ~expectation.sure[0] & CELLS_ALL, cells);
        json_t *step = step_json(plan, i, cells);
        if (plan->steps[i].band_count > 1) {
            json_object_set_new(step, "bands", bands_json(&plan->steps[i], &expectation));
        }
        json_array_append_new(steps, step);
    }
    return steps;
}

static json_t *judged_step_json(const struct plan *plan, size_t index, const struct step_result *step) {
    char expected[CELLS + 1], seen[CELLS + 1];
    cells_text(step->expected, ~step->sure & CELLS_ALL, expected);
    cells_text(step->seen, step->fields > 0 ? step->unclear : CELLS_ALL, seen);
    json_t *json = step_json(plan, index, expected);
    json_object_set_new(json, "verdict", json_string(verdict_name(step->verdict)));
    json_object_set_new(json, "fields", json_integer(step->fields));
    json_object_set_new(json, "failed_fields", json_integer(step->failed));
    json_object_set_new(json, "margin", json_real(step->margin));
    json_object_set_new(json, "seen", json_string(seen));
    json_object_set_new(json, "offset_clocks", json_real(step->offset));
    if (step->wrong_line >= 0) {
        json_object_set_new(json, "wrong_line", json_integer(step->wrong_line));
    }
    return json;
}

static json_t *steps_json(const struct report *report) {
    json_t *steps = json_array();
    for (size_t i = 0; i < report->result->step_count; i++) {
        json_array_append_new(steps, judged_step_json(report->plan, i, &report->result->steps[i]));
    }
    return steps;
}

static json_t *finding_json(const struct finding *finding) {
    json_t *json = json_pack("{s:s,s:s,s:s,s:f,s:[f,f],s:b}", "kind", finding_name(finding->kind), "text",
                             finding->text, "next", finding->next, "rate", finding->rate, "rate_95",
                             finding->rate_low, finding->rate_high, "alternative", (int)finding->alternative);
    json_object_set_new(json, "register",
                        finding->reg >= 0 ? json_string(reg_name((enum reg)finding->reg)) : json_null());
    json_object_set_new(json, "bit", finding->bit >= 0 ? json_integer(finding->bit) : json_null());
    return json;
}

json_t *json_findings(const struct finding *findings, size_t count) {
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++) {
        json_array_append_new(list, finding_json(&findings[i]));
    }
    return list;
}

/* Of the captured frame: a field's line is frame_lines lines of it. */
static json_t *raster_json(const struct result *result) {
    if (!result->has_raster) {
        return json_null();
    }
    const struct raster *raster = &result->raster;
    return json_pack("{s:f,s:f,s:f,s:f}", "left", raster->left, "top", raster->top * result->frame_lines,
                     "cell_width", raster->clock_width * CELL_CLOCKS, "line_height",
                     (double)result->frame_lines);
}

static json_t *settings_json(const struct report *report) {
    char hash[8];
    snprintf(hash, sizeof hash, "%04x", report->hash);
    json_t *settings = json_pack("{s:s}", "image_hash", hash);
    if (report->hold > 0) {
        json_object_set_new(settings, "hold", json_integer(report->hold));
    }
    if (report->has_seed) {
        json_object_set_new(settings, "seed", json_integer((json_int_t)report->seed));
    }
    json_t *faults = json_array();
    for (int i = 0; i < report->fault_count; i++) {
        json_array_append_new(faults, json_string(report->faults[i]));
    }
    json_object_set_new(settings, "faults", faults);
    return settings;
}

json_t *json_result(const struct report *report) {
    const struct result *result = report->result;
    json_t *fields =
        json_pack("{s:I,s:I,s:I}", "seen", (json_int_t)result->fields_seen, "judged",
                  (json_int_t)result->fields_judged, "unreadable", (json_int_t)result->fields_unreadable);
    json_t *json = json_pack(
        "{s:s,s:s,s:s,s:s,s:s,s:i,s:f,s:o,s:o,s:o,s:o,s:o}", "command", report->command, "plan",
        report->plan->name, "bench", report->bench, "standard", standard_table[report->plan->standard].name,
        "verdict", verdict_name(result->verdict), "exit", report->exit, "margin", result->margin, "fields",
        fields, "raster", raster_json(result), "settings", settings_json(report), "steps", steps_json(report),
        "findings", json_findings(result->findings, result->finding_count));
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
