#include "rom/proof.h"

enum {
    WAIT_READ = 4, /* LDA INTIM, whose last cycle reads; BNE back, and on */
    WAIT_BACK = 3,
    WAIT_ON = 2,
    TIMER_STEP = 64,
    FRAME_CYCLES_MAX = INT16_MAX
};

bool proof_set_timer(struct proof *proof, struct machine *m, int value) {
    if (m->line == NOT_YET || m->slack > 0 || value < 1) {
        return proof_refuse(proof, m, "a timer that is set to what, or when, is not known", value);
    }
    /* The first step comes one cycle after the store, the others 64 apart. */
    const int zero = m->line * LINE_CYCLES + m->cycle + 1 + (value - 1) * TIMER_STEP;
    if (zero > FRAME_CYCLES_MAX) {
        return proof_refuse(proof, m, "a timer beyond the frame's end", value);
    }
    m->timer = (int16_t)zero;
    return true;
}

static enum claim_kind claimed(const struct proof *proof, int at) {
    return proof->counting || !in_image(proof, at)
               ? CLAIM_NONE
               : (enum claim_kind)proof->encoder->claims[at - proof->encoder->origin].kind;
}

/* Where the work comes back to, with nothing known but the stack's pointer; its time is the timer's. */
static bool skip_work(struct proof *proof, struct machine *m) {
    const struct encoder *encoder = proof->encoder;
    if (m->timer == UNKNOWN) {
        return proof_refuse(proof, m, "a window without a timer", m->at);
    }
    m->at = (uint16_t)(encoder->origin + encoder->labels[encoder->window_end].offset);
    m->a = m->x = m->y = UNKNOWN;
    m->z = m->n = m->c = m->v = UNKNOWN;
    m->cycle = m->slack = 0;
    for (int i = 0; i <= RAM_LAST - RAM_FIRST; i++) {
        m->ram[i] = UNKNOWN;
    }
    return true;
}

static bool is_wait(const struct proof *proof, const struct machine *m, const uint8_t *bytes) {
    const int read = m->at - 3;
    uint8_t load = 0, back = 0;
    return opcode_find("LDA", MODE_ABSOLUTE, &load) && opcode_find("BNE", MODE_RELATIVE, &back) &&
           bytes[0] == back && (int8_t)bytes[1] == -5 && proof_fetch(proof, m, read) == load &&
           proof_fetch(proof, m, read + 1) == (TIMER_LEFT & 0xFF) &&
           proof_fetch(proof, m, read + 2) == TIMER_LEFT >> 8 && (read & 0xFF00) == ((m->at + 2) & 0xFF00);
}

/* The first read that finds 0 is one of those a turn apart. */
static bool wait_timer(struct proof *proof, struct machine *m, const uint8_t *bytes) {
    const int first = m->timer + WAIT_ON, last = first + WAIT_READ + WAIT_BACK - 1;
    if (m->timer == UNKNOWN || !is_wait(proof, m, bytes)) {
        return proof_refuse(proof, m, "no wait for the timer that the proof knows", m->timer);
    }
    if (first / LINE_CYCLES != last / LINE_CYCLES) {
        return proof_refuse(proof, m, "the timer runs down in one line or another", last / LINE_CYCLES);
    }
    if (last / LINE_CYCLES >= proof->limits->frame_lines) {
        return proof_refuse(proof, m, "the timer runs down after the frame's end", last / LINE_CYCLES);
    }
    m->line = (int16_t)(last / LINE_CYCLES);
    m->cycle = (int16_t)(last % LINE_CYCLES);
    m->slack = (int16_t)(last - first);
    m->z = 1;
    m->n = 0;
    m->a = 0;
    m->timer = UNKNOWN;
    m->at = (uint16_t)(m->at + 2);
    return true;
}

bool proof_window(struct proof *proof, struct machine *m, const uint8_t *bytes, bool *done) {
    *done = true;
    switch (claimed(proof, m->at)) {
    case CLAIM_WINDOW:
        return skip_work(proof, m);
    case CLAIM_TIMER:
        return wait_timer(proof, m, bytes);
    case CLAIM_NEVER:
        m->left = true;
        return true;
    default:
        *done = false;
        return true;
    }
}
