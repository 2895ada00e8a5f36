/*
 * The opcode matrix and the arithmetic: what does not depend on the bus.
 */
#include "virtual/cpu6507.h"

/* clang-format off */
const struct cpu_code cpu_decode[256] = {
    /* $00 */
    {OP_BRK, CPU_IMP},    {OP_ORA, CPU_INDX},   {OP_JAM, CPU_IMP},    {OP_SLO, CPU_INDX},
    {OP_IGN, CPU_ZP},     {OP_ORA, CPU_ZP},     {OP_ASL, CPU_ZP},     {OP_SLO, CPU_ZP},
    {OP_PHP, CPU_IMP},    {OP_ORA, CPU_IMM},    {OP_ASL, CPU_IMP},    {OP_ANC, CPU_IMM},
    {OP_IGN, CPU_ABS},    {OP_ORA, CPU_ABS},    {OP_ASL, CPU_ABS},    {OP_SLO, CPU_ABS},
    /* $10 */
    {OP_BPL, CPU_REL},    {OP_ORA, CPU_INDY},   {OP_JAM, CPU_IMP},    {OP_SLO, CPU_INDY},
    {OP_IGN, CPU_ZPX},    {OP_ORA, CPU_ZPX},    {OP_ASL, CPU_ZPX},    {OP_SLO, CPU_ZPX},
    {OP_CLC, CPU_IMP},    {OP_ORA, CPU_ABSY},   {OP_NOP, CPU_IMP},    {OP_SLO, CPU_ABSY},
    {OP_IGN, CPU_ABSX},   {OP_ORA, CPU_ABSX},   {OP_ASL, CPU_ABSX},   {OP_SLO, CPU_ABSX},
    /* $20 */
    {OP_JSR, CPU_ABS},    {OP_AND, CPU_INDX},   {OP_JAM, CPU_IMP},    {OP_RLA, CPU_INDX},
    {OP_BIT, CPU_ZP},     {OP_AND, CPU_ZP},     {OP_ROL, CPU_ZP},     {OP_RLA, CPU_ZP},
    {OP_PLP, CPU_IMP},    {OP_AND, CPU_IMM},    {OP_ROL, CPU_IMP},    {OP_ANC, CPU_IMM},
    {OP_BIT, CPU_ABS},    {OP_AND, CPU_ABS},    {OP_ROL, CPU_ABS},    {OP_RLA, CPU_ABS},
    /* $30 */
    {OP_BMI, CPU_REL},    {OP_AND, CPU_INDY},   {OP_JAM, CPU_IMP},    {OP_RLA, CPU_INDY},
    {OP_IGN, CPU_ZPX},    {OP_AND, CPU_ZPX},    {OP_ROL, CPU_ZPX},    {OP_RLA, CPU_ZPX},
    {OP_SEC, CPU_IMP},    {OP_AND, CPU_ABSY},   {OP_NOP, CPU_IMP},    {OP_RLA, CPU_ABSY},
    {OP_IGN, CPU_ABSX},   {OP_AND, CPU_ABSX},   {OP_ROL, CPU_ABSX},   {OP_RLA, CPU_ABSX},
    /* $40 */
    {OP_RTI, CPU_IMP},    {OP_EOR, CPU_INDX},   {OP_JAM, CPU_IMP},    {OP_SRE, CPU_INDX},
    {OP_IGN, CPU_ZP},     {OP_EOR, CPU_ZP},     {OP_LSR, CPU_ZP},     {OP_SRE, CPU_ZP},
    {OP_PHA, CPU_IMP},    {OP_EOR, CPU_IMM},    {OP_LSR, CPU_IMP},    {OP_ALR, CPU_IMM},
    {OP_JMP, CPU_ABS},    {OP_EOR, CPU_ABS},    {OP_LSR, CPU_ABS},    {OP_SRE, CPU_ABS},
    /* $50 */
    {OP_BVC, CPU_REL},    {OP_EOR, CPU_INDY},   {OP_JAM, CPU_IMP},    {OP_SRE, CPU_INDY},
    {OP_IGN, CPU_ZPX},    {OP_EOR, CPU_ZPX},    {OP_LSR, CPU_ZPX},    {OP_SRE, CPU_ZPX},
    {OP_CLI, CPU_IMP},    {OP_EOR, CPU_ABSY},   {OP_NOP, CPU_IMP},    {OP_SRE, CPU_ABSY},
    {OP_IGN, CPU_ABSX},   {OP_EOR, CPU_ABSX},   {OP_LSR, CPU_ABSX},   {OP_SRE, CPU_ABSX},
    /* $60 */
    {OP_RTS, CPU_IMP},    {OP_ADC, CPU_INDX},   {OP_JAM, CPU_IMP},    {OP_RRA, CPU_INDX},
    {OP_IGN, CPU_ZP},     {OP_ADC, CPU_ZP},     {OP_ROR, CPU_ZP},     {OP_RRA, CPU_ZP},
    {OP_PLA, CPU_IMP},    {OP_ADC, CPU_IMM},    {OP_ROR, CPU_IMP},    {OP_ARR, CPU_IMM},
    {OP_JMI, CPU_ABS},    {OP_ADC, CPU_ABS},    {OP_ROR, CPU_ABS},    {OP_RRA, CPU_ABS},
    /* $70 */
    {OP_BVS, CPU_REL},    {OP_ADC, CPU_INDY},   {OP_JAM, CPU_IMP},    {OP_RRA, CPU_INDY},
    {OP_IGN, CPU_ZPX},    {OP_ADC, CPU_ZPX},    {OP_ROR, CPU_ZPX},    {OP_RRA, CPU_ZPX},
    {OP_SEI, CPU_IMP},    {OP_ADC, CPU_ABSY},   {OP_NOP, CPU_IMP},    {OP_RRA, CPU_ABSY},
    {OP_IGN, CPU_ABSX},   {OP_ADC, CPU_ABSX},   {OP_ROR, CPU_ABSX},   {OP_RRA, CPU_ABSX},
    /* $80 */
    {OP_IGN, CPU_IMM},    {OP_STA, CPU_INDX},   {OP_IGN, CPU_IMM},    {OP_SAX, CPU_INDX},
    {OP_STY, CPU_ZP},     {OP_STA, CPU_ZP},     {OP_STX, CPU_ZP},     {OP_SAX, CPU_ZP},
    {OP_DEY, CPU_IMP},    {OP_IGN, CPU_IMM},    {OP_TXA, CPU_IMP},    {OP_ANE, CPU_IMM},
    {OP_STY, CPU_ABS},    {OP_STA, CPU_ABS},    {OP_STX, CPU_ABS},    {OP_SAX, CPU_ABS},
    /* $90 */
    {OP_BCC, CPU_REL},    {OP_STA, CPU_INDY},   {OP_JAM, CPU_IMP},    {OP_SHA, CPU_INDY},
    {OP_STY, CPU_ZPX},    {OP_STA, CPU_ZPX},    {OP_STX, CPU_ZPY},    {OP_SAX, CPU_ZPY},
    {OP_TYA, CPU_IMP},    {OP_STA, CPU_ABSY},   {OP_TXS, CPU_IMP},    {OP_TAS, CPU_ABSY},
    {OP_SHY, CPU_ABSX},   {OP_STA, CPU_ABSX},   {OP_SHX, CPU_ABSY},   {OP_SHA, CPU_ABSY},
    /* $A0 */
    {OP_LDY, CPU_IMM},    {OP_LDA, CPU_INDX},   {OP_LDX, CPU_IMM},    {OP_LAX, CPU_INDX},
    {OP_LDY, CPU_ZP},     {OP_LDA, CPU_ZP},     {OP_LDX, CPU_ZP},     {OP_LAX, CPU_ZP},
    {OP_TAY, CPU_IMP},    {OP_LDA, CPU_IMM},    {OP_TAX, CPU_IMP},    {OP_LXA, CPU_IMM},
    {OP_LDY, CPU_ABS},    {OP_LDA, CPU_ABS},    {OP_LDX, CPU_ABS},    {OP_LAX, CPU_ABS},
    /* $B0 */
    {OP_BCS, CPU_REL},    {OP_LDA, CPU_INDY},   {OP_JAM, CPU_IMP},    {OP_LAX, CPU_INDY},
    {OP_LDY, CPU_ZPX},    {OP_LDA, CPU_ZPX},    {OP_LDX, CPU_ZPY},    {OP_LAX, CPU_ZPY},
    {OP_CLV, CPU_IMP},    {OP_LDA, CPU_ABSY},   {OP_TSX, CPU_IMP},    {OP_LAS, CPU_ABSY},
    {OP_LDY, CPU_ABSX},   {OP_LDA, CPU_ABSX},   {OP_LDX, CPU_ABSY},   {OP_LAX, CPU_ABSY},
    /* $C0 */
    {OP_CPY, CPU_IMM},    {OP_CMP, CPU_INDX},   {OP_IGN, CPU_IMM},    {OP_DCP, CPU_INDX},
    {OP_CPY, CPU_ZP},     {OP_CMP, CPU_ZP},     {OP_DEC, CPU_ZP},     {OP_DCP, CPU_ZP},
    {OP_INY, CPU_IMP},    {OP_CMP, CPU_IMM},    {OP_DEX, CPU_IMP},    {OP_SBX, CPU_IMM},
    {OP_CPY, CPU_ABS},    {OP_CMP, CPU_ABS},    {OP_DEC, CPU_ABS},    {OP_DCP, CPU_ABS},
    /* $D0 */
    {OP_BNE, CPU_REL},    {OP_CMP, CPU_INDY},   {OP_JAM, CPU_IMP},    {OP_DCP, CPU_INDY},
    {OP_IGN, CPU_ZPX},    {OP_CMP, CPU_ZPX},    {OP_DEC, CPU_ZPX},    {OP_DCP, CPU_ZPX},
    {OP_CLD, CPU_IMP},    {OP_CMP, CPU_ABSY},   {OP_NOP, CPU_IMP},    {OP_DCP, CPU_ABSY},
    {OP_IGN, CPU_ABSX},   {OP_CMP, CPU_ABSX},   {OP_DEC, CPU_ABSX},   {OP_DCP, CPU_ABSX},
    /* $E0 */
    {OP_CPX, CPU_IMM},    {OP_SBC, CPU_INDX},   {OP_IGN, CPU_IMM},    {OP_ISC, CPU_INDX},
    {OP_CPX, CPU_ZP},     {OP_SBC, CPU_ZP},     {OP_INC, CPU_ZP},     {OP_ISC, CPU_ZP},
    {OP_INX, CPU_IMP},    {OP_SBC, CPU_IMM},    {OP_NOP, CPU_IMP},    {OP_SBC, CPU_IMM},
    {OP_CPX, CPU_ABS},    {OP_SBC, CPU_ABS},    {OP_INC, CPU_ABS},    {OP_ISC, CPU_ABS},
    /* $F0 */
    {OP_BEQ, CPU_REL},    {OP_SBC, CPU_INDY},   {OP_JAM, CPU_IMP},    {OP_ISC, CPU_INDY},
    {OP_IGN, CPU_ZPX},    {OP_SBC, CPU_ZPX},    {OP_INC, CPU_ZPX},    {OP_ISC, CPU_ZPX},
    {OP_SED, CPU_IMP},    {OP_SBC, CPU_ABSY},   {OP_NOP, CPU_IMP},    {OP_ISC, CPU_ABSY},
    {OP_IGN, CPU_ABSX},   {OP_SBC, CPU_ABSX},   {OP_INC, CPU_ABSX},   {OP_ISC, CPU_ABSX},
};
/* clang-format on */

