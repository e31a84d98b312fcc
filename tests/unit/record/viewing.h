/* A ledger whose entries a test writes as they are (temp_ledger.h), and its views asked in SQL. */
#ifndef VIEWING_H
#define VIEWING_H

#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include <markerbed/record.h>
#include <markerbed/show.h>

#include "temp_ledger.h"
#include "text.h"
#include "views.h"

struct viewing {
    struct temp_ledger t;
    mb_ledger *ledger;
    struct mb_error err;
};

static inline void viewing_new(struct viewing *v)
{
    memset(v, 0, sizeof *v);
    cr_assert_eq(mb_start(&v->err), MB_OK, "%s", v->err.text);
    temp_ledger_new(&v->t);
    cr_assert_eq(mb_ledger_open(v->t.arena, v->t.folder, MB_READ, &v->ledger, &v->err), MB_OK,
                 "%s", v->err.text);
}

static inline void viewing_done(struct viewing *v)
{
    v->ledger = mb_ledger_close(v->ledger);
    temp_ledger_done(&v->t);
    mb_stop();
}

/* One entry by the owner's key, in a group of its own. */
static inline struct mb_entry viewing_add(struct viewing *v, const char *sub, const char *kind,
                                          const char *fields)
{
    return temp_ledger_add(&v->t, sub, kind, fields);
}

static inline const char *viewing_leaf(struct viewing *v, const struct mb_entry *entry)
{
    struct mb_str leaf = mb_b64u(v->t.arena, entry->leaf.b, 32);

    return mb_arena_copy(v->t.arena, leaf.at, leaf.len);
}

/* A correction of `target`: open fields and those by class, as JSON members. */
static inline struct mb_entry viewing_correct(struct viewing *v, const struct mb_entry *target,
                                              const char *action, const char *fields)
{
    mb_arena *arena = v->t.arena;

    return viewing_add(
        v, mb_arena_copy(arena, target->sub.at, target->sub.len), "correction",
        mb_arena_printf(arena,
                        "{\"open\":{\"action\":\"%s\",\"changesFacts\":\"yes\",\"target\":"
                        "{\"entry\":\"%s\"},\"why\":\"typing\"}%s%s}",
                        action, viewing_leaf(v, target), *fields ? "," : "", fields));
}

/* "a|b" a row, rows divided by "; ". NULL is "-". */
static inline const char *viewing_rows(struct viewing *v, const mb_json *answer)
{
    mb_arena *arena = v->t.arena;
    const char *text = "";

    MB_JSON_EACH(row, mb_json_get(answer, "rows"))
    {
        text = mb_arena_printf(arena, "%s%s", text, *text ? "; " : "");
        MB_JSON_EACH(cell, row)
        {
            struct mb_str words = mb_json_write(arena, cell);

            if (cell->type == MB_JSON_STRING)
                words = cell->text;
            else if (cell->type == MB_JSON_NULL)
                words = MB_STR("-");
            text = mb_arena_printf(arena, "%s%s%.*s", text, cell == row->first ? "" : "|",
                                   MB_STR_ARG(words));
        }
    }
    return text;
}

static inline const char *viewing_ask_at(struct viewing *v, const char *as_of, const char *sql)
{
    const mb_json *answer;

    v->err = (struct mb_error){ 0 };
    if (mb_query(v->ledger, v->t.arena, mb_str_of(sql), as_of, &answer, &v->err))
        return v->err.text;
    return viewing_rows(v, answer);
}

static inline const char *viewing_ask(struct viewing *v, const char *sql)
{
    return viewing_ask_at(v, NULL, sql);
}

/* What the views say must be this. */
#define SAYS(v, sql, text) \
    cr_assert_str_eq(viewing_ask(v, sql), text, "%s\n     says %s\n not what %s", sql, \
                     viewing_ask(v, sql), text)

/* Stored rows are those of a replay of everything at once. */
static inline void viewing_whole(struct viewing *v)
{
    const char *where = "";
    enum mb_rc rc = mb_views_compare(v->ledger, v->t.arena, &where, &v->err);

    cr_assert_eq(rc, MB_OK, "%s%s", rc == MB_NO ? where : "", v->err.text);
}

#endif
