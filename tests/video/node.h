/* A real kernel's video nodes, by what their drivers call them. */
#ifndef TESTS_VIDEO_NODE_H
#define TESTS_VIDEO_NODE_H

#include <stdbool.h>
#include <stddef.h>

/* The first whose name starts so, as /dev/videoN; a device's second node would be its metadata's. */
bool video_node(const char *name, char *node, size_t size);

#endif
