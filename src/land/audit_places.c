/* Sites with what is drawn of them, and permissions against the days of collecting. */
#include "audit_priv.h"
#include "landwords.h"
#include "text.h"

enum { POINTS_MOST = 10000, POINTS_OF_A_SITE = 1000, DAYS_MOST = 10000 };

static const struct mb_str none = { NULL, 0 };

static mb_json *number(mb_arena *arena, double value, int places)
{
    mb_json *json = mb_json_string(arena, mb_arena_printf(arena, "%.*f", places, value));

    json->type = MB_JSON_NUMBER;
    return json;
}

/* GeoJSON as it is recorded; nothing where there is none. */
static void put_shape(struct mb_audit *a, mb_json *out, const char *name, struct mb_str text)
{
    mb_json *shape = mb_land_shape(a->arena, text);

    if (shape)
        mb_json_put(a->arena, out, name, shape);
}

static void put_str(struct mb_audit *a, mb_json *out, const char *name, struct mb_str text)
{
    if (text.at)
        mb_json_put(a->arena, out, name, mb_json_string_str(a->arena, text));
}


/* ---- sites ---- */

struct drawing {
    mb_json *site;
    struct mb_str name;
    size_t points; /* of all sites so far */
};

static enum mb_rc put_parcels(struct mb_audit *a, mb_stmt *stmt, struct drawing *at,
                              struct mb_error *err)
{
    mb_json *list = mb_json_put(a->arena, at->site, "parcels", mb_json_array(a->arena));
    bool row = true;
    enum mb_rc rc;

    mb_bind_text(stmt, 1, at->name);
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        mb_json *one = mb_json_add(list, mb_json_object(a->arena));

        mb_json_put_int(a->arena, one, "seq", mb_col_int(stmt, 0));
        put_str(a, one, "category", mb_col_text(stmt, 1));
        put_shape(a, one, "area", mb_col_text(stmt, 2));
        put_str(a, one, "from", mb_col_text(stmt, 3));
        put_str(a, one, "until", mb_col_text(stmt, 4));
    }
    return rc;
}

static enum mb_rc put_areas(struct mb_audit *a, mb_stmt *stmt, struct drawing *at,
                            struct mb_error *err)
{
    mb_json *list = mb_json_put(a->arena, at->site, "permissionAreas", mb_json_array(a->arena));
    bool row = true;
    enum mb_rc rc;

    mb_bind_text(stmt, 1, at->name);
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        mb_json *one = mb_json_add(list, mb_json_object(a->arena));

        put_str(a, one, "permission", mb_col_text(stmt, 0));
        put_shape(a, one, "area", mb_col_text(stmt, 1));
    }
    return rc;
}

static enum mb_rc put_points(struct mb_audit *a, mb_stmt *stmt, struct drawing *at,
                             struct mb_error *err)
{
    mb_json *list = mb_json_put(a->arena, at->site, "points", mb_json_array(a->arena));
    int64_t more = 0;
    bool row = true;
    enum mb_rc rc;

    mb_bind_text(stmt, 1, at->name);
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        double lat, lon, open;
        mb_json *one;

        if (list->count >= POINTS_OF_A_SITE || at->points >= POINTS_MOST) {
            more++;
            continue;
        }
        if (!mb_landsql_place(a->sql, mb_col_double(stmt, 2), mb_col_double(stmt, 3),
                              mb_col_text(stmt, 4), &lat, &lon, &open))
            continue;
        one = mb_json_add(list, mb_json_object(a->arena));
        put_str(a, one, "subject", mb_col_text(stmt, 0));
        mb_json_put_int(a->arena, one, "seq", mb_col_int(stmt, 1));
        mb_json_put(a->arena, one, "lat", number(a->arena, lat, 7));
        mb_json_put(a->arena, one, "lon", number(a->arena, lon, 7));
        if (mb_col_type(stmt, 5) != MB_COL_NULL)
            mb_json_put(a->arena, one, "uncertaintyM",
                        number(a->arena, mb_col_double(stmt, 5) + open, 1));
        put_str(a, one, "uncertaintyParts", mb_col_text(stmt, 6));
        at->points++;
    }
    if (more)
        mb_json_put_int(a->arena, at->site, "morePoints", more);
    return rc;
}

static const char *const site_sql[] = {
    "SELECT s.sub, s.site_name, s.boundary, (SELECT value FROM v_field f WHERE f.seq = s.seq"
    " AND f.name = 'boundarySource'), s.land_description FROM v_site s",
    "SELECT seq, category, area, from_date, until_date FROM v_land WHERE site = ?1 ORDER BY seq",
    "SELECT p.sub, p.area FROM v_permission_site s JOIN v_permission p ON p.sub = s.permission"
    " WHERE s.site = ?1 AND p.area LIKE '{%' UNION ALL SELECT c.permission, c.new_area"
    " FROM v_permission_site s JOIN v_permission_change c ON c.permission = s.permission"
    " WHERE s.site = ?1 AND c.new_area LIKE '{%'",
    "SELECT f.sub, f.seq, f.latitude, f.longitude, f.datum, f.radius_m, (SELECT value FROM"
    " v_field p WHERE p.seq = f.seq AND p.name = 'uncertaintyParts') FROM v_find f"
    " WHERE f.site = ?1 AND f.latitude IS NOT NULL AND f.longitude IS NOT NULL",
};

