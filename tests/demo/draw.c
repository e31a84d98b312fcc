/*
 * Draws what a camera would have seen in the demo: slabs, a fish, a skull, a tray of teeth, an old
 * label, papers with signatures. A photo is a JPEG with an Exif block as cameras write it, GPS
 * position included, so that the cleaning has something to take out.
 *
 *     draw FOLDER
 *
 * Areas are known exactly: outlines are polygons whose corners are whole pixels, so an area is a
 * whole number of half square pixels. For the pieces that are measured the outlines are left beside
 * the photo (NAME.outlines.json, docs/measuring.md), and what the library measures from them as
 * lists for the kind `condition` (NAME.shares.json, NAME.joins.json, NAME.individuals.json). The
 * program ends with 1 if a measured share is more than a tenth of a per cent off the known one.
 *
 * Exif: JEITA CP-3451 (Exif 2.3), the tags by their numbers in it.
 */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cairo/cairo.h>
#include <jpeglib.h>

#include <markerbed/json.h>

#include "canvas.h"
#include "fileio.h"
#include "measure.h"
#include "text.h"

enum { CORNERS_MAX = 160, SHAPES_MAX = 16, LINE_PX = 2, QUALITY = 88 };

struct corner {
    int x, y; /* pixels */
};

struct ring {
    struct corner at[CORNERS_MAX];
    int count;
};

/* What was drawn on one photo, and what is said of it. */
struct scene {
    mb_arena *arena;
    mb_canvas *canvas;
    struct mb_error err;
    enum mb_rc rc;
    const char *name, *number;
    int width, height, bar_px, bar_mm;
    mb_json *individuals, *specimens, *regions, *joins;
    struct {
        const char *individual, *substance; /* NULL: the whole individual */
        int64_t twice_px;
    } areas[SHAPES_MAX];
    int area_count;
};

static const struct mb_ink paper = { 0xF7F4EC, 0 }, black = { 0x151515, 0 }, white = { 0xFFFFFF, 0 };
static const struct mb_ink chalk = { 0xD9D2C3, 0 }, edge = { 0x8C8472, 0 }, shale = { 0x7E8184, 0 };
static const struct mb_ink bone = { 0x6B5440, 0 }, filler = { 0x9A8F80, 0 }, putty = { 0x84705A, 0 };
static const struct mb_ink enamel = { 0x3B3F49, 0 }, blue = { 0x27408B, 0 };

/* ---- outlines ---- */

static void put(struct ring *ring, double x, double y)
{
    if (ring->count == CORNERS_MAX)
        abort();
    ring->at[ring->count++] = (struct corner){ (int)lround(x), (int)lround(y) };
}

static int64_t twice_area(const struct ring *ring)
{
    int64_t sum = 0;

    for (int i = 0, j = ring->count - 1; i < ring->count; j = i++)
        sum += (int64_t)ring->at[j].x * ring->at[i].y - (int64_t)ring->at[i].x * ring->at[j].y;
    return sum < 0 ? -sum : sum;
}

static mb_json *corners_of(mb_arena *arena, const struct ring *ring)
{
    mb_json *list = mb_json_array(arena);

    for (int i = 0; i < ring->count; i++) {
        mb_json *corner = mb_json_add(list, mb_json_array(arena));

        mb_json_add(corner, mb_json_integer(arena, ring->at[i].x));
        mb_json_add(corner, mb_json_integer(arena, ring->at[i].y));
    }
    return list;
}

static void ink(struct scene *s, const struct ring *ring, struct mb_ink colour, bool edged)
{
    struct mb_mm points[CORNERS_MAX];
    const struct mb_mm_ring line = { points, (size_t)ring->count };
    const struct mb_fill fill = { .pattern = MB_PATTERN_SOLID, .ink = colour };
    const struct mb_stroke stroke = { .width_mm = 3, .ink = edge };

    for (int i = 0; i < ring->count; i++)
        points[i] = (struct mb_mm){ ring->at[i].x, ring->at[i].y };
    mb_canvas_shape(s->canvas, &line, 1, &fill, edged ? &stroke : NULL);
}

