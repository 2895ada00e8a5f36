#include "commands/by_eye.h"

#include "base/output.h"
#include "base/stop.h"
#include "commands/board_report.h"
#include "commands/by_eye_check.h"
#include "commands/commands.h"
#include "commands/outcome.h"
#include "commands/slot_report.h"
#include "report/terminal.h"
#include "slate/slate.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum answer { ANSWER_OPEN, ANSWER_YES, ANSWER_NO, ANSWER_NOTE, ANSWER_END };
enum { NOTE_MAX = 200 };

struct seen {
    enum answer answer;
    char note[NOTE_MAX];
};

static const char seen_by_eye[] = "seen by eye"; /* in place of a bench's name */

static bool can_hold(const struct bench_board *board) {
    return board != NULL && board->link != NULL &&
           (link_facts(board->link)->capabilities & WIRE_CAN_SELECT) != 0;
}

/* The plan as it was asked for, for a command line. */
static void plan_words(const struct options *options, char *text, size_t size) {
    if (options->plan == NULL) {
        text[0] = '\0';
    } else {
        snprintf(text, size, " --plan %s%s%s", options->plan, options->drawing != NULL ? ":" : "",
                 options->drawing != NULL ? options->drawing : "");
    }
}

static void introduce(FILE *stream, const struct setup *setup, const struct options *options,
                      const struct bench_board *board) {
    const bool one = setup->plan->step_count == 1;
    char plan[512];
    plan_words(options, plan, sizeof plan);
    fprintf(stream, "Seen by eye: plan %s, %s, %zu step%s", setup->plan->name,
            standard_table[setup->plan->standard].name, setup->plan->step_count, one ? "" : "s");
    if (can_hold(board)) {
        fprintf(stream, "; the board holds each until you answer.\n");
    } else if (one) {
        fprintf(stream, ", which stands.\n");
    } else {
        fprintf(stream, " of about %d s each, round and round.\n", HOLD_BY_EYE_SECONDS);
    }
    if (board == NULL) {
        fprintf(
            stream,
            "Put the image (image.bin with --out, or `slotjig rom%s --hold %d -o FILE`) into the console's "
            "cartridge; insert it with\nthe power off. ",
            plan, setup->hold);
    }
    fprintf(
        stream,
        "The picture changes; if flashing disturbs you or anyone in the room, do not watch it.\n"
        "The white blocks at the top are the slate: its third to fifth rows hold the step's number.\n"
        "For each step answer y (the screen shows it), n (it does not), a note in your own words, or q to "
        "stop.\n");
}

static void slate_text(uint8_t row, char text[SLATE_ROW_BITS + 1]) {
    for (int i = 0; i < SLATE_ROW_BITS; i++) {
        text[i] = (row >> (SLATE_ROW_BITS - 1 - i)) & 1 ? '#' : '.';
    }
    text[SLATE_ROW_BITS] = '\0';
}

/* The picture's rows from the top down, equal ones once. */
static void picture_rows(FILE *stream, const struct expectation *expectation) {
    enum { ROWS_MOST = 48 };
    char cells[CELLS + 2];
    int shown = 0, left = 0;
    for (int line = 0; line < expectation->lines; line++) {
        const bool first = line == 0;
        if (!first && expectation->lit[line] == expectation->lit[line - 1] &&
            expectation->sure[line] == expectation->sure[line - 1]) {
            continue;
        }
        if (shown++ >= ROWS_MOST) {
            left++;
            continue;
        }
        terminal_cells(expectation->lit[line], ~expectation->sure[line] & CELLS_ALL, cells);
        fprintf(stream, "  %s", cells);
        if (!first) {
            fprintf(stream, "  from line %d", line);
        }
        fputc('\n', stream);
    }
    if (left > 0) {
        fprintf(stream, "  and %d rows more: `slotjig expect --png FILE` draws them\n", left);
    }
}

