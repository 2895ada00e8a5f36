/*
 * The wire between host and board, described once for both ends.
 *
 * A frame on the wire is COBS (Cheshire and Baker, "Consistent Overhead Byte Stuffing", 1999) of
 *     type (1)  sequence (1)  payload (0..WIRE_PAYLOAD_MAX)  CRC-32 of all before it (4, little endian)
 * and then one 0x00. A 0x00 may also come before a frame; an empty frame means nothing. CRC-32: reflected
 * 0x04C11DB7, register all ones at the start, complemented at the end; "123456789" gives 0xCBF43926.
 * A frame that is broken (COBS, CRC, too short, too long) is dropped without an answer: who waits for it
 * sends again. Every number is little endian and unsigned.
 *
 * The host asks, the board answers: the reply's type is the request's | WIRE_REPLY, its sequence the
 * request's, its payload's first byte a wire_status. A request of unknown type, or whose payload has the
 * wrong length, is answered by WIRE_ERROR (payload: status, type that was refused). Asking again with the
 * same sequence number is safe for every message: each of them may be carried out twice with the same end.
 * WIRE_LOG comes unasked. A board drops frames whose type has WIRE_REPLY set, so that a line that echoes does
 * not make it talk to itself.
 *
 * Layouts are given as name:bytes. More bytes at the end of a WIRE_HELLO reply are for later versions and are
 * skipped; everywhere else the length is exact.
 */
#ifndef SLOTJIG_WIRE_H
#define SLOTJIG_WIRE_H

enum {
    WIRE_VERSION = 1,
    WIRE_BLOCK = 1024,    /* bytes of an image in one WIRE_DATA; the last block of an image is whole too */
    WIRE_BLOCKS_MAX = 32, /* so a set of blocks is a 32-bit mask */
    WIRE_IMAGE_MAX = WIRE_BLOCK * WIRE_BLOCKS_MAX,
    WIRE_WINDOW = 4, /* blocks in flight that every board takes; hello may say more */
    WIRE_PAYLOAD_MAX = WIRE_BLOCK + 16,
    WIRE_PLAIN_MAX = 2 + WIRE_PAYLOAD_MAX + 4,                      /* a frame before COBS */
    WIRE_FRAME_MAX = WIRE_PLAIN_MAX + WIRE_PLAIN_MAX / 254 + 1 + 1, /* on the wire, its 0x00 included */
    WIRE_REPLY = 0x80,
    WIRE_SERIAL = 8, /* bytes of a board's serial; shown as 16 hexadecimal digits */
    WIRE_TRACE = 8,  /* addresses kept after a fetch of the reset vector */
    WIRE_LOG_TEXT = 96
};

