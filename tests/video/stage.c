#include "video/stage.h"

#include "usb/stage.h"

const char *const grabber_input_names[INPUTS] = {"Composite", "S-Video", "Television"};

const struct grabber_carrier *grabber_carrier(void) {
    return stage_is_real() ? &grabber_uvc : &grabber_v4l2;
}

bool grabber_plug(struct grabber_device *device) {
    if (!grabber_carrier()->plug(device)) {
        return false;
    }
    const struct feed_taker taker = grabber_carrier()->taker(device);
    device->running = feed_start(&device->feed, &device->source, device->lock, &taker);
    return device->running != NULL;
}

void grabber_end(struct grabber_device *device) {
    if (device->carried != NULL) {
        feed_stop(device->running);
        device->running = NULL;
        grabber_carrier()->unplug(device);
        grabber_carrier()->forget(device);
        device->carried = NULL;
    }
}
