/*
 * What the video lacked: no picture, a still one, no slate, or too few fields of some steps. None of these is
 * the console's failing bit, so none makes a verdict fail; they say why a run is inconclusive. Beside a
 * failing verdict only a frozen video is told.
 */
#include "verdict/advice.h"
#include "verdict/counted.h"
#include "verdict/findings.h"

#include <stdio.h>

/* Better the last of many causes lost than the bench's trouble. */
static struct finding *add(struct judge *judge, enum finding_kind kind) {
    struct result *result = &judge->result;
    result->finding_count -= result->finding_count == FINDINGS_MAX;
    return finding_add(result, kind);
}

static bool is_frozen(const struct field_counts *counts) {
    /* A grabber that hangs repeats a frame, so two different fields may come again and again. */
    return counts->still_run >= STILL_AT_END || (counts->still_run >= STILL_FIELDS && counts->accepted <= 2);
}

/* "step 12 (copy PF1.3 alone)". */
static void name_last(const struct judge *judge, char *text, size_t size) {
    if (plan_counts(judge->plan)) {
        snprintf(text, size, "the slate's value $%05lX", (unsigned long)judge->last_step);
    } else {
        snprintf(text, size, "step %ld (%.60s)", judge->last_step, judge->plan->steps[judge->last_step].name);
    }
}

static void add_frozen(struct judge *judge) {
    struct finding *finding = add(judge, FINDING_FROZEN_VIDEO);
    char last[96];
    name_last(judge, last, sizeof last);
    snprintf(
        finding->text, sizeof finding->text,
        "The picture stands still since %s: the same slate, its counter too, came in the last %llu fields.",
        last, (unsigned long long)judge->counts.still_run);
}

static void add_no_video(struct judge *judge) {
    struct finding *finding = add(judge, FINDING_NO_VIDEO);
    if (judge->result.fields_seen == 0) {
        snprintf(finding->text, sizeof finding->text, "Not one field came from the video source.");
    } else if (judge->last_step < 0) {
        snprintf(finding->text, sizeof finding->text,
                 "All of the last %llu fields were flat: no picture. Console off, wrong input, no sync, a "
                 "processor that runs garbage (a data line of the cartridge stuck), or a video chip kept "
                 "blank (its "
                 "D1 input stuck would do that).",
                 (unsigned long long)judge->counts.dark_run);
    } else {
        char last[96];
        name_last(judge, last, sizeof last);
        snprintf(finding->text, sizeof finding->text,
                 "The picture went away after %s: the last %llu fields were flat.", last,
                 (unsigned long long)judge->counts.dark_run);
    }
}

static int append(char *text, size_t size, int used, uint64_t count, const char *what) {
    if (count == 0 || used < 0 || (size_t)used >= size) {
        return used;
    }
    return used + snprintf(text + used, size - (size_t)used, "%s%llu %s", used > 0 ? ", " : "",
                           (unsigned long long)count, what);
}

/* "12 flat, 300 with a picture but no slate": what came instead of readable fields. */
static bool tell_seen(const struct judge *judge, char *text, size_t size) {
    const struct field_counts *counts = &judge->counts;
    char foreign[48];
    snprintf(foreign, sizeof foreign, "of another image (hash $%04X, not $%04X)", counts->foreign_hash,
             judge->hash);
    text[0] = 0;
    int used = append(text, size, 0, counts->no_signal, "flat");
    used = append(text, size, used, counts->no_slate, "without a slate");
    used = append(text, size, used, counts->bad_slate, "whose slate's check disagrees");
    used = append(text, size, used, counts->idle, "idle (a board with nothing loaded)");
    used = append(text, size, used, counts->foreign, foreign);
    used = append(text, size, used, counts->beyond, "of a step beyond the plan's last");
    used = append(text, size, used, counts->cropped, "cut off below");
    return used > 0;
}

