#include "record/shipped.h"

#include "record/invented.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { DAY_MS = 86400000, PER_SHIP = 2 };
static const int64_t first_ms = INT64_C(1767225600000); /* 2026-01-01 */

static const char limits[] =
    "; of an invented product\n[ship]\nscheme = F8\nways = console, reader\nrounds = 2\n"
    "[limits]\naccess_ns = 300\nmargin_ns = 40\n";

static struct finding finding_of(enum finding_kind kind, int bit, const char *text) {
    struct finding finding = {
        .kind = kind, .reg = -1, .bit = bit, .rate = 1, .rate_low = 1, .rate_high = 1, .explanation = 0};
    snprintf(finding.text, sizeof finding.text, "%s", text);
    snprintf(finding.next, sizeof finding.next, "With the power off, look at the contacts.");
    return finding;
}

struct ship shipped_kept(int which, struct finding findings[2]) {
    if (which > 0) {
        return (struct ship){.serial = "S-2",
                             .lot = "",
                             .limits = limits,
                             .tool = "0",
                             .problem = "nothing answers any more: pulled out?",
                             .started_ms = first_ms + DAY_MS,
                             .end = RECORD_TROUBLE};
    }
    findings[0] = finding_of(FINDING_CART_ADDRESS_SHORTED, 3, "A3 and A7 carry the same level.");
    findings[0].reg = 7;
    findings[0].alternative = true;
    findings[0].explanation = 1;
    findings[1] = finding_of(FINDING_CART_CONTACT, -1, "It comes and goes.");
    findings[1].rate = 0.25;
    findings[1].rate_low = 0.125;
    findings[1].rate_high = 0.5;
    struct ship ship = {.serial = "S\xC3\xA9rie 1",
                        .lot = "lot \"one\"",
                        .limits = limits,
                        .tool = "0",
                        .problem = "",
                        .started_ms = first_ms,
                        .end = RECORD_FAIL,
                        .console_run = 1,
                        .reader_run = 2,
                        .figure_count = 3,
                        .finding_count = 2,
                        .findings = findings};
    ship.figures[0] = (struct ship_figure){"access", "ns", 312.5, 300, true, false, false};
    ship.figures[1] = (struct ship_figure){"margin", "ns", 97.5, 40, true, true, true};
    ship.figures[2] = (struct ship_figure){"wake", "ms", 0, 20, false, false, false};
    return ship;
}

/* ---- a lot ---- */

static void measure(struct ship *ship, uint64_t *state, bool slow) {
    const double access = (slow ? 330 : 180) + 15 * invented_normal(state);
    ship->figures[0] = (struct ship_figure){"access", "ns", access, 300, true, false, access <= 300};
    ship->figures[1] = (struct ship_figure){"margin", "ns", 410 - access, 40, true, true, 410 - access >= 40};
    ship->figures[2] =
        (struct ship_figure){"release", "ns", 40 + 4 * invented_normal(state), 100, true, false, true};
    ship->figures[3] = (struct ship_figure){"rounds", "", 2, 2, true, true, true};
    ship->figure_count = 4;
}

static struct ship *add(struct shipped *shipped, const char *serial, int attempt, uint64_t *state) {
    struct ship *ship = &shipped->ships[shipped->list.count];
    *ship = (struct ship){.id = (int64_t)shipped->list.count + 1,
                          .serial = serial,
                          .lot = "invented",
                          .limits = limits,
                          .tool = "0",
                          .problem = "",
                          .attempt = attempt,
                          .started_ms = first_ms + (int64_t)shipped->list.count * 90000,
                          .end = RECORD_PASS};
    shipped->list.ships[shipped->list.count++] = ship;
    measure(ship, state, false);
    return ship;
}

static void fail(struct shipped *shipped, struct ship *ship, bool slow, uint64_t *state) {
    struct finding *finding = &shipped->findings[ship - shipped->ships];
    measure(ship, state, slow);
    *finding = slow ? finding_of(FINDING_CART_SLOW, -1, "Bank 1, page $F300 takes 330 ns.")
                    : finding_of(FINDING_CART_DATA_STUCK, 3, "D3 reads high at every address.");
    ship->findings = finding;
    ship->finding_count = 1;
    ship->end = RECORD_FAIL;
}

void shipped_new(uint64_t seed, int count, struct shipped *shipped) {
    const size_t room = (size_t)count * PER_SHIP + 1;
    uint64_t state = seed;
    *shipped = (struct shipped){.list.ships = calloc(room, sizeof(struct ship *)),
                                .ships = calloc(room, sizeof *shipped->ships),
                                .findings = calloc(room, sizeof *shipped->findings),
                                .serials = calloc((size_t)count + 1, sizeof *shipped->serials)};
    for (int i = 1; i <= count; i++) {
        char *serial = shipped->serials[i];
        snprintf(serial, sizeof shipped->serials[i], "INV-%05d", i);
        if (i % 25 == 1) {
            struct ship *ship = add(shipped, serial, 1, &state);
            ship->end = RECORD_TROUBLE;
            ship->figure_count = 0;
            ship->problem = "the reader's supply was overloaded";
        } else if (i % 50 == 2) {
            fail(shipped, add(shipped, serial, 1, &state), true, &state);
        }
        struct ship *ship = add(shipped, serial, i % 25 == 1 || i % 50 == 2 ? 2 : 1, &state);
        if (i % 10 == 0) {
            fail(shipped, ship, i % 20 == 0, &state);
        }
    }
}

void shipped_free(struct shipped *shipped) {
    free(shipped->list.ships);
    free(shipped->ships);
    free(shipped->findings);
    free(shipped->serials);
}
