#include "commands/options.h"

#include "commands/benches.h"
#include "commands/options_table.h"
#include "plan/every.h"
#include "plan/plan_file.h"
#include "rom/rom.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    THREADS_MAX = 64,
    SECONDS_MAX = 10000000,
    REPEATS_MAX = 10000,
    RETRIES_MAX = 100,
    MINUTES_MAX = 100000,
    ROUNDS_MAX = 1000000
};

bool option_is_dash(const char *path) {
    return path != NULL && strcmp(path, "-") == 0;
}

FILE *options_people(const struct options *options) {
    return option_is_dash(options->json) ? stderr : stdout;
}

bool option_number(const char *name, const char *text, uint64_t least, uint64_t most, uint64_t *value,
                   struct problem *problem) {
    char *end = NULL;
    errno = 0;
    unsigned long long number = strtoull(text, &end, 10);
    if (errno != 0 || end == text || *end != '\0' || strchr(text, '-') != NULL || number < least ||
        number > most) {
        return problem_set(problem, PROBLEM_INPUT, "--%s %s: give a whole number from %llu to %llu", name,
                           text, (unsigned long long)least, (unsigned long long)most);
    }
    *value = number;
    return true;
}

static bool set_noise(const char *text, struct options *options, struct problem *problem) {
    char *end = NULL;
    options->noise = strtod(text, &end);
    options->noise_given = true;
    if (end == text || *end != '\0' || !isfinite(options->noise) || options->noise < NOISE_DB_MIN ||
        options->noise > NOISE_DB_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "--noise %s: give decibels from %d to %d", text,
                           NOISE_DB_MIN, NOISE_DB_MAX);
    }
    return true;
}

static bool set_minutes(const char *text, struct options *options, struct problem *problem) {
    char *end = NULL;
    options->minutes_on = strtod(text, &end);
    if (end == text || *end != '\0' || !isfinite(options->minutes_on) || options->minutes_on < 0 ||
        options->minutes_on > MINUTES_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "--on-for %s: give minutes from 0 to %d", text,
                           MINUTES_MAX);
    }
    return true;
}

static bool set_soak(const char *text, struct options *options, struct problem *problem) {
    char *end = NULL;
    options->for_minutes = strtod(text, &end);
    if (end == text || *end != '\0' || !isfinite(options->for_minutes) || options->for_minutes <= 0 ||
        options->for_minutes > MINUTES_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "--for %s: give minutes, more than 0, at most %d", text,
                           MINUTES_MAX);
    }
    return true;
}

static bool set_rounds(const char *text, struct options *options, struct problem *problem) {
    uint64_t rounds = 0;
    if (!option_number("rounds", text, 0, ROUNDS_MAX, &rounds, problem) || rounds == 1) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--rounds %s: give a whole number from 2 to %d, or 0 for until Ctrl-C", text,
                           ROUNDS_MAX);
    }
    options->rounds = (int)rounds;
    options->rounds_given = true;
    return true;
}

static bool add_text(const char *name, const char *text, const char **texts, int *count,
                     struct problem *problem) {
    if (*count == FAULTS_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "--%s %s: at most %d of them at a time", name, text,
                           FAULTS_MAX);
    }
    texts[(*count)++] = text;
    return true;
}

static bool one_of(const char *name, const char *text, const char *first, const char *second,
                   struct problem *problem) {
    if (strcmp(text, first) == 0 || strcmp(text, second) == 0) {
        return true;
    }
    return problem_set(problem, PROBLEM_INPUT, "--%s %s: say %s or %s", name, text, first, second);
}

static bool set_size(const char *text, struct options *options, struct problem *problem) {
    uint64_t number = 0;
    if (!option_number("size", text, 2048, 4096, &number, problem) || (number != 2048 && number != 4096)) {
        return problem_set(problem, PROBLEM_INPUT, "--size %s: say 2048 or 4096", text);
    }
    options->size = (size_t)number;
    return true;
}

static bool set_number(enum option_code code, const char *text, struct options *options,
                       struct problem *problem) {
    const struct {
        enum option_code code;
        const char *name;
        uint64_t least, most;
        int *where;
    } numbers[] = {{CODE_HOLD, "hold", 1, HOLD_MAX, &options->hold},
                   {CODE_LINES, "lines", 1, EVERY_REPEAT_MAX, &options->lines},
                   {CODE_FIELDS, "fields", 2, 100000000, &options->fields},
                   {CODE_BAUD, "baud", BAUD_MIN, BAUD_MAX, &options->baud},
                   {CODE_STEP, "step", 0, UINT8_MAX, &options->step},
                   {CODE_WAIT, "wait", 0, WAIT_MAX_S, &options->wait_s},
                   {CODE_THREADS, "threads", 1, THREADS_MAX, &options->threads},
                   {CODE_PORT, "port", 0, UINT16_MAX, &options->port},
                   {CODE_SECONDS, "seconds", 1, SECONDS_MAX, &options->seconds},
                   {CODE_LAST, "last", 1, 1000000, &options->last},
                   {CODE_REPEATS, "repeats", 1, REPEATS_MAX, &options->repeats},
                   {CODE_RETRIES, "retries", 0, RETRIES_MAX, &options->retries},
                   {CODE_PASSES, "passes", 1, UINT16_MAX, &options->passes},
                   {CODE_PATIENCE, "patience", 1, SECONDS_MAX, &options->patience_s}};
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        uint64_t number = 0;
        if (numbers[i].code != code) {
            continue;
        }
        if (!option_number(numbers[i].name, text, numbers[i].least, numbers[i].most, &number, problem)) {
            return false;
        }
        *numbers[i].where = (int)number;
        return true;
    }
    if (code == CODE_RUN) {
        return option_number("run", text, 1, INT64_MAX, &options->run, problem);
    }
    if (code == CODE_SEED) {
        options->seed_given = true;
        return option_number("seed", text, 0, INT64_MAX, &options->seed, problem);
    }
    return set_size(text, options, problem);
}

