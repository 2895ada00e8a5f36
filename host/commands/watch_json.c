#include "commands/watch_json.h"

#include "report/json.h"

#include <math.h>
#include <stdio.h>

/* Numbers are cut to what a person can read; the page is renewed several times a second. */
static json_t *rounded(double value, double step) {
    return json_real(round(value / step) * step);
}

static json_t *known(bool is_known, double value, double step) {
    return is_known ? rounded(value, step) : json_null();
}

static json_t *clean_text(const char *text) {
    char clean[1024];
    json_clean(text, clean, sizeof clean);
    return json_string(clean);
}

static json_t *words_json(const struct watch_words *words) {
    return json_pack("{s:s,s:s,s:s,s:o,s:o}", "kind", words->name, "level", words->level, "headline",
                     words->headline, "text", clean_text(words->text), "next", clean_text(words->next));
}

static json_t *checks_json(const struct watch_view *view) {
    static const char *const states[] = {"unknown", "good", "bad"};
    json_t *checks = json_array();
    for (int check = 0; check < WATCH_CHECKS; check++) {
        json_array_append_new(checks,
                              json_pack("{s:s,s:s}", "check", watch_check_name((enum watch_check)check),
                                        "state", states[view->checks[check]]));
    }
    return checks;
}

/* Hundredths, since fractions are ten times the bytes; -1 where nothing was read; null before the start. */
static json_t *strip_json(const struct watch_view *view) {
    json_t *strip = json_array();
    for (int i = 0; i < WATCH_BINS; i++) {
        const double margin = view->strip[i];
        json_array_append_new(strip, margin < WATCH_NOTHING_READ ? json_null()
                                     : margin < 0                ? json_integer(-1)
                                                                 : json_integer(lround(100 * margin)));
    }
    return strip;
}

static json_t *wrong_json(const struct watch_view *view, const struct plan *plan) {
    json_t *wrong = json_array();
    for (size_t i = 0; i < view->wrong_count && i < WATCH_STEPS_SHOWN; i++) {
        json_t *cells = json_array();
        for (int cell = 0; cell < CELLS; cell++) {
            if (view->wrong_cells[i] >> cell & 1) {
                json_array_append_new(cells, json_integer(cell));
            }
        }
        json_array_append_new(wrong, json_pack("{s:i,s:o,s:o}", "step", (int)view->wrong[i], "name",
                                               clean_text(plan->steps[view->wrong[i]].name), "cells", cells));
    }
    return wrong;
}

static json_t *troubles_json(const struct watch_view *view) {
    json_t *troubles = json_array();
    for (size_t i = 0; i < view->trouble_count; i++) {
        json_array_append_new(troubles, json_string(view->troubles[i]));
    }
    return troubles;
}

static json_t *source_json(const struct watch_facts *facts) {
    const struct video_about *about = &facts->about;
    return json_pack("{s:o,s:o,s:o,s:i,s:i,s:b,s:b}", "kind", clean_text(about->kind), "name",
                     clean_text(about->name), "format", clean_text(about->format), "width", about->width,
                     "height", about->height, "live", (int)about->live, "untried", (int)about->untried);
}

static json_t *counts_json(const struct watch_facts *facts) {
    const struct frames_facts *frames = &facts->frames;
    const struct video_counts *counts = &facts->counts;
    const struct {
        const char *name;
        uint64_t value;
    } rows[] = {{"frames", frames->frames},
                {"slates read", frames->read},
                {"fields lost", frames->lost},
                {"fields seen again", frames->doubled},
                {"fields swapped", frames->swapped},
                {"fields blended", frames->blended},
                {"frames half black", frames->half_black},
                {"picture came back", frames->relocks},
                {"buffers lost", counts->lost},
                {"buffers empty", counts->empty},
                {"buffers broken", counts->broken},
                {"buffers repeated", counts->repeated},
                {"frames overrun", counts->overrun},
                {"device gone", counts->gone}};
    json_t *list = json_array();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        json_array_append_new(list, json_pack("[s,I]", rows[i].name, (json_int_t)rows[i].value));
    }
    return list;
}

static json_t *raster_json(const struct watch_view *view) {
    const struct raster *raster = &view->raster;
    if (!view->has_raster) {
        return json_null();
    }
    return json_pack("{s:o,s:o,s:o,s:o,s:o,s:o}", "left", rounded(raster->left, 0.1), "top",
                     rounded(raster->top, 1), "cell_width", rounded(raster->clock_width * CELL_CLOCKS, 0.01),
                     "slant", rounded(raster->slant, 0.001), "black", rounded(raster->black, 1), "white",
                     rounded(raster->white, 1));
}

size_t watch_json(const struct watch_view *view, const struct watch_facts *facts, char *text, size_t size) {
    const struct plan *plan = facts->plan;
    json_t *json = json_pack("{s:o,s:o,s:o,s:s,s:o,s:o,s:o,s:o,s:o,s:i,s:o}", "now", words_json(&view->words),
                             "silent", words_json(&view->silent), "checks", checks_json(view), "layout",
                             layout_name(facts->frames.layout), "margin",
                             known(view->has_margin, view->margin, 0.01), "strip", strip_json(view), "raster",
                             raster_json(view), "source", source_json(facts), "counts", counts_json(facts),
                             "strip_ms", (int)WATCH_BIN_MS, "troubles", troubles_json(view));
    json_t *more = json_pack(
        "{s:o,s:o,s:s,s:i,s:i,s:o,s:i,s:i,s:o,s:o,s:o,s:o}", "bench", clean_text(facts->bench), "plan",
        clean_text(plan->name), "standard", standard_table[plan->standard].name, "steps",
        (int)plan->step_count, "step", (int)view->step, "step_name",
        view->step >= 0 ? clean_text(plan->steps[view->step].name) : json_null(), "steps_seen",
        (int)view->steps_seen, "steps_wrong", (int)view->wrong_count, "wrong", wrong_json(view, plan),
        "frames_a_second", rounded(view->frames_a_second, 0.1), "fields_a_second",
        rounded(view->fields_a_second, 0.1), "noise_db", known(view->noise_db > 0, view->noise_db, 1));
    size_t length = 0;
    if (json != NULL && json_object_update_new(json, more) == 0) {
        length = json_dumpb(json, text, size, JSON_COMPACT | JSON_REAL_PRECISION(4));
    }
    json_decref(json);
    return length <= size ? length : 0;
}

void watch_alt(const struct watch_facts *facts, const struct reading *reading, uint64_t wrong, char *text,
               size_t size) {
    static const char *const states[] = {[FIELD_READ] = "",
                                         [FIELD_NO_SIGNAL] = "flat: no signal",
                                         [FIELD_NO_SLATE] = "a picture without a slate",
                                         [FIELD_BAD_SLATE] = "a slate whose check disagrees"};
    if (reading->state != FIELD_READ) {
        snprintf(text, size, "Captured field: %s.", states[reading->state]);
        return;
    }
    const bool named = reading->slate.value < facts->plan->step_count;
    snprintf(
        text, size,
        "Captured field of step %u%s%.60s, with raster and cells drawn over it: margin %.2f, %d cells wrong.",
        (unsigned)reading->slate.value, named ? ", " : "",
        named ? facts->plan->steps[reading->slate.value].name : "", reading->margin,
        __builtin_popcountll(wrong));
}
