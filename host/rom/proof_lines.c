#include "rom/proof.h"

const char *proof_where(const struct proof *proof, const struct machine *m) {
    return in_image(proof, m->at) ? encoder_where(proof->encoder, (size_t)(m->at - proof->encoder->origin))
           : in_ram(m->at)        ? "the loop in RAM"
                                  : "nowhere";
}

bool proof_refuse(const struct proof *proof, const struct machine *m, const char *what, int figure) {
    return problem_set(proof->problem, PROBLEM_INPUT, "image: at %s, line %d: %s (%d)", proof_where(proof, m),
                       m->line, what, figure);
}

static bool next_line(const struct proof *proof, struct machine *m) {
    return ++m->line <= proof->limits->frame_lines ||
           proof_refuse(proof, m, "a frame of too many lines", m->line);
}

static bool end_line(struct proof *proof, struct machine *m) {
    if (m->line != NOT_YET) {
        if (m->cycle > LINE_CYCLES) {
            return proof_refuse(proof, m, "a line of more than 76 cycles", m->cycle);
        }
        if (m->cycle > proof->account->line_cycles) {
            proof->account->line_cycles = m->cycle;
            proof->account->line_where = proof_where(proof, m);
        }
        if (!next_line(proof, m)) {
            return false;
        }
    }
    m->cycle = m->slack = 0;
    return true;
}

bool proof_count_lines(struct proof *proof, struct machine *m) {
    if (m->slack > 0) {
        return proof_refuse(proof, m, "cycles that are not known, where lines are counted by them", m->slack);
    }
    if (m->line == NOT_YET) {
        return proof_refuse(proof, m, "lines are counted before the first vertical sync", m->cycle);
    }
    for (; m->cycle >= LINE_CYCLES; m->cycle = (int16_t)(m->cycle - LINE_CYCLES)) {
        if (!next_line(proof, m)) {
            return false;
        }
    }
    return true;
}

/* Nothing that a field leaves behind is known when the next begins: so the first frame stands for all. Only a
 * loop that runs from RAM is still there. */
static bool start_frame(struct proof *proof, struct machine *m) {
    if (m->line != NOT_YET && m->line != proof->limits->frame_lines) {
        return proof_refuse(proof, m, "a frame of another number of lines", m->line);
    }
    m->line = 0;
    proof->account->frame_lines = proof->limits->frame_lines;
    const int loop = proof->limits->slate_from - RAM_FIRST;
    for (int i = 0; i < 128; i++) {
        if (!in_ram(m->at) || i < loop || i >= loop + proof->limits->handover) {
            m->ram[i] = STALE;
        }
    }
    m->timer = UNKNOWN;
    m->x = m->y = UNKNOWN;
    m->z = m->n = m->c = m->v = UNKNOWN;
    return true;
}

bool proof_draws(int address) {
    return (address >= 0x06 && address <= 0x0A) || /* COLUP0 to CTRLPF */
           (address >= 0x0D && address <= 0x0F);   /* PF0 to PF2 */
}

/* RSYNC would start a line anew, HMOVE lengthen its blank: what the proof counts on is not touched. */
static bool is_known_register(int address) {
    return address == TIA_VBLANK || proof_draws(address) || (address >= TIA_AUDV0 && address <= TIA_ENABL);
}

static bool tia_write(struct proof *proof, struct machine *m, int address, int value) {
    if (proof->counting) {
        return true;
    }
    if (address == TIA_WSYNC) {
        return end_line(proof, m);
    }
    if (address != TIA_VSYNC) {
        return is_known_register(address) || proof_refuse(proof, m,
                                                          "a store to what is neither RAM nor a register of "
                                                          "sync, blank, playfield, objects or sound",
                                                          address);
    }
    if (value == UNKNOWN) {
        return proof_refuse(proof, m, "a store of an unknown value to VSYNC", address);
    }
    bool starts = (value & 2) != 0 && m->vsync == 0;
    m->vsync = (value & 2) != 0;
    return !starts || start_frame(proof, m);
}

bool proof_store(struct proof *proof, struct machine *m, int address, int value) {
    if (address == UNKNOWN) {
        return proof_refuse(proof, m, "a store to an unknown address", address);
    }
    if (address == DRAWS) {
        return true;
    }
    if (in_ram(address)) {
        m->ram[address - RAM_FIRST] = (int16_t)value;
        if (m->line != NOT_YET) { /* the cold start clears what is not used, too */
            proof->used[address - RAM_FIRST] = true;
        }
        return true;
    }
    return address == TIMER_64 ? proof_set_timer(proof, m, value) : tia_write(proof, m, address, value);
}
