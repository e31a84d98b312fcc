/*
 * Maps of the sites, drawn from their own boundaries: no map server, no network. Equal area around
 * the middle of what is drawn, north up, at a round scale.
 */
#include "audit_page.h"

#include <math.h>
#include <string.h>

#include "decimal.h"
#include "earth.h"
#include "geojson.h"
#include "text.h"

#define MAP_HEIGHT_MM 112.0
#define FAR_TIMES 2.5 /* what lies so many widths of the ground away is told and not drawn */
#define LEAST_M 60.0  /* no map shows less */

enum { SHAPES_MAX = 64 };

enum role { BOUNDARY, PARCEL, AREA };

struct shape {
    enum role role;
    const char *label, *tag; /* in the legend; on the map */
    mb_geom *geom; /* degrees */
    struct mb_polygon *polygons;
    size_t count;
    unsigned pattern;
    bool far_off; /* not drawn */
};

struct point {
    const mb_json *json; /* the first of those at one place */
    unsigned count;
    double lat, lon, radius_m, x, y; /* metres from the middle */
    bool has_radius, drawn;
};

struct map {
    struct mb_audit_page *page;
    const mb_json *site;
    mb_geoms *geoms;
    mb_earth *earth;
    mb_plane *plane;
    struct shape shapes[SHAPES_MAX];
    size_t shape_count;
    struct point *points;
    size_t point_count;
    struct mb_box ground; /* metres, of what is drawn */
    double scale, x, y, width, height; /* mm; scale: mm a metre */
    const char *unread;
};

static const struct mb_stroke boundary_line = { .width_mm = 0.7, .ink = { 0x1A1A1A, 0 } };
/* Broad and grey: it is seen on both sides of a boundary that runs along it. */
static const struct mb_stroke area_line = { .width_mm = 2.2, .ink = { 0xB4B4B4, 0 } };
static const struct mb_stroke thin = { .width_mm = 0.2, .ink = { 0x1A1A1A, 0 } };

/* Patterns that stay apart on a copier. */
static const struct mb_fill parcel_fills[] = {
    { .pattern = MB_PATTERN_DOTS, .ink = { 0x303030, 0 }, .step_mm = 2.4, .line_mm = 0.22 },
    { .pattern = MB_PATTERN_LINES, .ink = { 0x303030, 0 }, .step_mm = 2.4, .line_mm = 0.18,
      .turn_degrees = 45 },
    { .pattern = MB_PATTERN_LINES, .ink = { 0x303030, 0 }, .step_mm = 2.4, .line_mm = 0.18,
      .turn_degrees = -45 },
    { .pattern = MB_PATTERN_CROSS, .ink = { 0x303030, 0 }, .step_mm = 3, .line_mm = 0.15 },
    { .pattern = MB_PATTERN_DASHES, .ink = { 0x303030, 0 }, .step_mm = 2, .line_mm = 0.2 },
    { .pattern = MB_PATTERN_RINGS, .ink = { 0x303030, 0 }, .step_mm = 3, .line_mm = 0.18 },
};
enum { PARCEL_FILLS = sizeof parcel_fills / sizeof *parcel_fills };

/* ---- reading ---- */

static double number_of(const mb_json *of, const char *name)
{
    const mb_json *value = mb_json_get(of, name);

    if (!value)
        return NAN;
    return value->type == MB_JSON_INTEGER ? (double)value->integer : mb_decimal_double(value->text);
}

static void take_shape(struct map *m, enum role role, const mb_json *geojson, const char *label,
                       const char *tag)
{
    struct shape *s = &m->shapes[m->shape_count];
    struct mb_error why = { 0 };
    unsigned parcels = 0;

    if (!geojson || geojson->type != MB_JSON_OBJECT || m->shape_count == SHAPES_MAX)
        return;
    if (mb_geojson_read(m->page->arena, m->geoms, geojson, &s->geom, &why)) {
        m->unread = mb_arena_printf(m->page->arena, "%s%s: %s. ", m->unread, label, why.text);
        return;
    }
    for (size_t i = 0; i < m->shape_count; i++)
        if (m->shapes[i].role == PARCEL && strcmp(m->shapes[i].label, label) == 0)
            parcels = m->shapes[i].pattern;
        else if (m->shapes[i].role == PARCEL && m->shapes[i].pattern >= parcels)
            parcels = m->shapes[i].pattern + 1;
    s->role = role;
    s->label = label;
    s->tag = tag;
    s->pattern = role == PARCEL ? parcels : 0;
    m->shape_count++;
}

