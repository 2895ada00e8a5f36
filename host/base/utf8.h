/* Texts from outside, made fit to be kept and shown: UTF-8 [RFC 3629] without control characters. */
#ifndef SLOTJIG_BASE_UTF8_H
#define SLOTJIG_BASE_UTF8_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Bytes of the character there, 0 where none begins: overlong forms, surrogates and what lies beyond U+10FFFF
 * are none. *code is good where it is one. */
int utf8_decode(const char *text, uint32_t *code);

/* Characters of a text, not bytes. */
int utf8_width(const char *text);

/* Whether a text is that already. */
bool utf8_is_clean(const char *text);
/* Whether a text is also one that a thing can be told by: without blanks at either end, and without
 * characters that show nothing or turn the direction of what stands beside them. Two such names that look
 * alike are. */
bool utf8_is_name(const char *text);
/* Copies a text; each byte that is no UTF-8, and each control character (C0, DEL, C1; but for line feeds and
 * tabs where lines is true), becomes a question mark. What does not fit is left out, never half a character.
 */
void utf8_clean(const char *text, char *clean, size_t size, bool lines);
/* The same whole and in one line, to be freed; NULL is "". Returns NULL where memory is short. */
char *utf8_copy(const char *text);

#endif
