/*
 * The error rate of single cells on single lines, from 14 dB of noise down to 0, beside the curve that theory
 * gives for the samples averaged and the bandwidth. Asked: within 1 dB of it.
 *
 * Theory [A]: a cell's level is the mean of N samples round its middle; the noise on them is independent, so
 * its rms is sigma / sqrt(N); the signal is the row of cells through a Gaussian low-pass, whose step response
 * is the error function. A cell is misread with Q(d sqrt(N) / sigma), d being the mean's distance from half
 * way between black and white (Q: upper tail of the normal distribution). Averaged over the cells of the row.
 * Three rows, since with white cells at the usual bandwidth errors are too rare to be counted above 11 dB; at
 * the narrow one a lone cell loses much of its height. Each seed makes 65,536 samples of noise, so many seeds
 * are used for a few fields each.
 *
 * The console's own part is left out: a row is drawn by the virtual grabber with a small gain, so that no
 * sample is cut off at 0 or 255, and read with the raster that is true. Prints a table, draws
 * $PROOF_OUT/curve.png. SLOTJIG_SEED.
 */
#include "picture/parts.h"
#include "proof/pool.h"
#include "report/canvas.h"
#include "report/png.h"
#include "virtual/grabber.h"

#include <math.h>

enum {
    SAMPLES = 8,
    LINES = 160,
    BLOCK_FIELDS = 16,
    DECIBELS = 15,
    BANDS = 3,
    BLOCKS = 400,
    ERRORS_LEAST = 30
};

#define GAIN 0.2
#define OFFSET 0.4
/* A lone lit cell, a lone dark one, pairs and a wide run: what rows are made of. */
#define ROW UINT64_C(0x0F3355A5C1)

/* MHz, and the brightness step of the lit cells, of seven. */
static const struct {
    double bandwidth;
    int step;
} bands[BANDS] = {{4.2, 7}, {0.6, 7}, {4.2, 5}};
static uint64_t first_seed;

struct point {
    double cells, errors;
};

static double decibels_of(size_t index) {
    return 14.0 - (double)(index / BLOCKS % DECIBELS);
}

static struct grabber_options options_of(double bandwidth, double decibels) {
    struct grabber_options options;
    grabber_defaults(STANDARD_NTSC, &options);
    options.gain = GAIN;
    options.offset = OFFSET;
    options.bandwidth_mhz = bandwidth;
    options.noise_db = decibels;
    return options;
}

/* ---- measured ---- */

static void draw_row(struct tia_field *field, int step) {
    field->lines = 262;
    field->synced = true;
    field->sync_lines = 3;
    for (int line = 0; line < field->lines; line++) {
        for (int clock = 0; clock < TIA_VISIBLE; clock++) {
            field->pixel[line][clock] = (ROW >> clock / CELL_CLOCKS & 1) != 0 ? (uint8_t)(2 * step) : 0x00;
        }
        field->same_as_above[line] = line > 0;
    }
}

static void count_errors(const struct reading *reading, struct point *point) {
    for (int line = 0; line < LINES; line++) {
        point->errors += __builtin_popcountll((reading->lit[line] ^ ROW) & ((UINT64_C(1) << CELLS) - 1));
        point->cells += CELLS;
    }
}

static void measure(size_t index, void *out) {
    static struct tia_field row;
    struct point *point = out;
    struct problem problem;
    const int band = (int)(index / BLOCKS / DECIBELS);
    struct grabber_options options = options_of(bands[band].bandwidth, decibels_of(index));
    struct grabber_truth truth = grabber_truth(STANDARD_NTSC, &options);
    struct picture_options picture = {.standard = STANDARD_NTSC, .unclear_below = 1e-9};
    struct grabber *grabber = grabber_new(STANDARD_NTSC, &options, first_seed + index, &problem);
    if (grabber == NULL) {
        fprintf(stderr, "%s\n", problem.text);
        exit(3);
    }
    draw_row(&row, bands[band].step);
    for (int i = 0; i < BLOCK_FIELDS; i++) {
        struct frame frame;
        struct field fields[2];
        grabber_take(grabber, &row);
        if (!grabber_ready(grabber) || !grabber_frame(grabber, &frame, &problem) || i < 4) {
            continue;
        }
        frame_split(&frame, SPLIT_WOVEN, fields);
        for (int f = 0; f < 2; f++) {
            struct reading reading = {.raster = {.left = truth.left,
                                                 .clock_width = (truth.right - truth.left) / PICTURE_CLOCKS,
                                                 .black = 16 + 219 * OFFSET,
                                                 .white = 16 + 219 * (OFFSET + GAIN)}};
            cells_read(&fields[f], &picture, &reading);
            count_errors(&reading, point);
        }
    }
    grabber_free(grabber);
}

