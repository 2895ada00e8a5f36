#include "report/junit.h"

#include "base/date.h"
#include "base/output.h"
#include "base/utf8.h"
#include "record/suites.h"
#include "report/junit_case.h"
#include "report/label.h"

#include <inttypes.h>
#include <libxml/xmlwriter.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum { NUMBERS_SHOWN = 100, WORDS_SHOWN = 8, WORD_ROOM = 202 /* of a name, and what joins them */ };

/* A document that is being written. */
struct document {
    xmlTextWriterPtr writer;
    bool bad; /* a call failed: memory */
    int suites;
};

/* A suite and what its cases say. */
struct written {
    struct suite *suite;
    const struct record_plan *plan; /* of the run with the most steps; NULL: there is no run */
    size_t case_count;
    struct junit_case *cases; /* a step each; behind them the runs as a whole, where those need one */
    bool whole;               /* the last one is about the runs as a whole */
};

static void begin(struct document *document, const char *name) {
    document->bad |= xmlTextWriterStartElement(document->writer, BAD_CAST name) < 0;
}

static void end(struct document *document) {
    document->bad |= xmlTextWriterEndElement(document->writer) < 0;
}

/* What XML 1.0 can hold [S W3C, Extensible Markup Language 1.0, 2.2]: beside the controls, U+FFFE and U+FFFF
 * are not. */
static char *xml_text(const char *text, bool many_lines) {
    const size_t size = text == NULL ? 1 : strlen(text) + 1;
    char *clean = malloc(size);
    if (clean == NULL) {
        return NULL;
    }
    utf8_clean(text == NULL ? "" : text, clean, size, many_lines);
    for (char *at = strstr(clean, "\xEF\xBF"); at != NULL; at = strstr(at + 3, "\xEF\xBF")) {
        if (at[2] == '\xBE' || at[2] == '\xBF') {
            memcpy(at, "???", 3);
        }
    }
    return clean;
}

static void attribute(struct document *document, const char *name, const char *text) {
    char *clean = xml_text(text, false);
    document->bad |=
        clean == NULL || xmlTextWriterWriteAttribute(document->writer, BAD_CAST name, BAD_CAST clean) < 0;
    free(clean);
}

__attribute__((format(printf, 3, 4))) static void attributef(struct document *document, const char *name,
                                                             const char *format, ...) {
    char text[600];
    va_list list;
    va_start(list, format);
    vsnprintf(text, sizeof text, format, list);
    va_end(list);
    attribute(document, name, text);
}

static void content(struct document *document, const char *text) {
    char *clean = xml_text(text, true);
    document->bad |=
        text == NULL || clean == NULL || xmlTextWriterWriteString(document->writer, BAD_CAST clean) < 0;
    free(clean);
}

static void property(struct document *document, const char *name, const char *value) {
    if (value != NULL && value[0] != '\0') {
        begin(document, "property");
        attribute(document, "name", name);
        attribute(document, "value", value);
        end(document);
    }
}

static const char *bench_of(const struct record_run *run) {
    return run->bench;
}
static const char *tool_of(const struct record_run *run) {
    return run->tool;
}
static const char *firmware_of(const struct record_run *run) {
    return run->cartridge.firmware;
}
static const char *cartridge_of(const struct record_run *run) {
    return run->cartridge.serial;
}

/* Each different word of the runs once. */
static void word_property(struct document *document, const char *name, const struct suite *suite,
                          const char *(*word_of)(const struct record_run *run)) {
    const char *words[WORDS_SHOWN];
    size_t count = 0;
    char text[WORDS_SHOWN * WORD_ROOM] = "";
    for (size_t i = 0; i < suite->run_count && count < WORDS_SHOWN; i++) {
        const char *const word = word_of(&suite->runs[i]);
        bool known = word[0] == '\0';
        for (size_t j = 0; j < count && !known; j++) {
            known = strcmp(word, words[j]) == 0;
        }
        if (!known) {
            const size_t at = strlen(text);
            snprintf(text + at, sizeof text - at, "%s%s", count > 0 ? ", " : "", word);
            words[count++] = word;
        }
    }
    property(document, name, text);
}

static void number_property(struct document *document, const char *name, const struct suite *suite,
                            bool seeds) {
    char text[NUMBERS_SHOWN * 22 + 40] = "";
    size_t at = 0, count = 0, more = 0;
    for (size_t i = 0; i < suite->run_count; i++) {
        const struct record_run *run = &suite->runs[i];
        if (seeds && !run->has_seed) {
            continue;
        }
        if (count++ >= NUMBERS_SHOWN) {
            more++;
            continue;
        }
        at += (size_t)snprintf(text + at, sizeof text - at, "%s%" PRIu64, at > 0 ? ", " : "",
                               seeds ? run->seed : (uint64_t)run->id);
    }
    if (more > 0) {
        snprintf(text + at, sizeof text - at, " and %zu more", more);
    }
    property(document, name, text);
}

