#include "plan/plan_file.h"

#include "expect/expect.h"
#include "plan/check.h"
#include "plan/colours.h"
#include "plan/every.h"
#include "plan/moments.h"
#include "plan/settings_file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { HELD_REGS = 6, LAST_BAND = 0 /* lines not given: the rest */ };

static const enum reg held[HELD_REGS] = {REG_CTRLPF, REG_PF0, REG_PF1, REG_PF2, REG_COLUPF, REG_COLUBK};

/* What one section says, before it is made a band of. */
struct block {
    struct setting at; /* where the section begins */
    bool is_band;
    bool given[REG_COUNT], mode_given, mirror, score_given, score, lines_given, vouched_given, vouched;
    uint8_t value[REG_COUNT];
    uint8_t cells[CELLS];
    int cell_count; /* 0: none given */
    int cells_line;
    int lines;
    int write_count;
    struct write writes[BAND_WRITES_MAX];
};

struct plan_file {
    enum standard standard;
    struct plan *plan;
    bool plan_seen, name_seen;
    bool counts; /* `counts` was given: the plan has all its pictures and takes no steps */
    enum { IN_NOTHING, IN_PLAN, IN_STEP, IN_BAND } where;
    struct block block;
    /* The step that is being read. */
    char step_name[STEP_NAME_MAX];
    struct setting step_at;
    bool vouched;
    uint8_t now[REG_COUNT]; /* what the registers hold where the block begins */
    size_t band_count;
    struct band bands[PICTURE_LINES_MAX];
};

/* ---- one section to one band ---- */

static bool solve_cells(struct plan_file *file, struct block *block, struct problem *problem) {
    struct setting at = block->at;
    at.line = block->cells_line;
    if (block->given[REG_PF0] || block->given[REG_PF1] || block->given[REG_PF2]) {
        return setting_refuse(problem, &at,
                              "cells and PF0, PF1 or PF2 in one section; give one or the other");
    }
    const uint8_t ctrlpf = block->given[REG_CTRLPF] ? block->value[REG_CTRLPF] : file->now[REG_CTRLPF];
    const bool mode_fixed = block->mode_given || block->given[REG_CTRLPF];
    const bool wanted = block->mode_given ? block->mirror : (ctrlpf & CTRLPF_REFLECT) != 0;
    struct solved solved;
    struct problem why;
    if (!expect_solve(block->cells, block->cell_count, wanted, &solved, &why)) {
        return setting_refuse(problem, &at, "%s", why.text);
    }
    if (mode_fixed && solved.mirror != wanted) {
        return setting_refuse(problem, &at,
                              "these cells can be drawn in %s mode only; leave the mode out or change it",
                              solved.mirror ? "mirror" : "copy");
    }
    block->given[REG_PF0] = block->given[REG_PF1] = block->given[REG_PF2] = true;
    block->value[REG_PF0] = solved.pf0;
    block->value[REG_PF1] = solved.pf1;
    block->value[REG_PF2] = solved.pf2;
    block->mode_given = block->mode_given || (!block->given[REG_CTRLPF] && solved.mirror != wanted);
    block->mirror = solved.mirror;
    return true;
}

static bool settle_ctrlpf(struct plan_file *file, struct block *block, struct problem *problem) {
    if (block->given[REG_CTRLPF] && (block->mode_given || block->score_given)) {
        return setting_refuse(problem, &block->at,
                              "CTRLPF and mode or score in one section; give CTRLPF alone, or "
                              "mode and score");
    }
    if (block->cell_count > 0 && !solve_cells(file, block, problem)) {
        return false;
    }
    if (block->given[REG_CTRLPF] || (!block->mode_given && !block->score_given)) {
        return true;
    }
    uint8_t ctrlpf = file->now[REG_CTRLPF];
    if (block->mode_given) {
        ctrlpf = (uint8_t)((ctrlpf & ~CTRLPF_REFLECT) | (block->mirror ? CTRLPF_REFLECT : 0));
    }
    if (block->score_given) {
        ctrlpf = (uint8_t)((ctrlpf & ~CTRLPF_SCORE) | (block->score ? CTRLPF_SCORE : 0));
    }
    block->given[REG_CTRLPF] = true;
    block->value[REG_CTRLPF] = ctrlpf;
    return true;
}

