/*
 * The instructions of cpu6507.h over one kind of bus. Before including, define
 *   CPU_BUS                          type of the bus (a struct)
 *   CPU_READ(bus, address)           one read cycle: uint8_t
 *   CPU_WRITE(bus, address, value)   one write cycle
 * and get `static void cpu_step(struct cpu6507 *, CPU_BUS *)`: one instruction, a bus call for each of its
 * cycles in their order, those whose data nobody uses included; and `cpu_reset()`: the reset sequence. A
 * jammed processor makes cpu_step() do nothing. No include guard: one include for each bus, one bus a file.
 */

static inline uint8_t cpu_fetch(struct cpu6507 *cpu, CPU_BUS *bus) {
    const uint16_t at = cpu->pc++;
    return CPU_READ(bus, at);
}

static inline void cpu_idle(const struct cpu6507 *cpu, CPU_BUS *bus) {
    (void)CPU_READ(bus, cpu->pc);
}

static inline uint16_t cpu_fetch_word(struct cpu6507 *cpu, CPU_BUS *bus) {
    const uint8_t low = cpu_fetch(cpu, bus);
    return (uint16_t)(low | cpu_fetch(cpu, bus) << 8);
}

static inline void cpu_push(struct cpu6507 *cpu, CPU_BUS *bus, uint8_t value) {
    CPU_WRITE(bus, (uint16_t)(0x0100 | cpu->s), value);
    cpu->s--;
}

static inline uint8_t cpu_pull(struct cpu6507 *cpu, CPU_BUS *bus) {
    cpu->s++;
    return CPU_READ(bus, (uint16_t)(0x0100 | cpu->s));
}

static inline void cpu_idle_stack(const struct cpu6507 *cpu, CPU_BUS *bus) {
    (void)CPU_READ(bus, (uint16_t)(0x0100 | cpu->s));
}

static inline uint16_t cpu_zero_word(CPU_BUS *bus, uint8_t at) {
    const uint8_t low = CPU_READ(bus, at);
    return (uint16_t)(low | CPU_READ(bus, (uint8_t)(at + 1)) << 8);
}

static inline uint8_t cpu_zero_index(struct cpu6507 *cpu, CPU_BUS *bus, uint8_t index) {
    const uint8_t at = cpu_fetch(cpu, bus);
    (void)CPU_READ(bus, at);
    return (uint8_t)(at + index);
}

/* The high byte is corrected one cycle late: until then the bus shows the sum without its carry. A read that
 * needs no correction skips that cycle. */
static inline uint16_t cpu_index(CPU_BUS *bus, uint16_t base, uint8_t index, bool always) {
    const uint16_t address = (uint16_t)(base + index);
    const bool crossed = (base ^ address) & 0xFF00;
    if (always || crossed)
        (void)CPU_READ(bus, (uint16_t)((base & 0xFF00) | (address & 0x00FF)));
    return address;
}

static inline uint16_t cpu_address(struct cpu6507 *cpu, CPU_BUS *bus, uint8_t mode, bool always) {
    switch (mode) {
    case CPU_IMM:
        return cpu->pc++;
    case CPU_ZP:
        return cpu_fetch(cpu, bus);
    case CPU_ZPX:
        return cpu_zero_index(cpu, bus, cpu->x);
    case CPU_ZPY:
        return cpu_zero_index(cpu, bus, cpu->y);
    case CPU_ABS:
        return cpu_fetch_word(cpu, bus);
    case CPU_ABSX:
        return cpu_index(bus, cpu_fetch_word(cpu, bus), cpu->x, always);
    case CPU_ABSY:
        return cpu_index(bus, cpu_fetch_word(cpu, bus), cpu->y, always);
    case CPU_INDX:
        return cpu_zero_word(bus, cpu_zero_index(cpu, bus, cpu->x));
    default:
        return cpu_index(bus, cpu_zero_word(bus, cpu_fetch(cpu, bus)), cpu->y, always);
    }
}

