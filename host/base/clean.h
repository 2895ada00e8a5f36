/* Texts from anywhere, made fit to be shown anywhere: on a terminal, in XML, in a table. */
#ifndef SLOTJIG_BASE_CLEAN_H
#define SLOTJIG_BASE_CLEAN_H

#include <stddef.h>
#include <stdint.h>

/* The next character of a text that is not at its end, and *text behind it. CLEAN_NONE for a byte that is not
 * UTF-8's (overlong forms and surrogates included), for the control characters (C0, DEL, C1) and for U+FFFE
 * and U+FFFF, which XML 1.0 cannot hold. */
#define CLEAN_NONE UINT32_MAX
uint32_t clean_next(const char **text);

/* The text with '?' in the place of all that is CLEAN_NONE, cut between two characters where there is no more
 * room. size: 1 at least. text NULL: "". Returns clean. */
char *clean_text(const char *text, char *clean, size_t size);
/* The same whole, to be freed; NULL where memory is short. */
char *clean_copy(const char *text);

#endif