static void hold_registers(struct plan_file *file, const struct block *block) {
    for (int i = 0; i < HELD_REGS; i++) {
        if (block->given[held[i]]) {
            file->now[held[i]] = block->value[held[i]];
        }
    }
}

static bool is_playfield(enum reg reg) {
    return reg == REG_CTRLPF || reg == REG_PF0 || reg == REG_PF1 || reg == REG_PF2;
}

static bool is_held(enum reg reg) {
    return is_playfield(reg) || reg == REG_COLUPF || reg == REG_COLUBK;
}

static int luminance(uint8_t colour) {
    return colour >> 1 & 7;
}

static bool is_told_apart(enum reg reg, uint8_t value) {
    return reg == REG_COLUPF   ? luminance(value) >= PLAN_LIT_LEAST
           : reg == REG_COLUBK ? luminance(value) <= PLAN_DARK_MOST
                               : true;
}

/* Lit cells are told from dark ones by luminance alone, half way between black and white. */
static bool check_colours(struct plan_file *file, const struct block *block, struct problem *problem) {
    bool score = (file->now[REG_CTRLPF] & CTRLPF_SCORE) != 0; /* then COLUP0 and COLUP1 light the cells */
    if (!score && luminance(file->now[REG_COLUPF]) < PLAN_LIT_LEAST) {
        return setting_refuse(problem, &block->at,
                              "COLUPF = $%02X has luminance %d of 7 (D3-D1); give lit cells at least %d, so "
                              "that they can be told from dark ones",
                              file->now[REG_COLUPF], luminance(file->now[REG_COLUPF]), PLAN_LIT_LEAST);
    }
    if (luminance(file->now[REG_COLUBK]) > PLAN_DARK_MOST) {
        return setting_refuse(problem, &block->at,
                              "COLUBK = $%02X has luminance %d of 7 (D3-D1); give dark cells at most %d, so "
                              "that they can be told from lit ones",
                              file->now[REG_COLUBK], luminance(file->now[REG_COLUBK]), PLAN_DARK_MOST);
    }
    return true;
}

/* The first band of a step writes all registers, so that none is left over from the step before; the slate
 * leaves colours at their defaults. */
static bool append_band(struct plan_file *file, const struct block *block, struct problem *problem) {
    const bool first = file->band_count == 0;
    if (file->band_count == PICTURE_LINES_MAX) {
        return setting_refuse(problem, &block->at, "a band too many: a picture has no more than %d lines",
                              PICTURE_LINES_MAX);
    }
    struct band *band = &file->bands[file->band_count];
    *band = (struct band){.lines = (uint16_t)block->lines};
    for (int i = 0; i < HELD_REGS; i++) {
        bool changed = file->now[held[i]] != plan_default_colour(held[i]);
        if ((first && (is_playfield(held[i]) || changed)) || block->given[held[i]]) {
            band->writes[band->count++] = (struct write){held[i], file->now[held[i]], WRITE_BEFORE};
        }
    }
    if (band->count + block->write_count > BAND_WRITES_MAX) {
        return setting_refuse(problem, &block->at, "%d writes in a band, at most %d fit; use fewer",
                              band->count + block->write_count, BAND_WRITES_MAX);
    }
    for (int i = 0; i < block->write_count; i++) {
        band->writes[band->count++] = block->writes[i];
        file->now[block->writes[i].reg] = block->writes[i].value;
    }
    file->band_count++;
    return true;
}

/* band_follows: a [band] comes next, of the same step. */
static bool end_block(struct plan_file *file, bool band_follows, struct problem *problem) {
    struct block *block = &file->block;
    if (file->where == IN_NOTHING || file->where == IN_PLAN) {
        return true;
    }
    if (!settle_ctrlpf(file, block, problem)) {
        return false;
    }
    hold_registers(file, block);
    file->vouched = file->vouched || block->vouched;
    if (!check_colours(file, block, problem)) {
        return false;
    }
    if (block->is_band && band_follows && !block->lines_given) {
        return setting_refuse(problem, &block->at,
                              "only a step's last band may leave out lines; add lines = N");
    }
    if (block->is_band || !band_follows) {
        return append_band(file, block, problem);
    }
    if (block->write_count > 0) {
        return setting_refuse(problem, &block->at,
                              "a step with bands has its write keys in them; move them there");
    }
    return true;
}