static void properties(struct document *document, const struct written *written) {
    const struct suite *suite = written->suite;
    struct standing standing;
    char text[64];
    suite_stand(suite, &standing);
    begin(document, "properties");
    property(document, "plan", suite->plan);
    if (written->plan != NULL) {
        property(document, "standard", standard_table[written->plan->standard].name);
    }
    property(document, "console", suite->console.name);
    property(document, "revision", suite->console.revision);
    property(document, "markings", suite->console.markings);
    property(document, "modifications", suite->console.modifications);
    word_property(document, "bench", suite, bench_of);
    word_property(document, "cartridge", suite, cartridge_of);
    word_property(document, "firmware", suite, firmware_of);
    word_property(document, "tool", suite, tool_of);
    number_property(document, "runs", suite, false);
    number_property(document, "seeds", suite, true);
    property(document, "standing", standing_name(standing.kind));
    snprintf(text, sizeof text, "%d of %d", standing.passed, standing.repeats);
    property(document, "passed", text);
    snprintf(text, sizeof text, "%.3f to %.3f", standing.rate_low, standing.rate_high);
    property(document, "passed_95", text);
    end(document);
}

/* A word of a class name: letters, digits and '-' stay, a space is '_'; where anything else was replaced, the
 * whole name's CRC-32 keeps two names apart. */
static void class_word(const char *name, char *text, size_t size) {
    bool replaced = false;
    size_t at = 0;
    for (const char *c = name; *c != '\0' && at + 10 < size; c++) {
        const bool plain = (*c >= 'a' && *c <= 'z') || (*c >= 'A' && *c <= 'Z') || (*c >= '0' && *c <= '9');
        text[at++] = plain || *c == '-' ? *c : '_';
        replaced |= !plain && *c != '-' && *c != ' ';
    }
    text[at] = '\0';
    if (replaced) {
        const uLong sum = crc32(0, (const Bytef *)name, (uInt)strlen(name));
        snprintf(text + at, size - at, "-%08lx", sum);
    }
}

static double seconds_of(const struct suite *suite) {
    double seconds = 0;
    for (size_t i = 0; i < suite->run_count; i++) {
        seconds += (double)suite->runs[i].took_ms / 1000;
    }
    return seconds > 0 ? seconds : 0;
}

static void write_case(struct document *document, const struct written *written, size_t index) {
    const struct suite *suite = written->suite;
    const struct junit_case *one = &written->cases[index];
    const bool whole = written->whole && index + 1 == written->case_count;
    char plan[80], console[120];
    class_word(suite->plan, plan, sizeof plan);
    class_word(suite->console.name, console, sizeof console);
    begin(document, "testcase");
    attributef(document, "classname", "%s.%s", plan, console);
    if (whole) {
        attribute(document, "name", "the whole run");
    } else {
        const bool named = written->plan->steps != NULL && index < written->plan->step_count;
        attributef(document, "name", "step %zu%s%.*s", index, named ? " " : "", STEP_NAME_MAX,
                   named ? written->plan->steps[index].name : "");
    }
    attributef(document, "time", "%.3f", seconds_of(suite) / (double)written->case_count);
    if (one->severity != JUNIT_GOOD) {
        begin(document, one->severity == JUNIT_FAILURE ? "failure" : "error");
        attribute(document, "type", one->type);
        attribute(document, "message", one->message);
        content(document, one->text);
        end(document);
    }
    end(document);
}

/* The findings in full stand once here, rather than at each case. */
static void print_findings(FILE *stream, const struct record_run *run) {
    char label[LABEL_MAX];
    for (size_t i = 0; i < run->finding_count; i++) {
        const struct finding *finding = &run->findings[i];
        fprintf(stream, "run %" PRId64 ": %s: %s\n  next: %s\n", run->id, label_finding(finding, label),
                finding->text, finding->next);
    }
}

/* What was wrong with the capture chain, and why a run ended early. */
static void print_troubles(FILE *stream, const struct record_run *run) {
    char label[LABEL_MAX];
    for (size_t i = 0; i < run->trouble_count; i++) {
        fprintf(stream, "run %" PRId64 ": capture: %s: %s\n", run->id,
                label_finding(&run->troubles[i], label), run->troubles[i].text);
    }
    if (run->problem[0] != '\0') {
        fprintf(stream, "run %" PRId64 ": %s\n", run->id, run->problem);
    }
}

/* An element with what is to be said of each run. */
static void element(struct document *document, const char *name, const struct suite *suite,
                    void (*print)(FILE *stream, const struct record_run *run)) {
    char *text = NULL;
    size_t size = 0;
    FILE *stream = open_memstream(&text, &size);
    for (size_t i = 0; stream != NULL && i < suite->run_count; i++) {
        print(stream, &suite->runs[i]);
    }
    const bool good = stream != NULL && fclose(stream) == 0;
    begin(document, name);
    content(document, good ? text : NULL);
    end(document);
    free(text);
}

