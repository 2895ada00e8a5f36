#include "commands/cover.h"

#include "commands/loop.h"
#include "commands/reader_measure.h"
#include "plan/check.h"
#include "rom/rom.h"
#include "verdict/reader.h"
#include "virtual/reader.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- the fault as a finding ---- */

enum { WORDS = 4 };

struct wanted {
    enum finding_kind kind;
    int bit, reg; /* -1: any */
    /* The place, as a reader or a console says it: one of them must be there, in the finding itself or
     * (beside) in one that it stands with. None: any place. */
    char words[WORDS][24];
    size_t word_count;
    bool beside;
};

static const struct {
    const char *text; /* that the fault begins with */
    enum finding_kind kind;
} kinds[] = {
    {"cart-open=A", FINDING_CART_ADDRESS_OPEN},
    {"cart-open=D", FINDING_CART_DATA_OPEN},
    {"cart-short=A", FINDING_CART_ADDRESS_SHORTED},
    {"cart-short=D", FINDING_CART_DATA_SHORTED},
    {"cart-address=", FINDING_CART_ADDRESS_STUCK},
    {"cart-data=", FINDING_CART_DATA_STUCK},
    {"cart-hotspot=", FINDING_CART_HOTSPOT_WRONG},
    {"cart-also=", FINDING_CART_SWITCHES_TOO},
    {"cart-slow=", FINDING_CART_SLOW},
    {"cart-byte=", FINDING_CART_BYTE_WRONG},
    {"cart-release=", FINDING_CART_RELEASE_SLOW},
    {"cart-late=", FINDING_CART_WAKES_LATE},
    {"cart-no-ram", FINDING_CART_RAM_MISSING},
    {"cart-ram=stuck", FINDING_CART_RAM_STUCK},
    {"cart-ram=transition", FINDING_CART_RAM_TRANSITION},
    {"cart-ram=inversion", FINDING_CART_RAM_COUPLED},
    {"cart-ram=idempotent", FINDING_CART_RAM_COUPLED},
    {"cart-ram=state", FINDING_CART_RAM_COUPLED},
    {"cart-ram=", FINDING_CART_RAM_DECODER},
    {"cart-hold=", FINDING_CART_BUS_HELD},
    {"cart-loose=", FINDING_CART_CONTACT},
};

/* The line or lines: "A5", "3:low", "A3:A11", "D3:low". */
static void want_lines(const char *value, struct wanted *wanted) {
    const char *const other = strchr(value, ':');
    wanted->bit = atoi(value + (value[0] == 'A' || value[0] == 'D'));
    if (other != NULL && (other[1] == 'A' || other[1] == 'D')) {
        wanted->reg = atoi(other + 2);
    }
}

static bool has_lines(enum finding_kind kind) {
    return (kind >= FINDING_CART_ADDRESS_OPEN && kind <= FINDING_CART_DATA_SHORTED);
}

__attribute__((format(printf, 2, 3))) static void want_words(struct wanted *wanted, const char *format, ...) {
    va_list list;
    va_start(list, format);
    vsnprintf(wanted->words[wanted->word_count++], sizeof wanted->words[0], format, list);
    va_end(list);
}

/* "5.3:low", "5:9": a bit of a cell; of a decoder's fault either of the two cells. */
static void want_cells(const char *value, struct wanted *wanted) {
    char *end = NULL;
    for (const char *at = value; wanted->word_count < WORDS; at = end + 1) {
        const long cell = strtol(at, &end, 10);
        want_words(wanted, "$%02lX", (unsigned long)cell);
        want_words(wanted, "Cell %ld ", cell);
        if (*end == '.') {
            wanted->bit = atoi(end + 1);
        }
        if (*end != ':' || wanted->kind != FINDING_CART_RAM_DECODER) {
            break;
        }
    }
}