static void add_no_slate(struct judge *judge) {
    const struct field_counts *counts = &judge->counts;
    struct finding *finding = add(judge, FINDING_NO_SLATE);
    char seen[160];
    if (!tell_seen(judge, seen, sizeof seen)) {
        snprintf(seen, sizeof seen, "no field long enough");
    }
    if (counts->idle + counts->foreign > counts->no_slate + counts->bad_slate + counts->no_signal) {
        snprintf(finding->text, sizeof finding->text,
                 "No field of this image's slate. Seen: %s. Another image is in the console, or none.", seen);
    } else {
        snprintf(
            finding->text, sizeof finding->text,
            "No slate%s. Seen: %s. The processor may run garbage (a cartridge data line stuck), or sync is "
            "lost, or standard or image is not the one told.",
            judge->last_step < 0 ? "" : " any more", seen);
    }
    if (judge->capture.height > FRAME_LINES_MOST && judge->counts.accepted == 0) {
        snprintf(
            finding->next, sizeof finding->next,
            "Frames of %d lines were scaled up after the grabber, and such are not read. Record at the "
            "grabber's own size (480 or 576 lines), or scale the recording back to that, the whole picture "
            "and nothing around it. Then: do plan, image and standard belong together?",
            judge->capture.height);
    }
}

static void set_alternative(struct finding *finding, int explanation) {
    if (finding != NULL) {
        finding->alternative = true;
        finding->explanation = explanation;
    }
}

/* A cartridge's check that never showed. Nobody has seen this console and its video work, so the cartridge is
 * one of several that may be to blame. */
static void add_dead(struct judge *judge) {
    struct finding *finding = add(judge, FINDING_CART_DEAD);
    snprintf(finding->text, sizeof finding->text,
             "The console did not start from this cartridge: an address or data line, a contact or its seat, "
             "no image on it or one of another kind, bytes that come too late, a bus that it holds while "
             "A12 = 0, a memory that wakes up after the console's reset; or the console or the video is at "
             "fault. A reader tells more.");
    set_alternative(finding, 1);
}

/* Slates, and none of this image: the cartridge is well enough to start. */
static void add_other_image(struct judge *judge) {
    const struct field_counts *counts = &judge->counts;
    struct finding *finding = add(judge, FINDING_CART_OTHER_IMAGE);
    snprintf(finding->text, sizeof finding->text,
             "The console runs another image: %llu fields of hash $%04X, none of $%04X. It was made for "
             "another scheme, RAM or standard, or with another version; or the cartridge was not written.",
             (unsigned long long)counts->foreign, counts->foreign_hash, judge->hash);
}

/* Steps that lack fields while slates came: cells between black and white, or steps not shown long enough. */
static void add_owed(struct judge *judge) {
    long unclear = 0, torn = 0;
    size_t first = judge->plan->step_count;
    for (size_t i = judge->plan->step_count; i-- > 0;) {
        if (judge->steps[i].result.fields < JUDGE_GOOD_FIELDS) {
            unclear += judge->steps[i].unclear;
            torn += judge->steps[i].torn;
            first = i;
        }
    }
    const char *name = first < judge->plan->step_count ? judge->plan->steps[first].name : "none";
    struct finding *finding = add(judge, unclear > 0 ? FINDING_UNEXPLAINED : FINDING_NO_SLATE);
    if (2 * torn > unclear) {
        snprintf(finding->text, sizeof finding->text,
                 "%zu steps could not be judged, first %zu (%.60s): %ld of their fields change between lines "
                 "that a console draws alike. Such a picture was torn between two fields, or is black or "
                 "stale in part: the capture chain's doing.",
                 judge->owed, first, name, torn);
        snprintf(finding->next, sizeof finding->next, "%s", advice_next(FINDING_HALF_BLACK));
        return;
    }
    if (unclear > 0) {
        snprintf(finding->text, sizeof finding->text,
                 "%zu steps could not be judged, first %zu (%.60s): in %ld of their fields cells lie between "
                 "black and white, none of them clearly wrong.",
                 judge->owed, first, name, unclear);
        snprintf(
            finding->next, sizeof finding->next, "%s",
            "The video first: what is said of the capture; its plugs and cable, the tuning, another supply, "
            "another grabber. Then power off, reseat the cartridge, clean its contacts; then a console known "
            "to be good.");
        return;
    }
    char seen[140];
    const bool some = tell_seen(judge, seen, sizeof seen);
    snprintf(finding->text, sizeof finding->text,
             "%zu steps lack two good fields, first %zu (%.40s): not shown long enough, or lost. %s%s.",
             judge->owed, first, name, some ? "Unreadable fields: " : "Every field was readable", seen);
    if (!some) {
        snprintf(
            finding->next, sizeof finding->next, "%s",
            "Record longer, two whole rounds of the plan, or show each step longer (--hold); a recording "
            "that was cut off or copied in part has to be made again.");
    }
}

