#include "plan/ship_plan.h"

#include "base/utf8.h"
#include "plan/settings_file.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { ROUNDS_MOST = 60000, SOAK_MOST = 14400 /* ten days */, KEYS_MOST = 16 };

const struct ship_limit_about ship_limit_table[SHIP_LIMITS] = {
    [SHIP_ACCESS] = {"access_ns", "access", "ns", "from an address to its right data", false, false, 20,
                     SHIP_ACCESS_NS, SHIP_ACCESS_NS},
    [SHIP_MARGIN] = {"margin_ns", "margin", "ns", "left of the console's 410 ns", true, false, 0,
                     SHIP_ACCESS_NS - 20, 0},
    [SHIP_RELEASE] = {"release_ns", "release", "ns", "from A12 falling until it lets go of the bus", false,
                      false, 10, 1000, 290},
    [SHIP_WAKE] = {"wake_ms", "wake", "ms", "from its supply to its first right answer", false, false, 0,
                   2000, 20},
    [SHIP_DIFFERING] = {"differing", "differing readings", "", "readings that differ from the first", false,
                        false, 0, 1000000, 0},
    [SHIP_SOAK_ERRORS] = {"soak_errors", "errors in soak", "",
                          "errors that the console counts within the soak", false, true, 0, 65535, 0},
};

/* ---- reading ---- */

enum section { SECTION_NONE, SECTION_SHIP, SECTION_LIMITS };
enum key { KEY_SCHEME, KEY_RAM, KEY_WAYS, KEY_PRODUCT, KEY_STANDARD, KEY_IMAGE, KEY_ROUNDS, KEY_SOAK, KEYS };
static const char *const keys[KEYS] = {"scheme",   "ram",   "ways",   "product",
                                       "standard", "image", "rounds", "soak"};

struct reading {
    struct ship_plan *plan;
    enum section section;
    bool seen[3];
    int line[KEYS], limit_line[SHIP_LIMITS]; /* 0: not given */
};

static bool take_number(const struct setting *setting, double least, double most, bool whole, double *value,
                        struct problem *problem) {
    char *end = NULL;
    errno = 0;
    const double number = strtod(setting->value, &end);
    const bool plain = strspn(setting->value, "0123456789.") == strlen(setting->value);
    if (!plain || errno != 0 || end == setting->value || *end != '\0' || number < least || number > most ||
        (whole && number != floor(number))) {
        return setting_refuse(problem, setting, "%s = %.40s: give a %snumber from %g to %g", setting->key,
                              setting->value, whole ? "whole " : "", least, most);
    }
    *value = number;
    return true;
}

static bool take_whole(const struct setting *setting, int least, int most, int *value,
                       struct problem *problem) {
    double number = 0;
    if (!take_number(setting, least, most, true, &number, problem)) {
        return false;
    }
    *value = (int)number;
    return true;
}

/* "console, reader", in the order in which it is tested. */
static bool take_ways(struct ship_plan *plan, const struct setting *setting, struct problem *problem) {
    char text[64], *rest = text;
    plan->console = plan->reader = plan->reader_first = false;
    snprintf(text, sizeof text, "%s", setting->value);
    bool good = strlen(setting->value) < sizeof text;
    for (char *word = strsep(&rest, ","); word != NULL && good; word = strsep(&rest, ",")) {
        word += strspn(word, " \t");
        for (size_t end = strlen(word); end > 0 && strchr(" \t", word[end - 1]) != NULL; end--) {
            word[end - 1] = '\0';
        }
        bool *way = strcasecmp(word, "console") == 0  ? &plan->console
                    : strcasecmp(word, "reader") == 0 ? &plan->reader
                                                      : NULL;
        good = way != NULL && !*way;
        if (good) {
            *way = true;
            plan->reader_first = plan->reader && !plan->console;
        }
        if (good && plan->console && plan->reader) {
            plan->reader_first = way == &plan->console;
        }
    }
    return good || setting_refuse(problem, setting,
                                  "ways = %.40s: say console, reader, or both with a comma between them",
                                  setting->value);
}

static bool take_product(struct ship_plan *plan, const struct setting *setting, struct problem *problem) {
    if (!utf8_is_name(setting->value) || strlen(setting->value) >= sizeof plan->product) {
        return setting_refuse(problem, setting,
                              "product: give a text of 1 to %zu bytes without tabs and hidden characters",
                              sizeof plan->product - 1);
    }
    snprintf(plan->product, sizeof plan->product, "%s", setting->value);
    return true;
}

/* A file is looked for beside the limits file, wherever the command is said. */
static bool take_image(struct ship_plan *plan, const struct setting *setting, struct problem *problem) {
    const char *slash = strrchr(setting->path, '/');
    const int folder = setting->value[0] == '/' || slash == NULL ? 0 : (int)(slash + 1 - setting->path);
    const int length =
        snprintf(plan->image, sizeof plan->image, "%.*s%s", folder, setting->path, setting->value);
    if (setting->value[0] == '\0' || length < 0 || (size_t)length >= sizeof plan->image) {
        return setting_refuse(problem, setting,
                              "image: name the file that is on the cartridge when it is sold");
    }
    return true;
}

