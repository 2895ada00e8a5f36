/* What SQLite's errors mean to the one who runs the bench, and what to do. */
#include "record/records_inside.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

bool records_memory(struct records *records, struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH, "%s: memory is short: end other programs", records->file);
}

bool records_damaged(struct records *records, const char *what, int64_t id, struct problem *problem) {
    return problem_set(
        problem, PROBLEM_BENCH,
        "%s: damaged: %s %lld does not read: put back a copy, or move the file away and begin a "
        "new one",
        records->file, what, (long long)id);
}

/* SQLite tries again for reading only, and then has only that one's reason. */
static int why_not_opened(const char *file) {
    char folder[RECORDS_PATH_MAX];
    const char *slash = strrchr(file, '/');
    if (access(file, F_OK) == 0) {
        return access(file, R_OK) != 0 ? errno : 0;
    }
    const size_t length = slash == NULL ? 0 : (size_t)(slash - file);
    snprintf(folder, sizeof folder, "%.*s%s", (int)length, file, length == 0 ? "./" : "/");
    return access(folder, W_OK | X_OK) != 0 ? errno : 0;
}

bool records_problem(struct records *records, struct problem *problem) {
    const char *file = records->file, *said = sqlite3_errmsg(records->db);
    int reason = sqlite3_system_errno(records->db);
    switch (sqlite3_errcode(records->db)) {
    case SQLITE_FULL:
        return problem_set(problem, PROBLEM_BENCH,
                           "%s: the disk is full: make room; all runs recorded before are kept", file);
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return problem_set(problem, PROBLEM_BENCH,
                           "%s: another program has had it locked for %d s: end that one, or wait for it",
                           file, RECORDS_WAIT_S);
    case SQLITE_CORRUPT:
        return problem_set(
            problem, PROBLEM_BENCH,
            "%s: the file is damaged (%s): put back a copy, or move it away and begin a new one", file, said);
    case SQLITE_NOTADB:
        return problem_set(problem, PROBLEM_INPUT, "%s: no store of records: name another file by --store",
                           file);
    case SQLITE_CANTOPEN:
        reason = why_not_opened(file);
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s: cannot be opened or made%s%s: look at the folder and its permissions, or name "
            "another file by --store",
            file, reason != 0 ? ": " : "", reason != 0 ? strerror(reason) : "");
    case SQLITE_READONLY:
    case SQLITE_PERM:
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: cannot be written: look at its permissions, or name another file by --store",
                           file);
    case SQLITE_IOERR:
        return problem_set(problem, PROBLEM_BENCH,
                           "%s: cannot be read or written (%s): look at the disk, its room and its limits",
                           file, reason != 0 ? strerror(reason) : said);
    case SQLITE_NOMEM:
        return records_memory(records, problem);
    default:
        return problem_set(problem, PROBLEM_BENCH, "%s: the store fails (%s): try another file by --store",
                           file, said);
    }
}
