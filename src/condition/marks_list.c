#include "marks_list.h"

#include <math.h>

#include "text.h"

#define TICK_MM 0.9 /* to either side */
#define CASING_MM 0.35
#define PT_MM (25.4 / 72)

static struct mb_ink ink(uint32_t rgb, double fade)
{
    return (struct mb_ink){ .rgb = rgb, .fade = fade };
}

struct mb_fill mb_marks_fill(enum mb_substance substance)
{
    static const struct {
        enum mb_pattern pattern;
        double step, line, turn;
        double veil; /* how little of the photo it lets through */
    } looks[MB_SUBSTANCES] = {
        [MB_SUBSTANCE_ORIGINAL] = { MB_PATTERN_NONE, 0, 0, 0, 0 },
        [MB_SUBSTANCE_REPAIRED] = { MB_PATTERN_LINES, 2.6, 0.22, 60, 0.45 },
        [MB_SUBSTANCE_FILLED] = { MB_PATTERN_DOTS, 1.5, 0.32, 0, 0.60 },
        [MB_SUBSTANCE_RESTORED] = { MB_PATTERN_CROSS, 1.3, 0.26, 45, 0.70 },
        [MB_SUBSTANCE_REPLICA] = { MB_PATTERN_BRICKS, 1.5, 0.42, 0, 0.80 },
        [MB_SUBSTANCE_FOREIGN] = { MB_PATTERN_RINGS, 2.4, 0.3, 0, 0.65 },
        [MB_SUBSTANCE_UNEXAMINED] = { MB_PATTERN_DASHES, 2.2, 0.3, -35, 0.55 },
    };
    struct mb_fill fill = { .pattern = looks[substance].pattern,
                            .ink = ink(MB_MARKS_INK, 0),
                            .step_mm = looks[substance].step,
                            .line_mm = looks[substance].line,
                            .turn_degrees = looks[substance].turn };

    fill.ground = looks[substance].veil > 0;
    fill.ground_ink = ink(MB_MARKS_PAPER, 1 - looks[substance].veil);
    return fill;
}

struct mb_stroke mb_marks_edge(enum mb_surface surface)
{
    static const struct {
        double width, dash, gap;
    } looks[MB_SURFACES] = {
        [MB_SURFACE_BARE] = { 0.2, 0, 0 },          [MB_SURFACE_CONSOLIDATED] = { 0.5, 0.5, 1.0 },
        [MB_SURFACE_COATED] = { 0.35, 4.0, 1.0 },   [MB_SURFACE_INPAINTED] = { 0.5, 1.4, 0.9 },
        [MB_SURFACE_OVERPAINTED] = { 0.9, 1.4, 2 }, [MB_SURFACE_REWORKED] = { 0.9, 0, 0 },
    };

    return (struct mb_stroke){ .width_mm = looks[surface].width,
                               .ink = ink(MB_MARKS_INK, 0),
                               .dash_mm = looks[surface].dash,
                               .gap_mm = looks[surface].gap };
}

/* ---- marks ----------------------------------------------------------------------------------- */

static struct mb_mark *add(struct mb_mark_list *list, enum mb_mark_kind kind)
{
    struct mb_mark *mark = MB_NEW(list->arena, struct mb_mark);

    mark->kind = kind;
    if (list->last)
        list->last->next = mark;
    else
        list->first = mark;
    list->last = mark;
    return mark;
}

static void dress(struct mb_mark *mark, const struct mb_fill *fill, const struct mb_stroke *stroke)
{
    if (fill)
        mark->fill = *fill;
    if (stroke)
        mark->stroke = *stroke;
    mark->filled = fill != NULL;
    mark->stroked = stroke != NULL;
}

void mb_mark_area(struct mb_mark_list *list, const struct mb_mm_ring *rings, size_t count,
                  const struct mb_fill *fill, const struct mb_stroke *stroke)
{
    struct mb_mark *mark;

    if (count == 0)
        return;
    mark = add(list, MB_MARK_AREA);
    mark->rings = rings;
    mark->ring_count = count;
    dress(mark, fill, stroke);
}

void mb_mark_box(struct mb_mark_list *list, struct mb_mm_box box, const struct mb_fill *fill,
                 const struct mb_stroke *stroke)
{
    struct mb_mm *points = MB_ARRAY(list->arena, 4, struct mb_mm);
    struct mb_mm_ring *ring = MB_NEW(list->arena, struct mb_mm_ring);

    points[0] = (struct mb_mm){ box.x, box.y };
    points[1] = (struct mb_mm){ box.x + box.width, box.y };
    points[2] = (struct mb_mm){ box.x + box.width, box.y + box.height };
    points[3] = (struct mb_mm){ box.x, box.y + box.height };
    *ring = (struct mb_mm_ring){ points, 4 };
    mb_mark_area(list, ring, 1, fill, stroke);
}

static struct mb_stroke casing_of(const struct mb_stroke *stroke)
{
    return (struct mb_stroke){ .width_mm = stroke->width_mm + 2 * CASING_MM,
                               .ink = ink(MB_MARKS_PAPER, 0.2) };
}

