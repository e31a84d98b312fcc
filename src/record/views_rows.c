/* Rows by kind, out of the tables of views_tables.c. */
#include <math.h>
#include <string.h>

#include "decimal.h"
#include "landwords.h"
#include "text.h"
#include "views_priv.h"

/* The exact number of kilograms in a unit of mass. Pound: NIST SP 811, Appendix B.8. */
static const struct {
    const char *unit;
    double kg;
} masses[] = { { "kg", 1 }, { "g", 0.001 }, { "lb", 0.45359237 }, { "mg", 0.000001 },
               { "t", 1000 } };

/* What one row is made from. */
struct making_row {
    struct mb_views_run *run;
    const struct mb_tale *tale;
    const struct mb_view_table *table;
    const struct mb_told *told;
    size_t index; /* of told in the tale */
    const mb_json *element;
    const struct mb_held *held;
};

/* ---- values ---- */

/* The newest entry of the kind that says this field, where the row is of the whole subject. */
static const mb_json *told_value(const struct making_row *m, const char *name)
{
    const mb_json *value = mb_told_value(m->told, name);

    if (value || !m->table->by_subject)
        return value;
    for (size_t i = m->index; i-- > 0 && !value;)
        if (mb_tale_stands(m->tale, i, m->table->kind))
            value = mb_told_value(mb_tale_at(m->tale, i), name);
    return value;
}

static const mb_json *one_value(const struct making_row *m, struct mb_str name)
{
    mb_arena *arena = m->run->arena;

    if (name.at[0] == '^')
        return told_value(m, mb_arena_copy(arena, name.at + 1, name.len - 1));
    if (m->element && mb_str_is(name, "."))
        return m->element;
    if (m->element)
        return mb_json_get_str(m->element, name);
    return told_value(m, mb_arena_copy(arena, name.at, name.len));
}

static const mb_json *value_of(const struct making_row *m, const char *field)
{
    const mb_json *first = NULL;
    struct mb_str name, rest = mb_str_of(field);

    if (!strchr(field, '|') && !m->element && field[0] != '^')
        return told_value(m, field);
    while (rest.len) {
        const mb_json *value;

        mb_str_cut(rest, '|', &name, &rest);
        value = one_value(m, name);
        if (value && !mb_value_is_answer(value))
            return value;
        first = first ? first : value;
    }
    return first;
}

static struct mb_str number_of(const mb_json *value)
{
    const mb_json *inner = mb_json_is(value, MB_JSON_OBJECT) ? mb_json_get(value, "value") : NULL;

    return mb_json_str(inner ? inner : value);
}

static double kilograms(const mb_json *value)
{
    const mb_json *unit = mb_json_get(value, "unit");

    for (size_t i = 0; unit && i < sizeof masses / sizeof *masses; i++)
        if (mb_json_text_is(unit, masses[i].unit))
            return mb_decimal_double(number_of(value)) * masses[i].kg;
    return NAN;
}

/* A datum's own part is left to whoever shifts the place, and adds it then. */
static double without_datum(const struct making_row *m, const mb_json *value)
{
    const mb_json *parts = told_value(m, "uncertaintyParts");
    double radius = mb_decimal_ok(number_of(value)) ? mb_decimal_double(number_of(value)) : NAN;

    if (number_of(value).at && mb_json_is(parts, MB_JSON_ARRAY))
        MB_JSON_EACH(part, parts)
        {
            if (mb_json_text_is(mb_json_get(part, "part"), "datum")
                && mb_json_text_is(mb_json_get(part, "unit"), "m")
                && mb_decimal_double(number_of(part)) < radius)
                radius -= mb_decimal_double(number_of(part));
        }
    return number_of(value).at ? radius : NAN;
}

static void put_land(const struct making_row *m, const char *which)
{
    struct mb_str field, part;
    const mb_json *value = mb_str_cut(mb_str_of(which), '.', &field, &part)
                               ? one_value(m, field)
                               : NULL;

    mb_put_text(m->run, value && !mb_value_is_answer(value)
                            ? mb_json_str(mb_json_get_str(mb_landwords(m->run->arena,
                                                                       mb_json_str(value)),
                                                          part))
                            : (struct mb_str){ NULL, 0 });
}

static void put_value(const struct making_row *m, const mb_json *value, enum mb_cell how)
{
    struct mb_views_run *run = m->run;
    struct mb_days days = { 0, 0 };
    int64_t number = 0;
    bool known;

    switch (how) {
    case C_INT:
        known = mb_value_count(value, &number);
        mb_put_if(run, known, number);
        break;
    case C_FIRST:
    case C_LAST:
        known = mb_value_days(value, &days);
        mb_put_if(run, known, how == C_FIRST ? days.first : days.last);
        break;
    case C_JSON:
        mb_put_text(run, value && !mb_value_is_answer(value) ? mb_json_write(run->arena, value)
                                                             : (struct mb_str){ NULL, 0 });
        break;
    case C_VALUE:
        mb_put_text(run, number_of(value).at ? number_of(value) : mb_words(run->arena, value));
        break;
    case C_UNIT:
        mb_put_text(run, mb_json_str(mb_json_get(value, "unit")));
        break;
    case C_KG:
        mb_put_real(run, kilograms(value));
        break;
    case C_REAL:
        mb_put_real(run, number_of(value).at && mb_decimal_ok(number_of(value))
                             ? mb_decimal_double(number_of(value))
                             : NAN);
        break;
    case X_RADIUS:
        mb_put_real(run, without_datum(m, value));
        break;
    case C_SEQ:
        mb_put_seq(run, mb_tale_seq(m->tale, value));
        break;
    default:
        mb_put_text(run, mb_words(run->arena, value));
        break;
    }
}

