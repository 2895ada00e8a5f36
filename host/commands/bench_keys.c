#include "commands/bench_keys.h"

#include "base/utf8.h"
#include "commands/options.h"
#include "link/command.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

const char *bench_kind_name(enum bench_kind kind) {
    static const char *const names[BENCH_KINDS] = {
        [BENCH_VIRTUAL] = "virtual", [BENCH_BOARD] = "board", [BENCH_READER] = "reader"};
    return names[kind];
}

bool bench_take_kind(const struct setting *setting, enum bench_kind *kind, struct problem *problem) {
    for (int i = 0; i < BENCH_KINDS; i++) {
        if (strcasecmp(setting->value, bench_kind_name((enum bench_kind)i)) == 0) {
            *kind = (enum bench_kind)i;
            return true;
        }
    }
    return setting_refuse(
        problem, setting,
        "kind = %s; there are board (in a real console), reader (of cartridges) and virtual", setting->value);
}

bool bench_take_standard(const struct setting *setting, enum standard *standard, struct problem *problem) {
    return standard_from_name(setting->value, standard) ||
           setting_refuse(problem, setting, "standard = %s; there are ntsc, pal and secam", setting->value);
}

bool bench_take_grabber(const struct setting *setting, struct bench_settings *bench,
                        struct problem *problem) {
    struct problem why;
    return virtual_use_set(&bench->options, setting->value, &why) ||
           setting_refuse(problem, setting, "%s", why.text);
}

bool bench_check_keys(const struct bench_settings *bench, const struct setting *section,
                      struct problem *problem) {
    const struct bench_video *video = &bench->video;
    if (!video->rf && (video->channel[0] != '\0' || video->frequency_mhz > 0)) {
        return setting_refuse(
            problem, section,
            "bench %s: channel and frequency are a tuner's; add signal = rf, or remove them", bench->name);
    }
    return true;
}

/* ---- every bench ---- */

/* Done by the first reading, for other settings follow from it. */
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

/* What records are found by: a text that would have to be changed to be kept is refused. */
static bool take_label(const struct setting *setting, char text[BENCH_TEXT_MAX], struct problem *problem) {
    if (*setting->value != '\0' && !utf8_is_name(setting->value)) {
        return setting_refuse(problem, setting,
                              "%s has control or hidden characters, or is not UTF-8; write it as plain text",
                              setting->key);
    }
    if (strlen(setting->value) >= BENCH_TEXT_MAX) {
        return setting_refuse(problem, setting, "%s is longer than %d bytes; shorten it", setting->key,
                              BENCH_TEXT_MAX - 1);
    }
    return take_text(setting, text, problem);
}

static bool take_console(const struct setting *setting, struct bench_settings *bench,
                         struct problem *problem) {
    return take_label(setting, bench->console, problem);
}

static bool take_revision(const struct setting *setting, struct bench_settings *bench,
                          struct problem *problem) {
    return take_label(setting, bench->revision, problem);
}

static bool take_markings(const struct setting *setting, struct bench_settings *bench,
                          struct problem *problem) {
    return take_label(setting, bench->markings, problem);
}

static bool take_modifications(const struct setting *setting, struct bench_settings *bench,
                               struct problem *problem) {
    return take_label(setting, bench->modifications, problem);
}

static bool take_station(const struct setting *setting, struct bench_settings *bench,
                         struct problem *problem) {
    return take_label(setting, bench->station, problem);
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
    const char *colon = strchr(setting->value, ':');
    if (strcasecmp(setting->value, "none") == 0) {
        return true;
    }
    if (colon == NULL || colon == setting->value || colon[1] == '\0' || *setting->value == '/') {
        return setting_refuse(problem, setting,
                              "video = %s; say v4l2:/dev/video0 for a device, KIND:NAME for one of another "
                              "kind, file:PATH for a recording, or none",
                              setting->value);
    }
    return take_text(setting, bench->video.where, problem);
}

