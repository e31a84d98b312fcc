/* `list`: what there is of each sort, a query and its headings for each. */
#include <markerbed/show.h>

#include <string.h>

#include "answer_rows.h"
#include "kinds.h"
#include "rows.h"
#include "text.h"
#include "views.h"

enum { COLUMNS_MOST = 10 };

/* The ID alone, and who somebody is, in SQL. */
#define ID(column) "substr(" column ", instr(" column ", '/') + 1)"
#define REF(column) "iif(" column " GLOB '*/*', " ID(column) ", " column ")"
#define NAME(column) "(SELECT label FROM v_subject n WHERE n.sub = " column ")"
#define WHO(column, label) "coalesce(" NAME(column) ", " REF(column) ", " label ")"
#define FINDS(column) "(SELECT count(*) FROM v_specimen f WHERE f." column " = x.sub)"
#define DAY(column) "date(" column " * 86400, 'unixepoch')"

static const struct list {
    const char *name, *sql;
    const char *titles[COLUMNS_MOST];
} lists[] = {
    { "specimens",
      "SELECT id, what, object_form, quantity_now, " REF("site") ", event_date, "
      WHO("holder", "holder_label") ", " WHO("owner", "owner_label") ", status"
      " FROM v_specimen x ORDER BY first_seq",
      { "number", "what it is", "form", "pieces", "place", "found", "held by", "owner",
        "state" } },
    { "lots",
      "SELECT x.id, x.what, b.quantity_in, b.quantity_out, b.quantity_counted, b.quantity_now,"
      " iif(b.overdrawn, 'overdrawn', '')"
      " FROM v_lot_balance b JOIN v_specimen x USING (sub) ORDER BY x.first_seq",
      { "number", "what it is", "in", "out", "by counting", "now", "" } },
    { "sites",
      "SELECT " ID("sub") ", site_name, county, state, country,"
      " (SELECT l.category FROM v_land l WHERE l.site = x.sub ORDER BY l.from_day DESC, l.seq DESC"
      " LIMIT 1), " FINDS("site") " FROM v_site x ORDER BY sub",
      { "number", "name", "county", "state", "country", "land", "finds" } },
    { "horizons",
      "SELECT " ID("sub") ", layer_name, formation, member, bed, earliest_stage, latest_stage,"
      " (SELECT count(*) FROM v_specimen f WHERE f.horizon = x.sub)"
      " FROM v_horizon x ORDER BY sub",
      { "number", "name", "formation", "member", "bed", "age from", "age to", "finds" } },
    { "permissions",
      "SELECT " ID("sub") ", permission_type, " WHO("grantor", "NULL") ", "
      WHO("holder_now", "NULL") ", valid_from, until_now, last_change, sale_allowed,"
      " (SELECT count(*) FROM v_specimen f WHERE f.permission = x.sub)"
      " FROM v_permission x ORDER BY sub",
      { "number", "what it is", "given by", "to", "from", "until", "last change", "sale",
        "finds" } },
    { "parties",
      "SELECT " ID("sub") ", name, party_type, role, named_to, neutral_label"
      " FROM v_party x ORDER BY sub",
      { "number", "name", "what", "role", "named to", "else called" } },
    { "field-days",
      "SELECT " ID("sub") ", event_date, " REF("site") ", " REF("permission") ","
      " (SELECT group_concat(w, ', ') FROM (SELECT " WHO("p.party", "NULL") " AS w"
      " FROM v_present p WHERE p.field_day = x.sub ORDER BY p.n)),"
      " (SELECT count(*) FROM v_specimen f WHERE f.field_day = x.sub)"
      " FROM v_field_day x ORDER BY sub",
      { "number", "day", "place", "permission", "present", "finds" } },
    { "dealings",
      "SELECT " ID("sub") ", dealing_type, opened, due_back,"
      " (SELECT group_concat(w, ', ') FROM (SELECT " WHO("p.party", "NULL") " AS w"
      " FROM v_dealing_party p WHERE p.dealing = x.sub ORDER BY p.n)),"
      " (SELECT count(*) FROM v_dealing_piece p WHERE p.dealing = x.sub), status"
      " FROM v_dealing x ORDER BY sub",
      { "number", "what it is", "opened", "due back", "with", "pieces", "state" } },
    { "places",
      "SELECT " ID("x.sub") ", x.place_name, x.store, " REF("w.place") ", coalesce(c.pieces, 0)"
      " FROM v_place x LEFT JOIN v_where w ON w.sub = x.sub"
      " LEFT JOIN (SELECT place, count(*) AS pieces FROM v_where GROUP BY place) c"
      " ON c.place = x.sub ORDER BY x.sub",
      { "number", "name", "state", "stands in", "holds" } },
    { "certificates",
      "SELECT '#' || seq, " ID("sub") ", audience, " WHO("to_party", "NULL") ", " DAY("day") ","
      " CASE WHEN withdrawn_by IS NOT NULL THEN 'withdrawn, entry #' || withdrawn_by"
      " || coalesce(': ' || withdrawn_why, '')"
      " WHEN replaced_by IS NOT NULL THEN 'replaced by entry #' || replaced_by"
      " ELSE 'stands' END"
      " FROM v_certificate x ORDER BY seq",
      { "entry", "specimen", "for", "made out to", "issued", "state" } },
    { "keys",
      "SELECT kid, " WHO("holder", "NULL") ", may, '#' || enrolled, '#' || retired,"
      " retired_why, '#' || suspect_from FROM v_key x ORDER BY enrolled, kid",
      { "key", "holder", "may record", "added by", "retired by", "why", "in doubt from" } },
};

