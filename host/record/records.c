/* The store's file: opened, brought up to date, checked and closed. */
#include "record/records.h"

#include "base/output.h"
#include "record/records_inside.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum { PAUSE_MS = 10, PAGE_SIZE = 4096, CACHE_KIB = 16384 };

bool records_path(char path[RECORDS_PATH_MAX], struct problem *problem) {
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    int length = -1;
    if (data != NULL && data[0] == '/') { /* a relative one does not count [S XDG Base Directory] */
        length = snprintf(path, RECORDS_PATH_MAX, "%s/slotjig/records.sqlite", data);
    } else if (home != NULL && home[0] != '\0') {
        length = snprintf(path, RECORDS_PATH_MAX, "%s/.local/share/slotjig/records.sqlite", home);
    }
    if (length < 0 || length >= RECORDS_PATH_MAX) {
        path[0] = '\0';
        return problem_set(problem, PROBLEM_INPUT,
                           "no place for the store of records: set XDG_DATA_HOME or HOME, or name a file by "
                           "--store");
    }
    return true;
}

/* A name that SQLite takes for a file's, whatever it looks like ("file:x", ":memory:"). */
static char *plain_name(const char *path) {
    const size_t size = strlen(path) + 3;
    char *name = malloc(size);
    if (name != NULL) {
        snprintf(name, size, "%s%s", path[0] == '/' ? "" : "./", path);
    }
    return name;
}

static bool open_db(struct records *records, const char *name, int flags) {
    sqlite3_close(records->db);
    records->db = NULL;
    if (sqlite3_open_v2(name, &records->db, flags, NULL) != SQLITE_OK) {
        return false;
    }
    sqlite3_extended_result_codes(records->db, 0);
    return sqlite3_busy_timeout(records->db, RECORDS_WAIT_S * 1000) == SQLITE_OK;
}

static bool set(struct records *records, const char *sql) {
    return sqlite3_exec(records->db, sql, NULL, NULL, NULL) == SQLITE_OK;
}

/* The change to WAL does not wait for another program that is at it just now. */
static bool set_wal(struct records *records) {
    const struct timespec pause = {.tv_nsec = PAUSE_MS * 1000000};
    for (int waited = 0;; waited += PAUSE_MS) {
        if (set(records, "PRAGMA journal_mode = WAL")) {
            return true;
        }
        if (sqlite3_errcode(records->db) != SQLITE_BUSY || waited > RECORDS_WAIT_S * 1000) {
            return false;
        }
        nanosleep(&pause, NULL);
    }
}

static bool make_folder(const char *path, struct problem *problem) {
    char folder[RECORDS_PATH_MAX];
    const char *slash = strrchr(path, '/');
    const size_t length = slash == NULL ? 0 : (size_t)(slash - path);
    if (length == 0) {
        return true;
    }
    if (length >= sizeof folder) {
        return problem_set(problem, PROBLEM_INPUT, "--store: a path that is too long: name another file");
    }
    memcpy(folder, path, length);
    folder[length] = '\0';
    return output_folder(folder, problem);
}

static bool open_write(struct records *records, const char *name, struct problem *problem) {
    char page_size[64];
    int version = 0;
    snprintf(page_size, sizeof page_size, "PRAGMA page_size = %d; PRAGMA cache_size = -%d", PAGE_SIZE,
             CACHE_KIB);
    if (!make_folder(name, problem)) {
        return false;
    }
    if (!open_db(records, name, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE)) {
        return records_problem(records, problem);
    }
    if (sqlite3_db_readonly(records->db, "main") == 1) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: cannot be written: look at its permissions, or name another file by --store",
                           records->file);
    }
    if (!schema_version(records, &version, problem)) {
        return false;
    }
    if (!set(records, page_size) || !set_wal(records) ||
        !set(records, "PRAGMA foreign_keys = ON; PRAGMA synchronous = FULL; PRAGMA temp_store = MEMORY")) {
        return records_problem(records, problem);
    }
    return version == RECORDS_VERSION || schema_migrate(records, problem);
}

/* An older file is left as it is: it is brought up to date in memory. */
static bool read_older(struct records *records, struct problem *problem) {
    sqlite3 *memory = NULL;
    bool good = sqlite3_open(":memory:", &memory) == SQLITE_OK;
    sqlite3_backup *copy = good ? sqlite3_backup_init(memory, "main", records->db, "main") : NULL;
    good = copy != NULL && sqlite3_backup_step(copy, -1) == SQLITE_DONE;
    good = sqlite3_backup_finish(copy) == SQLITE_OK && good;
    sql_finalize_all(records);
    sqlite3_close(records->db);
    records->db = memory;
    return (good || records_problem(records, problem)) && schema_migrate(records, problem);
}