static void take_shapes(struct map *m)
{
    m->unread = "";
    MB_JSON_EACH (parcel, mb_json_get(m->site, "parcels"))
        take_shape(m, PARCEL, mb_json_get(parcel, "area"),
                   mb_audit_text(m->page, parcel, "category"),
                   mb_audit_text(m->page, parcel, "category"));
    MB_JSON_EACH (area, mb_json_get(m->site, "permissionAreas"))
        take_shape(m, AREA, mb_json_get(area, "area"),
                   mb_audit_name(m->page, mb_json_get(area, "permission")),
                   mb_audit_short(m->page, mb_json_get(area, "permission")));
    take_shape(m, BOUNDARY, mb_json_get(m->site, "boundary"), "boundary of the site", "");
}

/* Finds at one place with one radius are one point. */
static void take_points(struct map *m)
{
    const mb_json *list = mb_json_get(m->site, "points");

    m->points = MB_ARRAY(m->page->arena, list ? list->count + 1 : 1, struct point);
    MB_JSON_EACH (json, list) {
        struct point p = { .json = json, .count = 1, .lat = number_of(json, "lat"),
                           .lon = number_of(json, "lon"),
                           .radius_m = number_of(json, "uncertaintyM") };
        bool known = false;

        p.has_radius = !isnan(p.radius_m);
        if (isnan(p.lat) || isnan(p.lon))
            continue;
        for (size_t i = 0; i < m->point_count && !known; i++) {
            struct point *other = &m->points[i];

            known = other->lat == p.lat && other->lon == p.lon
                    && other->has_radius == p.has_radius
                    && (!p.has_radius || other->radius_m == p.radius_m);
            if (known)
                other->count++;
        }
        if (!known)
            m->points[m->point_count++] = p;
    }
}

/* ---- laying it on the ground ---- */

static void hold(struct mb_box *box, double x, double y, bool *any)
{
    if (!*any)
        *box = (struct mb_box){ x, y, x, y };
    box->x_min = fmin(box->x_min, x);
    box->x_max = fmax(box->x_max, x);
    box->y_min = fmin(box->y_min, y);
    box->y_max = fmax(box->y_max, y);
    *any = true;
}

static bool degrees_box(struct map *m, struct mb_box *out)
{
    struct mb_box one;
    bool any = false;

    for (size_t i = 0; i < m->shape_count; i++)
        if (mb_geom_bounds(m->shapes[i].geom, &one)) {
            hold(out, one.x_min, one.y_min, &any);
            hold(out, one.x_max, one.y_max, &any);
        }
    for (size_t i = 0; i < m->point_count && !m->shape_count; i++)
        hold(out, m->points[i].lon, m->points[i].lat, &any);
    return any;
}

static enum mb_rc project(struct map *m, const struct mb_box *degrees, struct mb_error *err)
{
    struct mb_latlon middle = { (degrees->y_min + degrees->y_max) / 2,
                                remainder((degrees->x_min + degrees->x_max) / 2, 360) };
    double step = fmax(fmax(degrees->x_max - degrees->x_min, degrees->y_max - degrees->y_min) / 64,
                       1e-6);
    enum mb_rc rc = mb_plane_equal_area(m->earth, &mb_ellipsoid_wgs84, middle, &m->plane, err);

