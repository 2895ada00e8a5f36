#include "plan/schedule.h"

#include <string.h>

enum { PATIENCE = 200000 /* places tried; what fits is found among the first few hundred */ };

/* ---- the loads and delays round stores whose cycles are known ---- */

struct line {
    struct schedule *schedule;
    int now;    /* cycles gone */
    int loaded; /* stores whose value is loaded, those of the row that follows included */
    int done;   /* stores */
};

static void add_op(struct line *line, enum schedule_op_kind kind, int store, int cycles) {
    struct schedule *schedule = line->schedule;
    const bool ahead = store >= schedule->count;
    schedule->ops[schedule->op_count++] = (struct schedule_op){
        .kind = kind, .store = ahead ? store - schedule->count : store, .cycles = cycles, .ahead = ahead};
    line->now += cycles;
}

static int preloaded(int count) {
    return count < SCHEDULE_WAITING ? count : SCHEDULE_WAITING;
}

/* Whether the register is free that the next value is loaded to. */
static bool can_load(const struct line *line) {
    const int count = line->schedule->count, next = line->loaded;
    if (next >= count + preloaded(count) || line->schedule->op_count > SCHEDULE_OPS_MAX - 4) {
        return false;
    }
    const bool uses_x = schedule_uses_x(next >= count ? next - count : next);
    for (int store = line->done; store < next && store < count; store++) {
        if (schedule_uses_x(store) == uses_x) {
            return false;
        }
    }
    return true;
}

static void load_next(struct line *line) {
    add_op(line, SCHEDULE_READ, line->loaded, SCHEDULE_LOAD);
    line->loaded++;
}

static bool store_next(struct line *line) {
    const struct placed_write *store = &line->schedule->stores[line->done];
    if (line->loaded == line->done) {
        load_next(line);
    }
    while (store->cycle - SCHEDULE_STORE - line->now >= SCHEDULE_LOAD && can_load(line)) {
        load_next(line);
    }
    const int spare = store->cycle - SCHEDULE_STORE - line->now;
    if (spare < 0) {
        return false;
    }
    if (spare > 1) {
        add_op(line, SCHEDULE_DELAY, 0, spare);
    }
    add_op(line, SCHEDULE_WRITE, line->done, SCHEDULE_STORE + (spare == 1));
    line->done++;
    return true;
}

static bool fill_in(struct schedule *schedule) {
    struct line line = {.schedule = schedule, .loaded = preloaded(schedule->count)};
    schedule->op_count = 0;
    while (line.done < schedule->count) {
        if (!store_next(&line)) {
            return false;
        }
    }
    while (can_load(&line)) {
        load_next(&line);
    }
    schedule->cycles = line.now + SCHEDULE_END;
    return schedule->cycles <= LINE_CYCLES;
}

/* ---- an order and cycles ---- */

struct search {
    const struct wanted_write *wanted;
    int count, tried;
    unsigned used; /* bit n: wanted[n] has a place */
    struct schedule *schedule;
};

/* Where the line stands in time; `ahead` values are loaded and wait. */
struct moment_of_line {
    int now, ahead;
};

static bool place_next(struct search *search, struct moment_of_line at);

/* A store in first..last, as early as it can be, with the value after it loaded before it or not. */
static bool try_place(struct search *search, int wanted, struct moment_of_line at, int first, int last,
                      bool load_before) {
    struct schedule *schedule = search->schedule;
    if (at.ahead == 0) {
        at.now += SCHEDULE_LOAD;
        at.ahead = 1;
    }
    if (load_before) {
        if (at.ahead == SCHEDULE_WAITING) {
            return false;
        }
        at.now += SCHEDULE_LOAD;
        at.ahead++;
    }
    int end = at.now + SCHEDULE_STORE;
    end = end < first ? first : end;
    if (end > last) {
        return false;
    }
    if (!load_before && end - SCHEDULE_STORE - at.now >= SCHEDULE_LOAD && at.ahead < SCHEDULE_WAITING) {
        at.ahead++;
    }
    schedule->stores[schedule->count] =
        (struct placed_write){.wanted = wanted, .cycle = end, .early = first > search->wanted[wanted].last};
    schedule->count++;
    search->used |= 1U << wanted;
    const struct moment_of_line after = {.now = end, .ahead = at.ahead - 1};
    if (place_next(search, after)) {
        return true;
    }
    schedule->count--;
    search->used &= ~(1U << wanted);
    return false;
}

static bool try_write(struct search *search, int wanted, struct moment_of_line at) {
    const struct wanted_write *write = &search->wanted[wanted];
    const int last = LINE_CYCLES - SCHEDULE_STORE; /* STA WSYNC takes the last three */
    for (int load = 0; load < 2; load++) {
        if (try_place(search, wanted, at, write->first, write->last < last ? write->last : last, load != 0)) {
            return true;
        }
        const int to = write->last + LINE_CYCLES;
        if (write->first < 0 &&
            try_place(search, wanted, at, write->first + LINE_CYCLES, to < last ? to : last, load != 0)) {
            return true;
        }
    }
    return false;
}

static bool is_left(const struct search *search, int wanted) {
    return (search->used >> wanted & 1) == 0;
}

/* The one whose window closes first is tried first. */
static bool place_next(struct search *search, struct moment_of_line at) {
    unsigned tried = 0;
    if (search->schedule->count == search->count) {
        return fill_in(search->schedule);
    }
    for (int turn = 0; turn < search->count; turn++) {
        int next = -1;
        for (int i = 0; i < search->count; i++) {
            const bool open = is_left(search, i) && (tried >> i & 1) == 0;
            if (open && (next < 0 || search->wanted[i].last < search->wanted[next].last)) {
                next = i;
            }
        }
        if (next < 0 || search->tried++ > PATIENCE) {
            return false;
        }
        tried |= 1U << next;
        if (try_write(search, next, at)) {
            return true;
        }
    }
    return false;
}

bool schedule_find(const struct wanted_write *wanted, int count, struct schedule *schedule) {
    memset(schedule, 0, sizeof *schedule);
    if (count > BAND_WRITES_MAX) {
        return false;
    }
    struct search search = {.wanted = wanted, .count = count, .schedule = schedule};
    const struct moment_of_line start = {.now = 0, .ahead = preloaded(count)};
    return place_next(&search, start);
}
