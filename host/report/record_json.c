#include "report/rows.h"

#include "base/date.h"
#include "base/utf8.h"
#include "report/json.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static json_t *text_or_null(const char *text) {
    return text == NULL || text[0] == '\0' ? json_null() : json_text(text);
}

static json_t *number_json(double number) {
    return isfinite(number) ? json_real(number) : json_null();
}

static json_t *settings_json(const struct record_run *run) {
    char hash[8];
    json_t *settings = json_loads(run->settings, 0, NULL);
    if (!json_is_object(settings)) {
        json_decref(settings);
        settings = json_object();
    }
    snprintf(hash, sizeof hash, "%04x", run->image_hash);
    json_object_set_new(settings, "image_hash", json_string(hash));
    if (run->has_seed) {
        json_object_set_new(settings, "seed", json_integer((json_int_t)run->seed));
    }
    return settings;
}

static json_t *console_json(const struct record_console *console) {
    return json_pack("{s:o,s:o,s:o,s:o}", "name", json_text(console->name), "revision",
                     text_or_null(console->revision), "markings", text_or_null(console->markings),
                     "modifications", text_or_null(console->modifications));
}

static json_t *cartridge_json(const struct record_cartridge *cartridge) {
    return json_pack("{s:o,s:o,s:o}", "kind", text_or_null(cartridge->kind), "serial",
                     text_or_null(cartridge->serial), "firmware", text_or_null(cartridge->firmware));
}

static json_t *step_json(const struct record_run *run, size_t index) {
    static const struct record_plan_step unknown = {.name = "", .mode = ""};
    const struct step_result *seen = &run->steps[index];
    const struct record_plan_step *step =
        run->plan->steps != NULL && index < run->plan->step_count ? &run->plan->steps[index] : &unknown;
    char name[STEP_NAME_MAX];
    utf8_clean(step->name, name, sizeof name, false);
    json_t *json = json_step(index, name, step->mode, step->registers, seen->expected, seen->sure);
    json_step_seen(json, seen);
    if (run->seen_by_eye) {
        static const char *const unseen[] = {"margin", "seen", "offset_clocks", "colours"};
        for (size_t i = 0; i < sizeof unseen / sizeof unseen[0]; i++) {
            json_object_set_new(json, unseen[i], json_null());
        }
    }
    return json;
}

static void add_steps(json_t *json, const struct record_run *run) {
    const enum plan_kind kind = run->plan->kind;
    if (run->step_count == 0 && (kind == PLAN_STEPS || kind == PLAN_COLOURS)) {
        return;
    }
    json_t *steps = json_array();
    for (size_t i = 0; i < run->step_count; i++) {
        json_array_append_new(steps, step_json(run, i));
    }
    json_object_set_new(json, "steps", steps);
}

/* Measurements stand in the object as in a result; pictures are named. */
static void add_blobs(json_t *json, const struct record_run *run) {
    json_t *pictures = json_array();
    for (size_t i = 0; i < run->blob_count; i++) {
        const struct record_blob *blob = &run->blobs[i];
        json_t *measured = strcmp(blob->type, "application/json") == 0
                               ? json_loadb((const char *)blob->bytes, blob->size, 0, NULL)
                               : NULL;
        if (json_is_object(measured) && strcmp(blob->name, "cartridge") == 0) {
            json_object_set(json, "check", measured);
        } else if (json_is_object(measured)) {
            json_object_update_missing(json, measured);
        } else if (strncmp(blob->type, "image/", 6) == 0) {
            json_array_append_new(pictures, json_pack("{s:o,s:s,s:I}", "name", json_text(blob->name), "id",
                                                      blob->id, "bytes", (json_int_t)blob->size));
        }
        json_decref(measured);
    }
    json_object_set_new(json, "pictures", pictures);
}

/* What only a record knows. */
static void add_circumstances(json_t *json, const struct record_run *run) {
    char started[DATE_TEXT_MAX];
    json_object_set_new(json, "id", json_integer(run->id));
    json_object_set_new(json, "started", json_string(date_text(run->started_ms, DATE_WHOLE, started)));
    json_object_set_new(json, "took_s", json_real((double)run->took_ms / 1000));
    json_object_set_new(json, "minutes_on",
                        run->minutes_on >= 0 ? number_json(run->minutes_on) : json_null());
    json_object_set_new(json, "station", json_text(run->station));
    json_object_set_new(json, "console", console_json(&run->console));
    json_object_set_new(json, "cartridge", cartridge_json(&run->cartridge));
    json_object_set_new(json, "tool", json_text(run->tool));
    json_object_set_new(json, "plan_id", json_text(run->plan->id));
    json_object_set_new(json, "end", json_string(record_end_name(run->end)));
    json_object_set_new(json, "sweep", run->sweep > 0 ? json_integer(run->sweep) : json_null());
    json_object_set_new(json, "repeat", run->repeat > 0 ? json_integer(run->repeat) : json_null());
    json_object_set_new(json, "item", run->item > 0 ? json_integer(run->item) : json_null());
    json_object_set_new(json, "attempt", json_integer(run->attempt));
    json_object_set_new(json, "by_eye", json_boolean(run->seen_by_eye));
}

static const char *verdict_of(enum record_end end) {
    return verdict_name(end == RECORD_PASS   ? VERDICT_PASS
                        : end == RECORD_FAIL ? VERDICT_FAIL
                                             : VERDICT_INCONCLUSIVE);
}

/* Keys and their meaning as in a result. */
static void add_result(json_t *json, const struct record_run *run) {
    json_object_set_new(json, "command", json_text(run->command));
    json_object_set_new(json, "plan", json_text(run->plan->name));
    json_object_set_new(json, "bench", json_text(run->bench));
    json_object_set_new(json, "standard", json_string(standard_table[run->plan->standard].name));
    json_object_set_new(json, "verdict", json_string(verdict_of(run->end)));
    json_object_set_new(json, "exit", json_integer(run->exit));
    json_object_set_new(json, "margin", run->seen_by_eye ? json_null() : number_json(run->margin));
    json_object_set_new(json, "fields",
                        json_pack("{s:I,s:I,s:I}", "seen", (json_int_t)run->fields_seen, "judged",
                                  (json_int_t)run->fields_judged, "unreadable",
                                  (json_int_t)run->fields_unreadable));
    json_object_set_new(json, "raster",
                        run->has_raster ? json_raster(&run->raster, run->frame_lines) : json_null());
    json_object_set_new(json, "settings", settings_json(run));
    json_object_set_new(json, "findings", json_findings(run->findings, run->finding_count));
    json_object_set_new(json, "capture",
                        json_pack("{s:o,s:o}", "noise_db",
                                  run->noise_db > 0 ? number_json(run->noise_db) : json_null(), "trouble",
                                  json_findings(run->troubles, run->trouble_count)));
    json_object_set_new(json, "problem", text_or_null(run->problem));
    json_add_coverage(json, &run->coverage);
}

json_t *record_json(const struct record_run *run) {
    json_t *json = json_object();
    if (json != NULL) {
        add_circumstances(json, run);
        add_result(json, run);
        add_steps(json, run);
        add_blobs(json, run);
    }
    return json;
}