    for (size_t i = 0; i < m->shape_count && !rc; i++) {
        struct shape *s = &m->shapes[i];
        mb_geom *dense;

        rc = mb_geom_densified(s->geom, step, &dense, err);
        if (rc)
            return rc;
        mb_geom_polygons(m->page->arena, dense, &s->polygons, &s->count);
        for (size_t k = 0; k < s->count; k++)
            for (size_t ring = 0; ring < s->polygons[k].count; ring++) {
                const struct mb_ring *from = &s->polygons[k].rings[ring];
                struct mb_xy *to = MB_ARRAY(m->page->arena, from->count + 1, struct mb_xy);
                struct mb_ring *rings = MB_ARRAY(m->page->arena, s->polygons[k].count,
                                                 struct mb_ring);

                for (size_t c = 0; c < from->count; c++)
                    if (!mb_plane_there(m->plane,
                                        (struct mb_latlon){ from->at[c].y,
                                                            remainder(from->at[c].x, 360) },
                                        &to[c].x, &to[c].y))
                        return mb_fail(err, MB_UNABLE, "the ground is too wide for a map");
                memcpy(rings, s->polygons[k].rings, s->polygons[k].count * sizeof *rings);
                rings[ring] = (struct mb_ring){ to, from->count };
                s->polygons[k].rings = rings;
            }
    }
    for (size_t i = 0; i < m->point_count && !rc; i++)
        m->points[i].drawn = mb_plane_there(m->plane,
                                            (struct mb_latlon){ m->points[i].lat,
                                                                m->points[i].lon },
                                            &m->points[i].x, &m->points[i].y);
    return rc;
}

static bool box_of(const struct shape *s, struct mb_box *out)
{
    bool any = false;

    for (size_t k = 0; k < s->count; k++)
        for (size_t c = 0; c < s->polygons[k].rings[0].count; c++)
            hold(out, s->polygons[k].rings[0].at[c].x, s->polygons[k].rings[0].at[c].y, &any);
    return any;
}

/* The boundary, or where there is none the parcels, or else the areas of permissions. */
static bool frame_core(struct map *m)
{
    static const enum role order[] = { BOUNDARY, PARCEL, AREA };
    bool any = false;
    struct mb_box box;

    for (size_t r = 0; r < 3 && !any; r++)
        for (size_t i = 0; i < m->shape_count; i++)
            if (m->shapes[i].role == order[r] && box_of(&m->shapes[i], &box)) {
                hold(&m->ground, box.x_min, box.y_min, &any);
                hold(&m->ground, box.x_max, box.y_max, &any);
            }
    return any;
}

/* What the map has to hold, in metres: the ground, and of the rest what is not far off or huge. */
static void frame(struct map *m)
{
    bool any = frame_core(m);
    struct mb_box core = m->ground, box;
    double span = any ? fmax(core.x_max - core.x_min, core.y_max - core.y_min) : 0;
    double far_off = span * FAR_TIMES;

    for (size_t i = 0; i < m->shape_count; i++) {
        if (!box_of(&m->shapes[i], &box) || box.x_min > core.x_max + far_off
            || box.x_max < core.x_min - far_off || box.y_min > core.y_max + far_off
            || box.y_max < core.y_min - far_off) {
            m->shapes[i].far_off = true;
            continue;
        }
        hold(&m->ground, fmax(box.x_min, core.x_min - far_off),
             fmax(box.y_min, core.y_min - far_off), &any);
        hold(&m->ground, fmin(box.x_max, core.x_max + far_off),
             fmin(box.y_max, core.y_max + far_off), &any);
    }
    for (size_t i = 0; i < m->point_count; i++) {
        struct point *p = &m->points[i];
        double radius = p->has_radius ? p->radius_m : 0;

        if (span > 0 && (p->x > core.x_max + far_off || p->x < core.x_min - far_off
                         || p->y > core.y_max + far_off || p->y < core.y_min - far_off))
            p->drawn = false;
        if (!p->drawn)
            continue;
        if (span > 0)
            radius = fmin(radius, span);
        hold(&m->ground, p->x - radius, p->y - radius, &any);
        hold(&m->ground, p->x + radius, p->y + radius, &any);
    }
    if (m->ground.x_max - m->ground.x_min < LEAST_M
        && m->ground.y_max - m->ground.y_min < LEAST_M) {
        hold(&m->ground, m->ground.x_min - LEAST_M / 2, m->ground.y_min - LEAST_M / 2, &any);
        hold(&m->ground, m->ground.x_max + LEAST_M / 2, m->ground.y_max + LEAST_M / 2, &any);
    }
}

