/* The page of one run. */
#include "report/html_inside.h"

#include <string.h>

/* A cartridge on a reader: there was neither console nor video, and its place is the reader's bench. */
static bool is_of_reader(const struct record_run *run) {
    return strcmp(run->command, "reader") == 0;
}

/* ---- the verdict in words ---- */

static size_t steps_of(const struct record_run *run, enum verdict verdict) {
    size_t count = 0;
    for (size_t i = 0; i < run->step_count && run->steps != NULL; i++) {
        count += run->steps[i].verdict == verdict;
    }
    return count;
}

static void what_passed(struct html *html, const struct record_run *run) {
    const struct coverage *coverage = &run->coverage;
    if (coverage->of > 0) {
        html_say(html,
                 run->plan->kind == PLAN_CARTRIDGE ? "%llu of %llu items were read, %llu of them wrong"
                                                   : "%llu of %llu pictures were seen, %llu of them wrong",
                 (unsigned long long)coverage->seen, (unsigned long long)coverage->of,
                 (unsigned long long)coverage->wrong);
        if (coverage->open > 0) {
            html_say(html, ", %llu not yet called", (unsigned long long)coverage->open);
        }
    } else if (run->step_count > 0) {
        const size_t passed = steps_of(run, VERDICT_PASS), failed = steps_of(run, VERDICT_FAIL);
        html_say(html, "%zu of %zu steps passed", passed, run->step_count);
        if (passed + failed < run->step_count) {
            html_say(html, ", %zu could not be judged", run->step_count - passed - failed);
        }
    } else {
        html_say(html, "no step's result is kept");
    }
}

static void by_whom(struct html *html, const struct record_run *run) {
    if (is_of_reader(run)) {
        html_put(html, "cartridge ");
        html_name(html, run->cartridge.serial, "without a serial");
        html_put(html, " on the reader of bench ");
        html_name(html, run->bench, "without a name");
        return;
    }
    html_put(html, "plan ");
    html_name(html, run->plan->name, "without a name");
    html_put(html, " on console ");
    html_name(html, run->console.name, "without a name");
    if (run->seen_by_eye) {
        html_put(html, ", seen by eye");
    }
}

/* Where something fails, what: the causes stand below in full. */
static void what_fails(struct html *html, const struct record_run *run) {
    if (run->end != RECORD_FAIL || run->finding_count == 0) {
        return;
    }
    html_put(html, "<strong>");
    html_finding_name(html, &run->findings[0]);
    html_put(html, "</strong>");
    if (run->finding_count > 1) {
        html_put(html, " and %zu more finding%s", run->finding_count - 1, run->finding_count == 2 ? "" : "s");
    }
    html_put(html, "; ");
}

void html_verdict(struct html *html, const struct record_run *run) {
    const enum standing_kind kind = html_of_end(run->end);
    html_put(html, "<p class=\"v %s\" data-run=%lld data-verdict=%s data-margin=%.6g>",
             html_marks[kind].class, (long long)run->id, record_end_name(run->end), run->margin);
    html_mark(html, kind);
    html_put(html, ": ");
    what_fails(html, run);
    by_whom(html, run);
    if (!is_of_reader(run)) {
        html_put(html, "; ");
        what_passed(html, run);
    }
    if (run->fields_judged > 0 && !run->seen_by_eye) {
        html_put(html, "; worst margin %.2f", run->margin);
    }
    html_put(html, ".</p>\n");
    if (run->end == RECORD_INCONCLUSIVE || run->end == RECORD_TROUBLE) {
        html_put(html, "<p>Nothing is said about the %s.</p>\n", is_of_reader(run) ? "cartridge" : "console");
    }
    if (run->problem[0] != '\0') {
        html_put(html, "<p>It ended early: ");
        html_say(html, "%s", run->problem);
        html_put(html, "</p>\n");
    }
}

/* ---- facts ---- */

void html_console_facts(struct html *html, const struct record_run *run) {
    html_fact(html, "Console", "%s", run->console.name);
    html_fact(html, "Board revision", "%s", run->console.revision);
    html_fact(html, "Chip markings", "%s", run->console.markings);
    html_fact(html, "Modifications", "%s", run->console.modifications);
    html_fact(html, "Video standard", "%s", standard_table[run->plan->standard].name);
}

static void bench_facts(struct html *html, const struct record_run *run) {
    html_fact(html, "Bench", "%s", run->bench);
    html_fact(html, "Station", "%s", run->station);
    if (is_of_reader(run)) {
        html_fact(html, "Reader reached by", "%s", run->cartridge.kind);
        html_fact(html, "Its firmware", "%s", run->cartridge.firmware);
        html_fact(html, "Cartridge", "%s", run->cartridge.serial);
    } else {
        html_fact(html, "Image put in by", "%s", run->cartridge.kind);
        html_fact(html, "Cartridge", "%s", run->cartridge.serial);
        html_fact(html, "Its firmware", "%s", run->cartridge.firmware);
    }
    html_fact(html, "slotjig", "%s", run->tool);
}

static void plan_facts(struct html *html, const struct record_run *run) {
    if (run->minutes_on >= 0) {
        html_fact(html, "Since power-on", "%.1f minutes", run->minutes_on);
    } else {
        html_fact(html, "Since power-on", "not known");
    }
    html_fact(html, "Plan", "%s", run->plan->name);
    if (run->plan->id[0] != '\0') {
        html_fact(html, "Plan, its text's hash", "%.16s\u2026", run->plan->id);
    }
    html_fact(html, "Image, its hash", "%04x", run->image_hash);
}

