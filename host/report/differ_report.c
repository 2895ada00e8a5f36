#include "report/differ_report.h"

#include <math.h>
#include <string.h>

const char *change_name(enum change_kind kind) {
    static const char *const names[] = {
        [CHANGE_NEW] = "new", [CHANGE_GONE] = "gone", [CHANGE_MORE] = "more", [CHANGE_LESS] = "less"};
    return (unsigned)kind <= CHANGE_LESS ? names[kind] : "";
}

/* "cells 3, 23"; "" of none. Returns text. */
static const char *change_cells(uint64_t cells, char *text, size_t size) {
    size_t length = 0;
    text[0] = '\0';
    for (int cell = 0; cell < 64; cell++) {
        if ((cells >> cell & 1) != 0 && length + 16 < size) {
            length += (size_t)snprintf(text + length, size - length, length == 0 ? "cells %d" : ", %d", cell);
        }
    }
    return text;
}

static void tell_side(FILE *stream, const char *name, size_t count, size_t unjudged, double minutes,
                      double noise_db) {
    fprintf(stream, "  %s: %zu run%s", name, count, count == 1 ? "" : "s");
    if (unjudged > 0) {
        fprintf(stream, ", beside %zu that could not be judged", unjudged);
    }
    if (!isnan(minutes)) {
        fprintf(stream, ", on for %.0f minutes (mean, where known)", minutes);
    }
    if (!isnan(noise_db)) {
        fprintf(stream, ", noise %.0f dB below white", noise_db);
    }
    fprintf(stream, "\n");
}

static void tell_bench(FILE *stream, const struct differ *differ) {
    if (differ->other_bench) {
        fprintf(stream,
                "  another bench, or with other trouble of its video: what drifts may be the bench's\n");
    } else if (differ->other_noise) {
        fprintf(stream, "  the video's noise is another one: margins move with it\n");
    }
    if (differ_turned(differ)) {
        fprintf(stream, "  all hues turned by %+.1f degrees: that may be the grabber's tint\n",
                differ->hue_turn);
    }
}

static void tell_change(FILE *stream, const struct change *change) {
    char cells[256];
    change_cells(change->cells, cells, sizeof cells);
    fprintf(stream, "  %-4s %s%s%s%s: in %d of %d before, %d of %d now%s\n", change_name(change->kind),
            change->step >= 0 ? "wrong: " : "", change->name, cells[0] != '\0' ? ", " : "", cells,
            change->before_hits, change->before_runs, change->now_hits, change->now_runs,
            change->worse       ? "  WORSE"
            : !change->known    ? ""
            : change->step >= 0 ? ", as in other steps before"
                                : ", beside one that was there before");
}

#define TESTS "both Welch's and Student's t"
#define CORRECTION "Benjamini and Hochberg"

static const char *unit_space(const char *unit) {
    return unit[0] == '\0' ? "" : " ";
}

static bool warms(enum quantity quantity) {
    return quantity >= QUANTITY_COLOUR_LEVEL;
}

double differ_shown(enum quantity quantity, double value) {
    return quantity == QUANTITY_COLOUR_HUE && isfinite(value) ? value - 360 * floor(value / 360) : value;
}

static void tell_drift(FILE *stream, const struct drift *drift, bool warm_up) {
    const struct quantity_facts *facts = &quantity_table[drift->quantity];
    fprintf(stream,
            "  drift %s of %s: %.4g to %.4g%s%s (least effect %g; deviations %.2g, %.2g; t %.2f, df %.1f, "
            "adjusted p %.2g)%s%s\n",
            facts->name, drift->name, differ_shown(drift->quantity, drift->before),
            differ_shown(drift->quantity, drift->now), unit_space(facts->unit), facts->unit, facts->least,
            drift->before_sd, drift->now_sd, drift->t, drift->df, drift->adjusted,
            drift->worse           ? "  WORSE"
            : drift->perhaps_bench ? ", perhaps the bench's"
                                   : "",
            warm_up && warms(drift->quantity) ? ", or the console is warmer or colder than it was" : "");
}

