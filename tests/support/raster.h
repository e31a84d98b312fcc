/* Pages as pixels, for tests that look at what was drawn: PDF by pdftoppm, PNG by cairo. */
#ifndef RASTER_H
#define RASTER_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/arena.h>

struct raster {
    int width, height;
    uint8_t *rgb; /* three bytes a pixel, rows from the top */
};

struct raster raster_of_pdf(mb_arena *arena, struct mb_str pdf, int page, int dpi);
struct raster raster_of_png(mb_arena *arena, struct mb_str png);
const uint8_t *raster_pixel(const struct raster *r, double x, double y);
/* Is the pixel near that colour? */
bool raster_is(const struct raster *r, double x, double y, int red, int green, int blue);
/* Share of black in a box of pixels, its right and lower edge left out. */
double raster_darkness(const struct raster *r, int x0, int y0, int x1, int y1);

#endif
