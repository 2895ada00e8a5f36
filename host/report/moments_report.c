#include "report/moments_report.h"

#include "report/chart.h"
#include "report/moments_words.h"
#include "report/text_file.h"

#include <math.h>

/* ---- JSON ---- */

static json_t *number_or_null(bool known, double value) {
    return known ? json_real(value) : json_null();
}

static json_t *delay_json(enum moment_register reg, int phase, const struct moment_delay *delay) {
    return json_pack(
        "{s:s,s:i,s:o,s:o,s:o,s:o,s:b,s:i}", "register", moment_name(reg), "phase", phase, "clocks",
        number_or_null(delay->known, delay->clocks), "spread", number_or_null(delay->known, delay->spread),
        "low", number_or_null(delay->known, delay->low), "high", number_or_null(delay->known, delay->high),
        "exact", (int)delay->exact, "observations", delay->observations);
}

static json_t *delays_json(const struct moments *moments) {
    json_t *list = json_array();
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        const int reg = i / MOMENT_PHASES, phase = i % MOMENT_PHASES;
        json_array_append_new(list,
                              delay_json((enum moment_register)reg, phase, &moments->delay[reg][phase]));
    }
    return list;
}

static json_t *windows_json(const struct write_windows *windows) {
    json_t *list = json_array();
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * HALVES; i++) {
        const int reg = i / (MOMENT_MODES * HALVES), mode = i / HALVES % MOMENT_MODES, half = i % HALVES;
        const struct write_window *window = &windows->window[reg][mode][half];
        json_t *first = window->exists ? json_integer(window->first) : json_null();
        json_t *last = window->exists ? json_integer(window->last) : json_null();
        json_array_append_new(
            list, json_pack("{s:s,s:s,s:s,s:o,s:o,s:b}", "register", moment_name((enum moment_register)reg),
                            "half", moments_half_names[half], "mode", moments_mode_names[mode], "first_cycle",
                            first, "last_cycle", last, "known", !window->open));
    }
    return list;
}

/* A number is the clock of the change. */
static json_t *half_json(const struct half_seen *half) {
    switch (half->state) {
    case HALF_NOT_SEEN:
        return json_null();
    case HALF_CHANGES:
        return json_real(round(half->clock * 1000) / 1000);
    default:
        return json_string(moments_state_names[half->state]);
    }
}

static json_t *series_json(const struct moments *moments, enum moment_register reg, int mode, int edge,
                           int half) {
    json_t *list = json_array();
    for (int cycle = 0; cycle < LINE_CYCLES; cycle++) {
        const uint32_t value = moment_value(&(struct moment){reg, mode != 0, cycle});
        json_array_append_new(list, half_json(&moments->seen[value].half[edge][half]));
    }
    return list;
}

/* Of all changes of the series. */
static double series_spread(const struct moments *moments, enum moment_register reg, int mode, int edge) {
    double squares = 0;
    int count = 0;
    for (int i = 0; i < LINE_CYCLES * HALVES; i++) {
        const uint32_t value = moment_value(&(struct moment){reg, mode != 0, i / HALVES});
        const struct half_seen *half = &moments->seen[value].half[edge][i % HALVES];
        squares += half->state == HALF_CHANGES ? half->spread * half->spread : 0;
        count += half->state == HALF_CHANGES;
    }
    return count > 0 ? sqrt(squares / count) : 0;
}

static int fewest_fields(const struct moments *moments, enum moment_register reg, int mode) {
    int fewest = -1;
    for (int cycle = 0; cycle < LINE_CYCLES; cycle++) {
        const int fields = moments->seen[moment_value(&(struct moment){reg, mode != 0, cycle})].fields;
        fewest = fewest < 0 || fields < fewest ? fields : fewest;
    }
    return fewest;
}

/* One object a register, mode and edge; its lists go from cycle 0 to 75. */
static json_t *seen_json(const struct moments *moments) {
    json_t *list = json_array();
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * MOMENT_EDGES; i++) {
        const enum moment_register reg = (enum moment_register)(i / (MOMENT_MODES * MOMENT_EDGES));
        const int mode = i / MOMENT_EDGES % MOMENT_MODES, edge = i % MOMENT_EDGES;
        json_array_append_new(list,
                              json_pack("{s:s,s:s,s:s,s:i,s:f,s:o,s:o}", "register", moment_name(reg), "mode",
                                        moments_mode_names[mode], "edge", moments_edge_names[edge], "fields",
                                        fewest_fields(moments, reg, mode), "spread",
                                        series_spread(moments, reg, mode, edge), "left",
                                        series_json(moments, reg, mode, edge, HALF_LEFT), "right",
                                        series_json(moments, reg, mode, edge, HALF_RIGHT)));
    }
    return list;
}