static void remember(struct scene *s, const char *individual, const char *substance,
                     const struct ring *ring)
{
    if (s->area_count == SHAPES_MAX)
        abort();
    s->areas[s->area_count].individual = individual;
    s->areas[s->area_count].substance = substance;
    s->areas[s->area_count++].twice_px = twice_area(ring);
}

static void individual(struct scene *s, const char *label, const char *name,
                       const char *association, const char *setting, const struct ring *ring)
{
    mb_json *told = mb_json_add(s->individuals, mb_json_object(s->arena));
    mb_json *specimen = mb_json_add(s->specimens, mb_json_object(s->arena));

    mb_json_put_text(s->arena, told, "label", label);
    mb_json_put_text(s->arena, told, "name", name);
    mb_json_put_text(s->arena, told, "association", association);
    mb_json_put_text(s->arena, told, "setting", setting);
    mb_json_put_text(s->arena, specimen, "individual", label);
    mb_json_put_text(s->arena, specimen, "uncovered", "original");
    mb_json_put(s->arena, specimen, "outline", corners_of(s->arena, ring));
    remember(s, label, NULL, ring);
    ink(s, ring, bone, false);
}

static void region(struct scene *s, const char *label, const char *substance,
                   const struct ring *ring, struct mb_ink colour)
{
    mb_json *told = mb_json_add(s->regions, mb_json_object(s->arena));

    mb_json_put_text(s->arena, told, "individual", label);
    mb_json_put_text(s->arena, told, "substance", substance);
    mb_json_put(s->arena, told, "outline", corners_of(s->arena, ring));
    remember(s, label, substance, ring);
    ink(s, ring, colour, false);
}

static void join(struct scene *s, const char *through, const char *cause, const struct ring *line)
{
    mb_json *told = mb_json_add(s->joins, mb_json_object(s->arena));
    const struct mb_stroke stroke = { .width_mm = 2, .ink = edge };

    mb_json_put_text(s->arena, told, "through", through);
    mb_json_put_text(s->arena, told, "cause", cause);
    mb_json_put_text(s->arena, told, "adhesive", "acrylic copolymer resin");
    mb_json_put(s->arena, told, "line", corners_of(s->arena, line));
    for (int i = 1; i < line->count; i++)
        mb_canvas_line(s->canvas, line->at[i - 1].x, line->at[i - 1].y, line->at[i].x,
                       line->at[i].y, &stroke);
}

/* ---- a photo and its Exif block ---- */

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

static struct mb_str jpeg_of(mb_arena *arena, struct mb_str png)
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

/* ---- a scene from its begin to its end ---- */

static void begin(struct scene *s, const char *name, const char *number, int width, int height)
{
    const struct mb_canvas_setup setup = { .form = MB_CANVAS_PNG,
                                           .width_mm = width,
                                           .height_mm = height,
                                           .dpi = 25.4 }; /* a millimetre is a pixel */
    const struct mb_fill ground = { .pattern = MB_PATTERN_SOLID, .ink = paper };

    *s = (struct scene){ .arena = mb_arena_new(), .name = name, .number = number,
                         .width = width, .height = height };
    s->individuals = mb_json_array(s->arena);
    s->specimens = mb_json_array(s->arena);
    s->regions = mb_json_array(s->arena);
    s->joins = mb_json_array(s->arena);
    s->rc = mb_canvas_open(&setup, &s->canvas, &s->err);
    if (!s->rc)
        mb_canvas_rect(s->canvas, 0, 0, width, height, &ground, NULL);
}

static void say(struct scene *s, const char *text, double x, double y, double size,
                struct mb_ink colour)
{
    const struct mb_type type = { .size_pt = size * 72 / 25.4, .weight = 700, .ink = colour };

    if (!s->rc)
        s->rc = mb_canvas_text(s->canvas, &type, mb_str_of(text), x, y, s->width - x, NULL, &s->err);
}

