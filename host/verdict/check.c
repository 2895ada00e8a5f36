/* Plan cartridge: items taken in, rounds counted, and what is still owed. */
#include "verdict/check_state.h"
#include "verdict/counted.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    CONFIRMED = 2,        /* fields: a slate has 14 check bits, and noise makes many slates */
    BYTES_LOOKED_FOR = 8, /* pages: of more than that no byte is waited for */
    WRAPS = 65536,        /* rounds, as the console counts them */
    WRAP_NEAR = 256,
    SETTLED = 24,   /* fields: what a grabber may still have of the time before the console was switched on */
    AT_END = 3,     /* items: the last ones of a round */
    COUNTER_NEW = 2 /* the slate's counter up to there, a console has just begun */
};

bool check_item_bad(struct check_item item) {
    switch (item.kind) {
    case CHECK_PAGE:
    case CHECK_HOTSPOT:
    case CHECK_NEIGHBOUR:
    case CHECK_VECTORS:
    case CHECK_RAM:
        return item.what != 0;
    case CHECK_QUIET:
        return item.what != 0 && item.place != CHECK_QUIET_OPEN;
    default:
        return false;
    }
}

/* ---- rounds ---- */

static void begin_turn(struct check_state *state) {
    state->turn++;
    state->read_in_turn = 0;
    if (!state->told) {
        state->seen.rounds_watched = state->watched_before + state->turn - (state->began_whole ? 1 : 2);
    }
}

/* The console starts anew: it counts from 0 again. at: fields accepted when it did. */
static void take_restart(struct check_state *state, uint32_t at) {
    if (at <= SETTLED) {
        state->seen.rounds_watched = 0;
    } else {
        state->seen.restarts++;
    }
    state->watched_before = state->seen.rounds_watched;
    state->numbered = false;
    state->seen.rounds = 0;
}

static void number_errors(struct check_state *state) {
    for (size_t i = 0; i < state->seen.error_count; i++) {
        struct check_error *error = &state->seen.error[i];
        error->round =
            error->round >> 31 != 0 ? (uint32_t)((error->round & INT32_MAX) + state->number) : error->round;
    }
    for (size_t i = 0; i < state->seen.item_count; i++) {
        uint32_t *round = &state->seen.items[i].first_bad_round;
        *round = *round >> 31 != 0 ? (uint32_t)((*round & INT32_MAX) + state->number) : *round;
    }
}

/* The console has finished so many rounds, modulo 65536. */
static void take_rounds(struct check_state *state, uint32_t count) {
    struct check_seen *seen = &state->seen;
    uint32_t rounds = seen->rounds / WRAPS * WRAPS + count;
    if (state->numbered && rounds < seen->rounds) {
        const bool wraps = count < WRAP_NEAR && seen->rounds % WRAPS >= WRAPS - WRAP_NEAR;
        rounds = wraps ? rounds + WRAPS : count;
        if (!wraps) {
            take_restart(state, state->started_at);
        }
    }
    if (!state->numbered) {
        rounds = count;
        state->first_rounds = rounds - (state->began_whole && rounds > 0 ? 1 : 0);
        state->began_whole = true; /* after another start each first round is whole */
    }
    state->numbered = state->told = true;
    state->number = (int64_t)rounds - state->turn;
    seen->rounds = rounds;
    seen->rounds_watched = state->watched_before + rounds - state->first_rounds;
    number_errors(state);
}

/* The round that is under way, as the console counts; before it has told: marked, to be told later. */
static uint32_t round_now(const struct check_state *state) {
    return state->numbered ? (uint32_t)(state->turn + state->number) : state->turn | 1u << 31;
}

/* ---- items ---- */

static void add_error(struct check_state *state, struct check_item item) {
    struct check_seen *seen = &state->seen;
    if (seen->error_count == CHECK_TOLD_MAX) {
        seen->errors_left_out++;
        return;
    }
    seen->error[seen->error_count++] = (struct check_error){round_now(state), item};
}

