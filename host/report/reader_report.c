#include "report/reader_report.h"

#include "report/chart.h"
#include "report/json.h"
#include "report/label.h"
#include "report/text_file.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

const char *reader_manner_name(int manner) {
    static const char *const names[READER_TIMES] = {"A12 rising", "one bit", "all bits"};
    return manner >= 0 && manner < READER_TIMES ? names[manner] : "?";
}

void reader_address_text(int scheme, size_t offset, char text[READER_ADDRESS]) {
    int bank;
    const uint16_t address = scheme_address(scheme, offset, &bank);
    if (scheme_banks(scheme) > 1) {
        snprintf(text, READER_ADDRESS, "%d $%04X", bank, address);
    } else {
        snprintf(text, READER_ADDRESS, "$%04X", address);
    }
}

/* ---- JSON ---- */

static json_t *real_or_null(bool known, double value) {
    return known ? json_real(value) : json_null();
}

static json_t *place_json(int scheme, size_t offset) {
    int bank;
    const uint16_t address = scheme_address(scheme, offset, &bank);
    return json_pack("{s:i,s:i,s:i}", "offset", (int)offset, "bank", bank, "address", (int)address);
}

static json_t *wrong_json(const struct reader_result *result) {
    json_t *list = json_array();
    for (size_t i = 0; i < result->wrong_shown; i++) {
        json_array_append_new(list, place_json(result->scheme, result->wrong[i]));
    }
    return list;
}

static json_t *worst_json(const struct reader_result *result) {
    json_t *list = json_array();
    for (size_t i = 0; i < result->worst_count; i++) {
        const struct reader_address_time *worst = &result->worst[i];
        json_t *json = place_json(result->scheme, worst->offset);
        json_object_set_new(json, "ns", real_or_null(!worst->never, worst->ns));
        json_object_set_new(json, "manner", json_string(reader_manner_name(worst->manner)));
        json_array_append_new(list, json);
    }
    return list;
}

/* Of each 16 addresses [least, rising, one bit, all bits] in cycles with the board's own; null: not read. */
static json_t *spans_json(const struct reader_result *result) {
    json_t *list = json_array();
    for (size_t i = 0; i < scheme_bytes(result->scheme) / READER_SPAN; i++) {
        const struct reader_span *span = &result->spans[i];
        json_array_append_new(list, !span->known ? json_null()
                                                 : json_pack("[i,i,i,i]", span->least, span->most[0],
                                                             span->most[1], span->most[2]));
    }
    return list;
}

static json_t *times_json(const struct reader_result *result) {
    if (result->mapped == 0) {
        return json_null();
    }
    return json_pack("{s:i,s:i,s:f,s:f,s:f,s:o,s:i,s:o}", "addresses", (int)result->mapped, "never",
                     (int)result->never, "slowest_ns", result->slowest_ns, "typical_ns", result->typical_ns,
                     "margin_ns", result->margin_ns, "worst", worst_json(result), "span", READER_SPAN,
                     "spans", spans_json(result));
}

static json_t *limits_json(const struct reader_limits *limits) {
    return json_pack("{s:f,s:f,s:f,s:f,s:I}", "access_ns", limits->access_ns, "margin_ns", limits->margin_ns,
                     "release_ns", limits->release_ns, "wake_ms", limits->wake_ms, "differing",
                     (json_int_t)limits->differing);
}

/* null: not tried; an object whose value is null: not within what can be measured. */
static json_t *figure_json(const char *key, bool known, bool never, double value) {
    return known ? json_pack("{s:o}", key, real_or_null(!never, value)) : json_null();
}

json_t *reader_json(const struct reader_result *result, const struct reader_limits *limits) {
    return json_pack(
        "{s:s,s:b,s:s,s:I,s:I,s:I,s:i,s:b,s:I,s:o,s:o,s:o,s:o,s:o,s:o}", "scheme",
        scheme_name(result->scheme), "ram", (int)result->ram, "verdict", verdict_name(result->verdict),
        "passes", (json_int_t)result->passes, "differing", (json_int_t)result->differing, "cycle_ps",
        (json_int_t)result->cycle_ps, "own_cycles", result->own, "compared", (int)result->compared,
        "wrong_bytes", (json_int_t)result->wrong_bytes, "wrong", wrong_json(result), "times",
        times_json(result), "release",
        figure_json("ns", result->release_known, result->release_never, result->release_ns), "wake",
        figure_json("ms", result->wake_known, result->wake_never, result->wake_ms), "limits",
        limits_json(limits), "findings", json_findings(result->findings, result->finding_count));
}

/* ---- text ---- */