static void want_place(const struct cover_case *of, const char *value, struct wanted *wanted) {
    int bank, page;
    switch (wanted->kind) {
    case FINDING_CART_BYTE_WRONG:
        want_words(wanted, "%03X",
                   (unsigned)scheme_address(of->scheme, strtoul(value + 1, NULL, 16), &bank) & 0xFFFu);
        break;
    case FINDING_CART_SWITCHES_TOO:
        want_words(wanted, "%.3s", value + 2);
        break;
    case FINDING_CART_HOTSPOT_WRONG:
        want_words(wanted, "%03X", scheme_hotspot(of->scheme, atoi(value)) & 0xFFFu);
        break;
    case FINDING_CART_SLOW: /* a console lists its pages with those that are wrong */
        if (sscanf(value, "%d.%d", &bank, &page) == 2) {
            want_words(wanted, "bank %d, $1%X00", bank, (unsigned)page);
            want_words(wanted, "bank %d, $F%X00", bank, (unsigned)page);
            want_words(wanted, "bank %d $F%X00", bank, (unsigned)page);
            wanted->beside = true;
        }
        break;
    case FINDING_CART_BUS_HELD:
        wanted->bit = atoi(value + 1);
        break;
    case FINDING_CART_CONTACT:
        want_words(wanted, " of %.*s ", (int)strcspn(value, ":"), value);
        break;
    default:
        if (has_lines(wanted->kind)) {
            want_lines(value, wanted);
        } else if (strchr(value, ':') != NULL) {
            want_cells(strchr(value, ':') + 1, wanted);
        }
    }
}

static void want(const struct cover_case *of, struct wanted *wanted) {
    *wanted = (struct wanted){.kind = FINDING_KINDS, .bit = -1, .reg = -1};
    const char *const fault = of->fault == NULL ? "" : of->fault, *const value = strchr(fault, '=');
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0] && wanted->kind == FINDING_KINDS; i++) {
        if (strncmp(fault, kinds[i].text, strlen(kinds[i].text)) == 0) {
            wanted->kind = kinds[i].kind;
        }
    }
    if (value != NULL) {
        want_place(of, value + 1, wanted);
    }
}

static bool says(const struct finding *finding, const struct wanted *wanted) {
    bool said = wanted->word_count == 0;
    for (size_t i = 0; i < wanted->word_count; i++) {
        said = said || strstr(finding->text, wanted->words[i]) != NULL;
    }
    return said;
}

static bool any_says(const struct finding *findings, size_t count, const struct wanted *wanted) {
    bool said = false;
    for (size_t i = 0; i < count; i++) {
        said = said || says(&findings[i], wanted);
    }
    return said;
}

static bool is_wanted(const struct finding *finding, const struct wanted *wanted, bool said) {
    const bool same =
        (wanted->bit < 0 || finding->bit == wanted->bit) && (wanted->reg < 0 || finding->reg == wanted->reg);
    const bool turned = wanted->reg >= 0 && finding->bit == wanted->reg && finding->reg == wanted->bit;
    return finding->kind == wanted->kind && (same || turned) && (said || says(finding, wanted));
}

static void name(const struct cover_case *of, const struct finding *findings, size_t count,
                 struct cover_seen *seen) {
    struct wanted wanted;
    size_t at = 0;
    want(of, &wanted);
    const bool said = wanted.beside && any_says(findings, count, &wanted);
    for (size_t i = 0; i < count; i++) {
        seen->named = seen->named || is_wanted(&findings[i], &wanted, said);
        seen->kind_only = seen->kind_only || findings[i].kind == wanted.kind;
        at += (size_t)snprintf(seen->findings + at, sizeof seen->findings - at, "[%s%s %d %d: %.90s] ",
                               findings[i].alternative ? "or " : "", finding_name(findings[i].kind),
                               findings[i].bit, findings[i].reg, findings[i].text);
        at = at < sizeof seen->findings ? at : sizeof seen->findings - 1;
    }
    seen->alone = seen->among = seen->named;
    for (size_t i = 0; i < count && count > 1; i++) {
        seen->alone = seen->alone && is_wanted(&findings[i], &wanted, said);
        seen->among = seen->among && findings[i].alternative;
    }
    seen->among = seen->among && !seen->alone;
}

/* ---- in a console ---- */

