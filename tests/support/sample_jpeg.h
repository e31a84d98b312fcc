/*
 * Photos drawn by a program, for tests: four quarters of plain colour (red and green above, blue
 * and white below), written by libjpeg.
 */
#ifndef SAMPLE_JPEG_H
#define SAMPLE_JPEG_H

#include <stdbool.h>

#include <markerbed/arena.h>

struct sample_jpeg {
    int width_px, height_px;
    int channels;      /* 1, 3 (the default, for 0) or 4 */
    bool progressive;
    int noise;         /* 0-60: grain, so that the file is as large as a photo's */
    int turn;          /* Exif orientation; 0: no Exif */
    bool little;       /* its byte order */
    const char *secret; /* put into the Exif and a comment; NULL: none */
};

struct mb_str sample_jpeg(mb_arena *arena, const struct sample_jpeg *how);

#endif