enum wire_type {
    /* request: lowest:1 highest:1 protocol version the host speaks.
     * reply: status:1 version:1 firmware:2 (major * 256 + minor) capabilities:4 payload_max:2 block:2
     * window:1 image_max:4 serial:8 */
    WIRE_HELLO = 0x01,
    /* Starts a push into the slot of the store that is not in use.
     * request: crc:4 kib:1 scheme:1 flags:1 keep:4. crc is the whole image's; keep is a mask of blocks that
     * are the same in the image served now, which the board copies itself (refused with WIRE_BAD_VALUE where
     * there is none, or it is of another size). reply: status:1 have:4 window:1. The same request again while
     * that push is under way goes on with it: have is the mask of blocks that need not be sent. */
    WIRE_BEGIN = 0x02,
    /* request: block:1024; the block's number is the frame's sequence number. Out of order is fine, twice
     * too. reply (an acknowledgement; not one for each block: after half a window, when nothing is missing,
     * and when input pauses): status:1 next:1, the lowest block still missing, or the number of blocks.
     * WIRE_NOT_BEGUN where no push is under way. */
    WIRE_DATA = 0x03,
    /* request: nothing. Checks the CRC, makes the image the newest of the store, and starts it by hand-over.
     * reply: status:1, once the image is safe: WIRE_MISSING, WIRE_BAD_CRC, WIRE_FLASH_FAILED, or WIRE_OK.
     * Asked again after WIRE_OK it says WIRE_OK again, until the next BEGIN. How the start went: WIRE_STATUS.
     */
    WIRE_COMMIT = 0x04,
    /* request: nothing; gives a push up. reply: status:1 */
    WIRE_ABORT = 0x05,
    /* request: offset:4 length:2 (1..1024). reply: status:1 bytes of the image served (as stored, not as the
     *   mailbox changed it) */
    WIRE_READ = 0x06,
    /* request: nothing. reply: status:1 and crc:4 for each block of the image served; none when idle */
    WIRE_SUMS = 0x07,
    /* request: mode:1 (wire_select) step:1. reply: status:1. WIRE_NO_MAILBOX where the image has none */
    WIRE_SELECT = 0x08,
    /* request: nothing. reply: status:1 state:1 (wire_state) generation:4 crc:4 kib:1 scheme:1 flags:1
     * select:1 step:1 start:1 (wire_start) supply:1 uptime_ms:4 bad_frames:4. generation 0 and kib 0: nothing
     * stored. */
    WIRE_STATUS = 0x09,
    /* What was seen in the slot during the last whole second.
     * request: nothing. reply: status:1 supply:1 (console's +5 V) age_ms:2 (0xFFFF: not a whole second yet)
     *   cycles:4 (address changes) resets:4 (fetches of the reset vector's low byte) vsyncs:4 (accesses to
     * $00 with A12 = 0) mailbox:4 (reads of MAILBOX_MODE) missed:4 (changes lost to the watch) high:2 low:2
     * (masks of address lines that were seen high, low) echoed:1 (mask: 1 vector low, 2 vector high, 4 step)
     * vector:2 step:1 (as the console echoed them, last ones ever since its supply came up) traced:1
     * trace:2*8 (addresses after the last fetch of the reset vector's high byte, the first traced of them) */
    WIRE_WATCH = 0x0A,
    /* request: level:1 (0 none, 1 trouble, 2 all). reply: status:1 */
    WIRE_LOG_LEVEL = 0x0B,
    /* request: key:4 (WIRE_LOADER_KEY). reply: status:1, then the chip restarts in its own boot loader */
    WIRE_LOADER = 0x0C,
    /* Values that the console is to show in turn (MAILBOX_GIVEN), of an image that counts.
     * request: stream:1 first:4 (place in the stream of the first value below) count:1 (0..WIRE_VALUES_MAX)
     *   value:3*count. Another stream than the one under way (another port's is another) empties the queue
     * and begins at first, and ends a held step. Values that the board has already are skipped; those past
     * its room are not taken; a gap (first beyond next) takes none. count 0 asks how far it is. reply:
     * status:1 stream:1 next:4 (place of the first value the board lacks) taken:4 (place of the first value
     * the console has not read) room:1. WIRE_NO_MAILBOX where the image has none. WIRE_SELECT and another
     * image end the stream: WIRE_NOT_BEGUN when it is asked to go on. After hello the same number goes on
     * where first lies in taken..next, and is another stream where it does not. */
    WIRE_VALUES = 0x0D,

    /* Of a reader (WIRE_CAN_READ): the board that stands in the console's place and has a cartridge in its
     * slot. It does one task at a time, by itself, while it goes on answering; a task that is under way
     * refuses another with WIRE_BUSY (the very same request is answered WIRE_OK). Every task switches the
     * supply on if it is off, and waits up to 2 s for the cartridge to drive its data lines; a task that ends
     * leaves it on. It is off after a task that failed, and when the host has been silent for a minute.
     *
     * request: on:1. reply: status:1 on:1 trouble:1 (wire_supply). Off ends a task: it has failed. */
    WIRE_SUPPLY = 0x10,
    /* request: task:1 (wire_task) scheme:1 flags:1 (WIRE_IMAGE_RAM) bank:1 first:2 count:2 option:4. What a
     * task does not use is not looked at. reply: status:1; WIRE_BAD_VALUE: a scheme, bank, address or count
     * that cannot be, RAM's task without RAM, hotspots of a scheme without banks */
    WIRE_TASK = 0x11,
    /* request: nothing. reply: status:1 task:1 state:1 (wire_task_state) done:4 of:4 size:4 (bytes of the
     * result; 0 until the task is done) took_us:4 (from when the cartridge answered) trouble:1 cycle_ps:4 (of
     * the chip's clock) own:2 (cycles of the board's own between address and sample, buffers not counted:
     * they are in every figure of the map) */
    WIRE_TASK_STATE = 0x12,
    /* request: offset:4 length:2 (1..1024). reply: status:1 bytes of the last task's result; WIRE_NOT_BEGUN
     * where none is done, WIRE_BAD_VALUE beyond its end */
    WIRE_TASK_RESULT = 0x13,

