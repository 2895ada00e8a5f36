#include "report/rows.h"

#include "base/date.h"
#include "base/utf8.h"
#include "report/label.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What a spreadsheet takes for the beginning of a formula; the wide forms are U+FF1D, FF0B, FF0D and FF20. */
static bool begins_formula(const char *text) {
    static const char *const signs[] = {
        "=", "+", "-", "@", "\xEF\xBC\x9D", "\xEF\xBC\x8B", "\xEF\xBC\x8D", "\xEF\xBC\xA0"};
    for (size_t i = 0; i < sizeof signs / sizeof signs[0]; i++) {
        if (strncmp(text, signs[i], strlen(signs[i])) == 0) {
            return true;
        }
    }
    return text[0] == '\t' || text[0] == '\r';
}

/* A cell and the comma before it, quoted where it must be [S RFC 4180, 2.5 to 2.7]. A break within a cell is
 * gone by now, for it is a control character. */
static void cell(FILE *stream, const char *text) {
    char *clean = utf8_copy(text);
    const char *const defused = text != NULL && begins_formula(text) ? "'" : "";
    const char *at = clean == NULL ? "" : clean;
    fputc(',', stream);
    if (strpbrk(at, ",\"") == NULL) {
        fprintf(stream, "%s%s", defused, at);
    } else {
        fprintf(stream, "\"%s", defused);
        for (; *at != '\0'; at++) {
            fputs(*at == '"' ? "\"\"" : (const char[]){*at, '\0'}, stream);
        }
        fputc('"', stream);
    }
    free(clean);
}

/* Empty where it is not known. */
static void number(FILE *stream, double value, bool known) {
    if (known && isfinite(value)) {
        fprintf(stream, ",%.6g", value);
    } else {
        fputc(',', stream);
    }
}

static void count(FILE *stream, uint64_t value, bool known) {
    fputc(',', stream);
    if (known) {
        fprintf(stream, "%" PRIu64, value);
    }
}

/* '#' and '.': a spreadsheet would read 40 digits as one number. */
static void cells(FILE *stream, uint64_t lit, uint64_t vague) {
    fputc(',', stream);
    for (int i = 0; i < CELLS; i++) {
        fputc((vague >> i) & 1 ? '?' : (lit >> i) & 1 ? '#' : '.', stream);
    }
}

static const char run_columns[] =
    "run,started,console,revision,markings,modifications,station,bench,cartridge,firmware,tool,plan,standard,"
    "image_hash,seed,sweep,item,repeat,attempt,end,exit,run_margin,minutes_on,took_s,fields_judged,pictures_"
    "seen,"
    "pictures_of,pictures_wrong,findings,problem";
static const char step_columns[] =
    ",step,name,verdict,fields,failed_fields,margin,offset_clocks,lit_level,dark_level,expected,seen,"
    "wrong_line";

static int commas(const char *text) {
    int count = 0;
    for (; *text != '\0'; text++) {
        count += *text == ',';
    }
    return count;
}

void rows_csv_head(FILE *stream) {
    fprintf(stream, "%s%s\r\n", run_columns, step_columns);
}

static void print_whose(FILE *stream, const struct record_run *run) {
    const char *const texts[] = {run->console.name,
                                 run->console.revision,
                                 run->console.markings,
                                 run->console.modifications,
                                 run->station,
                                 run->bench,
                                 run->cartridge.serial,
                                 run->cartridge.firmware,
                                 run->tool,
                                 run->plan->name,
                                 standard_table[run->plan->standard].name};
    char started[DATE_TEXT_MAX];
    fprintf(stream, "%" PRId64 ",%s", run->id, date_text(run->started_ms, DATE_WHOLE, started));
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        cell(stream, texts[i]);
    }
}

static void print_end(FILE *stream, const struct record_run *run) {
    const struct coverage *coverage = &run->coverage;
    const bool counted = coverage->of > 0;
    char findings[FINDINGS_MAX * LABEL_MAX];
    fprintf(stream, ",0x%04x", run->image_hash);
    count(stream, run->seed, run->has_seed);
    count(stream, (uint64_t)run->sweep, run->sweep > 0);
    count(stream, (uint64_t)run->item, run->item > 0);
    count(stream, (uint64_t)run->repeat, run->repeat > 0);
    fprintf(stream, ",%d,%s,%d", run->attempt, record_end_name(run->end), run->exit);
    number(stream, run->margin, !run->seen_by_eye);
    number(stream, run->minutes_on, run->minutes_on >= 0);
    fprintf(stream, ",%.3f,%" PRIu64, (double)run->took_ms / 1000, run->fields_judged);
    count(stream, coverage->seen, counted);
    count(stream, coverage->of, counted);
    count(stream, coverage->wrong, counted);
    cell(stream, label_findings(run->findings, run->finding_count, findings, sizeof findings));
    cell(stream, run->problem);
}

static void print_step(FILE *stream, const struct record_run *run, size_t index) {
    const struct step_result *step = &run->steps[index];
    const bool measured = step->fields > 0 && !run->seen_by_eye;
    fprintf(stream, ",%zu", index);
    cell(stream,
         run->plan->steps != NULL && index < run->plan->step_count ? run->plan->steps[index].name : "");
    fprintf(stream, ",%s,%d,%d", verdict_name(step->verdict), step->fields, step->failed);
    number(stream, step->margin, measured);
    number(stream, step->offset, measured);
    number(stream, step->lit_colour.level, step->lit_colour.count > 0);
    number(stream, step->dark_colour.level, step->dark_colour.count > 0);
    cells(stream, step->expected, ~step->sure);
    cells(stream, step->seen, measured ? step->unclear : ~(uint64_t)0);
    number(stream, step->wrong_line, step->wrong_line >= 0);
}

bool rows_csv_run(FILE *stream, const struct record_run *run) {
    char *head = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&head, &size);
    if (memory == NULL) {
        return false;
    }
    print_whose(memory, run);
    print_end(memory, run);
    const bool good = fclose(memory) == 0;
    if (good) {
        for (size_t i = 0; i < run->step_count; i++) {
            fwrite(head, 1, size, stream);
            print_step(stream, run, i);
            fputs("\r\n", stream);
        }
        if (run->step_count == 0) {
            fprintf(stream, "%s%.*s\r\n", head, commas(step_columns), ",,,,,,,,,,,,,,,,,,,,,,,,");
        }
    }
    free(head);
    return good && !ferror(stream);
}
