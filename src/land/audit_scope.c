/* What is looked at: everything, or the pieces that the limits leave, with what they rest on. */
#include <string.h>

#include "audit_priv.h"
#include "date.h"
#include "text.h"

static const struct mb_str none = { NULL, 0 };

/* "S001" or "site/S001", as it is written in the ledger; MB_REFUSED where there is none. */
static enum mb_rc full_name(struct mb_audit *a, const char *kind, const char *given,
                            struct mb_str *out, struct mb_error *err)
{
    const char *name = strchr(given, '/') ? given : mb_arena_printf(a->arena, "%s/%s", kind, given);
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc = mb_audit_ask_sql(a, "SELECT sub FROM v_subject WHERE sub = ?1 AND prefix = ?2",
                                     mb_str_of(name), mb_str_of(kind), &stmt, err);

    if (!rc)
        rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row)
        *out = mb_arena_str(a->arena, mb_col_text(stmt, 0));
    mb_stmt_free(stmt);
    if (!rc && !row)
        return mb_fail(err, MB_REFUSED, "there is no %s in this ledger", name);
    return rc;
}

/* Pieces that came out of others: for all, or from those in v_scope. */
static enum mb_rc fill_derived(struct mb_audit *a, struct mb_error *err)
{
    return mb_audit_do(
        a,
        mb_arena_printf(
            a->arena,
            "INSERT OR IGNORE INTO v_derived WITH RECURSIVE up(sub, root) AS ("
            " SELECT child, parent FROM v_link WHERE how IN ('division', 'joining')"
            " AND parent IS NOT NULL AND child IS NOT NULL%s"
            " UNION SELECT up.sub, l.parent FROM up JOIN v_link l ON l.child = up.root"
            " WHERE l.how IN ('division', 'joining') AND l.parent IS NOT NULL)"
            " SELECT sub, root FROM up WHERE sub <> root",
            a->scoped ? " AND child IN (SELECT sub FROM v_scope)" : ""),
        none, none, NULL, err);
}

/* The names in v_scope, where they are few enough to be bound one by one. */
static enum mb_rc list_scope(struct mb_audit *a, struct mb_error *err)
{
    mb_stmt *stmt = NULL;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(a->db, "SELECT sub FROM v_scope", &stmt, err);

    a->few_count = 0;
    while (!rc && a->few_count <= FEW_NAMES && !(rc = mb_stmt_step(stmt, &row, err)) && row) {
        if (a->few_count < FEW_NAMES)
            a->few[a->few_count] = mb_arena_str(a->arena, mb_col_text(stmt, 0));
        a->few_count++;
    }
    mb_stmt_free(stmt);
    return rc;
}

/* What the pieces in v_scope rest on: pieces they came out of, their finds' permissions, sites and
 * field-days. */
static enum mb_rc widen(struct mb_audit *a, struct mb_error *err)
{
    static const char *const more[] = {
        "INSERT OR IGNORE INTO v_scope SELECT root FROM v_derived",
        "INSERT OR IGNORE INTO v_scope SELECT f.permission FROM v_scope s CROSS JOIN v_find f"
        " ON f.sub = s.sub WHERE f.permission LIKE 'permission/%'",
        "INSERT OR IGNORE INTO v_scope SELECT f.site FROM v_scope s CROSS JOIN v_find f"
        " ON f.sub = s.sub WHERE f.site IS NOT NULL",
        "INSERT OR IGNORE INTO v_scope SELECT a.stated_site FROM v_scope s CROSS JOIN v_arrival a"
        " ON a.sub = s.sub WHERE a.stated_site IS NOT NULL",
        "INSERT OR IGNORE INTO v_scope SELECT f.field_day FROM v_scope s CROSS JOIN v_find f"
        " ON f.sub = s.sub WHERE f.field_day IS NOT NULL",
        "INSERT OR IGNORE INTO v_scope SELECT c.party FROM v_scope s CROSS JOIN v_find f"
        " ON f.sub = s.sub CROSS JOIN v_collector c ON c.seq = f.seq WHERE c.party LIKE 'party/%'",
    };
    enum mb_rc rc = fill_derived(a, err);

    for (size_t i = 0; !rc && i < sizeof more / sizeof *more; i++)
        rc = mb_audit_do(a, more[i], none, none, NULL, err);
    if (!rc)
        rc = list_scope(a, err);
    return rc ? rc : mb_audit_fill(a, err);
}

/* ---- limits ---- */

struct limit {
    const char *kind;
    const char *test; /* of specimen s; ?1 is the limit */
};

