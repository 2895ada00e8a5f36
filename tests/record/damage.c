#include "record/damage.h"

#include "record/records.h"
#include "record/same.h"

#include <assert.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

const char *const damage_kind_names[DAMAGE_KINDS] = {"bits",     "cut",      "page",
                                                     "a column", "WAL bits", "WAL cut"};

enum { WAIT_S = 60 };

struct file {
    unsigned char *bytes;
    size_t size;
};
struct damage {
    const struct filling *filling;
    const struct folder *folder;
    struct file closed, left, wal; /* all in the database; part of it in a WAL */
};

/* All runs, a sweep and a baseline; the last runs are left in the WAL where it is not closed. */
static bool write_store(const struct filling *filling, const char *path, bool close_it) {
    struct problem problem;
    struct records *records;
    int64_t ids[3];
    bool good = records_open(path, RECORDS_WRITE, &records, &problem);
    good = good && records_sweep_put(records, &filling->invented->sweep, &problem);
    for (size_t i = 0; good && i < FILLING_AFTERWARDS; i++) {
        if (i == FILLING_OTHER) {
            records_close(records);
            good = records_open(path, RECORDS_WRITE, &records, &problem);
        }
        good = good && records_put(records, filling_run(filling, i), &problem);
        if (i < 3) {
            ids[i] = filling_run(filling, i)->id;
        }
    }
    good =
        good && records_baseline_set(records, filling_run(filling, 0)->console.name, NULL, ids, 3, &problem);
    if (!good) {
        fprintf(stderr, "%s\n", problem.text);
    }
    if (close_it) {
        records_close(records);
    }
    return good;
}

static bool make(const struct filling *filling, const char *path, bool close_it) {
    int status = 1;
    folder_remove_store(path);
    fflush(NULL);
    const pid_t child = fork();
    if (child == 0) {
        _exit(write_store(filling, path, close_it) ? 0 : 1);
    }
    return waitpid(child, &status, 0) == child && status == 0;
}

struct damage *damage_new(const struct filling *filling, const struct folder *folder) {
    char path[FOLDER_PATH_MAX], wal[FOLDER_PATH_MAX + 8];
    struct damage *damage = calloc(1, sizeof *damage);
    assert(damage != NULL);
    *damage = (struct damage){.filling = filling, .folder = folder};
    folder_path(folder, "whole", path);
    snprintf(wal, sizeof wal, "%s-wal", path);
    bool made = make(filling, path, true);
    damage->closed.bytes = folder_read(path, &damage->closed.size);
    made = made && make(filling, path, false);
    damage->left.bytes = folder_read(path, &damage->left.size);
    damage->wal.bytes = folder_read(wal, &damage->wal.size);
    folder_remove_store(path);
    if (!made || damage->closed.size == 0 || damage->wal.size == 0) {
        damage_free(damage);
        return NULL;
    }
    return damage;
}

void damage_free(struct damage *damage) {
    free(damage->closed.bytes);
    free(damage->left.bytes);
    free(damage->wal.bytes);
    free(damage);
}

static size_t below(uint64_t *random, size_t bound) {
    return (size_t)(invented_uniform(random) * (double)bound);
}

static void flip(struct file *file, uint64_t *random) {
    const size_t count = 1 + below(random, 8);
    for (size_t i = 0; i < count; i++) {
        file->bytes[below(random, file->size)] ^= (unsigned char)(1u << below(random, 8));
    }
}

static void other_page(struct file *file, uint64_t *random) {
    enum { PAGE = 512 };
    const size_t from = below(random, file->size / PAGE) * PAGE;
    const bool zero = invented_uniform(random) < 0.5;
    for (size_t i = 0; i < PAGE; i++) {
        file->bytes[from + i] = zero ? 0 : (unsigned char)below(random, 256);
    }
}

static struct file copy_of(const struct file *file) {
    struct file copy = {malloc(file->size + 1), file->size};
    assert(copy.bytes != NULL);
    memcpy(copy.bytes, file->bytes, file->size);
    return copy;
}

