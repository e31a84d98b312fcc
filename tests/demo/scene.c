#include "scene.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "camera.h"
#include "fileio.h"
#include "measure.h"
#include "text.h"

enum { LINE_PX = 2, MARK_WIDTH = 480, MARK_HEIGHT = 360 };

const struct mb_ink scene_paper = { 0xF7F4EC, 0 }, scene_black = { 0x151515, 0 };
const struct mb_ink scene_white = { 0xFFFFFF, 0 }, scene_edge = { 0x8C8472, 0 };
const struct mb_ink scene_bone = { 0x6B5440, 0 };

/* ---- outlines ---- */

void scene_corner(struct ring *ring, double x, double y)
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

static struct mb_mm seen_at(const struct scene *s, struct corner corner)
{
    return (struct mb_mm){ (corner.x - s->left) * s->zoom, (corner.y - s->top) * s->zoom };
}

void scene_ink(struct scene *s, const struct ring *ring, struct mb_ink colour, bool edged)
{
    struct mb_mm points[CORNERS_MAX];
    const struct mb_mm_ring line = { points, (size_t)ring->count };
    const struct mb_fill fill = { .pattern = MB_PATTERN_SOLID, .ink = colour };
    const struct mb_stroke stroke = { .width_mm = 3 * s->zoom, .ink = scene_edge };

    for (int i = 0; i < ring->count; i++)
        points[i] = seen_at(s, ring->at[i]);
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

void scene_individual(struct scene *s, const char *label, const char *name, const char *association,
                      const char *setting, const struct ring *ring)
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
    scene_ink(s, ring, scene_bone, false);
}

void scene_region(struct scene *s, const char *label, const char *substance,
                  const struct ring *ring, struct mb_ink colour)
{
    mb_json *told = mb_json_add(s->regions, mb_json_object(s->arena));

    mb_json_put_text(s->arena, told, "individual", label);
    mb_json_put_text(s->arena, told, "substance", substance);
    mb_json_put(s->arena, told, "outline", corners_of(s->arena, ring));
    remember(s, label, substance, ring);
    scene_ink(s, ring, colour, false);
}

void scene_join(struct scene *s, const char *through, const char *cause, const struct ring *line)
{
    mb_json *told = mb_json_add(s->joins, mb_json_object(s->arena));
    const struct mb_stroke stroke = { .width_mm = 2 * s->zoom, .ink = scene_edge };

    mb_json_put_text(s->arena, told, "through", through);
    mb_json_put_text(s->arena, told, "cause", cause);
    mb_json_put_text(s->arena, told, "adhesive", "acrylic copolymer resin");
    mb_json_put(s->arena, told, "line", corners_of(s->arena, line));
    for (int i = 1; i < line->count; i++) {
        struct mb_mm from = seen_at(s, line->at[i - 1]), to = seen_at(s, line->at[i]);

        mb_canvas_line(s->canvas, from.x, from.y, to.x, to.y, &stroke);
    }
}

/* ---- from begin to end ---- */

void scene_begin(struct scene *s, const char *name, const char *number, int width, int height)
{
    const struct mb_canvas_setup setup = {
        .form = MB_CANVAS_PNG, .width_mm = width, .height_mm = height, .dpi = 25.4
    }; /* a millimetre is a pixel */
    const struct mb_fill ground = { .pattern = MB_PATTERN_SOLID, .ink = scene_paper };

    *s = (struct scene){
        .arena = mb_arena_new(), .name = name, .number = number, .view = "front", .width = width,
        .height = height, .zoom = 1
    };
    s->individuals = mb_json_array(s->arena);
    s->specimens = mb_json_array(s->arena);
    s->regions = mb_json_array(s->arena);
    s->joins = mb_json_array(s->arena);
    s->rc = mb_canvas_open(&setup, &s->canvas, &s->err);
    if (!s->rc)
        mb_canvas_rect(s->canvas, 0, 0, width, height, &ground, NULL);
}

void scene_say(struct scene *s, const char *text, double x, double y, double size,
               struct mb_ink colour)
{
    const struct mb_type type = { .size_pt = size * 72 / 25.4, .weight = 700, .ink = colour };

