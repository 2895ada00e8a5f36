/* Plan cartridge: all findings, and what comes and goes. */
#include "verdict/check_state.h"
#include "verdict/findings.h"

#include "stats/stats.h"

#include <stdio.h>
#include <string.h>

enum { ASTRAY = 2, ONLY_ITEM = 60, RAVES_SHARE = 4 };

/* ---- the bus while A12 = 0 ---- */

static void tell_quiet(const struct check_state *state, struct result *result) {
    static const char *const places[CHECK_QUIETS] = {"the console's RAM", "a port", "the timer", ""};
    char where[64] = "";
    size_t used = 0;
    unsigned lines = 0;
    for (int quiet = 0; quiet < CHECK_QUIET_OPEN; quiet++) {
        if (check_is_steady(state, CHECK_QUIET, quiet)) {
            used += (size_t)snprintf(where + used, sizeof where - used, "%s%s", used > 0 ? ", " : "",
                                     places[quiet]);
            lines |= check_find(state, CHECK_QUIET, quiet)->item.what;
        }
    }
    if (lines == 0) {
        return;
    }
    struct finding *finding = finding_add(result, FINDING_CART_BUS_HELD);
    finding_say(finding, "With A12 = 0 %s read wrong on", where);
    for (int bit = 0; bit < 8; bit++) {
        if (lines >> bit & 1) {
            finding_say(finding, " D%d", bit);
        }
    }
    finding_say(finding,
                ": the cartridge drives when it should not, or lets go too late. A console whose RAM "
                "chip is broken shows the same: try another cartridge on it.");
    if (finding != NULL && (lines & (lines - 1)) == 0) {
        finding->bit = __builtin_ctz(lines);
    }
}

/* ---- what comes and goes ---- */

static bool comes_and_goes(const struct check_item_seen *item) {
    return item->confirmed && !item->steady;
}

/* Places: items that were bad at times. Of one page alone: *page. */
static size_t count_loose(const struct check_state *state, const struct check_item_seen **first, int *page) {
    size_t count = 0;
    *page = -1;
    for (size_t i = 0; i < state->seen.item_count; i++) {
        const struct check_item_seen *item = &state->seen.items[i];
        if (comes_and_goes(item)) {
            *first = count == 0 || item->first_bad_round < (*first)->first_bad_round ? item : *first;
            *page = item->item.kind == CHECK_PAGE && count == 0 ? item->item.place : -1;
            count++;
        }
    }
    return count;
}

/* Of the rounds that were watched, those with any error. */
static void set_rate(const struct check_state *state, struct finding *finding) {
    const struct interval interval = wilson_interval((long)state->seen.rounds_bad, (long)state->turn);
    if (finding != NULL) {
        finding->rate = (double)state->seen.rounds_bad / state->turn;
        finding->rate_low = interval.low;
        finding->rate_high = interval.high;
        finding_say(finding, " In %u of %u rounds: %.2g %% of them (95 %%: %.2g to %.2g).",
                    state->seen.rounds_bad, state->turn, 100 * finding->rate, 100 * interval.low,
                    100 * interval.high);
    }
}

static void tell_page_at_times(const struct check_state *state, struct result *result, int page) {
    struct finding *finding = finding_add(result, FINDING_CART_SLOW);
    int bank;
    const unsigned from =
        check_address(scheme_address(state->seen.check->scheme, (size_t)page * SCHEME_PAGE, &bank));
    finding_say(finding,
                "Or the bytes of bank %d, $%04X-$%04X, come just about too late: no other place was wrong.",
                bank, from, from + SCHEME_PAGE - 1);
    if (finding != NULL) {
        finding[-1].alternative = finding->alternative = true;
        finding[-1].explanation = 1;
        finding->explanation = 2;
    }
}

static void tell_loose(const struct check_state *state, struct result *result) {
    const struct check_item_seen *first = NULL;
    int page;
    char words[120];
    const size_t count = count_loose(state, &first, &page);
    if (count == 0) {
        return;
    }
    check_words(state->seen.check, first->item, words, sizeof words);
    struct finding *finding = finding_add(result, FINDING_CART_CONTACT);
    finding_say(finding, "Comes and goes, at %zu place%s; first in round %u: %.110s.", count,
                count == 1 ? "" : "s", first->first_bad_round & INT32_MAX, words);
    set_rate(state, finding);
    if (count == 1 && page >= 0) {
        tell_page_at_times(state, result, page);
    }
}

