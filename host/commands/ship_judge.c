/* What the ways of testing saw, to one verdict. A pass needs all of them, and every limit kept. */
#include "commands/ship.h"
#include "commands/ship_way.h"

#include <string.h>

struct ship_figure ship_figure_of(const struct ship_plan *plan, enum ship_limit limit, bool known,
                                  double value) {
    const struct ship_limit_about *about = &ship_limit_table[limit];
    const double bound = plan->limit[limit];
    return (struct ship_figure){.name = about->name,
                                .unit = about->unit,
                                .value = known ? value : 0,
                                .limit = bound,
                                .known = known,
                                .at_least = about->at_least,
                                .within = known && (about->at_least ? value >= bound : value <= bound)};
}

static bool has(const struct ship *ship, const struct finding *finding) {
    for (size_t i = 0; i < ship->finding_count; i++) {
        const struct finding *known = &ship->findings[i];
        if (known->kind == finding->kind && known->bit == finding->bit && known->reg == finding->reg) {
            return true;
        }
    }
    return false;
}

/* That no picture came says nothing more once the reader has said what is wrong. */
static bool says_less(const struct finding *finding, const struct ship *ship) {
    return ship->finding_count > 0 &&
           (!finding_is_cartridge(finding->kind) || finding->kind == FINDING_CART_DEAD);
}

/* Explanations are numbered by each way for itself: those of the second go on behind those of the first. */
static void add(const struct ship_seen *seen, struct finding *findings, struct ship *ship) {
    const struct ship before = *ship;
    int most = 0;
    for (size_t i = 0; i < ship->finding_count; i++) {
        most = findings[i].explanation > most ? findings[i].explanation : most;
    }
    for (size_t i = 0; i < seen->finding_count; i++) {
        if (!has(ship, &seen->findings[i]) && !says_less(&seen->findings[i], &before)) {
            struct finding *finding = &findings[ship->finding_count++];
            *finding = seen->findings[i];
            finding->explanation += before.finding_count > 0 ? most : 0;
        }
    }
    for (size_t i = 0; i < seen->figure_count && ship->figure_count < SHIP_FIGURES_MAX; i++) {
        ship->figures[ship->figure_count++] = seen->figures[i];
    }
}

/* How far a figure says more than its way's verdict: beyond its limit, or not known though there is one. */
static enum record_end of_figures(const struct ship *ship) {
    enum record_end end = RECORD_PASS;
    for (size_t i = 0; i < ship->figure_count; i++) {
        if (ship->figures[i].known && !ship->figures[i].within) {
            return RECORD_FAIL;
        }
        end = ship->figures[i].known ? end : RECORD_INCONCLUSIVE;
    }
    return end;
}

/* A fault that was seen stays one, whatever became of the rest. */
static enum record_end graver(enum record_end first, enum record_end second) {
    static const int order[RECORD_ENDS] = {
        [RECORD_PASS] = 0, [RECORD_INCONCLUSIVE] = 1, [RECORD_TROUBLE] = 2, [RECORD_FAIL] = 3};
    return order[second] > order[first] ? second : first;
}

void ship_judge(const struct ship_seen *console, const struct ship_seen *reader, const struct ship_plan *plan,
                struct finding *findings, struct ship *ship) {
    /* A reader tells causes apart that are one to a console: its findings come first. */
    const struct ship_seen *const ways[] = {reader, console};
    const bool wanted[] = {plan->reader, plan->console};
    ship->end = RECORD_PASS;
    ship->problem = "";
    ship->findings = findings;
    ship->finding_count = ship->figure_count = 0;
    ship->console_run = console != NULL ? console->run : 0;
    ship->reader_run = reader != NULL ? reader->run : 0;
    for (int i = 0; i < 2; i++) {
        if (ways[i] == NULL) {
            ship->end = graver(ship->end, wanted[i] ? RECORD_TROUBLE : RECORD_PASS);
            continue;
        }
        ship->end = graver(ship->end, ways[i]->end);
        if (ways[i]->problem[0] != '\0' && ship->problem[0] == '\0') {
            ship->problem = ways[i]->problem;
        }
        if (ways[i]->end != RECORD_TROUBLE || ways[i]->finding_count > 0) {
            add(ways[i], findings, ship);
        }
    }
    if (ship->end != RECORD_TROUBLE) {
        ship->end = graver(ship->end, of_figures(ship));
    }
}