/* A bar of bar_px that stands for bar_mm, in five fields, and the piece's number. */
static void scale_bar(struct scene *s, int bar_px, int bar_mm)
{
    const struct mb_fill dark = { .pattern = MB_PATTERN_SOLID, .ink = black };
    const struct mb_fill light = { .pattern = MB_PATTERN_SOLID, .ink = white };
    int y = s->height - 30;

    for (int i = 0; i < 5; i++)
        mb_canvas_rect(s->canvas, 30 + bar_px / 5 * i, y, bar_px / 5, 12, i % 2 ? &light : &dark,
                       NULL);
    say(s, mb_arena_printf(s->arena, "%d mm", bar_mm), 45 + bar_px, y - 5, 22, black);
    say(s, s->number, s->width - 140, y - 5, 22, black);
    s->bar_px = bar_px;
    s->bar_mm = bar_mm;
}

static void save(struct scene *s, const char *ending, struct mb_str bytes)
{
    if (!s->rc)
        s->rc = mb_file_write(mb_arena_printf(s->arena, "%s.%s", s->name, ending), bytes, 0644,
                              &s->err);
}

static void photo(struct scene *s)
{
    struct mb_str png;

    if (!s->rc)
        s->rc = mb_canvas_finish(s->canvas, s->arena, &png, &s->err);
    if (!s->rc)
        save(s, "jpg", jpeg_of(s->arena, png));
}

static struct mb_str outlines_of(struct scene *s, const char *unseen)
{
    mb_json *all = mb_json_object(s->arena), *view = mb_json_object(s->arena);
    mb_json *taken = mb_json_object(s->arena), *bar = mb_json_object(s->arena);
    mb_json *none = mb_json_array(s->arena), *views = mb_json_array(s->arena);

    mb_json_put_text(s->arena, taken, "file", mb_arena_printf(s->arena, "%s.jpg", s->name));
    mb_json_put_int(s->arena, taken, "widthPx", s->width);
    mb_json_put_int(s->arena, taken, "heightPx", s->height);
    mb_json_put_int(s->arena, bar, "px", s->bar_px);
    mb_json_put_int(s->arena, bar, "mm", s->bar_mm);
    mb_json_put_text(s->arena, view, "name", "front");
    mb_json_put(s->arena, view, "photo", taken);
    mb_json_put(s->arena, view, "scaleBar", bar);
    mb_json_put_int(s->arena, view, "lineWidthPx", LINE_PX);
    mb_json_put(s->arena, view, "specimens", s->specimens);
    mb_json_put(s->arena, view, "regions", s->regions);
    mb_json_put(s->arena, view, "joins", s->joins);
    mb_json_add(views, view);
    mb_json_add_text(s->arena, none, unseen);
    mb_json_put_text(s->arena, all, "format", "markerbed-outlines/1");
    mb_json_put(s->arena, all, "notExamined", none);
    mb_json_put(s->arena, all, "individuals", s->individuals);
    mb_json_put(s->arena, all, "views", views);
    return mb_json_write_pretty(s->arena, all);
}

/* What the share is, by the areas that were drawn. */
static double known_percent(const struct scene *s, const char *label, const char *substance)
{
    int64_t whole = 0, part = 0, covered = 0;

    for (int i = 0; i < s->area_count; i++) {
        if (strcmp(s->areas[i].individual, label) != 0)
            continue;
        if (!s->areas[i].substance)
            whole += s->areas[i].twice_px;
        else
            covered += s->areas[i].twice_px;
        if (s->areas[i].substance && strcmp(s->areas[i].substance, substance) == 0)
            part += s->areas[i].twice_px;
    }
    if (strcmp(substance, "original") == 0)
        part = whole - covered;
    return 100.0 * (double)part / (double)whole;
}

