#include "geom.h"
#include "ring.h"

#include <geos_c.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define CHORDS_PER_QUARTER 32
#define CHORDS_COARSE 8
#define MEND_SHARE 1e-6 /* how much area mending after a move may change */

struct mb_geoms {
    GEOSContextHandle_t geos;
    mb_arena *arena; /* of the handles */
    mb_geom *live;   /* doubly linked, so that one can be freed early */
    mb_geom *spare;
    char said[200]; /* last complaint of GEOS */
};

struct mb_geom {
    mb_geoms *home;
    GEOSGeometry *shape;
    const GEOSPreparedGeometry *index;
    mb_geom *next, *prev;
};

static void heard(const char *message, void *context)
{
    mb_geoms *geoms = context;
    size_t len = strcspn(message, "\r\n");
    if (len >= sizeof geoms->said)
        len = sizeof geoms->said - 1;
    memcpy(geoms->said, message, len);
    geoms->said[len] = 0;
}

mb_geoms *mb_geoms_open(void)
{
    mb_arena *arena = mb_arena_new();
    mb_geoms *geoms = MB_NEW(arena, mb_geoms);
    geoms->arena = arena;
    geoms->geos = GEOS_init_r();
    if (!geoms->geos)
        abort();
    GEOSContext_setErrorMessageHandler_r(geoms->geos, heard, geoms);
    return geoms;
}

mb_geoms *mb_geoms_close(mb_geoms *geoms)
{
    if (!geoms)
        return NULL;
    while (geoms->live)
        mb_geom_free(geoms->live);
    GEOS_finish_r(geoms->geos);
    mb_arena_free(geoms->arena);
    return NULL;
}

void mb_geoms_done(mb_geoms **geoms)
{
    *geoms = mb_geoms_close(*geoms);
}

mb_geom *mb_geom_free(mb_geom *geom)
{
    if (!geom)
        return NULL;
    mb_geoms *home = geom->home;
    if (geom->index)
        GEOSPreparedGeom_destroy_r(home->geos, geom->index);
    GEOSGeom_destroy_r(home->geos, geom->shape);
    if (geom->prev)
        geom->prev->next = geom->next;
    else
        home->live = geom->next;
    if (geom->next)
        geom->next->prev = geom->prev;
    *geom = (mb_geom){ .next = home->spare };
    home->spare = geom;
    return NULL;
}

/* Takes the shape over. */
static mb_geom *keep(mb_geoms *home, GEOSGeometry *shape)
{
    mb_geom *geom = home->spare;
    if (geom)
        home->spare = geom->next;
    else
        geom = MB_NEW(home->arena, mb_geom);
    *geom = (mb_geom){ .home = home, .shape = shape, .next = home->live };
    if (home->live)
        home->live->prev = geom;
    home->live = geom;
    return geom;
}

static enum mb_rc gave_up(mb_geoms *home, const char *doing, struct mb_error *err)
{
    return mb_fail(err, MB_UNABLE, "the geometry library could not %s: %s", doing,
                   home->said[0] ? home->said : "no reason given");
}

/* ---- making ---------------------------------------------------------------------------------- */

static bool finite_xy(struct mb_xy at)
{
    return isfinite(at.x) && isfinite(at.y);
}

static GEOSCoordSequence *sequence(GEOSContextHandle_t geos, const struct mb_xy *at, size_t count)
{
    return GEOSCoordSeq_copyFromBuffer_r(geos, &at->x, (unsigned int)count, 0, 0);
}

/* One closed ring; NULL with the fault where it cannot be one. */
static GEOSGeometry *make_ring(mb_geoms *geoms, const struct mb_ring *ring, mb_arena *scratch,
                               struct mb_geom_fault *fault)
{
    struct mb_ring tidy;
    if (!mb_ring_tidy(scratch, *ring, &tidy, fault))
        return NULL;
    GEOSCoordSequence *points = sequence(geoms->geos, tidy.at, tidy.count);
    return points ? GEOSGeom_createLinearRing_r(geoms->geos, points) : NULL;
}