static enum mb_rc list_kinds(mb_arena *arena, const mb_json **out)
{
    static const char *const titles[] = { "kind", "what it tells", "about" };
    mb_json *answer = mb_json_object(arena), *columns = mb_json_array(arena);
    mb_json *rows = mb_json_array(arena);

    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++)
        mb_json_add_text(arena, columns, titles[i]);
    for (size_t i = 0; i < mb_kinds_count(); i++) {
        const struct mb_kind *kind = mb_kinds_at(i);
        mb_json *row = mb_json_add(rows, mb_json_array(arena));

        mb_json_add(row, mb_json_string_str(arena, kind->name));
        mb_json_add_text(arena, row, kind->title);
        mb_json_add_text(arena, row,
                         mb_kinds_join(arena, kind->subjects.at, kind->subjects.count,
                                       kind->subjects.count));
    }
    mb_json_put(arena, answer, "columns", columns);
    mb_json_put(arena, answer, "rows", rows);
    *out = answer;
    return MB_OK;
}

static enum mb_rc no_list(mb_arena *arena, const char *what, struct mb_error *err)
{
    const char *names[sizeof lists / sizeof *lists + 1], *near;
    size_t count = 0;

    for (; count < sizeof lists / sizeof *lists; count++)
        names[count] = lists[count].name;
    names[count++] = "kinds";
    near = mb_nearest(mb_str_of(what), names, count);
    return mb_fail(err, MB_REFUSED, "there is no list of '%s'%s%s%s; there are %s", what,
                   near ? ", did you mean '" : "", near ? near : "", near ? "'?" : "",
                   mb_kinds_join(arena, names, count, count));
}

static const struct list *list_named(const char *what)
{
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++)
        if (strcmp(what, lists[i].name) == 0)
            return &lists[i];
    return NULL;
}

enum mb_rc mb_list_rows(mb_ledger *ledger, mb_arena *arena, const char *what, const char *as_of,
                        mb_rows **out, struct mb_error *err)
{
    const struct list *list = list_named(what);
    const mb_json *kinds;
    enum mb_rc rc;

    if (strcmp(what, "kinds") == 0) {
        rc = list_kinds(arena, &kinds);
        *out = mb_rows_of_answer(arena, kinds);
        return rc;
    }
    if (!list)
        return no_list(arena, what, err);
    return mb_rows_of_list(ledger, arena, as_of, list->sql, list->titles, out, err);
}

enum mb_rc mb_list(mb_ledger *ledger, mb_arena *arena, const char *what, const char *as_of,
                   const mb_json **out, struct mb_error *err)
{
    struct mb_views views = { NULL, false };
    const struct list *list = list_named(what);
    mb_stmt *stmt = NULL;
    enum mb_rc rc;

    if (strcmp(what, "kinds") == 0)
        return list_kinds(arena, out);
    if (!list)
        return no_list(arena, what, err);
    rc = mb_views_begin(ledger, as_of, &views, err);
    if (!rc)
        rc = mb_stmt_make(views.db, list->sql, &stmt, err);
    if (!rc)
        rc = mb_answer_rows(arena, stmt, list->titles, true, out, err);
    mb_stmt_free(stmt);
    mb_views_end(&views);
    return rc;
}