    WIRE_LOG = 0xC0,  /* board to host, unasked: level:1 text (no zero byte, at most WIRE_LOG_TEXT) */
    WIRE_ERROR = 0xFF /* status:1 type:1 */
};

enum { WIRE_LOADER_KEY = 0x4C4F4144 };

/* Append only. */
enum wire_status {
    WIRE_OK = 0,
    WIRE_UNKNOWN = 1,    /* no such message */
    WIRE_BAD_LENGTH = 2, /* payload too short or too long */
    WIRE_BAD_VALUE = 3,  /* a size, scheme, mask, mode or offset that cannot be */
    WIRE_NOT_BEGUN = 4,  /* no push is under way; the stream of values was ended */
    WIRE_MISSING = 5,    /* commit before all blocks came */
    WIRE_BAD_CRC = 6,    /* the blocks do not make the image that was announced; the push is given up */
    WIRE_FLASH_FAILED = 7,
    WIRE_NO_MAILBOX = 8,
    WIRE_BAD_VERSION = 9, /* no common protocol version */
    WIRE_BUSY = 10,       /* another link has a push under way */
    WIRE_STATUSES
};

/* Capability bits in hello. */
enum {
    WIRE_CAN_SELECT = 1 << 0,
    WIRE_CAN_WATCH = 1 << 1,
    WIRE_CAN_LOADER = 1 << 2,
    WIRE_CAN_BANKS = 1 << 3, /* F8, F6, F4 */
    WIRE_CAN_RAM = 1 << 4,
    WIRE_CAN_KEEP = 1 << 5,
    WIRE_CAN_VALUES = 1 << 6,
    WIRE_CAN_READ =
        1 << 7 /* a reader: WIRE_SUPPLY to WIRE_TASK_RESULT, and none of the messages about images */
};

/* Tasks of a reader, each with its result. Addresses are 13 bits. A bank is selected by an access to its
 * hotspot, at the console's pace (838 ns a cycle). */