static int64_t earliest_ms(const struct suite *suite, int64_t otherwise) {
    int64_t first = suite->run_count > 0 ? suite->runs[0].started_ms : otherwise;
    for (size_t i = 1; i < suite->run_count; i++) {
        first = suite->runs[i].started_ms < first ? suite->runs[i].started_ms : first;
    }
    return first;
}

static int count_of(const struct written *written, enum junit_severity severity) {
    int count = 0;
    for (size_t i = 0; i < written->case_count; i++) {
        count += written->cases[i].severity == severity;
    }
    return count;
}

/* A name that must not be empty. */
static const char *some(const char *text) {
    return text == NULL || text[0] == '\0' ? "local" : text;
}

static void write_suite(struct document *document, const struct record_sweep *sweep,
                        const struct written *written) {
    const struct suite *suite = written->suite;
    char timestamp[DATE_TEXT_MAX], *name = NULL;
    if (asprintf(&name, "%s on %s", suite->plan, suite->console.name) < 0) {
        document->bad = true;
        return;
    }
    date_text(earliest_ms(suite, sweep != NULL ? sweep->started_ms : 0), DATE_SECOND, timestamp);
    begin(document, "testsuite");
    attribute(document, "name", name);
    attribute(document, "package", sweep != NULL ? some(sweep->name) : "slotjig");
    attributef(document, "id", "%d", document->suites++);
    attribute(document, "timestamp", timestamp);
    attribute(document, "hostname", some(suite->run_count > 0 ? suite->runs[0].station : ""));
    attributef(document, "tests", "%zu", written->case_count);
    attributef(document, "failures", "%d", count_of(written, JUNIT_FAILURE));
    attributef(document, "errors", "%d", count_of(written, JUNIT_ERROR));
    attributef(document, "time", "%.3f", seconds_of(suite));
    properties(document, written);
    for (size_t i = 0; i < written->case_count; i++) {
        write_case(document, written, i);
    }
    element(document, "system-out", suite, print_findings);
    element(document, "system-err", suite, print_troubles);
    end(document);
    free(name);
}

/* What no step says: that a run failed though its steps did not, or a plan without steps. */
static bool make_cases(struct suite *suite, struct written *written) {
    enum junit_severity worst = JUNIT_GOOD;
    size_t steps = 0;
    *written = (struct written){.suite = suite};
    for (size_t i = 0; i < suite->run_count; i++) {
        if (written->plan == NULL || suite->runs[i].step_count > steps) {
            written->plan = suite->runs[i].plan;
            steps = suite->runs[i].step_count;
        }
    }
    written->cases = calloc(steps + 1, sizeof *written->cases);
    if (written->cases == NULL) {
        return false;
    }
    for (size_t i = 0; i <= steps; i++) {
        struct junit_case *one = &written->cases[i];
        written->whole = i == steps;
        junit_case_make(suite, written->whole ? -1 : (long)i, one);
        written->case_count++;
        if (one->text == NULL) {
            return false;
        }
        worst = !written->whole && one->severity > worst ? one->severity : worst;
    }
    if (steps > 0 && written->cases[steps].severity <= worst) {
        free(written->cases[steps].text);
        written->case_count--;
        written->whole = false;
    }
    return true;
}

static void free_cases(struct written *written) {
    for (size_t i = 0; i < written->case_count; i++) {
        free(written->cases[i].text);
    }
    free(written->cases);
}

static void write_suites(struct document *document, const struct record_sweep *sweep,
                         const struct suites *suites) {
    document->bad |= xmlTextWriterSetIndent(document->writer, 1) < 0 ||
                     xmlTextWriterStartDocument(document->writer, "1.0", "UTF-8", NULL) < 0;
    begin(document, "testsuites");
    for (size_t i = 0; i < suites->count && !document->bad; i++) {
        struct written written;
        document->bad |= !make_cases(&suites->list[i], &written);
        if (!document->bad) {
            write_suite(document, sweep, &written);
        }
        free_cases(&written);
    }
    end(document);
    document->bad |= xmlTextWriterEndDocument(document->writer) < 0;
}

bool junit_write(const char *path, const struct record_sweep *sweep, const struct record_list *runs,
                 struct problem *problem) {
    struct suites *suites = suites_make(sweep, runs);
    xmlBufferPtr bytes = xmlBufferCreate();
    struct document document = {.writer = bytes == NULL ? NULL : xmlNewTextWriterMemory(bytes, 0)};
    bool good = suites != NULL && document.writer != NULL;
    if (good) {
        write_suites(&document, sweep, suites);
        good = !document.bad;
    }
    xmlFreeTextWriter(document.writer); /* which flushes it */
    good = good ? output_write(path, xmlBufferContent(bytes), (size_t)xmlBufferLength(bytes), problem)
                : problem_set(problem, PROBLEM_BENCH, "%s: the XML could not be made: out of memory", path);
    xmlBufferFree(bytes);
    suites_free(suites);
    return good;
}
