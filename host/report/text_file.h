/* What prints to a stream, as a file in a folder. */
#ifndef SLOTJIG_REPORT_TEXT_FILE_H
#define SLOTJIG_REPORT_TEXT_FILE_H

#include "base/problem.h"

#include <stdio.h>

/* Whole or not at all. */
bool text_file(const char *folder, const char *name, void (*print)(FILE *stream, const void *what),
               const void *what, struct problem *problem);

#endif