static void set(struct cpu6507 *cpu, uint8_t flags, uint8_t values) {
    cpu->p = (uint8_t)((cpu->p & ~flags) | (flags & values));
}

static uint8_t zero(unsigned value) {
    return (value & 0xFF) ? 0 : CPU_Z;
}

static void adc_binary(struct cpu6507 *cpu, uint8_t value) {
    const unsigned sum = (unsigned)cpu->a + value + (cpu->p & CPU_C);
    const unsigned overflow = (~(unsigned)(cpu->a ^ value) & (cpu->a ^ sum) & 0x80) >> 1;
    set(cpu, CPU_N | CPU_V | CPU_Z | CPU_C, (uint8_t)((sum & 0x80) | overflow | zero(sum) | (sum >> 8)));
    cpu->a = (uint8_t)sum;
}

/* Z is that of the binary sum; N and V are taken after the low digit's correction only. */
static void adc_decimal(struct cpu6507 *cpu, uint8_t value) {
    const unsigned carry = cpu->p & CPU_C;
    const uint8_t z = zero((unsigned)cpu->a + value + carry);
    unsigned low = (cpu->a & 0x0Fu) + (value & 0x0Fu) + carry;
    if (low > 9)
        low = ((low + 6) & 0x0F) + 0x10;
    unsigned sum = (cpu->a & 0xF0u) + (value & 0xF0u) + low;
    const unsigned overflow = (~(unsigned)(cpu->a ^ value) & (cpu->a ^ sum) & 0x80) >> 1;
    const unsigned negative = sum & 0x80;
    if (sum >= 0xA0)
        sum += 0x60;
    set(cpu, CPU_N | CPU_V | CPU_Z | CPU_C, (uint8_t)(negative | overflow | z | (sum >= 0x100)));
    cpu->a = (uint8_t)sum;
}