/* ---- one step ---- */

static bool give_rest(struct plan_file *file, struct problem *problem) {
    const int whole = standard_plan_lines(file->standard);
    int lines = 0;
    for (size_t i = 0; i < file->band_count; i++) {
        lines += file->bands[i].lines;
    }
    struct band *last = &file->bands[file->band_count - 1];
    if (last->lines == LAST_BAND && lines < whole) {
        last->lines = (uint16_t)(whole - lines);
        return true;
    }
    if (lines != whole || last->lines == LAST_BAND) {
        return setting_refuse(
            problem, &file->step_at,
            "the bands of step '%s' have %d lines%s, the picture below the slate has %d (%s); make "
            "them agree, or leave out lines in the last band",
            file->step_name, lines, last->lines == LAST_BAND ? " before the last band" : "", whole,
            standard_table[file->standard].name);
    }
    return true;
}

static bool end_step(struct plan_file *file, struct problem *problem) {
    if (file->where == IN_NOTHING || file->where == IN_PLAN) {
        return true;
    }
    struct problem why;
    if (!end_block(file, false, problem) || !give_rest(file, problem)) {
        return false;
    }
    if (!plan_add_step(file->plan, file->step_name, file->bands, file->band_count, &why)) {
        return setting_refuse(problem, &file->step_at, "%s", why.text);
    }
    file->plan->steps[file->plan->step_count - 1].vouched = file->vouched;
    return true;
}

/* ---- sections ---- */

static void begin_block(struct plan_file *file, const struct setting *at, bool is_band) {
    memset(&file->block, 0, sizeof file->block);
    file->block.at = *at;
    file->block.at.section = NULL; /* lives no longer than the call */
    file->block.is_band = is_band;
    file->where = is_band ? IN_BAND : IN_STEP;
}

static bool begin_band(struct plan_file *file, const struct setting *at, struct problem *problem) {
    if (file->where != IN_STEP && file->where != IN_BAND) {
        return setting_refuse(problem, at, "a [band] before any step; put it below a [step NAME]");
    }
    if (!end_block(file, true, problem)) {
        return false;
    }
    begin_block(file, at, true);
    return true;
}

static bool begin_step(struct plan_file *file, const struct setting *at, const char *name,
                       struct problem *problem) {
    name += strspn(name, " \t");
    if (*name == '\0') {
        return setting_refuse(problem, at, "a step without a name; write [step NAME]");
    }
    if (file->counts) {
        return setting_refuse(problem, at, "a plan that counts has no steps; leave out counts, or the step");
    }
    if (!end_step(file, problem)) {
        return false;
    }
    snprintf(file->step_name, sizeof file->step_name, "%s", name);
    size_t length = strlen(file->step_name);
    while (file->step_name[length - 1] == ' ' || file->step_name[length - 1] == '\t') {
        file->step_name[--length] = '\0';
    }
    file->step_at = *at;
    file->step_at.section = NULL;
    file->band_count = 0;
    file->vouched = false;
    for (int reg = 0; reg < REG_COUNT; reg++) {
        file->now[reg] = plan_default_colour((enum reg)reg);
    }
    begin_block(file, at, false);
    return true;
}

static bool begin_section(struct plan_file *file, const struct setting *at, struct problem *problem) {
    const char *section = at->section;
    if (strcmp(section, "band") == 0) {
        return begin_band(file, at, problem);
    }
    if (strncmp(section, "step", 4) == 0 && (section[4] == '\0' || section[4] == ' ' || section[4] == '\t')) {
        return begin_step(file, at, section + 4, problem);
    }
    if (strcmp(section, "plan") != 0) {
        return setting_refuse(
            problem, at, "unknown section [%s]; a plan file has [plan], [step NAME] and [band]", section);
    }
    if (file->plan_seen || file->where != IN_NOTHING) {
        return setting_refuse(problem, at, "[plan] comes once, before the first step; move or remove it");
    }
    file->plan_seen = true;
    file->where = IN_PLAN;
    return true;
}