static void tell_rest(FILE *stream, size_t count, const char *what) {
    if (count > DIFFER_LINES_MOST) {
        fprintf(stream, "  and %zu %s more (--json has them all)\n", count - DIFFER_LINES_MOST, what);
    }
}

static void tell_tested(FILE *stream, const struct differ *differ, size_t called) {
    if (differ->tested == 0) {
        fprintf(stream, "  drift not tested: each side needs %d judged runs\n", DIFFER_RUNS);
        return;
    }
    fprintf(stream,
            "  %zu drift%s called of %zu quantities tested: " TESTS " over runs, corrected by " CORRECTION
            " to %.0f %%, and beyond the least effect\n",
            called, called == 1 ? "" : "s", differ->tested, 100 * DIFFER_RATE);
}

void differ_text(FILE *stream, const struct differ *differ) {
    size_t called = 0;
    tell_side(stream, "before", differ->before_count, differ->before_unjudged, differ->before_minutes,
              differ->before_noise_db);
    tell_side(stream, "now", differ->now_count, differ->now_unjudged, differ->now_minutes,
              differ->now_noise_db);
    tell_bench(stream, differ);
    for (size_t i = 0; i < differ->change_count && i < DIFFER_LINES_MOST; i++) {
        tell_change(stream, &differ->changes[i]);
    }
    tell_rest(stream, differ->change_count, "changes");
    for (size_t i = 0; i < differ->drift_count; i++) {
        if (differ->drifts[i].called && called++ < DIFFER_LINES_MOST) {
            tell_drift(stream, &differ->drifts[i], differ->warm_up);
        }
    }
    tell_rest(stream, called, "drifts");
    tell_tested(stream, differ, called);
}