void mb_mark_line(struct mb_mark_list *list, const struct mb_mm *points, size_t count,
                  const struct mb_stroke *stroke)
{
    struct mb_stroke casing = casing_of(stroke);

    for (int pass = 0; pass < 2; pass++) {
        struct mb_mark *mark = add(list, MB_MARK_LINE);

        mark->points = points;
        mark->point_count = count;
        dress(mark, NULL, pass ? stroke : &casing);
    }
}

void mb_mark_circle(struct mb_mark_list *list, struct mb_mm at, double radius_mm,
                    const struct mb_fill *fill, const struct mb_stroke *stroke)
{
    struct mb_mark *mark = add(list, MB_MARK_CIRCLE);

    mark->at = at;
    mark->radius_mm = radius_mm;
    dress(mark, fill, stroke);
}

static size_t letters(const char *text)
{
    struct mb_str rest = mb_str_of(text);
    size_t count = 0, len;
    uint32_t code;

    while ((len = mb_utf8_next(rest, &code)) > 0) {
        rest.at += len;
        rest.len -= len;
        count++;
    }
    return count;
}

void mb_mark_text(struct mb_mark_list *list, struct mb_mm at, const char *text, bool centred)
{
    double size = MB_MARKS_LETTERS_PT * PT_MM;
    double width = size * 0.62 * (double)letters(text) + size * 0.5, height = size * 1.3;
    struct mb_fill ground = { .pattern = MB_PATTERN_NONE,
                              .ground = true,
                              .ground_ink = ink(MB_MARKS_PAPER, 0.12) };
    struct mb_mark *mark;

    mb_mark_box(list,
                (struct mb_mm_box){ centred ? at.x - width / 2 : at.x - size * 0.25,
                                    at.y - height / 2, width, height },
                &ground, NULL);
    mark = add(list, MB_MARK_TEXT);
    mark->at = at;
    mark->text = text;
    mark->size_pt = MB_MARKS_LETTERS_PT;
    mark->centred = centred;
    mark->fill.ink = ink(MB_MARKS_INK, 0);
}

/* ---- joins ----------------------------------------------------------------------------------- */

/* One tick across (or to the right of) the way from a to b, at `part` of it. */
static void tick(struct mb_mark_list *list, struct mb_mm a, struct mb_mm b, double part,
                 enum mb_through through, const struct mb_stroke *stroke)
{
    double length = hypot(b.x - a.x, b.y - a.y);
    double nx = -(b.y - a.y) / length * TICK_MM, ny = (b.x - a.x) / length * TICK_MM;
    struct mb_mm at = { a.x + (b.x - a.x) * part, a.y + (b.y - a.y) * part };
    struct mb_mm *ends = MB_ARRAY(list->arena, 2, struct mb_mm);
    struct mb_mark *mark = add(list, MB_MARK_LINE);

    ends[0] = (struct mb_mm){ at.x + nx, at.y + ny };
    ends[1] = through == MB_THROUGH_BOTH ? at : (struct mb_mm){ at.x - nx, at.y - ny };
    mark->points = ends;
    mark->point_count = 2;
    dress(mark, NULL, stroke);
}

void mb_mark_join(struct mb_mark_list *list, const struct mb_mm *points, size_t count,
                  enum mb_through through, double every_mm)
{
    struct mb_stroke line = { .width_mm = 0.5, .ink = ink(MB_MARKS_INK, 0) };
    struct mb_stroke thin = { .width_mm = 0.35, .ink = ink(MB_MARKS_INK, 0) };
    double left = every_mm / 2; /* to the next tick */

    mb_mark_line(list, points, count, &line);
    if (through == MB_THROUGH_ROCK)
        return;
    for (size_t i = 0; i + 1 < count; i++) {
        double length = hypot(points[i + 1].x - points[i].x, points[i + 1].y - points[i].y);

        for (; length > 0 && left <= length; left += every_mm)
            tick(list, points[i], points[i + 1], left / length, through, &thin);
        left -= length;
    }
}

const struct mb_mark *mb_marks_sample(mb_arena *arena, enum mb_legend_kind kind, unsigned index,
                                      struct mb_mm_box box)
{
    struct mb_mark_list list = { .arena = arena };
    struct mb_stroke edge = { .width_mm = 0.25, .ink = ink(MB_MARKS_INK, 0) };
    struct mb_mm *points = MB_ARRAY(arena, 2, struct mb_mm);
    struct mb_fill fill;

    points[0] = (struct mb_mm){ box.x, box.y + box.height / 2 };
    points[1] = (struct mb_mm){ box.x + box.width, box.y + box.height / 2 };
    if (kind == MB_LEGEND_SUBSTANCE && index < MB_SUBSTANCES) {
        fill = mb_marks_fill((enum mb_substance)index);
        mb_mark_box(&list, box, &fill, &edge);
    } else if (kind == MB_LEGEND_SURFACE && index < MB_SURFACES) {
        edge = mb_marks_edge((enum mb_surface)index);
        mb_mark_box(&list, box, NULL, &edge);
    } else if (kind == MB_LEGEND_JOIN && index < MB_THROUGHS) {
        mb_mark_join(&list, points, 2, (enum mb_through)index, MB_MARKS_TICK_MM);
    }
    return list.first;
}
