#include "commands/outcome.h"

#include "base/output.h"
#include "report/moments_report.h"
#include "report/palette_report.h"
#include "report/pictures.h"

#include <dirent.h>
#include <fnmatch.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

bool outcome_path(const char *folder, const char *name, char *path, size_t size, struct problem *problem) {
    if (snprintf(path, size, "%s/%s", folder, name) >= (int)size) {
        return problem_set(problem, PROBLEM_INPUT, "%s: the path is too long", folder);
    }
    return true;
}

static bool is_ours(const char *name) {
    static const char *const patterns[] = {
        "failing.mkv", "field.png",    "steps.png",   "result.json", "step-[0-9][0-9][0-9][0-9].png",
        "moments.csv", "moments.txt",  "moments.svg", "colours.csv", "colours.txt",
        "colours.svg", "difference.*", "report.html"};
    for (size_t i = 0; i < sizeof patterns / sizeof patterns[0]; i++) {
        if (fnmatch(patterns[i], name, 0) == 0) {
            return true;
        }
    }
    return false;
}

void outcome_clear(const char *folder) {
    DIR *entries = opendir(folder);
    if (entries == NULL) {
        return;
    }
    for (struct dirent *entry = readdir(entries); entry != NULL; entry = readdir(entries)) {
        char path[4096];
        struct problem ignored;
        if (is_ours(entry->d_name) && outcome_path(folder, entry->d_name, path, sizeof path, &ignored) &&
            !output_is_database(path)) {
            unlinkat(dirfd(entries), entry->d_name, 0);
        }
    }
    closedir(entries);
}

struct terminal_style outcome_style(FILE *stream) {
    const char *no_color = getenv("NO_COLOR");
    return (struct terminal_style){.colour =
                                       isatty(fileno(stream)) && (no_color == NULL || *no_color == '\0')};
}

void outcome_tell(const struct report *report, const struct options *options) {
    if (options->quiet) {
        return;
    }
    FILE *stream = options_people(options);
    terminal_result(stream, report, outcome_style(stream));
    fflush(stream);
}

static bool step_pictures(const struct report *report, const char *folder, struct problem *problem) {
    for (size_t i = 0; i < report->result->step_count; i++) {
        char name[32], path[4096];
        if (report->result->steps[i].verdict != VERDICT_FAIL) {
            continue;
        }
        snprintf(name, sizeof name, "step-%04zu.png", i);
        if (!outcome_path(folder, name, path, sizeof path, problem) ||
            !picture_step(path, report, i, problem)) {
            return false;
        }
    }
    return true;
}

static bool pictures(const struct report *report, const char *folder, const struct keeper *keeper,
                     struct problem *problem) {
    char path[4096];
    const bool shown = keeper != NULL && keeper->shown.samples != NULL;
    if (!plan_counts(report->plan) && /* which has no steps */
        (!outcome_path(folder, "steps.png", path, sizeof path, problem) ||
         !picture_steps(path, report, shown ? &keeper->shown_reading : NULL, problem))) {
        return false;
    }
    if (!outcome_path(folder, "field.png", path, sizeof path, problem)) {
        return false;
    }
    if (shown && !picture_field(path, &keeper->shown_field, &keeper->shown_reading, problem)) {
        return false;
    }
    return report->result->palette != NULL || step_pictures(report, folder, problem);
}

/* "left (NTSC, rev. 4), ntsc": several consoles may come to one bench. */
static void whose(const struct report *report, char *text, size_t size) {
    const char *console = json_string_value(json_object_get(report->more, "console"));
    char bench[128], name[128];
    json_clean(report->bench, bench, sizeof bench);
    json_clean(console == NULL ? "" : console, name, sizeof name);
    snprintf(text, size, "%s%s%s%s, %s", bench, name[0] != '\0' ? " (" : "", name, name[0] != '\0' ? ")" : "",
             standard_table[report->plan->standard].name);
}

static bool measurements(const struct report *report, const char *folder, struct problem *problem) {
    const struct result *result = report->result;
    char of[320];
    whose(report, of, sizeof of);
    return (result->moments == NULL || moments_write(result->moments, of, folder, problem)) &&
           (result->palette == NULL || palette_write(result->palette, of, folder, problem));
}

bool outcome_write(const struct report *report, const struct options *options, const struct keeper *keeper,
                   struct problem *problem) {
    if (options->json != NULL && !json_write(json_result(report), options->json, problem)) {
        return false;
    }
    return options->out == NULL ||
           (pictures(report, options->out, keeper, problem) && measurements(report, options->out, problem));
}