    if (!s->rc)
        s->rc =
            mb_canvas_text(s->canvas, &type, mb_str_of(text), x, y, s->width - x, NULL, &s->err);
}

/* A bar of bar_px that stands for bar_mm, in five fields, and the piece's number. */
void scene_scale(struct scene *s, int bar_px, int bar_mm)
{
    const struct mb_fill dark = { .pattern = MB_PATTERN_SOLID, .ink = scene_black };
    const struct mb_fill light = { .pattern = MB_PATTERN_SOLID, .ink = scene_white };
    int y = s->height - 30;

    for (int i = 0; i < 5; i++)
        mb_canvas_rect(s->canvas, 30 + bar_px / 5 * i, y, bar_px / 5, 12, i % 2 ? &light : &dark,
                       NULL);
    scene_say(s, mb_arena_printf(s->arena, "%d mm", bar_mm), 45 + bar_px, y - 5, 22, scene_black);
    scene_say(s, s->number, s->width - 140, y - 5, 22, scene_black);
    s->bar_px = bar_px;
    s->bar_mm = bar_mm;
}

static void save(struct scene *s, const char *ending, struct mb_str bytes)
{
    if (!s->rc)
        s->rc = mb_file_write(mb_arena_printf(s->arena, "%s.%s", s->name, ending), bytes, 0644,
                              &s->err);
}

void scene_photo(struct scene *s)
{
    struct mb_str png;

    if (!s->rc)
        s->rc = mb_canvas_finish(s->canvas, s->arena, &png, &s->err);
    if (!s->rc)
        save(s, "jpg", camera_jpeg(s->arena, png));
}

static mb_json *view_of(struct scene *s)
{
    mb_json *view = mb_json_object(s->arena);
    mb_json *taken = mb_json_object(s->arena), *bar = mb_json_object(s->arena);

    mb_json_put_text(s->arena, taken, "file", mb_arena_printf(s->arena, "%s.jpg", s->name));
    mb_json_put_int(s->arena, taken, "widthPx", s->width);
    mb_json_put_int(s->arena, taken, "heightPx", s->height);
    mb_json_put_int(s->arena, bar, "px", s->bar_px);
    mb_json_put_int(s->arena, bar, "mm", s->bar_mm);
    mb_json_put_text(s->arena, view, "name", s->view);
    mb_json_put(s->arena, view, "photo", taken);
    mb_json_put(s->arena, view, "scaleBar", bar);
    mb_json_put_int(s->arena, view, "lineWidthPx", LINE_PX);
    mb_json_put(s->arena, view, "specimens", s->specimens);
    mb_json_put(s->arena, view, "regions", s->regions);
    mb_json_put(s->arena, view, "joins", s->joins);
    return view;
}

static struct mb_str outlines_of(struct scene *const *views, int count, const char *unseen)
{
    mb_arena *arena = views[0]->arena;
    mb_json *all = mb_json_object(arena), *none = mb_json_array(arena);
    mb_json *list = mb_json_array(arena);

    for (int i = 0; i < count; i++)
        mb_json_add(list, view_of(views[i]));
    mb_json_add_text(arena, none, unseen);
    mb_json_put_text(arena, all, "format", "markerbed-outlines/1");
    mb_json_put(arena, all, "notExamined", none);
    mb_json_put(arena, all, "individuals", views[0]->individuals);
    mb_json_put(arena, all, "views", list);
    return mb_json_write_pretty(arena, all);
}

/* In square millimetres: the whole, what regions cover of it, and the part of one substance. */
struct known {
    double whole, covered, part;
};

static void know(struct known *sum, const struct scene *s, const char *label,
                 const char *substance)
{
    double scale = (double)s->bar_mm / s->bar_px;

    for (int i = 0; i < s->area_count; i++) {
        double area = (double)s->areas[i].twice_px / 2 * scale * scale;

        if (strcmp(s->areas[i].individual, label) != 0)
            continue;
        if (!s->areas[i].substance)
            sum->whole += area;
        else
            sum->covered += area;
        if (s->areas[i].substance && strcmp(s->areas[i].substance, substance) == 0)
            sum->part += area;
    }
}

