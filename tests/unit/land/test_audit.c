/*
 * The audit's engine: what it counts, what it looks at, what it refuses. The rules themselves are
 * tested one by one in test_rules.c.
 */
#include <criterion/criterion.h>
#include <string.h>

#include <markerbed/audit.h>

#include "stock.h"
#include "text.h"

static struct workbench bench;

static void setup(void)
{
    stock_house(&bench);
}

static void teardown(void)
{
    workbench_done(&bench);
}

TestSuite(audit, .init = setup, .fini = teardown);

static const mb_json *audit(struct mb_audit_ask ask)
{
    const mb_json *out = NULL;
    struct mb_error err = { 0 };

    cr_assert_eq(mb_audit(bench.ledger, bench.arena, &ask, &out, &err), MB_OK, "%s", err.text);
    return out;
}

static const mb_json *rule_of(const mb_json *out, const char *id)
{
    MB_JSON_EACH (rule, mb_json_get(out, "rules"))
        if (mb_json_text_is(mb_json_get(rule, "id"), id))
            return rule;
    cr_assert_fail("no rule %s", id);
    return NULL;
}

Test(audit, every_rule_counts_what_it_applied_to)
{
    stock_find(&bench, "26-0001");
    stock_lot(&bench, "26-0002", 12);
    const mb_json *out = audit((struct mb_audit_ask){ 0 });

    cr_expect_eq(mb_json_int(mb_json_get(out, "specimens"), -1), 2);
    cr_expect(mb_json_true(mb_json_get(mb_json_get(out, "scope"), "whole")));
    cr_expect(mb_json_text_is(mb_json_get(out, "asOf"), "2026-06-01"));
    MB_JSON_EACH (rule, mb_json_get(out, "rules"))
        cr_expect_eq(mb_json_int(mb_json_get(rule, "applied"), -1),
                     mb_json_int(mb_json_get(rule, "fits"), 0)
                         + mb_json_int(mb_json_get(rule, "doesNotFit"), 0)
                         + mb_json_int(mb_json_get(rule, "cannotTell"), 0));
    cr_expect_eq(mb_json_int(mb_json_get(rule_of(out, "04"), "applied"), -1), 2);
}

Test(audit, a_limit_leaves_out_the_rest_and_says_so)
{
    stock_find(&bench, "26-0001");
    stock_lot(&bench, "26-0002", 12);
    const mb_json *out = audit((struct mb_audit_ask){ .site = "S002" });

    cr_expect_eq(mb_json_int(mb_json_get(out, "specimens"), -1), 1);
    cr_expect(mb_json_text_is(mb_json_get(mb_json_get(out, "scope"), "site"), "site/S002"));
    cr_expect_eq(mb_json_int(mb_json_get(rule_of(out, "04"), "applied"), -1), 1);
    const mb_json *first = mb_json_at(mb_json_get(out, "leftOut"), 0);
    cr_expect(mb_json_text_is(mb_json_get(first, "category"), "specimens and lots"));
    cr_expect_eq(mb_json_int(mb_json_get(first, "count"), -1), 1);
}

Test(audit, what_is_not_there_is_refused)
{
    const mb_json *out = NULL;
    struct mb_error err = { 0 };
    struct mb_audit_ask ask = { .site = "S999" };

    cr_expect_eq(mb_audit(bench.ledger, bench.arena, &ask, &out, &err), MB_REFUSED);
    cr_expect_str_eq(err.text, "there is no site/S999 in this ledger");
    err = (struct mb_error){ 0 };
    ask = (struct mb_audit_ask){ .from = "2026-06-01", .until = "2026-05-01" };
    cr_expect_eq(mb_audit(bench.ledger, bench.arena, &ask, &out, &err), MB_REFUSED);
}
