/* What a reader found of a cartridge: figures against limits, chart, the slowest ten. */
#include "report/chart.h"
#include "report/html_inside.h"
#include "report/reader_report.h"

#include <stdlib.h>

static void figure(struct html *html, const char *name, bool never, double value, double limit,
                   const char *unit) {
    html_put(html, "<tr data-figure=\"%s\"><th scope=row>%s</th><td class=r>", name, name);
    if (never) {
        html_put(html, "not within what can be measured");
    } else {
        html_put(html, "%.3g %s", value, unit);
    }
    html_put(html, "</td><td class=r>%.3g %s</td></tr>\n", limit, unit);
}

static void figures(struct html *html, const struct reader_result *result,
                    const struct reader_limits *limits) {
    html_table(html, "Measured, and what is allowed at most", "Figure|>Measured|>Allowed");
    if (result->mapped > 0) {
        figure(html, "slowest address", result->never > 0, result->slowest_ns,
               limits->access_ns - limits->margin_ns, "ns");
    }
    if (result->release_known) {
        figure(html, "letting go after A12 falls", result->release_never, result->release_ns,
               limits->release_ns, "ns");
    }
    if (result->wake_known) {
        figure(html, "answering after the supply came up", result->wake_never, result->wake_ms,
               limits->wake_ms, "ms");
    }
    html_put(html,
             "<tr data-figure=\"differing\"><th scope=row>readings that differed</th><td class=r>%u</td>"
             "<td class=r>%u</td></tr>\n",
             result->differing, limits->differing);
    html_table_end(html);
}

static void compared(struct html *html, const struct reader_result *result) {
    html_facts(html);
    html_fact(html, "Scheme", "%s%s", scheme_name(result->scheme), result->ram ? " with RAM" : "");
    html_fact(html, "Readings of each byte", "%u", result->passes);
    if (!result->compared) {
        html_fact(html, "Bytes", "not compared with an image");
    } else if (result->wrong_bytes == 0) {
        html_fact(html, "Bytes", "all are the image's");
    } else {
        html_fact(html, "Bytes", "%u are not the image's", result->wrong_bytes);
    }
    if (result->mapped > 0) {
        html_fact(html, "Typical time", "%.0f ns", result->typical_ns);
        html_fact(html, "Margin", "%.0f ns of %.0f", result->margin_ns,
                  result->margin_ns + result->slowest_ns);
    }
    html_facts_end(html);
}

static void worst(struct html *html, const struct reader_result *result) {
    html_table(html, "The ten slowest addresses", "Bank|Address|>Nanoseconds|With");
    for (size_t i = 0; i < result->worst_count; i++) {
        const struct reader_address_time *time = &result->worst[i];
        int bank;
        const uint16_t address = scheme_address(result->scheme, time->offset, &bank);
        html_put(html, "<tr><td>%d</td><th scope=row>$%04X</th><td class=r>%s%.0f</td><td>%s</td></tr>\n",
                 bank, address, time->never ? "more than " : "", time->ns, reader_manner_name(time->manner));
    }
    html_table_end(html);
}

void html_reader_result(struct html *html, const struct reader_result *result,
                        const struct reader_limits *limits, const char *of) {
    compared(html, result);
    figures(html, result, limits);
    if (result->mapped > 0) {
        html_put(html, "<div class=s role=region tabindex=0 aria-label=\"Chart %d: access time by address\">",
                 ++html->numbers);
        chart_reader(html->stream, html->numbers, result, limits, of);
        html_put(html, "</div>\n");
        worst(html, result);
    }
}

bool html_has_reading(const struct record_run *run) {
    return html_has_blob(run, "reader") && run->end != RECORD_TROUBLE;
}

void html_reader(struct html *html, const struct record_run *run) {
    json_t *json = html_blob_json(run, "reader");
    struct reader_result *result = malloc(sizeof *result);
    struct reader_limits limits;
    struct problem problem = {.text = "no JSON, or out of memory"};
    if (html_has_reading(run)) {
        html_section(html, "reader", "On the reader");
        if (json != NULL && result != NULL && reader_from_json(json, "record", result, &limits, &problem)) {
            html_reader_result(html, result, &limits, run->cartridge.serial);
        } else {
            html_put(html, "<p>What is kept of it cannot be shown: ");
            html_say(html, "%s", problem.text);
            html_put(html, "</p>\n");
        }
        html_section_end(html);
    }
    free(result);
    json_decref(json);
}