enum mb_rc mb_audit_sites(struct mb_audit *a, mb_json *out, struct mb_error *err)
{
    mb_stmt *stmt[4] = { NULL };
    struct drawing at = { .points = 0 };
    bool row = true;
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; !rc && i < 4; i++) {
        const char *only = i == 0   ? " WHERE s.sub IN (SELECT sub FROM v_scope)"
                           : i == 3 ? " AND f.sub IN (SELECT sub FROM v_scope)"
                                    : "";

        rc = mb_audit_ask_sql(a, mb_arena_printf(a->arena, "%s%s", site_sql[i],
                                                 a->scoped ? only : ""),
                              none, none, &stmt[i], err);
    }
    while (!rc && !(rc = mb_stmt_step(stmt[0], &row, err)) && row) {
        at.site = mb_json_add(out, mb_json_object(a->arena));
        at.name = mb_arena_str(a->arena, mb_col_text(stmt[0], 0));
        put_str(a, at.site, "site", at.name);
        put_str(a, at.site, "name", mb_col_text(stmt[0], 1));
        put_shape(a, at.site, "boundary", mb_col_text(stmt[0], 2));
        put_str(a, at.site, "source", mb_col_text(stmt[0], 3));
        put_str(a, at.site, "landDescription", mb_col_text(stmt[0], 4));
        if (mb_col_text(stmt[0], 4).at)
            mb_json_put(a->arena, at.site, "landRead",
                        mb_json_copy(a->arena, mb_landwords(a->arena, mb_col_text(stmt[0], 4))));
        rc = put_parcels(a, stmt[1], &at, err);
        if (!rc)
            rc = put_areas(a, stmt[2], &at, err);
        if (!rc)
            rc = put_points(a, stmt[3], &at, err);
    }
    for (size_t i = 0; i < 4; i++)
        mb_stmt_free(stmt[i]);
    return rc;
}

/* ---- timeline ---- */

static enum mb_rc put_changes(struct mb_audit *a, mb_stmt *stmt, struct mb_str permission,
                              mb_json *out, struct mb_error *err)
{
    mb_json *list = mb_json_put(a->arena, out, "changes", mb_json_array(a->arena));
    bool row = true;
    enum mb_rc rc;

    mb_bind_text(stmt, 1, permission);
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        mb_json *one = mb_json_add(list, mb_json_object(a->arena));

        put_str(a, one, "what", mb_col_text(stmt, 0));
        put_str(a, one, "from", mb_col_text(stmt, 1));
        put_str(a, one, "until", mb_col_text(stmt, 2));
        mb_json_put_int(a->arena, one, "seq", mb_col_int(stmt, 3));
    }
    return rc;
}

static enum mb_rc put_days(struct mb_audit *a, mb_stmt *stmt, struct mb_str permission,
                           size_t *days, mb_json *out, struct mb_error *err)
{
    mb_json *list = mb_json_put(a->arena, out, "days", mb_json_array(a->arena));
    int64_t more = 0;
    bool row = true;
    enum mb_rc rc;

    mb_bind_text(stmt, 1, permission);
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        mb_json *one;

        if (*days >= DAYS_MOST) {
            more++;
            continue;
        }
        one = mb_json_add(list, mb_json_object(a->arena));
        put_str(a, one, "day", mb_col_text(stmt, 0));
        mb_json_put_int(a->arena, one, "finds", mb_col_int(stmt, 1));
        ++*days;
    }
    if (more)
        mb_json_put_int(a->arena, out, "moreDays", more);
    return rc;
}

enum mb_rc mb_audit_timeline(struct mb_audit *a, mb_json *out, struct mb_error *err)
{
    static const char *const sql[] = {
        "SELECT sub, valid_from, valid_until FROM v_permission",
        "SELECT what, from_date, coalesce(new_until, until_date), seq FROM v_permission_change"
        " WHERE permission = ?1 ORDER BY from_day, seq",
        "SELECT event_date, count(*) FROM v_find WHERE permission = ?1 GROUP BY event_date"
        " ORDER BY min(day_first)",
    };
    mb_stmt *stmt[3] = { NULL };
    size_t days = 0;
    bool row = true;
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; !rc && i < 3; i++)
        rc = mb_audit_ask_sql(a,
                              mb_arena_printf(a->arena, "%s%s", sql[i],
                                              !i && a->scoped
                                                  ? " WHERE sub IN (SELECT sub FROM v_scope)"
                                                  : ""),
                              none, none, &stmt[i], err);
    while (!rc && !(rc = mb_stmt_step(stmt[0], &row, err)) && row) {
        mb_json *one = mb_json_add(out, mb_json_object(a->arena));
        struct mb_str permission = mb_arena_str(a->arena, mb_col_text(stmt[0], 0));

        put_str(a, one, "permission", permission);
        put_str(a, one, "from", mb_col_text(stmt[0], 1));
        put_str(a, one, "until", mb_col_text(stmt[0], 2));
        rc = put_changes(a, stmt[1], permission, one, err);
        if (!rc)
            rc = put_days(a, stmt[2], permission, &days, one, err);
    }
    for (size_t i = 0; i < 3; i++)
        mb_stmt_free(stmt[i]);
    return rc;
}
