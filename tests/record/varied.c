#include "record/varied.h"

#include <stdio.h>
#include <string.h>

enum { SEED = 20260107, CONSOLES = 4, STEPS = 12, REPEATS = 3, PICTURE = 700 };

/* No steps were judged. */
static void lost(struct record_run *run) {
    run->end = RECORD_TROUBLE;
    run->exit = 3;
    run->problem = "serial port: no answer within 2 s";
    run->has_raster = false;
    run->raster = (struct raster){0};
    run->step_count = 0;
    run->steps = NULL;
    run->margin = 0;
    run->noise_db = 0;
    run->minutes_on = -1;
    run->has_seed = false;
    run->fields_seen = 0;
    run->fields_judged = 0;
    run->fields_unreadable = 77;
}

static const struct finding troubles[] = {
    {.kind = FINDING_NOISY,
     .reg = -1,
     .bit = -1,
     .rate = 1,
     .rate_low = 1,
     .rate_high = 1,
     .text = "noise of 31 dB",
     .next = "another cable"},
    {.kind = FINDING_FIELDS_LOST,
     .reg = -1,
     .bit = -1,
     .rate = 1,
     .rate_low = 1,
     .rate_high = 1,
     .text = "4 of 312 fields lost",
     .next = "another port"},
};
static const struct finding doubtful[] = {
    {.kind = FINDING_INTERMITTENT,
     .reg = REG_PF0,
     .bit = 4,
     .alternative = true,
     .explanation = 1,
     .rate = 0.25,
     .rate_low = 0.125,
     .rate_high = 0.4375,
     .text = "PF0 bit 4 at times",
     .next = "clean the slot's contacts"},
    {.kind = FINDING_ADDRESS_LINE_STUCK,
     .reg = -1,
     .bit = 12,
     .alternative = true,
     .explanation = 2,
     .rate = 1,
     .rate_low = 1,
     .rate_high = 1,
     .text = "A12 \xC2\xB1 0",
     .next = "clean the slot's contacts"},
};

static void with_findings(struct record_run *run) {
    run->end = RECORD_FAIL;
    run->exit = 1;
    run->finding_count = 2;
    run->findings = doubtful;
    run->trouble_count = 2;
    run->troubles = troubles;
}

static void with_blobs(struct record_run *run, const char *json) {
    static uint8_t picture[PICTURE];
    static struct record_blob blobs[2][2];
    uint64_t state = 5;
    for (int i = 0; i < PICTURE; i++) {
        picture[i] = (uint8_t)(256 * invented_uniform(&state));
    }
    struct record_blob *two = blobs[json[1] == '}'];
    two[0] = (struct record_blob){"colours", "application/json", (const uint8_t *)json, strlen(json), ""};
    two[1] = (struct record_blob){"field", "image/png", picture, PICTURE, ""};
    run->blob_count = 2;
    run->blobs = two;
}

static void strange_steps(struct record_run *run) {
    struct step_result *steps = (struct step_result *)run->steps; /* the shelf's own, not const there */
    steps[0].fields = 0;
    steps[0].verdict = VERDICT_INCONCLUSIVE;
    steps[0].seen = 0;
    steps[0].margin = 0;
    steps[3].unclear = 0xFF;
    steps[4].expected ^= 0xFFFFFFFFFF;
    steps[5].sure = 0;
    steps[6].wrong_line = 191;
    steps[6].failed = 1;
    steps[6].verdict = VERDICT_FAIL;
    steps[7].lit_colour = (struct cell_colour){0};
    steps[8].offset = -1.987;
    steps[9].seen = ~0ull;
}

struct invented *varied_new(void) {
    struct invented *invented = invented_new(SEED, CONSOLES, STEPS, REPEATS);
    struct record_run **run = invented->runs.runs;
    lost(run[1]);
    with_findings(run[2]);
    with_blobs(run[3],
               "{\"COLUPF\": [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.1, 0.2]}");
    with_blobs(run[4], "{}");
    strange_steps(run[5]);
    run[6]->seen_by_eye = true;
    run[6]->console.modifications = "socket for the TIA";
    run[7]->coverage = (struct coverage){1048576, 2097152, 3, 4};
    run[7]->seed = UINT64_MAX;
    run[8]->cartridge = (struct record_cartridge){"file", "", ""};
    run[8]->command = "judge";
    run[8]->station = "Kiel \xE2\x80\x93 2";
    run[9]->settings = "{\n \"hold\": 8\n}";
    run[9]->image_hash = 0xFFFF;
    run[10]->raster.slant = -0.0125;
    run[10]->minutes_on = 0;
    run[10]->attempt = 2;
    run[11]->tool = "0.2.0";
    return invented;
}