static bool take_ship_key(struct ship_plan *plan, enum key key, const struct setting *setting,
                          struct problem *problem) {
    switch (key) {
    case KEY_SCHEME:
        return scheme_from_name(setting->value, &plan->scheme) ||
               setting_refuse(problem, setting, "scheme = %.40s: there are 2K, 4K, F8, F6 and F4",
                              setting->value);
    case KEY_RAM:
        return setting_yes_no(setting->value, &plan->ram) ||
               setting_refuse(problem, setting, "ram = %.40s: say yes or no", setting->value);
    case KEY_WAYS:
        return take_ways(plan, setting, problem);
    case KEY_PRODUCT:
        return take_product(plan, setting, problem);
    case KEY_STANDARD:
        return standard_from_name(setting->value, &plan->standard) ||
               setting_refuse(problem, setting, "standard = %.40s: there are ntsc, pal and secam",
                              setting->value);
    case KEY_IMAGE:
        return take_image(plan, setting, problem);
    case KEY_ROUNDS:
        return take_whole(setting, 2, ROUNDS_MOST, &plan->rounds, problem);
    default:
        return take_whole(setting, 0, SOAK_MOST, &plan->soak_min, problem);
    }
}

static bool twice(const struct setting *setting, int *line, struct problem *problem) {
    if (*line > 0) {
        setting_refuse(problem, setting, "'%s' is there twice (line %d); keep one", setting->key, *line);
        return true;
    }
    *line = setting->line;
    return false;
}

static bool take_ship(struct reading *reading, const struct setting *setting, struct problem *problem) {
    for (int key = 0; key < KEYS; key++) {
        if (strcasecmp(setting->key, keys[key]) == 0) {
            return !twice(setting, &reading->line[key], problem) &&
                   take_ship_key(reading->plan, (enum key)key, setting, problem);
        }
    }
    return setting_refuse(
        problem, setting,
        "unknown key '%.40s'; [ship] has scheme, ram, ways, product, standard, image, rounds, soak",
        setting->key);
}

static bool take_limit(struct reading *reading, const struct setting *setting, struct problem *problem) {
    for (int i = 0; i < SHIP_LIMITS; i++) {
        const struct ship_limit_about *about = &ship_limit_table[i];
        if (strcasecmp(setting->key, about->key) == 0) {
            const bool whole = about->unit[0] == '\0';
            return !twice(setting, &reading->limit_line[i], problem) &&
                   take_number(setting, about->least, about->most, whole, &reading->plan->limit[i], problem);
        }
    }
    return setting_refuse(problem, setting,
                          "unknown key '%.40s'; [limits] has access_ns, margin_ns, release_ns, wake_ms, "
                          "differing, soak_errors",
                          setting->key);
}

static bool begin_section(struct reading *reading, const struct setting *setting, struct problem *problem) {
    const bool ship = strcmp(setting->section, "ship") == 0;
    if (!ship && strcmp(setting->section, "limits") != 0) {
        return setting_refuse(problem, setting, "unknown section [%s]; a limits file has [ship] and [limits]",
                              setting->section);
    }
    reading->section = ship ? SECTION_SHIP : SECTION_LIMITS;
    if (reading->seen[reading->section]) {
        return setting_refuse(problem, setting, "[%s] is there twice; put all of it into one",
                              setting->section);
    }
    reading->seen[reading->section] = true;
    return true;
}

static bool take(void *user, const struct setting *setting, struct problem *problem) {
    struct reading *reading = user;
    if (setting->key == NULL) {
        return begin_section(reading, setting, problem);
    }
    switch (reading->section) {
    case SECTION_SHIP:
        return take_ship(reading, setting, problem);
    case SECTION_LIMITS:
        return take_limit(reading, setting, problem);
    default:
        return setting_refuse(problem, setting, "'%s' before any section; start with [ship]", setting->key);
    }
}

/* ---- what contradicts ---- */

static bool refuse(const char *what, int line, const char *text, struct problem *problem) {
    return problem_set(problem, PROBLEM_INPUT, "%s:%d: %s", what, line, text);
}