static void ask(FILE *stream, const struct setup *setup, size_t index) {
    struct expectation expectation;
    struct slate slate = {.hash = setup->image->hash, .value = (uint32_t)index};
    uint8_t rows[SLATE_ROWS];
    char third[SLATE_ROW_BITS + 1], fourth[SLATE_ROW_BITS + 1], fifth[SLATE_ROW_BITS + 1];
    expect_step(&setup->plan->steps[index], standard_plan_lines(setup->plan->standard), &expectation);
    slate_encode(&slate, rows);
    slate_text(rows[2], third);
    slate_text(rows[3], fourth);
    slate_text(rows[4], fifth);
    fprintf(stream, "\nstep %zu: %s (slate rows 3 to 5: %s %s %.4s)\n", index, setup->plan->steps[index].name,
            third, fourth, fifth);
    picture_rows(stream, &expectation);
    fprintf(stream, "seen? [y, n, note, q] ");
    fflush(stream);
}

/* The rest of a line that was too long; false when it has no end that is worth waiting for. */
static bool skip_line(void) {
    enum { LONGEST = 1 << 20 };
    for (int i = 0; i < LONGEST; i++) {
        int c = getchar();
        if (c == '\n' || c == EOF) {
            return true;
        }
    }
    return false;
}

/* One line, or the end of input; a longer line is cut, not spread over the next steps. */
static enum answer read_answer(char note[NOTE_MAX]) {
    char line[1024];
    if (fgets(line, sizeof line, stdin) == NULL ||
        (strlen(line) == sizeof line - 1 && strchr(line, '\n') == NULL && !skip_line()) || line[0] == '\0') {
        return ANSWER_END;
    }
    line[strcspn(line, "\r\n")] = '\0';
    if (strcasecmp(line, "q") == 0) {
        return ANSWER_END;
    }
    if (strcasecmp(line, "y") == 0 || strcasecmp(line, "yes") == 0) {
        return ANSWER_YES;
    }
    if (strcasecmp(line, "n") == 0 || strcasecmp(line, "no") == 0) {
        return ANSWER_NO;
    }
    snprintf(note, NOTE_MAX, "%.*s", NOTE_MAX - 1, line);
    return line[0] == '\0' ? ANSWER_OPEN : ANSWER_NOTE;
}

static enum verdict verdict_of(enum answer answer) {
    return answer == ANSWER_YES ? VERDICT_PASS : answer == ANSWER_NO ? VERDICT_FAIL : VERDICT_INCONCLUSIVE;
}

static json_t *step_json(json_t *expected, const struct seen *seen) {
    static const char *const names[] = {"open", "yes", "no", "note", "open"};
    json_object_set_new(expected, "verdict", json_string(verdict_name(verdict_of(seen->answer))));
    json_object_set_new(expected, "answer", json_string(names[seen->answer]));
    if (seen->answer == ANSWER_NOTE) { /* not UTF-8: said so rather than lost */
        json_t *note = json_string(seen->note);
        json_object_set_new(expected, "note",
                            note != NULL ? note : json_string("(a note that is not UTF-8)"));
    }
    return expected;
}

/* What the questions came to. */
struct outcome {
    enum verdict verdict;
    int exit;
    const struct seen *seen;
    struct bench_board *board; /* may be NULL */
    struct slot_report slot;
    struct recorder *recorder;
    struct step_result *steps; /* for the record */
    struct problem early;      /* why it ended early; empty: it did not */
};

static const char *early_text(const struct outcome *outcome) {
    return outcome->early.kind != PROBLEM_NONE ? outcome->early.text : NULL;
}

