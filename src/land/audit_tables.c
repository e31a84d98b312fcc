/* Tables that rules may read beside the views: schema/rules/tables.sql, filled for one audit. */
#include <string.h>

#include "asset.h"
#include "audit_priv.h"
#include "buf.h"
#include "date.h"
#include "text.h"

enum { SECONDS_A_DAY = 86400 };

static const char *const tables[] = {
    "VIEW v_find_ground", "TABLE v_sale_act", "TABLE v_casual",  "TABLE v_origin",
    "TABLE v_addend",     "TABLE v_limit",    "TABLE v_season",  "TABLE v_stop",
    "TABLE v_span",       "TABLE v_ground",   "TABLE v_regime",  "TABLE v_derived",
    "TABLE v_planned",    "TABLE v_scope",    "TABLE v_setting", "TABLE v_today",
};

/* ---- asking ---- */

enum mb_rc mb_audit_ask_sql(struct mb_audit *a, const char *sql, struct mb_str one,
                            struct mb_str two, mb_stmt **out, struct mb_error *err)
{
    enum mb_rc rc = mb_stmt_make(a->db, sql, out, err);

    if (!rc && one.at)
        mb_bind_text(*out, 1, one);
    if (!rc && two.at)
        mb_bind_text(*out, 2, two);
    return rc;
}

enum mb_rc mb_audit_do(struct mb_audit *a, const char *sql, struct mb_str one, struct mb_str two,
                       int64_t *number, struct mb_error *err)
{
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc = mb_audit_ask_sql(a, sql, one, two, &stmt, err);

    if (!rc)
        rc = mb_stmt_step(stmt, &row, err);
    if (!rc && number)
        *number = row ? mb_col_int(stmt, 0) : 0;
    mb_stmt_free(stmt);
    return rc;
}

/* ---- filling ---- */

static const struct mb_str none = { NULL, 0 };

/* "{in X}", "{near X}" and "{own X}" say whether X is looked at: see scoped.sql. */
static const char *fill_in(struct mb_audit *a, struct mb_str sql)
{
    MB_BUF_AUTO struct mb_buf out;
    struct mb_str before, mark, name;

    mb_buf_init(&out, 1 << 20);
    while (mb_str_cut(sql, '{', &before, &sql)) {
        bool near = mb_str_starts(sql, "near "), own = mb_str_starts(sql, "own ");

        mb_buf_add_str(&out, before);
        mb_str_cut(sql, '}', &mark, &sql);
        mb_str_cut(mark, ' ', &before, &name);
        if (a->scoped && !(near && a->casual) && !(own && !a->one_by_one))
            mb_buf_printf(&out, "%.*s IN (SELECT sub FROM v_scope)", MB_STR_ARG(name));
        else
            mb_buf_add_text(&out, "1");
    }
    mb_buf_add_str(&out, before);
    return mb_arena_str(a->arena, mb_buf_str(&out)).at;
}

static enum mb_rc asset_sql(struct mb_audit *a, const char *path, struct mb_error *err)
{
    const struct mb_asset *asset = mb_asset_find(path);

    if (!asset)
        return mb_fail(err, MB_UNABLE, "%s is not built in", path);
    return mb_db_run(a->db, fill_in(a, (struct mb_str){ asset->data, asset->size }), err);
}

enum mb_rc mb_audit_fill(struct mb_audit *a, struct mb_error *err)
{
    static const char *const files[] = { "rules/fill.sql", "rules/scoped.sql",
                                         "rules/accounts.sql" };
    static const char casual[] =
        "SELECT EXISTS (SELECT 1 FROM v_scope s CROSS JOIN v_find f ON f.sub = s.sub"
        " LEFT JOIN v_permission p ON p.sub = f.permission"
        " WHERE p.permission_type IN ('casual-use allowance', 'free-use allowance')"
        " OR (p.sub IS NULL AND EXISTS (SELECT 1 FROM v_find_ground w"
        "     WHERE w.seq = f.seq AND w.federal = 1)))";
    int64_t any = 0;
    enum mb_rc rc = mb_audit_do(a, casual, none, none, &any, err);

    a->casual = any;
    for (size_t i = 0; !rc && i < sizeof files / sizeof *files; i++)
        rc = asset_sql(a, files[i], err);
    return rc;
}

static enum mb_rc fill_regimes(struct mb_audit *a, struct mb_error *err)
{
    static const char sql[] =
        "INSERT INTO v_regime SELECT r.value->>'id', c.value, r.value->>'country',"
        " r.value->>'act', r.value->>'says', r.value->>'material', r.value->>'amount',"
        " r.value->>'unit', r.value->>'per', coalesce(r.value->>'plusPiece', 0),"
        " coalesce(unixepoch(r.value->>'from') / 86400, -999999),"
        " coalesce(unixepoch(r.value->>'until') / 86400, 999999),"
        " coalesce(r.value->>'citation', ''), coalesce(r.value->>'confidence', 'memory'),"
        " coalesce(r.value->>'text', '')"
        " FROM json_each(?1, '$.regimes') r"
        " LEFT JOIN json_each(r.value, '$.category') c ON true";
    const struct mb_asset *asset = mb_asset_find("rules/regimes.json");

    if (!asset)
        return mb_fail(err, MB_UNABLE, "rules/regimes.json is not built in");
    return mb_audit_do(a, sql, (struct mb_str){ asset->data, asset->size }, none, NULL, err);
}

/* The day of the audit: of `as_of`, else today. */
static enum mb_rc find_day(struct mb_audit *a, struct mb_error *err)
{
    const char *as_of = a->ask->as_of;
    struct mb_days days;
    enum mb_rc rc = MB_OK;

    a->today = mb_now() / SECONDS_A_DAY;
    if (as_of && mb_days_read(mb_str_of(as_of), &days))
        a->today = days.last < a->today ? days.last : a->today;
    else if (as_of)
        rc = mb_audit_do(a, "SELECT coalesce(max(recorded_day), 0) FROM v_entry", none, none,
                         &a->today, err);
    if (!rc)
        rc = mb_audit_do(a, "SELECT coalesce(max(seq) + 1, 0) FROM v_entry", none, none,
                         &a->entries, err);
    return rc;
}

enum mb_rc mb_audit_tables(struct mb_audit *a, struct mb_error *err)
{
    enum mb_rc rc;

    mb_db_grant(a->db, MB_MAY_VIEW);
    rc = mb_db_run(a->db, "PRAGMA query_only=OFF", err);
    if (!rc)
        rc = find_day(a, err);
    if (!rc)
        rc = asset_sql(a, "rules/tables.sql", err);
    if (!rc)
        rc = fill_regimes(a, err);
    if (!rc)
        rc = mb_audit_do(a, mb_arena_printf(a->arena, "INSERT INTO v_today VALUES (%lld)",
                                            (long long)a->today),
                         none, none, NULL, err);
    return rc;
}

void mb_audit_tables_drop(struct mb_audit *a)
{
    if (!a->db)
        return;
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++) {
        bool view = strncmp(tables[i], "VIEW", 4) == 0;
        const char *name = tables[i] + (view ? 5 : 6);

        if (mb_db_run(a->db,
                      mb_arena_printf(a->arena, "DROP %s IF EXISTS temp.%s",
                                      view ? "VIEW" : "TABLE", name),
                      NULL))
            continue; /* the connection forgets them when it is closed */
    }
    mb_db_grant(a->db, 0);
}
