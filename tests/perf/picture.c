/* Fields a second that picture/ reads in memory, on one core: packed YUYV, 30 dB of noise. */
#include "picture/picture.h"
#include "../picture/draw.h"

#include <stdio.h>
#include <time.h>

static double seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

int main(void) {
    enum { FIELDS = 16, ROUNDS = 250 };
    struct field fields[FIELDS];
    uint8_t *memory[FIELDS];
    struct picture_options options = {.standard = STANDARD_NTSC, .unclear_below = PICTURE_UNCLEAR};
    struct picture *picture = picture_new(&options);
    struct reading reading;
    long good = 0;
    for (int i = 0; i < FIELDS; i++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        scene.seed = (uint64_t)i + 1;
        scene.noise_db = 30;
        for (int line = 0; line < PICTURE_LINES_MAX; line++) {
            scene.cells[line] = i % 2 ? UINT64_C(0x5555555555) : UINT64_C(1) << (i * 2);
        }
        fields[i] = draw_field(&scene, &memory[i]);
    }
    double start = seconds();
    for (int i = 0; i < FIELDS * ROUNDS; i++) {
        picture_read(picture, &fields[i % FIELDS], &reading);
        good += reading.state == FIELD_READ;
    }
    double took = seconds() - start;
    printf("picture_read %.0f fields/s\n", (double)good / took);
    picture_free(picture);
    for (int i = 0; i < FIELDS; i++) {
        free(memory[i]);
    }
    return good == FIELDS * ROUNDS ? 0 : 1;
}