/* null where it is not a number. */
static json_t *real(double value) {
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *side_json(size_t count, size_t unjudged, double minutes, double noise_db) {
    return json_pack("{s:I,s:I,s:o,s:o}", "judged", (json_int_t)count, "not_judged", (json_int_t)unjudged,
                     "minutes_on", real(minutes), "noise_db", real(noise_db));
}

static json_t *cells_json(uint64_t cells) {
    json_t *list = json_array();
    for (int cell = 0; cell < 64; cell++) {
        if ((cells >> cell & 1) != 0) {
            json_array_append_new(list, json_integer(cell));
        }
    }
    return list;
}

static json_t *step_json(int step) {
    return step < 0 ? json_null() : json_integer(step);
}

json_t *differ_test_json(const char *unit) {
    return json_pack("{s:[s,s],s:s,s:s,s:f}", "tests", "Welch", "Student", "unit", unit, "correction",
                     CORRECTION, "false_discovery_rate", DIFFER_RATE);
}

static json_t *change_json(const struct change *change) {
    return json_pack("{s:s,s:o,s:s,s:o,s:{s:i,s:i},s:{s:i,s:i},s:b,s:b}", "change", change_name(change->kind),
                     "step", step_json(change->step), "name", change->name, "cells",
                     cells_json(change->cells), "before", "hits", change->before_hits, "runs",
                     change->before_runs, "now", "hits", change->now_hits, "runs", change->now_runs, "worse",
                     (int)change->worse, "known", (int)change->known);
}

static json_t *drift_json(const struct drift *drift) {
    const struct quantity_facts *facts = &quantity_table[drift->quantity];
    return json_pack("{s:s,s:s,s:o,s:s,s:{s:i,s:o,s:o},s:{s:i,s:o,s:o},s:f,s:o,s:o,s:o,s:o,s:b,s:b,s:b}",
                     "quantity", facts->name, "unit", facts->unit, "step", step_json(drift->step), "name",
                     drift->name, "before", "runs", drift->before_runs, "mean", real(drift->before),
                     "deviation", real(drift->before_sd), "now", "runs", drift->now_runs, "mean",
                     real(drift->now), "deviation", real(drift->now_sd), "least_effect", facts->least, "t",
                     real(drift->t), "df", real(drift->df), "p", real(drift->p), "adjusted_p",
                     real(drift->adjusted), "called", (int)drift->called, "worse", (int)drift->worse,
                     "perhaps_bench", (int)drift->perhaps_bench);
}

json_t *differ_json(const struct differ *differ) {
    json_t *changes = json_array(), *drifts = json_array();
    for (size_t i = 0; i < differ->change_count; i++) {
        json_array_append_new(changes, change_json(&differ->changes[i]));
    }
    for (size_t i = 0; i < differ->drift_count; i++) {
        json_array_append_new(drifts, drift_json(&differ->drifts[i]));
    }
    return json_pack(
        "{s:b,s:b,s:o,s:o,s:b,s:b,s:b,s:f,s:o,s:I,s:o,s:o}", "regression", (int)differ->regression, "doubt",
        (int)differ->doubt, "before",
        side_json(differ->before_count, differ->before_unjudged, differ->before_minutes,
                  differ->before_noise_db),
        "now", side_json(differ->now_count, differ->now_unjudged, differ->now_minutes, differ->now_noise_db),
        "warm_up", (int)differ->warm_up, "other_bench", (int)differ->other_bench, "other_noise",
        (int)differ->other_noise, "hue_turn", differ->hue_turn, "test", differ_test_json("run"), "tested",
        (json_int_t)differ->tested, "changes", changes, "drifts", drifts);
}

static const char *quantity_name(const struct separation *separation) {
    return separation->wrong ? "share wrong" : quantity_table[separation->quantity].name;
}

static void tell_separated(FILE *stream, const struct separations *separations) {
    size_t tested = 0, apart = 0;
    for (size_t i = 0; i < separations->count; i++) {
        tested += !isnan(separations->list[i].p);
        apart += separations->list[i].adjusted <= DIFFER_RATE;
    }
    if (tested == 0) {
        fprintf(stream, "  not tested: each group needs two consoles, or nothing varies\n");
    } else {
        fprintf(stream,
                "  %zu of %zu quantities tell the groups apart: " TESTS
                " over consoles, corrected by " CORRECTION " to %.0f %%%s\n",
                apart, tested, 100 * DIFFER_RATE, apart == 0 ? "; what stands first here may be chance" : "");
    }
}

void separations_text(FILE *stream, const struct separations *separations, const char *first,
                      const char *second) {
    tell_separated(stream, separations);
    fprintf(stream, "  best first; A: %s, B: %s; pairs: share of pairs of consoles in which A's is larger\n",
            first, second);
    fprintf(stream, "  %-11s %-32s %10s %10s %6s %8s %10s\n", "quantity", "of", "A", "B", "pairs", "t",
            "adjusted p");
    for (size_t i = 0; i < separations->count && i < SEPARATIONS_SHOWN; i++) {
        const struct separation *row = &separations->list[i];
        fprintf(stream, "  %-11s %-32s %10.4g %10.4g %6.2f ", quantity_name(row), row->name,
                differ_shown(row->quantity, row->first), differ_shown(row->quantity, row->second),
                row->larger);
        if (isnan(row->p)) {
            fprintf(stream, "%8s %10s\n", "-", "not tested");
        } else {
            fprintf(stream, "%8.2f %10.2g\n", row->t, row->adjusted);
        }
    }
}

static json_t *separation_json(const struct separation *row) {
    return json_pack("{s:s,s:s,s:o,s:s,s:{s:i,s:o},s:{s:i,s:o},s:o,s:o,s:o,s:o,s:o}", "quantity",
                     quantity_name(row), "unit", row->wrong ? "" : quantity_table[row->quantity].unit, "step",
                     step_json(row->step), "name", row->name, "first", "consoles", row->first_consoles,
                     "mean", real(row->first), "second", "consoles", row->second_consoles, "mean",
                     real(row->second), "pairs_larger", real(row->larger), "t", real(row->t), "df",
                     real(row->df), "p", real(row->p), "adjusted_p", real(row->adjusted));
}

json_t *separations_json(const struct separations *separations) {
    json_t *list = json_array();
    for (size_t i = 0; i < separations->count; i++) {
        json_array_append_new(list, separation_json(&separations->list[i]));
    }
    return list;
}
