#include "commands/loop.h"

#include "commands/setup.h"

#include <stdio.h>
#include <string.h>

int loop_hold = LOOP_HOLD;
void (*loop_patch)(struct loop *loop);

bool loop_run(struct loop *loop, const char *plan, const struct virtual_options *options, const char *fault,
              loop_decorator decorate) {
    struct plan *opened = NULL;
    struct options asked = {.plan = plan};
    *loop = (struct loop){0};
    return options_plan(&asked, &loop->problem) &&
           setup_plan(&asked, options->standard, &opened, &loop->problem) &&
           loop_run_plan(loop, opened, options, fault, decorate);
}

bool loop_run_plan(struct loop *loop, struct plan *plan, const struct virtual_options *options,
                   const char *fault, loop_decorator decorate) {
    struct virtual_options chosen = *options;
    *loop = (struct loop){.plan = plan};
    if (fault != NULL && !virtual_add_fault(&chosen, fault, &loop->problem)) {
        return false;
    }
    const struct rom_options rom = {.hold = loop_hold};
    if (!rom_build(loop->plan, &rom, &loop->image, &loop->problem)) {
        return false;
    }
    if (loop_patch != NULL) {
        loop_patch(loop);
    }
    if (!virtual_open(&chosen, loop->image->bytes, loop->image->size, &loop->source, &loop->problem)) {
        return false;
    }
    if (decorate != NULL) {
        decorate(loop, chosen.seed);
    }
    loop->session = (struct session){
        .plan = loop->plan, .hash = loop->image->hash, .hold = loop_hold, .silence_s = LOOP_SILENCE_S};
    return session_run(&loop->session, &loop->source, &loop->problem);
}

void loop_end(struct loop *loop) {
    session_free(&loop->session);
    if (loop->source.close != NULL) {
        loop->source.close(loop->source.state);
    }
    if (loop->image != NULL) {
        rom_free(loop->image);
    }
    if (loop->plan != NULL) {
        plan_free(loop->plan);
    }
    *loop = (struct loop){0};
}

bool loop_found(const struct loop *loop, enum finding_kind kind, int reg, int bit) {
    const struct result *result = loop->session.result;
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        if (finding->kind == kind && (reg == REG_COUNT || finding->reg == reg) &&
            (bit < 0 || finding->bit == bit)) {
            return true;
        }
    }
    return false;
}

const char *loop_findings(const struct loop *loop) {
    static char text[2000];
    size_t at = 0;
    const struct result *result = loop->session.result;
    text[0] = '\0';
    for (size_t i = 0; i < result->finding_count && at < sizeof text - 400; i++) {
        at += (size_t)snprintf(text + at, sizeof text - at, "[%s %d %d: %s] ",
                               finding_name(result->findings[i].kind), result->findings[i].reg,
                               result->findings[i].bit, result->findings[i].text);
    }
    return text;
}
