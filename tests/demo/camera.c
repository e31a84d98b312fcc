#include "camera.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cairo/cairo.h>
#include <jpeglib.h>

enum { QUALITY = 88 };

struct bytes {
    uint8_t at[512];
    int count;
};

static void little(struct bytes *b, uint32_t value, int size)
{
    for (int i = 0; i < size; i++)
        b->at[b->count++] = (uint8_t)(value >> (8 * i));
}

static void tag(struct bytes *b, uint32_t number, uint32_t type, uint32_t count, uint32_t value)
{
    little(b, number, 2);
    little(b, type, 2);
    little(b, count, 4);
    little(b, value, 4);
}

static void text_at(struct bytes *b, int at, const char *text)
{
    while (b->count < at)
        b->at[b->count++] = 0;
    for (const char *c = text; *c; c++)
        b->at[b->count++] = (uint8_t)*c;
}

static void degrees_at(struct bytes *b, int at, uint32_t degrees, uint32_t minutes, uint32_t centi)
{
    text_at(b, at, "");
    little(b, degrees, 4), little(b, 1, 4), little(b, minutes, 4), little(b, 1, 4);
    little(b, centi, 4), little(b, 100, 4);
}

/* Position of the demo's first site, its name, the camera and the day: all of it invented. */
static void exif(struct bytes *b)
{
    enum { BASE = 6, HEAD = 200, GPS = 80, NAME = 140, CAMERA = 164, DAY = 178 };

    memcpy(b->at, "Exif\0", 6);
    b->count = BASE;
    memcpy(b->at + b->count, "II*\0", 4);
    b->count += 4;
    little(b, 8, 4);
    little(b, 5, 2);
    tag(b, 0x010E, 2, 24, NAME);   /* ImageDescription */
    tag(b, 0x0110, 2, 14, CAMERA); /* Model */
    tag(b, 0x0112, 3, 1, 1);       /* Orientation: upright */
    tag(b, 0x0132, 2, 20, DAY);    /* DateTime */
    tag(b, 0x8825, 4, 1, GPS);     /* where the GPS block is */
    little(b, 0, 4);
    text_at(b, BASE + GPS, "");
    little(b, 4, 2);
    tag(b, 1, 2, 2, 'N');
    tag(b, 2, 5, 3, HEAD);
    tag(b, 3, 2, 2, 'W');
    tag(b, 4, 5, 3, HEAD + 24);
    little(b, 0, 4);
    text_at(b, BASE + NAME, "Sallow Draw, north face");
    text_at(b, BASE + CAMERA, "field camera");
    text_at(b, BASE + DAY, "2024:06:14 16:05:00");
    degrees_at(b, BASE + HEAD, 38, 46, 1632);
    degrees_at(b, BASE + HEAD + 24, 100, 30, 4824);
}

static cairo_status_t take(void *owner, unsigned char *to, unsigned len)
{
    struct mb_str *rest = owner;

    if (len > rest->len)
        return CAIRO_STATUS_READ_ERROR;
    memcpy(to, rest->at, len);
    *rest = (struct mb_str){ rest->at + len, rest->len - len };
    return CAIRO_STATUS_SUCCESS;
}

static void rows_to_jpeg(struct jpeg_compress_struct *jpeg, cairo_surface_t *picture)
{
    int width = cairo_image_surface_get_width(picture);
    int stride = cairo_image_surface_get_stride(picture);
    const unsigned char *data = cairo_image_surface_get_data(picture);
    uint8_t *row = calloc((size_t)width, 3);

    for (int y = 0; row && y < cairo_image_surface_get_height(picture); y++) {
        for (int x = 0; x < width; x++) {
            uint32_t pixel;

            memcpy(&pixel, data + y * stride + 4 * x, 4);
            row[3 * x] = (uint8_t)(pixel >> 16);
            row[3 * x + 1] = (uint8_t)(pixel >> 8);
            row[3 * x + 2] = (uint8_t)pixel;
        }
        jpeg_write_scanlines(jpeg, &row, 1);
    }
    free(row);
}

struct mb_str camera_jpeg(mb_arena *arena, struct mb_str png)
{
    cairo_surface_t *picture = cairo_image_surface_create_from_png_stream(take, &png);
    struct jpeg_compress_struct jpeg;
    struct jpeg_error_mgr errors;
    struct bytes block = { { 0 }, 0 };
    unsigned char *made = NULL;
    unsigned long length = 0;
    struct mb_str out;

    jpeg.err = jpeg_std_error(&errors);
    jpeg_create_compress(&jpeg);
    jpeg_mem_dest(&jpeg, &made, &length);
    jpeg.image_width = (JDIMENSION)cairo_image_surface_get_width(picture);
    jpeg.image_height = (JDIMENSION)cairo_image_surface_get_height(picture);
    jpeg.input_components = 3;
    jpeg.in_color_space = JCS_RGB;
    jpeg_set_defaults(&jpeg);
    jpeg_set_quality(&jpeg, QUALITY, TRUE);
    jpeg_start_compress(&jpeg, TRUE);
    exif(&block);
    jpeg_write_marker(&jpeg, JPEG_APP0 + 1, block.at, (unsigned)block.count);
    rows_to_jpeg(&jpeg, picture);
    jpeg_finish_compress(&jpeg);
    jpeg_destroy_compress(&jpeg);
    cairo_surface_destroy(picture);
    out = mb_arena_str(arena, (struct mb_str){ (const char *)made, length });
    free(made);
    return out;
}
