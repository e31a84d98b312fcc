/*
 * Draws a photograph of the demo's crinoid slab as a PNG, with areas that are known exactly: all
 * outlines are polygons in millimetres, and one millimetre is four pixels.
 *
 *     draw FILE.png NUMBER
 */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "canvas.h"
#include "fileio.h"
#include "text.h"

#define WIDTH_MM 240.0
#define HEIGHT_MM 180.0
#define DPI 101.6 /* 4 pixels a millimetre */
#define ARMS 11

static const struct mb_ink rock = { 0xD9D2C3, 0 }, edge = { 0x8C8472, 0 };
static const struct mb_ink fossil = { 0x6B5440, 0 }, filler = { 0x9A8F80, 0 };
static const struct mb_ink black = { 0x111111, 0 }, white = { 0xFFFFFF, 0 };

static void shape(mb_canvas *canvas, const struct mb_mm *points, size_t count, struct mb_ink ink)
{
    const struct mb_mm_ring ring = { points, count };
    const struct mb_fill fill = { .pattern = MB_PATTERN_SOLID, .ink = ink };

    mb_canvas_shape(canvas, &ring, 1, &fill, NULL);
}

static void slab(mb_canvas *canvas)
{
    static const struct mb_mm outline[] = { { 12, 20 }, { 120, 9 },   { 226, 24 }, { 231, 110 },
                                            { 210, 162 }, { 96, 170 }, { 18, 150 } };
    const struct mb_mm_ring ring = { outline, sizeof outline / sizeof *outline };
    const struct mb_fill fill = { .pattern = MB_PATTERN_SOLID, .ink = rock };
    const struct mb_stroke stroke = { .width_mm = 0.8, .ink = edge };

    mb_canvas_shape(canvas, &ring, 1, &fill, &stroke);
}

/* A crown: a cup and arms that spread from it, each a narrow four-cornered outline. */
static void crown(mb_canvas *canvas, double x, double y, double size)
{
    const struct mb_mm cup[] = { { x - size * 0.14, y }, { x, y - size * 0.2 },
                                 { x + size * 0.14, y }, { x, y + size * 0.22 } };

    for (int i = 0; i < ARMS; i++) {
        double turn = (-62.0 + 124.0 * i / (ARMS - 1)) * M_PI / 180, s = sin(turn), c = -cos(turn);
        double length = size * (0.85 + 0.15 * cos(3.0 * i)), half = size * 0.025;
        const struct mb_mm arm[] = { { x - c * half * 2, y + s * half * 2 },
                                     { x + c * half * 2, y - s * half * 2 },
                                     { x + s * length + c * half, y + c * length - s * half },
                                     { x + s * length - c * half, y + c * length + s * half } };

        shape(canvas, arm, 4, fossil);
    }
    shape(canvas, cup, 4, fossil);
}

static enum mb_rc captions(mb_canvas *canvas, const char *number, struct mb_error *err)
{
    const struct mb_type type = { .size_pt = 11, .weight = 700, .ink = black };
    const struct mb_fill dark = { .pattern = MB_PATTERN_SOLID, .ink = black };
    const struct mb_fill light = { .pattern = MB_PATTERN_SOLID, .ink = white };
    enum mb_rc rc;

    for (int i = 0; i < 5; i++) /* a scale of 50 mm, in tens */
        mb_canvas_rect(canvas, 20 + 10 * i, 172, 10, 3, i % 2 ? &light : &dark, NULL);
    rc = mb_canvas_text(canvas, &type, MB_STR("50 mm"), 73, 170.5, 30, NULL, err);
    if (!rc)
        rc = mb_canvas_text(canvas, &type, mb_str_of(number), 196, 170.5, 40, NULL, err);
    return rc;
}

int main(int argc, char **argv)
{
    const struct mb_canvas_setup setup = { .form = MB_CANVAS_PNG,
                                           .width_mm = WIDTH_MM,
                                           .height_mm = HEIGHT_MM,
                                           .dpi = DPI };
    static const struct mb_mm patch[] = { { 66, 84 }, { 76, 82 }, { 78, 92 }, { 68, 94 } };
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { 0 };
    struct mb_str png;
    mb_canvas *canvas = NULL;
    enum mb_rc rc;

    if (argc != 3)
        return 2;
    rc = mb_canvas_open(&setup, &canvas, &err);
    if (!rc) {
        const struct mb_fill ground = { .pattern = MB_PATTERN_SOLID, .ink = white };

        mb_canvas_rect(canvas, 0, 0, WIDTH_MM, HEIGHT_MM, &ground, NULL);
        slab(canvas);
        crown(canvas, 70, 122, 66);
        crown(canvas, 158, 120, 60);
        shape(canvas, patch, 4, filler);
        rc = captions(canvas, argv[2], &err);
    }
    if (!rc)
        rc = mb_canvas_finish(canvas, arena, &png, &err);
    if (!rc)
        rc = mb_file_write(argv[1], png, 0644, &err);
    mb_canvas_close(canvas);
    mb_canvas_shutdown();
    mb_arena_free(arena);
    if (rc)
        fprintf(stderr, "draw: %s\n", err.text);
    return (int)rc;
}