static void take_bad(struct check_state *state, size_t at, struct check_item item) {
    struct check_item_seen *seen = &state->seen.items[at];
    struct item_state *of = &state->state[at];
    seen->item = item;
    if (seen->bad++ == 0) {
        seen->first_bad_round = round_now(state);
    }
    if (of->bad_turn != state->turn) {
        of->bad_turn = state->turn;
        of->streak++;
        seen->rounds_bad++;
        add_error(state, item);
    }
    state->seen.rounds_bad += state->bad_turn != state->turn;
    state->bad_turn = state->turn;
}

/* An item of those that every cartridge has. */
static enum judged take_listed(struct check_state *state, size_t at, struct check_item item) {
    struct check_item_seen *seen = &state->seen.items[at];
    struct item_state *of = &state->state[at];
    if ((int)at < state->last) {
        begin_turn(state);
    }
    state->last = (int)at;
    if (of->turn != state->turn) {
        of->turn = state->turn;
        seen->rounds_read++;
        state->read_in_turn++;
        state->seen.rounds_seen += state->read_in_turn == state->seen.item_count;
    }
    if (check_item_bad(item)) {
        take_bad(state, at, item);
        return JUDGED_FAIL;
    }
    seen->item = seen->bad > 0 ? seen->item : item;
    seen->good++;
    of->streak = of->bad_turn == state->turn ? of->streak : 0;
    return JUDGED_PASS;
}

/* The item goes back in the midst of a round: with a counter that begins anew, or after a gap in which the
 * round cannot have come to its end. */
static bool is_restart(const struct check_state *state, const struct reading *reading, int at) {
    const int left = (int)state->seen.item_count - state->last;
    const bool fresh = reading->slate.counter <= COUNTER_NEW && at == 0;
    const bool short_gap = state->blind > 0 && (int)state->blind < left;
    return at < state->last && left > AT_END && (fresh || short_gap);
}

static void take_start(struct check_state *state, struct check_item item) {
    state->seen.started_in = item.place;
    state->seen.banks_up |= (uint8_t)(1u << (item.place & 7));
}

static void take_number(struct check_state *state, struct check_item item) {
    const uint32_t count = (uint32_t)item.place << 8 | item.what;
    if (item.kind == CHECK_ROUND) {
        take_rounds(state, count);
    } else {
        state->seen.errors = count;
        state->seen.errors_told += count > 0;
    }
}

/* ---- what only a bad cartridge says ---- */

static void keep_page(struct check_state *state, int page) {
    const struct page_state *from = &state->page_state[page];
    struct page_seen *to = &state->seen.pages[page];
    const uint16_t crc = (uint16_t)(from->part[0] << 8 | from->part[1]);
    to->unsteady |= to->known && (to->crc != crc || to->sum != from->part[2]);
    to->known = true;
    to->crc = crc;
    to->sum = from->part[2];
}

static void take_part(struct check_state *state, struct check_item item) {
    struct page_state *page = &state->page_state[item.place];
    const int part = item.kind - CHECK_CRC_HIGH;
    if (page->turn != state->turn) {
        page->turn = state->turn;
        page->have = 0;
    }
    page->have |= 1u << part;
    page->part[part] = item.what;
    if (page->have == 7) {
        keep_page(state, item.place);
    }
}

static void take_detail(struct check_state *state, struct check_item item) {
    struct page_state *page = &state->page_state[item.place & (SCHEME_PAGES_MAX - 1)];
    switch (item.kind) {
    case CHECK_BYTE:
        page->byte = item.what;
        page->byte_turn = state->turn;
        break;
    case CHECK_XOR:
        page->flipped = item.what;
        page->has_xor = true;
        break;
    case CHECK_RAM_CELL:
        state->seen.ram_cell = item.place & 0x7F;
        state->seen.ram_flipped = item.what;
        break;
    case CHECK_RAM_WHEN:
        state->seen.ram_background = item.place >> 4;
        state->seen.ram_element = item.place & 0xF;
        state->seen.ram_wrong = item.what;
        break;
    default:
        take_part(state, item);
        break;
    }
}