static inline void cpu_flags(struct cpu6507 *cpu, uint8_t mask, unsigned values) {
    cpu->p = (uint8_t)((cpu->p & ~mask) | (values & mask));
}

static inline uint8_t cpu_nz(struct cpu6507 *cpu, unsigned value) {
    cpu_flags(cpu, CPU_N | CPU_Z, (value & 0x80) | ((value & 0xFF) ? 0u : CPU_Z));
    return (uint8_t)value;
}

static inline void cpu_compare(struct cpu6507 *cpu, uint8_t reg, uint8_t value) {
    cpu_nz(cpu, (unsigned)reg - value);
    cpu_flags(cpu, CPU_C, reg >= value);
}

static inline uint8_t cpu_shift_right(struct cpu6507 *cpu, uint8_t value, unsigned carry) {
    cpu_flags(cpu, CPU_C, value & 1u);
    return cpu_nz(cpu, (unsigned)value >> 1 | (carry ? 0x80u : 0));
}

static inline uint8_t cpu_shift_left(struct cpu6507 *cpu, uint8_t value, unsigned carry) {
    cpu_flags(cpu, CPU_C, value >> 7);
    return cpu_nz(cpu, (unsigned)value << 1 | (carry ? 1u : 0));
}

/* The undocumented ones that work on an immediate byte or on S. */
static inline void cpu_do_odd(struct cpu6507 *cpu, uint8_t op, uint8_t value) {
    enum { ANALOGUE = 0xEE }; /* bits of A that lose against the bus; differs between parts [M] */
    switch (op) {
    case OP_LAX:
        cpu->a = cpu->x = cpu_nz(cpu, value);
        break;
    case OP_ANC:
        cpu->a = cpu_nz(cpu, cpu->a & value);
        cpu_flags(cpu, CPU_C, cpu->a >> 7);
        break;
    case OP_ALR:
        cpu->a = cpu_shift_right(cpu, cpu->a & value, 0);
        break;
    case OP_ARR:
        cpu_arr(cpu, value);
        break;
    case OP_ANE:
        cpu->a = cpu_nz(cpu, (cpu->a | ANALOGUE) & cpu->x & value);
        break;
    case OP_LXA:
        cpu->a = cpu->x = cpu_nz(cpu, (cpu->a | ANALOGUE) & value);
        break;
    case OP_SBX: {
        const uint8_t both = cpu->a & cpu->x;
        cpu_compare(cpu, both, value);
        cpu->x = (uint8_t)(both - value);
        break;
    }
    case OP_LAS:
        cpu->a = cpu->x = cpu->s = cpu_nz(cpu, value & cpu->s);
        break;
    default:
        break;
    }
}

static inline void cpu_do_read(struct cpu6507 *cpu, uint8_t op, uint8_t value) {
    switch (op) {
    case OP_ADC:
        cpu_adc(cpu, value);
        break;
    case OP_AND:
        cpu->a = cpu_nz(cpu, cpu->a & value);
        break;
    case OP_BIT:
        cpu_flags(cpu, CPU_N | CPU_V | CPU_Z, (value & 0xC0u) | ((cpu->a & value) ? 0u : CPU_Z));
        break;
    case OP_CMP:
        cpu_compare(cpu, cpu->a, value);
        break;
    case OP_CPX:
        cpu_compare(cpu, cpu->x, value);
        break;
    case OP_CPY:
        cpu_compare(cpu, cpu->y, value);
        break;
    case OP_EOR:
        cpu->a = cpu_nz(cpu, cpu->a ^ value);
        break;
    case OP_LDA:
        cpu->a = cpu_nz(cpu, value);
        break;
    case OP_LDX:
        cpu->x = cpu_nz(cpu, value);
        break;
    case OP_LDY:
        cpu->y = cpu_nz(cpu, value);
        break;
    case OP_ORA:
        cpu->a = cpu_nz(cpu, cpu->a | value);
        break;
    case OP_SBC:
        cpu_sbc(cpu, value);
        break;
    default:
        cpu_do_odd(cpu, op, value);
    }
}

