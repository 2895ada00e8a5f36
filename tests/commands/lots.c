#include "commands/lots.h"

#include "base/scheme.h"
#include "virtual/bench.h"

#include <fcntl.h>
#include <jansson.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

enum { FAULTS_ROOM = 1024, TEXT = 96, CLASSES_MAX = 40, KINDS_MAX = 6, PATH = 600, JOBS_MAX = 16 };

static const int scheme = WIRE_F8;
static const bool with_ram = true;
static const char limits[] = "[ship]\nscheme = F8\nram = yes\nways = console, reader\nproduct = planted\n"
                             "[limits]\naccess_ns = 300\n";

/* What a planted fault may be called: where several hold the same levels at the contacts, any of them. [A] of
 * the faults' definitions (virtual/cart_model.h) */
static const struct {
    const char *begins;
    const char *kinds[KINDS_MAX];
} classes[] = {
    {"cart-open=A", {"address_open", "address_stuck"}},
    {"cart-open=D", {"data_open", "data_stuck"}},
    {"cart-short=A", {"address_shorted"}},
    {"cart-short=D", {"data_shorted"}},
    {"cart-address=", {"address_stuck", "address_open"}},
    {"cart-data=", {"data_stuck", "data_open"}},
    {"cart-slow=", {"slow"}},
    {"cart-byte=", {"byte_wrong"}},
    {"cart-hotspot=", {"hotspot_wrong", "not_switching"}},
    {"cart-also=", {"switches_too"}},
    {"cart-no-ram", {"ram_missing"}},
    {"cart-ram=stuck", {"ram_stuck"}},
    {"cart-ram=transition", {"ram_transition"}},
    {"cart-ram=inversion", {"ram_coupled"}},
    {"cart-ram=idempotent", {"ram_coupled"}},
    {"cart-ram=state", {"ram_coupled"}},
    {"cart-ram=no-cell", {"ram_decoder"}},
    {"cart-ram=other-cell", {"ram_decoder"}},
    {"cart-ram=both-cells", {"ram_decoder"}},
    {"cart-hold=", {"bus_held"}},
    {"cart-release=", {"release_slow"}},
    {"cart-late=", {"wakes_late"}},
    {"cart-loose=", {"contact"}},
};
enum { CLASSES = sizeof classes / sizeof classes[0] };

struct planted {
    char serial[24], fault[TEXT]; /* fault "": a good one */
    int class;
    bool named;
    char first[48];
};

struct work {
    const struct lots_order *order;
    FILE *stream;
    char (*texts)[TEXT];
    int text_count;
    struct planted *all;
    int *exits; /* shared with the processes */
    int wrong;
};

static void complain(struct work *work, const char *what, const struct planted *one) {
    work->wrong++;
    fprintf(work->stream, "seed %llu: %s%s%s%s%s\n", (unsigned long long)work->order->seed, what,
            one ? ": " : "", one ? one->serial : "", one && one->fault[0] ? ", " : "", one ? one->fault : "");
}

/* ---- what is planted ---- */

static uint64_t next(uint64_t *state) { /* xorshift64* [S Vigna 2016], never 0 */
    *state ^= *state >> 12;
    *state ^= *state << 25;
    *state ^= *state >> 27;
    return *state * UINT64_C(2685821657736338717);
}

static int below(uint64_t *state, int count) {
    return (int)((next(state) >> 33) % (uint64_t)count);
}

static int class_of(const char *text) {
    for (int i = 0; i < CLASSES; i++) {
        if (strncmp(text, classes[i].begins, strlen(classes[i].begins)) == 0) {
            return i;
        }
    }
    return -1;
}

/* Each class as likely as the others, and each fault within it. */
static void plant(struct work *work, uint64_t *state, struct planted *one) {
    int *fits = calloc((size_t)work->text_count, sizeof *fits), count = 0;
    while (fits != NULL && count == 0) {
        const int class = below(state, CLASSES);
        for (int i = 0; i < work->text_count; i++) {
            if (class_of(work->texts[i]) == class) {
                fits[count++] = i;
            }
        }
        one->class = class;
    }
    snprintf(one->fault, sizeof one->fault, "%s", work->texts[fits[below(state, count)]]);
    free(fits);
}