json_t *moments_json(const struct moments *moments) {
    return json_pack("{s:o,s:o,s:o,s:o}", "delays", delays_json(moments), "windows",
                     windows_json(&moments->windows), "arithmetic", windows_json(&moments->arithmetic),
                     "moments", seen_json(moments));
}

/* ---- text ---- */

static void print_delays(FILE *stream, const struct moments *moments) {
    fprintf(stream,
            "\n  Delays, measured: colour clocks from the end of the store's cycle to the change, by the "
            "write's phase,\n  (clock of the write - 68) modulo 4. Of a range every whole clock draws the "
            "same pictures.\n\n  %-10s %-13s %-13s %-13s %-13s %s\n",
            "register", "phase 0", "phase 1", "phase 2", "phase 3", "spread");
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        double spread = 0;
        bool any = false;
        fprintf(stream, "  %-10s", moment_name((enum moment_register)reg));
        for (int phase = 0; phase < MOMENT_PHASES; phase++) {
            char text[MOMENTS_TEXT];
            moments_delay_text(&moments->delay[reg][phase], text);
            fprintf(stream, " %-13s", text);
            spread = fmax(spread, moments->delay[reg][phase].spread);
            any = any || moments->delay[reg][phase].known;
        }
        fprintf(stream, any ? " %.3f\n" : " -\n", spread);
    }
}

static void print_windows(FILE *stream, const struct moments *moments) {
    fprintf(stream,
            "\n  Cycles in which a store may end so that one half is rewritten cleanly; below 0: in the "
            "line before.\n  left: this line is new from its first cell on, the line before old to its "
            "end. right: only the right half is new.\n\n  %-10s %-7s %-6s %-20s %s\n",
            "register", "mode", "half", "measured (cycles)", "derived: 68 + 4n, no delay (cycles)");
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * HALVES; i++) {
        const int reg = i / (MOMENT_MODES * HALVES), mode = i / HALVES % MOMENT_MODES, half = i % HALVES;
        char measured[MOMENTS_TEXT], derived[MOMENTS_TEXT];
        moments_window_text(&moments->windows.window[reg][mode][half], measured);
        moments_window_text(&moments->arithmetic.window[reg][mode][half], derived);
        fprintf(stream, "  %-10s %-7s %-6s %-20s %s\n", moment_name((enum moment_register)reg),
                moments_mode_names[mode], moments_half_names[half], measured, derived);
    }
}

void moments_terminal(FILE *stream, const struct moments *moments) {
    print_delays(stream, moments);
    print_windows(stream, moments);
}

struct written {
    const struct moments *moments;
    const char *of;
};

static void print_text(FILE *stream, const void *what) {
    const struct written *written = what;
    fprintf(stream, "  plan moments: %s\n", written->of);
    moments_terminal(stream, written->moments);
}

/* ---- CSV ---- */

static void print_half(FILE *stream, const struct half_seen *half) {
    fprintf(stream, ",%s,", moments_state_names[half->state]);
    if (half->state == HALF_CHANGES) {
        fprintf(stream, "%.3f,%.3f", half->clock, half->spread);
    } else {
        fputc(',', stream);
    }
}

static void print_csv(FILE *stream, const void *what) {
    const struct moments *moments = ((const struct written *)what)->moments;
    fprintf(stream,
            "register,mode,edge,cycle,store_clock_derived,fields,left_state_measured,left_clock_measured,"
            "left_spread_measured,right_state_measured,right_clock_measured,right_spread_measured\n");
    for (uint32_t i = 0; i < MOMENT_VALUES * MOMENT_EDGES; i++) {
        const struct moment moment = moment_of(i / MOMENT_EDGES);
        const struct moment_seen *seen = &moments->seen[i / MOMENT_EDGES];
        fprintf(stream, "%s,%s,%s,%d,%d,%d", moment_name(moment.reg), moments_mode_names[moment.mirror],
                moments_edge_names[i % MOMENT_EDGES], moment.cycle, 3 * moment.cycle, seen->fields);
        for (int half = 0; half < HALVES; half++) {
            print_half(stream, &seen->half[i % MOMENT_EDGES][half]);
        }
        fputc('\n', stream);
    }
}

static void print_chart(FILE *stream, const void *what) {
    const struct written *written = what;
    chart_moments(stream, 0, written->moments, written->of);
}

bool moments_write(const struct moments *moments, const char *of, const char *folder,
                   struct problem *problem) {
    const struct written written = {moments, of};
    return text_file(folder, "moments.txt", print_text, &written, problem) &&
           text_file(folder, "moments.csv", print_csv, &written, problem) &&
           text_file(folder, "moments.svg", print_chart, &written, problem);
}
