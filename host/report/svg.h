/*
 * Bits of SVG for the charts. Colours are classes, so that one style sheet serves light, dark and print; a
 * class also sets shape or dashes, so that nothing is told by colour alone.
 */
#ifndef SLOTJIG_REPORT_SVG_H
#define SLOTJIG_REPORT_SVG_H

#include <stdio.h>

/* Where a panel's numbers lie: x from left (at x_low) to right (x_high), y from bottom (y_low) to top. */
struct svg_panel {
    double left, top, width, height;
    double x_low, x_high, y_low, y_high;
};
double svg_x(const struct svg_panel *panel, double x);
double svg_y(const struct svg_panel *panel, double y);

enum svg_anchor { SVG_START, SVG_MIDDLE, SVG_END };
enum svg_mark { SVG_CIRCLE, SVG_CROSS, SVG_SQUARE, SVG_DIAMOND, SVG_MARKS };

/* title and about are what a screen reader says; of: whose numbers they are. All are escaped. number: 0: a
 * file of its own; else the chart stands in a page, which has no other of that number and svg_style() once in
 * its own style sheet. */
void svg_begin(FILE *stream, int number, double width, double height, const char *title, const char *of,
               const char *about);
void svg_style(FILE *stream);
void svg_end(FILE *stream);
__attribute__((format(printf, 6, 7))) void svg_text(FILE *stream, double x, double y, const char *class,
                                                    enum svg_anchor anchor, const char *format, ...);
void svg_line(FILE *stream, double x1, double y1, double x2, double y2, const char *class);
void svg_box(FILE *stream, double x, double y, double width, double height, const char *class);
void svg_circle(FILE *stream, double x, double y, double radius, const char *class);
/* size: half its width. */
void svg_mark(FILE *stream, enum svg_mark mark, double x, double y, double size, const char *class);
/* Frame, and ticks with numbers at every step along x and y; a step of 0: none. */
void svg_axes(FILE *stream, const struct svg_panel *panel, double x_step, double y_step);

#endif