/* ---- keys ---- */

/* The plan that was begun keeps its name. */
static void put_in_place(struct plan_file *file, struct plan *plan) {
    snprintf(plan->name, sizeof plan->name, "%s", file->plan->name);
    plan_free(file->plan);
    file->plan = plan;
    file->counts = true;
}

/* `every 2097152 1`: patterns and lines a pattern; both may be left out. */
static bool build_every(const char *figures, enum standard standard, struct plan **plan,
                        struct problem *problem) {
    unsigned long count = 2 * EVERY_VALUES, repeat = 1;
    int used = (int)strspn(figures, " \t");
    sscanf(figures, " %9lu %n%9lu %n", &count, &used, &repeat, &used);
    if (strchr(figures, '-') != NULL || figures[used] != '\0') {
        return problem_set(problem, PROBLEM_INPUT,
                           "counts = every%s; after every go the number of patterns and the lines that each "
                           "is shown on: every %d 1",
                           figures, 2 * EVERY_VALUES);
    }
    return every_plan((uint32_t)count, (int)repeat, standard, plan, problem);
}

/* `cartridge F8 ram`: the bank scheme; with cartridge RAM or, without the word, none. */
static bool build_check(const char *words, enum standard standard, struct plan **plan,
                        struct problem *problem) {
    char name[8] = "", ram[8] = "", more[2] = "";
    const int count = sscanf(words, " %7s %7s %1s", name, ram, more);
    int scheme;
    if (count < 1 || count > 2 || !scheme_from_name(name, &scheme) ||
        (count == 2 && strcmp(ram, "ram") != 0)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "counts = cartridge %s; after cartridge go the scheme (2K, 4K, F8, F6 or F4) and, "
                           "where there is RAM, ram",
                           words);
    }
    return check_plan(scheme, count == 2, standard, plan, problem);
}

static bool take_counts(struct plan_file *file, const struct setting *setting, struct problem *problem) {
    const char *what = setting->value;
    struct plan *plan = NULL;
    struct problem why = {0};
    bool good;
    if (file->counts) {
        return setting_refuse(problem, setting, "counts is given twice; remove one");
    }
    if (strncmp(what, "every", 5) == 0 && (what[5] == '\0' || what[5] == ' ' || what[5] == '\t')) {
        good = build_every(what + 5, file->standard, &plan, &why);
    } else if (strncmp(what, "cartridge ", 10) == 0) {
        good = build_check(what + 10, file->standard, &plan, &why);
    } else if (strcmp(what, "moments") == 0) {
        good = moments_plan(file->standard, &plan, &why);
    } else if (strcmp(what, "colours") == 0) {
        good = colours_plan(file->standard, &plan, &why);
    } else {
        good = problem_set(&why, PROBLEM_INPUT,
                           "counts = %s; there are every, moments, colours and cartridge", what);
    }
    if (!good) {
        return setting_refuse(problem, setting, "%s", why.text);
    }
    put_in_place(file, plan);
    return true;
}

static bool take_plan_key(struct plan_file *file, const struct setting *setting, struct problem *problem) {
    enum standard standard;
    if (strcasecmp(setting->key, "standard") == 0) { /* who opened the plan has looked already */
        return standard_from_name(setting->value, &standard) ||
               setting_refuse(problem, setting, "standard = %s; there are ntsc, pal and secam",
                              setting->value);
    }
    if (strcasecmp(setting->key, "counts") == 0) {
        return take_counts(file, setting, problem);
    }
    if (strcasecmp(setting->key, "name") != 0) {
        return setting_refuse(problem, setting, "unknown key '%s'; [plan] has name, standard and counts",
                              setting->key);
    }
    const size_t length = strlen(setting->value);
    if (file->name_seen || length == 0 || length >= sizeof file->plan->name) {
        return setting_refuse(problem, setting, "the plan's name is given once, with 1 to %zu characters",
                              sizeof file->plan->name - 1);
    }
    file->name_seen = true;
    snprintf(file->plan->name, sizeof file->plan->name, "%s", setting->value);
    return true;
}

