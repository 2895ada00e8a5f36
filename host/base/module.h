/*
 * Parts of the program that are loaded when first needed, since the libraries behind them take long to load.
 * Each is a shared object with one table of functions, whose first member is an int: its ABI.
 */
#ifndef SLOTJIG_BASE_MODULE_H
#define SLOTJIG_BASE_MODULE_H

#include "base/problem.h"

struct module {
    const char *file;     /* "slotjig-video.so" */
    const char *symbol;   /* of the table */
    const char *what;     /* for messages: "video module" */
    const char *needs;    /* for messages: the libraries that it needs */
    const char *variable; /* of the environment: its path, instead of the search */
    int abi;
};

/* The table, or NULL with PROBLEM_BENCH. Looks beside the program, up to two folders above it, and in
 * ../lib/slotjig. What was loaded stays so to the end. */
const void *module_load(const struct module *module, struct problem *problem);

#endif
