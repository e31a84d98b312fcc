/* What an institution would miss, over a small ledger of the invented lab. */
#include <markerbed/handover.h>

#include <string.h>

#include <criterion/criterion.h>

#include "fileio.h"
#include "stock.h"
#include "text.h"

static struct workbench b;

static void set_up(void)
{
    stock_house(&b);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(readiness, .init = set_up, .fini = tear_down);

static const mb_json *missing(const char *specimen)
{
    const mb_json *out;

    cr_assert_eq(mb_readiness(b.ledger, b.arena, specimen, &out, &b.err), MB_OK, "%s",
                 b.err.text);
    return out;
}

/* "missing", "not known", or "" where it is known. */
static const char *state(const mb_json *list, const char *field)
{
    MB_JSON_EACH(row, list)
        if (mb_json_text_is(mb_json_get(row, "field"), field))
            return mb_json_cstr(b.arena, mb_json_get(row, "state"));
    return "";
}

Test(readiness, shrinks_as_the_record_grows)
{
    const mb_json *list;
    int64_t rank = 0;

    stock_find(&b, "26-0115");
    list = missing("26-0115");
    cr_expect_str_eq(state(list, "site"), "");
    cr_expect_str_eq(state(list, "horizon"), "");
    cr_expect_str_eq(state(list, "scientificName"), "missing");
    cr_expect_str_eq(state(list, "steps"), "missing");
    cr_expect_str_eq(state(list, "to"), "missing");
    MB_JSON_EACH(row, list)
    {
        cr_expect_gt(mb_json_int(mb_json_get(row, "rank"), 0), rank);
        rank = mb_json_int(mb_json_get(row, "rank"), 0);
        cr_expect(strstr(mb_json_cstr(b.arena, mb_json_get(row, "how")), "markerbed record"));
    }
    stock_sold(&b, "26-0115");
    list = missing("specimen/26-0115");
    cr_expect_str_eq(state(list, "scientificName"), "not known"); /* and was asked for */
    cr_expect_str_eq(state(list, "steps"), "");
    cr_expect_str_eq(state(list, "to"), "");
}

/* A piece that came out of another was found where the other was. */
Test(readiness, a_divided_lot)
{
    const mb_json *list;

    stock_lot(&b, "26-0240", 200);
    stock_divide(&b, "26-0240", "specimen:26-0241; form:lot; quantity:80", "120", "0");
    list = missing("26-0241");
    cr_expect_str_eq(state(list, "site"), "");
    cr_expect_str_eq(state(list, "eventDate"), "");
    cr_expect_str_eq(state(list, "recordedBy"), "");
}

Test(readiness, refusals)
{
    const mb_json *out;

    cr_expect_eq(mb_readiness(b.ledger, b.arena, "26-9999", &out, &b.err), MB_REFUSED);
    cr_expect(strstr(b.err.text, "26-9999"));
}

static enum mb_rc make(const struct mb_handover *handover, const mb_json **out)
{
    b.err = (struct mb_error){ 0 };
    return mb_handover_make(b.ledger, b.arena, handover, out, &b.err);
}

Test(readiness, asked_wrongly_a_handover_changes_nothing)
{
    const char *const specimens[] = { "26-0115", "26-0115" };
    const char *folder = mb_path_join(b.arena, b.folder, "../bag-of-a-test");
    struct mb_handover h = { .specimens = specimens, .count = 1, .to = "P005", .folder = folder };
    const mb_json *out;
    int64_t size;

    stock_find(&b, "26-0115");
    size = workbench_size(&b);
    h.to = "bearer";
    cr_expect_eq(make(&h, &out), MB_REFUSED);
    h.to = "P999";
    cr_expect_eq(make(&h, &out), MB_REFUSED);
    h.to = "P005";
    h.as = "present";
    cr_expect_eq(make(&h, &out), MB_REFUSED);
    h.as = NULL;
    h.pack = "rar";
    cr_expect_eq(make(&h, &out), MB_REFUSED);
    h.pack = NULL;
    h.count = 2;
    cr_expect_eq(make(&h, &out), MB_REFUSED);
    h.count = 0;
    cr_expect_eq(make(&h, &out), MB_REFUSED);
    cr_expect_eq(workbench_size(&b), size);
    cr_expect_not(mb_file_exists(folder));
}
