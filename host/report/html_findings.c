/* Findings of a run: what was seen, what it means, what to try next. */
#include "report/html_inside.h"

void html_finding_name(struct html *html, const struct finding *finding) {
    char kind[48], place[FINDING_PLACE_MAX];
    html_kind(finding->kind, kind);
    finding_place(finding, place);
    if (place[0] != '\0') {
        html_say(html, "%s%s ", place[0] >= '0' && place[0] <= '9' ? "line " : "", place);
    }
    html_say(html, "%s", kind);
}

static void tell(struct html *html, const struct finding *finding) {
    html_put(html, "<li data-kind=\"%s\">", finding_name(finding->kind));
    html_put(html, "<strong>");
    html_finding_name(html, finding);
    html_put(html, "</strong>");
    if (finding->rate < 1) {
        html_say(html, ", in %.1f %% of the fields (95 %%: %.1f to %.1f %%)", 100 * finding->rate,
                 100 * finding->rate_low, 100 * finding->rate_high);
    }
    html_put(html, "<p>");
    html_say(html, "%s", finding->text);
    html_put(html, "</p>");
    if (finding->alternative) {
        html_put(html,
                 "<p>Another explanation draws the very same: this one (number %d) or one of another number "
                 "holds, not both.</p>",
                 finding->explanation);
    }
    if (finding->next[0] != '\0') {
        html_put(html, "<p class=next>What to try: ");
        html_say(html, "%s", finding->next);
        html_put(html, "</p>");
    }
    html_put(html, "</li>\n");
}

static void list(struct html *html, const struct finding *findings, size_t count) {
    html_put(html, "<ol class=c>\n");
    for (size_t i = 0; i < count; i++) {
        tell(html, &findings[i]);
    }
    html_put(html, "</ol>\n");
}

static void of_run(struct html *html, const struct record_run *run) {
    if (run->finding_count > 0) {
        list(html, run->findings, run->finding_count);
    } else {
        html_put(html, "<p>None.</p>\n");
    }
    if (run->trouble_count > 0) {
        html_put(html, "<h3>Trouble of the capture chain, not of the console</h3>\n");
        list(html, run->troubles, run->trouble_count);
    }
}

void html_findings(struct html *html, const struct record_run *const *runs, size_t count) {
    html_section(html, "findings", "Findings");
    for (size_t i = 0; i < count; i++) {
        if (count > 1) {
            html_put(html, "<h3>Plan ");
            html_name(html, runs[i]->plan->name, "without a name");
            html_put(html, "</h3>\n");
        }
        of_run(html, runs[i]);
    }
    html_section_end(html);
}
