#include "verdict/advice.h"

#include <stdio.h>

#define CONTACTS "Power off, seat the board in the slot anew, clean the contacts on both sides"
#define GOOD_CONSOLE "then the same board on a console known to be good"
#define LINE                                                                                                 \
    CONTACTS "; " GOOD_CONSOLE                                                                               \
             ", which tells console and board apart. If only this console: the slot's solder "               \
             "joints, then the chips' sockets on that line, by its service manual."
/* Of a cartridge under test: a contact is the commonest cause of all, and costs nothing to try. */
#define CART "Supply off, take the cartridge out, clean its contacts, seat it again, supply on, run again"
#define CART_LOOK CART "; then, out of the slot, look with a lens for bridges, dull joints and cracks"
#define CART_READER "; a reader says more"
#define FIRST "Power off, reseat the cartridge, clean its contacts; then another cable, another supply"

/* Where nothing stands, the last line. */
static const char *const nexts[FINDING_KINDS] = {
    [FINDING_SHIFTED] =
        "Try another cable, another grabber and another supply; run the same image on a console "
        "known to be good. If only this console is late, its video chip or the clock it gets is "
        "suspect: see its service manual.",
    [FINDING_DATA_LINE_STUCK] = FIRST
    ". Then run on a console known to be good. The program runs, so the fault lies between the data "
    "bus and the video chip (its socket first): see the console's service manual.",
    [FINDING_INTERMITTENT] =
        "Run again with more fields, cold and warm. " FIRST
        "; then a console known to be good. A fault that stays with this console: contacts and sockets "
        "first, by its service manual.",
    [FINDING_FROZEN_VIDEO] =
        "Start the capture again; unplug the grabber and plug it back; try another cable and port. If the "
        "grabber is well, switch the console off and on: its program may have stopped.",
    [FINDING_NO_VIDEO] = "Is the console on and the right input of the grabber chosen? Power off and reseat "
                         "the cartridge; then "
                         "another video cable, another supply, and a console known to be good.",
    [FINDING_NO_SLATE] =
        "Check that plan, image and standard belong together. Power off, reseat the cartridge and clean its "
        "contacts; then another cable, another supply, and a console known to be good.",
    [FINDING_UNEXPLAINED] =
        "Keep the failing fields (--out): they can be judged again. " FIRST
        "; then a console known to be good. Beyond that follow the console's service manual.",
    [FINDING_NO_SUPPLY] =
        "Is the console switched on? " CONTACTS "; another supply for it; " GOOD_CONSOLE
        ". If only this console gives no +5 V: its regulator and switch, by its service manual.",
    [FINDING_NO_BUS] =
        "Switch the console off and on and look again within two seconds. " CONTACTS
        "; another supply; " GOOD_CONSOLE
        ". If only this console: its processor's socket, clock and reset, by its service manual.",
    [FINDING_ADDRESS_LINE_STUCK] = LINE,
    [FINDING_SLOT_DATA_LINE_STUCK] = LINE,
    [FINDING_RUNS_GARBAGE] =
        "Switch the console off and on. " CONTACTS "; another supply; " GOOD_CONSOLE
        ". If only this console: sockets of processor and RAM chip first, by its service manual.",
    [FINDING_OTHER_PROGRAM] =
        "Switch the console off, wait some seconds, switch it on. If it stays: push the image again, and see "
        "that the board, and nothing else, sits in the slot.",
    [FINDING_RUNS_WITHOUT_PICTURE] =
        "Is the grabber on this console, its input and standard right? Another video cable, another grabber "
        "or a television; " GOOD_CONSOLE
        ". If only this console: its video output, then its video chip's socket, by its service manual.",
    [FINDING_COLOUR_WRONG] = "Set the grabber's tint, contrast and brightness to their defaults. " FIRST
                             "; another grabber; a console known to be good. If only this console "
                             "draws it so: its colour trimmer, "
                             "its video chip's socket, then the chip, by its service manual.",
    [FINDING_DEVICE_LOST] =
        "Plug the grabber into a port of the computer itself, without a hub; another cable. "
        "If it goes away when the console is switched: a USB isolator between them.",
    [FINDING_FIELDS_LOST] =
        "Close other programs that use the grabber or much of the computer; another port without a hub; a "
        "smaller or compressed pixel format (bench key pixel); then another grabber.",
    [FINDING_FIELDS_SWAPPED] =
        "Turn off deinterlacing and field reordering in the grabber's or recorder's settings; record again, "
        "straight to a file; then another grabber.",
    [FINDING_FIELDS_BLENDED] =
        "Turn off deinterlacing where the picture is taken or recorded, and record interlaced; mixed fields "
        "are read where they can be.",
    [FINDING_HALF_BLACK] =
        "Set the grabber to the console's standard and to interlaced pictures; unplug it and "
        "plug it back; then another grabber. What is left of the picture is judged.",
    [FINDING_BROKEN_BUFFERS] =
        "Another port without a hub, a shorter USB cable; a smaller or compressed pixel "
        "format (bench key pixel). A recording: copy it again, see that it is whole.",
    [FINDING_COMB_FILTER] =
        "Turn the comb filter (3-D, 2-D) off or to notch in the grabber's settings, or use its S-video input "
        "if the console has that output; then another grabber.",
    [FINDING_CLIPPING] = "Turn down the grabber's contrast or gain, and its brightness to its default, until "
                         "white and black keep away from the ends; turn automatic gain off.",
    [FINDING_GAIN_HUNTING] =
        "Turn automatic gain off in the grabber's settings. Hum: another supply for the console, cables away "
        "from mains leads, console and computer on one outlet strip.",
    [FINDING_NOISY] = "Plugs and cables of the video first; if it comes by RF: the channel's fine tuning, a "
                      "better cable, a "
                      "tuner's composite output; another supply; then another grabber.",
    [FINDING_NO_COLOUR] =
        "Is the grabber set to the console's standard, its saturation not at nothing, a composite cable not "
        "in an S-video's luma input? The console's colour trimmer last, by its service manual.",
    [FINDING_MOMENT_MISSING] = "Run plan bits: it names what is stuck. " FIRST
                               "; then a console known to be good. If only this console: its video chip's "
                               "socket, then the chip, by its service manual.",
    [FINDING_MOMENT_CELLS] = "Run plan bits: it names the bits. " FIRST
                             "; then a console known to be good. If only this console: its video chip's "
                             "socket, then the chip, by its service manual.",
    [FINDING_MOMENT_EARLY] =
        "Do plan, image and standard belong together? Set the grabber to interlaced pictures of its own "
        "size, without scaling; another grabber; then run the same image on a console known to be good.",
    [FINDING_MOMENT_VARIES] =
        "Run again, cold and warm, and compare the two results. Another grabber and another supply; then a "
        "console known to be good. If it stays with this console: allow for it, two cycles away from the "
        "windows' ends.",
    [FINDING_CART_BYTE_WRONG] =
        "Write the image again and compare it; run again. The same byte again: that cell of the memory is "
        "bad, and the chip is to be replaced. Another one: supply and contacts first.",
    [FINDING_CART_PAGE_WRONG] =
        "Is it this very image, whole, that was written? Write it again and compare. " CART CART_READER
        ": bytes that come late look like this.",
    [FINDING_CART_HOTSPOT_WRONG] =
        "Is its logic made for this scheme? " CART_LOOK ": A0 to A3 first; then the logic itself.",
    [FINDING_CART_NOT_SWITCHING] =
        "Is the cartridge set to this scheme, and the image not one bank over and over? " CART_LOOK
        "; then the logic that switches: its supply, its program.",
    [FINDING_CART_SWITCHES_TOO] =
        "The logic decodes too few address lines: its program or its wiring. " CART_LOOK
        ". Only programs that use such an address fail on it.",
    [FINDING_CART_VECTOR_WRONG] =
        "Write the image again, with the same vectors in every bank, and compare. " CART CART_READER ".",
    [FINDING_CART_RAM_MISSING] =
        "Was it to have RAM at all? Then run without --ram. Else its supply, select and "
        "write lines. " CART_LOOK ".",
    [FINDING_CART_RAM_STUCK] =
        CART "; a bit that stays so is the RAM chip's: replace it, or the part that holds it.",
    [FINDING_CART_RAM_TRANSITION] =
        CART "; a bit that stays so is the RAM chip's: replace it, or the part that holds it.",
    [FINDING_CART_RAM_COUPLED] =
        CART "; cells that stay coupled are the RAM chip's: replace it, or the part that holds it.",
    [FINDING_CART_RAM_DECODER] = CART_LOOK
    ": A0 to A6 at the RAM. Where they are well: replace the RAM chip, or the part that holds it.",
    [FINDING_CART_RAM_FAULTY] =
        CART_LOOK ": data lines, address lines, select and write of the RAM; then replace the chip.",
    [FINDING_CART_BUS_HELD] = "Try another cartridge on this console, to tell the two apart. " CART_LOOK
                              ": A12 switches its data lines off. Do not leave it on.",
    [FINDING_CART_ADDRESS_OPEN] = CART_LOOK " on that line.",
    [FINDING_CART_ADDRESS_SHORTED] = CART_LOOK " between the two lines.",
    [FINDING_CART_ADDRESS_STUCK] = CART_LOOK ": that line against +5 V, ground and its neighbours.",
    [FINDING_CART_DATA_STUCK] = CART_LOOK ": that line against +5 V, ground and its neighbours.",
    [FINDING_CART_DATA_OPEN] = CART_LOOK " on that line.",
    [FINDING_CART_DATA_SHORTED] = CART_LOOK " between the two lines.",
    [FINDING_CART_SLOW] =
        "Is the memory of the speed that was ordered, its supply within its limits under load? "
        "Measure with a reader, warm too; then a faster chip, or what stands in its way.",
    [FINDING_CART_RELEASE_SLOW] =
        "Its output buffers let go too late: the way from A12 to their enable. Measure again warm; then a "
        "faster part there.",
    [FINDING_CART_WAKES_LATE] =
        "Switch the console off for some seconds and on again: a start that fails at times is this. Then "
        "what the cartridge does before it answers: make that shorter than a console's reset.",
    [FINDING_CART_CONTACT] =
        CART "; bend nothing. Another slot or console, to tell cartridge and slot apart; "
             "then the edge's plating and the joints behind it. Run --for an hour.",
    [FINDING_CART_DEAD] =
        "Switch the console off, wait two seconds, switch it on. " CART
        "; then a cartridge known to be good on this console, which tells the two apart; then this one on a "
        "reader.",
    [FINDING_CART_OTHER_IMAGE] =
        "Make the image anew (`slotjig rom --plan cartridge`, with this --scheme, --ram and --standard), "
        "write it, and run with the same words.",
    [FINDING_CART_OVERLOAD] =
        "Take it out at once; it stays off. Look for bridges between +5 V and ground, a part the "
        "wrong "
        "way round, a chip that gets warm; measure +5 V against ground out of the slot before trying again.",
    [FINDING_CAPTURE_LOST] = "The console needs nothing. Start the capture again; plug the grabber in anew; "
                             "another video cable, port and grabber.",
};

