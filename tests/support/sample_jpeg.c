#include "sample_jpeg.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jpeglib.h>

static uint32_t grain = 1;

static void draw_row(uint8_t *row, int y, const struct sample_jpeg *how, int channels)
{
    static const uint8_t colours[4][3] = { { 220, 30, 30 }, { 30, 200, 30 }, { 30, 30, 220 },
                                           { 240, 240, 240 } };

    for (int x = 0; x < how->width_px; x++) {
        const uint8_t *c = colours[(y >= how->height_px / 2) * 2 + (x >= how->width_px / 2)];

        grain = grain * 1103515245u + 12345u;
        for (int i = 0; i < channels; i++) {
            int v = c[i % 3] - (how->noise ? (int)(grain >> 16) % (how->noise + 1) : 0);

            row[x * channels + i] = (uint8_t)(v < 0 ? 0 : v);
        }
    }
}

/* Exif 2.3 by hand: one directory with the orientation and a description. */
static void write_exif(struct jpeg_compress_struct *jpeg, const struct sample_jpeg *how)
{
    static const uint8_t big[] = { 'M', 'M', 0, 42, 0, 0, 0, 8, 0, 2, 1, 0x12, 0, 3, 0, 0, 0, 1,
                                   0, 0, 0, 0, 1, 0x0E, 0, 2, 0, 0, 0, 64, 0, 0, 0, 38 };
    static const uint8_t small[] = { 'I', 'I', 42, 0, 8, 0, 0, 0, 2, 0, 0x12, 1, 3, 0, 1, 0, 0, 0,
                                     0, 0, 0, 0, 0x0E, 1, 2, 0, 64, 0, 0, 0, 38, 0, 0, 0 };
    uint8_t body[6 + 38 + 64] = "Exif\0";

    memcpy(body + 6, how->little ? small : big, sizeof big);
    body[6 + 18 + (how->little ? 0 : 1)] = (uint8_t)how->turn;
    if (how->secret)
        memcpy(body + 6 + 38, how->secret, strnlen(how->secret, 63));
    jpeg_write_marker(jpeg, JPEG_APP0 + 1, body, sizeof body);
}

struct mb_str sample_jpeg(mb_arena *arena, const struct sample_jpeg *how)
{
    int channels = how->channels ? how->channels : 3;
    struct jpeg_compress_struct jpeg;
    struct jpeg_error_mgr errors;
    unsigned char *bytes = NULL;
    unsigned long len = 0;
    uint8_t *row = malloc((size_t)how->width_px * (size_t)channels);
    struct mb_str out;

    if (!row)
        abort();
    grain = 1;
    jpeg.err = jpeg_std_error(&errors);
    jpeg_create_compress(&jpeg);
    jpeg_mem_dest(&jpeg, &bytes, &len);
    jpeg.image_width = (JDIMENSION)how->width_px;
    jpeg.image_height = (JDIMENSION)how->height_px;
    jpeg.input_components = channels;
    jpeg.in_color_space = channels == 1 ? JCS_GRAYSCALE : channels == 3 ? JCS_RGB : JCS_CMYK;
    jpeg_set_defaults(&jpeg);
    jpeg_set_quality(&jpeg, 80, TRUE);
    if (how->progressive)
        jpeg_simple_progression(&jpeg);
    jpeg_start_compress(&jpeg, TRUE);
    if (how->turn)
        write_exif(&jpeg, how);
    if (how->secret)
        jpeg_write_marker(&jpeg, JPEG_COM, (const JOCTET *)how->secret,
                          (unsigned)strlen(how->secret));
    for (int y = 0; y < how->height_px; y++) {
        draw_row(row, y, how, channels);
        jpeg_write_scanlines(&jpeg, &row, 1);
    }
    jpeg_finish_compress(&jpeg);
    jpeg_destroy_compress(&jpeg);
    out = mb_arena_str(arena, (struct mb_str){ (const char *)bytes, len });
    free(bytes);
    free(row);
    return out;
}
