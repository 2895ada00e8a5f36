#include "commands/by_eye_check.h"

#include "base/output.h"
#include "base/stop.h"
#include "commands/commands.h"
#include "commands/outcome.h"
#include "verdict/advice.h"
#include "verdict/check.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

enum { TRIES = 3, LINE_MAX_BYTES = 128 };

static const char seen_by_eye[] = "seen by eye"; /* in place of a bench's name */

/* What a person copied. */
struct copied {
    bool item_given, rounds_given;
    struct check_item first; /* of an item that is wrong; all 0: none was */
    uint32_t rounds;
};

static void introduce(FILE *stream, const struct setup *setup, const struct bench_board *board) {
    const struct cart_check *check = &setup->plan->check;
    fprintf(stream, "Seen by eye: plan cartridge, %s, %s%s.\n", standard_table[setup->plan->standard].name,
            scheme_name(check->scheme), check->ram ? " with RAM" : "");
    if (board == NULL) {
        fprintf(
            stream,
            "Put the image (image.bin with --out, or `slotjig rom --plan cartridge --scheme %s%s -o FILE`) "
            "on the cartridge;\ninsert it with the power off, then switch on. ",
            scheme_name(check->scheme), check->ram ? " --ram" : "");
    }
    fprintf(
        stream,
        "The digits change; if flashing disturbs you or anyone in the room, do not watch it.\n"
        "Below the white blocks stand four rows of five digits, twice side by side: the first wrong item "
        "(00000: none), the\nnumber of wrong items (F0000: none), the rounds (E0002: two), and the item "
        "that is being checked; below them a tick,\nor a cross once anything was wrong. B and D are drawn "
        "small: b, d.\n");
}

/* False: the end of input, q, or too many that were none. */
static bool ask_digits(FILE *stream, const struct cart_check *check, const char *question,
                       struct check_item *item) {
    char line[LINE_MAX_BYTES];
    for (int tries = 0; tries < TRIES && !stop_asked(); tries++) {
        fprintf(stream, "%s ", question);
        fflush(stream);
        if (fgets(line, sizeof line, stdin) == NULL) {
            break;
        }
        line[strcspn(line, "\r\n")] = '\0';
        if (strcasecmp(line, "none") == 0) {
            *item = (struct check_item){CHECK_START, 0, 0};
            return true;
        }
        if (strcasecmp(line, "q") == 0 || line[0] == '\0') {
            break;
        }
        if (!check_from_digits(line, item)) {
            fprintf(stream, "five digits 0 to 9 and A to F, please\n");
        } else if (!check_item_possible(check, *item)) {
            fprintf(stream, "an image of %s%s never shows %05X; look once more, please\n",
                    scheme_name(check->scheme), check->ram ? " with RAM" : "", check_pack(*item));
        } else {
            return true;
        }
    }
    return false;
}

static void question(FILE *stream, const struct cart_check *check, struct copied *copied) {
    struct check_item rounds = {CHECK_START, 0, 0};
    copied->item_given =
        ask_digits(stream, check, "top row: the first wrong item? [five digits, none, q]", &copied->first);
    if (copied->item_given && check_pack(copied->first) == 0) {
        copied->rounds_given =
            ask_digits(stream, check, "third row: the rounds? [five digits as in E0002, q]", &rounds) &&
            rounds.kind == CHECK_ROUND;
        copied->rounds = (uint32_t)rounds.place << 8 | rounds.what;
    }
}

static enum finding_kind kind_of(struct check_item item) {
    switch (item.kind) {
    case CHECK_HOTSPOT:
        return FINDING_CART_HOTSPOT_WRONG;
    case CHECK_NEIGHBOUR:
        return FINDING_CART_SWITCHES_TOO;
    case CHECK_VECTORS:
        return FINDING_CART_VECTOR_WRONG;
    case CHECK_RAM:
        return FINDING_CART_RAM_FAULTY;
    case CHECK_QUIET:
        return FINDING_CART_BUS_HELD;
    default:
        return FINDING_CART_PAGE_WRONG;
    }
}