static void compare(struct scene *s, const mb_json *shares)
{
    MB_JSON_EACH(row, shares)
    {
        const char *label = mb_json_cstr(s->arena, mb_json_get(row, "individual"));
        const char *substance = mb_json_cstr(s->arena, mb_json_get(row, "substance"));
        const char *percent = mb_json_cstr(s->arena, mb_json_get(row, "percent"));
        double known = known_percent(s, label, substance);

        printf("  %-6s %s %-9s measured %5s %%, drawn %.2f %%\n", s->name, label, substance,
               percent, known);
        if (!s->rc && fabs(strtod(percent, NULL) - known) > 0.1)
            s->rc = mb_fail(&s->err, MB_NO, "%s: %s of %s is off", s->name, substance, label);
    }
}

static void measured(struct scene *s, const char *unseen)
{
    static const char *const lists[] = { "shares", "joins", "individuals" };
    struct mb_str text = outlines_of(s, unseen);
    const struct mb_outlines *outlines;
    const struct mb_measured *result;
    const mb_json *told;

    save(s, "outlines.json", text);
    if (!s->rc)
        s->rc = mb_outlines_read(s->arena, s->name, text, NULL, &outlines, &s->err);
    if (!s->rc)
        s->rc = mb_measure(s->arena, outlines, &result, &s->err);
    if (s->rc)
        return;
    told = mb_measure_json(s->arena, result);
    compare(s, mb_json_get(told, "shares"));
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++)
        save(s, mb_arena_printf(s->arena, "%s.json", lists[i]),
             mb_json_write(s->arena, mb_json_get(told, lists[i])));
}

static enum mb_rc end(struct scene *s)
{
    enum mb_rc rc = s->rc;

    if (rc)
        fprintf(stderr, "draw: %s: %s\n", s->name, s->err.text);
    mb_canvas_close(s->canvas);
    mb_arena_free(s->arena);
    return rc;
}

/* ---- what there is to see ---- */

/* A crown: arms that spread from a cup. Each arm has a middle, so that its tip can be a region of
 * its own whose edges are those of the whole. */
static void crown(struct ring *whole, struct ring *tip, int of_arm, double x, double y, double size)
{
    enum { ARMS = 9 };

    for (int i = 0; i < ARMS; i++) {
        double turn = -70 + 140.0 * i / (ARMS - 1), length = size * (0.85 + 0.15 * cos(3.0 * i));
        const struct {
            double radius, beside;
        } along[] = { { size * 0.25, -5.5 }, { length * 0.7, -3.2 }, { length, -2.4 },
                      { length, 2.4 },       { length * 0.7, 3.2 },  { size * 0.25, 5.5 } };

        for (int k = 0; k < 6; k++) {
            double a = (turn + along[k].beside) * M_PI / 180;
            double px = x + along[k].radius * sin(a), py = y - along[k].radius * cos(a);

            put(whole, px, py);
            if (i == of_arm && k > 0 && k < 5)
                put(tip, px, py);
        }
    }
    put(whole, x + size * 0.16, y + size * 0.12);
    put(whole, x, y + size * 0.3);
    put(whole, x - size * 0.16, y + size * 0.12);
}

static enum mb_rc draw_slab(void)
{
    static const struct ring slab = { { { 48, 80 }, { 480, 36 }, { 904, 96 }, { 924, 440 },
                                        { 840, 640 }, { 384, 664 }, { 72, 600 } }, 7 };
    static const struct ring patch = { { { 252, 416 }, { 292, 410 }, { 298, 448 }, { 258, 452 } },
                                       4 };
    static const struct ring across = { { { 505, 38 }, { 512, 300 }, { 504, 480 }, { 516, 657 } },
                                        4 };
    static const struct ring broken = { { { 178, 352 }, { 204, 386 } }, 2 };
    struct ring a = { .count = 0 }, b = { .count = 0 }, tip = { .count = 0 }, none = { .count = 0 };
    struct scene s;