/* ---- theory ---- */

static double tail(double x) {
    return erfc(x / sqrt(2)) / 2;
}

/* A low-pass exp(-2 (pi s f)^2) is 3 dB down at f, so s = sqrt(ln 2) / (2 pi f); here in samples of 13.5 MHz.
 */
static double sigma_samples(double bandwidth_mhz) {
    return sqrt(log(2)) / (2 * M_PI * bandwidth_mhz) * 13.5;
}

/* The row's level at an instant: 0 black, 1 white. */
static double level_at(double sample, double left, double pitch, double sigma) {
    double level = 0;
    for (int cell = 0; cell < CELLS; cell++) {
        if ((ROW >> cell & 1) != 0) {
            double from = left + cell * pitch, to = from + pitch;
            level += tail((from - sample) / sigma) - tail((to - sample) / sigma);
        }
    }
    return level;
}

static double theory(int band, double decibels) {
    const double bandwidth = bands[band].bandwidth;
    struct grabber_options options = options_of(bandwidth, decibels);
    struct grabber_truth truth = grabber_truth(STANDARD_NTSC, &options);
    double pitch = (truth.right - truth.left) / CELLS, rms = pow(10, -decibels / 20), sum = 0;
    for (int cell = 0; cell < CELLS; cell++) {
        double centre = truth.left + (cell + 0.5) * pitch, mean = 0;
        int first = (int)lround(centre - (SAMPLES - 1) / 2.0);
        for (int i = 0; i < SAMPLES; i++) {
            mean += level_at(first + i, truth.left, pitch, sigma_samples(bandwidth)) / SAMPLES *
                    bands[band].step / 7;
        }
        double distance = (ROW >> cell & 1) != 0 ? mean - 0.5 : 0.5 - mean;
        sum += tail(distance * sqrt(SAMPLES) / rms);
    }
    return sum / CELLS;
}