/* The first column of the row at random that sql gives. */
static bool one_of(sqlite3 *db, const char *sql, uint64_t *random, char *text, size_t size) {
    sqlite3_stmt *rows = NULL;
    size_t count = 0;
    *text = '\0';
    for (int turn = 0, chosen = -1; turn < 2; turn++) {
        sqlite3_prepare_v2(db, sql, -1, &rows, NULL);
        for (int i = 0; sqlite3_step(rows) == SQLITE_ROW; i++) {
            count += turn == 0;
            if (i == chosen) {
                snprintf(text, size, "%s", (const char *)sqlite3_column_text(rows, 0));
            }
        }
        sqlite3_finalize(rows);
        chosen = (int)below(random, count);
    }
    return *text != '\0';
}

/* By SQLite itself, so that its own structure stays right. Not of keys: all rows of a table numbered anew are
 * another store. */
static void other_values(const char *path, uint64_t *random) {
    static const char *const columns = "SELECT t.name || ' SET \"' || c.name || '\" = CASE typeof(\"' || "
                                       "c.name || '\") WHEN ''text'' THEN \"' || "
                                       "c.name || '\" || ''x'' WHEN ''blob'' THEN CAST(\"' || c.name || '\" "
                                       "|| x''01'' AS BLOB) WHEN ''null'' "
                                       "THEN 1 ELSE \"' || c.name || '\" %s END' FROM sqlite_schema t, "
                                       "pragma_table_info(t.name) c WHERE t.type "
                                       "= 'table' AND c.pk = 0";
    static const char *const steps[] = {"+ 1", "- 1", "+ 256", "* 2"};
    char query[700], change[600], sql[700];
    sqlite3 *db = NULL;
    snprintf(query, sizeof query, columns, steps[below(random, 4)]);
    bool done = sqlite3_open(path, &db) == SQLITE_OK && one_of(db, query, random, change, sizeof change);
    snprintf(sql, sizeof sql, "UPDATE OR IGNORE %s", change);
    done = done && (sqlite3_exec(db, sql, NULL, NULL, NULL) & 0xFF) != SQLITE_ERROR;
    if (!done) {
        fprintf(stderr, "%s: %s\n", sql, sqlite3_errmsg(db));
    }
    assert(done);
    (void)done;
    sqlite3_close(db);
}

static void write_damaged(const struct damage *damage, enum damage_kind kind, uint64_t *random,
                          const char *path) {
    char wal[FOLDER_PATH_MAX + 8];
    const bool in_wal = kind >= DAMAGE_WAL_FLIP;
    struct file database = copy_of(in_wal ? &damage->left : &damage->closed), log = copy_of(&damage->wal);
    struct file *it = in_wal ? &log : &database;
    if (kind == DAMAGE_CUT || kind == DAMAGE_WAL_CUT) {
        it->size = below(random, it->size);
    } else if (kind == DAMAGE_PAGE) {
        other_page(it, random);
    } else if (kind != DAMAGE_VALUE) {
        flip(it, random);
    }
    folder_remove_store(path);
    folder_write(path, database.bytes, database.size);
    if (in_wal) {
        snprintf(wal, sizeof wal, "%s-wal", path);
        folder_write(wal, log.bytes, log.size);
    }
    if (kind == DAMAGE_VALUE) {
        other_values(path, random);
    }
    free(database.bytes);
    free(log.bytes);
}

struct reader {
    const struct filling *filling;
    struct records *records;
    struct damage_answer answer;
};

#define BAD(reader, ...) (snprintf((reader)->answer.why, sizeof(reader)->answer.why, __VA_ARGS__), false)

/* A call that failed must have said why. */
static bool said(struct reader *reader, bool done, const struct problem *problem) {
    reader->answer.problems += !done;
    return done ||
           ((problem->kind == PROBLEM_BENCH || problem->kind == PROBLEM_INPUT) && problem->text[0] != '\0' &&
            strchr(problem->text, '\n') == NULL) ||
           BAD(reader, "kind %d: %s", problem->kind, problem->text);
}

