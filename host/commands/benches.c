#include "commands/benches.h"

#include "plan/settings_file.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

static const char builtin_name[] = "virtual";

/* A benches file is read twice: for the names and the wanted bench's standard, which other defaults follow
 * from; then for its settings. */
struct search {
    const char *name;
    bool found;  /* a section of that name has been seen */
    bool inside; /* the section being read is the wanted one */
    bool standard_given;
    enum standard standard;
    char known[400];
    bool *given; /* one for each key, in the second reading */
    struct bench_settings *out;
};

/* ---- sections ---- */

static void add_known(struct search *search, const char *name) {
    const size_t used = strlen(search->known);
    snprintf(search->known + used, sizeof search->known - used, ", %s", name);
}

static bool begin_bench(struct search *search, const struct setting *setting, struct problem *problem) {
    static const char prefix[] = "bench ";
    if (strncmp(setting->section, prefix, strlen(prefix)) != 0) {
        return setting_refuse(problem, setting, "unknown section [%s]; a benches file has [bench NAME]",
                              setting->section);
    }
    const char *name = setting->section + strlen(prefix);
    name += strspn(name, " \t");
    if (*name == '\0' || strcmp(name, builtin_name) == 0) {
        return setting_refuse(problem, setting,
                              "a bench of your own needs a name other than '%s', which is built in",
                              builtin_name);
    }
    search->inside = strcmp(name, search->name) == 0;
    if (search->inside && search->found) {
        return setting_refuse(problem, setting, "bench '%s' is there twice; remove or rename one", name);
    }
    search->found = search->found || search->inside;
    add_known(search, name);
    return true;
}

/* ---- first reading ---- */

static bool take_kind(const struct setting *setting, struct problem *problem) {
    if (strcasecmp(setting->value, "virtual") == 0) {
        return true;
    }
    return setting_refuse(problem, setting,
                          "a bench of kind '%s' is not in this version; the only kind is virtual",
                          setting->value);
}

static bool take_standard(struct search *search, const struct setting *setting, struct problem *problem) {
    enum standard standard;
    if (!standard_from_name(setting->value, &standard)) {
        return setting_refuse(problem, setting, "standard = %s; there are ntsc, pal and secam",
                              setting->value);
    }
    if (!search->standard_given) {
        search->standard = standard;
    }
    return true;
}

static bool take_first(void *user, const struct setting *setting, struct problem *problem) {
    struct search *search = user;
    if (setting->key == NULL) {
        return begin_bench(search, setting, problem);
    }
    if (*setting->section == '\0') {
        return setting_refuse(problem, setting, "'%s' before any section; start with [bench NAME]",
                              setting->key);
    }
    if (!search->inside) {
        return true;
    }
    if (strcasecmp(setting->key, "kind") == 0) {
        return take_kind(setting, problem);
    }
    if (strcasecmp(setting->key, "standard") == 0) {
        return take_standard(search, setting, problem);
    }
    return true;
}

/* ---- second reading ---- */

static bool take_seed(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    char *end = NULL;
    errno = 0;
    const unsigned long long seed = strtoull(setting->value, &end, 10);
    if (*setting->value < '0' || *setting->value > '9' || *end != '\0' || errno != 0) {
        return setting_refuse(problem, setting, "seed = %s; give a whole number from 0 to 2^64-1",
                              setting->value);
    }
    bench->options.seed = seed;
    return true;
}

static bool take_screen(const struct setting *setting, struct bench_settings *bench,
                        struct problem *problem) {
    const bool watched = strcasecmp(setting->value, "watched") == 0;
    if (!watched && strcasecmp(setting->value, "none") != 0) {
        return setting_refuse(problem, setting,
                              "screen = %s; say watched, or none where nobody sees the pictures",
                              setting->value);
    }
    bench->watched = watched;
    return true;
}

static bool take_fault(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    struct problem why;
    if (!virtual_add_fault(&bench->options, setting->value, &why)) {
        return setting_refuse(problem, setting, "%s", why.text);
    }
    return true;
}

static bool take_number(const struct setting *setting, double least, double most, double *value,
                        struct problem *problem) {
    char *end = NULL;
    const double number = strtod(setting->value, &end);
    if (end == setting->value || *end != '\0' || !(number >= least && number <= most)) {
        return setting_refuse(problem, setting, "%s = %s; give a number from %g to %g", setting->key,
                              setting->value, least, most);
    }
    *value = number;
    return true;
}

static bool take_noise(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    return take_number(setting, 0, 200, &bench->options.grabber.noise_db, problem);
}