void cpu_adc(struct cpu6507 *cpu, uint8_t value) {
    if (cpu->p & CPU_D)
        adc_decimal(cpu, value);
    else
        adc_binary(cpu, value);
}

/* All flags are those of the binary difference, in decimal mode too. */
void cpu_sbc(struct cpu6507 *cpu, uint8_t value) {
    const int borrow = !(cpu->p & CPU_C);
    int low = (cpu->a & 0x0F) - (value & 0x0F) - borrow;
    if (low < 0)
        low = ((low - 6) & 0x0F) - 0x10;
    int difference = (cpu->a & 0xF0) - (value & 0xF0) + low;
    if (difference < 0)
        difference -= 0x60;
    const bool decimal = cpu->p & CPU_D;
    adc_binary(cpu, (uint8_t)~value);
    if (decimal)
        cpu->a = (uint8_t)difference;
}

/* AND, then ROR through the adder: the decimal correction works on the AND's digits. */
void cpu_arr(struct cpu6507 *cpu, uint8_t value) {
    const unsigned anded = cpu->a & value;
    unsigned result = (anded >> 1) | ((cpu->p & CPU_C) << 7);
    const uint8_t nz = (uint8_t)((result & 0x80) | zero(result));
    if (!(cpu->p & CPU_D)) {
        const unsigned v = (result ^ (result << 1)) & CPU_V;
        set(cpu, CPU_N | CPU_Z | CPU_V | CPU_C, (uint8_t)(nz | v | ((result >> 6) & 1)));
        cpu->a = (uint8_t)result;
        return;
    }
    const unsigned v = (anded ^ result) & CPU_V;
    if ((anded & 0x0F) + (anded & 0x01) > 5)
        result = (result & 0xF0) | ((result + 6) & 0x0F);
    const bool carry = (anded & 0xF0) + (anded & 0x10) > 0x50;
    if (carry)
        result += 0x60;
    set(cpu, CPU_N | CPU_Z | CPU_V | CPU_C, (uint8_t)(nz | v | carry));
    cpu->a = (uint8_t)result;
}
