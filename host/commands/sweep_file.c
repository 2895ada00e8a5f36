#include "commands/sweep_file.h"

#include "base/utf8.h"
#include "commands/bench_keys.h"
#include "plan/plan.h"
#include "plan/settings_file.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static const char console_prefix[] = "console ", sweep_section[] = "sweep";

enum section { SECTION_NONE, SECTION_SWEEP, SECTION_CONSOLE };

struct reading {
    struct sweep_wanted *wanted;
    enum section section;
    bool sweep_seen, name_given, repeats_given, retries_given;
    bool bench_given, standard_given, revision_given, markings_given, modifications_given;
};

bool sweep_refuse(const struct sweep_wanted *wanted, int line, const char *text, struct problem *problem) {
    return line > 0 ? problem_set(problem, PROBLEM_INPUT, "%s:%d: %s", wanted->file, line, text)
                    : problem_set(problem, PROBLEM_INPUT, "%s", text);
}

/* ---- lists ---- */

static void *grown(void *list, size_t count, size_t size, struct problem *problem) {
    void *larger = realloc(list, (count + 1) * size);
    if (larger == NULL) {
        problem_set(problem, PROBLEM_BENCH, "out of memory for %zu plans or consoles of a sweep", count + 1);
        return NULL;
    }
    memset((char *)larger + count * size, 0, size);
    return larger;
}

static bool add_plan(struct sweep_wanted *wanted, const char *name, const char *path, int line,
                     struct problem *problem) {
    for (size_t i = 0; i < wanted->plan_count; i++) {
        if (strcmp(wanted->plans[i].name, name) == 0) {
            char text[200];
            snprintf(text, sizeof text, "plan %.120s is there twice; use repeats to run it more often", name);
            return sweep_refuse(wanted, line, text, problem);
        }
    }
    if (wanted->plan_count == SWEEP_PLANS_MAX) {
        return sweep_refuse(wanted, line, "more than 64 plans; make two sweeps of it", problem);
    }
    struct sweep_plan *plans = grown(wanted->plans, wanted->plan_count, sizeof *plans, problem);
    if (plans == NULL) {
        return false;
    }
    wanted->plans = plans;
    struct sweep_plan *plan = &plans[wanted->plan_count++];
    plan->line = line;
    snprintf(plan->name, sizeof plan->name, "%s", name);
    snprintf(plan->open, sizeof plan->open, "%s", path);
    return true;
}

static struct sweep_console *add_console(struct sweep_wanted *wanted, int line, struct problem *problem) {
    if (wanted->console_count == SWEEP_CONSOLES_MAX) {
        sweep_refuse(wanted, line, "more than 1000 consoles; make two sweeps of it", problem);
        return NULL;
    }
    struct sweep_console *consoles =
        grown(wanted->consoles, wanted->console_count, sizeof *consoles, problem);
    if (consoles == NULL) {
        return NULL;
    }
    wanted->consoles = consoles;
    consoles[wanted->console_count].line = line;
    return &consoles[wanted->console_count++];
}

/* ---- plans named in the file ---- */

static bool is_built_in(const char *name) {
    for (const struct plan_builtin *plan = plan_builtins; plan->name != NULL; plan++) {
        if (strcmp(plan->name, name) == 0) {
            return true;
        }
    }
    return strncmp(name, "every:", 6) == 0;
}

/* A file is looked for beside the sweep file, wherever the command is said. */
static bool take_plan(struct sweep_wanted *wanted, const struct setting *setting, struct problem *problem) {
    static const char drawing[] = "drawing:";
    const char *text = setting->value;
    const bool drawn = strncmp(text, drawing, strlen(drawing)) == 0;
    const char *path = drawn ? text + strlen(drawing) : text;
    const char *slash = strrchr(wanted->file, '/');
    char name[PATH_MAX];
    if (*path == '\0') {
        return setting_refuse(problem, setting,
                              "plan = %s: give a name, a plan file, every:N or drawing:FILE", text);
    }
    if (*path == '/' || slash == NULL || (!drawn && is_built_in(text))) {
        snprintf(name, sizeof name, "%s", text);
    } else {
        const int length = snprintf(name, sizeof name, "%s%.*s%s", drawn ? drawing : "",
                                    (int)(slash + 1 - wanted->file), wanted->file, path);
        if (length < 0 || (size_t)length >= sizeof name) {
            return setting_refuse(problem, setting, "plan = %.80s...: the path is too long", text);
        }
    }
    return add_plan(wanted, text, name, setting->line, problem);
}

