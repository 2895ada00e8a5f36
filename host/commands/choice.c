#include "commands/choice.h"

#include "base/date.h"
#include "base/utf8.h"
#include "commands/near.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static bool date_of(const char *option, const char *text, int64_t *ms, struct problem *problem) {
    *ms = 0;
    return text == NULL || date_parse(text, ms) ||
           problem_set(problem, PROBLEM_INPUT,
                       "--%s %.60s: no such day; give a date, such as 2026-11-26, or 2026-11-26T14:05 (UTC)",
                       option, text);
}

bool choice_of(const struct options *options, struct records_choice *choice, struct problem *problem) {
    *choice = (struct records_choice){.console = options->console,
                                      .revision = options->revision,
                                      .bench = options->of_bench,
                                      .station = options->station,
                                      .plan = options->of_plan,
                                      .last = options->last};
    if (!date_of("since", options->since, &choice->since_ms, problem) ||
        !date_of("until", options->until, &choice->until_ms, problem)) {
        return false;
    }
    return options->until == NULL || choice->until_ms > choice->since_ms ||
           problem_set(problem, PROBLEM_INPUT,
                       "--until %s is not later than --since %s: nothing lies between", options->until,
                       options->since == NULL ? "1970-01-01" : options->since);
}

static bool open_there(const struct options *options, enum records_use use, struct records **records,
                       struct problem *problem) {
    char path[RECORDS_PATH_MAX];
    const char *file = options->store;
    *records = NULL;
    if (file == NULL) {
        if (!records_path(path, problem)) {
            return false;
        }
        file = path;
    }
    if (access(file, F_OK) != 0 && errno != ENOENT) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%.300s: cannot be looked at: %s; look at the path and its "
                           "permissions, or name another file by --store",
                           file, strerror(errno));
    }
    if (access(file, F_OK) != 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%.300s: nothing is recorded there yet; `slotjig run` and `slotjig sweep` do "
                           "it, --store names another file",
                           file);
    }
    return records_open(file, use, records, problem);
}

bool choice_open(const struct options *options, struct records **records, struct problem *problem) {
    return open_there(options, RECORDS_READ, records, problem);
}

bool choice_open_to_write(const struct options *options, struct records **records, struct problem *problem) {
    return open_there(options, RECORDS_WRITE, records, problem);
}

static bool refuse_console(const struct record_consoles *list, const char *console, struct problem *problem) {
    const char **names = calloc(list->count + 1, sizeof *names);
    char near[300], clean[300];
    if (names == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "the consoles on record: out of memory");
    }
    for (size_t i = 0; i < list->count; i++) {
        names[i] = list->consoles[i].console.name;
    }
    near_names(console, names, list->count, near, sizeof near);
    utf8_clean(near, clean, sizeof clean, false);
    free(names);
    return problem_set(problem, PROBLEM_INPUT, "--console %.80s: no run of a console of that name; %s",
                       console, list->count > 0 ? clean : "no run is on record at all");
}

/* All consoles are walked through only where the name is not one of them. */
bool choice_console_known(struct records *records, const char *console, struct problem *problem) {
    const struct records_choice choice = {.console = console, .last = 1, .with_trouble = true};
    struct record_list one = {0};
    struct record_consoles list = {0};
    if (console == NULL) {
        return true;
    }
    if (!records_select(records, &choice, 0, &one, problem)) {
        return false;
    }
    const bool known = one.count > 0;
    record_list_free(&one);
    if (!known && records_consoles(records, &list, problem)) {
        refuse_console(&list, console, problem);
        record_consoles_free(&list);
    }
    return known;
}
