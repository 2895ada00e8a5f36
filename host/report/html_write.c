/* Pages as files: whole or not at all. */
#include "base/output.h"
#include "report/html.h"

#include <stdlib.h>

/* What one of the three pages is made of. */
struct page {
    const struct record_run *run;
    const struct record_sweep *sweep;
    const char *console;
    const struct record_list *runs;
    const struct differ *differ;
    const struct html_plan_differ *differs;
    size_t differ_count;
};

static void make(FILE *stream, const struct page *page) {
    if (page->run != NULL) {
        html_run(stream, page->run, page->differ);
    } else if (page->sweep != NULL) {
        html_sweep(stream, page->sweep, page->runs);
    } else {
        html_console(stream, page->console, page->runs, page->differs, page->differ_count);
    }
}

static bool write_page(const char *path, const struct page *page, struct problem *problem) {
    char *text = NULL;
    size_t size = 0;
    FILE *stream = open_memstream(&text, &size);
    bool made = false;
    if (stream != NULL) {
        make(stream, page);
        made = !ferror(stream);
        made = fclose(stream) == 0 && made;
    }
    const bool good = made ? output_write(path, text, size, problem)
                           : problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
    free(text);
    return good;
}

bool html_write_run(const char *path, const struct record_run *run, const struct differ *differ,
                    struct problem *problem) {
    return write_page(path, &(struct page){.run = run, .differ = differ}, problem);
}

bool html_write_sweep(const char *path, const struct record_sweep *sweep, const struct record_list *runs,
                      struct problem *problem) {
    return write_page(path, &(struct page){.sweep = sweep, .runs = runs}, problem);
}

bool html_write_console(const char *path, const char *console, const struct record_list *runs,
                        const struct html_plan_differ *differs, size_t differ_count,
                        struct problem *problem) {
    const struct page page = {
        .console = console, .runs = runs, .differs = differs, .differ_count = differ_count};
    return write_page(path, &page, problem);
}
