#include "commands/benches.h"

#include "commands/bench_keys.h"
#include "plan/settings_file.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

static const char builtin_name[] = "virtual";

/* A benches file is read three times: for the names and the wanted bench's kind and standard, which other
 * defaults follow from; then for a virtual one's grabber, which replaces whatever other keys say of it; then
 * for all its settings. */
struct search {
    const char *name;
    bool found;  /* a section of that name has been seen */
    bool inside; /* the section being read is the wanted one */
    int line;    /* where that begins */
    bool standard_given;
    enum standard standard;
    enum bench_kind kind;
    char known[400];
    struct bench_reading reading; /* the second and the third */
};

/* ---- sections ---- */

static void add_known(struct search *search, const char *name) {
    const size_t used = strlen(search->known);
    snprintf(search->known + used, sizeof search->known - used, ", %s", name);
}

/* NULL, with *problem filled, when the section is no bench's. */
static const char *bench_name(const struct setting *setting, struct problem *problem) {
    static const char prefix[] = "bench ";
    if (strncmp(setting->section, prefix, strlen(prefix)) != 0) {
        setting_refuse(problem, setting, "unknown section [%s]; a benches file has [bench NAME]",
                       setting->section);
        return NULL;
    }
    const char *name = setting->section + strlen(prefix);
    name += strspn(name, " \t");
    if (*name == '\0' || strcmp(name, builtin_name) == 0) {
        setting_refuse(problem, setting,
                       "a bench of your own needs a name other than '%s', which is built in", builtin_name);
        return NULL;
    }
    return name;
}

static bool refuse_stray(const struct setting *setting, struct problem *problem) {
    return setting_refuse(problem, setting, "'%s' before any section; start with [bench NAME]", setting->key);
}

static bool begin_bench(struct search *search, const struct setting *setting, struct problem *problem) {
    const char *name = bench_name(setting, problem);
    if (name == NULL) {
        return false;
    }
    search->inside = strcmp(name, search->name) == 0;
    if (search->inside && search->found) {
        return setting_refuse(problem, setting, "bench '%s' is there twice; remove or rename one", name);
    }
    search->found = search->found || search->inside;
    search->line = search->inside ? setting->line : search->line;
    add_known(search, name);
    return true;
}

/* ---- first reading: names, and of the wanted bench kind and standard ---- */

static bool take_first(void *user, const struct setting *setting, struct problem *problem) {
    struct search *search = user;
    enum standard standard = search->standard;
    if (setting->key == NULL) {
        return begin_bench(search, setting, problem);
    }
    if (*setting->section == '\0') {
        return refuse_stray(setting, problem);
    }
    if (!search->inside) {
        return true;
    }
    if (strcasecmp(setting->key, "kind") == 0) {
        return bench_take_kind(setting, &search->kind, problem);
    }
    if (strcasecmp(setting->key, "standard") != 0) {
        return true;
    }
    if (!bench_take_standard(setting, &standard, problem)) {
        return false;
    }
    search->standard = search->standard_given ? search->standard : standard;
    return true;
}

/* ---- second reading: the wanted bench's grabber ---- */

static bool take_second(void *user, const struct setting *setting, struct problem *problem) {
    struct search *search = user;
    if (setting->key == NULL) {
        return begin_bench(search, setting, problem);
    }
    return !search->inside || search->reading.bench->kind != BENCH_VIRTUAL ||
           strcasecmp(setting->key, "grabber") != 0 ||
           bench_take_grabber(setting, search->reading.bench, problem);
}

/* ---- third reading: the wanted bench's settings ---- */

static bool take_third(void *user, const struct setting *setting, struct problem *problem) {
    struct search *search = user;
    if (setting->key == NULL) {
        return begin_bench(search, setting, problem);
    }
    return !search->inside || bench_take_key(&search->reading, setting, problem);
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

bool benches_file(const char *file, char *path, size_t size, bool *there) {
    *there = false;
    if (file == NULL && !default_file(path, size)) {
        return false;
    }
    if (file != NULL) {
        snprintf(path, size, "%s", file);
    }
    /* A file that was named must be there; reading it says what is wrong with it. */
    *there = file != NULL || access(path, F_OK) == 0;
    return true;
}

static void defaults(const char *name, enum bench_kind kind, bool watched, enum standard standard,
                     struct bench_settings *bench) {
    memset(bench, 0, sizeof *bench);
    snprintf(bench->name, sizeof bench->name, "%s", name);
    bench->kind = kind;
    bench->watched = watched;
    bench->board.way = kind == BENCH_VIRTUAL ? BOARD_VIRTUAL : BOARD_BY_USB;
    bench->board.baud = BAUD_DEFAULT;
    bench->video.wait_s = WAIT_DEFAULT_S;
    virtual_defaults(standard, &bench->options);
}

void bench_of_board(const struct board_choice *board, enum standard standard, struct bench_settings *out) {
    defaults("board", BENCH_BOARD, true, standard, out);
    out->board = *board;
}

void bench_of_reader(const struct board_choice *board, struct bench_settings *out) {
    defaults("reader", BENCH_READER, false, STANDARD_NTSC, out);
    out->board = *board;
}

struct video_request bench_request(const struct bench_settings *bench) {
    const struct bench_video *video = &bench->video;
    return (struct video_request){.where = video->where,
                                  .standard = bench->options.standard,
                                  .input = video->input,
                                  .width = video->width,
                                  .height = video->height,
                                  .pixel = video->pixel,
                                  .frequency_mhz = video->frequency_mhz,
                                  .wait_s = video->wait_s,
                                  .threads = video->threads};
}

static bool read_settings(const char *file, struct search *search, struct bench_settings *out,
                          struct problem *problem) {
    struct bench_settings bench;
    defaults(search->name, search->kind, true, search->standard, &bench);
    struct search second = {.name = search->name, .reading = {.bench = &bench}}, third = second;
    if (!settings_read(file, take_second, &second, problem) ||
        !settings_read(file, take_third, &third, problem)) {
        return false;
    }
    const struct setting section = {.path = file, .line = third.line};
    if (!bench_check_keys(&bench, &section, problem)) {
        return false;
    }
    *out = bench;
    return true;
}

bool bench_find(const char *name, const char *file, enum standard standard, bool standard_given,
                struct bench_settings *out, struct problem *problem) {
    if (strcmp(name, builtin_name) == 0) {
        defaults(name, BENCH_VIRTUAL, false, standard, out);
        return true;
    }
    char path[PATH_MAX];
    bool there;
    const char *from = benches_file(file, path, sizeof path, &there) ? path : NULL;
    struct search search = {.name = name, .standard_given = standard_given, .standard = standard};
    snprintf(search.known, sizeof search.known, "%s", builtin_name);
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

/* ---- all names ---- */

struct listing {
    char (*names)[BENCH_NAME_MAX];
    size_t max, count;
};

static bool take_name(void *user, const struct setting *setting, struct problem *problem) {
    struct listing *listing = user;
    if (setting->key != NULL) {
        return *setting->section != '\0' || refuse_stray(setting, problem);
    }
    const char *name = bench_name(setting, problem);
    if (name != NULL && listing->count < listing->max) {
        snprintf(listing->names[listing->count], BENCH_NAME_MAX, "%s", name);
    }
    listing->count++;
    return name != NULL;
}

bool benches_names(const char *path, char (*names)[BENCH_NAME_MAX], size_t max, size_t *count,
                   struct problem *problem) {
    struct listing listing = {.names = names, .max = max};
    const bool good = settings_read(path, take_name, &listing, problem);
    *count = listing.count;
    return good;
}
