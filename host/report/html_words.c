/* Words, glyphs and numbers as texts. */
#include "base/date.h"
#include "report/html_inside.h"

#include <math.h>
#include <string.h>

const struct html_mark html_marks[STANDING_KINDS] = {
    [STANDING_OPEN] = {"o", "\u2013", "open"},
    [STANDING_PASS] = {"p", "\u2713", "pass"},
    [STANDING_UNSTEADY] = {"u", "\u2248", "unsteady"},
    [STANDING_FAIL] = {"f", "\u2717", "fail"},
    [STANDING_INCONCLUSIVE] = {"i", "?", "inconclusive"},
    [STANDING_TROUBLE] = {"t", "!", "bench trouble"},
};

enum standing_kind html_of_end(enum record_end end) {
    static const enum standing_kind kinds[RECORD_ENDS] = {STANDING_PASS, STANDING_FAIL, STANDING_INCONCLUSIVE,
                                                          STANDING_TROUBLE};
    return (unsigned)end < RECORD_ENDS ? kinds[end] : STANDING_OPEN;
}

enum standing_kind html_of_verdict(enum verdict verdict, int fields) {
    return verdict == VERDICT_PASS   ? STANDING_PASS
           : verdict == VERDICT_FAIL ? STANDING_FAIL
           : fields > 0              ? STANDING_INCONCLUSIVE
                                     : STANDING_OPEN;
}

void html_mark(struct html *html, enum standing_kind kind) {
    const struct html_mark *mark = &html_marks[kind];
    html_put(html, "<b class=%s><i aria-hidden=true>%s</i> %s</b>", mark->class, mark->glyph, mark->word);
}

void html_when(int64_t ms, char text[HTML_WHEN]) {
    char date[DATE_TEXT_MAX];
    snprintf(text, HTML_WHEN, "%.27s UTC", date_text(ms, DATE_PLAIN, date));
}

void html_cells_text(uint64_t cells, char text[HTML_CELLS]) {
    size_t at = 0;
    text[0] = '\0';
    for (int first = 0; first < CELLS; first++) {
        if (!(cells >> first & 1)) {
            continue;
        }
        int last = first;
        while (last + 1 < CELLS && (cells >> (last + 1) & 1)) {
            last++;
        }
        at += (size_t)snprintf(text + at, HTML_CELLS - at, at > 0 ? ", %d" : "%d", first);
        if (last > first) {
            at += (size_t)snprintf(text + at, HTML_CELLS - at, last == first + 1 ? ", %d" : "\u2013%d", last);
        }
        first = last;
    }
    if (at == 0) {
        snprintf(text, HTML_CELLS, "none");
    }
}

void html_kind(enum finding_kind kind, char text[48]) {
    snprintf(text, 48, "%s", finding_name(kind));
    for (char *c = strchr(text, '_'); c != NULL; c = strchr(c, '_')) {
        *c = ' ';
    }
}

bool html_known(double value) {
    return isfinite(value);
}

static void with_unit(double value, const char *before, const char *unit, char text[HTML_FIGURE]) {
    snprintf(text, HTML_FIGURE, "%s%.6g%s%.16s", before, value, unit[0] != '\0' ? " " : "", unit);
}

void html_figure_text(const struct ship_figure *figure, char text[HTML_FIGURE]) {
    snprintf(text, HTML_FIGURE, "not measured");
    if (figure->known) {
        with_unit(round(figure->value * 100) / 100, "", figure->unit, text);
    }
}

void html_limit_text(const struct ship_figure *figure, char text[HTML_FIGURE]) {
    with_unit(figure->limit, figure->at_least ? "at least " : "at most ", figure->unit, text);
}