static void run_facts(struct html *html, const struct record_run *run) {
    char when[HTML_WHEN];
    html_when(run->started_ms, when);
    if (run->id > 0) {
        html_fact(html, "Record", "%lld", (long long)run->id);
    }
    html_fact(html, "Started", "%s, took %.1f s", when, (double)run->took_ms / 1000);
    if (!is_of_reader(run)) {
        plan_facts(html, run);
    }
    html_fact(html, "Command", "%s%s", run->command, run->seen_by_eye ? ", answered by a person" : "");
    html_settings(html, run->settings);
    if (run->has_seed) {
        html_fact(html, "Seed", "%llu", (unsigned long long)run->seed);
    }
    if (run->sweep > 0) {
        html_fact(html, "Sweep", "%lld, repeat %d, attempt %d", (long long)run->sweep, run->repeat,
                  run->attempt);
    } else if (run->item > 0) {
        html_fact(html, "Attempt", "%d, in a sweep", run->attempt);
    }
}

static void facts(struct html *html, const struct record_run *run) {
    html_section(html, "facts",
                 is_of_reader(run) ? "Reader, bench and settings" : "Console, bench and settings");
    html_put(html, "<div class=d>\n");
    if (!is_of_reader(run)) {
        html_facts(html);
        html_console_facts(html, run);
        html_facts_end(html);
    }
    html_facts(html);
    bench_facts(html, run);
    html_facts_end(html);
    html_facts(html);
    run_facts(html, run);
    html_facts_end(html);
    html_put(html, "</div>\n");
    html_section_end(html);
}

/* Last, for it may be long, and is open on paper. */
static void plan_file(struct html *html, const struct record_run *run) {
    if (run->plan->text != NULL && run->plan->text[0] != '\0') {
        html_section(html, "plan", "The plan");
        html_details(html, false, "As a plan file");
        html_put(html, "<pre tabindex=0 role=region aria-label=\"plan file\">");
        escape_lines(html->stream, run->plan->text);
        html_put(html, "</pre>\n");
        html_details_end(html);
        html_section_end(html);
    }
}

static void raster(struct html *html, const struct record_run *run) {
    const struct raster *raster = &run->raster;
    const int lines = run->frame_lines > 0 ? run->frame_lines : 1;
    html_fact(html, "Left edge", "%.2f samples", raster->left);
    html_fact(html, "Top", "line %.2f", raster->top * lines);
    html_fact(html, "A cell is", "%.3f samples wide", raster->clock_width * CELL_CLOCKS);
    html_fact(html, "Black, white", "%.1f, %.1f codes", raster->black, raster->white);
    html_fact(html, "Slant", "%.4f samples a line", raster->slant);
}

static void video(struct html *html, const struct record_run *run) {
    html_section(html, "video", "What the grabber saw");
    html_facts(html);
    html_fact(html, "Fields", "%llu seen, %llu judged, %llu unreadable", (unsigned long long)run->fields_seen,
              (unsigned long long)run->fields_judged, (unsigned long long)run->fields_unreadable);
    if (run->noise_db > 0) {
        html_fact(html, "Signal to noise", "%.1f dB", run->noise_db);
    }
    if (run->has_raster) {
        raster(html, run);
    }
    html_facts_end(html);
    if (!html_picture(html, run, "field",
                      "a captured field with the raster that was found in it and the cells read")) {
        html_put(html, "<p class=q>No picture of a field is kept of this run. They are of runs that did not "
                       "pass, where a field was seen, and of a console's first pass of a plan.</p>\n");
    }
    html_section_end(html);
}

/* ---- all of it ---- */

static void contents(struct html *html, const struct record_run *run, const struct differ *differ) {
    const struct {
        bool there;
        const char *id, *name;
    } parts[] = {{true, "findings", "Findings"},
                 {differ != NULL, "differ", "Against the baseline"},
                 {true, "facts", is_of_reader(run) ? "Reader, bench, settings" : "Console, bench, settings"},
                 {html_has_blob(run, "moments"), "moments", "When writes take effect"},
                 {html_has_blob(run, "colours"), "colours", "Colours"},
                 {html_has_blob(run, "cartridge"), "check", "Cartridge"},
                 {html_has_reading(run), "reader", "On the reader"},
                 {html_has_steps(run), "steps", "Steps"},
                 {!is_of_reader(run), "video", "Video"}};
    html_put(html, "<nav aria-label=\"On this page\"><ul>");
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        if (parts[i].there) {
            html_put(html, "<li><a href=\"#%s\">%s</a></li>", parts[i].id, parts[i].name);
        }
    }
    html_put(html, "</ul></nav>\n");
}

void html_run(FILE *stream, const struct record_run *run, const struct differ *differ) {
    struct html html;
    const bool of_reader = is_of_reader(run);
    html_begin(&html, stream, of_reader ? "A cartridge on a reader" : "Run",
               of_reader ? run->cartridge.serial : run->console.name);
    html_verdict(&html, run);
    contents(&html, run, differ);
    html_findings(&html, &run, 1);
    if (differ != NULL) {
        html_section(&html, "differ", "Against the baseline");
        html_differ(&html, differ);
        html_section_end(&html);
    }
    facts(&html, run);
    html_plan_moments(&html, run);
    html_plan_colours(&html, run);
    html_plan_check(&html, run);
    html_reader(&html, run);
    html_steps(&html, run);
    if (of_reader) {
        html_end_cartridge(&html);
        return;
    }
    video(&html, run);
    plan_file(&html, run);
    html_end(&html);
}
