#include "virtual/bench.h"

#include "virtual/ahead.h"
#include "virtual/board.h"
#include "virtual/console.h"
#include "virtual/faults_cart.h"
#include "virtual/grabber.h"
#include "virtual/socket.h"

#include <stdlib.h>
#include <string.h>

enum {
    SMALL_IMAGE = 2048,
    LARGE_IMAGE = SOCKET_ROM,
    FIELD_US = 16688, /* 262 lines of 228 clocks of 3.579545 MHz [A]: what passes while the console is off */
    OFF_US = 500000,  /* between off and on */
    RESET_US = 20000  /* that the console's own reset lasts once the supply is there [P] */
};

#define CYCLES_A_SECOND (3579545.0 / 3)                       /* [A] */
static const uint64_t CARTRIDGE_APART = UINT64_C(0x63617274); /* another seed than the console's */

struct bench {
    struct console console;
    struct socket socket;
    struct cart_model cartridge; /* in the socket, or nowhere */
    struct virtual_options options;
    uint64_t seed; /* of the power-on to come */
    struct grabber *grabber;
    struct ahead *ahead; /* NULL: all is done when a frame is asked for */
    struct frame shown;  /* the last frame */
    uint64_t frames, fields;
    bool pulled; /* the plain cartridge is out of the slot */
};

void virtual_defaults(enum standard standard, struct virtual_options *options) {
    *options = (struct virtual_options){
        .standard = standard,
        .seed = 1,
        .faults = {.frozen_after = -1},
    };
    grabber_defaults(standard, &options->grabber);
    tia_chip_default(&options->faults.chip);
    cart_faults_none(WIRE_4K, &options->faults.cartridge);
}

static bool is_frozen(const struct bench *bench) {
    const long after = bench->options.faults.frozen_after;
    return bench->frames > 0 && after >= 0 && bench->fields >= (uint64_t)after;
}

static uint8_t read_nothing(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    (void)address;
    return bus;
}

/* Between two fields: a plain cartridge goes out of the slot, with the console on. */
static void pull(struct bench *bench) {
    static const struct cartridge none = {.read = read_nothing};
    const double after = bench->options.faults.pulled_after_s;
    if (after > 0 && bench->socket.model != NULL && !bench->pulled &&
        (double)bench->console.cycles >= after * CYCLES_A_SECOND) {
        bench->pulled = true;
        bench->console.cartridge = none;
        bench->console.listens = false;
    }
}

/* The field drawn, or NULL: no signal. */
static const struct tia_field *next_field(struct bench *bench) {
    const struct virtual_faults *faults = &bench->options.faults;
    if (faults->no_supply) {
        if (bench->socket.board) {
            virtual_board_advance(bench->socket.board, FIELD_US);
        }
        return NULL;
    }
    pull(bench);
    console_run_field(&bench->console, TIA_LINES_MAX);
    socket_catch_up(&bench->socket);
    return faults->no_video ? NULL : &bench->console.tia.field;
}

static bool make_frame(struct bench *bench, struct problem *problem) {
    while (!grabber_ready(bench->grabber)) {
        grabber_take(bench->grabber, next_field(bench));
        bench->fields++;
    }
    return grabber_frame(bench->grabber, &bench->shown, problem);
}

static bool take_frame(struct bench *bench, struct problem *problem) {
    const bool good = ahead_frame(bench->ahead, &bench->shown, problem);
    bench->fields = ahead_fields(bench->ahead);
    return good;
}

/* Frozen, it gives the same bytes again and again. */
static enum next next_frame(void *state, struct frame *frame, struct problem *problem) {
    struct bench *bench = state;
    if (!is_frozen(bench) &&
        !(bench->ahead != NULL ? take_frame(bench, problem) : make_frame(bench, problem))) {
        return NEXT_ERROR;
    }
    *frame = bench->shown;
    frame->number = bench->frames++;
    return NEXT_FRAME;
}

static void set_supply(struct bench *bench, bool on) {
    struct cart_model *const model = bench->socket.model;
    if (bench->socket.board) {
        virtual_board_supply(bench->socket.board, on);
    }
    if (model) {
        cart_model_power(model, model->now_ns, on);
        cart_model_wait(model, (on ? RESET_US : OFF_US) * UINT64_C(1000));
    }
}

static void close_bench(void *state) {
    struct bench *bench = state;
    ahead_free(bench->ahead);
    set_supply(bench, false);
    grabber_free(bench->grabber);
    free(bench);
}

static void tell_bench(void *state, struct video_about *about, struct video_counts *counts) {
    const struct bench *bench = state;
    if (about != NULL) {
        *about = (struct video_about){.kind = "virtual", .live = true};
        grabber_tell(bench->grabber, about);
    }
    if (counts != NULL) {
        *counts = (struct video_counts){.delivered = bench->frames};
    }
}

/* A dead processor does not even fetch the reset vector. */
static void start_console(struct bench *bench) {
    const struct virtual_faults *faults = &bench->options.faults;
    const struct cartridge none = {.read = read_nothing};
    const struct cartridge cartridge = socket_cartridge(&bench->socket, faults);
    bench->socket.told = 0;
    console_power_on(&bench->console, &faults->chip, faults->no_console ? &none : &cartridge, bench->seed++);
    bench->console.cpu.jammed = bench->console.cpu.jammed || faults->no_console;
}