static void plant_all(struct work *work) {
    const struct lots_order *order = work->order;
    uint64_t state = order->seed * UINT64_C(0x9E3779B97F4A7C15) + 1;
    while (work->text_count < FAULTS_ROOM &&
           virtual_cartridge_fault_text(scheme, with_ram, (size_t)work->text_count,
                                        work->texts[work->text_count], TEXT)) {
        if (class_of(work->texts[work->text_count]) < 0) {
            fprintf(work->stream, "no class of %s\n", work->texts[work->text_count]);
            work->wrong++;
        }
        work->text_count++;
    }
    for (int i = 0; i < order->count; i++) {
        snprintf(work->all[i].serial, sizeof work->all[i].serial, "P-%05d", i + 1);
    }
    for (int planted = 0; planted < order->faulty;) {
        struct planted *one = &work->all[below(&state, order->count)];
        if (one->fault[0] == '\0') {
            plant(work, &state, one);
            planted++;
        }
    }
}

/* ---- the line ---- */

static int run(const struct work *work, const char *const *words) {
    const char *argv[32] = {BUILD_DIR "/slotjig", "ship"};
    int argc = 2;
    for (; words[argc - 2] != NULL && argc < 31; argc++) {
        argv[argc] = words[argc - 2];
    }
    const pid_t child = fork();
    if (child == 0) {
        char log[PATH];
        snprintf(log, sizeof log, "%s/log", work->order->folder);
        const int file = open(log, O_WRONLY | O_CREAT | O_APPEND, 0600);
        dup2(file, STDOUT_FILENO);
        dup2(file, STDERR_FILENO);
        execv(argv[0], (char *const *)argv);
        _exit(99);
    }
    int status = 0;
    return waitpid(child, &status, 0) == child && WIFEXITED(status) ? WEXITSTATUS(status) : 128;
}

static int test_one(const struct work *work, int index) {
    const struct planted *one = &work->all[index];
    char store[PATH], file[PATH], seed[24];
    snprintf(store, sizeof store, "%s/records.sqlite", work->order->folder);
    snprintf(file, sizeof file, "%s/limits.ini", work->order->folder);
    snprintf(seed, sizeof seed, "%llu",
             (unsigned long long)(work->order->seed * 100000 + (uint64_t)index) % 1000000007);
    const char *words[] = {"--serial", one->serial, "--lot",   "planted",
                           "--limits", file,        "--store", store,
                           "--seed",   seed,        "--quiet", one->fault[0] != '\0' ? "--fault" : NULL,
                           one->fault, NULL};
    return run(work, words);
}

static void test_all(struct work *work) {
    const int jobs = work->order->jobs < 1 ? 1 : work->order->jobs > JOBS_MAX ? JOBS_MAX : work->order->jobs;
    fflush(NULL);
    for (int job = 0; job < jobs; job++) {
        if (fork() == 0) {
            for (int i = job; i < work->order->count; i += jobs) {
                work->exits[i] = test_one(work, i);
            }
            _exit(0);
        }
    }
    while (wait(NULL) > 0) {
    }
    for (int i = 0; i < work->order->count; i++) {
        const struct planted *one = &work->all[i];
        if (work->exits[i] != (one->fault[0] != '\0')) {
            char what[64];
            snprintf(what, sizeof what, "%s, exit %d", one->fault[0] != '\0' ? "not caught" : "a good one",
                     work->exits[i]);
            complain(work, what, one);
        }
    }
}

/* ---- what is on record of it ---- */

static const char *text_of(const json_t *json, const char *key) {
    const char *text = json_string_value(json_object_get(json, key));
    return text != NULL ? text : "";
}

