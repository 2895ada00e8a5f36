#include "video/stage.h"
const struct grabber_carrier grabber_uvc = {.name = "uvc"};