/* What SHA, SHX, SHY and TAS store is ANDed with the address's high byte plus one, and when the index
 * crosses a page it also becomes the address's high byte. */
static inline void cpu_store_high(struct cpu6507 *cpu, CPU_BUS *bus, struct cpu_code code) {
    const uint8_t index = code.mode == CPU_ABSX ? cpu->y : cpu->x;
    uint8_t value = code.op == OP_SHX || code.op == OP_SHY ? index : cpu->a & cpu->x;
    if (code.op == OP_TAS)
        cpu->s = value;
    uint16_t address = cpu_address(cpu, bus, code.mode, true);
    const uint8_t added = code.mode == CPU_ABSX ? cpu->x : cpu->y;
    const uint16_t base = (uint16_t)(address - added);
    value &= (uint8_t)((base >> 8) + 1);
    if ((base ^ address) & 0xFF00)
        address = (uint16_t)((address & 0x00FF) | value << 8);
    CPU_WRITE(bus, address, value);
}

static inline void cpu_store(struct cpu6507 *cpu, CPU_BUS *bus, struct cpu_code code) {
    if (code.op >= OP_SHA) {
        cpu_store_high(cpu, bus, code);
        return;
    }
    const uint16_t address = cpu_address(cpu, bus, code.mode, true);
    uint8_t value = cpu->a;
    if (code.op == OP_STX)
        value = cpu->x;
    else if (code.op == OP_STY)
        value = cpu->y;
    else if (code.op == OP_SAX)
        value = cpu->a & cpu->x;
    CPU_WRITE(bus, address, value);
}

static inline uint8_t cpu_modified(struct cpu6507 *cpu, uint8_t op, uint8_t value) {
    switch (op) {
    case OP_ASL:
    case OP_SLO:
        return cpu_shift_left(cpu, value, 0);
    case OP_ROL:
    case OP_RLA:
        return cpu_shift_left(cpu, value, cpu->p & CPU_C);
    case OP_LSR:
    case OP_SRE:
        return cpu_shift_right(cpu, value, 0);
    case OP_ROR:
    case OP_RRA:
        return cpu_shift_right(cpu, value, cpu->p & CPU_C);
    case OP_DEC:
    case OP_DCP:
        return cpu_nz(cpu, value - 1u);
    default: /* OP_INC, OP_ISC */
        return cpu_nz(cpu, value + 1u);
    }
}

/* The second half of the undocumented read-modify-write opcodes. */
static inline void cpu_combine(struct cpu6507 *cpu, uint8_t op, uint8_t value) {
    static const uint8_t then[] = {OP_ORA, OP_AND, OP_EOR, OP_ADC, OP_CMP, OP_SBC};
    if (op >= OP_SLO)
        cpu_do_read(cpu, then[op - OP_SLO], value);
}

static inline void cpu_modify(struct cpu6507 *cpu, CPU_BUS *bus, struct cpu_code code) {
    if (code.mode == CPU_IMP) {
        cpu_idle(cpu, bus);
        cpu->a = cpu_modified(cpu, code.op, cpu->a);
        return;
    }
    const uint16_t address = cpu_address(cpu, bus, code.mode, true);
    const uint8_t before = CPU_READ(bus, address);
    CPU_WRITE(bus, address, before);
    const uint8_t after = cpu_modified(cpu, code.op, before);
    CPU_WRITE(bus, address, after);
    cpu_combine(cpu, code.op, after);
}

static inline void cpu_do_flag(struct cpu6507 *cpu, uint8_t op) {
    static const uint8_t flag[] = {CPU_C, CPU_D, CPU_I, CPU_V, CPU_C, CPU_D, CPU_I};
    cpu_flags(cpu, flag[op - OP_CLC], op >= OP_SEC ? 0xFF : 0);
}

