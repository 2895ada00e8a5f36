/* A board's files as text, and copies of them with one place changed, to show that a check can fail. */
#ifndef SLOTJIG_TESTS_BOARDS_BOARD_FILES_H
#define SLOTJIG_TESTS_BOARDS_BOARD_FILES_H

#include <stdbool.h>
#include <stddef.h>

struct board_change {
    const char *was, *is; /* one place in the net list (or, bill: in the bill) */
    const char *says;     /* part of the finding */
    bool bill;
};

/* The caller frees both. Each fails the test when there is no such file or place. */
char *board_file(const char *path);
char *board_changed(const char *text, const struct board_change *change);

/* Runs check() on the files with each change in turn; each must say what it should. */
struct netlist_findings;
void board_every_check_can_fail(const char *netlist, const char *bom, const struct board_change *changes,
                                size_t count,
                                void (*check)(const char *netlist, const char *bom,
                                              struct netlist_findings *found));

#endif