enum wire_task {
    WIRE_TASK_NONE,
    /* The whole image, `option` times over (1..65535; 0 means 2), banks from 0 up, addresses from the lowest
     * up. result: bytes:size of the image (the first reading), then unsteady:size (bits that were not the
     * same in all readings), then passes:4 differing:4 (bytes of the readings after the first
     * that differed from it), floats:1 (data lines that followed a pull to high and to low at each of 16
     * addresses: nobody drives them; 0xFF: no cartridge, or a dead one). Each bank begins with an access to
     * its hotspot; an address that is another bank's hotspot is read as well, and then the bank's own hotspot
     * again. With RAM the bytes at $1000-$10FF are 0 and none of these addresses is accessed. */
    WIRE_TASK_READ,
    /* `count` addresses of a bank from `first` on, against the bytes that stand still there (sampled 2 us
     * after the address): result: three bytes an address, the fewest cycles from the address to data that are
     * right and stay so, with A12 rising (before it the same address with A12 low), one address bit changing
     * (the slowest of 12), all twelve changing. 255: not within 254 cycles, or not steady, several times
     * over. 0 where the byte stood on the lines before. Changes that would come from another bank's hotspot,
     * or with RAM from $1000-$107F, are left out (of all twelve, A7 stays then); at another bank's hotspot it
     * is that bank's byte. With RAM $1000-$107F are not accessed: 255. */
    WIRE_TASK_MAP,
    /* result: for each manner (0 read, 1 write: the board drives the data), each bank f, each bank t: the
     * byte at address `option` (where banks differ) after f was selected and then t's hotspot hit once, the
     * next access right after it; then, for each of the places 0..14 of neighbours (the address line in which
     * they differ from a hotspot, below the lowest, above the highest), each hotspot t and each bank f, the
     * same after a read of that neighbour; where the neighbour is a hotspot itself (or, of 13 and 14, t is
     * not 0), the byte of f. So 2 * banks * banks + 15 * banks * banks bytes. */
    WIRE_TASK_HOTSPOTS,
    /* `count` addresses of a bank from `first` on: result: two bytes an address, cycles from A12's fall until
     * all data lines follow a pull to high, and to low; 255: not within 254. */
    WIRE_TASK_RELEASE,
    /* March C- over the RAM with each of plan/check.h's backgrounds: result: wrong:4 (reads), then up to
     * WIRE_RAM_LOG entries of background:1 element:1 cell:1 read:1 right:1. */
    WIRE_TASK_RAM,
    /* Supply off for `option` ms (0: 500), then on: result: us:4 until the byte at `first` reads as before
     * and stays so for 10 ms (0xFFFFFFFF: not within 2 s), bank:1 (the one that came up, by the byte at
     * `count`, an address that tells banks apart; 255: it does not). One that answered in time before this,
     * and now not within 2 s, is gone: the task has failed. */
    WIRE_TASK_WAKE,
    /* Every address with A12 = 0, data pulled high, then low: result: low:1 high:1 (lines that did not follow
     * the pull to high, to low, at some address), count:4 (addresses where any did not). */
    WIRE_TASK_QUIET,
    WIRE_TASKS
};
enum { WIRE_RAM_LOG = 256 };
enum wire_task_state { WIRE_TASK_IDLE, WIRE_TASK_RUNNING, WIRE_TASK_DONE, WIRE_TASK_FAILED };
enum wire_supply {
    WIRE_SUPPLY_GOOD,
    WIRE_SUPPLY_OVERLOAD, /* the limiter tripped; it is off */
    WIRE_SUPPLY_MISSING,  /* switched on, and no voltage came */
    WIRE_SUPPLY_GONE /* the cartridge drove the data lines, and nothing does any more: pulled out, or dead;
                        it is off */
};

enum {
    WIRE_VALUES_MAX = 64,  /* in one message */
    WIRE_VALUES_QUEUE = 64 /* that a board keeps at least */
};

/* Bank schemes by their trade names. Sizes: 2, 4, 8, 16, 32 KiB. */
enum wire_scheme { WIRE_2K, WIRE_4K, WIRE_F8, WIRE_F6, WIRE_F4, WIRE_SCHEMES };

/* Flags of an image. */
enum {
    WIRE_IMAGE_RAM = 1 << 0, /* 128 bytes of cartridge RAM: write $1000-$107F, read $1080-$10FF */
    WIRE_IMAGE_MAILBOX =
        1 << 1, /* reads the mailbox (slotjig/mailbox.h) and calls the hand-over each frame */
    WIRE_IMAGE_FLAGS = 3
};

enum wire_select { WIRE_RUN_FREE, WIRE_HOLD_STEP, WIRE_SELECTS };

enum wire_state {
    WIRE_IDLE, /* nothing stored: the idle picture is served */
    WIRE_SERVING,
    WIRE_RECEIVING, /* a push is under way; the old image (or the idle picture) is served */
    WIRE_HANDING /* waits for the console to take the hand-over; status, read and sums tell of the new image
                    already, which is safe in the store */
};

/* How the image that is served was started. */
enum wire_start {
    WIRE_START_POWER,  /* found in the store when the board started */
    WIRE_START_HANDED, /* the console took the hand-over and went through the new reset vector */
    WIRE_START_FORCED, /* no answer from the console (another program, hung, or off): it must be switched off
                          and on, unless it was off */
};

#endif
