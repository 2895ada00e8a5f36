/* The frame of a page, and its parts that all of them have. */
#include "report/html_inside.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#define POLICY "default-src 'none'; style-src 'unsafe-inline'; img-src data:"

void html_begin(struct html *html, FILE *stream, const char *kind, const char *subject) {
    *html = (struct html){.stream = stream};
    html_put(html, "<!DOCTYPE html>\n<html lang=en>\n<head>\n<meta charset=utf-8>\n"
                   "<meta http-equiv=\"Content-Security-Policy\" content=\"" POLICY "\">\n"
                   "<meta name=viewport content=\"width=device-width, initial-scale=1\">\n<title>");
    html_say(html, "%s: %s", kind, subject);
    html_put(html, " \u2013 slotjig</title>\n<style>\n%s", html_style);
    svg_style(stream);
    html_put(html,
             "</style>\n</head>\n<body>\n<a class=skip href=\"#main\">To the content</a>\n<header>\n<p>");
    html_say(html, "%s", kind);
    html_put(html, "</p>\n<h1>");
    html_name(html, subject, "without a name");
    html_put(html, "</h1>\n</header>\n<main id=main tabindex=-1>\n");
    html_cells_begin(html);
}

static void tell_left_out(struct html *html) {
    if (html->pictures_left_out > 0) {
        html_put(html,
                 "<p>%d picture%s left out: a page holds %d KiB of them. They are in the run's folder "
                 "and in the store.</p>\n",
                 html->pictures_left_out, html->pictures_left_out == 1 ? " was" : "s were",
                 HTML_PICTURES_MOST >> 10);
    }
}

void html_end_cartridge(struct html *html) {
    html_put(html,
             "</main>\n<footer>\n<p>Made by slotjig. Times are UTC. A cartridge is put in and taken out with "
             "the power off.</p>\n</footer>\n</body>\n</html>\n");
}

void html_end(struct html *html) {
    html_put(html, "</main>\n<footer>\n");
    tell_left_out(html);
    html_put(html,
             "<p>Made by slotjig. Times are UTC. A margin says how far the worst cell was from being "
             "misread: 1 is the most, 0 none; below %.2f a cell is unclear.</p>\n"
             "<p>Before a console is opened: unplug it; mains parts and picture tubes stay dangerous when "
             "unplugged. Its service manual, local rules and licensed practice come first.</p>\n"
             "</footer>\n</body>\n</html>\n",
             PICTURE_UNCLEAR);
}

void html_section(struct html *html, const char *id, const char *title) {
    html_put(html, "<section aria-labelledby=%s>\n<h2 id=%s>", id, id);
    html_say(html, "%s", title);
    html_put(html, "</h2>\n");
}

void html_section_end(struct html *html) {
    html_put(html, "</section>\n");
}

/* "Step|Margin" */
static void heads(struct html *html, const char *columns) {
    char *copy = strdup(columns), *rest = copy;
    for (char *name = strsep(&rest, "|"); name != NULL; name = strsep(&rest, "|")) {
        html_put(html, *name == '>' ? "<th scope=col class=r>" : "<th scope=col>");
        html_say(html, "%s", *name == '>' ? name + 1 : name);
        html_put(html, "</th>");
    }
    free(copy);
}

void html_table(struct html *html, const char *caption, const char *columns) {
    html_put(html, "<div class=s role=region tabindex=0 aria-label=\"Table %d: ", ++html->numbers);
    html_say(html, "%s", caption);
    html_put(html, "\"><table><caption>");
    html_say(html, "%s", caption);
    html_put(html, "</caption>\n<thead><tr>");
    heads(html, columns);
    html_put(html, "</tr></thead>\n<tbody>\n");
}

void html_table_end(struct html *html) {
    html_put(html, "</tbody></table></div>\n");
}

void html_facts(struct html *html) {
    html_put(html, "<dl>\n");
}

void html_fact(struct html *html, const char *name, const char *format, ...) {
    char *text = NULL;
    va_list arguments;
    va_start(arguments, format);
    const int length = vasprintf(&text, format, arguments);
    va_end(arguments);
    if (length > 0) {
        html_put(html, "<dt>%s</dt><dd><bdi>", name);
        html_say(html, "%s", text);
        html_put(html, "</bdi></dd>\n");
    }
    if (length >= 0) {
        free(text);
    }
}

void html_facts_end(struct html *html) {
    html_put(html, "</dl>\n");
}

void html_details(struct html *html, bool open, const char *summary) {
    html_put(html, "<details%s><summary>", open ? " open" : "");
    html_say(html, "%s", summary);
    html_put(html, "</summary>\n");
}

void html_details_end(struct html *html) {
    html_put(html, "</details>\n");
}