static bool take_register(const struct setting *setting, enum reg reg, struct block *block,
                          struct problem *problem) {
    if (block->given[reg]) {
        return setting_refuse(problem, setting, "%s is given twice in this section; remove one",
                              setting->key);
    }
    if (!parse_byte(setting->value, &block->value[reg])) {
        return setting_refuse(problem, setting, "%s = %s is no byte; write $F0, 0xF0, %%11110000 or 0 to 255",
                              setting->key, setting->value);
    }
    block->given[reg] = true;
    return true;
}

static bool take_mode(const struct setting *setting, struct block *block, struct problem *problem) {
    const bool mirror = strcasecmp(setting->value, "mirror") == 0;
    if (block->mode_given || (!mirror && strcasecmp(setting->value, "copy") != 0)) {
        return setting_refuse(problem, setting, "mode = %s; give it once in a section, as copy or mirror",
                              setting->value);
    }
    block->mode_given = true;
    block->mirror = mirror;
    return true;
}

static bool take_score(const struct setting *setting, struct block *block, struct problem *problem) {
    if (block->score_given || !setting_yes_no(setting->value, &block->score)) {
        return setting_refuse(problem, setting, "score = %s; give it once in a section, as yes or no",
                              setting->value);
    }
    block->score_given = true;
    return true;
}

static bool take_vouched(const struct setting *setting, struct block *block, struct problem *problem) {
    if (block->is_band || block->vouched_given || !setting_yes_no(setting->value, &block->vouched)) {
        return setting_refuse(problem, setting, "vouched = %s; give it once in a [step], as yes or no",
                              setting->value);
    }
    block->vouched_given = true;
    return true;
}

static bool take_lines(const struct setting *setting, struct block *block, struct problem *problem) {
    uint8_t lines = 0;
    if (!block->is_band) {
        return setting_refuse(problem, setting, "lines belongs to a [band]; put one below the step");
    }
    if (block->lines_given || !parse_byte(setting->value, &lines) || lines == 0 ||
        lines > PICTURE_LINES_MAX) {
        return setting_refuse(problem, setting, "lines = %s; give it once in a band, as 1 to %d",
                              setting->value, PICTURE_LINES_MAX);
    }
    block->lines_given = true;
    block->lines = lines;
    return true;
}

static bool take_cells(const struct setting *setting, struct block *block, struct problem *problem) {
    struct problem why;
    if (block->cell_count > 0) {
        return setting_refuse(problem, setting, "cells twice in a section; give them once");
    }
    if (!cells_parse(setting->value, block->cells, &block->cell_count, &why)) {
        return setting_refuse(problem, setting, "%s", why.text);
    }
    block->cells_line = setting->line;
    return true;
}

static bool take_write(const struct setting *setting, struct block *block, struct problem *problem) {
    char name[16], byte[16], at[8], cycle_text[8], rest[2];
    const int words = sscanf(setting->value, "%15s %15s %7s %7s %1s", name, byte, at, cycle_text, rest);
    struct write write = {0};
    uint8_t cycle = 0;
    if (words != 4 || strcasecmp(at, "at") != 0) {
        return setting_refuse(problem, setting, "write = %s; write it like PF1 $0F at 45", setting->value);
    }
    if (!reg_from_name(name, &write.reg) || !is_held(write.reg)) {
        return setting_refuse(
            problem, setting,
            "'%s' cannot be written here; there are PF0, PF1, PF2, CTRLPF, COLUPF and COLUBK", name);
    }
    if (!parse_byte(byte, &write.value)) {
        return setting_refuse(problem, setting, "'%s' is no byte; write $F0, 0xF0, %%11110000 or 0 to 255",
                              byte);
    }
    if (!parse_byte(cycle_text, &cycle) || cycle >= LINE_CYCLES) {
        return setting_refuse(problem, setting, "'%s' is no cycle of a line; there are 0 to %d", cycle_text,
                              LINE_CYCLES - 1);
    }
    if (!is_told_apart(write.reg, write.value)) {
        return setting_refuse(
            problem, setting,
            "%s = %s has luminance %d of 7 (D3-D1); lit cells have at least %d, dark ones at "
            "most %d",
            name, byte, luminance(write.value), PLAN_LIT_LEAST, PLAN_DARK_MOST);
    }
    if (block->write_count == BAND_WRITES_MAX) {
        return setting_refuse(problem, setting, "a write too many: at most %d fit; use fewer",
                              BAND_WRITES_MAX);
    }
    write.cycle = cycle;
    block->writes[block->write_count++] = write;
    return true;
}