/* ---- keys ---- */

static bool once(const struct setting *setting, bool *given, struct problem *problem) {
    if (*given) {
        return setting_refuse(problem, setting, "'%s' is there twice; keep one", setting->key);
    }
    *given = true;
    return true;
}

static bool take_number(const struct setting *setting, bool *given, int least, int most, int *value,
                        struct problem *problem) {
    char *end = NULL;
    errno = 0;
    const long number = strtol(setting->value, &end, 10);
    if (!once(setting, given, problem)) {
        return false;
    }
    if (errno != 0 || end == setting->value || *end != '\0' || number < least || number > most) {
        return setting_refuse(problem, setting, "%s = %.40s: give a whole number from %d to %d", setting->key,
                              setting->value, least, most);
    }
    *value = (int)number;
    return true;
}

/* Tabs part the words of what a robot is told. */
static bool take_text(const struct setting *setting, bool *given, char *text, size_t size,
                      struct problem *problem) {
    if (!once(setting, given, problem)) {
        return false;
    }
    if (!utf8_is_name(setting->value) || strlen(setting->value) >= size) {
        return setting_refuse(problem, setting,
                              "%s: give a text of 1 to %zu bytes without tabs and hidden characters",
                              setting->key, size - 1);
    }
    snprintf(text, size, "%s", setting->value);
    return true;
}

static bool take_fault(struct sweep_console *console, const struct setting *setting,
                       struct problem *problem) {
    struct virtual_options options;
    struct problem why;
    virtual_defaults(STANDARD_NTSC, &options);
    if (!virtual_add_fault(&options, setting->value, &why)) {
        return setting_refuse(problem, setting, "%s", why.text);
    }
    return texts_add(&console->faults, setting->value) ||
           setting_refuse(problem, setting, "more faults than a console can have; give fewer");
}

static bool take_sweep_key(struct reading *reading, const struct setting *setting, struct problem *problem) {
    struct sweep_wanted *wanted = reading->wanted;
    const char *key = setting->key;
    if (strcasecmp(key, "name") == 0) {
        return take_text(setting, &reading->name_given, wanted->name, sizeof wanted->name, problem);
    }
    if (strcasecmp(key, "plan") == 0) {
        return take_plan(wanted, setting, problem);
    }
    if (strcasecmp(key, "repeats") == 0) {
        return take_number(setting, &reading->repeats_given, 1, SWEEP_REPEATS_MAX, &wanted->repeats, problem);
    }
    if (strcasecmp(key, "retries") == 0) {
        return take_number(setting, &reading->retries_given, 0, SWEEP_RETRIES_MAX, &wanted->retries, problem);
    }
    return setting_refuse(problem, setting, "unknown key '%.40s'; [sweep] has name, plan, repeats, retries",
                          key);
}

static bool take_console_key(struct reading *reading, const struct setting *setting,
                             struct problem *problem) {
    struct sweep_console *console = &reading->wanted->consoles[reading->wanted->console_count - 1];
    const struct {
        const char *key;
        bool *given;
        char *text;
        size_t size;
    } texts[] = {
        {"bench", &reading->bench_given, console->bench, sizeof console->bench},
        {"revision", &reading->revision_given, console->revision, sizeof console->revision},
        {"markings", &reading->markings_given, console->markings, sizeof console->markings},
        {"modifications", &reading->modifications_given, console->modifications,
         sizeof console->modifications},
    };
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        if (strcasecmp(setting->key, texts[i].key) == 0) {
            return take_text(setting, texts[i].given, texts[i].text, texts[i].size, problem);
        }
    }
    if (strcasecmp(setting->key, "fault") == 0) {
        return take_fault(console, setting, problem);
    }
    if (strcasecmp(setting->key, "standard") == 0) {
        console->standard_given = true;
        return once(setting, &reading->standard_given, problem) &&
               bench_take_standard(setting, &console->standard, problem);
    }
    return setting_refuse(problem, setting,
                          "unknown key '%.40s'; [console NAME] has bench, standard, revision, markings, "
                          "modifications, fault",
                          setting->key);
}

