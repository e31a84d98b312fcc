/* The quantity account of each permission, and of each person where a regime sets the limit. */
#include "audit_priv.h"
#include "text.h"

enum { ADDENDS_MOST = 20000 };

struct account {
    mb_json *list;           /* all accounts */
    mb_json *limits;         /* of the one in hand */
    mb_json *sums;           /* of the limit in hand */
    mb_json *sum, *addends;  /* the sum in hand */
    struct mb_str permission, unit, span, party;
    int64_t limit_id, whole; /* what is added up so far */
    bool at_least;
    size_t addends_listed;
    int64_t more;
};

static const struct mb_str none = { NULL, 0 };

static void put_str(struct mb_audit *a, mb_json *out, const char *name, struct mb_str text)
{
    if (text.len)
        mb_json_put(a->arena, out, name, mb_json_string_str(a->arena, text));
}

/* A mass in the unit of its limit, to a millionth of it; pieces as they are. */
static mb_json *amount(struct mb_audit *a, struct mb_str unit, int64_t value)
{
    int64_t one = 1;
    mb_json *json;
    char *text;
    size_t len;

    if (mb_str_is(unit, "piece") || !mb_land_micrograms(MB_STR("1"), unit, &one))
        return mb_json_integer(a->arena, value);
    text = mb_arena_printf(a->arena, "%.6f", (double)value / (double)one);
    len = mb_str_of(text).len;
    while (text[len - 1] == '0')
        len--;
    len -= text[len - 1] == '.';
    json = mb_json_string_str(a->arena, (struct mb_str){ text, len });
    json->type = MB_JSON_NUMBER;
    return json;
}

static void end_sum(struct mb_audit *a, struct account *at)
{
    if (!at->sum)
        return;
    mb_json_put(a->arena, at->sum, "sum", amount(a, at->unit, at->whole));
    mb_json_put_bool(a->arena, at->sum, "atLeast", at->at_least);
    if (at->more)
        mb_json_put_int(a->arena, at->sum, "moreAddends", at->more);
    at->sum = NULL;
}

static void begin_sum(struct mb_audit *a, struct account *at, mb_stmt *row)
{
    at->span = mb_arena_str(a->arena, mb_col_text(row, 8));
    at->party = mb_arena_str(a->arena, mb_col_text(row, 9));
    at->sum = mb_json_add(at->sums, mb_json_object(a->arena));
    at->addends = mb_json_put(a->arena, at->sum, "addends", mb_json_array(a->arena));
    at->whole = at->more = 0;
    at->at_least = false;
    put_str(a, at->sum, "key", at->span);
    put_str(a, at->sum, "party", at->party);
}

static void begin_limit(struct mb_audit *a, struct account *at, mb_stmt *row)
{
    struct mb_str permission = mb_col_text(row, 1);
    mb_json *limit = mb_json_object(a->arena);

    if (!at->limits || !mb_str_equal(at->permission, permission)) {
        mb_json *one = mb_json_add(at->list, mb_json_object(a->arena));

        at->permission = mb_arena_str(a->arena, permission);
        if (permission.at)
            put_str(a, one, "permission", permission);
        else
            mb_json_put(a->arena, one, "permission", mb_json_null(a->arena));
        at->limits = mb_json_put(a->arena, one, "limits", mb_json_array(a->arena));
    }
    at->limit_id = mb_col_int(row, 0);
    at->unit = mb_arena_str(a->arena, mb_col_text(row, 5));
    put_str(a, limit, "regime", mb_col_text(row, 2));
    put_str(a, limit, "material", mb_col_text(row, 3));
    put_str(a, limit, "limit", mb_col_text(row, 4));
    put_str(a, limit, "unit", at->unit);
    put_str(a, limit, "per", mb_col_text(row, 6));
    put_str(a, limit, "whose", mb_col_text(row, 7));
    mb_json_put_bool(a->arena, limit, "plusPiece", mb_col_int(row, 13));
    put_str(a, limit, "citation", mb_col_text(row, 14));
    at->sums = mb_json_put(a->arena, limit, "sums", mb_json_array(a->arena));
    mb_json_add(at->limits, limit);
}

static void add_row(struct mb_audit *a, struct account *at, mb_stmt *row)
{
    bool known = mb_col_type(row, 12) != MB_COL_NULL;
    mb_json *one;

    if (known)
        at->whole += mb_col_int(row, 12);
    at->at_least |= !known;
    if (at->addends_listed++ >= ADDENDS_MOST) {
        at->more++;
        return;
    }
    one = mb_json_add(at->addends, mb_json_object(a->arena));
    put_str(a, one, "subject", mb_col_text(row, 10));
    mb_json_put_int(a->arena, one, "seq", mb_col_int(row, 11));
    mb_json_put(a->arena, one, "amount",
                known ? amount(a, at->unit, mb_col_int(row, 12)) : mb_json_null(a->arena));
}

enum mb_rc mb_audit_accounts(struct mb_audit *a, mb_json *out, struct mb_error *err)
{
    static const char sql[] =
        "SELECT l.id, l.permission, l.regime, l.material, l.amount, l.unit, l.per, l.whose,"
        " a.span, a.party, a.subject, a.seq, a.most, l.plus_piece, l.citation"
        " FROM v_limit l LEFT JOIN v_addend a ON a.limit_id = l.id"
        " WHERE l.regime IS NULL OR (l.id, a.party, a.span) IN (SELECT limit_id, party, span"
        " FROM v_addend GROUP BY 1, 2, 3 HAVING min(covered) = 0 OR count(DISTINCT permission) > 1)"
        " ORDER BY l.permission IS NULL, l.permission, l.id, a.party, a.span, a.seq";
    struct account at = { .list = out, .limit_id = -1 };
    mb_stmt *row = NULL;
    bool there = true;
    enum mb_rc rc = mb_audit_ask_sql(a, sql, none, none, &row, err);

    while (!rc && !(rc = mb_stmt_step(row, &there, err)) && there) {
        bool other = mb_col_int(row, 0) != at.limit_id;

        if (other || !mb_str_equal(at.span, mb_col_text(row, 8))
            || !mb_str_equal(at.party, mb_col_text(row, 9)))
            end_sum(a, &at);
        if (other)
            begin_limit(a, &at, row);
        if (mb_col_type(row, 11) == MB_COL_NULL)
            continue;
        if (!at.sum)
            begin_sum(a, &at, row);
        add_row(a, &at, row);
    }
    end_sum(a, &at);
    mb_stmt_free(row);
    return rc;
}