static bool fits(const struct planted *one, const char *kind) {
    static const char prefix[] = "cartridge_";
    for (int i = 0; i < KINDS_MAX && classes[one->class].kinds[i] != NULL; i++) {
        if (strncmp(kind, prefix, sizeof prefix - 1) == 0 &&
            strcmp(kind + sizeof prefix - 1, classes[one->class].kinds[i]) == 0) {
            return true;
        }
    }
    return false;
}

static void look_at_one(struct work *work, const json_t *each, struct planted *one) {
    const char *verdict = text_of(each, "verdict");
    const json_t *findings = json_object_get(each, "findings"), *finding;
    size_t i;
    if (strcmp(text_of(each, "serial"), one->serial) != 0) {
        complain(work, "another serial stands in its place", one);
    }
    if (strcmp(verdict, one->fault[0] != '\0' ? "fail" : "pass") != 0) {
        complain(work, verdict, one);
    }
    snprintf(one->first, sizeof one->first, "%s", text_of(json_array_get(findings, 0), "kind"));
    json_array_foreach(findings, i, finding) {
        one->named = one->named || (one->fault[0] != '\0' && fits(one, text_of(finding, "kind")));
    }
    if (one->fault[0] != '\0' && !one->named) {
        char what[80];
        snprintf(what, sizeof what, "caught, but not named; first is %s",
                 one->first[0] != '\0' ? one->first : "nothing");
        complain(work, what, one);
    }
    if (one->fault[0] == '\0' && json_array_size(findings) > 0) {
        complain(work, "a finding of a good one", one);
    }
}

static void expect_number(struct work *work, const char *what, long long is, long long wanted) {
    if (is != wanted) {
        work->wrong++;
        fprintf(work->stream, "seed %llu: %s is %lld, not %lld\n", (unsigned long long)work->order->seed,
                what, is, wanted);
    }
}

static long long in(const json_t *json, const char *object, const char *key) {
    return json_integer_value(json_object_get(json_object_get(json, object), key));
}

/* How many failed with this named first, by what each of them says. */
static long long firsts(const struct work *work, const char *cause) {
    long long count = 0;
    for (int i = 0; i < work->order->count; i++) {
        count += work->all[i].fault[0] != '\0' && strcmp(work->all[i].first, cause) == 0;
    }
    return count;
}

static void look_at_lot(struct work *work, const json_t *lot) {
    const struct lots_order *order = work->order;
    const json_t *cause;
    size_t i;
    expect_number(work, "cartridges", json_integer_value(json_object_get(lot, "cartridges")), order->count);
    expect_number(work, "tests", json_integer_value(json_object_get(lot, "tests")), order->count);
    expect_number(work, "pass", in(lot, "verdicts", "pass"), order->count - order->faulty);
    expect_number(work, "fail", in(lot, "verdicts", "fail"), order->faulty);
    expect_number(work, "yield, passed", in(lot, "yield", "passed"), order->count - order->faulty);
    expect_number(work, "yield, of", in(lot, "yield", "of"), order->count);
    const json_t *each = json_object_get(lot, "each");
    for (int k = 0; k < order->count; k++) {
        look_at_one(work, json_array_get(each, (size_t)k), &work->all[k]);
    }
    long long sum = 0;
    json_array_foreach(json_object_get(lot, "causes"), i, cause) {
        const long long first = json_integer_value(json_object_get(cause, "first"));
        expect_number(work, text_of(cause, "cause"), first, firsts(work, text_of(cause, "cause")));
        sum += first;
    }
    expect_number(work, "causes in all", sum, order->faulty);
}