/* MB_OK, MB_NO with the fault, MB_UNABLE. */
static enum mb_rc check_shape(mb_geoms *geoms, const GEOSGeometry *shape,
                              struct mb_geom_fault *fault, struct mb_error *err)
{
    char *reason = NULL;
    GEOSGeometry *place = NULL;
    char sound = GEOSisValidDetail_r(geoms->geos, shape, 0, &reason, &place);
    if (sound == 0) {
        struct mb_xy at;
        bool known = place && GEOSGeomGetX_r(geoms->geos, place, &at.x) == 1 &&
                     GEOSGeomGetY_r(geoms->geos, place, &at.y) == 1;
        mb_ring_fault(reason ? reason : "", known ? &at : NULL, fault);
    }
    GEOSFree_r(geoms->geos, reason);
    GEOSGeom_destroy_r(geoms->geos, place);
    if (sound == 1)
        return MB_OK;
    return sound == 0 ? MB_NO : gave_up(geoms, "check an outline", err);
}

/* Builds and checks; *out is NULL unless MB_OK. */
static enum mb_rc build(mb_geoms *geoms, const struct mb_ring *rings, size_t count,
                        mb_arena *scratch, GEOSGeometry **out, struct mb_geom_fault *fault,
                        struct mb_error *err)
{
    *out = NULL;
    geoms->said[0] = 0;
    if (count == 0) {
        *fault = (struct mb_geom_fault){ .kind = MB_GEOM_TOO_FEW, .words = "has no corners" };
        return MB_NO;
    }
    GEOSGeometry **made = MB_ARRAY(scratch, count, GEOSGeometry *);
    for (size_t i = 0; i < count; i++) {
        made[i] = make_ring(geoms, &rings[i], scratch, fault);
        if (made[i])
            continue;
        while (i > 0)
            GEOSGeom_destroy_r(geoms->geos, made[--i]);
        return fault->kind ? MB_NO : gave_up(geoms, "make a ring", err);
    }
    GEOSGeometry *shape =
        GEOSGeom_createPolygon_r(geoms->geos, made[0], made + 1, (unsigned int)(count - 1));
    if (!shape)
        return gave_up(geoms, "make a polygon", err);
    enum mb_rc rc = check_shape(geoms, shape, fault, err);
    if (rc == MB_OK)
        *out = shape;
    else
        GEOSGeom_destroy_r(geoms->geos, shape);
    return rc;
}

enum mb_rc mb_geom_polygon(mb_geoms *geoms, const struct mb_ring *rings, size_t count,
                           mb_geom **out, struct mb_geom_fault *fault, struct mb_error *err)
{
    struct mb_geom_fault own = { .kind = MB_GEOM_SOUND };
    GEOSGeometry *shape;
    mb_arena *scratch = mb_arena_new();
    enum mb_rc rc = build(geoms, rings, count, scratch, &shape, &own, err);
    mb_arena_free(scratch);
    if (fault)
        *fault = own;
    if (rc == MB_OK)
        *out = keep(geoms, shape);
    else if (rc == MB_NO && own.has_place)
        rc = mb_fail(err, MB_REFUSED, "the outline %s at %.10g, %.10g", own.words, own.at.x,
                     own.at.y);
    else if (rc == MB_NO)
        rc = mb_fail(err, MB_REFUSED, "the outline %s", own.words);
    return rc;
}

enum mb_rc mb_geom_check(mb_geoms *geoms, const struct mb_ring *rings, size_t count,
                         struct mb_geom_fault *fault, struct mb_error *err)
{
    *fault = (struct mb_geom_fault){ .kind = MB_GEOM_SOUND };
    GEOSGeometry *shape;
    mb_arena *scratch = mb_arena_new();
    enum mb_rc rc = build(geoms, rings, count, scratch, &shape, fault, err);
    mb_arena_free(scratch);
    GEOSGeom_destroy_r(geoms->geos, shape);
    return rc;
}

enum mb_rc mb_geom_line(mb_geoms *geoms, const struct mb_xy *at, size_t count, mb_geom **out,
                        struct mb_error *err)
{
    for (size_t i = 0; i < count; i++)
        if (!finite_xy(at[i]))
            return mb_fail(err, MB_REFUSED, "point %zu of the line is no number", i + 1);
    mb_arena *scratch = mb_arena_new();
    struct mb_xy *points = MB_ARRAY(scratch, count + 1, struct mb_xy);
    size_t used = mb_ring_thin(at, count, points);
    GEOSCoordSequence *seq = used > 1 ? sequence(geoms->geos, points, used) : NULL;
    mb_arena_free(scratch);
    if (used < 2)
        return mb_fail(err, MB_REFUSED, "a line needs two different points");
    GEOSGeometry *shape = seq ? GEOSGeom_createLineString_r(geoms->geos, seq) : NULL;
    if (!shape)
        return gave_up(geoms, "make a line", err);
    *out = keep(geoms, shape);
    return MB_OK;
}

