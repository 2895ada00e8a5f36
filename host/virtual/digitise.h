/* The grabber's front end: a field of the console's video to lines of YUYV samples. */
#ifndef SLOTJIG_VIRTUAL_DIGITISE_H
#define SLOTJIG_VIRTUAL_DIGITISE_H

#include "virtual/blocks.h"
#include "virtual/geometry.h"
#include "virtual/grabber.h"
#include "virtual/noise.h"
#include "virtual/response.h"

enum { LINE_BYTES = 2 * GRABBER_WIDTH };

/* Where the lines of a field go. */
struct lines {
    uint8_t *first;
    ptrdiff_t stride;
};

/* A line of samples with what the response needs on both sides. */
struct signal {
    float samples[RESPONSE_MARGIN + GRABBER_WIDTH + RESPONSE_MARGIN];
};

/* What each colour code is, in codes. Of an echo only what it adds. */
struct colours {
    float luma[256], cb[256], cr[256];
};

struct digitiser {
    enum standard standard;
    struct grabber_options options;
    struct geometry geometry;
    struct colours direct, echo;
    float carrier_cb[GRABBER_WIDTH], carrier_cr[GRABBER_WIDTH]; /* what a code of colour leaves in the luma */
    struct response luma_response, chroma_response, luma_echo, chroma_echo;
    bool noisy, chroma_noisy;
    bool coloured;   /* the line at hand */
    bool moving;     /* each line lies somewhere else */
    double seconds;  /* that the console's video went on so far */
    int lift;        /* hum on the line at hand, NOISE_UNIT steps a code */
    int least, most; /* codes */
    struct signal signal, second;
    int16_t luma[GRABBER_WIDTH];         /* of the line at hand, without noise, NOISE_UNIT steps a code */
    int16_t chroma[GRABBER_WIDTH];       /* likewise, Cb and Cr by turns */
    uint8_t quiet_chroma[GRABBER_WIDTH]; /* without noise, in codes */
    struct blocks blocks;                /* not possible: each line has to be drawn */
    bool greyed;                         /* chroma and quiet_chroma hold grey */
    uint64_t random;
    struct noise noise, chroma_noise;
};

/* The options have been checked. */
void digitiser_init(struct digitiser *digitiser, enum standard standard,
                    const struct grabber_options *options, uint64_t seed);

/* NULL: nothing but black. */
void digitise(struct digitiser *digitiser, const struct tia_field *field, struct lines out);

/* The console's time goes on by so many lines. */
void digitiser_advance(struct digitiser *digitiser, int lines);

#endif