static bool set_text(enum option_code code, const char *text, struct options *options) {
    const struct {
        enum option_code code;
        const char **where;
    } texts[] = {{CODE_PLAN, &options->plan},
                 {CODE_BENCH, &options->bench},
                 {CODE_BENCHES, &options->benches},
                 {CODE_JSON, &options->json},
                 {CODE_OUT, &options->out},
                 {CODE_OUTPUT, &options->output},
                 {CODE_LISTING, &options->listing},
                 {CODE_PNG, &options->png},
                 {CODE_CELLS, &options->cells},
                 {CODE_BOARD, &options->board},
                 {CODE_SERIAL, &options->serial},
                 {CODE_SCHEME, &options->scheme},
                 {CODE_AGAINST, &options->against},
                 {CODE_WINDOWS, &options->windows},
                 {CODE_EXPORT, &options->export_to},
                 {CODE_GRABBER, &options->grabber},
                 {CODE_INPUT, &options->input},
                 {CODE_VIDEO, &options->video},
                 {CODE_STORE, &options->store},
                 {CODE_CONSOLE, &options->console},
                 {CODE_STATION, &options->station},
                 {CODE_CARTRIDGE, &options->cartridge},
                 {CODE_REVISION, &options->revision},
                 {CODE_OF_BENCH, &options->of_bench},
                 {CODE_OF_PLAN, &options->of_plan},
                 {CODE_SINCE, &options->since},
                 {CODE_UNTIL, &options->until},
                 {CODE_HTML, &options->html},
                 {CODE_JUNIT, &options->junit},
                 {CODE_JSONL, &options->jsonl},
                 {CODE_CSV, &options->csv},
                 {CODE_SWEEP, &options->sweep},
                 {CODE_SHIP_SERIAL, &options->serial},
                 {CODE_LIMITS, &options->limits},
                 {CODE_LOT, &options->lot},
                 {CODE_READER, &options->reader},
                 {CODE_ITEM, &options->item},
                 {CODE_IMAGE, &options->image}};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        if (texts[i].code == code) {
            *texts[i].where = text;
            return true;
        }
    }
    return false;
}

static bool set_flag(enum option_code code, struct options *options) {
    const struct {
        enum option_code code;
        bool *where;
    } flags[] = {{CODE_BY_EYE, &options->by_eye},
                 {CODE_QUIET, &options->quiet},
                 {CODE_HELP, &options->help},
                 {CODE_RAM, &options->ram},
                 {CODE_FREE, &options->free},
                 {CODE_LOADER, &options->loader},
                 {CODE_WHOLE, &options->whole},
                 {CODE_NO_READ_BACK, &options->no_read_back},
                 {CODE_WRITE, &options->write},
                 {CODE_LOOP, &options->loop},
                 {CODE_AGREED, &options->agreed_to_flashing},
                 {CODE_CALM, &options->calm},
                 {CODE_FLASHES, &options->flashes},
                 {CODE_NO_RECORD, &options->no_record},
                 {CODE_ROBOT, &options->robot},
                 {CODE_ANEW, &options->anew},
                 {CODE_CLEAR, &options->clear},
                 {CODE_AGAIN, &options->again},
                 {CODE_LIST, &options->list},
                 {CODE_NO_PUSH, &options->no_push},
                 {CODE_BYTES_ONLY, &options->bytes_only}};
    for (size_t i = 0; i < sizeof flags / sizeof flags[0]; i++) {
        if (flags[i].code == code) {
            *flags[i].where = true;
            return true;
        }
    }
    return false;
}