static bool is_detail(const struct check_state *state, struct check_item item) {
    switch (item.kind) {
    case CHECK_CRC_HIGH:
    case CHECK_CRC_LOW:
    case CHECK_SUM:
    case CHECK_BYTE:
    case CHECK_XOR:
        return state->index[CHECK_PAGE][item.place] >= 0;
    case CHECK_RAM_CELL:
    case CHECK_RAM_WHEN:
        return state->seen.check->ram;
    default:
        return false;
    }
}

/* ROUND and ERRORS stand at one place of the list whatever their number, and START whatever came up. */
static int find(const struct check_state *state, struct check_item item) {
    const bool one = item.kind == CHECK_START || item.kind == CHECK_ROUND || item.kind == CHECK_ERRORS;
    return state->index[item.kind][one ? 0 : item.place];
}

static bool is_own_start(const struct check_state *state, struct check_item item) {
    const struct cart_check *check = state->seen.check;
    return item.kind != CHECK_START ||
           (item.what == (check->scheme | (check->ram ? 8 : 0)) && item.place < scheme_banks(check->scheme));
}

static enum judged read_field(void *user, const struct reading *reading) {
    struct check_state *state = user;
    const struct check_item item = check_unpack(reading->slate.value);
    state->accepted++;
    state->seen.still = check_pack(item) == check_pack(state->seen.now) ? state->seen.still + 1 : 0;
    state->seen.now = item;
    if (is_detail(state, item)) {
        take_detail(state, item);
        return JUDGED_PASS;
    }
    state->late += item.kind == CHECK_START && item.place == CHECK_LATE;
    const int at = find(state, item);
    if (at < 0 || !is_own_start(state, item)) {
        state->strange++;
        return JUDGED_NOT;
    }
    if (state->last < 0) {
        state->began_whole = at <= 1;
    }
    state->started_at = item.kind == CHECK_START ? state->accepted : state->started_at;
    if (is_restart(state, reading, at)) {
        take_restart(state, state->accepted);
    }
    state->blind = 0;
    const enum judged judged = take_listed(state, (size_t)at, item);
    if (item.kind == CHECK_RAM) {
        state->ram.elements[item.place] = item.what;
        state->ram.known[item.place] = true;
    } else if (item.kind == CHECK_START) {
        take_start(state, item);
    } else if (item.kind == CHECK_ROUND || item.kind == CHECK_ERRORS) {
        take_number(state, item);
    }
    return judged;
}

static void count_blind(void *user) {
    struct check_state *state = user;
    state->blind++;
}

/* ---- what is owed ---- */

/* The console says that there were errors, in fields enough, and counts nothing that is none. */
static bool errors_confirmed(const struct check_state *state) {
    const struct check_item_seen *open = check_find(state, CHECK_QUIET, CHECK_QUIET_OPEN);
    return state->seen.errors_told >= CONFIRMED && (open == NULL || open->item.what == 0);
}

/* Of few bad pages the console looks for the one wrong byte, in the second round. */
static bool lacks_byte(const struct check_state *state, int page) {
    const struct page_state *told = &state->page_state[page];
    return told->byte_turn == 0 || !told->has_xor;
}

static bool lacks_detail(const struct check_state *state, const struct check_item_seen *seen, size_t pages) {
    if (seen->bad < CONFIRMED) {
        return false;
    }
    switch (seen->item.kind) {
    case CHECK_PAGE:
        return !state->seen.pages[seen->item.place].known ||
               (pages <= BYTES_LOOKED_FOR && lacks_byte(state, seen->item.place));
    case CHECK_RAM:
        return state->seen.ram_cell < 0 || state->seen.ram_background < 0;
    default:
        return false;
    }
}