static void power_on(struct bench *bench) {
    if (!bench->options.faults.no_supply) {
        set_supply(bench, true);
        start_console(bench);
    }
}

static struct bench *new_bench(const struct virtual_options *options, struct problem *problem) {
    static const uint64_t apart = UINT64_C(0x6E6F697365);
    struct bench *bench = calloc(1, sizeof *bench);
    if (bench == NULL) {
        problem_set(problem, PROBLEM_BENCH, "virtual bench: out of memory; close other programs");
        return NULL;
    }
    /* another seed than the console's, so that the two do not draw the same numbers */
    bench->grabber = grabber_new(options->standard, &options->grabber, options->seed ^ apart, problem);
    if (bench->grabber == NULL) {
        free(bench);
        return NULL;
    }
    bench->options = *options;
    bench->seed = options->seed;
    bench->socket.console = &bench->console;
    return bench;
}

static void start(struct bench *bench, struct video_source *source) {
    power_on(bench);
    *source =
        (struct video_source){.state = bench, .next = next_frame, .close = close_bench, .tell = tell_bench};
}

/* A fault that would do nothing must not pass for one that does no harm. */
static bool none_of_cartridge(const struct virtual_options *options, struct problem *problem) {
    return !options->faults.of_cartridge ||
           problem_set(problem, PROBLEM_INPUT,
                       "virtual bench: a fault of a cartridge (cart-open and so on) was given, and no such "
                       "cartridge is in the slot; it goes with --plan cartridge and with the reader");
}

bool virtual_open(const struct virtual_options *options, const uint8_t *image, size_t size,
                  struct video_source *source, struct problem *problem) {
    if (!none_of_cartridge(options, problem)) {
        return false;
    }
    if (size != SMALL_IMAGE && size != LARGE_IMAGE) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "virtual bench: an image of %zu bytes does not fit the slot; it takes 2048 or 4096", size);
    }
    struct bench *bench = new_bench(options, problem);
    if (bench == NULL) {
        return false;
    }
    for (size_t at = 0; at < LARGE_IMAGE; at += size) {
        memcpy(bench->socket.rom + at, image, size);
    }
    start(bench, source);
    return true;
}

bool virtual_open_board(const struct virtual_options *options, struct virtual_board *board,
                        struct video_source *source, struct problem *problem) {
    if (!none_of_cartridge(options, problem)) {
        return false;
    }
    struct bench *bench = new_bench(options, problem);
    if (bench == NULL) {
        return false;
    }
    bench->socket.board = board;
    start(bench, source);
    return true;
}

bool virtual_cartridge_faults(const struct virtual_options *options, int scheme, bool ram,
                              struct cart_faults *faults, struct problem *problem) {
    const struct virtual_faults *all = &options->faults;
    *faults = all->cartridge;
    faults->address_low |= all->address_low;
    faults->address_high |= all->address_high;
    faults->data_low |= all->cart_low;
    faults->data_high |= all->cart_high;
    return cart_faults_fit(faults, scheme, ram, problem);
}

bool virtual_open_cartridge(const struct virtual_options *options, int scheme, bool ram, const uint8_t *image,
                            struct video_source *source, struct problem *problem) {
    struct cart_faults faults;
    if (scheme_bytes(scheme) == 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "virtual bench: no cartridge has scheme %d; it is 2K, 4K, F8, F6 or F4", scheme);
    }
    if (!virtual_cartridge_faults(options, scheme, ram, &faults, problem)) {
        return false;
    }
    struct bench *bench = new_bench(options, problem);
    if (bench == NULL) {
        return false;
    }
    cart_model_init(&bench->cartridge, scheme, ram, image, &faults, options->seed ^ CARTRIDGE_APART);
    bench->socket.model = &bench->cartridge;
    start(bench, source);
    return true;
}

struct cart_model *virtual_cartridge(const struct video_source *source) {
    struct bench *bench = source->state;
    return bench->socket.model;
}

static const struct tia_field *field_of(void *state) {
    return next_field(state);
}

bool virtual_run_ahead(const struct video_source *source, bool threads, struct problem *problem) {
    struct bench *bench = source->state;
    const struct ahead_bench parts = {.grabber = bench->grabber,
                                      .frozen_after = bench->options.faults.frozen_after,
                                      .field = field_of,
                                      .user = bench};
    if (bench->ahead == NULL) {
        bench->ahead = ahead_new(&parts, threads, problem);
    }
    return bench->ahead != NULL;
}

void virtual_rest(const struct video_source *source) {
    struct bench *bench = source->state;
    if (bench->ahead != NULL) {
        ahead_rest(bench->ahead);
    }
}

void virtual_run_field(const struct video_source *source) {
    virtual_rest(source);
    next_field(source->state);
}

void virtual_power_cycle(const struct video_source *source) {
    struct bench *bench = source->state;
    virtual_rest(source);
    set_supply(bench, false);
    if (bench->socket.board) {
        virtual_board_advance(bench->socket.board, OFF_US);
    }
    power_on(bench);
}

void virtual_notes(const struct video_source *source, struct virtual_notes *notes) {
    const struct bench *bench = source->state;
    virtual_rest(source);
    *notes = (struct virtual_notes){.unmodelled_writes = bench->console.unmodelled_writes,
                                    .unmodelled_last = bench->console.unmodelled_last,
                                    .fields = bench->fields,
                                    .lines = bench->console.tia.field.lines};
}