/* Slates were read field after field, and nothing else: that is no other image. */
static bool is_unused(const struct judge *judge) {
    const struct field_counts *counts = &judge->counts;
    return counts->accepted >= STILL_FIELDS && counts->cropped == 0 && judge->result.fields_judged == 0 &&
           judge->result.coverage.open == 0;
}

static void add_unused(struct judge *judge) {
    struct finding *finding = add(judge, FINDING_UNEXPLAINED);
    snprintf(
        finding->text, sizeof finding->text,
        "%llu fields of this image came, and none could be measured: what must be black or white is neither, "
        "lines do not lie still, or each picture stood for one field only.",
        (unsigned long long)judge->counts.accepted);
    snprintf(finding->next, sizeof finding->next,
             "Run plan bits, which names a broken bit of a colour or of the playfield. Where it passes: each "
             "picture longer (--hold); what is said of the capture; its plugs and cable, the tuning, another "
             "grabber.");
}

/* What is owed of a plan's pictures, without the kind of which there are none. */
static void tell_open(const struct coverage *coverage, char *text, size_t size) {
    const unsigned long long never = coverage->of - coverage->seen - coverage->open, open = coverage->open;
    int used = 0;
    if (never > 0 || open == 0) {
        used = snprintf(text, size, "%llu %s never shown where they could be read%s", never,
                        never == 1 ? "was" : "were", open > 0 ? ", and " : "");
    }
    if (open > 0) {
        snprintf(text + used, size - (size_t)used,
                 "%llu %s read, but neither clearly right nor wrong in two fields", open,
                 open == 1 ? "was" : "were");
    }
}

/* The same of a plan whose judge counts pictures of its own. */
static void add_pictures_owed(struct judge *judge) {
    const struct coverage *coverage = &judge->result.coverage;
    if (is_unused(judge)) {
        add_unused(judge);
        return;
    }
    struct finding *finding = add(judge, coverage->open > 0 ? FINDING_UNEXPLAINED : FINDING_NO_SLATE);
    char seen[140];
    const bool some = tell_seen(judge, seen, sizeof seen);
    if (coverage->of > 0) {
        char open[140];
        tell_open(coverage, open, sizeof open);
        snprintf(finding->text, sizeof finding->text, "Of %llu pictures %s.%s%s%s",
                 (unsigned long long)coverage->of, open, some ? " Unreadable fields: " : "", some ? seen : "",
                 some ? "." : "");
    } else {
        snprintf(finding->text, sizeof finding->text,
                 "%zu of %u pictures lack good fields: not shown long enough, lost, or unclear.%s%s%s",
                 judge->counted->owed(judge->counted->state), plan_pictures(judge->plan),
                 some ? " Unreadable fields: " : "", some ? seen : "", some ? "." : "");
    }
    snprintf(
        finding->next, sizeof finding->next, "%s",
        "Run longer, or record whole rounds of the plan; then what is said of the capture: its plugs and "
        "cable, the tuning, another grabber; then a console known to be good.");
}

