#include "commands/by_eye.h"

#include "base/output.h"
#include "commands/commands.h"
#include "commands/outcome.h"
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

static void introduce(const struct setup *setup) {
    printf("Seen by eye: plan %s, %s, %zu steps of about %d s each, round and round.\n"
           "Put the image (image.bin with --out, or `slotjig rom --hold %d -o FILE`) into the console's "
           "cartridge; insert it with\n"
           "the power off. The picture changes; if flashing disturbs you or anyone in the room, do not watch "
           "it.\n"
           "The white blocks at the top are the slate: its third to fifth rows hold the step's number.\n"
           "For each step answer y (the screen shows it), n (it does not), a note in your own words, or q to "
           "stop.\n",
           setup->plan->name, standard_table[setup->plan->standard].name, setup->plan->step_count,
           HOLD_BY_EYE_SECONDS, setup->hold);
}

static void slate_text(uint8_t row, char text[SLATE_ROW_BITS + 1]) {
    for (int i = 0; i < SLATE_ROW_BITS; i++) {
        text[i] = (row >> (SLATE_ROW_BITS - 1 - i)) & 1 ? '#' : '.';
    }
    text[SLATE_ROW_BITS] = '\0';
}

static void ask(const struct setup *setup, size_t index) {
    struct expectation expectation;
    struct slate slate = {.hash = setup->image->hash, .value = (uint32_t)index};
    uint8_t rows[SLATE_ROWS];
    char cells[CELLS + 2], third[SLATE_ROW_BITS + 1], fourth[SLATE_ROW_BITS + 1], fifth[SLATE_ROW_BITS + 1];
    expect_step(&setup->plan->steps[index], standard_plan_lines(setup->plan->standard), &expectation);
    terminal_cells(expectation.lit[0], ~expectation.sure[0] & CELLS_ALL, cells);
    slate_encode(&slate, rows);
    slate_text(rows[2], third);
    slate_text(rows[3], fourth);
    slate_text(rows[4], fifth);
    printf("\nstep %zu: %s (slate rows 3 to 5: %s %s %.4s)\n  %s\nseen? [y, n, note, q] ", index,
           setup->plan->steps[index].name, third, fourth, fifth, cells);
    fflush(stdout);
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

static json_t *answers_json(const struct setup *setup, const struct seen *seen, enum verdict verdict) {
    json_t *steps = json_steps_expected(setup->plan);
    for (size_t i = 0; i < setup->plan->step_count; i++) {
        step_json(json_array_get(steps, i), &seen[i]);
    }
    return json_pack("{s:s,s:s,s:s,s:s,s:b,s:s,s:i,s:f,s:{s:i,s:i,s:i},s:n,s:o,s:[]}", "command", "run",
                     "plan", setup->plan->name, "bench", "seen by eye", "standard",
                     standard_table[setup->plan->standard].name, "seen_by_eye", 1, "verdict",
                     verdict_name(verdict), "exit", verdict_exit(verdict), "margin", 0.0, "fields", "seen", 0,
                     "judged", 0, "unreadable", 0, "raster", "steps", steps, "findings");
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

static bool write_files(const struct setup *setup, const struct options *options, const struct seen *seen,
                        enum verdict verdict, struct problem *problem) {
    char path[4096];
    if (options->json != NULL && !json_write(answers_json(setup, seen, verdict), options->json, problem)) {
        return false;
    }
    return options->out == NULL || (outcome_path(options->out, "result.json", path, sizeof path, problem) &&
                                    json_write(answers_json(setup, seen, verdict), path, problem));
}

/* The image goes out first: the person needs it before the first question. */
static bool write_image(const struct setup *setup, const struct options *options, struct problem *problem) {
    char path[4096];
    return options->out == NULL || (outcome_path(options->out, "image.bin", path, sizeof path, problem) &&
                                    output_write(path, setup->image->bytes, setup->image->size, problem));
}

int by_eye_run(const struct setup *setup, const struct options *options) {
    struct problem problem = {0};
    size_t count = setup->plan->step_count;
    struct seen *seen = calloc(count, sizeof *seen);
    if (seen == NULL || !write_image(setup, options, &problem)) {
        free(seen);
        return command_refuse(&problem);
    }
    introduce(setup);
    for (size_t i = 0; i < count; i++) {
        ask(setup, i);
        seen[i].answer = read_answer(seen[i].note);
        if (seen[i].answer == ANSWER_END) {
            break;
        }
    }
    enum verdict verdict = overall(seen, count);
    printf("\n%s, as seen by eye\n", verdict_name(verdict));
    bool good = write_files(setup, options, seen, verdict, &problem);
    free(seen);
    return good ? verdict_exit(verdict) : command_refuse(&problem);
}