const char *advice_next(enum finding_kind kind) {
    return (unsigned)kind < FINDING_KINDS && nexts[kind] != NULL ? nexts[kind]
                                                                 : FIRST
               "; then run the same image on a console known to be good. If only this console fails, "
               "its video chip is suspect (socket first): see its service manual.";
}

static int position_of(int reg, int bit) {
    for (int i = 0; i < CELLS / 2; i++) {
        if ((int)expect_serial[i].reg == reg && expect_serial[i].bit == bit) {
            return i;
        }
    }
    return 0;
}

static void describe_bit(const struct cause *cause, char *text, size_t size) {
    int cell = position_of(cause->reg, cause->bit);
    snprintf(text, size, "%s D%d %s (cell %d; in copy mode also cell %d, in mirror mode also cell %d)",
             reg_name((enum reg)cause->reg), cause->bit,
             cause->high ? "always lights its cell" : "never lights its cell", cell, cell + CELLS / 2,
             CELLS - 1 - cell);
}

static void describe_joint(const struct cause *cause, char *text, size_t size) {
    const struct joint *joint = &cause->joints[0];
    const struct pf_bit *from = &expect_serial[joint->from];
    const bool coupled = joint->how == JOINED_COUPLED;
    snprintf(text, size, "%s D%d shows %s %s D%d%s", reg_name((enum reg)cause->reg), cause->bit,
             coupled                      ? "the value of"
             : joint->how == JOINED_ANDED ? "its value AND that of"
                                          : "its value OR that of",
             reg_name(from->reg), from->bit, coupled ? " in place of its own" : "");
}