enum mb_rc mb_geom_point(mb_geoms *geoms, struct mb_xy at, mb_geom **out, struct mb_error *err)
{
    if (!finite_xy(at))
        return mb_fail(err, MB_REFUSED, "a point has a coordinate that is no number");
    GEOSGeometry *shape = GEOSGeom_createPointFromXY_r(geoms->geos, at.x, at.y);
    if (!shape)
        return gave_up(geoms, "make a point", err);
    *out = keep(geoms, shape);
    return MB_OK;
}

enum mb_rc mb_geom_rectangle(mb_geoms *geoms, struct mb_box box, mb_geom **out,
                             struct mb_error *err)
{
    struct mb_xy at[] = { { box.x_min, box.y_min },
                          { box.x_max, box.y_min },
                          { box.x_max, box.y_max },
                          { box.x_min, box.y_max } };
    return mb_geom_polygon(geoms, &(struct mb_ring){ at, 4 }, 1, out, NULL, err);
}

/* ---- combining ------------------------------------------------------------------------------- */

static int dimension(const mb_geom *geom)
{
    return GEOSGeom_getDimensions_r(geom->home->geos, geom->shape);
}

/* Collects copies of the simple parts of one dimension. */
static size_t gather(GEOSContextHandle_t geos, const GEOSGeometry *shape, int wanted,
                     GEOSGeometry **parts)
{
    int type = GEOSGeomTypeId_r(geos, shape);
    if (type == GEOS_POINT || type == GEOS_LINESTRING || type == GEOS_LINEARRING ||
        type == GEOS_POLYGON) {
        if (GEOSisEmpty_r(geos, shape) || GEOSGeom_getDimensions_r(geos, shape) != wanted)
            return 0;
        if (parts)
            *parts = GEOSGeom_clone_r(geos, shape);
        return 1;
    }
    size_t count = 0;
    for (int i = 0; i < GEOSGetNumGeometries_r(geos, shape); i++)
        count +=
            gather(geos, GEOSGetGeometryN_r(geos, shape, i), wanted, parts ? parts + count : NULL);
    return count;
}

/* Reduces a result to its parts of one dimension; takes shape over. */
static GEOSGeometry *only(mb_geoms *home, GEOSGeometry *shape, int wanted)
{
    GEOSContextHandle_t geos = home->geos;
    int type = shape ? GEOSGeomTypeId_r(geos, shape) : -1;
    if (!shape || (type != GEOS_GEOMETRYCOLLECTION && !GEOSisEmpty_r(geos, shape) &&
                   GEOSGeom_getDimensions_r(geos, shape) == wanted))
        return shape;
    static const int types[] = { GEOS_MULTIPOINT, GEOS_MULTILINESTRING, GEOS_MULTIPOLYGON };
    mb_arena *scratch = mb_arena_new();
    size_t count = gather(geos, shape, wanted, NULL);
    GEOSGeometry **parts = MB_ARRAY(scratch, count + 1, GEOSGeometry *);
    gather(geos, shape, wanted, parts);
    GEOSGeom_destroy_r(geos, shape);
    shape = GEOSGeom_createCollection_r(geos, types[wanted], parts, (unsigned int)count);
    mb_arena_free(scratch);
    return shape;
}

/* Hands a result out, or says that there is none. */
static enum mb_rc result(mb_geoms *home, GEOSGeometry *shape, const char *doing, mb_geom **out,
                         struct mb_error *err)
{
    if (!shape)
        return gave_up(home, doing, err);
    *out = keep(home, shape);
    return MB_OK;
}

static GEOSGeometry *nothing(mb_geoms *home)
{
    return GEOSGeom_createEmptyCollection_r(home->geos, GEOS_MULTIPOLYGON);
}