static void find(const struct cart_check *check, const struct copied *copied, struct result *result) {
    char words[200];
    result->verdict = VERDICT_INCONCLUSIVE;
    if (copied->item_given && check_item_bad(copied->first)) {
        struct finding *finding = &result->findings[result->finding_count++];
        *finding = (struct finding){
            .kind = kind_of(copied->first), .reg = -1, .bit = -1, .rate = 1, .rate_low = 1, .rate_high = 1};
        check_words(check, copied->first, words, sizeof words);
        snprintf(finding->text, sizeof finding->text, "The screen's first wrong item is %05X: %s.",
                 check_pack(copied->first), words);
        snprintf(finding->next, sizeof finding->next, "%s", advice_next(finding->kind));
        result->verdict = VERDICT_FAIL;
    } else if (copied->item_given && copied->rounds_given && copied->rounds >= CHECK_ROUNDS_LEAST) {
        result->verdict = VERDICT_PASS;
    }
}

/* Why it says nothing, or "". */
static const char *open_text(const struct copied *copied) {
    return !copied->item_given                                       ? "no item was given"
           : check_pack(copied->first) == 0 && !copied->rounds_given ? "the rounds were not given"
           : check_pack(copied->first) == 0 && copied->rounds < CHECK_ROUNDS_LEAST ? "fewer than two rounds"
           : copied->first.kind == CHECK_START && copied->first.place == CHECK_LATE
               ? "the check's work took longer than its field: its program does not run as it is written"
           : check_pack(copied->first) != 0 && !check_item_bad(copied->first)
               ? "those digits say nothing wrong; were they copied from the top row?"
               : "";
}

static bool write_files(const struct report *report, const struct options *options,
                        const struct recorder *recorder, struct problem *problem) {
    char path[4096];
    const bool json = options->json == NULL || json_write(json_result(report), options->json, problem);
    return json &&
           (options->out == NULL || (outcome_path(options->out, "result.json", path, sizeof path, problem) &&
                                     json_write(json_result(report), path, problem) &&
                                     recorder_page(recorder, options->out, problem)));
}

static void tell(FILE *stream, const struct result *result, const char *open) {
    fprintf(stream, "%s, as seen by eye%s%s\n", verdict_name(result->verdict), open[0] != '\0' ? ": " : "",
            open);
    for (size_t i = 0; i < result->finding_count; i++) {
        fprintf(stream, "\n  %s: %s\n    next: %s\n", finding_name(result->findings[i].kind),
                result->findings[i].text, result->findings[i].next);
    }
    fflush(stream);
}

static int conclude(const struct setup *setup, const struct options *options, const struct bench_board *board,
                    struct recorder *recorder, const struct copied *copied) {
    struct problem problem = {0}, unkept = {0};
    struct result result = {0};
    const char *open = open_text(copied);
    find(&setup->plan->check, copied, &result);
    tell(options_people(options), &result, open);
    struct report report = {.command = "run",
                            .plan = setup->plan,
                            .bench = seen_by_eye,
                            .result = &result,
                            .hash = setup->image->hash,
                            .hold = setup->hold,
                            .exit = verdict_exit(result.verdict),
                            .problem = open[0] != '\0' ? open : NULL,
                            .more = json_pack("{s:b}", "seen_by_eye", 1)};
    const struct recorder_end end = {.report = &report,
                                     .bench = board != NULL ? &setup->bench : NULL,
                                     .board = board,
                                     .cartridge = "none",
                                     .seen_by_eye = true,
                                     .stopped = !copied->item_given};
    const bool kept = recorder_keep_report(recorder, &report, &end, &unkept);
    const bool good = write_files(&report, options, recorder, &problem);
    recorder_tell(recorder);
    json_decref(report.more);
    return !kept ? command_refuse(&unkept) : good ? report.exit : command_refuse(&problem);
}

/* It goes out first: the person needs it before the first question. */
static bool write_image(const struct setup *setup, const struct options *options, struct problem *problem) {
    char path[4096];
    return options->out == NULL || (outcome_path(options->out, "image.bin", path, sizeof path, problem) &&
                                    output_write(path, setup->image->bytes, setup->image->size, problem));
}

int by_eye_check(const struct setup *setup, const struct options *options, struct bench_board *board,
                 struct recorder *recorder) {
    struct copied copied = {0};
    struct problem problem = {0};
    FILE *stream = options_people(options);
    if (!write_image(setup, options, &problem)) {
        return command_refuse(&problem);
    }
    stop_catch(); /* what was copied is told and kept */
    introduce(stream, setup, board);
    question(stream, &setup->plan->check, &copied);
    fprintf(stream, "\n");
    const int status = conclude(setup, options, board, recorder, &copied);
    stop_release();
    return status;
}