/* How many dB more of noise than the theory's would give that rate; the curve falls with the dB. */
static double away(int band, double decibels, double rate) {
    double low = decibels - 10, high = decibels + 10;
    for (int i = 0; i < 60; i++) {
        double middle = (low + high) / 2;
        if (theory(band, middle) > rate) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return decibels - (low + high) / 2;
}

/* ---- told ---- */

enum { WIDTH = 900, HEIGHT = 560, LEFT = 90, TOP = 40, RIGHT = 30, BOTTOM = 60, DECADES = 9 };

static int x_of(double decibels) {
    return LEFT + (int)lround(decibels / 14 * (WIDTH - LEFT - RIGHT));
}

static int y_of(double rate) {
    double decade = rate > 0 ? -log10(rate) : DECADES;
    decade = fmin(fmax(decade, 0), DECADES);
    return TOP + (int)lround(decade / DECADES * (HEIGHT - TOP - BOTTOM));
}

static void draw_axes(struct canvas *canvas) {
    const struct colour ink = {20, 24, 32}, grid = {222, 226, 232};
    for (int decade = 0; decade <= DECADES; decade++) {
        char text[8];
        int y = y_of(pow(10, -decade));
        canvas_fill(canvas, LEFT, y, WIDTH - LEFT - RIGHT, 1, grid);
        snprintf(text, sizeof text, "1E-%d", decade);
        canvas_text(canvas, 30, y - 6, 2, text, ink);
    }
    for (int decibels = 0; decibels <= 14; decibels += 2) {
        char text[8];
        canvas_fill(canvas, x_of(decibels), TOP, 1, HEIGHT - TOP - BOTTOM, grid);
        snprintf(text, sizeof text, "%d", decibels);
        canvas_text(canvas, x_of(decibels) - 4, HEIGHT - BOTTOM + 10, 2, text, ink);
    }
    canvas_text(canvas, LEFT, 12, 2, "CELLS MISREAD ON ONE LINE: THEORY (LINE), MEASURED (BOXES)", ink);
    canvas_text(canvas, LEFT, HEIGHT - 28, 2,
                "NOISE, BLACK-TO-WHITE OVER RMS, DB. BLUE 4.2 MHZ, RED 0.6, GREEN 4.2 AT 5/7", ink);
}

static void draw(const struct point points[BANDS][DECIBELS]) {
    static const struct colour colours[BANDS] = {{30, 80, 200}, {190, 40, 40}, {20, 130, 60}};
    struct canvas canvas = canvas_new(WIDTH, HEIGHT, (struct colour){255, 255, 255});
    if (canvas.rgb == NULL) {
        return;
    }
    draw_axes(&canvas);
    for (int band = 0; band < BANDS; band++) {
        for (int x = x_of(0); x <= x_of(14); x++) {
            double decibels = 14.0 * (x - LEFT) / (WIDTH - LEFT - RIGHT);
            double rate = theory(band, decibels);
            if (rate > pow(10, -DECADES)) {
                canvas_fill(&canvas, x, y_of(rate), 2, 2, colours[band]);
            }
        }
        for (int i = 0; i < DECIBELS; i++) {
            if (points[band][i].errors >= ERRORS_LEAST) {
                canvas_frame(&canvas, x_of(14 - i) - 4,
                             y_of(points[band][i].errors / points[band][i].cells) - 4, 9, 9, colours[band]);
            }
        }
    }
    const char *folder = getenv("PROOF_OUT");
    char path[4096];
    struct problem problem;
    snprintf(path, sizeof path, "%s/curve.png", folder != NULL ? folder : ".");
    if (!png_write(path, canvas.rgb, WIDTH, HEIGHT, &problem)) {
        fprintf(stderr, "%s\n", problem.text);
    }
    canvas_free(&canvas);
    printf("\nThe curves as a picture: %s\n", path);
}

/* Few errors say little of a rate: then only that they are not more than theory allows one dB away. */
static bool tell(int band, double decibels, const struct point *point) {
    double rate = point->errors / point->cells, ideal = theory(band, decibels);
    bool counts = point->errors >= ERRORS_LEAST;
    double off = counts ? away(band, decibels, rate) : 0;
    bool good = counts ? fabs(off) <= 1
                       : point->errors <= ERRORS_LEAST + 3 * theory(band, decibels - 1) * point->cells;
    char offset[16] = "few";
    if (counts) {
        snprintf(offset, sizeof offset, "%+.2f", off);
    }
    printf("| %.1f | %d of 7 | %4.0f | %.3g | %.0f | %.2e | %.2e | %s |%s\n", bands[band].bandwidth,
           bands[band].step, decibels, point->cells, point->errors, rate, ideal, offset,
           good ? "" : " NOT as asked");
    return good;
}

int main(void) {
    static struct point parts[BANDS * DECIBELS * BLOCKS], points[BANDS][DECIBELS];
    const char *told = getenv("SLOTJIG_SEED");
    bool good;
    first_seed = told != NULL ? strtoull(told, NULL, 10) : 1;
    good = pool_run(BANDS * DECIBELS * BLOCKS, measure, parts, sizeof parts[0]);
    for (size_t i = 0; i < BANDS * DECIBELS * BLOCKS; i++) {
        points[i / BLOCKS / DECIBELS][i / BLOCKS % DECIBELS].cells += parts[i].cells;
        points[i / BLOCKS / DECIBELS][i / BLOCKS % DECIBELS].errors += parts[i].errors;
    }
    printf("Cells misread on single lines, seeds from %llu (SLOTJIG_SEED)\n\n"
           "| MHz | brightness | dB | cells | misread | rate | theory | dB beside theory |\n"
           "| ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n",
           (unsigned long long)first_seed);
    for (int band = 0; band < BANDS; band++) {
        for (int i = 0; i < DECIBELS; i++) {
            good = tell(band, 14 - i, &points[band][i]) && good;
        }
    }
    draw(points);
    return good ? 0 : 1;
}