static inline void cpu_do_registers(struct cpu6507 *cpu, uint8_t op) {
    switch (op) {
    case OP_DEX:
        cpu->x = cpu_nz(cpu, cpu->x - 1u);
        break;
    case OP_DEY:
        cpu->y = cpu_nz(cpu, cpu->y - 1u);
        break;
    case OP_INX:
        cpu->x = cpu_nz(cpu, cpu->x + 1u);
        break;
    case OP_INY:
        cpu->y = cpu_nz(cpu, cpu->y + 1u);
        break;
    case OP_TAX:
        cpu->x = cpu_nz(cpu, cpu->a);
        break;
    case OP_TAY:
        cpu->y = cpu_nz(cpu, cpu->a);
        break;
    case OP_TSX:
        cpu->x = cpu_nz(cpu, cpu->s);
        break;
    case OP_TXA:
        cpu->a = cpu_nz(cpu, cpu->x);
        break;
    case OP_TXS:
        cpu->s = cpu->x;
        break;
    case OP_TYA:
        cpu->a = cpu_nz(cpu, cpu->y);
        break;
    default: /* OP_NOP */
        break;
    }
}

static inline void cpu_branch(struct cpu6507 *cpu, CPU_BUS *bus, uint8_t op) {
    static const uint8_t flag[] = {CPU_N, CPU_V, CPU_C, CPU_Z};
    const unsigned which = (unsigned)op - OP_BPL;
    const uint8_t offset = cpu_fetch(cpu, bus);
    const bool is_set = cpu->p & flag[which >> 1];
    const bool wanted = which & 1;
    if (is_set != wanted)
        return;
    cpu_idle(cpu, bus);
    const uint16_t target = (uint16_t)(cpu->pc + offset - (offset & 0x80 ? 0x100 : 0));
    if ((target ^ cpu->pc) & 0xFF00)
        (void)CPU_READ(bus, (uint16_t)((cpu->pc & 0xFF00) | (target & 0x00FF)));
    cpu->pc = target;
}

static inline void cpu_push_pc(struct cpu6507 *cpu, CPU_BUS *bus) {
    cpu_push(cpu, bus, (uint8_t)(cpu->pc >> 8));
    cpu_push(cpu, bus, (uint8_t)cpu->pc);
}

static inline uint16_t cpu_pull_word(struct cpu6507 *cpu, CPU_BUS *bus) {
    const uint8_t low = cpu_pull(cpu, bus);
    return (uint16_t)(low | cpu_pull(cpu, bus) << 8);
}

static inline void cpu_pull_p(struct cpu6507 *cpu, CPU_BUS *bus) {
    cpu->p = (uint8_t)((cpu_pull(cpu, bus) & ~CPU_B) | CPU_ONE);
}

static inline uint16_t cpu_vector(CPU_BUS *bus, uint16_t at) {
    const uint8_t low = CPU_READ(bus, at);
    return (uint16_t)(low | CPU_READ(bus, (uint16_t)(at + 1)) << 8);
}

static inline void cpu_brk(struct cpu6507 *cpu, CPU_BUS *bus) {
    (void)cpu_fetch(cpu, bus);
    cpu_push_pc(cpu, bus);
    cpu_push(cpu, bus, cpu->p | CPU_B | CPU_ONE);
    cpu->p |= CPU_I;
    cpu->pc = cpu_vector(bus, 0xFFFE);
}

static inline void cpu_jsr(struct cpu6507 *cpu, CPU_BUS *bus) {
    const uint8_t low = cpu_fetch(cpu, bus);
    cpu_idle_stack(cpu, bus);
    cpu_push_pc(cpu, bus);
    cpu->pc = (uint16_t)(low | CPU_READ(bus, cpu->pc) << 8);
}

