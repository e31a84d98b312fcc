/* Lists and queries: rows of a view as {"columns","rows"}. */
#include <markerbed/show.h>

#include <string.h>

#include "kinds.h"
#include "text.h"
#include "views.h"

#define QUERY_SECONDS 30
#define ROWS_MAX 1000000

static mb_json *cell(mb_arena *arena, mb_stmt *stmt, int at)
{
    struct mb_str text;

    switch (mb_col_type(stmt, at)) {
    case MB_COL_NULL:
        return mb_json_null(arena);
    case MB_COL_INT:
        if (mb_col_int(stmt, at) >= 0 && mb_col_int(stmt, at) <= MB_JSON_INTEGER_MAX)
            return mb_json_integer(arena, mb_col_int(stmt, at));
        break;
    case MB_COL_BLOB:
        text = mb_col_blob(stmt, at);
        return mb_json_string_str(arena, mb_b64(arena, text.at, text.len));
    default:
        break;
    }
    text = mb_col_text(stmt, at);
    return mb_utf8_ok(text) ? mb_json_string_str(arena, text) : mb_json_null(arena);
}

static enum mb_rc read_rows(mb_arena *arena, mb_stmt *stmt, const mb_json **out,
                            struct mb_error *err)
{
    mb_json *result = mb_json_object(arena), *columns = mb_json_array(arena);
    mb_json *rows = mb_json_array(arena);
    bool row = true;
    enum mb_rc rc;

    for (int i = 0; i < mb_col_count(stmt); i++)
        mb_json_add_text(arena, columns, mb_col_name(stmt, i));
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        mb_json *list = mb_json_add(rows, mb_json_array(arena));

        for (int i = 0; i < mb_col_count(stmt); i++)
            mb_json_add(list, cell(arena, stmt, i));
        if (rows->count > ROWS_MAX)
            return mb_fail(err, MB_REFUSED,
                           "the answer has more than a million rows; ask for less");
    }
    if (rc)
        return rc;
    mb_json_put(arena, result, "columns", columns);
    mb_json_put(arena, result, "rows", rows);
    *out = result;
    return MB_OK;
}

enum mb_rc mb_query(mb_ledger *ledger, mb_arena *arena, struct mb_str sql, const char *as_of,
                    const mb_json **out, struct mb_error *err)
{
    mb_stmt *stmt;
    mb_db *db;
    bool own;
    enum mb_rc rc = mb_views_at(ledger, as_of, &db, &own, err);

    if (rc)
        return rc;
    rc = mb_stmt_make_user(db, mb_arena_str(arena, sql), QUERY_SECONDS, &stmt, err);
    if (!rc) {
        rc = read_rows(arena, stmt, out, err);
        mb_stmt_free(stmt);
    }
    if (own)
        mb_db_close(db);
    return rc;
}

struct list {
    const char *name, *sql;
};

static const struct list lists[] = {
    { "specimens",
      "SELECT id, coalesce(vernacular_name, first_name) AS what, scientific_name AS name,"
      " object_form AS form, pieces, event_date AS found, site, owner, holder"
      " FROM v_specimen ORDER BY first_seq" },
    { "lots",
      "SELECT id, coalesce(vernacular_name, first_name) AS what, pieces, event_date AS found,"
      " site FROM v_lot ORDER BY first_seq" },
    { "sites", "SELECT id, name, county, state, country, land FROM v_site ORDER BY id" },
    { "horizons", "SELECT id, name, formation, earliest_stage AS 'from', latest_stage AS 'to'"
                  " FROM v_horizon ORDER BY id" },
    { "permissions", "SELECT id, type, grantor, holder, valid_from AS 'from', valid_until AS until,"
                     " last_change AS 'last change' FROM v_permission ORDER BY id" },
    { "parties", "SELECT id, name, neutral_label AS 'shown as', named_to AS 'named to'"
                 " FROM v_party ORDER BY id" },
    { "field-days", "SELECT id, day, site, permission, finds FROM v_field_day ORDER BY day, id" },
    { "dealings", "SELECT id, type, opened, due_back AS 'due back' FROM v_dealing ORDER BY id" },
    { "places", "SELECT id, what FROM v_place ORDER BY id" },
    { "certificates", "SELECT seq AS entry, substr(sub, 10) AS specimen, audience,"
                      " made_out_to AS 'to', substr(recorded_at, 1, 10) AS issued,"
                      " withdrawn_by AS withdrawn, leaf AS identity FROM v_certificate"
                      " ORDER BY seq" },
};

static enum mb_rc list_keys(mb_ledger *ledger, mb_arena *arena, const mb_json **out,
                            struct mb_error *err)
{
    static const char *const names[] = { "label", "kid", "holder", "enrolled", "retired", "here" };
    mb_json *result = mb_json_object(arena), *columns = mb_json_array(arena);
    mb_json *rows = mb_json_array(arena);
    const mb_json *keys;
    enum mb_rc rc = mb_key_list(ledger, arena, &keys, err);