static bool take_word(const struct setting *setting, char word[BENCH_WORD_MAX], struct problem *problem) {
    char text[BENCH_TEXT_MAX];
    if (!take_text(setting, text, problem)) {
        return false;
    }
    if (strlen(text) >= BENCH_WORD_MAX) {
        return setting_refuse(problem, setting, "%s is longer than %d characters; shorten it", setting->key,
                              BENCH_WORD_MAX - 1);
    }
    snprintf(word, BENCH_WORD_MAX, "%.*s", BENCH_WORD_MAX - 1, text);
    return true;
}

static bool take_input(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    return take_word(setting, bench->video.input, problem);
}

static bool take_pixel(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    return take_word(setting, bench->video.pixel, problem);
}

static bool take_channel(const struct setting *setting, struct bench_settings *bench,
                         struct problem *problem) {
    return take_word(setting, bench->video.channel, problem);
}

static bool take_size(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    enum { SIDE_MIN = 64, SIDE_MAX = 4096 };
    int width = 0, height = 0, end = 0;
    if (sscanf(setting->value, "%5dx%5d%n", &width, &height, &end) != 2 || setting->value[end] != '\0' ||
        width < SIDE_MIN || width > SIDE_MAX || height < SIDE_MIN || height > SIDE_MAX) {
        return setting_refuse(problem, setting, "size = %s; give width and height, as in 720x480",
                              setting->value);
    }
    bench->video.width = width;
    bench->video.height = height;
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

static bool take_wait(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    return take_number(setting, 0, WAIT_MAX_S, &bench->video.wait_s, problem);
}

static bool take_signal(const struct setting *setting, struct bench_settings *bench,
                        struct problem *problem) {
    const bool rf = strcasecmp(setting->value, "rf") == 0;
    if (!rf && strcasecmp(setting->value, "composite") != 0) {
        return setting_refuse(problem, setting, "signal = %s; say composite, or rf where a tuner is between",
                              setting->value);
    }
    bench->video.rf = rf;
    return true;
}

/* From the lowest channel of the lowest band to the highest of the highest, with room: 45.75 MHz and 855.25
 * MHz [P]. */
static bool take_frequency(const struct setting *setting, struct bench_settings *bench,
                           struct problem *problem) {
    return take_number(setting, 40, 900, &bench->video.frequency_mhz, problem);
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

static bool take_noise(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    return take_number(setting, NOISE_DB_MIN, NOISE_DB_MAX, &bench->options.grabber.noise_db, problem);
}

static bool take_gain(const struct setting *setting, struct bench_settings *bench, struct problem *problem) {
    return take_number(setting, 0.01, 4, &bench->options.grabber.gain, problem);
}

static bool take_offset(const struct setting *setting, struct bench_settings *bench,
                        struct problem *problem) {
    return take_number(setting, -1, 1, &bench->options.grabber.offset, problem);
}

static bool take_impairment(const struct setting *setting, struct bench_settings *bench,
                            struct problem *problem) {
    struct problem why;
    return virtual_add_impairment(&bench->options, setting->value, &why) ||
           setting_refuse(problem, setting, "%s", why.text);
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

enum {
    FOR_VIRTUAL = 1 << BENCH_VIRTUAL,
    FOR_BOARD = 1 << BENCH_BOARD,
    FOR_READER = 1 << BENCH_READER,
    FOR_BOTH = FOR_VIRTUAL | FOR_BOARD, /* that have a console */
    FOR_WIRE = FOR_BOARD | FOR_READER,
    FOR_ALL = FOR_BOTH | FOR_READER
};

static const struct {
    const char *key;
    unsigned kinds;
    bool repeats;
    bool (*take)(const struct setting *setting, struct bench_settings *bench, struct problem *problem);
} keys[] = {
    {"kind", FOR_ALL, false, take_nothing},
    {"standard", FOR_BOTH, false, take_nothing},
    {"screen", FOR_BOTH, false, take_screen},
    {"console", FOR_BOTH, false, take_console},
    {"revision", FOR_BOTH, false, take_revision},
    {"markings", FOR_BOTH, false, take_markings},
    {"modifications", FOR_BOTH, false, take_modifications},
    {"station", FOR_ALL, false, take_station},
    {"board", FOR_WIRE, false, take_board},
    {"baud", FOR_WIRE, false, take_baud},
    {"command", FOR_BOARD, false, take_command},
    {"power", FOR_BOARD, false, take_power},
    {"video", FOR_BOARD, false, take_video},
    {"input", FOR_BOARD, false, take_input},
    {"size", FOR_BOARD, false, take_size},
    {"pixel", FOR_BOARD, false, take_pixel},
    {"wait", FOR_BOARD, false, take_wait},
    {"signal", FOR_BOARD, false, take_signal},
    {"channel", FOR_BOARD, false, take_channel},
    {"frequency", FOR_BOARD, false, take_frequency},
    {"seed", FOR_VIRTUAL, false, take_seed},
    {"grabber", FOR_VIRTUAL, false, take_nothing},
    {"impair", FOR_VIRTUAL, true, take_impairment},
    {"fault", FOR_VIRTUAL, true, take_fault},
    {"noise", FOR_VIRTUAL, false, take_noise},
    {"gain", FOR_VIRTUAL, false, take_gain},
    {"offset", FOR_VIRTUAL, false, take_offset},
    {"bandwidth", FOR_VIRTUAL, false, take_bandwidth},
    {"left", FOR_VIRTUAL, false, take_left},
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

/* "board or reader" */
static void kinds_text(unsigned kinds, char *text, size_t size) {
    size_t used = 0;
    for (int i = 0; i < BENCH_KINDS && used < size; i++) {
        if ((kinds & 1U << i) != 0) {
            used += (size_t)snprintf(text + used, size - used, "%s%s", used > 0 ? " or " : "",
                                     bench_kind_name((enum bench_kind)i));
        }
    }
}

/* kinds: that have the key; 0: no bench has it. */
static bool refuse_key(const struct bench_settings *bench, const struct setting *setting, unsigned kinds,
                       struct problem *problem) {
    char known[400], others[40];
    kinds_text(kinds, others, sizeof others);
    known_keys(bench->kind, known, sizeof known);
    return kinds != 0
               ? setting_refuse(problem, setting,
                                "'%s' is for a bench of kind %s, and this one is of kind %s; correct kind or "
                                "remove the line",
                                setting->key, others, bench_kind_name(bench->kind))
               : setting_refuse(problem, setting, "unknown key '%s'; a bench of kind %s has %s", setting->key,
                                bench_kind_name(bench->kind), known);
}

/* What a report tells of a virtual bench: faults and impairments as they were spelled. */
static bool say_key(size_t key, const struct setting *setting, struct bench_settings *bench,
                    struct problem *problem) {
    char text[BENCH_TEXT_MAX];
    const bool fault = keys[key].take == take_fault, impairment = keys[key].take == take_impairment;
    if (keys[key].kinds != FOR_VIRTUAL || keys[key].take == take_seed || keys[key].take == take_nothing) {
        return true;
    }
    snprintf(text, sizeof text, "%s%s%s", fault || impairment ? "" : keys[key].key,
             fault || impairment ? "" : "=", setting->value);
    return texts_add(fault ? &bench->faults : &bench->impairments, text) ||
           setting_refuse(problem, setting, "more than a bench can have; remove some");
}

bool bench_take_key(struct bench_reading *reading, const struct setting *setting, struct problem *problem) {
    for (size_t i = 0; i < KEYS; i++) {
        if (strcasecmp(setting->key, keys[i].key) != 0) {
            continue;
        }
        if ((keys[i].kinds & 1U << reading->bench->kind) == 0) {
            return refuse_key(reading->bench, setting, keys[i].kinds, problem);
        }
        if (reading->given[i] && !keys[i].repeats) {
            return setting_refuse(problem, setting, "%s is given twice for this bench; remove one",
                                  keys[i].key);
        }
        reading->given[i] = true;
        return keys[i].take(setting, reading->bench, problem) && say_key(i, setting, reading->bench, problem);
    }
    return refuse_key(reading->bench, setting, 0, problem);
}