static void print_compared(FILE *stream, const struct reader_result *result) {
    fprintf(stream, "  scheme %s%s, %" PRIu32 " pass%s, %" PRIu32 " reading%s differed\n",
            scheme_name(result->scheme), result->ram ? " with RAM" : "", result->passes,
            result->passes == 1 ? "" : "es", result->differing, result->differing == 1 ? "" : "s");
    if (!result->compared) {
        fprintf(stream, "  not compared with an image\n");
    } else if (result->wrong_bytes == 0) {
        fprintf(stream, "  every byte is the image's\n");
    } else {
        fprintf(stream, "  %" PRIu32 " byte%s not the image's, the first at", result->wrong_bytes,
                result->wrong_bytes == 1 ? " is" : "s are");
        for (size_t i = 0; i < result->wrong_shown && i < 8; i++) {
            char text[READER_ADDRESS];
            reader_address_text(result->scheme, result->wrong[i], text);
            fprintf(stream, "%s %s", i == 0 ? "" : ",", text);
        }
        fputc('\n', stream);
    }
}

static void print_times(FILE *stream, const struct reader_result *result,
                        const struct reader_limits *limits) {
    if (result->mapped == 0) {
        return;
    }
    fprintf(stream,
            "\n  address to right data, of %" PRIu32
            " addresses (the board's own cycles taken off, its buffers "
            "not)\n  slowest %s%.0f ns, typical %.0f ns; allowed %.0f ns, ",
            result->mapped, result->never > 0 ? "over " : "", result->slowest_ns, result->typical_ns,
            limits->access_ns);
    if (result->margin_ns >= 0) {
        fprintf(stream, "so %.0f ns are left", result->margin_ns);
    } else {
        fprintf(stream, "so the slowest is %.0f ns too late%s", -result->margin_ns,
                result->never > 0 ? " or more" : "");
    }
    if (limits->margin_ns > 0) {
        fprintf(stream, " (%.0f wanted)", limits->margin_ns);
    }
    fprintf(stream, "\n  the slowest:\n");
    for (size_t i = 0; i < result->worst_count; i++) {
        const struct reader_address_time *worst = &result->worst[i];
        char text[READER_ADDRESS];
        reader_address_text(result->scheme, worst->offset, text);
        fprintf(stream, "    %-8s %s%5.0f ns  %s\n", text, worst->never ? ">" : " ", worst->ns,
                reader_manner_name(worst->manner));
    }
}

static void print_figures(FILE *stream, const struct reader_result *result,
                          const struct reader_limits *limits) {
    if (result->release_known) {
        fprintf(stream, "  lets go after A12 falls: ");
        fprintf(stream, result->release_never ? "not within what can be measured" : "%.0f ns",
                result->release_ns);
        fprintf(stream, "; allowed %.0f ns\n", limits->release_ns);
    }
    if (result->wake_known) {
        fprintf(stream, "  answers after its supply came up: ");
        fprintf(stream, result->wake_never ? "not within 2 s" : "%.3g ms", result->wake_ms);
        fprintf(stream, "; allowed %.3g ms\n", limits->wake_ms);
    }
}

static void print_findings(FILE *stream, const struct reader_result *result) {
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        fprintf(stream, "\n  %s%s: %s\n    next: %s\n", label_joint(result->findings, i),
                finding_name(finding->kind), finding->text, finding->next);
    }
}

void reader_terminal(FILE *stream, const struct reader_result *result, const struct reader_limits *limits) {
    print_compared(stream, result);
    print_times(stream, result, limits);
    print_figures(stream, result, limits);
    print_findings(stream, result);
}

/* ---- files ---- */

struct written {
    const struct reader_seen *seen;
    const uint8_t *image;
    const struct reader_result *result;
    const struct reader_limits *limits;
    const char *of;
};

static void write_text(FILE *stream, const void *what) {
    const struct written *written = what;
    fprintf(stream, "  cartridge on a reader: %s; %s\n", written->of, verdict_name(written->result->verdict));
    reader_terminal(stream, written->result, written->limits);
}

static void write_csv(FILE *stream, const void *what) {
    const struct written *written = what;
    reader_csv(stream, written->seen, written->image);
}

static void write_chart(FILE *stream, const void *what) {
    const struct written *written = what;
    chart_reader(stream, 0, written->result, written->limits, written->of);
}

bool reader_write(const struct reader_seen *seen, const uint8_t *image, const struct reader_result *result,
                  const struct reader_limits *limits, const char *of, const char *folder,
                  struct problem *problem) {
    const struct written written = {seen, image, result, limits, of};
    return text_file(folder, "reader.txt", write_text, &written, problem) &&
           text_file(folder, "reader.csv", write_csv, &written, problem) &&
           (result->mapped == 0 || text_file(folder, "reader.svg", write_chart, &written, problem));
}