enum mb_rc mb_geom_union(mb_geoms *geoms, mb_geom *const *parts, size_t count, mb_geom **out,
                         struct mb_error *err)
{
    int wanted = -1;
    geoms->said[0] = 0;
    for (size_t i = 0; i < count; i++) {
        if (mb_geom_empty(parts[i]))
            continue;
        if (wanted >= 0 && dimension(parts[i]) != wanted)
            return mb_fail(err, MB_REFUSED,
                           "areas, lines and points cannot be united with each other");
        wanted = dimension(parts[i]);
    }
    if (wanted < 0)
        return result(geoms, nothing(geoms), "unite nothing", out, err);
    mb_arena *scratch = mb_arena_new();
    GEOSGeometry **copies = MB_ARRAY(scratch, count, GEOSGeometry *);
    for (size_t i = 0; i < count; i++)
        copies[i] = GEOSGeom_clone_r(geoms->geos, parts[i]->shape);
    GEOSGeometry *all = GEOSGeom_createCollection_r(geoms->geos, GEOS_GEOMETRYCOLLECTION, copies,
                                                    (unsigned int)count);
    mb_arena_free(scratch);
    GEOSGeometry *one = all ? GEOSUnaryUnion_r(geoms->geos, all) : NULL;
    GEOSGeom_destroy_r(geoms->geos, all);
    return result(geoms, only(geoms, one, wanted), "unite the parts", out, err);
}

enum mb_rc mb_geom_intersection(const mb_geom *a, const mb_geom *b, mb_geom **out,
                                struct mb_error *err)
{
    mb_geoms *home = a->home;
    home->said[0] = 0;
    if (mb_geom_empty(a) || mb_geom_empty(b))
        return result(home, nothing(home), "intersect", out, err);
    int low = dimension(a) < dimension(b) ? dimension(a) : dimension(b);
    GEOSGeometry *shape = GEOSIntersection_r(home->geos, a->shape, b->shape);
    if (shape && low == 1 && dimension(a) == dimension(b) &&
        GEOSGeom_getDimensions_r(home->geos, shape) == 0)
        low = 0;
    return result(home, only(home, shape, low), "intersect two shapes", out, err);
}

enum mb_rc mb_geom_difference(const mb_geom *a, const mb_geom *b, mb_geom **out,
                              struct mb_error *err)
{
    mb_geoms *home = a->home;
    home->said[0] = 0;
    if (mb_geom_empty(a) || mb_geom_empty(b))
        return result(home, GEOSGeom_clone_r(home->geos, a->shape), "copy", out, err);
    GEOSGeometry *shape = GEOSDifference_r(home->geos, a->shape, b->shape);
    return result(home, only(home, shape, dimension(a)), "take one shape off another", out, err);
}

static enum mb_rc buffer(const mb_geom *geom, double distance, int chords, mb_geom **out,
                         struct mb_error *err)
{
    mb_geoms *home = geom->home;
    home->said[0] = 0;
    if (!isfinite(distance))
        return mb_fail(err, MB_REFUSED, "the width round a shape is no number");
    GEOSGeometry *shape = GEOSBuffer_r(home->geos, geom->shape, distance, chords);
    return result(home, only(home, shape, 2), "widen a shape", out, err);
}

enum mb_rc mb_geom_buffer(const mb_geom *geom, double distance, mb_geom **out, struct mb_error *err)
{
    return buffer(geom, distance, CHORDS_PER_QUARTER, out, err);
}

enum mb_rc mb_geom_buffer_coarse(const mb_geom *geom, double distance, mb_geom **out,
                                 struct mb_error *err)
{
    return buffer(geom, distance, CHORDS_COARSE, out, err);
}

enum mb_rc mb_geom_clip(const mb_geom *geom, struct mb_box box, mb_geom **out, struct mb_error *err)
{
    mb_geoms *home = geom->home;
    home->said[0] = 0;
    if (mb_geom_empty(geom))
        return result(home, nothing(home), "clip", out, err);
    GEOSGeometry *shape = only(
        home, GEOSClipByRect_r(home->geos, geom->shape, box.x_min, box.y_min, box.x_max, box.y_max),
        dimension(geom));
    if (shape && GEOSisValid_r(home->geos, shape) == 1)
        return result(home, shape, "clip", out, err);
    /* The fast way may leave an unsound shape; then the slow one. */
    GEOSGeom_destroy_r(home->geos, shape);
    mb_geom *frame;
    enum mb_rc rc = mb_geom_rectangle(home, box, &frame, err);
    if (rc != MB_OK)
        return rc;
    rc = mb_geom_intersection(geom, frame, out, err);
    mb_geom_free(frame);
    return rc;
}