/* 1, 2, 2.5 or 5 times a power of ten. */
static double round_scale(double at_least)
{
    static const double steps[] = { 1, 2, 2.5, 5, 10 };
    double power = pow(10, floor(log10(at_least)));

    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        if (steps[i] * power >= at_least)
            return steps[i] * power;
    return 10 * power;
}

static double choose_scale(struct map *m)
{
    double wide = (m->ground.x_max - m->ground.x_min) * 1.08;
    double high = (m->ground.y_max - m->ground.y_min) * 1.08;
    double to_one = round_scale(fmax(wide * 1000 / (m->width - 14),
                                     high * 1000 / (MAP_HEIGHT_MM - 14)));

    m->scale = 1000 / to_one;
    m->height = fmin(MAP_HEIGHT_MM, fmax(high * m->scale + 14, 50));
    return to_one;
}

static struct mb_mm to_page(const struct map *m, double x, double y)
{
    double middle_x = (m->ground.x_min + m->ground.x_max) / 2;
    double middle_y = (m->ground.y_min + m->ground.y_max) / 2;

    return (struct mb_mm){ m->x + m->width / 2 + (x - middle_x) * m->scale,
                           m->y + m->height / 2 - (y - middle_y) * m->scale };
}

/* ---- drawing ---- */

static void draw_shape(struct map *m, const struct shape *s)
{
    const struct mb_fill *fill = s->role == PARCEL ? &parcel_fills[s->pattern % PARCEL_FILLS]
                                                   : NULL;
    const struct mb_stroke *line = s->role == BOUNDARY ? &boundary_line
                                   : s->role == AREA   ? &area_line
                                                       : &thin;

    for (size_t k = 0; k < s->count; k++) {
        const struct mb_polygon *polygon = &s->polygons[k];
        struct mb_mm_ring *rings = MB_ARRAY(m->page->arena, polygon->count, struct mb_mm_ring);

        for (size_t r = 0; r < polygon->count; r++) {
            struct mb_mm *at = MB_ARRAY(m->page->arena, polygon->rings[r].count + 1, struct mb_mm);

            for (size_t c = 0; c < polygon->rings[r].count; c++)
                at[c] = to_page(m, polygon->rings[r].at[c].x, polygon->rings[r].at[c].y);
            rings[r] = (struct mb_mm_ring){ at, polygon->rings[r].count };
        }
        mb_canvas_shape(m->page->r->canvas, rings, polygon->count, fill, line);
    }
}

static void label(struct map *m, const char *text, struct mb_mm at)
{
    const struct mb_type type = { .size_pt = 8, .ink = mb_report_black };
    const struct mb_fill white = { .pattern = MB_PATTERN_SOLID, .ink = { 0xFFFFFF, 0.1 } };
    mb_block *block;

    if (m->page->r->rc)
        return;
    m->page->r->rc = mb_block_new(m->page->r->canvas, &type, mb_str_of(text), 50, &block,
                                  m->page->r->err);
    if (m->page->r->rc)
        return;
    at.x = fmin(fmax(at.x, m->x + 1), m->x + m->width - mb_block_width(block) - 1);
    at.y = fmin(fmax(at.y, m->y + 1), m->y + m->height - mb_block_height(block) - 1);
    mb_canvas_rect(m->page->r->canvas, at.x - 0.5, at.y, mb_block_width(block) + 1,
                   mb_block_height(block), &white, NULL);
    mb_block_draw(block, at.x, at.y, INFINITY);
    mb_block_free(block);
}

static void label_ground(struct map *m)
{
    double down = 3; /* below the middle, the next one below the last */

    for (size_t i = 0; i < m->shape_count; i++) {
        struct mb_xy inner;
        double x, y;

        if (m->shapes[i].role != BOUNDARY && !m->shapes[i].far_off
            && mb_geom_inner_point(m->shapes[i].geom, &inner)
            && mb_plane_there(m->plane, (struct mb_latlon){ inner.y, remainder(inner.x, 360) }, &x,
                              &y)) {
            struct mb_mm at = to_page(m, x, y);

            if (m->shapes[i].role == PARCEL) {
                label(m, m->shapes[i].tag, (struct mb_mm){ at.x - 8, at.y - 2 });
            } else {
                label(m, m->shapes[i].tag, (struct mb_mm){ at.x - 8, at.y + down });
                down += 4;
            }
        }
    }
}

