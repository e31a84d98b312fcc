#include "raster.h"

#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cairo/cairo.h>

#include "outside.h"

struct raster raster_of_pdf(mb_arena *arena, struct mb_str pdf, int page, int dpi)
{
    struct raster r = { 0 };
    struct mb_str ppm;
    int at = 0;

    outside_file(arena, "page.pdf", pdf);
    cr_assert_eq(outside_run(arena, NULL, "pdftoppm -r %d -f %d -l %d -singlefile page.pdf page",
                             dpi, page, page), 0);
    ppm = outside_read(arena, "page.ppm");
    cr_assert_eq(sscanf(mb_arena_copy(arena, ppm.at, 40), "P6 %d %d 255%n", &r.width, &r.height,
                        &at), 2);
    r.rgb = (uint8_t *)mb_arena_copy(arena, ppm.at, ppm.len) + at + 1;
    return r;
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

struct raster raster_of_png(mb_arena *arena, struct mb_str png)
{
    cairo_surface_t *s = cairo_image_surface_create_from_png_stream(take, &png);
    struct raster r = { cairo_image_surface_get_width(s), cairo_image_surface_get_height(s), NULL };
    const unsigned char *rows = cairo_image_surface_get_data(s);

    r.rgb = mb_arena_get(arena, (size_t)r.width * (size_t)r.height * 3 + 1);
    for (int y = 0; y < r.height; y++)
        for (int x = 0; x < r.width; x++) {
            uint32_t px;
            uint8_t *to = r.rgb + ((size_t)y * (size_t)r.width + (size_t)x) * 3;

            memcpy(&px, rows + y * cairo_image_surface_get_stride(s) + 4 * x, 4);
            to[0] = (uint8_t)(px >> 16);
            to[1] = (uint8_t)(px >> 8);
            to[2] = (uint8_t)px;
        }
    cairo_surface_destroy(s);
    return r;
}

const uint8_t *raster_pixel(const struct raster *r, double x, double y)
{
    cr_assert(x >= 0 && y >= 0 && x < r->width && y < r->height);
    return r->rgb + ((size_t)y * (size_t)r->width + (size_t)x) * 3;
}

bool raster_is(const struct raster *r, double x, double y, int red, int green, int blue)
{
    const uint8_t *px = raster_pixel(r, x, y);

    return abs(px[0] - red) < 40 && abs(px[1] - green) < 40 && abs(px[2] - blue) < 40;
}

double raster_darkness(const struct raster *r, int x0, int y0, int x1, int y1)
{
    double sum = 0;

    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            sum += 1 - raster_pixel(r, x, y)[1] / 255.0;
    return sum / ((x1 - x0) * (double)(y1 - y0));
}
