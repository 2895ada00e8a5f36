/*
 * Pages for people: one self-contained HTML file each, without any script or outside request; light and dark
 * by the reader's preference, for A4 when printed, nothing on it moves. Every text from outside is escaped.
 */
#ifndef SLOTJIG_REPORT_HTML_H
#define SLOTJIG_REPORT_HTML_H

#include "base/problem.h"
#include "record/differ.h"
#include "record/lot.h"
#include "record/record.h"

#include <stdio.h>

enum { HTML_PICTURES_MOST = 1 << 20 }; /* bytes of pictures in a page; what is left out is said */

/* A run, with all of its parts. differ: against its baseline; NULL: there is none. */
void html_run(FILE *stream, const struct record_run *run, const struct differ *differ);
/* runs: those of the sweep, with all of their parts, in any order. */
void html_sweep(FILE *stream, const struct record_sweep *sweep, const struct record_list *runs);
/* A console's runs, in the order of time, of any plans. differs: one for each plan that has a baseline. */
struct html_plan_differ {
    const char *plan;
    const struct differ *differ;
};
void html_console(FILE *stream, const char *console, const struct record_list *runs,
                  const struct html_plan_differ *differs, size_t differ_count);

/* A test of a cartridge, for its box: a sheet of A4. */
void html_ship(FILE *stream, const struct ship *ship);
/* A lot; name "": that of all cartridges. */
void html_lot(FILE *stream, const char *name, const struct lot *lot);

/* Whole or not at all; "-" is standard output. */
bool html_write_run(const char *path, const struct record_run *run, const struct differ *differ,
                    struct problem *problem);
bool html_write_sweep(const char *path, const struct record_sweep *sweep, const struct record_list *runs,
                      struct problem *problem);
bool html_write_console(const char *path, const char *console, const struct record_list *runs,
                        const struct html_plan_differ *differs, size_t differ_count, struct problem *problem);
bool html_write_ship(const char *path, const struct ship *ship, struct problem *problem);
bool html_write_lot(const char *path, const char *name, const struct lot *lot, struct problem *problem);

#endif
