/* Two consoles' moments, written out side by side. Everything here was measured. */
#include "report/moments_report.h"
#include "report/moments_words.h"

/* ---- text ---- */

static void print_delays(FILE *stream, const struct moments_pair *pair) {
    fprintf(stream, "\n  Delays that differ, measured (clocks):\n  %-10s %-6s %-13s %s\n", "register",
            "phase", "first", "second");
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        const int reg = i / MOMENT_PHASES, phase = i % MOMENT_PHASES;
        char one[MOMENTS_TEXT], other[MOMENTS_TEXT];
        if (pair->difference->delay[reg][phase]) {
            moments_delay_text(&pair->first->delay[reg][phase], one);
            moments_delay_text(&pair->second->delay[reg][phase], other);
            fprintf(stream, "  %-10s %-6d %-13s %s\n", moment_name((enum moment_register)reg), phase, one,
                    other);
        }
    }
}

static void print_windows(FILE *stream, const struct moments_pair *pair) {
    fprintf(stream, "\n  Windows that differ, measured (cycles):\n  %-10s %-7s %-6s %-13s %s\n", "register",
            "mode", "half", "first", "second");
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * HALVES; i++) {
        const int reg = i / (MOMENT_MODES * HALVES), mode = i / HALVES % MOMENT_MODES, half = i % HALVES;
        char one[MOMENTS_TEXT], other[MOMENTS_TEXT];
        if (pair->difference->window[reg][mode][half]) {
            moments_window_text(&pair->first->windows.window[reg][mode][half], one);
            moments_window_text(&pair->second->windows.window[reg][mode][half], other);
            fprintf(stream, "  %-10s %-7s %-6s %-13s %s\n", moment_name((enum moment_register)reg),
                    moments_mode_names[mode], moments_half_names[half], one, other);
        }
    }
}

void moments_difference_text(FILE *stream, const struct moments_pair *pair) {
    const struct moments_difference *difference = pair->difference;
    fprintf(stream,
            "%d of %d delays differ, %d windows, %d halves of lines; a clock counts from %.2f away, or %d "
            "sigma.\n",
            difference->delays, difference->compared, difference->windows, difference->moments,
            MOMENTS_CLOCK_BOUND, MOMENTS_SIGMAS);
    if (difference->missing > 0) {
        fprintf(stream, "%d delays are not known of one of them, and were not compared.\n",
                difference->missing);
    }
    if (difference->delays > 0) {
        print_delays(stream, pair);
    }
    if (difference->windows > 0) {
        print_windows(stream, pair);
    }
}

/* ---- CSV ---- */

void moments_difference_csv(FILE *stream, const struct moments_pair *pair) {
    fprintf(stream, "register,mode,edge,half,cycle,first_measured,second_measured,differs\n");
    for (uint32_t i = 0; i < MOMENT_VALUES * MOMENT_EDGES * HALVES; i++) {
        const uint32_t value = i / (MOMENT_EDGES * HALVES);
        const int edge = (int)(i / HALVES % MOMENT_EDGES), half = (int)(i % HALVES);
        const struct moment moment = moment_of(value);
        char one[MOMENTS_TEXT], other[MOMENTS_TEXT];
        moments_half_text(&pair->first->seen[value].half[edge][half], one);
        moments_half_text(&pair->second->seen[value].half[edge][half], other);
        fprintf(stream, "%s,%s,%s,%s,%d,%s,%s,%d\n", moment_name(moment.reg),
                moments_mode_names[moment.mirror], moments_edge_names[edge], moments_half_names[half],
                moment.cycle, one, other, pair->difference->moment[value][edge][half]);
    }
}

/* ---- JSON ---- */

static json_t *delay_json(const struct moment_delay *delay) {
    return json_pack("{s:f,s:f,s:f,s:b}", "clocks", delay->clocks, "low", delay->low, "high", delay->high,
                     "exact", (int)delay->exact);
}

static json_t *window_json(const struct write_window *window) {
    return window->exists ? json_pack("[i,i]", window->first, window->last) : json_null();
}

static json_t *delays_json(const struct moments_pair *pair) {
    json_t *list = json_array();
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        const int reg = i / MOMENT_PHASES, phase = i % MOMENT_PHASES;
        if (pair->difference->delay[reg][phase]) {
            json_array_append_new(list, json_pack("{s:s,s:i,s:o,s:o}", "register",
                                                  moment_name((enum moment_register)reg), "phase", phase,
                                                  "first", delay_json(&pair->first->delay[reg][phase]),
                                                  "second", delay_json(&pair->second->delay[reg][phase])));
        }
    }
    return list;
}

static json_t *windows_json(const struct moments_pair *pair) {
    json_t *list = json_array();
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * HALVES; i++) {
        const int reg = i / (MOMENT_MODES * HALVES), mode = i / HALVES % MOMENT_MODES, half = i % HALVES;
        if (pair->difference->window[reg][mode][half]) {
            json_array_append_new(
                list, json_pack("{s:s,s:s,s:s,s:o,s:o}", "register", moment_name((enum moment_register)reg),
                                "half", moments_half_names[half], "mode", moments_mode_names[mode], "first",
                                window_json(&pair->first->windows.window[reg][mode][half]), "second",
                                window_json(&pair->second->windows.window[reg][mode][half])));
        }
    }
    return list;
}

json_t *moments_difference_json(const struct moments_pair *pair) {
    return json_pack("{s:i,s:i,s:o,s:o,s:i}", "compared", pair->difference->compared, "missing",
                     pair->difference->missing, "delays", delays_json(pair), "windows", windows_json(pair),
                     "moments", pair->difference->moments);
}