/* Numbered, as in the list below; a number that would lie on another is left to the list. */
static void draw_points(struct map *m)
{
    const struct mb_fill full = { .pattern = MB_PATTERN_SOLID, .ink = mb_report_black };
    struct mb_mm *labelled = MB_ARRAY(m->page->arena, m->point_count + 1, struct mb_mm);
    size_t count = 0;

    for (size_t i = 0; i < m->point_count; i++) {
        const struct point *p = &m->points[i];
        struct mb_mm at = to_page(m, p->x, p->y);
        bool free_of_others = true;

        if (!p->drawn)
            continue;
        mb_canvas_line(m->page->r->canvas, at.x - 1.4, at.y, at.x + 1.4, at.y, &thin);
        mb_canvas_line(m->page->r->canvas, at.x, at.y - 1.4, at.x, at.y + 1.4, &thin);
        if (p->has_radius) {
            mb_canvas_circle(m->page->r->canvas, at.x, at.y, 0.5, &full, NULL);
            mb_canvas_circle(m->page->r->canvas, at.x, at.y, p->radius_m * m->scale, NULL, &thin);
        }
        for (size_t k = 0; k < count && free_of_others; k++)
            free_of_others = fabs(labelled[k].x - at.x) > 5 || fabs(labelled[k].y - at.y) > 3.6;
        if (free_of_others) {
            labelled[count++] = at;
            label(m, mb_arena_printf(m->page->arena, "%zu", i + 1),
                  (struct mb_mm){ at.x + 1.6, at.y - 3.8 });
        }
    }
}

static void north(struct map *m)
{
    const struct mb_type type = { .size_pt = 9, .weight = 700, .ink = mb_report_black };
    const struct mb_fill full = { .pattern = MB_PATTERN_SOLID, .ink = mb_report_black };
    const struct mb_fill white = { .pattern = MB_PATTERN_SOLID, .ink = { 0xFFFFFF, 0 } };
    double x = m->x + m->width - 7, y = m->y + 6;
    struct mb_mm arrow[3] = { { x, y }, { x + 2, y + 8 }, { x - 2, y + 8 } };
    struct mb_mm_ring ring = { arrow, 3 };

    mb_canvas_rect(m->page->r->canvas, x - 3.5, m->y + 1, 7, 14, &white, NULL);
    mb_canvas_shape(m->page->r->canvas, &ring, 1, &full, NULL);
    mb_report_text(m->page->r, &type, "N", x - 1.3, m->y + 1.6, 6);
}

static void scale_bar(struct map *m, double to_one)
{
    const struct mb_type type = { .size_pt = 8, .ink = mb_report_black };
    const struct mb_fill full = { .pattern = MB_PATTERN_SOLID, .ink = mb_report_black };
    double metres = round_scale(18 / m->scale), mm, x = m->x, y = m->page->r->y + 1;

    metres = metres * m->scale > 60 ? metres / 2 : metres;
    mm = metres * m->scale;
    mb_canvas_rect(m->page->r->canvas, x, y, mm / 2, 1.4, &full, &thin);
    mb_canvas_rect(m->page->r->canvas, x + mm / 2, y, mm / 2, 1.4, NULL, &thin);
    mb_report_text(m->page->r, &type,
                   mb_arena_printf(m->page->arena, "%g %s (%.0f ft) · scale 1 : %.0f · WGS 84,"
                                   " equal area, north up", metres >= 1000 ? metres / 1000 : metres,
                                   metres >= 1000 ? "km" : "m", metres / 0.3048, to_one),
                   x + mm + 3, y - 0.9, m->width - mm - 4);
    m->page->r->y = y + 5;
}