    if (rc)
        return rc;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        mb_json_add_text(arena, columns, names[i]);
    MB_JSON_EACH(key, keys)
    {
        mb_json *row = mb_json_add(rows, mb_json_array(arena));

        for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
            const mb_json *value = mb_json_get(key, names[i]);

            mb_json_add(row, value ? mb_json_copy(arena, value) : mb_json_null(arena));
        }
    }
    mb_json_put(arena, result, "columns", columns);
    mb_json_put(arena, result, "rows", rows);
    *out = result;
    return MB_OK;
}

static const mb_json *list_kinds(mb_arena *arena)
{
    mb_json *result = mb_json_object(arena), *columns = mb_json_array(arena);
    mb_json *rows = mb_json_array(arena);

    mb_json_add_text(arena, columns, "kind");
    mb_json_add_text(arena, columns, "title");
    mb_json_add_text(arena, columns, "when");
    for (size_t i = 0; i < mb_kinds_count(); i++) {
        const struct mb_kind *kind = mb_kinds_at(i);
        mb_json *row = mb_json_add(rows, mb_json_array(arena));

        mb_json_add(row, mb_json_string_str(arena, kind->name));
        mb_json_add_text(arena, row, kind->title);
        mb_json_add_text(arena, row, kind->help);
    }
    mb_json_put(arena, result, "columns", columns);
    mb_json_put(arena, result, "rows", rows);
    return result;
}

enum mb_rc mb_list(mb_ledger *ledger, mb_arena *arena, const char *what, const char *as_of,
                   const mb_json **out, struct mb_error *err)
{
    static const char *const names[] = { "specimens", "lots",       "sites",    "horizons",
                                         "permissions", "parties",  "field-days", "dealings",
                                         "places",    "certificates", "keys",    "kinds" };
    const size_t count = sizeof names / sizeof *names;
    const char *near;

    if (strcmp(what, "keys") == 0)
        return list_keys(ledger, arena, out, err);
    if (strcmp(what, "kinds") == 0) {
        *out = list_kinds(arena);
        return MB_OK;
    }
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++)
        if (strcmp(lists[i].name, what) == 0)
            return mb_query(ledger, arena, mb_str_of(lists[i].sql), as_of, out, err);
    near = mb_nearest(mb_str_of(what), names, count);
    return mb_fail(err, MB_REFUSED,
                   "there is no list of '%s'%s%s%s; there are: specimens, lots, sites, horizons,"
                   " permissions, parties, field-days, dealings, places, certificates, keys, kinds",
                   what, near ? " (did you mean " : "", near ? near : "", near ? "?)" : "");
}

/* A person's words as a safe query: each a quoted term, the last one a beginning. */
static char *match_of(mb_arena *arena, const char *words)
{
    struct mb_str rest = mb_str_of(words), word;
    char *out = mb_arena_text(arena, "");

    while (rest.len) {
        char *clean, *at;

        mb_str_cut(rest, ' ', &word, &rest);
        word = mb_str_trim(word);
        clean = at = mb_arena_get(arena, word.len + 1);
        for (size_t i = 0; i < word.len; i++)
            if (word.at[i] != '"')
                *at++ = word.at[i];
        if (*clean)
            out = mb_arena_printf(arena, "%s%s\"%s\"%s", out, *out ? " " : "", clean,
                                  mb_str_trim(rest).len ? "" : "*");
    }
    return out;
}

enum mb_rc mb_find_words(mb_ledger *ledger, mb_arena *arena, const char *words, size_t most,
                         const char *as_of, const mb_json **out, struct mb_error *err)
{
    const char *match = match_of(arena, words);
    mb_json *list = mb_json_array(arena);
    mb_stmt *stmt = NULL;
    bool own, row = true;
    mb_db *db;
    enum mb_rc rc;

    if (!*match)
        return mb_fail(err, MB_REFUSED, "say what to look for");
    rc = mb_views_at(ledger, as_of, &db, &own, err);
    if (rc)
        return rc;
    rc = mb_stmt_make(db,
                      "SELECT e.sub, e.kind, e.line, e.seq FROM v_search s"
                      " JOIN v_entry e ON e.seq = s.rowid"
                      " WHERE v_search MATCH ?1 ORDER BY rank, e.seq LIMIT ?2",
                      &stmt, err);
    if (!rc) {
        mb_bind_text(stmt, 1, mb_str_of(match));
        mb_bind_int(stmt, 2, (int64_t)most);
    }
    while (!rc && !(rc = mb_stmt_step(stmt, &row, err)) && row) {
        mb_json *item = mb_json_add(list, mb_json_object(arena));

        mb_json_put(arena, item, "subject", mb_json_string_str(arena, mb_col_text(stmt, 0)));
        mb_json_put(arena, item, "kind", mb_json_string_str(arena, mb_col_text(stmt, 1)));
        mb_json_put(arena, item, "line", mb_json_string_str(arena, mb_col_text(stmt, 2)));
        mb_json_put_int(arena, item, "seq", mb_col_int(stmt, 3));
    }
    mb_stmt_free(stmt);
    if (own)
        mb_db_close(db);
    if (!rc)
        *out = list;
    return rc;
}
