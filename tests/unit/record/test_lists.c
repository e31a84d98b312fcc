/* What `list` promises of every list: headings for every cell, an answer as of any moment, and the
 * nearest name where there is no such list. */
#include <criterion/criterion.h>
#include <string.h>

#include <markerbed/certificate.h>
#include <markerbed/show.h>

#include "paper.h"
#include "stock.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static struct workbench b;

static void set_up(void)
{
    stock_house(&b);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(lists, .init = set_up, .fini = tear_down);

static const mb_json *list_of(const char *what, const char *as_of)
{
    const mb_json *out = NULL;

    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_list(b.ledger, b.arena, what, as_of, &out, &b.err), MB_OK, "%s: %s", what,
                 b.err.text);
    return out;
}

static const char *rows_of(const char *what, const char *as_of)
{
    struct mb_str text = mb_json_write(b.arena, mb_json_get(list_of(what, as_of), "rows"));

    return mb_arena_copy(b.arena, text.at, text.len);
}

/* One of everything that there are lists of. */
static const char *fill(void)
{
    const char *id;

    stock_find(&b, "26-0115");
    stock_sold(&b, "26-0115");
    stock_lot(&b, "26-0240", 240);
    stock_divide(&b, "26-0240", "specimen:26-0241; form:lot; quantity:80", "160", "0");
    workbench_must(&b, "placement", "T1", "placeName=flat 7", "what=specimen/26-0240",
                   "date=2026-05-31", NULL);
    workbench_must(&b, "dealing", "J7", "type=consignment", "opened=2026-06-01",
                   "parties=party:P002; role:seller", "specimens=specimen/26-0240",
                   "signedPaper=none", NULL);
    paper_must(&b, (struct paper_wish){ .specimens = "26-0115", .audience = "buyer",
                                        .to = "P011" });
    id = mb_json_cstr(b.arena, mb_json_get(b.out, "id"));
    return id;
}

static const struct {
    const char *name;
    size_t rows;
} lists[] = {
    { "specimens", 3 },    { "lots", 2 },    { "sites", 2 },        { "horizons", 1 },
    { "permissions", 2 },  { "parties", 7 }, { "field-days", 2 },   { "dealings", 1 },
    { "places", 1 },       { "keys", 2 },    { "certificates", 1 },
};

Test(lists, every_cell_has_a_heading)
{
    fill();
    for (size_t i = 0; i < COUNT(lists); i++) {
        const mb_json *list = list_of(lists[i].name, NULL);
        size_t columns = mb_json_get(list, "columns")->count;

        cr_expect_eq(mb_json_get(list, "rows")->count, lists[i].rows, "%s: %u", lists[i].name,
                     mb_json_get(list, "rows")->count);
        MB_JSON_EACH(title, mb_json_get(list, "columns"))
        {
            /* the last of `lots` is a mark that needs none */
            cr_expect(title->text.len || !title->next, "%s", lists[i].name);
        }
        MB_JSON_EACH(row, mb_json_get(list, "rows"))
        {
            cr_expect_eq(row->count, columns, "%s", lists[i].name);
        }
    }
    cr_expect_eq(mb_json_get(list_of("kinds", NULL), "columns")->count, 3);
}

Test(lists, a_list_as_of_the_founding_is_empty_but_for_keys)
{
    fill();
    for (size_t i = 0; i < COUNT(lists); i++)
        cr_expect_eq(mb_json_get(list_of(lists[i].name, "#0"), "rows")->count,
                     strcmp(lists[i].name, "keys") == 0, "%s", lists[i].name);
    cr_expect(strstr(rows_of("lots", NULL), "[\"26-0240\",\"shark teeth\",240,80,0,160,\"\"]"),
              "%s", rows_of("lots", NULL));
}

Test(lists, a_withdrawn_certificate_is_listed_as_that)
{
    const char *id = fill();

    cr_expect(strstr(rows_of("certificates", NULL), "\"buyer\",\"Priya Lindqvist\",\"2026-06-01\","
                                                    "\"stands\""),
              "%s", rows_of("certificates", NULL));
    cr_assert_eq(mb_certificate_withdraw(b.ledger, b.arena, id, "sale undone", &b.out, &b.err),
                 MB_OK, "%s", b.err.text);
    cr_expect(strstr(rows_of("certificates", NULL), "\"withdrawn, entry #"));
    cr_expect(strstr(rows_of("certificates", NULL), ": sale undone\""));
}

static const struct {
    const char *typed, *near; /* NULL: none is near */
} names[] = {
    { "specimen", "specimens" }, { "lot", "lots" },   { "partis", "parties" },
    { "fielddays", "field-days" }, { "SITES", NULL }, { "certificate", "certificates" },
    { "kind", "kinds" },         { "", NULL },        { "'; DROP TABLE log; --", NULL },
};

Test(lists, where_there_is_no_such_list_the_nearest_is_named)
{
    for (size_t i = 0; i < COUNT(names); i++) {
        const char *said = mb_arena_printf(b.arena, "there is no list of '%s'", names[i].typed);
        const mb_json *out = NULL;

        b.err = (struct mb_error){ 0 };
        cr_expect_eq(mb_list(b.ledger, b.arena, names[i].typed, NULL, &out, &b.err), MB_REFUSED);
        cr_expect(strncmp(b.err.text, said, strlen(said)) == 0, "%s", b.err.text);
        if (names[i].near)
            cr_expect(strstr(b.err.text,
                             mb_arena_printf(b.arena, "did you mean '%s'?", names[i].near)),
                      "%s", b.err.text);
        else
            cr_expect_null(strstr(b.err.text, "did you mean"), "%s", b.err.text);
        cr_expect(strstr(b.err.text, "specimens, lots, sites, horizons, permissions, parties,"
                                     " field-days, dealings, places, certificates, keys, kinds"),
                  "%s", b.err.text);
        cr_expect_null(out);
    }
}