static bool set_option(enum option_code code, const char *text, struct options *options,
                       struct problem *problem) {
    if (set_text(code, text, options) || set_flag(code, options)) {
        return true;
    }
    switch (code) {
    case CODE_STANDARD:
        options->standard_given = true;
        return standard_from_name(text, &options->standard) ||
               problem_set(problem, PROBLEM_INPUT, "--standard %s: say ntsc, pal or secam", text);
    case CODE_SCREEN:
        options->screen = text;
        return one_of("screen", text, "watched", "none", problem);
    case CODE_MODE:
        options->mode = text;
        return one_of("mode", text, "copy", "mirror", problem);
    case CODE_FAULT:
        return add_text("fault", text, options->faults, &options->fault_count, problem);
    case CODE_IMPAIR:
        return add_text("impair", text, options->impairments, &options->impairment_count, problem);
    case CODE_PLANS:
        return add_text("plan", text, options->plans, &options->plan_count, problem);
    case CODE_BENCH_NAMES:
        return add_text("bench", text, options->bench_names, &options->bench_count, problem);
    case CODE_GROUP:
        return add_text("group", text, options->groups, &options->group_count, problem);
    case CODE_ROUNDS:
        return set_rounds(text, options, problem);
    case CODE_FOR:
        return set_soak(text, options, problem);
    case CODE_ON_FOR:
        return set_minutes(text, options, problem);
    case CODE_NOISE:
        return set_noise(text, options, problem);
    default:
        return set_number(code, text, options, problem);
    }
}

static bool refuse(int code, char **argv, struct problem *problem) {
    const char *word = argv[optind - 1];
    if (code == ':') {
        return problem_set(problem, PROBLEM_INPUT, "%s: needs a value; see `slotjig %s --help`", word,
                           argv[0]);
    }
    return problem_set(problem, PROBLEM_INPUT, "%s: not an option of `%s`; see `slotjig %s --help`", word,
                       argv[0], argv[0]);
}

/* `--plan drawing FILE` and `--plan drawing:FILE`; the file is the first word that is no option. */
static bool take_drawing(struct options *options, struct problem *problem) {
    const char *const plan = options->plan;
    if (plan == NULL || strncmp(plan, "drawing", 7) != 0 || (plan[7] != '\0' && plan[7] != ':')) {
        return true;
    }
    if (plan[7] == ':') {
        options->drawing = plan + 8;
    } else if (options->operand_count > 0) {
        options->drawing = *options->operands++;
        options->operand_count--;
    }
    if (options->drawing == NULL || options->drawing[0] == '\0') {
        return problem_set(problem, PROBLEM_INPUT,
                           "--plan drawing: name the picture: --plan drawing FILE, or --plan drawing:FILE");
    }
    options->plan = "drawing";
    return true;
}

/* `--plan every:N`: N patterns. */
static bool take_every(struct options *options, struct problem *problem) {
    uint64_t patterns = 0;
    if (options->plan == NULL || strncmp(options->plan, "every:", 6) != 0) {
        return true;
    }
    if (!option_number("plan", options->plan + 6, EVERY_LEAST, 2 * EVERY_VALUES, &patterns, problem)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--plan %.80s: how many patterns? Give every:N, N an even number from %d to %d",
                           options->plan, EVERY_LEAST, 2 * EVERY_VALUES);
    }
    options->plan = "every";
    options->patterns = (int)patterns;
    return true;
}

bool options_plan(struct options *options, struct problem *problem) {
    return take_drawing(options, problem) && take_every(options, problem);
}

static bool is_plan_file(const char *name) {
    if (name != NULL && strcmp(name, "drawing") == 0) {
        return false;
    }
    for (const struct plan_builtin *plan = plan_builtins; name != NULL && plan->name != NULL; plan++) {
        if (strcmp(plan->name, name) == 0) {
            return false;
        }
    }
    return name != NULL;
}

bool options_parse(int argc, char **argv, uint64_t takes, struct options *options, struct problem *problem) {
    struct option longs[OPTION_ROWS_MAX + 1];
    const char *letters = takes & (TAKES_OUTPUT | TAKES_READER) ? ":o:" : ":";
    *options = (struct options){.standard = STANDARD_NTSC,
                                .seed = 1,
                                .step = -1,
                                .wait_s = -1,
                                .threads = -1,
                                .minutes_on = -1,
                                .retries = -1,
                                .wants_board = (takes & TAKES_BOARD) != 0,
                                .wants_reader = (takes & TAKES_READER) != 0};
    options_longs(takes, longs);
    opterr = 0;
    optind = 1;
    for (int code = getopt_long(argc, argv, letters, longs, NULL); code != -1;
         code = getopt_long(argc, argv, letters, longs, NULL)) {
        if (code == '?' || code == ':') {
            return refuse(code, argv, problem);
        }
        if (!set_option((enum option_code)code, optarg, options, problem)) {
            return false;
        }
    }
    options->operands = argv + optind;
    options->operand_count = argc - optind;
    if ((takes & TAKES_PLAN) != 0 && !options_plan(options, problem)) {
        return false;
    }
    if (options->operand_count > 0 && (takes & TAKES_OPERANDS) == 0 && !options->help) {
        return problem_set(problem, PROBLEM_INPUT, "%s: `%s` takes no such word; see `slotjig %s --help`",
                           options->operands[0], argv[0], argv[0]);
    }
    if ((takes & TAKES_PLAN) != 0 && is_plan_file(options->plan) && !options->standard_given) {
        plan_file_standard(options->plan, &options->standard);
    }
    return true;
}
