#include "commands/doctor.h"

#include "report/json.h"
#include "slate/slate.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

const char *const doctor_video_names[VIDEO_CHECKS] = {"device", "standard", "signal", "slate",
                                                      "raster", "margin",   "fields"};

struct seen {
    const struct bench_settings *bench;
    const struct video_look *look;
};

static void look_device(const struct seen *seen, struct check *check) {
    const struct video_look *look = seen->look;
    const struct video_about *about = &look->about;
    char name[sizeof about->name], input[sizeof about->input], more[160] = "";
    if (!look->opened || (look->lost && look->frames == 0)) {
        check_problem(check, &look->problem);
        return;
    }
    json_clean(about->name, name, sizeof name);
    json_clean(about->input, input, sizeof input);
    if (about->rate > 0) {
        snprintf(more, sizeof more, ", %.4g frames/s", about->rate);
    }
    check->state = STATE_OK;
    snprintf(check->text, sizeof check->text, "%s %.200s: %s, %dx%d%s%s%s%s", about->kind, name,
             about->format, about->width, about->height, more, input[0] != '\0' ? ", input " : "", input,
             about->untried ? "; slotjig was never run with a device of this kind" : "");
    if (!about->live) {
        snprintf(check->next, sizeof check->next,
                 "this is a recording: it shows the console as it was then; for what it does now, name a "
                 "device in the bench's key video");
    } else if (look->lost) {
        check_problem(check, &look->problem);
    } else if (look->frames == 0) {
        check_say(check, STATE_UNKNOWN, "the device opens, but gives no frame",
                  "some devices give frames only while there is a signal: switch the console on, check the "
                  "cable, and try another --input");
    }
}

/* Lines of a whole frame, the blank ones too, in the standard that a device's word or a frame's height stands
 * for; 0: no telling. */
static int lines_of_word(const char *word) {
    if (strncasecmp(word, "NTSC", 4) == 0 || strncmp(word, "525", 3) == 0 ||
        strncasecmp(word, "PAL-M", 5) == 0 || strncasecmp(word, "PAL-60", 6) == 0) {
        return 525;
    }
    return strncasecmp(word, "PAL", 3) == 0 || strncasecmp(word, "SECAM", 5) == 0 ||
                   strncmp(word, "625", 3) == 0
               ? 625
               : 0;
}

/* [S ITU-R BT.601: 486 or 480, and 576 active lines.] A height of neither is a scaler's. */
static int lines_of_height(int height) {
    return height == 480 || height == 240 || height == 486 || height == 243 ? 525
           : height == 576 || height == 288                                 ? 625
                                                                            : 0;
}

bool doctor_standard_fits(const struct video_look *look) {
    const int lines = look->standard == STANDARD_NTSC ? 525 : 625;
    const int word = lines_of_word(look->about.standard), height = lines_of_height(look->about.height);
    return word != 0 ? word == lines && (height == 0 || height == lines) : height == 0 || height == lines;
}

static void look_standard(const struct seen *seen, struct check *check) {
    const struct video_about *about = &seen->look->about;
    const bool ntsc = seen->look->standard == STANDARD_NTSC;
    const char *other = ntsc ? "pal" : "ntsc";
    char word[sizeof about->standard];
    json_clean(about->standard, word, sizeof word);
    check->state = doctor_standard_fits(seen->look) ? STATE_OK : STATE_UNKNOWN;
    snprintf(check->text, sizeof check->text, "looked for %s%s%s; frames of %d lines",
             standard_table[seen->look->standard].name, word[0] != '\0' ? ", the device says " : "", word,
             about->height);
    if (check->state != STATE_OK) {
        snprintf(check->next, sizeof check->next,
                 "if the console is not a %s one, put standard = %s into the bench's section, or say "
                 "--standard %s; else set the device to %s",
                 ntsc ? "NTSC" : "PAL or SECAM", other, other, ntsc ? "NTSC" : "PAL");
    }
}

/* The one thing to do where there is no signal. */
static void advise_signal(const struct bench_video *video, struct check *check) {
    if (!video->rf) {
        snprintf(
            check->next, sizeof check->next,
            "is the console on, is its cable in, and is this the right input (--input chooses another)?");
        return;
    }
    snprintf(check->next, sizeof check->next,
             "is the console on, and is the tuner on the channel of the console's switch%s%s%s?",
             video->channel[0] != '\0' ? " (the bench says channel " : "", video->channel,
             video->channel[0] != '\0' ? ")" : "");
}

static void look_signal(const struct seen *seen, struct check *check) {
    const struct video_look *look = seen->look;
    if (look->fields == look->dark) {
        check->state = STATE_UNKNOWN;
        snprintf(check->text, sizeof check->text, "none: %llu fields, all of them flat",
                 (unsigned long long)look->fields);
        advise_signal(&seen->bench->video, check);
        return;
    }
    check->state = STATE_OK;
    snprintf(check->text, sizeof check->text, "in %llu of %llu fields",
             (unsigned long long)(look->fields - look->dark), (unsigned long long)look->fields);
}

