#include "commands/commands.h"

#include "base/date.h"
#include "base/output.h"
#include "base/stop.h"
#include "commands/image_file.h"
#include "commands/reader_bench.h"
#include "commands/reader_measure.h"
#include "commands/reader_record.h"
#include "commands/setup.h"
#include "commands/ship.h"
#include "record/records.h"
#include "report/json.h"
#include "report/reader_report.h"
#include "verdict/reader.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct job {
    const struct options *options;
    struct bench_settings bench;
    int scheme;
    bool ram;
    uint8_t *image; /* what should be on the cartridge; NULL: not known */
    char what[300]; /* the image's name */
    struct reader_seen seen;
    struct reader_limits limits;
    struct reader_result result;
    uint64_t chip_us;
    char serial[2 * WIRE_SERIAL + 1], firmware[16];
    const char *transport; /* NULL: no reader was opened */
    int64_t started_ms;
    int64_t record; /* 0: none */
};

static int help(void) {
    printf(
        "usage: slotjig reader [--bench NAME | --board CHOICE | --serial DEV]\n"
        "                      --scheme 2K|4K|F8|F6|F4 [--ram] [--image FILE | --plan cartridge]\n"
        "                      [-o FILE] [options]\n\n"
        "Reads the cartridge in a reader's socket: every byte at least twice, compared with the image\n"
        "where one is given; and measures how soon after its address every byte is there, hotspots\n"
        "and their neighbours, how soon it lets the bus go, its RAM, whether it leaves the bus alone\n"
        "while A12 = 0, and how soon it wakes up. Says what is wrong and, as far as the contacts tell,\n"
        "where. Without an image the scheme must be told: it is not guessed.\n\n"
        "A cartridge goes into the socket or out of it only while the reader's supply light is off;\n"
        "the supply is off before this command and after it. Touch something earthed first: static kills.\n"
        "The right way round: a cartridge that is turned gets 5 V where it must not have them.\n\n");
    options_help(TAKES_READER);
    printf(
        "\nexit: 0 pass, 1 fail, 2 wrong usage or input, 3 reader trouble (pulled out in the middle, too),\n"
        "4 inconclusive\n");
    return EXIT_PASS;
}

/* ---- what to compare with ---- */

/* An image that a cartridge was held against is worth more than what was read of one that may be bad. */
static bool spares(const struct options *options, const char *path, struct problem *problem) {
    const char *const worth[] = {options->image, options->benches, options->store};
    return output_spares(path, worth, sizeof worth / sizeof worth[0], problem);
}

static bool check_usage(const struct options *options, struct problem *problem) {
    if (options->image != NULL && options->plan != NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "reader: --image and --plan both say what is on the cartridge; give one");
    }
    if (options->plan != NULL && strcmp(options->plan, "cartridge") != 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "reader: only plan cartridge's image is made for a cartridge under test; write "
                           "another plan's with `slotjig rom -o FILE`, and give --image FILE");
    }
    if (options->cartridge != NULL && !ship_name_good("cartridge", options->cartridge, problem)) {
        return false;
    }
    if (options->station != NULL && !ship_name_good("station", options->station, problem)) {
        return false;
    }
    if (options->output != NULL && options->json != NULL &&
        (strcmp(options->output, options->json) == 0 || output_same(options->output, options->json))) {
        return problem_set(problem, PROBLEM_INPUT, "%s: bytes and result need a file each", options->output);
    }
    return spares(options, options->output, problem) && spares(options, options->json, problem);
}

static bool keep_image(struct job *job, const uint8_t *bytes, size_t size, struct problem *problem) {
    job->image = malloc(size);
    if (job->image == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the image; close other programs");
    }
    memcpy(job->image, bytes, size);
    return true;
}

static bool file_image(struct job *job, struct problem *problem) {
    struct link_image image;
    const struct options *options = job->options;
    if (!image_file_read(options->image, options->scheme, options->ram, &image, problem)) {
        return false;
    }
    job->scheme = (int)image.scheme;
    job->image = (uint8_t *)image.bytes;
    json_clean(options->image, job->what, sizeof job->what);
    return true;
}

/* The bytes that `slotjig rom` gives for the same words. */
static bool plan_image(struct job *job, struct problem *problem) {
    const struct options *options = job->options;
    struct rom_options rom = {0};
    struct plan *plan = NULL;
    struct image *image = NULL;
    const bool good = setup_plan(options, options->standard, &plan, problem) &&
                      setup_hold(plan, true, options, &rom.hold, problem) &&
                      rom_build(plan, &rom, &image, problem);
    if (good) {
        job->scheme = plan->check.scheme;
        snprintf(job->what, sizeof job->what, "plan cartridge");
    }
    const bool kept = good && keep_image(job, image->bytes, image->size, problem);
    if (image != NULL) {
        rom_free(image);
    }
    if (plan != NULL) {
        plan_free(plan);
    }
    return kept;
}

