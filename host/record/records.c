/* The store's file: opened, brought up to date, checked and closed. */
#include "record/records.h"

#include "base/output.h"
#include "record/records_inside.h"

#include <errno.h>
#include <fcntl.h>
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

bool records_open_db(struct records *records, const char *name, int flags) {
    sqlite3_close(records->db);
    records->db = NULL;
    if (sqlite3_open_v2(name, &records->db, flags, NULL) != SQLITE_OK) {
        return false;
    }
    sqlite3_extended_result_codes(records->db, 0);
    return sqlite3_busy_timeout(records->db, RECORDS_WAIT_S * 1000) == SQLITE_OK;
}

bool records_set(struct records *records, const char *sql) {
    return sqlite3_exec(records->db, sql, NULL, NULL, NULL) == SQLITE_OK;
}

/* The change to WAL does not wait for another program that is at it just now. */
static bool set_wal(struct records *records) {
    const struct timespec pause = {.tv_nsec = PAUSE_MS * 1000000};
    for (int waited = 0;; waited += PAUSE_MS) {
        if (records_set(records, "PRAGMA journal_mode = WAL")) {
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

/* The names of a new file and of the folders made for it are on the disk too. */
static void keep_names(char *name) {
    for (char *slash = strrchr(name, '/'); slash != NULL && slash != name; slash = strrchr(name, '/')) {
        *slash = '\0';
        const int folder = open(name, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
        if (folder >= 0) {
            fsync(folder); /* where that cannot be, nothing is lost by having tried */
            close(folder);
        }
    }
}

static bool open_write(struct records *records, char *name, struct problem *problem) {
    char page_size[64];
    int version = 0;
    snprintf(page_size, sizeof page_size, "PRAGMA page_size = %d; PRAGMA cache_size = -%d", PAGE_SIZE,
             CACHE_KIB);
    if (!make_folder(name, problem)) {
        return false;
    }
    if (!records_open_db(records, name, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE)) {
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
    if (!records_set(records, page_size) || !set_wal(records) ||
        !records_set(records,
                     "PRAGMA foreign_keys = ON; PRAGMA synchronous = FULL; PRAGMA temp_store = MEMORY")) {
        return records_problem(records, problem);
    }
    if (version == RECORDS_VERSION) {
        return true;
    }
    if (!schema_migrate(records, problem)) {
        return false;
    }
    keep_names(name);
    return true;
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
    const bool good =
        use == RECORDS_WRITE ? open_write(made, name, problem) : records_open_read(made, name, problem);
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