enum mb_rc mb_geom_boundary(const mb_geom *geom, mb_geom **out, struct mb_error *err)
{
    mb_geoms *home = geom->home;
    home->said[0] = 0;
    int wanted = mb_geom_empty(geom) ? 1 : dimension(geom) - 1;
    if (wanted < 0)
        wanted = 0;
    GEOSGeometry *shape = GEOSBoundary_r(home->geos, geom->shape);
    return result(home, only(home, shape, wanted), "find the boundary", out, err);
}

enum mb_rc mb_geom_densified(const mb_geom *geom, double step, mb_geom **out, struct mb_error *err)
{
    mb_geoms *home = geom->home;
    home->said[0] = 0;
    if (!(step > 0))
        return mb_fail(err, MB_REFUSED, "the longest edge of a shape must be longer than 0");
    GEOSGeometry *shape = mb_geom_empty(geom) ? GEOSGeom_clone_r(home->geos, geom->shape)
                                              : GEOSDensify_r(home->geos, geom->shape, step);
    return result(home, shape, "add corners to a shape", out, err);
}

struct moving {
    mb_geom_move move;
    void *context;
};

static int move_one(double *x, double *y, void *context)
{
    struct moving *moving = context;
    struct mb_xy at = { *x, *y };
    if (!moving->move(moving->context, &at) || !finite_xy(at))
        return 0;
    *x = at.x;
    *y = at.y;
    return 1;
}

/* Mends what rounding has made cross itself; takes shape over, NULL if that changes too much. */
static GEOSGeometry *mended(mb_geoms *home, GEOSGeometry *shape)
{
    double before = 0, after = 0;
    GEOSMakeValidParams *how = GEOSMakeValidParams_create_r(home->geos);
    GEOSMakeValidParams_setMethod_r(home->geos, how, GEOS_MAKE_VALID_STRUCTURE);
    GEOSGeometry *sound = only(home, GEOSMakeValidWithParams_r(home->geos, shape, how), 2);
    GEOSMakeValidParams_destroy_r(home->geos, how);
    GEOSArea_r(home->geos, shape, &before);
    if (sound)
        GEOSArea_r(home->geos, sound, &after);
    GEOSGeom_destroy_r(home->geos, shape);
    if (sound && fabs(after - before) <= MEND_SHARE * fabs(before))
        return sound;
    GEOSGeom_destroy_r(home->geos, sound);
    return NULL;
}

enum mb_rc mb_geom_moved(const mb_geom *geom, mb_geom_move move, void *context, mb_geom **out,
                         struct mb_error *err)
{
    mb_geoms *home = geom->home;
    struct moving moving = { move, context };
    home->said[0] = 0;
    GEOSGeometry *shape = GEOSGeom_transformXY_r(home->geos, geom->shape, move_one, &moving);
    if (!shape)
        return mb_fail(err, MB_REFUSED, "a corner lies where it cannot be projected");
    if (!mb_geom_empty(geom) && dimension(geom) == 2 && GEOSisValid_r(home->geos, shape) != 1)
        shape = mended(home, shape);
    return result(home, shape, "project an outline without changing it", out, err);
}

/* ---- measuring ------------------------------------------------------------------------------- */

bool mb_geom_empty(const mb_geom *geom)
{
    return GEOSisEmpty_r(geom->home->geos, geom->shape) != 0;
}

double mb_geom_area(const mb_geom *geom)
{
    double area = 0;
    return GEOSArea_r(geom->home->geos, geom->shape, &area) == 1 ? area : 0;
}

double mb_geom_length(const mb_geom *geom)
{
    double length = 0;
    return GEOSLength_r(geom->home->geos, geom->shape, &length) == 1 ? length : 0;
}

