/* Results as JSON. Keys and their meaning are tabled in README.md. */
#ifndef SLOTJIG_REPORT_JSON_H
#define SLOTJIG_REPORT_JSON_H

#include "base/problem.h"
#include "base/texts.h"
#include "capture/video.h"
#include "expect/expect.h"
#include "picture/frames.h"
#include "plan/plan.h"
#include "verdict/verdict.h"

#include <jansson.h>
#include <stdint.h>

/* What is known of the video that was looked at. Borrowed. */
struct report_capture {
    const struct video_about *about;
    const struct video_counts *counts;
    const struct frames_facts *facts;
};

/* What a report needs to know beside the result. Borrowed, nothing is freed. */
struct report {
    const struct plan *plan;
    const char *bench; /* the bench's name, or the file that was judged */
    const struct result *result;
    uint16_t hash;
    int hold; /* 0: not known (a file) */
    uint64_t seed;
    bool has_seed;
    int exit;
    const char *command;             /* "run", "judge" */
    const struct texts *faults;      /* NULL: none */
    const char *grabber;             /* the virtual bench's set; NULL where there is none */
    const struct texts *impairments; /* NULL: none */
    struct report_capture capture;   /* about NULL: no video was looked at */
    const json_t *check; /* of a record of plan cartridge, in the place of the result's own; else NULL */
    const char *problem; /* why it ended early; NULL: it did not */
    json_t *more;        /* keys of the command's own, such as `board` and `slot`; may be NULL */
};

/* An array of strings, of numbers. */
json_t *json_texts(const struct texts *texts);
json_t *json_numbers(const int64_t *numbers, size_t count);
/* A string, whatever bytes the text has: as utf8_copy() leaves it. */
json_t *json_text(const char *text);
/* Object `capture`; troubles: what is wrong with the capture chain. null where about is NULL. */
json_t *json_capture(const struct report_capture *capture, const struct finding *troubles, size_t count);
json_t *json_findings(const struct finding *findings, size_t count);
json_t *json_steps_expected(const struct plan *plan);
/* Object `settings`. */
json_t *json_settings(const struct report *report);
json_t *json_result(const struct report *report);

/* Parts of a result. A step as its plan has it: the cells of its first line, and which of them are judged. */
json_t *json_step(size_t index, const char *name, const char *mode, const uint8_t registers[REG_COUNT],
                  uint64_t expected, uint64_t sure);
/* Adds what was seen of the step. */
void json_step_seen(json_t *json, const struct step_result *step);
/* Of the captured frame, of which a field's line is so many lines. */
json_t *json_raster(const struct raster *raster, int frame_lines);
/* Adds keys `coverage` and `wrong`, of plans that count their pictures; of others nothing. */
void json_add_coverage(json_t *json, const struct coverage *coverage);

/* A text as a report may show it: no control characters, and nothing that is not UTF-8. */
void json_clean(const char *text, char *clean, size_t size);

/* Writes indented JSON, whole or not at all; "-" is standard output. Takes the reference. */
bool json_write(json_t *json, const char *path, struct problem *problem);

#endif