static void key(struct map *m, const char *text, const struct mb_fill *fill,
                const struct mb_stroke *stroke)
{
    const struct mb_type type = { .size_pt = 8, .ink = mb_report_black };
    double height;

    mb_report_need(m->page->r, 6);
    if (stroke == &area_line)
        mb_canvas_line(m->page->r->canvas, m->x, m->page->r->y + 2, m->x + 9, m->page->r->y + 2,
                       stroke);
    else
        mb_canvas_rect(m->page->r->canvas, m->x, m->page->r->y + 0.3, 9, 3.4, fill, stroke);
    height = mb_report_text(m->page->r, &type, text, m->x + 11, m->page->r->y, m->width - 12);
    m->page->r->y += fmax(height, 4) + 0.7;
}

static void legend(struct map *m)
{
    for (size_t i = 0; i < m->shape_count; i++) {
        const struct shape *s = &m->shapes[i];
        bool told = false;

        for (size_t k = 0; k < i && !told; k++)
            told = m->shapes[k].role == s->role && strcmp(m->shapes[k].label, s->label) == 0;
        if (told)
            continue;
        if (s->role == PARCEL)
            key(m, mb_arena_printf(m->page->arena, "land: %s%s", s->label,
                                   s->far_off ? ": far from this map, and not on it" : ""),
                &parcel_fills[s->pattern % PARCEL_FILLS], &thin);
        else if (s->role == AREA)
            key(m, mb_arena_printf(m->page->arena, "area of permission %s%s", s->label,
                                   s->far_off ? ": far from this map, and not on it" : ""), NULL,
                &area_line);
        else
            key(m, s->label, NULL, &boundary_line);
    }
}

/* ---- a site ---- */

static const char *how_far(const struct map *m, const struct point *p)
{
    double dx = fmax(fmax(m->ground.x_min - p->x, p->x - m->ground.x_max), 0);
    double dy = fmax(fmax(m->ground.y_min - p->y, p->y - m->ground.y_max), 0);

    return mb_arena_printf(m->page->arena, "no: about %.3g km off the map", hypot(dx, dy) / 1000);
}

static void list_points(struct map *m)
{
    static const double shares[] = { 0.5, 2.4, 2.2, 1.6, 1.4 };
    static const char *const head[] = { "No.", "Find", "Latitude, longitude", "Uncertainty",
                                        "Drawn" };
    const struct mb_report_table table = { 5, shares, head };
    int64_t more = mb_json_int(mb_json_get(m->site, "morePoints"), 0);

    if (!m->point_count)
        return;
    mb_report_table_begin(m->page->r, &table);
    for (size_t i = 0; i < m->point_count; i++) {
        const struct point *p = &m->points[i];
        const char *find = mb_audit_short(m->page, mb_json_get(p->json, "subject"));

        if (p->count > 1)
            find = mb_arena_printf(m->page->arena, "%s and %u more", find, p->count - 1);
        mb_report_table_row(
            m->page->r, &table,
            (const char *const[]){
                mb_arena_printf(m->page->arena, "%zu", i + 1), find,
                mb_arena_printf(m->page->arena, "%.5f, %.5f", p->lat, p->lon),
                p->has_radius ? mb_arena_printf(m->page->arena, "within %g m", p->radius_m)
                              : "not recorded",
                p->drawn ? (p->has_radius ? "cross and circle" : "cross alone")
                         : how_far(m, p) });
    }
    mb_report_table_end(m->page->r);
    if (more)
        mb_report_small(m->page->r, mb_arena_printf(m->page->arena, "%lld further points are on"
                                                    " record and not drawn, for their number.",
                                                    (long long)more));
}

static void draw_map(struct map *m, double to_one)
{
    m->x = MB_REPORT_MARGIN_MM;
    m->y = m->page->r->y;
    mb_canvas_clip(m->page->r->canvas, m->x, m->y, m->width, m->height);
    for (size_t i = 0; i < m->shape_count; i++)
        if (!m->shapes[i].far_off)
            draw_shape(m, &m->shapes[i]);
    label_ground(m);
    draw_points(m);
    north(m);
    mb_canvas_pop(m->page->r->canvas);
    mb_canvas_rect(m->page->r->canvas, m->x, m->y, m->width, m->height, NULL, &thin);
    m->page->r->y = m->y + m->height + 2;
    scale_bar(m, to_one);
    legend(m);
}