/* For a file that nothing can change, in a folder where nothing can be made. */
static bool open_immutable(struct records *records, const char *name) {
    static const char hex[] = "0123456789ABCDEF";
    char *uri = malloc(3 * strlen(name) + 64), *to = uri;
    if (uri == NULL) {
        return false;
    }
    to += sprintf(to, "file:");
    for (const unsigned char *c = (const unsigned char *)name; *c != '\0'; c++) {
        if (strchr("%?#", *c) != NULL) {
            *to++ = '%';
            *to++ = hex[*c >> 4];
            *to++ = hex[*c & 15];
        } else {
            *to++ = (char)*c;
        }
    }
    sprintf(to, "?immutable=1");
    const bool good = open_db(records, uri, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI);
    free(uri);
    return good;
}

/* Runs that are not in the file itself yet. */
static bool has_wal(const char *name) {
    char wal[RECORDS_PATH_MAX + 16];
    struct stat about;
    snprintf(wal, sizeof wal, "%s-wal", name);
    return stat(wal, &about) == 0 && about.st_size > 0;
}

static bool open_read(struct records *records, const char *name, struct problem *problem) {
    int version = 0;
    if (!open_db(records, name, SQLITE_OPEN_READONLY)) {
        return records_problem(records, problem);
    }
    if (!set(records, "SELECT count(*) FROM sqlite_schema")) {
        const int code = sqlite3_errcode(records->db);
        const bool no_room = code == SQLITE_CANTOPEN || code == SQLITE_READONLY;
        if (no_room && has_wal(name)) {
            return problem_set(
                problem, PROBLEM_BENCH,
                "%s: its last runs are in %s-wal, which can only be read where the folder can be "
                "written: read it there, or as the one who recorded them",
                records->file, records->file);
        }
        if (!no_room || !open_immutable(records, name)) {
            return records_problem(records, problem);
        }
    }
    if (!schema_version(records, &version, problem)) {
        return false;
    }
    return version == RECORDS_VERSION || read_older(records, problem);
}

static bool look(const char *path, enum records_use use, struct problem *problem) {
    struct stat about;
    if (path[0] == '\0' || strlen(path) >= RECORDS_PATH_MAX - 16) {
        return problem_set(problem, PROBLEM_INPUT, "--store: needs the name of a file");
    }
    if (stat(path, &about) != 0) {
        return use == RECORDS_WRITE ||
               problem_set(problem, PROBLEM_INPUT, "%s: %s: nothing was recorded there yet", path,
                           strerror(errno));
    }
    return S_ISREG(about.st_mode) ||
           problem_set(problem, PROBLEM_INPUT, "%s: not a file: name the store's file by --store", path);
}

bool records_open(const char *path, enum records_use use, struct records **records, struct problem *problem) {
    char fallback[RECORDS_PATH_MAX];
    *records = NULL;
    if (path == NULL) {
        if (!records_path(fallback, problem)) {
            return false;
        }
        path = fallback;
    }
    if (!look(path, use, problem)) {
        return false;
    }
    struct records *made = calloc(1, sizeof *made);
    char *name = plain_name(path);
    if (made == NULL || name == NULL || (made->file = strdup(path)) == NULL) {
        free(made);
        free(name);
        return problem_set(problem, PROBLEM_BENCH, "%s: memory is short: end other programs", path);
    }
    made->use = use;
    const bool good = use == RECORDS_WRITE ? open_write(made, name, problem) : open_read(made, name, problem);
    free(name);
    if (!good) {
        records_close(made);
        return false;
    }
    *records = made;
    return true;
}

void records_close(struct records *records) {
    if (records != NULL) {
        setups_forget(records);
        plans_forget(records);
        sql_finalize_all(records);
        sqlite3_close(records->db);
        free(records->file);
        free(records);
    }
}

int64_t records_now_ms(void) {
    struct timespec now = {0};
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

const char *records_file(const struct records *records) {
    return records->file;
}

/* The first line of what a check finds but "ok". */
static bool check(struct records *records, const char *sql, struct problem *problem) {
    sqlite3_stmt *statement = NULL;
    if (sqlite3_prepare_v2(records->db, sql, -1, &statement, NULL) != SQLITE_OK) {
        return records_problem(records, problem);
    }
    const int step = sqlite3_step(statement);
    const char *said = step == SQLITE_ROW ? (const char *)sqlite3_column_text(statement, 0) : NULL;
    bool good = step == SQLITE_DONE || (said != NULL && strcmp(said, "ok") == 0);
    if (step == SQLITE_ROW && !good) {
        problem_set(problem, PROBLEM_BENCH,
                    "%s: the file is damaged (%.200s): put back a copy, or move it away and begin a new one",
                    records->file, said == NULL ? "a row that belongs to none" : said);
    } else if (!good) {
        records_problem(records, problem);
    }
    sqlite3_finalize(statement);
    return good;
}

bool records_check(struct records *records, struct problem *problem) {
    return check(records, "PRAGMA integrity_check(1)", problem) &&
           check(records, "PRAGMA foreign_key_check", problem);
}