bool mb_geom_bounds(const mb_geom *geom, struct mb_box *out)
{
    return !mb_geom_empty(geom) && GEOSGeom_getExtent_r(geom->home->geos, geom->shape, &out->x_min,
                                                        &out->y_min, &out->x_max, &out->y_max) == 1;
}

/* Reads a point and destroys it. */
static bool take_point(mb_geoms *home, GEOSGeometry *point, struct mb_xy *out)
{
    bool there = point && !GEOSisEmpty_r(home->geos, point) &&
                 GEOSGeomGetX_r(home->geos, point, &out->x) == 1 &&
                 GEOSGeomGetY_r(home->geos, point, &out->y) == 1;
    GEOSGeom_destroy_r(home->geos, point);
    return there;
}

bool mb_geom_centroid(const mb_geom *geom, struct mb_xy *out)
{
    return take_point(geom->home, GEOSGetCentroid_r(geom->home->geos, geom->shape), out);
}

bool mb_geom_inner_point(const mb_geom *geom, struct mb_xy *out)
{
    return take_point(geom->home, GEOSPointOnSurface_r(geom->home->geos, geom->shape), out);
}

size_t mb_geom_corners(const mb_geom *geom)
{
    int count = GEOSGetNumCoordinates_r(geom->home->geos, geom->shape);
    return count > 0 ? (size_t)count : 0;
}

static enum mb_rc answer(mb_geoms *home, char said, struct mb_error *err)
{
    if (said == 1)
        return MB_OK;
    return said == 0 ? MB_NO : gave_up(home, "compare two shapes", err);
}

enum mb_rc mb_geom_contains(const mb_geom *a, const mb_geom *b, struct mb_error *err)
{
    return answer(a->home, GEOSContains_r(a->home->geos, a->shape, b->shape), err);
}

enum mb_rc mb_geom_covers(const mb_geom *a, const mb_geom *b, struct mb_error *err)
{
    return answer(a->home, GEOSCovers_r(a->home->geos, a->shape, b->shape), err);
}

enum mb_rc mb_geom_intersects(const mb_geom *a, const mb_geom *b, struct mb_error *err)
{
    return answer(a->home, GEOSIntersects_r(a->home->geos, a->shape, b->shape), err);
}

enum mb_rc mb_geom_touches(const mb_geom *a, const mb_geom *b, struct mb_error *err)
{
    return answer(a->home, GEOSTouches_r(a->home->geos, a->shape, b->shape), err);
}

enum mb_rc mb_geom_same(const mb_geom *a, const mb_geom *b, struct mb_error *err)
{
    return answer(a->home, GEOSEquals_r(a->home->geos, a->shape, b->shape), err);
}

enum mb_rc mb_geom_distance(const mb_geom *a, const mb_geom *b, double *out, struct mb_error *err)
{
    if (mb_geom_empty(a) || mb_geom_empty(b))
        return mb_fail(err, MB_REFUSED, "an empty shape has no distance to another");
    if (GEOSDistanceIndexed_r(a->home->geos, a->shape, b->shape, out) != 1)
        return gave_up(a->home, "measure a distance", err);
    return MB_OK;
}

static enum mb_rc with_index(mb_geom *geom, struct mb_error *err)
{
    if (!geom->index)
        geom->index = GEOSPrepare_r(geom->home->geos, geom->shape);
    return geom->index ? MB_OK : gave_up(geom->home, "index a shape", err);
}

enum mb_rc mb_geom_side_of(mb_geom *geom, struct mb_xy at, enum mb_geom_side *out,
                           struct mb_error *err)
{
    GEOSContextHandle_t geos = geom->home->geos;
    enum mb_rc rc = with_index(geom, err);
    if (rc != MB_OK)
        return rc;
    if (!finite_xy(at))
        return mb_fail(err, MB_REFUSED, "a point has a coordinate that is no number");
    GEOSGeometry *point = GEOSGeom_createPointFromXY_r(geos, at.x, at.y);
    char meets = point ? GEOSPreparedIntersects_r(geos, geom->index, point) : 2;
    char within = meets == 1 ? GEOSPreparedContains_r(geos, geom->index, point) : 0;
    GEOSGeom_destroy_r(geos, point);
    if (meets == 2 || within == 2)
        return gave_up(geom->home, "find a point's side", err);
    *out = within ? MB_GEOM_INSIDE : meets ? MB_GEOM_ON : MB_GEOM_OUTSIDE;
    return MB_OK;
}

