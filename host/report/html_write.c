/* Pages as files: whole or not at all. */
#include "base/output.h"
#include "report/html.h"

/* What one of the pages is made of. */
struct page {
    const struct record_run *run;
    const struct record_sweep *sweep;
    const char *console;
    const struct record_list *runs;
    const struct differ *differ;
    const struct html_plan_differ *differs;
    size_t differ_count;
    const struct ship *ship;
    const char *name;
    const struct lot *lot;
};

static void make(FILE *stream, const struct page *page) {
    if (page->ship != NULL) {
        html_ship(stream, page->ship);
    } else if (page->lot != NULL) {
        html_lot(stream, page->name, page->lot);
    } else if (page->run != NULL) {
        html_run(stream, page->run, page->differ);
    } else if (page->sweep != NULL) {
        html_sweep(stream, page->sweep, page->runs);
    } else {
        html_console(stream, page->console, page->runs, page->differs, page->differ_count);
    }
}

static bool write_page(const char *path, const struct page *page, struct problem *problem) {
    struct output output;
    if (!output_open(path, &output, problem)) {
        return false;
    }
    make(output.stream, page);
    return output_close(&output, true, problem);
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

bool html_write_ship(const char *path, const struct ship *ship, struct problem *problem) {
    return write_page(path, &(struct page){.ship = ship}, problem);
}

bool html_write_lot(const char *path, const char *name, const struct lot *lot, struct problem *problem) {
    return write_page(path, &(struct page){.name = name, .lot = lot}, problem);
}