static bool choose_scheme(struct job *job, struct problem *problem) {
    const char *const name = job->options->scheme;
    if (name == NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "reader: which scheme has the cartridge? Give --scheme 2K, 4K, F8, F6 or F4, or "
                           "--image FILE");
    }
    return scheme_from_name(name, &job->scheme) ||
           problem_set(problem, PROBLEM_INPUT, "--scheme %.40s: say 2K, 4K, F8, F6 or F4", name);
}

/* Known before the supply comes on: a store that cannot be written. */
static bool store_ready(const struct options *options, struct problem *problem) {
    struct records *records = NULL;
    if (options->cartridge == NULL) {
        return true;
    }
    const bool good = records_open(options->store, RECORDS_WRITE, &records, problem);
    records_close(records);
    return good;
}

static bool prepare(struct job *job, struct problem *problem) {
    const struct options *options = job->options;
    job->ram = options->ram;
    reader_limits_default(&job->limits);
    const bool known = options->image != NULL  ? file_image(job, problem)
                       : options->plan != NULL ? plan_image(job, problem)
                                               : choose_scheme(job, problem);
    return known && setup_bench(&job->bench, options, problem) && store_ready(options, problem) &&
           output_ready(options->json, problem) && output_ready(options->output, problem) &&
           (options->out == NULL || output_folder(options->out, problem));
}

/* ---- measuring ---- */

static void show_task(void *user, enum wire_task task, int bank) {
    static const char *const texts[WIRE_TASKS] = {
        [WIRE_TASK_READ] = "reading",    [WIRE_TASK_MAP] = "times", [WIRE_TASK_HOTSPOTS] = "hotspots",
        [WIRE_TASK_RELEASE] = "release", [WIRE_TASK_RAM] = "RAM",   [WIRE_TASK_WAKE] = "waking up",
        [WIRE_TASK_QUIET] = "A12 = 0",
    };
    (void)user;
    fprintf(stderr, "\r  %s", texts[task]);
    if (task == WIRE_TASK_MAP) {
        fprintf(stderr, ", bank %d", bank);
    }
    fprintf(stderr, "\033[K");
    fflush(stderr);
}

static void make_order(const struct job *job, struct reader_order *order) {
    const struct options *options = job->options;
    reader_order_all(job->scheme, job->ram, job->image, order);
    order->passes = options->passes > 0 ? (uint32_t)options->passes : order->passes;
    if (options->bytes_only) {
        order->times = order->hotspots = order->release = order->ram_march = order->quiet = order->wake =
            false;
    }
    order->progress = !options->quiet && isatty(STDERR_FILENO) ? show_task : NULL;
}

/* False: reader trouble. A supply that trips is the cartridge's doing, and judged. */
static bool measure(struct job *job, struct problem *problem) {
    struct reader_bench reader;
    struct reader_order order;
    make_order(job, &order);
    bool good = reader_bench_open(&reader, &job->bench, job->scheme, job->ram, job->image, problem);
    if (good) {
        job->transport = reader.transport;
        const struct link_facts *facts = link_facts(reader.link);
        memcpy(job->serial, facts->serial, sizeof job->serial);
        snprintf(job->firmware, sizeof job->firmware, "%d.%d", facts->firmware_major, facts->firmware_minor);
        good = reader_measure(reader.link, &order, &job->seen, &job->chip_us, problem);
    }
    reader_bench_close(&reader);
    if (order.progress != NULL) {
        fprintf(stderr, "\r\033[K");
    }
    return good || job->seen.overload;
}

/* ---- record ---- */

static bool keep_record(struct job *job, const char *trouble, struct problem *problem) {
    const bool is_virtual = job->bench.kind == BENCH_VIRTUAL;
    const struct reader_facts facts = {.bench = job->bench.name,
                                       .way = job->transport,
                                       .serial = job->options->cartridge,
                                       .firmware = job->firmware,
                                       .faults = is_virtual ? &job->bench.faults : NULL,
                                       .seen = &job->seen,
                                       .result = &job->result,
                                       .limits = &job->limits,
                                       .problem = trouble,
                                       .started_ms = job->started_ms,
                                       .took_ms = date_now_ms() - job->started_ms,
                                       .seed = job->bench.options.seed,
                                       .has_seed = is_virtual};
    return job->options->cartridge == NULL || job->transport == NULL ||
           reader_record_keep(&facts, job->options, &job->record, problem);
}

/* ---- telling ---- */