/* ---- what other entries of the chain say of this one ---- */

/* The newest standing entry of a kind that names this one in a field. */
static const struct mb_told *named_by(const struct making_row *m, const char *kind,
                                      const char *field)
{
    for (size_t i = m->tale->count; i-- > 0;)
        if (mb_tale_stands(m->tale, i, kind)
            && mb_tale_seq(m->tale, mb_told_value(mb_tale_at(m->tale, i), field))
                   == m->told->entry->seq)
            return mb_tale_at(m->tale, i);
    return NULL;
}

static void put_seq_of(const struct making_row *m, const struct mb_told *told)
{
    mb_put_seq(m->run, told ? told->entry->seq : -1);
}

static bool ends_it(const struct mb_told *change)
{
    return mb_told_is(change, "what", "revoked") || mb_told_is(change, "what", "ended early");
}

/* The change of a permission that counts for a column: the latest by its day. */
static const struct mb_told *latest_change(const struct making_row *m, enum mb_cell how)
{
    const struct mb_told *latest = NULL;
    int32_t day = 0;

    for (size_t i = 0; i < m->tale->count; i++) {
        const struct mb_told *change = mb_tale_at(m->tale, i);
        bool until = how == X_UNTIL_NOW || how == X_UNTIL_NOW_DAY;

        if (!mb_tale_stands(m->tale, i, "permission-change")
            || (until && !mb_told_value(change, "newValidUntil") && !ends_it(change))
            || (how == X_HOLDER_NOW && !mb_told_ref(change, "newHolder").at))
            continue;
        if (!latest || mb_told_days_or(change).first >= day) {
            latest = change;
            day = mb_told_days_or(change).first;
        }
    }
    return latest;
}

static void put_until_now(const struct making_row *m, enum mb_cell how)
{
    const struct mb_told *change = latest_change(m, how);
    const mb_json *until = change ? mb_told_value(change, "newValidUntil") : NULL;
    bool text = how == X_UNTIL_NOW;

    if (!until && change) {
        /* the last day on which it held was the one before */
        int32_t day = mb_told_days_or(change).first - 1;

        if (text)
            mb_put_word(m->run, mb_day_write(m->run->arena, day));
        else
            mb_put_int(m->run, day);
        return;
    }
    put_value(m, until ? until : told_value(m, "validUntil"), text ? C_WORDS : C_LAST);
}

static void put_change(const struct making_row *m, enum mb_cell how)
{
    const struct mb_told *change = latest_change(m, how);

    if (how == X_LAST_CHANGE)
        mb_put_text(m->run, change ? mb_told_words(m->run->arena, change, "what")
                                   : (struct mb_str){ NULL, 0 });
    else if (how == X_LAST_CHANGE_DAY)
        mb_put_if(m->run, change != NULL, change ? mb_told_days_or(change).first : 0);
    else
        put_value(m, change ? mb_told_value(change, "newHolder") : told_value(m, "holder"),
                  C_WORDS);
}

static void put_giver(const struct making_row *m)
{
    int giver = m->held ? m->held->giver[m->index] : -1;

    mb_put_if(m->run, giver >= 0, giver);
}

static void put_cell(const struct making_row *m, const struct mb_view_column *column)
{
    struct mb_views_run *run = m->run;
    const struct mb_told *other;

    switch (column->how) {
    case X_LEAF:
        mb_put_text(run, mb_b64u(run->arena, m->told->entry->leaf.b, 32));
        break;
    case X_DAY:
        mb_put_int(run, mb_told_days_or(m->told).first);
        break;
    case X_COUNTERSIGNED:
        put_seq_of(m, named_by(m, "countersign", "whichEntry"));
        break;
    case X_GIVER:
        put_giver(m);
        break;
    case X_UNTIL_NOW:
    case X_UNTIL_NOW_DAY:
        put_until_now(m, column->how);
        break;
    case X_LAST_CHANGE:
    case X_LAST_CHANGE_DAY:
    case X_HOLDER_NOW:
        put_change(m, column->how);
        break;
    case X_REPLACED_BY:
        put_seq_of(m, named_by(m, "certificate", "replaces"));
        break;
    case X_WITHDRAWN_BY:
        put_seq_of(m, named_by(m, "withdrawal", "which"));
        break;
    case X_WITHDRAWN_WHY:
        other = named_by(m, "withdrawal", "which");
        mb_put_text(run, other ? mb_told_words(run->arena, other, "why")
                               : (struct mb_str){ NULL, 0 });
        break;
    case X_CHANGED_BY:
        put_seq_of(m, named_by(m, "claim", "concerns"));
        break;
    case X_OPEN:
        mb_put_int(run, mb_told_is(m->told, "status", "open") && !named_by(m, "claim", "concerns"));
        break;
    case X_CLOSED_BY:
        put_seq_of(m, named_by(m, "loss", "closes"));
        break;
    case C_LAND:
        put_land(m, column->field);
        break;
    default:
        put_value(m, value_of(m, column->field), column->how);
        break;
    }
}

