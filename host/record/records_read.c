/* The store opened for reading: of an older version, or where nothing can be written. */
#include "record/records_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

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
    const bool good = records_open_db(records, uri, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI);
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

bool records_open_read(struct records *records, const char *name, struct problem *problem) {
    int version = 0;
    if (!records_open_db(records, name, SQLITE_OPEN_READONLY)) {
        return records_problem(records, problem);
    }
    if (!records_set(records, "SELECT count(*) FROM sqlite_schema")) {
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