static const struct limit by_site = {
    "site", "s.site = ?1 OR EXISTS (SELECT 1 FROM v_find f WHERE f.sub = s.sub AND f.site = ?1)"
};
static const struct limit by_permission = {
    "permission", "s.permission = ?1 OR EXISTS (SELECT 1 FROM v_find f WHERE f.sub = s.sub"
                  " AND f.permission = ?1)"
};
static const struct limit by_specimen = { "specimen", "s.sub = ?1" };
static const struct limit by_party = {
    "party",
    "EXISTS (SELECT 1 FROM v_find f JOIN v_collector c ON c.seq = f.seq WHERE f.sub = s.sub"
    " AND (c.party = ?1 OR f.found_by = ?1))"
    " OR EXISTS (SELECT 1 FROM v_holder h WHERE h.sub = s.sub AND h.party = ?1)"
    " OR EXISTS (SELECT 1 FROM v_owner o WHERE o.sub = s.sub AND o.party = ?1)"
    " OR EXISTS (SELECT 1 FROM v_permission p WHERE p.sub = s.permission"
    " AND ?1 IN (p.grantor, p.holder, p.repository))"
    " OR EXISTS (SELECT 1 FROM v_land l WHERE l.site = s.site"
    " AND ?1 IN (l.surface_owner, l.land_manager, l.fossil_owner))"
};

static const struct limit by_agency = {
    "party",
    "EXISTS (SELECT 1 FROM v_land l WHERE l.site = s.site AND l.land_manager = ?1)"
    " OR EXISTS (SELECT 1 FROM v_permission p WHERE p.sub = s.permission AND p.grantor = ?1"
    " AND p.grantor_capacity = 'agency officer')"
};

/* Keeps in v_scope what passes the test too. */
static enum mb_rc keep(struct mb_audit *a, const struct limit *limit, const char *given,
                       struct mb_str *name, struct mb_error *err)
{
    enum mb_rc rc = full_name(a, limit->kind, given, name, err);

    if (rc)
        return rc;
    return mb_audit_do(a,
                       mb_arena_printf(a->arena,
                                       "DELETE FROM v_scope WHERE sub NOT IN (SELECT s.sub FROM"
                                       " v_specimen s WHERE %s)",
                                       limit->test),
                       *name, none, NULL, err);
}

static enum mb_rc keep_days(struct mb_audit *a, struct mb_error *err)
{
    struct mb_days from = { -999999, -999999 }, until = { 999999, 999999 };

    if (a->ask->from && !mb_days_read(mb_str_of(a->ask->from), &from))
        return mb_fail(err, MB_REFUSED, "'%s' is no day such as 2024-06-01", a->ask->from);
    if (a->ask->until && !mb_days_read(mb_str_of(a->ask->until), &until))
        return mb_fail(err, MB_REFUSED, "'%s' is no day such as 2024-06-30", a->ask->until);
    if (until.last < from.first)
        return mb_fail(err, MB_REFUSED, "the days asked for run backwards: %s to %s", a->ask->from,
                       a->ask->until);
    return mb_audit_do(
        a,
        mb_arena_printf(
            a->arena,
            "DELETE FROM v_scope WHERE NOT EXISTS (SELECT 1 FROM v_specimen s WHERE s.sub ="
            " v_scope.sub AND s.event_day_last >= %d AND s.event_day_first <= %d)"
            " AND NOT EXISTS (SELECT 1 FROM v_custody c WHERE c.sub = v_scope.sub"
            " AND (c.handed_day BETWEEN %d AND %d OR c.received_day BETWEEN %d AND %d))"
            " AND NOT EXISTS (SELECT 1 FROM v_certificate t WHERE t.sub = v_scope.sub"
            " AND t.audience = 'buyer' AND t.day BETWEEN %d AND %d)"
            " AND NOT EXISTS (SELECT 1 FROM v_title t WHERE t.sub = v_scope.sub"
            " AND t.day BETWEEN %d AND %d)",
            from.first, until.last, from.first, until.last, from.first, until.last, from.first,
            until.last, from.first, until.last),
        none, none, NULL, err);
}

static enum mb_rc add_to_scope(struct mb_audit *a, struct mb_str name, struct mb_error *err)
{
    return mb_audit_do(a, "INSERT OR IGNORE INTO v_scope VALUES (?1)", name, none, NULL, err);
}

