/* Parts of the page of a sweep. Inside report/ only. */
#ifndef SLOTJIG_REPORT_HTML_MATRIX_H
#define SLOTJIG_REPORT_HTML_MATRIX_H

#include "report/html_inside.h"
#include "report/html_shelf.h"

/* Steps by consoles: one for each text of a plan (there is one for each video standard), and below it what
 * differs. */
void html_matrices(struct html *html, const struct shelf *shelf, size_t plan);
/* Findings of all runs, by kind, with the consoles that have them. */
void html_shelf_findings(struct html *html, const struct shelf *shelf);
/* "7 shelf 07": the number stands wherever there is no room for a name. */
void html_numbered(struct html *html, const struct shelf *shelf, size_t console);

#endif