static bool right(struct reader *reader, const struct record_run *got) {
    char why[256];
    const uint64_t number = filling_number(got);
    if (number >= FILLING_RUNS) {
        return BAD(reader, "run %lld with seed %llu was never put", (long long)got->id,
                   (unsigned long long)got->seed);
    }
    if (!record_same(filling_run(reader->filling, number), got, RECORDS_ALL, why, sizeof why)) {
        return BAD(reader, "run %d is read otherwise than it was put: %s", (int)number, why);
    }
    reader->answer.right++;
    return true;
}

static bool read_runs(struct reader *reader) {
    struct problem problem;
    struct record_list list = {0};
    const struct records_choice all = {.with_trouble = true};
    const bool done = records_select(reader->records, &all, RECORDS_ALL, &list, &problem);
    bool good = said(reader, done, &problem);
    for (size_t i = 0; done && good && i < list.count; i++) {
        good = right(reader, list.runs[i]);
    }
    if (done) {
        record_list_free(&list);
    }
    for (int64_t id = 1; good && id <= FILLING_AFTERWARDS; id++) {
        struct record_run *run = NULL;
        const bool got = records_run(reader->records, id, RECORDS_ALL, &run, &problem);
        good = said(reader, got, &problem) && (!got || right(reader, run));
        if (got) {
            record_free(run);
        }
    }
    return good;
}

static bool read_rest(struct reader *reader) {
    struct problem problem;
    struct record_consoles consoles;
    struct record_baselines baselines;
    struct record_list list;
    struct record_sweep *sweep;
    bool done = records_consoles(reader->records, &consoles, &problem);
    bool good = said(reader, done, &problem);
    if (done) {
        record_consoles_free(&consoles);
    }
    done = records_baselines(reader->records, &baselines, &problem);
    good = said(reader, done, &problem) && good;
    if (done) {
        record_baselines_free(&baselines);
    }
    done = records_baseline_runs(reader->records, filling_run(reader->filling, 0)->console.name, "A", "bits",
                                 RECORDS_ALL, &list, &problem);
    good = said(reader, done, &problem) && good;
    if (done) {
        record_list_free(&list);
    }
    done = records_sweep_find(reader->records, NULL, NULL, &sweep, &problem);
    good = said(reader, done, &problem) && good;
    if (done) {
        record_sweep_free(sweep);
    }
    return good;
}

static bool read_all(struct reader *reader, const char *path, enum records_use use) {
    struct problem problem;
    struct record_run run = *filling_run(reader->filling, FILLING_AFTERWARDS);
    const bool opened = records_open(path, use, &reader->records, &problem);
    if (!said(reader, opened, &problem) || !opened) {
        return reader->answer.why[0] == '\0';
    }
    bool good = said(reader, records_check(reader->records, &problem), &problem);
    good = good && read_runs(reader) && read_rest(reader);
    if (use == RECORDS_WRITE) {
        good = good && said(reader, records_put(reader->records, &run, &problem), &problem);
    }
    records_close(reader->records);
    return good;
}

void damage_at(const struct damage *damage, enum damage_kind kind, uint64_t seed,
               struct damage_answer *answer) {
    char path[FOLDER_PATH_MAX], name[32];
    int ends[2], status = 1;
    uint64_t random = seed;
    const int made = pipe(ends);
    assert(made == 0);
    (void)made;
    snprintf(name, sizeof name, "damaged-%ld", (long)getpid());
    folder_path(damage->folder, name, path);
    write_damaged(damage, kind, &random, path);
    fflush(NULL);
    const pid_t child = fork();
    if (child == 0) {
        struct reader reader = {.filling = damage->filling};
        alarm(WAIT_S);
        reader.answer.good =
            read_all(&reader, path, invented_uniform(&random) < 0.5 ? RECORDS_READ : RECORDS_WRITE);
        const ssize_t written = write(ends[1], &reader.answer, sizeof reader.answer);
        _exit(written == (ssize_t)sizeof reader.answer ? 0 : 1);
    }
    close(ends[1]);
    *answer = (struct damage_answer){0};
    const bool heard = read(ends[0], answer, sizeof *answer) == (ssize_t)sizeof *answer;
    close(ends[0]);
    if (waitpid(child, &status, 0) != child || status != 0 || !heard) {
        answer->good = false;
        snprintf(answer->why, sizeof answer->why, "the process died: status %#x", status);
    }
    folder_remove_store(path);
}
