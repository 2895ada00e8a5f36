#include "commands/cover.h"

#include "commands/loop.h"
#include "commands/reader_measure.h"
#include "plan/check.h"
#include "rom/rom.h"
#include "verdict/reader.h"
#include "virtual/reader.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- the fault as a finding ---- */

struct wanted {
    enum finding_kind kind;
    int bit, reg; /* -1: any */
    /* One of them is in the finding's text, or for a page in any of the findings' that stand with it; "": any
     * text. */
    char words[4][24];
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

/* The line or lines: "A5", "3:low", "A3:A11", "D3:low". A contact's data line is in the finding's reg. */
static void want_lines(const char *value, struct wanted *wanted) {
    const char *const other = strchr(value, ':');
    wanted->bit = atoi(value + (value[0] == 'A' || value[0] == 'D'));
    if (other != NULL && (other[1] == 'A' || other[1] == 'D')) {
        wanted->reg = atoi(other + 2);
    }
    if (wanted->kind == FINDING_CART_CONTACT && value[0] == 'D') {
        wanted->reg = wanted->bit;
        wanted->bit = -1;
    }
}

static bool has_lines(enum finding_kind kind) {
    return (kind >= FINDING_CART_ADDRESS_OPEN && kind <= FINDING_CART_DATA_SHORTED) ||
           kind == FINDING_CART_BUS_HELD || kind == FINDING_CART_CONTACT;
}

/* As the console's check says it, and as the reader does. */
static void want_cell(struct wanted *wanted, int at, int cell) {
    snprintf(wanted->words[at], sizeof wanted->words[0], "Cell %d (", cell);
    snprintf(wanted->words[at + 1], sizeof wanted->words[0], "%s $%02X ",
             wanted->kind == FINDING_CART_RAM_DECODER ? "address" : "cell", cell);
}

/* "stuck:5.3:low", "inversion:5.3:9.1:high", "no-cell:5", "other-cell:5:9". Where two addresses reach one
 * cell the console's first wrong read may be of either. */
static void want_ram(const char *value, struct wanted *wanted) {
    const char *const cell = strchr(value, ':') + 1, *const bit = strchr(cell, '.'),
                      *const other = strchr(cell, ':');
    want_cell(wanted, 0, atoi(cell));
    if (wanted->kind == FINDING_CART_RAM_DECODER && other != NULL) {
        want_cell(wanted, 2, atoi(other + 1));
    } else if (bit != NULL) {
        wanted->bit = atoi(bit + 1);
    }
}

/* "1.12:600": the page's first address, as the reader says it and as the console's check does. */
static void want_page(int scheme, const char *value, struct wanted *wanted) {
    const char *const page = strchr(value, '.');
    if (page != NULL) {
        const int first = scheme == WIRE_2K ? 8 : 0;
        const unsigned number = (unsigned)(first + atoi(page + 1));
        snprintf(wanted->words[0], sizeof wanted->words[0], "$1%X00", number);
        snprintf(wanted->words[1], sizeof wanted->words[1], "$F%X00", number);
        wanted->beside = true;
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
    if (value == NULL) {
        return;
    }
    if (has_lines(wanted->kind)) {
        want_lines(value + 1, wanted);
    } else if (wanted->kind == FINDING_CART_BYTE_WRONG) {
        int bank;
        const size_t offset = strtoul(value + 2, NULL, 16);
        snprintf(wanted->words[0], sizeof wanted->words[0], "%03X",
                 (unsigned)scheme_address(of->scheme, offset, &bank) & 0xFFFu);
    } else if (wanted->kind == FINDING_CART_SWITCHES_TOO) {
        snprintf(wanted->words[0], sizeof wanted->words[0], "%.3s", value + 3);
    } else if (wanted->kind == FINDING_CART_HOTSPOT_WRONG) {
        snprintf(wanted->words[0], sizeof wanted->words[0], "%03X",
                 scheme_hotspot(of->scheme, atoi(value + 1)) & 0xFFFu);
    } else if (wanted->kind == FINDING_CART_SLOW) {
        want_page(of->scheme, value + 1, wanted);
    } else if (strncmp(fault, "cart-ram=", 9) == 0) {
        want_ram(value + 1, wanted);
    }
}

static bool has_words(const struct finding *finding, const struct wanted *wanted) {
    bool any = wanted->words[0][0] == '\0';
    for (int i = 0; i < 4; i++) {
        any = any || (wanted->words[i][0] != '\0' && strstr(finding->text, wanted->words[i]) != NULL);
    }
    return any;
}

static bool is_wanted(const struct finding *finding, const struct wanted *wanted) {
    const bool same =
        (wanted->bit < 0 || finding->bit == wanted->bit) && (wanted->reg < 0 || finding->reg == wanted->reg);
    const bool turned =
        wanted->bit >= 0 && wanted->reg >= 0 && finding->bit == wanted->reg && finding->reg == wanted->bit;
    return finding->kind == wanted->kind && (same || turned) &&
           (wanted->beside || has_words(finding, wanted));
}

static void name(const struct cover_case *of, const struct finding *findings, size_t count,
                 struct cover_seen *seen) {
    struct wanted wanted;
    size_t at = 0;
    want(of, &wanted);
    bool placed = !wanted.beside;
    for (size_t i = 0; i < count; i++) {
        placed = placed || has_words(&findings[i], &wanted);
        seen->named = seen->named || is_wanted(&findings[i], &wanted);
        seen->kind_only = seen->kind_only || findings[i].kind == wanted.kind;
        at += (size_t)snprintf(seen->findings + at, sizeof seen->findings - at, "[%s%s %d %d: %.90s] ",
                               findings[i].alternative ? "or " : "", finding_name(findings[i].kind),
                               findings[i].bit, findings[i].reg, findings[i].text);
        at = at < sizeof seen->findings ? at : sizeof seen->findings - 1;
    }
    seen->named = seen->named && placed;
    seen->alone = seen->among = seen->named;
    for (size_t i = 0; i < count && count > 1; i++) {
        seen->alone = seen->alone && is_wanted(&findings[i], &wanted);
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