/* ---- sections ---- */

/* A console section is whole when the next one begins, or the file ends. */
static bool end_section(const struct reading *reading, struct problem *problem) {
    const struct sweep_wanted *wanted = reading->wanted;
    if (reading->section != SECTION_CONSOLE || reading->bench_given) {
        return true;
    }
    return sweep_refuse(wanted, wanted->consoles[wanted->console_count - 1].line,
                        "the console has no bench; add bench = NAME, a section of the benches file", problem);
}

static bool begin_console(struct reading *reading, const struct setting *setting, struct problem *problem) {
    struct sweep_wanted *wanted = reading->wanted;
    const char *name = setting->section + strlen(console_prefix);
    name += strspn(name, " \t");
    if (!utf8_is_name(name)) {
        return setting_refuse(
            problem, setting,
            "a console needs a name without tabs, hidden characters and blanks before the ], "
            "as in [console left]");
    }
    for (size_t i = 0; i < wanted->console_count; i++) {
        if (strcmp(wanted->consoles[i].name, name) == 0) {
            return setting_refuse(problem, setting, "console '%s' is there twice; remove or rename one",
                                  name);
        }
    }
    struct sweep_console *console = add_console(wanted, setting->line, problem);
    if (console == NULL) {
        return false;
    }
    snprintf(console->name, sizeof console->name, "%s", name);
    reading->section = SECTION_CONSOLE;
    reading->bench_given = reading->standard_given = reading->revision_given = false;
    reading->markings_given = reading->modifications_given = false;
    return true;
}

static bool begin_section(struct reading *reading, const struct setting *setting, struct problem *problem) {
    if (!end_section(reading, problem)) {
        return false;
    }
    if (strncmp(setting->section, console_prefix, strlen(console_prefix)) == 0) {
        return begin_console(reading, setting, problem);
    }
    if (strcmp(setting->section, sweep_section) != 0) {
        return setting_refuse(problem, setting,
                              "unknown section [%s]; a sweep file has [sweep] and [console NAME]",
                              setting->section);
    }
    if (reading->sweep_seen) {
        return setting_refuse(problem, setting, "[sweep] is there twice; put all of it into one");
    }
    reading->section = SECTION_SWEEP;
    reading->sweep_seen = true;
    return true;
}

static bool take(void *user, const struct setting *setting, struct problem *problem) {
    struct reading *reading = user;
    if (setting->key == NULL) {
        return begin_section(reading, setting, problem);
    }
    switch (reading->section) {
    case SECTION_SWEEP:
        return take_sweep_key(reading, setting, problem);
    case SECTION_CONSOLE:
        return take_console_key(reading, setting, problem);
    default:
        return setting_refuse(problem, setting, "'%s' before any section; start with [sweep]", setting->key);
    }
}

static bool read_file(const char *path, struct sweep_wanted *wanted, struct problem *problem) {
    struct reading reading = {.wanted = wanted};
    if (strlen(path) >= sizeof wanted->file) {
        return problem_set(problem, PROBLEM_INPUT, "%.80s...: the path is too long", path);
    }
    snprintf(wanted->file, sizeof wanted->file, "%s", path);
    if (!settings_read(path, take, &reading, problem) || !end_section(&reading, problem)) {
        return false;
    }
    if (!reading.sweep_seen && wanted->console_count == 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: neither [sweep] nor [console NAME] is in it; see README for a sweep file",
                           path);
    }
    return true;
}

/* ---- options ---- */

