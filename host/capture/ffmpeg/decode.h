/* Packets to frames that struct frame can show. */
#ifndef SLOTJIG_CAPTURE_FFMPEG_DECODE_H
#define SLOTJIG_CAPTURE_FFMPEG_DECODE_H

#include "capture/ffmpeg/inside.h"

#include <libavcodec/avcodec.h>
#include <libswscale/swscale.h>

#pragma GCC visibility push(hidden)

enum { PACKETS_TRACKED = 1024 };

struct decode {
    AVCodecContext *context;
    AVFrame *picture;  /* being received */
    AVFrame *shown[2]; /* given out last, and before that */
    AVFrame *scaled[2];
    struct SwsContext *scaler;
    int turn;
    int threads;     /* packets that may be in work at a time */
    uint64_t packet; /* number of the one given last */
    /* The packets given, and where the chain of pictures that build on one another begins. */
    struct given {
        uint64_t packet, key;
    } given[PACKETS_TRACKED]; /* by the packet's number */
    uint64_t key;
    struct chain {
        uint64_t key, from;     /* first packet that is not sound */
    } damaged[PACKETS_TRACKED]; /* by the key frame's number */
};

enum decoded {
    DECODED_PICTURE, /* in decode->picture */
    DECODED_HUNGRY,  /* wants a packet */
    DECODED_END,     /* the last one was given before */
    DECODED_BROKEN,  /* a picture was lost by damage */
    DECODED_SPOILED, /* a picture that builds on a damaged one */
    DECODED_FAILED   /* memory; problem is filled */
};

/* The type of threads and their number: 0 as many as help. */
bool decode_open(struct decode *decode, const AVCodec *codec, const AVCodecParameters *parameters,
                 int threads, const char *told, struct problem *problem);
void decode_close(struct decode *decode);
/* NULL: no more will come. DECODED_HUNGRY when it went well. */
enum decoded decode_give(struct decode *decode, const AVPacket *packet);
enum decoded decode_next(struct decode *decode);
/* Packets were lost before the next one. */
void decode_gap(struct decode *decode);
/* decode->picture as a frame, which stays good until this was called twice more. */
bool decode_show(struct decode *decode, const char *told, struct frame *frame, struct problem *problem);

#pragma GCC visibility pop

#endif
