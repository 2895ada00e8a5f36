#include "commands/bench_keys.h"

#include "link/command.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

bool bench_take_kind(const struct setting *setting, enum bench_kind *kind, struct problem *problem) {
    const bool board = strcasecmp(setting->value, "board") == 0;
    if (!board && strcasecmp(setting->value, "virtual") != 0) {
        return setting_refuse(problem, setting, "kind = %s; there are board (in a real console) and virtual",
                              setting->value);
    }
    *kind = board ? BENCH_BOARD : BENCH_VIRTUAL;
    return true;
}

bool bench_take_standard(const struct setting *setting, enum standard *standard, struct problem *problem) {
    return standard_from_name(setting->value, standard) ||
           setting_refuse(problem, setting, "standard = %s; there are ntsc, pal and secam", setting->value);
}

/* ---- every bench ---- */

/* Done by the first reading. */
static bool take_nothing(const struct setting *setting, struct bench_settings *bench,
                         struct problem *problem) {
    (void)setting, (void)bench, (void)problem;
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

static bool take_text(const struct setting *setting, char text[BENCH_TEXT_MAX], struct problem *problem) {
    if (*setting->value == '\0') {
        return setting_refuse(problem, setting, "%s has no value; give one, or remove the line",
                              setting->key);
    }
    snprintf(text, BENCH_TEXT_MAX, "%s", setting->value);
    return true;
}

static bool take_console(const struct setting *setting, struct bench_settings *bench,
                         struct problem *problem) {
    return take_text(setting, bench->console, problem);
}

/* ---- a board's ---- */

static bool take_board(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    struct problem why;
    if (bench->board.way == BOARD_BY_COMMAND) {
        return setting_refuse(problem, setting, "board and command exclude each other; remove one");
    }
    return board_choice_parse(setting->value, &bench->board, &why) ||
           setting_refuse(problem, setting, "%s", why.text);
}

static bool take_baud(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    const int baud = board_baud(setting->value);
    if (baud == 0) {
        return setting_refuse(problem, setting, "baud = %s; give a whole number from %d to %d",
                              setting->value, BAUD_MIN, BAUD_MAX);
    }
    bench->board.baud = baud;
    return true;
}

/* Words that could not be split are told here, with the line, and not when the program is first needed. */
static bool take_words(const struct setting *setting, char text[BENCH_TEXT_MAX], const char *must,
                       struct problem *problem) {
    struct problem why;
    char **words = NULL;
    if (!take_text(setting, text, problem)) {
        return false;
    }
    if (!command_split(setting->value, &words, &why)) {
        return setting_refuse(problem, setting, "%s", why.text);
    }
    command_free(words);
    return strstr(setting->value, must) != NULL ||
           setting_refuse(problem, setting,
                          "%s needs %s among its words: slotjig puts what it stands for there", setting->key,
                          must);
}

static bool take_command(const struct setting *setting, struct bench_settings *bench,
                         struct problem *problem) {
    if (bench->board.way != BOARD_BY_USB || bench->board.text[0] != '\0') {
        return setting_refuse(problem, setting, "board and command exclude each other; remove one");
    }
    bench->board.way = BOARD_BY_COMMAND;
    return take_words(setting, bench->board.text, "{image}", problem);
}

static bool take_power(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    return take_words(setting, bench->power, "{state}", problem);
}

static bool take_video(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    static const char file[] = "file:", live[] = "v4l2:";
    if (strcasecmp(setting->value, "none") == 0) {
        return true;
    }
    if (strncmp(setting->value, live, strlen(live)) == 0) {
        return setting_refuse(problem, setting,
                              "live capture is not in this version; say file:PATH for a recording, or none");
    }
    if (strncmp(setting->value, file, strlen(file)) != 0 || setting->value[strlen(file)] == '\0') {
        return setting_refuse(problem, setting, "video = %s; say file:PATH for a recording, or none",
                              setting->value);
    }
    snprintf(bench->video, sizeof bench->video, "%s", setting->value + strlen(file));
    return true;
}

/* ---- a virtual one's ---- */

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

/* ---- the table ---- */

enum { FOR_VIRTUAL = 1 << BENCH_VIRTUAL, FOR_BOARD = 1 << BENCH_BOARD, FOR_BOTH = FOR_VIRTUAL | FOR_BOARD };

static const struct {
    const char *key;
    unsigned kinds;
    bool repeats;
    bool (*take)(const struct setting *setting, struct bench_settings *bench, struct problem *problem);
} keys[] = {
    {"kind", FOR_BOTH, false, take_nothing},           {"standard", FOR_BOTH, false, take_nothing},
    {"screen", FOR_BOTH, false, take_screen},          {"console", FOR_BOTH, false, take_console},
    {"board", FOR_BOARD, false, take_board},           {"baud", FOR_BOARD, false, take_baud},
    {"command", FOR_BOARD, false, take_command},       {"power", FOR_BOARD, false, take_power},
    {"video", FOR_BOARD, false, take_video},           {"seed", FOR_VIRTUAL, false, take_seed},
    {"fault", FOR_VIRTUAL, true, take_fault},          {"noise", FOR_VIRTUAL, false, take_noise},
    {"gain", FOR_VIRTUAL, false, take_gain},           {"offset", FOR_VIRTUAL, false, take_offset},
    {"bandwidth", FOR_VIRTUAL, false, take_bandwidth}, {"left", FOR_VIRTUAL, false, take_left},
};
enum { KEYS = sizeof keys / sizeof keys[0] };
_Static_assert((int)KEYS <= (int)BENCH_KEYS_MAX, "one mark for each key");

static void known_keys(enum bench_kind kind, char *text, size_t size) {
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; i < KEYS && used < size; i++) {
        if ((keys[i].kinds & 1U << kind) != 0) {
            used += (size_t)snprintf(text + used, size - used, "%s%s", used > 0 ? ", " : "", keys[i].key);
        }
    }
}

static bool refuse_key(const struct bench_settings *bench, const struct setting *setting, bool is_known,
                       struct problem *problem) {
    static const char *const kinds[] = {"virtual", "board"};
    char known[200];
    known_keys(bench->kind, known, sizeof known);
    return is_known
               ? setting_refuse(problem, setting,
                                "'%s' is for a bench of kind %s, and this one is of kind %s; correct kind or "
                                "remove the line",
                                setting->key, kinds[1 - bench->kind], kinds[bench->kind])
               : setting_refuse(problem, setting, "unknown key '%s'; a bench of kind %s has %s", setting->key,
                                kinds[bench->kind], known);
}

bool bench_take_key(struct bench_reading *reading, const struct setting *setting, struct problem *problem) {
    for (size_t i = 0; i < KEYS; i++) {
        if (strcasecmp(setting->key, keys[i].key) != 0) {
            continue;
        }
        if ((keys[i].kinds & 1U << reading->bench->kind) == 0) {
            return refuse_key(reading->bench, setting, true, problem);
        }
        if (reading->given[i] && !keys[i].repeats) {
            return setting_refuse(problem, setting, "%s is given twice for this bench; remove one",
                                  keys[i].key);
        }
        reading->given[i] = true;
        return keys[i].take(setting, reading->bench, problem);
    }
    return refuse_key(reading->bench, setting, false, problem);
}