/* The page says the same, as a reader of it sees: yield, verdicts, causes, bars. */
static void look_at_page(struct work *work, const char *page, const json_t *lot) {
    const struct lots_order *order = work->order;
    char text[200];
    const json_t *cause;
    size_t i;
    snprintf(text, sizeof text, "data-tested=%d data-passed=%d data-failed=%d ", order->count,
             order->count - order->faulty, order->faulty);
    if (strstr(page, text) == NULL) {
        complain(work, "the page has other numbers", NULL);
    }
    snprintf(text, sizeof text, "<b>%d of %d cartridges passed</b>", order->count - order->faulty,
             order->count);
    if (strstr(page, text) == NULL) {
        complain(work, "the page says another yield", NULL);
    }
    json_array_foreach(json_object_get(lot, "causes"), i, cause) {
        snprintf(text, sizeof text, "data-cause=\"%.80s\" data-first=%lld data-any=%lld>",
                 text_of(cause, "cause"), (long long)json_integer_value(json_object_get(cause, "first")),
                 (long long)json_integer_value(json_object_get(cause, "any")));
        if (strstr(page, text) == NULL) {
            complain(work, text, NULL);
        }
    }
    long long rows = 0;
    for (const char *at = page; (at = strstr(at, "<tr data-tests=1 data-verdict=")) != NULL; at++) {
        rows++;
    }
    expect_number(work, "rows of the page", rows, order->count);
}

static char *read_all(const char *path) {
    FILE *file = fopen(path, "r");
    char *text = NULL;
    size_t size = 0;
    if (file == NULL || getdelim(&text, &size, '\0', file) < 0) {
        free(text);
        text = NULL;
    }
    if (file != NULL) {
        fclose(file);
    }
    return text;
}

static void look(struct work *work) {
    char store[PATH], page[PATH], facts[PATH];
    snprintf(store, sizeof store, "%s/records.sqlite", work->order->folder);
    snprintf(page, sizeof page, "%s/lot.html", work->order->folder);
    snprintf(facts, sizeof facts, "%s/lot.json", work->order->folder);
    const char *words[] = {"--lot", "planted", "--store", store,     "--html",
                           page,    "--json",  facts,     "--quiet", NULL};
    expect_number(work, "the lot's exit", run(work, words), 0);
    json_t *lot = json_load_file(facts, 0, NULL);
    char *text = read_all(page);
    if (lot == NULL || text == NULL) {
        complain(work, "no page or no JSON", NULL);
    } else {
        look_at_lot(work, lot);
        look_at_page(work, text, lot);
    }
    free(text);
    json_decref(lot);
}

/* ---- all of it ---- */

static void tell(const struct work *work) {
    const struct lots_order *order = work->order;
    int caught = 0, named = 0, failed = 0;
    for (int i = 0; i < order->count; i++) {
        const struct planted *one = &work->all[i];
        caught += one->fault[0] != '\0' && work->exits[i] == 1;
        named += one->named;
        failed += one->fault[0] == '\0' && work->exits[i] != 0;
    }
    fprintf(work->stream,
            "seed %llu: %d cartridges, %d faults planted, %d caught, %d named; %d good ones, %d not passed\n",
            (unsigned long long)order->seed, order->count, order->faulty, caught, named,
            order->count - order->faulty, failed);
}

static bool write_limits(const struct lots_order *order) {
    char path[PATH];
    snprintf(path, sizeof path, "%s/limits.ini", order->folder);
    FILE *file = fopen(path, "w");
    const bool good = file != NULL && fputs(limits, file) >= 0;
    return file != NULL && fclose(file) == 0 && good;
}

int lots_test(const struct lots_order *order, FILE *stream) {
    struct work work = {.order = order,
                        .stream = stream,
                        .texts = calloc(FAULTS_ROOM, TEXT),
                        .all = calloc((size_t)order->count, sizeof(struct planted)),
                        .exits = mmap(NULL, (size_t)order->count * sizeof(int), PROT_READ | PROT_WRITE,
                                      MAP_SHARED | MAP_ANONYMOUS, -1, 0)};
    if (work.texts == NULL || work.all == NULL || work.exits == MAP_FAILED || !write_limits(order)) {
        fprintf(stream, "no memory, or no file in %s\n", order->folder);
        return 1;
    }
    plant_all(&work);
    test_all(&work);
    look(&work);
    tell(&work);
    munmap(work.exits, (size_t)order->count * sizeof(int));
    free(work.all);
    free(work.texts);
    return work.wrong;
}