static bool take_gain(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    return take_number(setting, 0.01, 4, &bench->options.grabber.gain, problem);
}

static bool take_offset(const struct setting *setting, struct bench_settings *bench,
                        struct problem *problem) {
    return take_number(setting, -1, 1, &bench->options.grabber.offset, problem);
}

/* Up to half of the 13.5 MHz at which lines are sampled [S BT.601]. */
static bool take_bandwidth(const struct setting *setting, struct bench_settings *bench,
                           struct problem *problem) {
    return take_number(setting, 0.5, 6.75, &bench->options.grabber.bandwidth_mhz, problem);
}

static bool take_left(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    return take_number(setting, 0, 720, &bench->options.grabber.left, problem);
}

/* Done by the first reading. */
static bool take_nothing(const struct setting *setting, struct bench_settings *bench,
                         struct problem *problem) {
    (void)setting, (void)bench, (void)problem;
    return true;
}

static const struct {
    const char *key;
    bool repeats;
    bool (*take)(const struct setting *setting, struct bench_settings *bench, struct problem *problem);
} keys[] = {
    {"kind", false, take_nothing},  {"standard", false, take_nothing}, {"seed", false, take_seed},
    {"screen", false, take_screen}, {"fault", true, take_fault},       {"noise", false, take_noise},
    {"gain", false, take_gain},     {"offset", false, take_offset},    {"bandwidth", false, take_bandwidth},
    {"left", false, take_left},
};

enum { KEYS = sizeof keys / sizeof keys[0] };

static bool take_second(void *user, const struct setting *setting, struct problem *problem) {
    struct search *search = user;
    if (setting->key == NULL) {
        return begin_bench(search, setting, problem);
    }
    if (!search->inside) {
        return true;
    }
    for (size_t i = 0; i < KEYS; i++) {
        if (strcasecmp(setting->key, keys[i].key) != 0) {
            continue;
        }
        if (search->given[i] && !keys[i].repeats) {
            return setting_refuse(problem, setting, "%s is given twice for this bench; remove one",
                                  keys[i].key);
        }
        search->given[i] = true;
        return keys[i].take(setting, search->out, problem);
    }
    return setting_refuse(
        problem, setting,
        "unknown key '%s'; a bench has kind, standard, seed, screen, fault, noise, gain, offset, "
        "bandwidth and left",
        setting->key);
}

/* ---- the search ---- */

static bool default_file(char *path, size_t size) {
    const char *configuration = getenv("XDG_CONFIG_HOME");
    const char *home = getenv("HOME");
    int length = -1;
    if (configuration != NULL && *configuration == '/') {
        length = snprintf(path, size, "%s/slotjig/benches.ini", configuration);
    } else if (home != NULL && *home != '\0') {
        length = snprintf(path, size, "%s/.config/slotjig/benches.ini", home);
    }
    return length >= 0 && (size_t)length < size;
}

static void defaults(const char *name, bool watched, enum standard standard, struct bench_settings *bench) {
    memset(bench, 0, sizeof *bench);
    snprintf(bench->name, sizeof bench->name, "%s", name);
    bench->watched = watched;
    virtual_defaults(standard, &bench->options);
}

static bool read_settings(const char *file, struct search *search, struct bench_settings *out,
                          struct problem *problem) {
    struct bench_settings bench;
    bool given[KEYS] = {false};
    defaults(search->name, true, search->standard, &bench);
    struct search second = {.name = search->name, .given = given, .out = &bench};
    if (!settings_read(file, take_second, &second, problem)) {
        return false;
    }
    *out = bench;
    return true;
}

bool bench_find(const char *name, const char *file, enum standard standard, bool standard_given,
                struct bench_settings *out, struct problem *problem) {
    if (strcmp(name, builtin_name) == 0) {
        defaults(name, false, standard, out);
        return true;
    }
    char path[PATH_MAX];
    const bool has_default = file == NULL && default_file(path, sizeof path);
    const char *from = file != NULL ? file : has_default ? path : NULL;
    struct search search = {.name = name, .standard_given = standard_given, .standard = standard};
    snprintf(search.known, sizeof search.known, "%s", builtin_name);
    const bool there = from != NULL && (file != NULL || access(from, F_OK) == 0);
    if (there && !settings_read(from, take_first, &search, problem)) {
        return false;
    }
    if (!search.found) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "no bench '%.100s'; known: %s; looked in %.200s%s; add [bench NAME] there or give --benches "
            "FILE",
            name, search.known, from != NULL ? from : "no file (HOME is not set)",
            there || from == NULL ? "" : " (which does not exist)");
    }
    return read_settings(from, &search, out, problem);
}