static bool take_step_key(const struct setting *setting, struct block *block, struct problem *problem) {
    static const struct {
        const char *key;
        bool (*take)(const struct setting *setting, struct block *block, struct problem *problem);
    } keys[] = {{"mode", take_mode},   {"score", take_score}, {"vouched", take_vouched},
                {"lines", take_lines}, {"cells", take_cells}, {"write", take_write}};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        if (strcasecmp(setting->key, keys[i].key) == 0) {
            return keys[i].take(setting, block, problem);
        }
    }
    enum reg reg;
    if (reg_from_name(setting->key, &reg) && is_held(reg)) {
        return take_register(setting, reg, block, problem);
    }
    return setting_refuse(
        problem, setting,
        "unknown key or register '%s'; there are PF0, PF1, PF2, CTRLPF, COLUPF, COLUBK, mode, score, cells, "
        "write and, in a [band], lines",
        setting->key);
}

static bool take_setting(void *user, const struct setting *setting, struct problem *problem) {
    struct plan_file *file = user;
    if (setting->key == NULL) {
        return begin_section(file, setting, problem);
    }
    switch (file->where) {
    case IN_PLAN:
        return take_plan_key(file, setting, problem);
    case IN_STEP:
    case IN_BAND:
        return take_step_key(setting, &file->block, problem);
    case IN_NOTHING:
        break;
    }
    return setting_refuse(problem, setting, "'%s' before any section; start with [plan] or [step NAME]",
                          setting->key);
}

/* The plan's name when the file gives none. */
static void file_name(const char *path, char *name, size_t size) {
    const char *slash = strrchr(path, '/');
    const char *base = slash != NULL ? slash + 1 : path;
    const char *dot = strrchr(base, '.');
    int length = dot != NULL && dot > base ? (int)(dot - base) : (int)strlen(base);
    snprintf(name, size, "%.*s", length, base);
}

/* From text, or where that is NULL from the file at path. */
static bool open_from(const char *path, const char *text, enum standard standard, struct plan **plan,
                      struct problem *problem) {
    char name[sizeof(*plan)->name];
    file_name(path, name, sizeof name);
    struct plan_file *file = calloc(1, sizeof *file);
    if (file == NULL || (file->plan = plan_new(name, standard)) == NULL) {
        free(file);
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
    }
    file->standard = standard;
    bool good = (text != NULL ? settings_read_text(path, text, take_setting, file, problem)
                              : settings_read(path, take_setting, file, problem)) &&
                end_step(file, problem);
    if (good && !file->counts && file->plan->step_count == 0) {
        good = problem_set(problem, PROBLEM_INPUT,
                           "%s: no steps; add at least one [step NAME] with its registers", path);
    }
    if (good) {
        *plan = file->plan;
    } else {
        plan_free(file->plan);
    }
    free(file);
    return good;
}

bool plan_file_open(const char *path, enum standard standard, struct plan **plan, struct problem *problem) {
    return open_from(path, NULL, standard, plan, problem);
}

bool plan_file_text(const char *what, const char *text, enum standard standard, struct plan **plan,
                    struct problem *problem) {
    return open_from(what, text, standard, plan, problem);
}

static bool take_standard(void *user, const struct setting *setting, struct problem *problem) {
    (void)problem;
    if (setting->key == NULL) {
        return strcmp(setting->section, "plan") == 0; /* it comes first */
    }
    if (strcasecmp(setting->key, "standard") == 0) {
        standard_from_name(setting->value, user);
    }
    return true;
}

bool plan_file_standard(const char *path, enum standard *standard) {
    struct problem ignored; /* reading the plan tells it */
    enum standard named = STANDARD_COUNT;
    settings_read(path, take_standard, &named, &ignored);
    if (named == STANDARD_COUNT) {
        return false;
    }
    *standard = named;
    return true;
}
