/*
 * The store of records at 10^3, 10^4 and 10^5 runs of 100 steps on 100 consoles: writing, the history of one
 * console, its comparison against a baseline, and bytes beside the information in them
 * (record/information.h). Peers, in the same run: rows of the same bytes put by SQLite alone.
 *
 * SLOTJIG_PERF_RUNS: another largest number. The store is in a folder under TMPDIR that is removed.
 */
#include "record/records.h"
#include "commands/baseline_differ.h"
#include "record/folder.h"
#include "record/information.h"
#include "record/invented.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

enum {
    CONSOLES = 100,
    STEPS = 100,
    REPEATS = 10,
    CHUNK = CONSOLES * REPEATS, /* runs invented at a time */
    BATCH = 100,
    SINGLE = 200,
    TIMES = 7, /* queries, of which the median counts */
    BASELINE = 10,
    LATEST = 20,
    ROW_BYTES = 64 /* of a run without its steps, for the peer */
};
#define DAY_MS 86400000

static double now(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

/* Seconds of the clock, and of this process. */
struct cost {
    double clock, processor;
};

static struct cost cost_now(void) {
    struct timespec time;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &time);
    return (struct cost){now(), (double)time.tv_sec + (double)time.tv_nsec / 1e9};
}

static struct cost cost_since(struct cost begin) {
    const struct cost end = cost_now();
    return (struct cost){end.clock - begin.clock, end.processor - begin.processor};
}

static void must(bool good, const struct problem *problem) {
    if (!good) {
        fprintf(stderr, "%s\n", problem->text);
        exit(1);
    }
}

static double file_bytes(const char *path) {
    struct stat facts;
    return stat(path, &facts) == 0 ? (double)facts.st_size : 0;
}

/* The next runs of each console, days after those before. */
static struct invented *chunk_of(size_t number) {
    struct invented *invented = invented_new(1 + number, CONSOLES, STEPS, REPEATS);
    for (size_t i = 0; i < CHUNK; i++) {
        struct record_run *run = invented->runs.runs[i];
        run->seed = number * CHUNK + i;
        run->started_ms += (int64_t)number * REPEATS * DAY_MS;
        run->took_ms += (int64_t)(run->seed * 2654435761u % 1000);
    }
    return invented;
}

static double put_chunk(struct records *records, const struct invented *invented) {
    struct problem problem;
    const double begin = now();
    for (size_t i = 0; i < CHUNK; i += BATCH) {
        must(records_begin(records, &problem), &problem);
        for (size_t j = i; j < i + BATCH; j++) {
            must(records_put(records, invented->runs.runs[j], &problem), &problem);
        }
        must(records_end(records, &problem), &problem);
    }
    return now() - begin;
}