static bool write_json(const struct job *job, int status, const char *trouble, struct problem *problem) {
    const struct options *options = job->options;
    if (options->json == NULL) {
        return true;
    }
    json_t *json = json_pack("{s:s,s:s,s:i,s:s,s:b}", "command", "reader", "bench", job->bench.name, "exit",
                             status, "scheme", scheme_name(job->scheme), "ram", job->ram);
    json_object_set_new(json, "image", job->image != NULL ? json_text(job->what) : json_null());
    json_object_set_new(json, "transport",
                        job->transport != NULL ? json_string(job->transport) : json_null());
    json_object_set_new(json, "serial", job->serial[0] != '\0' ? json_string(job->serial) : json_null());
    json_object_set_new(json, "faults", json_texts(&job->bench.faults));
    json_object_set_new(json, "seed",
                        job->bench.kind == BENCH_VIRTUAL ? json_integer((json_int_t)job->bench.options.seed)
                                                         : json_null());
    json_object_set_new(json, "chip_ms", json_real((double)job->chip_us / 1000));
    json_object_set_new(json, "reader",
                        trouble == NULL ? reader_json(&job->result, &job->limits) : json_null());
    json_object_set_new(json, "record", job->record != 0 ? json_integer(job->record) : json_null());
    json_object_set_new(json, "problem", trouble != NULL ? json_text(trouble) : json_null());
    return json_write(json, options->json, problem);
}

static void tell(const struct job *job) {
    FILE *stream = options_people(job->options);
    if (job->options->quiet) {
        return;
    }
    fprintf(stream, "%s  reader %s (%s): %s%s, %s; %.1f ms of its time\n", verdict_name(job->result.verdict),
            job->serial, job->transport, scheme_name(job->scheme), job->ram ? " with RAM" : "",
            job->image != NULL ? job->what : "no image to compare with", (double)job->chip_us / 1000);
    reader_terminal(stream, &job->result, &job->limits);
    if (job->record != 0) {
        fprintf(stream, "record: run %lld, cartridge %s\n", (long long)job->record, job->options->cartridge);
    }
}

static size_t unsteady_bytes(const struct job *job) {
    size_t count = 0;
    for (size_t i = 0; i < scheme_bytes(job->scheme); i++) {
        count += job->seen.unsteady[i] != 0;
    }
    return count;
}

static bool write_bytes(const struct job *job, struct problem *problem) {
    const char *const path = job->options->output;
    if (path == NULL || !job->seen.has_bytes) {
        return true;
    }
    if (!output_write(path, job->seen.bytes, scheme_bytes(job->scheme), problem)) {
        return false;
    }
    const size_t unsteady = unsteady_bytes(job);
    if (unsteady > 0 && !job->options->quiet) {
        fprintf(stderr, "%s: %zu bytes were not the same each time; written is the first reading\n", path,
                unsteady);
    }
    return true;
}

static bool write_all(const struct job *job, int status, struct problem *problem) {
    const struct options *options = job->options;
    return write_bytes(job, problem) &&
           (options->out == NULL ||
            reader_write(&job->seen, job->image, &job->result, &job->limits,
                         job->image != NULL ? job->what : scheme_name(job->scheme), options->out, problem)) &&
           write_json(job, status, NULL, problem);
}

/* What was lost is told, and kept. */
static int end_in_trouble(struct job *job, const struct problem *trouble) {
    struct problem problem;
    const int status = command_refuse(trouble);
    if (!keep_record(job, trouble->text, &problem) || !write_json(job, status, trouble->text, &problem)) {
        command_refuse(&problem);
    }
    return status;
}

static int carry_out(struct job *job, struct problem *problem) {
    job->started_ms = date_now_ms();
    stop_catch(); /* the supply is switched off, and what became of it is kept */
    const bool measured = measure(job, problem);
    stop_release();
    if (!measured) {
        return end_in_trouble(job, problem);
    }
    reader_judge(&job->seen, job->image, &job->limits, &job->result);
    const int status = verdict_exit(job->result.verdict);
    const bool kept = keep_record(job, NULL, problem);
    tell(job);
    return kept && write_all(job, status, problem) ? status : command_refuse(problem);
}

int command_reader(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    if (!options_parse(argc, argv, TAKES_READER, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    struct job *job = calloc(1, sizeof *job);
    if (job == NULL) {
        problem_set(&problem, PROBLEM_BENCH, "out of memory; close other programs");
        return command_refuse(&problem);
    }
    job->options = &options;
    const bool good = check_usage(&options, &problem) && prepare(job, &problem);
    const int status = good ? carry_out(job, &problem) : command_refuse(&problem);
    free(job->image);
    free(job);
    return status;
}