/* The console counted errors, and none of their fields was caught. */
static void tell_uncaught(const struct check_state *state, struct result *result) {
    if (result->finding_count > 0) {
        return;
    }
    if (state->late > 0) {
        finding_say(
            finding_add(result, FINDING_CART_CONTACT),
            "In %u field%s the check told that its work took longer than a field: its program does not "
            "run as it is written. A byte of it reads wrong at times, or the console's processor or "
            "timer errs.",
            state->late, state->late == 1 ? "" : "s");
        return;
    }
    finding_say(finding_add(result, FINDING_CART_CONTACT),
                "The console has counted %u error%s since it was switched on, none of them while it was "
                "watched, or in a field that was lost: something comes and goes.",
                state->seen.errors, state->seen.errors == 1 ? "" : "s");
}

/* It never gets through a round, stands still, or says what it cannot mean. */
static bool tell_no_round(const struct check_state *state, struct result *result) {
    const struct check_seen *seen = &state->seen;
    const bool only = seen->still + 1 == state->accepted && seen->still >= ONLY_ITEM;
    const bool stands = seen->still >= CHECK_STILL || only,
               falls = seen->restarts >= ASTRAY && seen->rounds == 0;
    const bool raves = RAVES_SHARE * state->strange > state->accepted && state->strange >= ONLY_ITEM;
    char words[120];
    if (!stands && !falls && !raves) {
        return false;
    }
    check_words(seen->check, seen->now, words, sizeof words);
    struct finding *finding = finding_add(result, FINDING_CART_DEAD);
    if (raves) {
        finding_say(finding,
                    "%u of %u fields say an item that this cartridge does not have, the last one %05X.",
                    state->strange, state->accepted, check_pack(seen->now));
    } else if (stands) {
        finding_say(finding, "The check begins and does not go on: for %u fields it says: %.110s.",
                    seen->still, words);
    } else {
        finding_say(finding,
                    "The check never comes through a round: it began anew %u times, last after: %.110s.",
                    seen->restarts, words);
    }
    finding_say(finding,
                " A byte of its own program reads wrong there, or the console's processor or RAM is at "
                "fault.");
    return true;
}

static struct finding *find(struct result *result, enum finding_kind kind) {
    for (size_t i = 0; i < result->finding_count; i++) {
        if (result->findings[i].kind == kind) {
            return &result->findings[i];
        }
    }
    return NULL;
}

static void tell_restarts(const struct check_state *state, struct result *result) {
    const uint32_t restarts = state->seen.restarts;
    if (tell_no_round(state, result) || restarts == 0) {
        return;
    }
    struct finding *finding = find(result, FINDING_CART_CONTACT);
    if (finding != NULL) {
        finding_say(finding, " It began anew %u time%s.", restarts, restarts == 1 ? "" : "s");
        return;
    }
    finding_say(finding_add(result, FINDING_CART_CONTACT),
                "The console began anew %u time%s while it was watched: switched, its supply gone for a "
                "moment, or its processor fetched wrong bytes and ran astray.",
                restarts, restarts == 1 ? "" : "s");
}

/* Beside a wrong byte in the bank that the check itself runs from, what else it says may be that byte's
 * doing.
 */
static void doubt_others(const struct check_state *state, struct result *result) {
    const int of_bank = (int)(scheme_bank_bytes(state->seen.check->scheme) / SCHEME_PAGE);
    const int home = state->seen.started_in * of_bank;
    bool bytes = false;
    for (int page = home; home >= 0 && page < home + of_bank; page++) {
        bytes = bytes || (check_is_steady(state, CHECK_PAGE, page) && state->seen.pages[page].shows < 0);
    }
    for (size_t i = 0; bytes && i < result->finding_count; i++) {
        const enum finding_kind kind = result->findings[i].kind;
        if (kind != FINDING_CART_BYTE_WRONG && kind != FINDING_CART_PAGE_WRONG && kind != FINDING_CART_SLOW &&
            kind != FINDING_CART_DEAD && kind != FINDING_CART_CONTACT) {
            finding_say(&result->findings[i],
                        " Or the wrong byte is one of the check's own, which then errs.");
        }
    }
}

void check_tell(struct check_state *state, struct result *result) {
    bool told[SCHEME_PAGES_MAX] = {false};
    check_tell_banks(state, result, told);
    check_tell_pages(state, result, told);
    check_tell_vectors(state, result);
    check_tell_ram(state, result);
    tell_quiet(state, result);
    doubt_others(state, result);
    tell_loose(state, result);
    if (result->verdict == VERDICT_FAIL) {
        tell_uncaught(state, result);
    }
    tell_restarts(state, result);
}
