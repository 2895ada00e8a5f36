/*
 * Fields that the console drew, through the virtual grabber, to packed YUYV frames of the standard's size
 * that `slotjig judge` reads. Usage: grab FIELDS OUT.yuv
 *
 * FIELDS: for each field its lines (2 bytes, low first), 1 or 0 for whether a vertical sync ended it, the
 * lines of vertical sync that began it, then its pixels, 160 a line.
 */
#include "virtual/bench.h"
#include "virtual/grabber.h"

#include <stdio.h>
#include <stdlib.h>

static bool read_field(FILE *file, struct tia_field *field) {
    uint8_t head[4];
    if (fread(head, 1, sizeof head, file) != sizeof head) {
        return false;
    }
    *field =
        (struct tia_field){.lines = head[0] | head[1] << 8, .synced = head[2] != 0, .sync_lines = head[3]};
    if (field->lines > TIA_LINES_MAX) {
        return false;
    }
    const size_t count = (size_t)field->lines;
    return fread(field->pixel, TIA_VISIBLE, count, file) == count;
}

static bool write_frame(FILE *file, struct grabber *grabber) {
    struct frame frame;
    struct problem problem;
    if (!grabber_frame(grabber, &frame, &problem)) {
        return false;
    }
    for (int y = 0; y < frame.height; y++) {
        if (fwrite(frame.y.data + y * frame.y.stride, 2, (size_t)frame.width, file) != (size_t)frame.width) {
            return false;
        }
    }
    return true;
}

static long convert(FILE *in, FILE *out, struct grabber *grabber) {
    static struct tia_field field;
    long fields = 0;
    while (read_field(in, &field)) {
        fields++;
        grabber_take(grabber, &field);
        if (grabber_ready(grabber) && !write_frame(out, grabber)) {
            return -1;
        }
    }
    return fields;
}

int main(int count, char **words) {
    struct problem problem = {0};
    struct virtual_options options;
    virtual_defaults(STANDARD_NTSC, &options);
    if (count != 3) {
        fprintf(stderr, "usage: grab FIELDS OUT.yuv\n");
        return 2;
    }
    FILE *in = fopen(words[1], "rb"), *out = fopen(words[2], "wb");
    struct grabber *grabber = grabber_new(STANDARD_NTSC, &options.grabber, 1, &problem);
    if (in == NULL || out == NULL || grabber == NULL) {
        fprintf(stderr, "grab: cannot open %s or %s\n", words[1], words[2]);
        return 2;
    }
    const long fields = convert(in, out, grabber);
    grabber_free(grabber);
    fclose(in);
    if (fclose(out) != 0 || fields < 2) {
        fprintf(stderr, "grab: %ld fields; the output may be short\n", fields);
        return 1;
    }
    return 0;
}
