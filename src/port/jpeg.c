#include "jpeg.h"

#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>

#include <jerror.h>
#include <jpeglib.h>

#define MEMORY_MAX (512L << 20)

struct decoder {
    struct jpeg_decompress_struct jpeg;
    struct jpeg_error_mgr errors;
    jmp_buf failed;
    bool damaged, cramped;
    JSAMPLE *row;
};

static void on_error(j_common_ptr jpeg)
{
    struct decoder *d = jpeg->client_data;

    longjmp(d->failed, 1);
}

static void on_message(j_common_ptr jpeg, int level)
{
    struct decoder *d = jpeg->client_data;

    if (level < 0 && jpeg->err->msg_code != JWRN_EXTRANEOUS_DATA)
        d->damaged = true;
}

static void say_nothing(j_common_ptr jpeg)
{
    (void)jpeg;
}

static void keep_row(uint32_t *to, const JSAMPLE *from, JDIMENSION width)
{
    for (JDIMENSION x = 0; x < width; x++, from += 3)
        to[x] = (uint32_t)from[0] << 16 | (uint32_t)from[1] << 8 | from[2];
}

static unsigned scale_for(const struct mb_picture *p, int want_width, int want_height)
{
    unsigned scale = 8;

    while (scale > 1 && (p->width_px / (int)scale < want_width ||
                         p->height_px / (int)scale < want_height))
        scale /= 2;
    return scale;
}

static void start(struct decoder *d, const struct mb_picture *p, unsigned scale)
{
    jpeg_create_decompress(&d->jpeg);
    d->jpeg.mem->max_memory_to_use = MEMORY_MAX;
    jpeg_mem_src(&d->jpeg, (const unsigned char *)p->bytes.at, p->bytes.len);
    jpeg_read_header(&d->jpeg, TRUE);
    d->jpeg.scale_num = 1;
    d->jpeg.scale_denom = scale;
    d->jpeg.out_color_space = JCS_RGB;
    d->jpeg.dct_method = JDCT_ISLOW;
    jpeg_start_decompress(&d->jpeg);
    d->row = malloc((size_t)d->jpeg.output_width * 3);
    if (!d->row)
        abort();
}

static void read_rows(struct decoder *d, const struct mb_jpeg_room *room)
{
    uint32_t *to = NULL;
    size_t step = 0;

    if (room) {
        to = room->get(room->owner, (int)d->jpeg.output_width, (int)d->jpeg.output_height, &step);
        if (!to) {
            d->cramped = true;
            return;
        }
    }
    while (d->jpeg.output_scanline < d->jpeg.output_height) {
        jpeg_read_scanlines(&d->jpeg, &d->row, 1);
        if (to) {
            keep_row(to, d->row, d->jpeg.output_width);
            to += step;
        }
    }
    jpeg_finish_decompress(&d->jpeg);
}

static enum mb_rc decode(const struct mb_picture *picture, unsigned scale,
                         const struct mb_jpeg_room *room, struct mb_error *err)
{
    struct decoder d = { 0 };

    d.jpeg.err = jpeg_std_error(&d.errors);
    d.jpeg.client_data = &d;
    d.errors.error_exit = on_error;
    d.errors.emit_message = on_message;
    d.errors.output_message = say_nothing;
    if (setjmp(d.failed) == 0) {
        start(&d, picture, scale);
        read_rows(&d, room);
    } else if (d.errors.msg_code == JERR_NO_BACKING_STORE) {
        d.cramped = true;
    } else {
        d.damaged = true;
    }
    jpeg_destroy_decompress(&d.jpeg);
    free(d.row);
    if (d.cramped)
        return mb_fail(err, MB_UNABLE,
                       "the photo of %d x %d pixels takes more memory than is allowed; save it "
                       "smaller, or without layers (not progressive)",
                       picture->width_px, picture->height_px);
    if (d.damaged)
        return mb_fail(err, MB_REFUSED,
                       "the picture inside the photo file is damaged or cut short; copy it again "
                       "from where it came from");
    return MB_OK;
}

enum mb_rc mb_jpeg_decode(const struct mb_picture *picture, int want_width_px, int want_height_px,
                          const struct mb_jpeg_room *room, struct mb_error *err)
{
    return decode(picture, scale_for(picture, want_width_px, want_height_px), room, err);
}

enum mb_rc mb_jpeg_check(const struct mb_picture *picture, struct mb_error *err)
{
    return decode(picture, 8, NULL, err);
}
