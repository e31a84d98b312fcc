/* That the table of columns (views_tables.c), the kinds, the SQL and the page for people agree. */
#include "db.h"
#include "fileio.h"
#include "kinds.h"
#include "viewing.h"
#include "views_tables.h"

static struct viewing v;

static void set_up(void)
{
    viewing_new(&v);
}

static void tear_down(void)
{
    viewing_done(&v);
}

TestSuite(views_tables, .init = set_up, .fini = tear_down);

static bool has_column(const struct mb_kind_field *list, struct mb_str name)
{
    for (size_t i = 0; i < list->column_count; i++)
        if (mb_str_is(name, list->columns[i].name.at))
            return true;
    return false;
}

static void check_field(const struct mb_view_table *t, const struct mb_kind *kind,
                        const char *field)
{
    struct mb_str name, rest = mb_str_of(field);

    while (rest.len) {
        mb_str_cut(rest, '|', &name, &rest);
        if (mb_str_is(name, "."))
            continue;
        if (strncmp(field, "legalDescription.", 17) == 0) /* a part of its words: landwords.h */
            name.len = 16;
        if (name.at[0] == '^')
            name = (struct mb_str){ name.at + 1, name.len - 1 };
        else if (t->list) {
            cr_assert(has_column(mb_kind_field(kind, mb_str_of(t->list)), name),
                      "%s: %s has no column %.*s", t->name, t->list, MB_STR_ARG(name));
            continue;
        }
        cr_assert(mb_kind_field(kind, name), "%s: %s has no field %.*s", t->name, t->kind,
                  MB_STR_ARG(name));
    }
}

Test(views_tables, every_column_has_its_field)
{
    for (size_t i = 0; i < mb_view_tables_count; i++) {
        const struct mb_view_table *t = &mb_view_tables[i];
        const struct mb_kind *kind = mb_kind_find(mb_str_of(t->kind));

        cr_assert(kind, "%s is of no kind", t->name);
        cr_assert(!t->list || mb_kind_field(kind, mb_str_of(t->list)), "%s: no field %s", t->name,
                  t->list);
        for (size_t c = 0; c < t->count; c++)
            if (t->columns[c].field)
                check_field(t, kind, t->columns[c].field);
    }
}

Test(views_tables, every_column_stands_in_the_sql)
{
    for (size_t i = 0; i < mb_view_tables_count; i++) {
        const struct mb_view_table *t = &mb_view_tables[i];

        for (size_t c = 0; c < t->count; c++) {
            const mb_json *answer;
            const char *sql = mb_arena_printf(v.t.arena, "SELECT %s, %s FROM %s", t->key,
                                              t->columns[c].name, t->name);

            v.err = (struct mb_error){ 0 };
            cr_assert_eq(mb_query(v.ledger, v.t.arena, mb_str_of(sql), NULL, &answer, &v.err),
                         MB_OK, "%s: %s", sql, v.err.text);
        }
    }
}

/* The page names every table and every column of it, and nothing that is not there. A table is a
 * heading "### v_name", a column a row "| `column` |". */
static const char *documented(const char *page)
{
    struct mb_str line, rest = mb_str_of(page), table = { NULL, 0 };
    const char *text = "";

    while (rest.len) {
        mb_str_cut(rest, '\n', &line, &rest);
        if (mb_str_starts(line, "### v_")) {
            table = (struct mb_str){ line.at + 4, line.len - 4 };
            text = mb_arena_printf(v.t.arena, "%s%.*s:\n", text, MB_STR_ARG(table));
        } else if (mb_str_starts(line, "## ")) {
            table.at = NULL;
        } else if (table.at && mb_str_starts(line, "| `")) {
            struct mb_str name, more = { line.at + 3, line.len - 3 };

            mb_str_cut(more, '`', &name, &more);
            text = mb_arena_printf(v.t.arena, "%s  %.*s\n", text, MB_STR_ARG(name));
        }
    }
    return text;
}

Test(views_tables, the_page_tells_of_every_column)
{
    struct mb_str page;
    const mb_json *answer;
    const char *text = documented(""), *there = "", *last = "";

    cr_assert_eq(mb_file_read(v.t.arena, "docs/views.md", 1 << 20, &page, &v.err), MB_OK, "%s",
                 v.err.text);
    text = documented(mb_arena_copy(v.t.arena, page.at, page.len));
    cr_assert_eq(mb_query(v.ledger, v.t.arena,
                          MB_STR("SELECT s.name, c.name FROM sqlite_schema s,"
                                 " pragma_table_info(s.name) c WHERE s.type IN ('table', 'view')"
                                 " AND s.name GLOB 'v_*' AND s.name NOT GLOB 'v_search_*'"
                                 " AND s.name NOT IN ('v_work', 'v_stamp')"
                                 " ORDER BY s.name, c.cid"),
                          NULL, &answer, &v.err),
                 MB_OK, "%s", v.err.text);
    MB_JSON_EACH(row, mb_json_get(answer, "rows"))
    {
        const char *table = mb_json_cstr(v.t.arena, mb_json_at(row, 0));
        const char *column = mb_json_cstr(v.t.arena, mb_json_at(row, 1));
        const char *heading = mb_arena_printf(v.t.arena, "%s:\n", table);
        const char *at = strstr(text, heading), *next;

        if (strcmp(table, last) != 0) {
            cr_assert(at, "docs/views.md does not tell of %s", table);
            there = mb_arena_printf(v.t.arena, "%s%s", there, heading);
            last = table;
        }
        there = mb_arena_printf(v.t.arena, "%s  %s\n", there, column);
        next = strstr(at + 1, "\nv_");
        at = strstr(at, mb_arena_printf(v.t.arena, "\n  %s\n", column));
        cr_assert(at && (!next || at < next), "docs/views.md does not tell of %s.%s", table,
                  column);
    }
    cr_assert_eq(strlen(there), strlen(text), "docs/views.md tells of more than there is");
}

/* The examples on the page run. */
Test(views_tables, the_examples_of_the_page_are_understood)
{
    struct mb_str page, line, rest;
    const char *sql = "";
    bool inside = false;
    int examples = 0;

    cr_assert_eq(mb_file_read(v.t.arena, "docs/views.md", 1 << 20, &page, &v.err), MB_OK);
    for (rest = page; rest.len;) {
        mb_str_cut(rest, '\n', &line, &rest);
        if (mb_str_is(line, "```sql")) {
            inside = true;
            sql = "";
        } else if (inside && mb_str_is(line, "```")) {
            const mb_json *answer;

            v.err = (struct mb_error){ 0 };
            cr_assert_eq(mb_query(v.ledger, v.t.arena, mb_str_of(sql), NULL, &answer, &v.err),
                         MB_OK, "%s: %s", sql, v.err.text);
            inside = false;
            examples++;
        } else if (inside) {
            sql = mb_arena_printf(v.t.arena, "%s%.*s\n", sql, MB_STR_ARG(line));
        }
    }
    cr_assert_gt(examples, 30);
}