enum mb_rc mb_geom_nearest(mb_geom *geom, struct mb_xy at, struct mb_xy *near, double *distance,
                           struct mb_error *err)
{
    GEOSContextHandle_t geos = geom->home->geos;
    if (mb_geom_empty(geom) || !finite_xy(at))
        return mb_fail(err, MB_REFUSED, "nothing is nearest in an empty shape or to no place");
    enum mb_rc rc = with_index(geom, err);
    if (rc != MB_OK)
        return rc;
    GEOSGeometry *point = GEOSGeom_createPointFromXY_r(geos, at.x, at.y);
    GEOSCoordSequence *pair = point ? GEOSPreparedNearestPoints_r(geos, geom->index, point) : NULL;
    bool there = pair && GEOSCoordSeq_getXY_r(geos, pair, 0, &near->x, &near->y) == 1;
    GEOSCoordSeq_destroy_r(geos, pair);
    GEOSGeom_destroy_r(geos, point);
    if (!there)
        return gave_up(geom->home, "find the nearest point", err);
    *distance = hypot(near->x - at.x, near->y - at.y);
    return MB_OK;
}

/* ---- taking apart ---------------------------------------------------------------------------- */

static struct mb_ring copy_points(mb_arena *arena, GEOSContextHandle_t geos,
                                  const GEOSGeometry *line)
{
    const GEOSCoordSequence *seq = GEOSGeom_getCoordSeq_r(geos, line);
    unsigned int count = 0;
    GEOSCoordSeq_getSize_r(geos, seq, &count);
    struct mb_xy *at = MB_ARRAY(arena, count, struct mb_xy);
    for (unsigned int i = 0; i < count; i++)
        GEOSCoordSeq_getXY_r(geos, seq, i, &at[i].x, &at[i].y);
    return (struct mb_ring){ at, count };
}

static struct mb_polygon copy_polygon(mb_arena *arena, GEOSContextHandle_t geos,
                                      const GEOSGeometry *shape)
{
    int holes = GEOSGetNumInteriorRings_r(geos, shape);
    struct mb_ring *rings = MB_ARRAY(arena, (size_t)holes + 1, struct mb_ring);
    rings[0] =
        mb_ring_turned(arena, copy_points(arena, geos, GEOSGetExteriorRing_r(geos, shape)), true);
    for (int i = 0; i < holes; i++)
        rings[i + 1] = mb_ring_turned(
            arena, copy_points(arena, geos, GEOSGetInteriorRingN_r(geos, shape, i)), false);
    return (struct mb_polygon){ rings, (size_t)holes + 1 };
}

void mb_geom_polygons(mb_arena *arena, const mb_geom *geom, struct mb_polygon **out, size_t *count)
{
    GEOSContextHandle_t geos = geom->home->geos;
    int parts = GEOSGetNumGeometries_r(geos, geom->shape);
    *count = 0;
    *out = MB_ARRAY(arena, (size_t)parts + 1, struct mb_polygon);
    for (int i = 0; i < parts; i++) {
        const GEOSGeometry *part = GEOSGetGeometryN_r(geos, geom->shape, i);
        if (GEOSGeomTypeId_r(geos, part) == GEOS_POLYGON && !GEOSisEmpty_r(geos, part))
            (*out)[(*count)++] = copy_polygon(arena, geos, part);
    }
}

void mb_geom_lines(mb_arena *arena, const mb_geom *geom, struct mb_ring **out, size_t *count)
{
    GEOSContextHandle_t geos = geom->home->geos;
    int parts = GEOSGetNumGeometries_r(geos, geom->shape);
    *count = 0;
    *out = MB_ARRAY(arena, (size_t)parts + 1, struct mb_ring);
    for (int i = 0; i < parts; i++) {
        const GEOSGeometry *part = GEOSGetGeometryN_r(geos, geom->shape, i);
        int type = GEOSGeomTypeId_r(geos, part);
        if ((type == GEOS_LINESTRING || type == GEOS_LINEARRING) && !GEOSisEmpty_r(geos, part))
            (*out)[(*count)++] = copy_points(arena, geos, part);
    }
}