static json_t *answers_json(const struct setup *setup, const struct outcome *outcome) {
    json_t *steps = json_steps_expected(setup->plan);
    for (size_t i = 0; i < setup->plan->step_count; i++) {
        step_json(json_array_get(steps, i), &outcome->seen[i]);
    }
    return json_pack("{s:s,s:s,s:s,s:s,s:b,s:s,s:i,s:f,s:{s:i,s:i,s:i},s:n,s:o,s:o,s:s,s:o,s:o,s:s?,s:o}",
                     "command", "run", "plan", setup->plan->name, "bench", seen_by_eye, "standard",
                     standard_table[setup->plan->standard].name, "seen_by_eye", 1, "verdict",
                     verdict_name(outcome->verdict), "exit", outcome->exit, "margin", 0.0, "fields", "seen",
                     0, "judged", 0, "unreadable", 0, "raster", "steps", steps, "findings",
                     json_findings(outcome->slot.findings, outcome->slot.count), "console",
                     setup->bench.console, "board",
                     outcome->board != NULL ? board_json(outcome->board) : json_null(), "slot",
                     slot_report_json(&outcome->slot), "problem", early_text(outcome), "record",
                     recorder_json(outcome->recorder));
}

static enum verdict overall(const struct seen *seen, size_t count) {
    enum verdict verdict = VERDICT_PASS;
    for (size_t i = 0; i < count; i++) {
        if (verdict_of(seen[i].answer) == VERDICT_FAIL) {
            return VERDICT_FAIL;
        }
        if (verdict_of(seen[i].answer) == VERDICT_INCONCLUSIVE) {
            verdict = VERDICT_INCONCLUSIVE;
        }
    }
    return verdict;
}

static bool write_files(const struct setup *setup, const struct options *options,
                        const struct outcome *outcome, struct problem *problem) {
    char path[4096];
    if (options->json != NULL && !json_write(answers_json(setup, outcome), options->json, problem)) {
        return false;
    }
    return options->out == NULL || (outcome_path(options->out, "result.json", path, sizeof path, problem) &&
                                    json_write(answers_json(setup, outcome), path, problem) &&
                                    recorder_page(outcome->recorder, options->out, problem));
}

/* A step as a person saw it: right or wrong, without cells. */
static void eye_step(const struct step *step, int lines, enum answer answer, struct step_result *result) {
    struct expectation expectation;
    expect_step(step, lines, &expectation);
    *result = (struct step_result){.verdict = verdict_of(answer),
                                   .expected = expectation.lit[0],
                                   .sure = expectation.sure[0],
                                   .unclear = CELLS_ALL,
                                   .wrong_line = -1};
}

/* Into the store, before anything is written. */
static bool keep_record(const struct setup *setup, struct outcome *outcome, bool stopped,
                        struct problem *problem) {
    const struct plan *plan = setup->plan;
    const bool known = outcome->board != NULL;
    struct result result = {
        .verdict = outcome->verdict, .step_count = plan->step_count, .steps = outcome->steps};
    for (size_t i = 0; i < plan->step_count; i++) {
        eye_step(&plan->steps[i], standard_plan_lines(plan->standard), outcome->seen[i].answer,
                 &outcome->steps[i]);
    }
    result.finding_count = outcome->slot.count;
    memcpy(result.findings, outcome->slot.findings, outcome->slot.count * sizeof *result.findings);
    const struct report report = {.command = "run",
                                  .plan = plan,
                                  .bench = seen_by_eye,
                                  .result = &result,
                                  .hash = setup->image->hash,
                                  .hold = setup->hold,
                                  .exit = outcome->exit,
                                  .problem = early_text(outcome)};
    const struct recorder_end end = {.report = &report,
                                     .bench = known ? &setup->bench : NULL,
                                     .board = outcome->board,
                                     .cartridge = "none",
                                     .seen_by_eye = true,
                                     .stopped = stopped};
    return recorder_keep(outcome->recorder, &end, problem);
}

/* The image goes out first: the person needs it before the first question. */
static bool write_image(const struct setup *setup, const struct options *options, struct problem *problem) {
    char path[4096];
    return options->out == NULL || (outcome_path(options->out, "image.bin", path, sizeof path, problem) &&
                                    output_write(path, setup->image->bytes, setup->image->size, problem));
}