/* What the share is in the views that a row names, by the areas that were drawn. */
static double known_percent(struct scene *const *views, int count, const char *label,
                            const char *substance, const char *seen)
{
    struct known sum = { 0, 0, 0 };

    for (int i = 0; i < count; i++)
        if (strstr(seen, views[i]->view))
            know(&sum, views[i], label, substance);
    if (strcmp(substance, "original") == 0)
        sum.part = sum.whole - sum.covered;
    return 100 * sum.part / sum.whole;
}

static void compare(struct scene *const *views, int count, const char *name, const mb_json *shares)
{
    struct scene *s = views[0];

    MB_JSON_EACH(row, shares) {
        const char *label = mb_json_cstr(s->arena, mb_json_get(row, "individual"));
        const char *substance = mb_json_cstr(s->arena, mb_json_get(row, "substance"));
        const char *percent = mb_json_cstr(s->arena, mb_json_get(row, "percent"));
        const char *seen = mb_json_cstr(s->arena, mb_json_get(row, "view"));
        double known = known_percent(views, count, label, substance, seen);

        printf("  %-6s %s %-12s %-9s measured %5s %%, drawn %.2f %%\n", name, label, seen,
               substance, percent, known);
        if (!s->rc && fabs(strtod(percent, NULL) - known) > 0.1)
            s->rc = mb_fail(&s->err, MB_NO, "%s: %s of %s is off", name, substance, label);
    }
}

/* Writes the outlines down, measures them and compares; gives what was measured, or NULL. */
static const mb_json *measure_all(struct scene *const *views, int count, const char *name,
                                  const char *unseen)
{
    struct scene *s = views[0];
    struct mb_str text = outlines_of(views, count, unseen);
    const struct mb_outlines *outlines;
    const struct mb_measured *result;
    const mb_json *told;

    if (!s->rc)
        s->rc = mb_outlines_read(s->arena, name, text, NULL, &outlines, &s->err);
    if (!s->rc) /* as the program itself writes them for a record */
        s->rc = mb_outlines_write(s->arena, outlines, &text, &s->err);
    if (!s->rc)
        s->rc = mb_file_write(mb_arena_printf(s->arena, "%s.outlines.json", name), text, 0644,
                              &s->err);
    if (!s->rc)
        s->rc = mb_measure(s->arena, outlines, &result, &s->err);
    if (s->rc)
        return NULL;
    told = mb_measure_json(s->arena, result);
    compare(views, count, name, mb_json_get(told, "shares"));
    return told;
}

void scene_measured_together(struct scene *const *views, int count, const char *name,
                             const char *unseen)
{
    measure_all(views, count, name, unseen);
}

void scene_measured(struct scene *s, const char *unseen)
{
    static const char *const lists[] = { "shares", "joins", "individuals" };
    struct scene *const one[] = { s };
    const mb_json *told = measure_all(one, 1, s->name, unseen);

    for (size_t i = 0; told && i < sizeof lists / sizeof *lists; i++)
        save(s, mb_arena_printf(s->arena, "%s.json", lists[i]),
             mb_json_write(s->arena, mb_json_get(told, lists[i])));
}

enum mb_rc scene_marks(const struct mark *marks, int count, void (*ink)(struct scene *s))
{
    enum mb_rc rc = MB_OK;

    for (int i = 0; i < count && !rc; i++) {
        struct scene s;

        scene_begin(&s, marks[i].name, "", MARK_WIDTH, MARK_HEIGHT);
        s.zoom = marks[i].zoom;
        s.left = marks[i].x - MARK_WIDTH / 2 / s.zoom;
        s.top = marks[i].y - MARK_HEIGHT / 2 / s.zoom;
        ink(&s);
        scene_photo(&s);
        rc = scene_end(&s);
    }
    return rc;
}

enum mb_rc scene_end(struct scene *s)
{
    enum mb_rc rc = s->rc;

    if (rc)
        fprintf(stderr, "draw: %s: %s\n", s->name, s->err.text);
    mb_canvas_close(s->canvas);
    mb_arena_free(s->arena);
    return rc;
}