static void describe_unconnected(const struct cause *cause, char *text, size_t size) {
    if (cause->low_nibble) {
        snprintf(text, size,
                 "PF0's lower half (D0..D3), which is not connected, is drawn in place of D4..D7");
        return;
    }
    char bits[24] = "";
    int used = 0;
    for (int bit = 0; bit < 4; bit++) {
        if (cause->unconnected >> bit & 1) {
            used += snprintf(bits + used, sizeof bits - (size_t)used, "%sD%d", used > 0 ? ", " : "", bit);
        }
    }
    snprintf(text, size, "PF0 %s, which must draw nothing, also light the cells of the bits four above",
             bits);
}

static void describe_swap(const struct cause *cause, char *text, size_t size) {
    snprintf(text, size, "%s is drawn in the place of %s and the other way round",
             reg_name((enum reg)cause->reg), reg_name((enum reg)cause->to[cause->reg]));
}

static void describe_data_line(const struct cause *cause, char *text, size_t size) {
    snprintf(text, size,
             "D%d of every register write arrives as %d: data line D%d of the video chip is stuck %s",
             cause->bit, cause->high ? 1 : 0, cause->bit, cause->high ? "high" : "low");
}

void advice_describe(const struct cause *cause, char *text, size_t size) {
    switch (cause->kind) {
    case FINDING_BIT_STUCK_LOW:
    case FINDING_BIT_STUCK_HIGH:
        describe_bit(cause, text, size);
        break;
    case FINDING_BIT_COUPLED:
    case FINDING_BITS_ANDED:
    case FINDING_BITS_ORED:
        describe_joint(cause, text, size);
        break;
    case FINDING_REGISTER_ORDER_REVERSED:
        snprintf(text, size, "the bits of %s are drawn in the reverse of the handbook's order",
                 reg_name((enum reg)cause->reg));
        break;
    case FINDING_REGISTERS_SWAPPED:
        describe_swap(cause, text, size);
        break;
    case FINDING_MIRROR_IGNORED:
        snprintf(text, size, "mirror mode (CTRLPF D0 = 1) draws the right half as a copy of the left");
        break;
    case FINDING_COPY_IGNORED:
        snprintf(text, size, "copy mode (CTRLPF D0 = 0) draws the right half mirrored");
        break;
    case FINDING_SHIFTED:
        snprintf(text, size, "the playfield is %d colour clock%s (%d.%02d cells) late against the background",
                 cause->shift, cause->shift == 1 ? "" : "s", cause->shift / 4, cause->shift % 4 * 25);
        break;
    case FINDING_UNCONNECTED_BITS_DRAWN:
        describe_unconnected(cause, text, size);
        break;
    case FINDING_DATA_LINE_STUCK:
        describe_data_line(cause, text, size);
        break;
    default:
        snprintf(text, size, "%s", finding_name(cause->kind));
        break;
    }
}

void advice_short(const struct cause *cause, char *text, size_t size) {
    const char *level = cause->high ? "high" : "low";
    switch (cause->kind) {
    case FINDING_BIT_STUCK_LOW:
    case FINDING_BIT_STUCK_HIGH:
        snprintf(text, size, "%s D%d stuck %s", reg_name((enum reg)cause->reg), cause->bit, level);
        break;
    case FINDING_BIT_COUPLED:
    case FINDING_BITS_ANDED:
    case FINDING_BITS_ORED:
        describe_joint(cause, text, size);
        break;
    case FINDING_DATA_LINE_STUCK:
        snprintf(text, size, "data line D%d stuck %s", cause->bit, level);
        break;
    case FINDING_SHIFTED:
        snprintf(text, size, "shifted by %d clocks", cause->shift);
        break;
    case FINDING_REGISTERS_SWAPPED:
        snprintf(text, size, "%s and %s swapped", reg_name((enum reg)cause->reg),
                 reg_name((enum reg)cause->to[cause->reg]));
        break;
    default:
        snprintf(text, size, "%s%s%s", finding_name(cause->kind), cause->reg > 0 ? " of " : "",
                 cause->reg > 0 ? reg_name((enum reg)cause->reg) : "");
        break;
    }
}
