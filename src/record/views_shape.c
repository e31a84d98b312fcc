/* The tables of the views: making, dropping, and how far they go. */
#include <string.h>

#include "asset.h"
#include "sha256.h"
#include "text.h"
#include "views_priv.h"

/* A million rows do not belong into memory. */
enum { MEMORY_MOST = 20000 };

#define LATER "-- ==\n"

static const char *schema_text(void)
{
    return mb_asset_find("views.sql")->data;
}

static void schema_digest(char out[MB_HEX_LEN(32) + 1])
{
    const struct mb_asset *asset = mb_asset_find("views.sql");
    struct mb_hash hash = mb_sha256(asset->data, asset->size);

    mb_hex_write(out, hash.b, sizeof hash.b);
}

/* One text, or -1, out of a statement without parameters. */
static enum mb_rc ask(mb_db *db, mb_arena *arena, const char *sql, struct mb_str *text,
                      int64_t *number, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(db, sql, &stmt, err);

    if (rc)
        return rc;
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row && text && mb_col_type(stmt, 0) == MB_COL_TEXT)
        *text = mb_arena_str(arena, mb_col_text(stmt, 0));
    if (!rc && row && number)
        *number = mb_col_int(stmt, 0);
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc drop_one(mb_db *db, mb_arena *arena, const char *sql, bool *any,
                           struct mb_error *err)
{
    struct mb_str drop = { NULL, 0 };
    enum mb_rc rc = ask(db, arena, sql, &drop, NULL, err);

    *any = drop.at != NULL;
    if (!rc && drop.at)
        rc = mb_db_run(db, drop.at, err);
    return rc;
}

/* Views, then the search with its own tables, then tables; indexes go with them. */
enum mb_rc mb_views_drop(mb_db *db, struct mb_error *err)
{
    static const char *const next[] = {
        "SELECT 'DROP VIEW ' || name FROM sqlite_schema WHERE type = 'view'"
        " AND name GLOB 'v_*' LIMIT 1",
        "SELECT 'DROP TABLE ' || name FROM sqlite_schema WHERE type = 'table'"
        " AND name GLOB 'v_*' AND sql LIKE 'CREATE VIRTUAL%' LIMIT 1",
        "SELECT 'DROP TABLE ' || name FROM sqlite_schema WHERE type = 'table'"
        " AND name GLOB 'v_*' LIMIT 1",
    };
    mb_arena *arena = mb_arena_new();
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < sizeof next / sizeof *next && !rc; i++) {
        bool any = true;

        while (any && !rc)
            rc = drop_one(db, arena, next[i], &any, err);
    }
    mb_arena_free(arena);
    return rc;
}

static enum mb_rc make(mb_db *db, const char *digest, struct mb_error *err)
{
    mb_arena *arena = mb_arena_new();
    const char *text = schema_text(), *later = strstr(text, LATER);
    enum mb_rc rc;

    rc = mb_db_run(db, mb_arena_copy(arena, text, (size_t)(later - text)), err);
    if (!rc)
        rc = mb_db_run(db,
                       mb_arena_printf(arena,
                                       "INSERT INTO v_stamp (id, entries, leaf, schema)"
                                       " VALUES (1, 0, NULL, '%s')",
                                       digest),
                       err);
    mb_arena_free(arena);
    return rc;
}

static enum mb_rc has_stamp(mb_db *db, int64_t *there, struct mb_error *err)
{
    *there = 0;
    return ask(db, NULL, "SELECT count(*) FROM sqlite_schema WHERE name = 'v_stamp'", NULL, there,
               err);
}

enum mb_rc mb_views_shape(mb_db *db, struct mb_error *err)
{
    char digest[MB_HEX_LEN(32) + 1];
    struct mb_str stored = { NULL, 0 };
    mb_arena *arena = mb_arena_new();
    int64_t there;
    enum mb_rc rc = has_stamp(db, &there, err);

    schema_digest(digest);
    if (!rc && there)
        rc = ask(db, arena, "SELECT schema FROM v_stamp", &stored, NULL, err);
    if (!rc && !mb_str_is(stored, digest)) {
        rc = mb_views_drop(db, err);
        if (!rc)
            rc = make(db, digest, err);
    }
    mb_arena_free(arena);
    return rc;
}

enum mb_rc mb_views_current(mb_log *log, mb_db *db, bool *current, int64_t *entries,
                            struct mb_error *err)
{
    char digest[MB_HEX_LEN(32) + 1];
    int64_t there, size = 0;
    struct mb_hash leaf;
    mb_stmt *stmt;
    bool row = false, fits = false;
    enum mb_rc rc = has_stamp(db, &there, err);

    *current = false;
    *entries = 0;
    if (rc || !there)
        return rc;
    schema_digest(digest);
    rc = mb_log_size(log, &size, err);
    if (!rc)
        rc = mb_stmt_make(db,
                          "SELECT entries, leaf, schema, (SELECT count(*) FROM"
                          " (SELECT 1 FROM v_work LIMIT 1)) FROM v_stamp",
                          &stmt, err);
    if (rc)
        return rc;
    rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row && mb_str_is(mb_col_text(stmt, 2), digest)) {
        *entries = mb_col_int(stmt, 0);
        if (*entries > 0 && *entries <= size)
            rc = mb_log_leaf(log, *entries - 1, &leaf, err);
        fits = !rc && *entries > 0 && *entries <= size && mb_col_blob(stmt, 1).len == sizeof leaf.b
               && memcmp(mb_col_blob(stmt, 1).at, leaf.b, sizeof leaf.b) == 0
               && mb_col_int(stmt, 3) == 0;
    }
    mb_stmt_free(stmt);
    *current = fits && *entries == size;
    if (!fits)
        *entries = 0;
    return rc;
}

enum mb_rc mb_views_index(mb_db *db, struct mb_error *err)
{
    return mb_db_run(db, strstr(schema_text(), LATER) + strlen(LATER), err);
}

enum mb_rc mb_views_private(int64_t entries, mb_db **out, struct mb_error *err)
{
    /* a file without a name is SQLite's own temporary one, gone when it is closed */
    enum mb_db_role role = entries <= MEMORY_MOST ? MB_DB_MEMORY : MB_DB_CREATE;
    enum mb_rc rc = mb_db_open("", role, out, err);

    if (rc)
        return rc;
    mb_db_grant(*out, MB_MAY_VIEW);
    rc = mb_db_run(*out, "PRAGMA temp_store=FILE; PRAGMA synchronous=OFF", err);
    if (rc)
        *out = mb_db_close(*out);
    return rc;
}