/* What a way that is not asked for would have to measure. */
static bool of_missing_way(const struct reading *reading, const char *what, struct problem *problem) {
    static const enum key of_console[] = {KEY_STANDARD, KEY_ROUNDS, KEY_SOAK};
    const struct ship_plan *plan = reading->plan;
    char text[120];
    for (int i = 0; i < 3 && !plan->console; i++) {
        if (reading->line[of_console[i]] > 0) {
            snprintf(text, sizeof text,
                     "%s is of the console's check, which ways leaves out; remove one of them",
                     keys[of_console[i]]);
            return refuse(what, reading->line[of_console[i]], text, problem);
        }
    }
    if (!plan->reader && reading->line[KEY_IMAGE] > 0) {
        return refuse(what, reading->line[KEY_IMAGE],
                      "image is what a reader compares with, which ways leaves out; remove one of them",
                      problem);
    }
    for (int i = 0; i < SHIP_LIMITS; i++) {
        const struct ship_limit_about *about = &ship_limit_table[i];
        if (reading->limit_line[i] > 0 && !(about->of_console ? plan->console : plan->reader)) {
            snprintf(text, sizeof text, "%s is measured by the %s, which ways leaves out; remove one of them",
                     about->key, about->of_console ? "console" : "reader");
            return refuse(what, reading->limit_line[i], text, problem);
        }
    }
    return true;
}

static bool check(const struct reading *reading, const char *what, struct problem *problem) {
    const struct ship_plan *plan = reading->plan;
    if (!reading->seen[SECTION_SHIP] || reading->line[KEY_SCHEME] == 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: no scheme; add [ship] with scheme = 2K, 4K, F8, F6 or F4", what);
    }
    if (!of_missing_way(reading, what, problem)) {
        return false;
    }
    if (reading->limit_line[SHIP_SOAK_ERRORS] > 0 && plan->soak_min == 0) {
        return refuse(what, reading->limit_line[SHIP_SOAK_ERRORS],
                      "soak_errors without a soak; add soak = MINUTES, or remove it", problem);
    }
    return true;
}

/* ---- all of it ---- */

static bool read_into(const char *what, const char *text, struct ship_plan *plan, struct problem *problem) {
    struct reading reading = {.plan = plan};
    plan->console = plan->reader = true;
    plan->rounds = 2;
    plan->standard = STANDARD_NTSC;
    for (int i = 0; i < SHIP_LIMITS; i++) {
        plan->limit[i] = ship_limit_table[i].usual;
    }
    plan->text = strdup(text);
    if (plan->text == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", what);
    }
    return settings_read_text(what, text, take, &reading, problem) && check(&reading, what, problem);
}

bool ship_plan_read_text(const char *what, const char *text, struct ship_plan *plan,
                         struct problem *problem) {
    *plan = (struct ship_plan){0};
    return read_into(what, text, plan, problem);
}

/* At most `most` bytes of a file, and a 0 behind them; NULL: *problem. */
static char *read_file(const char *path, size_t most, size_t *size, struct problem *problem) {
    char *bytes = malloc(most + 2);
    FILE *file = bytes != NULL ? fopen(path, "rb") : NULL;
    if (file == NULL) {
        problem_set(problem, bytes == NULL ? PROBLEM_BENCH : PROBLEM_INPUT, "%s: %s", path,
                    bytes == NULL ? "out of memory" : strerror(errno));
        free(bytes);
        return NULL;
    }
    errno = 0;
    *size = fread(bytes, 1, most + 1, file);
    bytes[*size] = '\0';
    const bool failed = ferror(file) != 0;
    const int reason = errno;
    fclose(file);
    if (failed) {
        problem_set(problem, PROBLEM_INPUT, "%s: %s", path, strerror(reason));
        free(bytes);
        return NULL;
    }
    return bytes;
}

static bool read_image(const char *path, struct ship_plan *plan, struct problem *problem) {
    const size_t wanted = scheme_bytes(plan->scheme);
    size_t size = 0;
    if (plan->image[0] == '\0') {
        return true;
    }
    plan->bytes = (uint8_t *)read_file(plan->image, wanted, &size, problem);
    if (plan->bytes != NULL && size != wanted) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%.250s: %s%zu bytes, but scheme %s in %.200s has %zu: name another image or scheme", plan->image,
            size > wanted ? "more than " : "", size > wanted ? wanted : size, scheme_name(plan->scheme), path,
            wanted);
    }
    return plan->bytes != NULL;
}

bool ship_plan_read(const char *path, struct ship_plan *plan, struct problem *problem) {
    size_t size = 0;
    *plan = (struct ship_plan){0};
    char *text = read_file(path, SHIP_FILE_MAX, &size, problem);
    if (text == NULL) {
        return false;
    }
    bool good =
        size <= SHIP_FILE_MAX ||
        problem_set(problem, PROBLEM_INPUT, "%s: longer than %d bytes: no limits file", path, SHIP_FILE_MAX);
    good = good && (strlen(text) == size ||
                    problem_set(problem, PROBLEM_INPUT, "%s: has a byte 0 in it: no limits file", path));
    good = good && read_into(path, text, plan, problem) && read_image(path, plan, problem);
    free(text);
    return good;
}

void ship_plan_free(struct ship_plan *plan) {
    free(plan->text);
    free(plan->bytes);
    *plan = (struct ship_plan){0};
}
