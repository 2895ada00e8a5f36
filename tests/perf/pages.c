/* The report of a sweep of 50 consoles by 100 steps: time to make it from the runs, and by `report` from a
 * store; bytes; and, where there is a browser, its first paint beside a page of one letter. The runs are
 * invented; each seventh console has a bit stuck. */
#include "pages/shelf.h"
#include "record/records.h"
#include "report/html.h"

#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;
enum { TIMES = 9, CONSOLES = 50, STEPS = 100, PATH_SIZE = 4096 };

static char folder[PATH_SIZE - 64];

static void must(bool good, const char *what) {
    if (!good) {
        fprintf(stderr, "pages: %s\n", what);
        exit(1);
    }
}

static double now_ms(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec * 1e3 + (double)time.tv_nsec / 1e6;
}

static int ascending(const void *a, const void *b) {
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static int spawned(char *const arguments[]) {
    pid_t child;
    int status = 0;
    const int error = posix_spawnp(&child, arguments[0], NULL, NULL, arguments, environ);
    return error == 0 && waitpid(child, &status, 0) == child && WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void make_from_runs(const struct invented *invented) {
    double times[TIMES];
    size_t size = 0;
    for (int i = 0; i < TIMES; i++) {
        char *page = NULL;
        const double start = now_ms();
        FILE *stream = open_memstream(&page, &size);
        must(stream != NULL, "memory");
        html_sweep(stream, &invented->sweep, &invented->runs);
        fclose(stream);
        times[i] = now_ms() - start;
        free(page);
    }
    qsort(times, TIMES, sizeof times[0], ascending);
    printf("pages_sweep_make %.1f ms\n", times[TIMES / 2]);
    printf("pages_sweep_size %.3f MiB\n", (double)size / (1 << 20));
}

static void fill(struct invented *invented, const char *store) {
    struct records *records = NULL;
    struct problem problem;
    must(records_open(store, RECORDS_WRITE, &records, &problem), problem.text);
    must(records_sweep_put(records, &invented->sweep, &problem), problem.text);
    must(records_begin(records, &problem), problem.text);
    for (size_t i = 0; i < invented->runs.count; i++) {
        invented->runs.runs[i]->item = invented->sweep.items[i].id;
        must(records_put(records, invented->runs.runs[i], &problem), problem.text);
    }
    must(records_end(records, &problem), problem.text);
    records_close(records);
}

static void make_from_store(struct invented *invented, const char *page) {
    char store[PATH_SIZE];
    double times[TIMES];
    snprintf(store, sizeof store, "%s/records.sqlite", folder);
    fill(invented, store);
    char *report[] = {BUILD_DIR "/slotjig",         "report", "--store",    store,     "--sweep",
                      (char *)invented->sweep.name, "--html", (char *)page, "--quiet", NULL};
    for (int i = 0; i < TIMES; i++) {
        const double start = now_ms();
        const int status = spawned(report);
        times[i] = now_ms() - start;
        must(status == 0, "`report` did not make its page");
    }
    qsort(times, TIMES, sizeof times[0], ascending);
    printf("pages_sweep_report_command %.1f ms\n", times[TIMES / 2]);
}

static void paint(const char *page) {
    char argument[PATH_SIZE + 16];
    struct stat ignored;
    if (stat(BUILD_DIR "/watch/ready", &ignored) != 0 ||
        system("command -v node >/dev/null && command -v chromium >/dev/null") != 0) {
        fprintf(stderr, "pages: no browser or driver for it here: first paint is not measured\n");
        return;
    }
    snprintf(argument, sizeof argument, "sweep=%s", page);
    setenv("BUILD_DIR", BUILD_DIR, 1);
    setenv("TMPDIR", folder, 1);
    setenv("chromium", "/usr/bin/chromium", 0);
    char *node[] = {"node", SOURCE_DIR "/tests/pages/browser/paint.mjs", argument, NULL};
    must(spawned(node) == 0, "the browser did not measure");
}

int main(void) {
    char page[PATH_SIZE];
    const char *temporary = getenv("TMPDIR");
    snprintf(folder, sizeof folder, "%s/pages-XXXXXX", temporary != NULL ? temporary : "/tmp");
    must(mkdtemp(folder) != NULL, "no temporary folder");
    snprintf(page, sizeof page, "%s/sweep.html", folder);
    struct invented *invented = pages_shelf(6, CONSOLES, STEPS, 1);
    make_from_runs(invented);
    make_from_store(invented, page);
    fflush(stdout);
    paint(page);
    invented_free(invented);
    char *away[] = {"rm", "-rf", folder, NULL};
    return spawned(away);
}