/* Items of a cartridge's check that were not read often enough. */
static void add_items_owed(struct judge *judge) {
    const size_t owed = judge->counted->owed(judge->counted->state);
    struct finding *finding = add(judge, FINDING_NO_SLATE);
    char seen[140];
    const bool some = tell_seen(judge, seen, sizeof seen);
    snprintf(finding->text, sizeof finding->text,
             "%zu of %u items still lack a reading in two rounds: not watched long enough, or their fields "
             "were lost "
             "or mixed.%s%s%s",
             owed, plan_pictures(judge->plan), some ? " Unreadable fields: " : "", some ? seen : "",
             some ? "." : "");
    snprintf(
        finding->next, sizeof finding->next, "%s",
        "Watch longer (--rounds); make the image again with --hold 3, so that each item stands for three "
        "fields; then what is said of the capture: its plugs and cable, another grabber.");
}

static bool is_check(const struct judge *judge) {
    return judge->plan->kind == PLAN_CARTRIDGE;
}

/* A grabber's picture that stands still, or a program's. */
static void add_standing(struct judge *judge) {
    set_alternative(&judge->result.findings[judge->result.finding_count - 1], 1);
    struct finding *finding = add(judge, FINDING_CART_DEAD);
    snprintf(finding->text, sizeof finding->text,
             "Or the check's program stands still and only its picture goes on: a byte of it reads wrong or "
             "late, or the console's processor or RAM is at fault.");
    set_alternative(finding, 2);
}

/* What explain_open() does where a cartridge's check never showed. */
static bool explain_dead(struct judge *judge) {
    const struct field_counts *counts = &judge->counts;
    if (!is_check(judge) || counts->accepted > 0 || judge->result.fields_seen == 0) {
        return false;
    }
    if (counts->foreign > counts->no_slate + counts->bad_slate + counts->no_signal + counts->idle) {
        add_other_image(judge);
        return true;
    }
    if (counts->idle > 0) {
        return false; /* a board stands in the slot */
    }
    add_dead(judge);
    const bool dark = counts->dark_run == judge->result.fields_seen || counts->dark_run >= STILL_FIELDS;
    dark ? add_no_video(judge) : add_no_slate(judge);
    set_alternative(&judge->result.findings[judge->result.finding_count - 1], 2);
    return true;
}

/* Why there is no answer, as far as the fields say. */
static void explain_open(struct judge *judge) {
    const struct field_counts *counts = &judge->counts;
    bool never = counts->accepted == 0;
    if (explain_dead(judge)) {
        return;
    }
    if (is_frozen(counts)) {
        add_frozen(judge);
        if (is_check(judge)) {
            add_standing(judge);
        }
    } else if (judge->result.fields_seen == 0 || counts->dark_run >= STILL_FIELDS ||
               (never && counts->dark_run == judge->result.fields_seen)) {
        add_no_video(judge);
    } else if (counts->blind_run >= STILL_FIELDS || (never && counts->beyond == 0)) {
        add_no_slate(judge);
    } else if (judge->counted->state != NULL) {
        judge->result.shown_to_end = true;
        if (is_check(judge)) { /* else its judge has said why */
            judge_owed(judge) > 0 && judge->result.finding_count == 0 ? add_items_owed(judge) : (void)0;
        } else if (judge_owed(judge) > 0 ||
                   judge->result.coverage.open > 0) { /* else its judge has said why */
            add_pictures_owed(judge);
        }
    } else {
        judge->result.shown_to_end = true;
        add_owed(judge);
    }
}

static bool is_told(const struct result *result, enum finding_kind kind) {
    for (size_t i = 0; i < result->finding_count; i++) {
        if (result->findings[i].kind == kind) {
            return true;
        }
    }
    return false;
}

/* They may be why there is no answer. */
static void add_troubles(struct judge *judge) {
    struct result *result = &judge->result;
    for (size_t i = 0; i < result->trouble_count && result->finding_count < FINDINGS_MAX; i++) {
        if (!is_told(result, result->troubles[i].kind)) {
            result->findings[result->finding_count++] = result->troubles[i];
        }
    }
}

void explain_absence(struct judge *judge) {
    judge->result.shown_to_end = false;
    if (judge->result.verdict == VERDICT_INCONCLUSIVE) {
        explain_open(judge);
        add_troubles(judge);
    } else if (judge->result.verdict == VERDICT_FAIL && is_frozen(&judge->counts)) {
        add_frozen(judge);
    }
}