    begin(&s, "slab", "24-0115", 960, 720);
    ink(&s, &slab, chalk, true);
    crown(&a, &tip, 6, 270, 430, 230);
    crown(&b, &none, -1, 735, 440, 205);
    individual(&s, "A", "Uintacrinus socialis", "same layer, placed together", "own rock", &a);
    individual(&s, "B", "Uintacrinus socialis", "same layer, placed together",
               "reset in its own rock", &b);
    region(&s, "A", "filled", &patch, filler);
    region(&s, "A", "restored", &tip, putty);
    join(&s, "rock", "two slabs set together", &across);
    join(&s, "fossil", "broke in the ground", &broken);
    scale_bar(&s, 200, 50);
    photo(&s);
    measured(&s, "reverse of the slab");
    return end(&s);
}

static enum mb_rc draw_fish(void)
{
    static const struct ring block = { { { 30, 60 }, { 1170, 40 }, { 1180, 440 }, { 40, 430 } }, 4 };
    static const struct ring body = { { { 90, 245 },  { 190, 180 }, { 360, 140 }, { 560, 135 },
                                        { 760, 170 }, { 930, 215 }, { 1010, 215 }, { 1110, 120 },
                                        { 1090, 240 }, { 1120, 370 }, { 1010, 280 }, { 930, 275 },
                                        { 740, 320 }, { 540, 350 }, { 340, 335 }, { 180, 300 } },
                                      16 };
    static const struct ring tail = { { { 1010, 215 }, { 1110, 120 }, { 1090, 240 } }, 3 };
    static const struct ring back = { { { 360, 140 }, { 560, 135 }, { 555, 215 }, { 370, 220 } },
                                      4 };
    static const struct ring patch = { { { 600, 240 }, { 690, 235 }, { 700, 275 }, { 610, 280 } },
                                       4 };
    static const struct ring broken = { { { 365, 140 }, { 372, 220 }, { 555, 215 }, { 560, 135 } },
                                        4 };
    struct scene s;

    begin(&s, "fish", "24-0117", 1200, 540);
    ink(&s, &block, chalk, true);
    individual(&s, "A", "large bony fish", "found together", "own rock", &body);
    region(&s, "A", "restored", &tail, putty);
    region(&s, "A", "repaired", &back, bone);
    region(&s, "A", "filled", &patch, filler);
    join(&s, "fossil", "broke in the jacket", &broken);
    scale_bar(&s, 200, 250);
    photo(&s);
    measured(&s, "underside, in the rock");
    return end(&s);
}

static enum mb_rc draw_skull(void)
{
    static const struct ring block = { { { 40, 50 }, { 1060, 30 }, { 1090, 430 }, { 60, 460 } }, 4 };
    static const struct ring skull = { { { 110, 260 }, { 420, 205 }, { 640, 170 }, { 860, 150 },
                                         { 980, 200 }, { 1000, 290 }, { 900, 300 }, { 760, 285 },
                                         { 420, 290 } }, 9 };
    static const struct ring jaw = { { { 130, 300 }, { 420, 320 }, { 760, 320 }, { 960, 330 },
                                       { 930, 370 }, { 420, 360 } }, 6 };
    static const struct ring eye = { { { 720, 205 }, { 770, 195 }, { 790, 225 }, { 740, 240 } }, 4 };
    struct scene s;

    begin(&s, "skull", "24-0130", 1120, 560);
    ink(&s, &block, shale, true);
    ink(&s, &skull, bone, false);
    ink(&s, &jaw, bone, false);
    ink(&s, &eye, shale, false);
    for (int i = 0; i < 14; i++) {
        const struct ring tooth = { { { 200 + 38 * i, 293 }, { 214 + 38 * i, 293 },
                                      { 208 + 38 * i, 316 } }, 3 };

        ink(&s, &tooth, enamel, false);
    }
    scale_bar(&s, 250, 200);
    photo(&s);
    return end(&s);
}

/* Teeth in rows: `count` of them, so that a tray can be counted. */
static enum mb_rc draw_teeth(const char *name, const char *number, int count)
{
    struct scene s;