static size_t bad_pages(const struct check_state *state) {
    size_t count = 0;
    for (size_t i = 0; i < state->seen.item_count; i++) {
        count += state->seen.items[i].item.kind == CHECK_PAGE && state->seen.items[i].bad >= CONFIRMED;
    }
    return count;
}

static size_t owed(const void *user) {
    const struct check_state *state = user;
    const size_t pages = bad_pages(state);
    size_t count = 0;
    for (size_t i = 0; i < state->seen.item_count; i++) {
        const struct check_item_seen *seen = &state->seen.items[i];
        count += seen->rounds_read < CHECK_ROUNDS_LEAST || lacks_detail(state, seen, pages);
    }
    return count;
}

/* ---- the result ---- */

static void confirm(struct check_state *state) {
    const bool errors = errors_confirmed(state);
    for (size_t i = 0; i < state->seen.item_count; i++) {
        struct check_item_seen *seen = &state->seen.items[i];
        seen->confirmed = seen->bad >= CONFIRMED || (seen->bad > 0 && errors);
        seen->steady = seen->bad >= CONFIRMED && (seen->good == 0 || state->state[i].streak >= CONFIRMED);
    }
}

static struct coverage coverage_of(const struct check_state *state) {
    struct coverage coverage = {.of = state->seen.item_count};
    for (size_t i = 0; i < state->seen.item_count; i++) {
        const struct check_item_seen *seen = &state->seen.items[i];
        coverage.seen += seen->rounds_read >= CHECK_ROUNDS_LEAST;
        coverage.open += seen->rounds_read == 1;
        coverage.wrong += seen->confirmed;
    }
    return coverage;
}

static bool any_confirmed(const struct check_state *state) {
    for (size_t i = 0; i < state->seen.item_count; i++) {
        if (state->seen.items[i].confirmed) {
            return true;
        }
    }
    return errors_confirmed(state);
}

static void add_result(void *user, struct judge *judge, struct result *result) {
    struct check_state *state = user;
    (void)judge;
    confirm(state);
    check_locate_pages(state);
    result->verdict = any_confirmed(state)                            ? VERDICT_FAIL
                      : owed(state) == 0 && state->seen.restarts == 0 ? VERDICT_PASS
                                                                      : VERDICT_INCONCLUSIVE;
    check_tell(state, result);
    result->check = &state->seen;
    result->coverage = coverage_of(state);
}

static void list_items(struct check_state *state, const struct cart_check *check) {
    struct check_item items[CHECK_ITEMS_MAX];
    memset(state->index, -1, sizeof state->index);
    state->seen.item_count = check_items(check, items);
    for (size_t i = 0; i < state->seen.item_count; i++) {
        state->seen.items[i].item = items[i];
        state->index[items[i].kind][items[i].place] = (int16_t)i;
    }
}

bool check_judge(const struct plan *plan, struct counted *counted) {
    struct check_state *state = calloc(1, sizeof *state);
    if (state == NULL) {
        return false;
    }
    state->seen.check = &plan->check;
    state->seen.started_in = state->seen.ram_cell = state->seen.ram_background = state->seen.ram_element = -1;
    for (int page = 0; page < SCHEME_PAGES_MAX; page++) {
        state->seen.pages[page].place = state->seen.pages[page].shows = -1;
    }
    state->turn = 1;
    state->last = -1;
    list_items(state, &plan->check);
    *counted = (struct counted){.state = state,
                                .free = free,
                                .read = read_field,
                                .blind = count_blind,
                                .owed = owed,
                                .result = add_result};
    return true;
}

const struct check_seen *judge_check(const struct judge *judge) {
    return judge->plan->kind == PLAN_CARTRIDGE ? &((const struct check_state *)judge->counted->state)->seen
                                               : NULL;
}
