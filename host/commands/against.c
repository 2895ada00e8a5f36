#include "commands/against.h"

#include "commands/commands.h"
#include "commands/difference.h"

#include <stdlib.h>
#include <string.h>

struct against {
    const char *path;
    struct measured earlier, now;
    bool made; /* the difference stands */
    struct difference difference;
};

static bool is_of_plan(const struct measured *earlier, const struct plan *plan, const char *path,
                       struct problem *problem) {
    if (earlier->kind != plan->kind) {
        return problem_set(problem, PROBLEM_INPUT, "--against %s: it is of another plan than %s", path,
                           plan->name);
    }
    return earlier->standard == plan->standard ||
           problem_set(problem, PROBLEM_INPUT, "--against %s: it is of a %s console, and this is %s", path,
                       standard_table[earlier->standard].name, standard_table[plan->standard].name);
}

bool against_open(const struct options *options, const struct plan *plan, struct against **against,
                  struct problem *problem) {
    *against = NULL;
    if (options->against == NULL) {
        return true;
    }
    if (plan->kind != PLAN_COLOURS && plan->kind != PLAN_MOMENTS) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--against: plan %s measures nothing; plans moments and colours do", plan->name);
    }
    struct against *opened = calloc(1, sizeof *opened);
    if (opened == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "--against: out of memory");
    }
    opened->path = options->against;
    if (!measured_read(options->against, &opened->earlier, problem) ||
        !is_of_plan(&opened->earlier, plan, options->against, problem)) {
        against_free(opened);
        return false;
    }
    opened->now = (struct measured){.kind = plan->kind, .standard = plan->standard};
    *against = opened;
    return true;
}

void against_free(struct against *against) {
    if (against != NULL) {
        measured_free(&against->earlier);
        free(against);
    }
}

int against_conclude(struct against *against, const struct result *result, const char *bench, int status,
                     json_t *more) {
    if (against == NULL) {
        return status;
    }
    struct problem ignored; /* plan and standard are alike */
    char path[1024];
    json_clean(against->path, path, sizeof path);
    against->now.palette = result->palette;
    against->now.moments = result->moments;
    against->made = (result->palette != NULL || result->moments != NULL) &&
                    difference_make(&against->earlier, against->path, &against->now, bench,
                                    &against->difference, &ignored);
    json_object_set_new(more, "against",
                        json_pack("{s:s,s:o}", "file", path, "difference",
                                  against->made ? difference_json(&against->difference) : json_null()));
    return status == EXIT_PASS && against->made && against->difference.differing > 0 ? EXIT_FAIL : status;
}

static void print(const struct against *against, const struct options *options) {
    FILE *stream = options_people(options);
    fprintf(stream, "\n");
    if (against->made) {
        difference_text(stream, &against->difference);
    } else {
        fprintf(stream, "nothing was measured that could be held against %s\n", against->path);
    }
}

bool against_tell(const struct against *against, const struct options *options, struct problem *problem) {
    if (against == NULL) {
        return true;
    }
    if (!options->quiet) {
        print(against, options);
    }
    return options->out == NULL || !against->made ||
           difference_write(&against->difference, options->out, problem);
}