/* A site or permission that is asked for is looked at even where nothing was found under it. */
static enum mb_rc add_asked(struct mb_audit *a, struct mb_str site, struct mb_str permission,
                            struct mb_str party, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    if (site.at)
        rc = add_to_scope(a, site, err);
    if (!rc && site.at && !permission.at)
        rc = mb_audit_do(a,
                         "INSERT OR IGNORE INTO v_scope SELECT permission FROM v_permission_site"
                         " WHERE site = ?1",
                         site, none, NULL, err);
    if (!rc && permission.at)
        rc = add_to_scope(a, permission, err);
    if (!rc && permission.at && !site.at)
        rc = mb_audit_do(a,
                         "INSERT OR IGNORE INTO v_scope SELECT site FROM v_permission_site"
                         " WHERE permission = ?1 AND site IS NOT NULL",
                         permission, none, NULL, err);
    if (!rc && party.at && !permission.at && !site.at)
        rc = mb_audit_do(a,
                         "INSERT OR IGNORE INTO v_scope SELECT sub FROM v_permission"
                         " WHERE ?1 IN (grantor, holder, repository)",
                         party, none, NULL, err);
    return rc;
}

/* As v_scope stands for a single specimen, the common case, it is not filled with all first. */
static enum mb_rc begin_scope(struct mb_audit *a, struct mb_error *err)
{
    struct mb_str name = none;
    enum mb_rc rc = MB_OK;

    if (!a->ask->specimen)
        return mb_audit_do(a, "INSERT INTO v_scope SELECT sub FROM v_specimen", none, none, NULL,
                           err);
    rc = full_name(a, "specimen", a->ask->specimen, &name, err);
    return rc ? rc : add_to_scope(a, name, err);
}

enum mb_rc mb_audit_scope(struct mb_audit *a, struct mb_error *err)
{
    const struct mb_audit_ask *ask = a->ask;
    struct mb_str site = none, permission = none, party = none, specimen = none, agency = none;
    enum mb_rc rc = MB_OK;

    a->scoped = ask->site || ask->permission || ask->specimen || ask->party || ask->agency
                || ask->from || ask->until;
    if (!a->scoped) {
        rc = mb_audit_do(a, "SELECT count(*) FROM v_specimen", none, none, &a->specimens, err);
        if (!rc)
            rc = fill_derived(a, err);
        return rc ? rc : mb_audit_fill(a, err);
    }
    rc = begin_scope(a, err);
    if (!rc && ask->specimen)
        rc = keep(a, &by_specimen, ask->specimen, &specimen, err);
    if (!rc && ask->site)
        rc = keep(a, &by_site, ask->site, &site, err);
    if (!rc && ask->permission)
        rc = keep(a, &by_permission, ask->permission, &permission, err);
    if (!rc && ask->party)
        rc = keep(a, &by_party, ask->party, &party, err);
    if (!rc && ask->agency)
        rc = keep(a, &by_agency, ask->agency, &agency, err);
    if (!rc && (ask->from || ask->until))
        rc = keep_days(a, err);
    if (!rc)
        rc = mb_audit_do(a, "SELECT count(*) FROM v_scope", none, none, &a->specimens, err);
    if (!rc)
        rc = add_asked(a, site, permission, party, err);
    if (!rc && agency.at && !site.at && !permission.at)
        rc = mb_audit_do(a,
                         "INSERT OR IGNORE INTO v_scope SELECT site FROM v_land WHERE"
                         " land_manager = ?1 UNION SELECT sub FROM v_permission WHERE grantor = ?1"
                         " AND grantor_capacity = 'agency officer'",
                         agency, none, NULL, err);
    return rc ? rc : widen(a, err);
}

enum mb_rc mb_audit_scope_one(struct mb_audit *a, struct mb_str specimen, struct mb_error *err)
{
    static const char *const empty[] = {
        "DELETE FROM v_scope",    "DELETE FROM v_derived", "DELETE FROM v_season",
        "DELETE FROM v_planned",  "DELETE FROM v_ground",  "DELETE FROM v_span",
        "DELETE FROM v_stop",     "DELETE FROM v_casual",  "DELETE FROM v_origin",
        "DELETE FROM v_sale_act", "DELETE FROM v_limit",   "DELETE FROM v_addend",
    };
    enum mb_rc rc = MB_OK;

    a->scoped = true;
    for (size_t i = 0; !rc && i < sizeof empty / sizeof *empty; i++)
        rc = mb_audit_do(a, empty[i], none, none, NULL, err);
    if (!rc)
        rc = add_to_scope(a, specimen, err);
    if (!rc)
        rc = mb_audit_do(a,
                         "INSERT INTO v_planned SELECT ?1, day, 'a sale today' FROM v_today",
                         specimen, none, NULL, err);
    return rc ? rc : widen(a, err);
}

/* ---- telling ---- */