static int ascending(const void *a, const void *b) {
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Medians of a query; the store is opened anew, as a command does. */
static struct cost query(const char *path, void (*what)(struct records *records, struct cost *cost)) {
    double clock[TIMES], processor[TIMES];
    for (int i = 0; i < TIMES; i++) {
        struct records *records;
        struct problem problem;
        struct cost cost;
        must(records_open(path, RECORDS_READ, &records, &problem), &problem);
        what(records, &cost);
        records_close(records);
        clock[i] = cost.clock;
        processor[i] = cost.processor;
    }
    qsort(clock, TIMES, sizeof *clock, ascending);
    qsort(processor, TIMES, sizeof *processor, ascending);
    return (struct cost){clock[TIMES / 2], processor[TIMES / 2]};
}

#define CONSOLE "shelf 42"

static void list_of(struct records *records, unsigned parts, struct cost *cost) {
    struct problem problem;
    struct record_list list;
    const struct records_choice choice = {.console = CONSOLE, .with_trouble = true};
    const struct cost begin = cost_now();
    must(records_select(records, &choice, parts, &list, &problem), &problem);
    *cost = cost_since(begin);
    record_list_free(&list);
}
static void history_list(struct records *records, struct cost *cost) {
    list_of(records, 0, cost);
}
static void history_steps(struct records *records, struct cost *cost) {
    list_of(records, RECORDS_STEPS | RECORDS_FINDINGS, cost);
}

static void history_latest(struct records *records, struct cost *cost) {
    struct problem problem;
    struct record_list list;
    const struct records_choice choice = {.last = LATEST, .with_trouble = true};
    const struct cost begin = cost_now();
    must(records_select(records, &choice, 0, &list, &problem), &problem);
    *cost = cost_since(begin);
    record_list_free(&list);
}

static void history_consoles(struct records *records, struct cost *cost) {
    struct problem problem;
    struct record_consoles list;
    const struct cost begin = cost_now();
    must(records_consoles(records, &list, &problem), &problem);
    *cost = cost_since(begin);
    record_consoles_free(&list);
}

/* As the command does it. last: of the console's runs. */
static void compare_last(struct records *records, int last, struct cost *cost) {
    struct problem problem;
    struct baseline_differ result;
    const struct baseline_now which = {.console = CONSOLE, .plan = "bits", .last = last};
    const struct cost begin = cost_now();
    must(baseline_differ(records, &which, &result, &problem), &problem);
    *cost = cost_since(begin);
    baseline_differ_free(&result);
}
static void compare_ten(struct records *records, struct cost *cost) {
    compare_last(records, 10, cost);
}
static void compare_all(struct records *records, struct cost *cost) {
    compare_last(records, 1000000, cost);
}

static const struct {
    const char *name;
    void (*what)(struct records *records, struct cost *cost);
    bool all; /* reads all runs of the console: a hundredth of the store's */
} queries[] = {
    {"history_latest_20", history_latest, false}, {"history_consoles", history_consoles, false},
    {"history_of_console", history_list, true},   {"history_of_console_with_steps", history_steps, true},
    {"compare_last_10", compare_ten, false},      {"compare_all", compare_all, true}};
enum { QUERIES = sizeof queries / sizeof *queries };

/* first: those of the smallest store. Growth is the processor's, on which other programs tell least. */
static void measure_queries(const char *path, size_t runs, struct cost *first) {
    for (int i = 0; i < QUERIES; i++) {
        const struct cost cost = query(path, queries[i].what);
        printf("records_%s_of_%zu %.2f ms\n", queries[i].name, runs, 1e3 * cost.clock);
        printf("records_%s_of_%zu_processor %.2f ms\n", queries[i].name, runs, 1e3 * cost.processor);
        if (queries[i].all) {
            printf("records_%s_of_%zu_a_run %.1f us\n", queries[i].name, runs,
                   1e6 * cost.processor * CONSOLES / (double)runs);
        }
        if (runs == CHUNK) {
            first[i] = cost;
        } else {
            printf("records_%s_growth_from_%d_to_%zu %.1f times\n", queries[i].name, CHUNK, runs,
                   cost.processor / first[i].processor);
        }
    }
    fflush(stdout);
}

static void set_baseline(struct records *records, const struct invented *invented) {
    struct problem problem;
    int64_t ids[BASELINE];
    size_t count = 0;
    for (size_t i = 0; i < CHUNK && count < BASELINE; i++) {
        const struct record_run *run = invented->runs.runs[i];
        if (strcmp(run->console.name, CONSOLE) == 0) {
            ids[count++] = run->id;
        }
    }
    must(records_baseline_set(records, CONSOLE, NULL, ids, count, &problem), &problem);
}

/* What SQLite takes for rows of so many bytes, a run in two rows, with an index on one of them. */
struct peer {
    sqlite3 *db;
    sqlite3_stmt *begin, *run, *steps, *commit;
};

static void peer_open(struct peer *peer, const char *path) {
    const char *made = "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;"
                       "CREATE TABLE runs (id INTEGER PRIMARY KEY, console INTEGER, bytes BLOB);"
                       "CREATE INDEX runs_by_console ON runs (console, id);"
                       "CREATE TABLE steps (run INTEGER PRIMARY KEY, bytes BLOB);";
    if (sqlite3_open(path, &peer->db) != SQLITE_OK ||
        sqlite3_exec(peer->db, made, NULL, NULL, NULL) != SQLITE_OK ||
        sqlite3_prepare_v2(peer->db, "BEGIN IMMEDIATE", -1, &peer->begin, NULL) != SQLITE_OK ||
        sqlite3_prepare_v2(peer->db, "INSERT INTO runs VALUES (?, ?, ?)", -1, &peer->run, NULL) !=
            SQLITE_OK ||
        sqlite3_prepare_v2(peer->db, "INSERT INTO steps VALUES (?, ?)", -1, &peer->steps, NULL) !=
            SQLITE_OK ||
        sqlite3_prepare_v2(peer->db, "COMMIT", -1, &peer->commit, NULL) != SQLITE_OK) {
        fprintf(stderr, "%s\n", sqlite3_errmsg(peer->db));
        exit(1);
    }
}

static void peer_step(sqlite3_stmt *statement) {
    if (sqlite3_step(statement) != SQLITE_DONE) {
        exit(1);
    }
    sqlite3_reset(statement);
}

static double peer_put(struct peer *peer, size_t from, size_t count, size_t batch, const void *bytes,
                       int size) {
    const double begin = now();
    for (size_t i = from; i < from + count; i++) {
        if (i % batch == 0) {
            peer_step(peer->begin);
        }
        sqlite3_bind_int64(peer->run, 2, (int64_t)(i % CONSOLES));
        sqlite3_bind_blob(peer->run, 3, bytes, ROW_BYTES, SQLITE_STATIC);
        peer_step(peer->run);
        sqlite3_bind_int64(peer->steps, 1, (int64_t)i + 1);
        sqlite3_bind_blob(peer->steps, 2, bytes, size - ROW_BYTES, SQLITE_STATIC);
        peer_step(peer->steps);
        if (i % batch == batch - 1) {
            peer_step(peer->commit);
        }
    }
    return now() - begin;
}

static void peer_close(struct peer *peer) {
    sqlite3_finalize(peer->begin);
    sqlite3_finalize(peer->run);
    sqlite3_finalize(peer->steps);
    sqlite3_finalize(peer->commit);
    sqlite3_close(peer->db);
}

/* Batches and single puts, ours and SQLite's by turns. */
static void measure_puts(const struct folder *folder, int run_bytes) {
    char path[FOLDER_PATH_MAX], peer_path[FOLDER_PATH_MAX];
    struct records *records;
    struct problem problem;
    struct peer peer;
    double ours = 0, theirs = 0, single = 0, their_single = 0;
    uint8_t *bytes = malloc((size_t)run_bytes);
    uint64_t random = 1;
    for (int i = 0; bytes != NULL && i < run_bytes; i++) {
        bytes[i] = (uint8_t)(256 * invented_uniform(&random));
    }
    folder_path(folder, "puts.sqlite", path);
    folder_path(folder, "peer.sqlite", peer_path);
    must(records_open(path, RECORDS_WRITE, &records, &problem), &problem);
    peer_open(&peer, peer_path);
    enum { CHUNKS = 6 };
    for (size_t chunk = 0; chunk < CHUNKS; chunk++) {
        struct invented *invented = chunk_of(chunk);
        ours += put_chunk(records, invented);
        theirs += peer_put(&peer, chunk * CHUNK, CHUNK, BATCH, bytes, run_bytes);
        invented_free(invented);
    }
    struct invented *invented = chunk_of(CHUNKS);
    for (size_t i = 0; i < SINGLE; i++) {
        const double begin = now();
        must(records_put(records, invented->runs.runs[i], &problem), &problem);
        single += now() - begin;
        their_single += peer_put(&peer, (size_t)CHUNKS * CHUNK + i, 1, 1, bytes, run_bytes);
    }
    invented_free(invented);
    records_close(records);
    peer_close(&peer);
    free(bytes);
    folder_remove_store(path);
    folder_remove_store(peer_path);
    printf("records_put_batches_of_%d %.0f runs/s\n", BATCH, CHUNKS * CHUNK / ours);
    printf("records_put_batches_of_%d_sqlite_alone %.0f runs/s\n", BATCH, CHUNKS * CHUNK / theirs);
    printf("records_put_single %.0f runs/s\n", SINGLE / single);
    printf("records_put_single_sqlite_alone %.0f runs/s\n", SINGLE / their_single);
}

static int measure_store(const char *path, size_t most) {
    struct cost first[QUERIES] = {0};
    double seconds = 0;
    size_t next = CHUNK, runs = 0;
    struct records *records;
    struct problem problem;
    struct information *information = information_new();
    must(records_open(path, RECORDS_WRITE, &records, &problem), &problem);
    while (runs < most) {
        struct invented *invented = chunk_of(runs / CHUNK);
        seconds += put_chunk(records, invented);
        for (size_t i = 0; i < CHUNK; i++) {
            information_add(information, invented->runs.runs[i]);
        }
        if (runs == 0) {
            set_baseline(records, invented);
        }
        invented_free(invented);
        runs += CHUNK;
        if (runs == next || runs == most) {
            measure_queries(path, runs, first);
            next *= 10;
        }
    }
    records_close(records);
    const double bytes = file_bytes(path) / (double)runs;
    const double known = information_bytes(information) / (double)runs;
    printf("records_put_%zu_in_batches %.0f runs/s\n", runs, (double)runs / seconds);
    printf("records_bytes_a_run %.1f bytes\n", bytes);
    printf("records_information_a_run %.1f bytes\n", known);
    printf("records_information_of_its_steps %.1f bytes\n",
           information_step_bytes(information) / (double)runs);
    printf("records_bytes_over_information %.3f times\n", bytes / known);
    information_free(information);
    return (int)bytes;
}

int main(void) {
    struct folder folder;
    char path[FOLDER_PATH_MAX];
    const char *told = getenv("SLOTJIG_PERF_RUNS");
    const size_t most = told != NULL ? (size_t)atol(told) : 100000;
    folder_make(&folder, "slotjig-perf");
    folder_path(&folder, "records.sqlite", path);
    const int run_bytes = measure_store(path, most < CHUNK ? CHUNK : most - most % CHUNK);
    folder_remove_store(path);
    measure_puts(&folder, run_bytes);
    folder_remove(&folder);
    return 0;
}