/* The description as written and as it was read; it is never drawn. */
static void say_land(struct map *m)
{
    const char *words = mb_audit_text(m->page, m->site, "landDescription");
    const mb_json *land = mb_json_get(m->site, "landRead");
    const char *read = mb_audit_text(m->page, land, "read");

    if (!*words)
        return;
    mb_report_small(m->page->r,
                    *read ? mb_arena_printf(m->page->arena, "Land description as written: %s. Read"
                                            " as: %s. %s", words, read,
                                            mb_audit_text(m->page, land, "caution"))
                          : mb_arena_printf(m->page->arena, "Land description as written: %s. It"
                                            " was not read as township, range and section.",
                                            words));
}

static void say_source(struct map *m)
{
    const char *source = mb_audit_text(m->page, m->site, "source");

    if (m->shape_count)
        mb_report_small(m->page->r,
                        mb_arena_printf(m->page->arena, "Boundaries as entered, from: %s; no survey"
                                        " was made. Parcels and areas of permissions as entered"
                                        " with them. A circle shows within what a find's place is"
                                        " known; touching a line counts as straddling it.",
                                        *source ? source : "a source not recorded"));
    if (*m->unread)
        mb_report_small(m->page->r, mb_arena_printf(m->page->arena, "Not drawn, because it could"
                                                    " not be read: %s", m->unread));
}

static bool anything_to_draw(const mb_json *site)
{
    const mb_json *lists[] = { mb_json_get(site, "parcels"), mb_json_get(site, "permissionAreas") };

    if (mb_json_get(site, "boundary")
        || (mb_json_get(site, "points") && mb_json_get(site, "points")->count))
        return true;
    for (size_t i = 0; i < 2; i++)
        MB_JSON_EACH (one, lists[i])
            if (mb_json_get(one, "area"))
                return true;
    return false;
}

static void heading(struct map *m, bool first)
{
    const char *name = mb_audit_text(m->page, m->site, "name");

    mb_report_need(m->page->r, m->height + (first ? 62 : 45));
    if (first)
        mb_report_section(m->page->r, "Places");
    mb_report_group(m->page->r, mb_arena_printf(m->page->arena, "%s%s%s",
                                                mb_audit_short(m->page,
                                                               mb_json_get(m->site, "site")),
                                                *name ? ": " : "", name));
}

static void one(struct mb_audit_page *page, const mb_json *site, bool first)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    MB_EARTH_AUTO mb_earth *earth = NULL;
    struct map m = { .page = page, .site = site, .geoms = geoms,
                     .width = mb_report_width(page->r) };
    struct mb_error why = { 0 };
    struct mb_box degrees;
    double to_one = 0;

    take_shapes(&m);
    take_points(&m);
    if (degrees_box(&m, &degrees) && !mb_earth_open(&earth, &why)) {
        m.earth = earth;
        if (!project(&m, &degrees, &why)) {
            frame(&m);
            to_one = choose_scale(&m);
        }
    }
    heading(&m, first);
    if (to_one > 0)
        draw_map(&m, to_one);
    if (why.code)
        mb_report_say(page->r, mb_arena_printf(page->arena, "No map could be drawn: %s.",
                                               why.text));
    say_source(&m);
    say_land(&m);
    list_points(&m);
}

void mb_audit_maps(struct mb_audit_page *page)
{
    const mb_json *sites = mb_json_get(page->audit, "sites");
    const char *without = "";
    bool first = true;

    MB_JSON_EACH (site, sites) {
        const char *name = mb_audit_text(page, site, "name");

        if (page->r->rc)
            return;
        if (anything_to_draw(site)) {
            one(page, site, first);
            first = false;
        } else
            without = mb_arena_printf(page->arena, "%s%s%s%s%s", without, *without ? "; " : "",
                                      mb_audit_short(page, mb_json_get(site, "site")),
                                      *name ? ", " : "", name);
    }
    if (*without) {
        if (first)
            mb_report_section(page->r, "Places");
        mb_report_group(page->r, "Nothing to draw");
        mb_report_say(page->r, mb_arena_printf(page->arena, "No boundary, and no point of a find,"
                                               " is on record for: %s.", without));
    }
}