mb_json *mb_audit_scope_json(struct mb_audit *a)
{
    mb_json *out = mb_json_object(a->arena);
    const struct mb_audit_ask *ask = a->ask;
    const char *const pairs[][2] = {
        { "site", ask->site },   { "permission", ask->permission }, { "specimen", ask->specimen },
        { "party", ask->party }, { "agency", ask->agency },
        { "from", ask->from },             { "until", ask->until },
    };

    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        const char *value = pairs[i][1];

        if (value && i < 4 && !strchr(value, '/'))
            value = mb_arena_printf(a->arena, "%s/%s", pairs[i][0], value);
        if (value && i == 4 && !strchr(value, '/'))
            value = mb_arena_printf(a->arena, "party/%s", value);
        if (value)
            mb_json_put_text(a->arena, out, pairs[i][0], value);
    }
    if (!a->scoped)
        mb_json_put_bool(a->arena, out, "whole", true);
    return out;
}

enum mb_rc mb_audit_left_out(struct mb_audit *a, mb_json *out, struct mb_error *err)
{
    static const struct {
        const char *category, *prefix;
    } kinds[] = { { "specimens and lots", "specimen" }, { "sites", "site" },
                  { "permissions", "permission" },      { "field-days", "field-day" } };
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; a->scoped && !rc && i < sizeof kinds / sizeof *kinds; i++) {
        int64_t count = 0;

        rc = mb_audit_do(a,
                         "SELECT count(*) FROM v_subject WHERE prefix = ?1 AND sub NOT IN"
                         " (SELECT sub FROM v_scope)",
                         mb_str_of(kinds[i].prefix), none, &count, err);
        if (!rc && count) {
            mb_json *one = mb_json_add(out, mb_json_object(a->arena));

            mb_json_put_text(a->arena, one, "category", kinds[i].category);
            mb_json_put_int(a->arena, one, "count", count);
        }
    }
    return rc;
}

/* ---- what else is in it ---- */

enum { STRUCK_MOST = 2000 };

enum mb_rc mb_audit_struck_out(struct mb_audit *a, mb_json *out, struct mb_error *err)
{
    static const char sql[] =
        "SELECT e.seq, e.sub, e.kind, e.event_date, e.voided_by FROM v_entry e"
        " WHERE e.voided_by IS NOT NULL%s ORDER BY e.seq LIMIT %d";
    static const char looked_at[] =
        " AND (e.sub IN (SELECT sub FROM v_scope) OR EXISTS (SELECT 1 FROM v_field f"
        " WHERE f.seq = e.seq AND f.name IN ('site', 'permission')"
        " AND f.value IN (SELECT sub FROM v_scope)))";
    mb_stmt *row = NULL;
    bool there = true;
    enum mb_rc rc = mb_audit_ask_sql(a,
                                     mb_arena_printf(a->arena, sql, a->scoped ? looked_at : "",
                                                     STRUCK_MOST),
                                     none, none, &row, err);

    while (!rc && !(rc = mb_stmt_step(row, &there, err)) && there) {
        mb_json *one = mb_json_add(out, mb_json_object(a->arena));
        struct mb_str day = mb_col_text(row, 3);

        mb_json_put_int(a->arena, one, "seq", mb_col_int(row, 0));
        mb_json_put(a->arena, one, "subject", mb_json_string_str(a->arena, mb_col_text(row, 1)));
        mb_json_put(a->arena, one, "kind", mb_json_string_str(a->arena, mb_col_text(row, 2)));
        if (day.at)
            mb_json_put(a->arena, one, "day", mb_json_string_str(a->arena, day));
        mb_json_put_int(a->arena, one, "struckOutBy", mb_col_int(row, 4));
    }
    mb_stmt_free(row);
    return rc;
}

enum mb_rc mb_audit_contains(struct mb_audit *a, mb_json *out, struct mb_error *err)
{
    static const struct {
        const char *name, *sql;
    } counts[] = {
        { "lots", "SELECT count(*) FROM v_specimen WHERE object_form = 'lot'" },
        { "divisions", "SELECT count(*) FROM v_division WHERE 1" },
        { "joinings", "SELECT count(*) FROM v_joining WHERE side = 'whole'" },
        { "losses", "SELECT count(*) FROM v_loss WHERE nature <> 'recovered'" },
    };
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; !rc && i < sizeof counts / sizeof *counts; i++) {
        mb_json *one = mb_json_add(out, mb_json_object(a->arena));
        int64_t count = 0;

        rc = mb_audit_do(a,
                         mb_arena_printf(a->arena, "%s%s", counts[i].sql,
                                         a->scoped ? " AND sub IN (SELECT sub FROM v_scope)" : ""),
                         none, none, &count, err);
        mb_json_put_text(a->arena, one, "what", counts[i].name);
        mb_json_put_int(a->arena, one, "count", count);
    }
    return rc;
}
