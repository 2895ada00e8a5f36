/* What was put into the store comes out of it again. */
#include "record/invented.h"
#include "record/records.h"
#include "record/same.h"
#include "record/varied.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

enum { PATH_SIZE = 256 };
static char folder[PATH_SIZE] = "/tmp/slotjig-store-XXXXXX", path[PATH_SIZE + 32];

static struct records *fresh(void) {
    struct records *records = NULL;
    struct problem problem = {0};
    char gone[sizeof path + 8];
    snprintf(gone, sizeof gone, "%s-wal", path);
    unlink(path);
    unlink(gone);
    if (!records_open(path, RECORDS_WRITE, &records, &problem)) {
        fail_msg("%s", problem.text);
    }
    return records;
}

static void put_all(struct records *records, const struct invented *invented) {
    struct problem problem = {0};
    for (size_t i = 0; i < invented->runs.count; i++) {
        if (!records_put(records, invented->runs.runs[i], &problem)) {
            fail_msg("%s", problem.text);
        }
    }
}

static void runs_come_back(void **state) {
    (void)state;
    struct invented *varied = varied_new();
    struct records *records = fresh();
    struct problem problem = {0};
    put_all(records, varied);
    for (size_t i = 0; i < varied->runs.count; i++) {
        for (unsigned parts = 0; parts <= RECORDS_ALL; parts++) {
            struct record_run *run = NULL;
            char why[400] = "";
            if (!records_run(records, varied->runs.runs[i]->id, parts, &run, &problem) ||
                !record_same(varied->runs.runs[i], run, parts, why, sizeof why)) {
                fail_msg("run %zu, parts %u: %s%s", i, parts, problem.text, why);
            }
            record_free(run);
        }
    }
    if (!records_check(records, &problem)) {
        fail_msg("%s", problem.text);
    }
    records_close(records);
    invented_free(varied);
}

static int make_folder(void **state) {
    (void)state;
    if (mkdtemp(folder) == NULL) {
        return -1;
    }
    snprintf(path, sizeof path, "%s/records.sqlite", folder);
    return 0;
}

static int drop_folder(void **state) {
    (void)state;
    char command[PATH_SIZE + 16];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(runs_come_back)};
    return cmocka_run_group_tests(tests, make_folder, drop_folder);
}