/* All questions, or until the person stops or the board is lost. */
static bool question(FILE *stream, const struct setup *setup, const struct options *options,
                     struct bench_board *board, struct seen *seen, size_t *answered,
                     struct problem *problem) {
    bool good = true;
    introduce(stream, setup, options, board);
    for (size_t i = 0; i < setup->plan->step_count; i++) {
        good = !can_hold(board) || link_select(board->link, WIRE_HOLD_STEP, (int)i, problem);
        if (!good) {
            break;
        }
        ask(stream, setup, i);
        seen[i].answer = read_answer(seen[i].note);
        *answered += seen[i].answer != ANSWER_END;
        if (seen[i].answer == ANSWER_END || stop_asked()) {
            break;
        }
    }
    fprintf(stream, "\n");
    return good && (!can_hold(board) || link_select(board->link, WIRE_RUN_FREE, 0, problem));
}

static void tell(FILE *stream, const struct outcome *outcome) {
    fprintf(stream, "%s, as seen by eye\n", verdict_name(outcome->verdict));
    for (size_t i = 0; i < outcome->slot.count; i++) {
        const struct finding *finding = &outcome->slot.findings[i];
        fprintf(stream, "\n  %s: %s\n    next: %s\n", finding_name(finding->kind), finding->text,
                finding->next);
    }
}

/* Kept, told and written, in this order. lost: how the board was lost, if it was. */
static int conclude(FILE *stream, const struct setup *setup, const struct options *options,
                    struct outcome *outcome, const struct problem *lost, size_t answered) {
    const size_t count = setup->plan->step_count;
    const bool whole = lost->kind == PROBLEM_NONE, stopped = whole && answered < count;
    struct problem problem = {0}, unkept = {0};
    outcome->early = *lost;
    if (stopped) {
        problem_set(&outcome->early, PROBLEM_VIDEO,
                    "ended by a person; until then %zu of %zu steps were answered", answered, count);
    }
    tell(stream, outcome);
    fflush(stream);
    const bool kept = keep_record(setup, outcome, stopped, &unkept);
    if (!kept) {
        outcome->exit = EXIT_BENCH;
        outcome->early = early_text(outcome) != NULL ? outcome->early : unkept;
    }
    recorder_tell(outcome->recorder);
    int status = outcome->exit;
    const bool good = write_files(setup, options, outcome, &problem);
    if (!whole || !good) {
        status = command_refuse(whole ? &problem : lost);
    }
    return kept ? status : command_refuse(&unkept);
}

bool by_eye_possible(const struct plan *plan, struct problem *problem) {
    return plan->kind == PLAN_CARTRIDGE || setup_has_steps(plan, "run --by-eye", problem);
}

int by_eye_run(const struct setup *setup, const struct options *options, struct bench_board *board,
               struct recorder *recorder) {
    if (setup->plan->kind == PLAN_CARTRIDGE) {
        return by_eye_check(setup, options, board, recorder);
    }
    struct problem problem = {0}, lost = {0};
    size_t count = setup->plan->step_count, answered = 0;
    struct seen *seen = calloc(count, sizeof *seen);
    struct step_result *steps = calloc(count, sizeof *steps);
    FILE *stream = options_people(options);
    problem_set(&problem, PROBLEM_BENCH, "out of memory for %zu answers", count); /* unless it is the image */
    if (seen == NULL || steps == NULL || !write_image(setup, options, &problem)) {
        free(seen);
        free(steps);
        return command_refuse(&problem);
    }
    stop_catch(); /* the answers so far are told and kept, and the board lets go of the step */
    const bool kept = question(stream, setup, options, board, seen, &answered, &lost);
    struct outcome outcome = {
        .verdict = overall(seen, count), .seen = seen, .board = board, .recorder = recorder, .steps = steps};
    outcome.exit = kept ? verdict_exit(outcome.verdict) : EXIT_BENCH;
    if (kept && board != NULL && outcome.verdict != VERDICT_PASS) {
        const struct link_image image = setup_link_image(setup);
        slot_look(board, &image, SLOT_VIDEO_UNKNOWN, &outcome.slot);
    }
    const int status = conclude(stream, setup, options, &outcome, &lost, answered);
    stop_release();
    free(steps);
    free(seen);
    return status;
}