static struct plan *plan_of(int scheme, bool ram) {
    struct plan *plan = NULL;
    struct problem problem;
    if (!check_plan(scheme, ram, STANDARD_NTSC, &plan, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
        exit(3);
    }
    return plan;
}

static struct image *image_of(const struct plan *plan) {
    struct image *image = NULL;
    struct problem problem;
    const struct rom_options options = {.hold = 1};
    if (!rom_build(plan, &options, &image, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
        exit(3);
    }
    return image;
}

const uint8_t *cover_image(int scheme, bool ram) {
    static uint8_t bytes[WIRE_SCHEMES][2][32768];
    static bool made[WIRE_SCHEMES][2];
    if (!made[scheme][ram]) {
        struct plan *plan = plan_of(scheme, ram);
        struct image *image = image_of(plan);
        memcpy(bytes[scheme][ram], image->bytes, scheme_bytes(scheme));
        rom_free(image);
        plan_free(plan);
        made[scheme][ram] = true;
    }
    return bytes[scheme][ram];
}

static void options_of(const struct cover_case *of, struct virtual_options *options) {
    struct problem problem;
    virtual_defaults(STANDARD_NTSC, options);
    options->seed = of->seed;
    if (of->noise_db > 0) {
        options->grabber.noise_db = of->noise_db;
    }
    if (of->fault != NULL && !virtual_add_fault(options, of->fault, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
        exit(3);
    }
}

void cover_console(const struct cover_case *of, struct cover_seen *seen) {
    struct virtual_options options;
    struct problem problem;
    struct video_source source;
    *seen = (struct cover_seen){.verdict = VERDICT_INCONCLUSIVE};
    options_of(of, &options);
    struct plan *plan = plan_of(of->scheme, of->ram);
    struct image *image = image_of(plan);
    struct session session = {
        .plan = plan, .hash = image->hash, .hold = 1, .rounds = 2, .silence_s = LOOP_SILENCE_S};
    if (!virtual_open_cartridge(&options, of->scheme, of->ram, image->bytes, &source, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
        exit(3);
    }
    seen->lost = !session_run(&session, &source, &problem);
    if (session.result != NULL) {
        seen->verdict = session.result->verdict;
        name(of, session.result->findings, session.result->finding_count, seen);
    }
    session_free(&session);
    source.close(source.state);
    rom_free(image);
    plan_free(plan);
}

/* ---- on a reader ---- */

static bool measure(struct cart_model *model, const struct cover_case *of, const uint8_t *image,
                    struct reader_seen *reader_seen, struct cover_seen *seen) {
    struct problem problem;
    struct transport transport;
    struct link *link;
    struct reader_order order;
    struct virtual_reader *reader = virtual_reader_new(model, of->seed, &problem);
    if (reader == NULL) {
        fprintf(stderr, "%s\n", problem.text);
        exit(3);
    }
    virtual_reader_transport(reader, &transport);
    reader_order_all(of->scheme, of->ram, image, &order);
    bool good = link_open(&transport, &(struct link_options){0}, &link, &problem);
    if (good) {
        good = reader_measure(link, &order, reader_seen, &seen->chip_us, &problem);
        link_close(link);
    }
    virtual_reader_free(reader);
    if (!good) {
        snprintf(seen->findings, sizeof seen->findings, "%.300s", problem.text);
    }
    return good;
}

void cover_reader(const struct cover_case *of, struct cover_seen *seen) {
    static struct cart_model model;
    static struct reader_seen reader_seen;
    static struct reader_result result;
    struct virtual_options options;
    struct cart_faults faults;
    struct problem problem;
    struct reader_limits limits;
    const uint8_t *const image = cover_image(of->scheme, of->ram);
    *seen = (struct cover_seen){.verdict = VERDICT_INCONCLUSIVE};
    options_of(of, &options);
    if (!virtual_cartridge_faults(&options, of->scheme, of->ram, &faults, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
        exit(3);
    }
    cart_model_init(&model, of->scheme, of->ram, image, &faults, of->seed);
    memset(&reader_seen, 0, sizeof reader_seen);
    seen->lost = !measure(&model, of, image, &reader_seen, seen);
    if (seen->lost) {
        return;
    }
    reader_limits_default(&limits);
    reader_judge(&reader_seen, image, &limits, &result);
    seen->verdict = result.verdict;
    name(of, result.findings, result.finding_count, seen);
}

void cover_class(const char *fault, char text[COVER_CLASS]) {
    const size_t kind = strcspn(fault, "=");
    const bool ram = strncmp(fault, "cart-ram=", 9) == 0;
    const bool lines = strncmp(fault, "cart-open", 9) == 0 || strncmp(fault, "cart-short", 10) == 0 ||
                       strncmp(fault, "cart-loose", 10) == 0;
    const char *const value = fault[kind] == '=' ? fault + kind + 1 : "";
    const size_t more = ram ? strcspn(value, ":") : lines ? 1 : 0;
    snprintf(text, COVER_CLASS, "%.*s%s%.*s", (int)kind, fault, more > 0 ? " " : "", (int)more, value);
}