static bool keep_benches(struct sweep_wanted *wanted, const struct options *options,
                         struct problem *problem) {
    size_t kept = 0;
    for (int i = 0; i < options->bench_count; i++) {
        bool known = false;
        for (size_t k = 0; k < wanted->console_count; k++) {
            known = known || strcmp(wanted->consoles[k].bench, options->bench_names[i]) == 0;
        }
        if (!known) {
            return problem_set(problem, PROBLEM_INPUT, "--bench %.80s: no console of %.300s is on it",
                               options->bench_names[i], wanted->file);
        }
    }
    for (size_t k = 0; k < wanted->console_count; k++) {
        bool keep = false;
        for (int i = 0; i < options->bench_count; i++) {
            keep = keep || strcmp(wanted->consoles[k].bench, options->bench_names[i]) == 0;
        }
        if (keep) {
            wanted->consoles[kept++] = wanted->consoles[k];
        }
    }
    wanted->console_count = kept;
    return true;
}

static bool add_bench(struct sweep_wanted *wanted, const char *name, struct problem *problem) {
    for (size_t i = 0; i < wanted->console_count; i++) {
        if (strcmp(wanted->consoles[i].bench, name) == 0) {
            return problem_set(problem, PROBLEM_INPUT, "--bench %.80s is there twice; leave one out", name);
        }
    }
    if (*name == '\0' || strlen(name) >= sizeof wanted->consoles->bench) {
        return problem_set(problem, PROBLEM_INPUT, "--bench '%.80s': give the name of a bench", name);
    }
    struct sweep_console *console = add_console(wanted, 0, problem);
    if (console == NULL) {
        return false;
    }
    snprintf(console->bench, sizeof console->bench, "%s", name);
    return true;
}

static bool take_benches(struct sweep_wanted *wanted, const struct options *options,
                         struct problem *problem) {
    if (wanted->console_count > 0) {
        return options->bench_count == 0 || keep_benches(wanted, options, problem);
    }
    for (int i = 0; i < options->bench_count; i++) {
        if (!add_bench(wanted, options->bench_names[i], problem)) {
            return false;
        }
    }
    return options->bench_count > 0 || add_bench(wanted, "virtual", problem);
}

static bool take_plans(struct sweep_wanted *wanted, const struct options *options, struct problem *problem) {
    if (options->plan_count > 0) {
        wanted->plan_count = 0;
    }
    for (int i = 0; i < options->plan_count; i++) {
        if (strlen(options->plans[i]) >= sizeof wanted->plans->name) {
            return problem_set(problem, PROBLEM_INPUT, "--plan %.80s...: too long", options->plans[i]);
        }
        if (!add_plan(wanted, options->plans[i], options->plans[i], 0, problem)) {
            return false;
        }
    }
    return wanted->plan_count > 0 || add_plan(wanted, "bits", "bits", 0, problem);
}

static void default_name(struct sweep_wanted *wanted) {
    const char *slash = strrchr(wanted->file, '/');
    const char *name = slash != NULL ? slash + 1 : wanted->file;
    const char *dot = strrchr(name, '.');
    const size_t length = dot != NULL && dot != name ? (size_t)(dot - name) : strlen(name);
    snprintf(wanted->name, sizeof wanted->name, "%.*s", (int)length, name);
    if (wanted->name[0] == '\0') {
        snprintf(wanted->name, sizeof wanted->name, "sweep");
    }
}

bool sweep_wanted_read(const struct options *options, struct sweep_wanted *wanted, struct problem *problem) {
    *wanted = (struct sweep_wanted){.repeats = 1, .retries = 1};
    if (options->operand_count > 1) {
        return problem_set(problem, PROBLEM_INPUT, "%.200s: a sweep has one file; see `slotjig sweep --help`",
                           options->operands[1]);
    }
    if (options->operand_count == 1 && !read_file(options->operands[0], wanted, problem)) {
        return false;
    }
    if (wanted->name[0] == '\0') {
        default_name(wanted);
    }
    wanted->repeats = options->repeats > 0 ? options->repeats : wanted->repeats;
    wanted->retries = options->retries >= 0 ? options->retries : wanted->retries;
    return take_plans(wanted, options, problem) && take_benches(wanted, options, problem);
}

void sweep_wanted_free(struct sweep_wanted *wanted) {
    free(wanted->plans);
    free(wanted->consoles);
    *wanted = (struct sweep_wanted){0};
}