/* The pointer's second byte comes from the same page. */
static inline void cpu_jump_indirect(struct cpu6507 *cpu, CPU_BUS *bus) {
    const uint16_t at = cpu_fetch_word(cpu, bus);
    const uint8_t low = CPU_READ(bus, at);
    cpu->pc = (uint16_t)(low | CPU_READ(bus, (uint16_t)((at & 0xFF00) | ((at + 1) & 0x00FF))) << 8);
}

static inline void cpu_return(struct cpu6507 *cpu, CPU_BUS *bus, uint8_t op) {
    cpu_idle(cpu, bus);
    cpu_idle_stack(cpu, bus);
    if (op == OP_RTI)
        cpu_pull_p(cpu, bus);
    cpu->pc = cpu_pull_word(cpu, bus);
    if (op == OP_RTS)
        (void)cpu_fetch(cpu, bus);
}

static inline void cpu_stack(struct cpu6507 *cpu, CPU_BUS *bus, uint8_t op) {
    cpu_idle(cpu, bus);
    if (op == OP_PHA || op == OP_PHP) {
        cpu_push(cpu, bus, op == OP_PHA ? cpu->a : cpu->p | CPU_B | CPU_ONE);
        return;
    }
    cpu_idle_stack(cpu, bus);
    if (op == OP_PLA)
        cpu->a = cpu_nz(cpu, cpu_pull(cpu, bus));
    else
        cpu_pull_p(cpu, bus);
}

static inline void cpu_flow(struct cpu6507 *cpu, CPU_BUS *bus, uint8_t op) {
    switch (op) {
    case OP_BRK:
        cpu_brk(cpu, bus);
        break;
    case OP_JMP:
        cpu->pc = cpu_fetch_word(cpu, bus);
        break;
    case OP_JMI:
        cpu_jump_indirect(cpu, bus);
        break;
    case OP_JSR:
        cpu_jsr(cpu, bus);
        break;
    case OP_RTI:
    case OP_RTS:
        cpu_return(cpu, bus, op);
        break;
    case OP_JAM:
        cpu_idle(cpu, bus);
        cpu->jammed = true;
        break;
    default:
        cpu_stack(cpu, bus, op);
    }
}

static inline void cpu_implied(struct cpu6507 *cpu, CPU_BUS *bus, uint8_t op) {
    cpu_idle(cpu, bus);
    if (op <= OP_SEI)
        cpu_do_flag(cpu, op);
    else
        cpu_do_registers(cpu, op);
}

static void cpu_step(struct cpu6507 *cpu, CPU_BUS *bus) {
    if (cpu->jammed)
        return;
    const struct cpu_code code = cpu_decode[cpu_fetch(cpu, bus)];
    if (code.op < OP_STA) {
        const uint16_t address = cpu_address(cpu, bus, code.mode, false);
        cpu_do_read(cpu, code.op, CPU_READ(bus, address));
    } else if (code.op < OP_ASL) {
        cpu_store(cpu, bus, code);
    } else if (code.op < OP_CLC) {
        cpu_modify(cpu, bus, code);
    } else if (code.op < OP_BPL) {
        cpu_implied(cpu, bus, code.op);
    } else if (code.op <= OP_BEQ) {
        cpu_branch(cpu, bus, code.op);
    } else {
        cpu_flow(cpu, bus, code.op);
    }
}

/* The reset sequence: seven cycles, the three stack accesses being reads; D keeps what it held. */
static inline void cpu_reset(struct cpu6507 *cpu, CPU_BUS *bus) {
    cpu->jammed = false;
    cpu_idle(cpu, bus);
    cpu_idle(cpu, bus);
    for (int i = 0; i < 3; i++) {
        cpu_idle_stack(cpu, bus);
        cpu->s--;
    }
    cpu->p |= CPU_I;
    cpu->pc = cpu_vector(bus, 0xFFFC);
}