static void look_slate(const struct seen *seen, struct check *check) {
    const struct video_look *look = seen->look;
    if (look->read == 0 && look->facts.height > FRAME_LINES_MOST) {
        check_say(check, STATE_UNKNOWN, "a picture, but no slate could be read: its frames were scaled up",
                  "record at the grabber's own size, 480 or 576 lines");
        return;
    }
    if (look->read == 0) {
        check_say(
            check, STATE_UNKNOWN,
            "a picture, but no slate of slotjig's in it: another program, another source, or a picture "
            "too bad to read",
            "look at the screen: does it begin with a white band and seven rows of blocks? If not, "
            "`slotjig push --plan bits`; if so, see that the device cuts nothing off at a side (a larger "
            "size, no cropping), and try another cable or input");
        return;
    }
    check->state = STATE_OK;
    snprintf(check->text, sizeof check->text, "read in %llu of %llu fields; %s",
             (unsigned long long)look->read, (unsigned long long)look->fields,
             look->hash == SLATE_HASH_IDLE ? "the board's idle picture" : "a plan's image");
}

static void look_raster(const struct seen *seen, struct check *check) {
    const struct video_look *look = seen->look;
    const struct raster *raster = &look->raster;
    const int wanted = standard_plan_lines(look->standard);
    snprintf(check->text, sizeof check->text,
             "left edge at sample %.1f, right at %.1f of %d, %.3f samples a cell, %d lines from line %.0f",
             raster->left, look->right, look->field_width, raster->clock_width * CELL_CLOCKS, look->lines,
             raster->top * look->frame_lines);
    check->state = STATE_OK;
    if (!video_look_whole(look)) { /* with a side cut off no slate is read */
        check->state = STATE_UNKNOWN;
        snprintf(check->next, sizeof check->next,
                 "the picture is cut off below (%d lines are wanted): choose a larger size, turn "
                 "cropping or overscan off in the device's settings, and check the standard",
                 wanted);
    }
}

static void look_margin(const struct seen *seen, struct check *check) {
    static const double little = 0.5; /* half of what a perfect picture has: common practice, no source */
    const struct video_look *look = seen->look;
    char noise[48] = "";
    if (look->facts.noise_db > 0) {
        snprintf(noise, sizeof noise, "; noise at %.0f dB", look->facts.noise_db);
    }
    check->state = look->margin < PICTURE_UNCLEAR ? STATE_UNKNOWN : STATE_OK;
    snprintf(check->text, sizeof check->text, "%.2f (1 is best, below %.2f a cell cannot be told)%s",
             look->margin, PICTURE_UNCLEAR, noise);
    if (look->margin < little) {
        snprintf(check->next, sizeof check->next, "%s",
                 seen->bench->video.rf
                     ? "tune finely, fasten the RF plugs, try the other channel; composite from a converted "
                       "console reads better"
                     : "fasten the plugs, try a shorter or better shielded cable, and set sharpness and "
                       "noise reduction of the device to 0");
    }
}

/* What helps where fewer fields come than the console draws. */
static const char *advise_fields(const struct frames_facts *facts) {
    return facts->stale >= 0 ? "the device shows every other field; a run takes longer, and is as good"
           : facts->layout == LAYOUT_BLENDED
               ? "turn off deinterlacing in the device's settings; a run takes longer, and misses short "
                 "faults"
               : "use another USB port, without a hub, and close what else uses the device; a run takes "
                 "longer, and misses short faults";
}

static void look_fields(const struct seen *seen, struct check *check) {
    static const double most = 0.95, half = 0.45;
    enum { STILL = 32 }; /* fields in a row, as the judge takes it */
    const struct video_look *look = seen->look;
    const struct frames_facts *facts = &look->facts;
    const double wanted =
        standard_table[look->standard].clock_hz / (LINE_CLOCKS * standard_lines(look->standard));
    const double rate = look->seconds > 0 ? (double)facts->fresh / look->seconds : 0;
    if (look->still >= STILL) {
        check->state = STATE_UNKNOWN;
        snprintf(check->text, sizeof check->text,
                 "the picture stands still: nothing new in the last %llu fields",
                 (unsigned long long)look->still);
        snprintf(check->next, sizeof check->next, "%s",
                 "start the capture again, unplug the device and plug it back; if the picture still stands, "
                 "switch the console off and on");
        return;
    }
    check->state = rate < half * wanted ? STATE_UNKNOWN : STATE_OK;
    snprintf(check->text, sizeof check->text,
             "%.1f different ones a second of the console's %.1f; %s; %llu lost, %llu seen again%s", rate,
             wanted, layout_name(facts->layout), (unsigned long long)facts->lost,
             (unsigned long long)facts->doubled,
             facts->stale >= 0 ? "; one field of each frame is an old one" : "");
    if (rate < most * wanted && look->about.live) {
        snprintf(check->next, sizeof check->next, "%s", advise_fields(facts));
    }
}

static void (*const looks[VIDEO_CHECKS])(const struct seen *seen, struct check *check) = {
    look_device, look_standard, look_signal, look_slate, look_raster, look_margin, look_fields};

/* The one thing to do where there is nothing to look at. */
static const char *advise_video(const struct bench_settings *bench, int check) {
    return check == 0 && bench->kind == BENCH_BOARD
               ? "plug a grabber in and let `slotjig doctor --write` find it, or give the bench a key video"
               : "";
}

void doctor_video(const struct bench_settings *bench, const struct video_look *look,
                  struct check checks[VIDEO_CHECKS]) {
    const struct seen seen = {bench, look};
    bool good = look != NULL;
    for (int i = 0; i < VIDEO_CHECKS; i++) {
        if (!good) {
            check_say(&checks[i], STATE_SKIPPED, look == NULL ? "this bench has no video" : "not looked at",
                      look == NULL ? advise_video(bench, i) : "");
            continue;
        }
        looks[i](&seen, &checks[i]);
        good = checks[i].state == STATE_OK;
    }
}
