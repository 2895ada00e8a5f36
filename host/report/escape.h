/*
 * Texts from outside, for HTML and XML: as text, and within attributes in double quotes. What is not UTF-8
 * comes out as U+FFFD, control characters as their pictures, characters that turn the direction of writing or
 * show nothing as "[U+202E]", and a text of blanks alone as open boxes.
 */
#ifndef SLOTJIG_REPORT_ESCAPE_H
#define SLOTJIG_REPORT_ESCAPE_H

#include <stdio.h>

void escape_text(FILE *stream, const char *text);
/* The same of many lines: line ends and tabs stay. */
void escape_lines(FILE *stream, const char *text);

#endif