/* ---- statements ---- */

/* The columns before those of the table: seq, the subject, n, in the order of put_head. */
static const char *insert_sql(mb_arena *arena, const struct mb_view_table *t)
{
    const char *names = t->list ? mb_arena_printf(arena, t->by_subject ? "%s, n" : "%s, n, seq",
                                                  t->key)
                                : mb_arena_printf(arena, "%s, seq", t->key);
    const char *marks = t->list && !t->by_subject ? "?1, ?2, ?3" : "?1, ?2";
    size_t at = t->list && !t->by_subject ? 3 : 2;

    for (size_t i = 0; i < t->count; i++) {
        names = mb_arena_printf(arena, "%s, %s", names, t->columns[i].name);
        marks = mb_arena_printf(arena, "%s, ?%zu", marks, ++at);
    }
    return mb_arena_printf(arena, "INSERT INTO %s (%s) VALUES (%s)", t->name, names, marks);
}

static mb_stmt *insert_of(struct mb_views_run *run, size_t table)
{
    const char *sql = NULL;

    if (!run->put[table])
        sql = insert_sql(run->arena, &mb_view_tables[table]);
    return mb_run_stmt_of(run, &run->put[table], sql);
}

static void put_row(const struct making_row *m, size_t table, int64_t n)
{
    const struct mb_view_table *t = m->table;

    mb_put_stmt(m->run, insert_of(m->run, table));
    mb_put_text(m->run, m->tale->sub);
    if (t->list)
        mb_put_int(m->run, n);
    if (!t->list || !t->by_subject)
        mb_put_int(m->run, m->told->entry->seq);
    for (size_t i = 0; i < t->count; i++)
        put_cell(m, &t->columns[i]);
    mb_put_end(m->run);
}

static void put_rows(struct making_row *m, size_t table)
{
    const mb_json *list;
    int64_t n = 0;

    if (!m->table->list) {
        put_row(m, table, 0);
        return;
    }
    list = told_value(m, m->table->list);
    if (!mb_json_is(list, MB_JSON_ARRAY))
        return;
    MB_JSON_EACH(element, list)
    {
        m->element = element;
        put_row(m, table, n++);
    }
    m->element = NULL;
}

static void put_table(struct mb_views_run *run, const struct mb_tale *tale,
                      const struct mb_held *held, size_t table)
{
    struct making_row m = { run, tale, &mb_view_tables[table], NULL, 0, NULL, held };

    for (size_t i = tale->count; i-- > 0 && !run->rc;) {
        if (!mb_tale_stands(tale, i, m.table->kind))
            continue;
        m.told = mb_tale_at(tale, i);
        m.index = i;
        put_rows(&m, table);
        if (m.table->by_subject)
            return;
    }
}

/* The kinds of a chain, each once. */
static bool has_kind(const struct mb_tale *tale, const char *kind)
{
    for (size_t i = 0; i < tale->count; i++)
        if (mb_str_is(tale->entries[i].kind, kind))
            return true;
    return false;
}

void mb_rows_put(struct mb_views_run *run, const struct mb_tale *tale, const struct mb_held *held)
{
    for (size_t t = 0; t < mb_view_tables_count && !run->rc; t++)
        if (has_kind(tale, mb_view_tables[t].kind))
            put_table(run, tale, held, t);
}

static mb_stmt *delete_of(struct mb_views_run *run, size_t table)
{
    const struct mb_view_table *t = &mb_view_tables[table];
    const char *sql = NULL;

    if (!run->drop[table])
        sql = mb_arena_printf(run->arena, "DELETE FROM %s WHERE %s = ?1", t->name,
                              t->by_subject ? t->key : "seq");
    return mb_run_stmt_of(run, &run->drop[table], sql);
}

void mb_rows_drop(struct mb_views_run *run, const struct mb_tale *tale)
{
    for (size_t t = 0; t < mb_view_tables_count && !run->rc; t++) {
        const struct mb_view_table *table = &mb_view_tables[t];

        for (size_t i = 0; i < tale->count; i++) {
            if (!mb_str_is(tale->entries[i].kind, table->kind))
                continue;
            mb_put_stmt(run, delete_of(run, t));
            if (table->by_subject)
                mb_put_text(run, tale->sub);
            else
                mb_put_int(run, tale->entries[i].seq);
            mb_put_end(run);
            if (table->by_subject)
                break;
        }
    }
}
