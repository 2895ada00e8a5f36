/* Texts from outside made fit to be kept and shown. */
#ifndef SLOTJIG_BASE_CLEAN_H
#define SLOTJIG_BASE_CLEAN_H

#include <stdbool.h>
#include <stddef.h>

/* Bytes that text_clean() needs for a text of that length, with the final 0. */
size_t text_clean_size(size_t length);
/* Copies text to clean: bytes that are not UTF-8 (RFC 3629) become U+FFFD each, control characters (C0, DEL,
 * C1) a blank; lines: line feed and tab stay. */
void text_clean(const char *text, bool lines, char *clean);

#endif