    begin(&s, name, number, 900, 720);
    for (int i = 0; i < count; i++) {
        int x = 40 + i % 10 * 84, y = 30 + i / 10 * 76, lean = i * 7 % 11 - 5;
        const struct ring tooth = { { { x, y + 44 }, { x + 24 + lean, y }, { x + 48, y + 44 },
                                      { x + 36, y + 52 }, { x + 24, y + 46 }, { x + 12, y + 52 } },
                                    6 };

        ink(&s, &tooth, enamel, false);
    }
    scale_bar(&s, 200, 50);
    photo(&s);
    return end(&s);
}

static enum mb_rc draw_ammonite(const char *name, const char *number)
{
    struct scene s;

    begin(&s, name, number, 720, 720);
    for (int turn = 0; turn < 3; turn++) {
        struct ring whorl = { .count = 0 };
        double radius = 280 - 85 * turn;

        for (int i = 0; i < 60; i++)
            put(&whorl, 360 + radius * cos(i * M_PI / 30) * (1 + 0.02 * (i % 2)),
                340 + radius * sin(i * M_PI / 30) * (1 + 0.02 * (i % 2)));
        ink(&s, &whorl, turn % 2 ? putty : bone, true);
    }
    scale_bar(&s, 200, 100);
    photo(&s);
    return end(&s);
}

/* A card or paper with lines of writing; `marks` of them are signatures. */
static enum mb_rc draw_paper(const char *name, const char *const *lines, int marks)
{
    const struct mb_fill card = { .pattern = MB_PATTERN_SOLID, .ink = white };
    const struct mb_stroke frame = { .width_mm = 2, .ink = edge };
    const struct mb_stroke pen = { .width_mm = 3, .ink = blue };
    double y = 40;
    struct scene s;

    begin(&s, name, "", 900, 560);
    mb_canvas_rect(s.canvas, 20, 20, 860, 520, &card, &frame);
    for (; *lines; lines++, y += 44)
        say(&s, *lines, 50, y, 24, black);
    for (int k = 0; k < marks; k++) {
        struct mb_mm stroke[24];

        for (int i = 0; i < 24; i++)
            stroke[i] = (struct mb_mm){ 80 + 400 * k + 10 * i,
                                        450 + 22 * sin(i * 1.3 + k) * cos(i * 0.4) };
        mb_canvas_polyline(s.canvas, stroke, 24, &pen);
    }
    photo(&s);
    return end(&s);
}

static enum mb_rc draw_papers(void)
{
    static const char *const label[] = { "Amonite", "Montana, 1974 (?)", "- Uncle R.", NULL };
    static const char *const lease[] = { "LEASE FOR COLLECTING", "between the owner of the ranch",
                                         "and Harrow & Vane Preparation",
                                         "from 1 April 2023 to 15 June 2024", "the cut east of the "
                                         "dry fork, fenced", NULL };
    static const char *const receipt[] = { "RECEIPT", "one slab, handed back after preparation",
                                           "nothing missing, nothing new to see", NULL };
    static const char *const permit[] = { "PERMIT, collecting of petrified wood",
                                          "25 lb and one piece a day, 250 lb a year",
                                          "not for sale", NULL };
    enum mb_rc rc = draw_paper("label", label, 0);

    if (!rc)
        rc = draw_paper("lease", lease, 2);
    if (!rc)
        rc = draw_paper("receipt", receipt, 2);
    return rc ? rc : draw_paper("permit", permit, 1);
}

int main(int argc, char **argv)
{
    enum mb_rc rc;

    if (argc != 2 || chdir(argv[1]) != 0) {
        fprintf(stderr, "usage: draw FOLDER\n");
        return 2;
    }
    rc = draw_slab();
    if (!rc)
        rc = draw_fish();
    if (!rc)
        rc = draw_skull();
    if (!rc)
        rc = draw_teeth("teeth", "24-0141", 80);
    if (!rc)
        rc = draw_ammonite("ammonite", "24-0201");
    if (!rc)
        rc = draw_ammonite("painted", "24-0160");
    if (!rc)
        rc = draw_papers();
    mb_canvas_shutdown();
    return (int)rc;
}
