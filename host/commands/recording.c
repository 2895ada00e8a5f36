#include "commands/recording.h"

#include "plan/plan_text.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static const char mark[] = "slotjig recording";

static bool facts_path(const char *file, char *path, size_t size, struct problem *problem) {
    static const char prefix[] = "file:";
    file += strncmp(file, prefix, strlen(prefix)) == 0 ? strlen(prefix) : 0;
    return snprintf(path, size, "%s.json", file) < (int)size ||
           problem_set(problem, PROBLEM_INPUT, "%.100s...: the path is too long", file);
}

/* ---- writing ---- */

static json_t *date_json(void) {
    char text[32];
    const time_t now = time(NULL);
    struct tm parts;
    return gmtime_r(&now, &parts) != NULL && strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &parts) > 0
               ? json_string(text)
               : json_null();
}

static json_t *bench_json(const struct bench_settings *bench) {
    json_t *json = json_pack("{s:s,s:s}", "name", bench->name, "console", bench->console);
    if (bench->kind == BENCH_VIRTUAL) {
        char seed[24];
        snprintf(seed, sizeof seed, "%llu", (unsigned long long)bench->options.seed);
        json_object_update_new(json, json_pack("{s:s,s:s,s:o,s:o}", "seed", seed, "grabber",
                                               bench->options.grabber.set, "impairments",
                                               json_texts(&bench->impairments), "faults",
                                               json_texts(&bench->faults)));
    }
    return json;
}

bool recording_write(const char *file, const struct setup *setup, const struct report_capture *capture,
                     uint64_t frames, struct problem *problem) {
    char path[4096], hash[8];
    char *text = plan_text(setup->plan);
    if (text == NULL || !facts_path(file, path, sizeof path, problem)) {
        free(text);
        return text != NULL || problem_set(problem, PROBLEM_BENCH, "%s: out of memory", file);
    }
    snprintf(hash, sizeof hash, "%04x", setup->image->hash);
    json_t *json = json_pack(
        "{s:s,s:s,s:o,s:s,s:s,s:i,s:s,s:s,s:I,s:o,s:o}", "what", mark, "version", SLOTJIG_VERSION, "date",
        date_json(), "standard", standard_table[setup->plan->standard].name, "image_hash", hash, "hold",
        setup->hold, "plan", setup->plan->name, "plan_text", text, "frames", (json_int_t)frames, "bench",
        bench_json(&setup->bench), "capture", json_capture(capture, NULL, 0));
    free(text);
    return json_write(json, path, problem);
}

bool recording_ready(const char *file, struct problem *problem) {
    char path[4096];
    struct recording old;
    if (!facts_path(file, path, sizeof path, problem)) {
        return false;
    }
    recording_read(file, &old);
    const bool ours = old.path[0] != '\0';
    recording_free(&old);
    return ours || access(path, F_OK) != 0 ||
           problem_set(problem, PROBLEM_INPUT,
                       "%s: is there, and is not of a recording; move it, or choose another name", path);
}

bool recording_forget(const char *file, struct problem *problem) {
    char path[4096];
    struct recording old;
    recording_read(file, &old);
    const bool there = old.path[0] != '\0';
    recording_free(&old);
    if (!there) {
        return true;
    }
    return facts_path(file, path, sizeof path, problem) &&
           (unlink(path) == 0 || problem_set(problem, PROBLEM_INPUT,
                                             "%s: is of an earlier recording and cannot be removed: %s; "
                                             "choose another name",
                                             path, strerror(errno)));
}

/* ---- reading ---- */

static const char *text_of(const json_t *json, const char *key) {
    const char *text = json_string_value(json_object_get(json, key));
    return text != NULL ? text : "";
}

static bool understand(const json_t *json, struct recording *recording) {
    const char *plan = text_of(json, "plan_text");
    char *end = NULL;
    recording->hash = (uint16_t)strtoul(text_of(json, "image_hash"), &end, 16);
    if (strcmp(text_of(json, "what"), mark) != 0 || *end != '\0' || *plan == '\0' ||
        !standard_from_name(text_of(json, "standard"), &recording->standard)) {
        return false;
    }
    recording->plan = strdup(plan);
    return recording->plan != NULL;
}

void recording_read(const char *file, struct recording *recording) {
    struct problem ignored;
    *recording = (struct recording){0};
    if (!facts_path(file, recording->path, sizeof recording->path, &ignored)) {
        recording->path[0] = '\0';
        return;
    }
    json_t *json = json_load_file(recording->path, 0, NULL);
    if (json == NULL || !understand(json, recording)) {
        recording->path[0] = '\0';
    }
    json_decref(json);
}

void recording_free(struct recording *recording) {
    free(recording->plan);
    recording->plan = NULL;
}
