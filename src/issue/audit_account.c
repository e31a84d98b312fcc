/* What was taken under each permission, against its limits, with every addend. */
#include "audit_page.h"

#include <math.h>
#include <string.h>

#include "decimal.h"
#include "text.h"

/* As a number is read: 43.5, 0.903895. */
static const char *amount(struct mb_audit_page *page, const mb_json *of, const char *name)
{
    const mb_json *value = mb_json_get(of, name);

    if (!value || value->type == MB_JSON_NULL)
        return "not recorded";
    if (value->type == MB_JSON_NUMBER)
        return mb_arena_printf(page->arena, "%.6g", mb_decimal_double(value->text));
    return mb_audit_text(page, of, name);
}

static const char *addends(struct mb_audit_page *page, const mb_json *sum)
{
    const char *text = "";
    int64_t more = mb_json_int(mb_json_get(sum, "moreAddends"), 0);

    MB_JSON_EACH (one, mb_json_get(sum, "addends"))
        text = mb_arena_printf(page->arena, "%s%s%s: %s (#%s)", text, *text ? ", " : "",
                               mb_audit_short(page, mb_json_get(one, "subject")),
                               amount(page, one, "amount"), mb_audit_text(page, one, "seq"));
    if (more)
        text = mb_arena_printf(page->arena, "%s and %lld more", text, (long long)more);
    return text;
}

static const char *limit_words(struct mb_audit_page *page, const mb_json *limit)
{
    const char *material = mb_audit_text(page, limit, "material");
    const char *whose = mb_audit_text(page, limit, "whose");
    const char *per = mb_audit_text(page, limit, "per");

    return mb_arena_printf(page->arena, "%s %s%s%s %s%s%s%s%s", mb_audit_text(page, limit,
                                                                              "limit"),
                           mb_audit_text(page, limit, "unit"), *material ? " of " : "", material,
                           strcmp(per, "in all") == 0 ? "" : "per ", per, *whose ? ", " : "",
                           whose,
                           mb_json_true(mb_json_get(limit, "plusPiece"))
                               ? ", and one piece a day besides" : "");
}

/* With a piece besides, rule 11 has to look at the pieces: the sum alone does not tell. */
static bool is_more(const mb_json *limit, const mb_json *sum)
{
    const mb_json *most = mb_json_get(limit, "limit"), *all = mb_json_get(sum, "sum");

    return most && all && !mb_json_true(mb_json_get(limit, "plusPiece"))
           && (all->type == MB_JSON_INTEGER ? (double)all->integer : mb_decimal_double(all->text))
                  > mb_decimal_double(most->text) * (1 + 1e-9);
}

static void one_limit(struct mb_audit_page *page, const mb_json *limit)
{
    static const double shares[] = { 1.2, 1.2, 1.4, 4 };
    static const char *const head[] = { "When", "Who", "On the record", "Made up of" };
    const struct mb_report_table table = { 4, shares, head };
    const char *regime = mb_audit_text(page, limit, "regime");
    const char *citation = mb_audit_text(page, limit, "citation");
    const char *unit = mb_audit_text(page, limit, "unit");

    mb_report_need(page->r, 32);
    mb_report_say(page->r, mb_arena_printf(page->arena, "Limit: %s%s%s%s%s%s.",
                                           limit_words(page, limit),
                                           *regime ? ", by the rule of the land " : "", regime,
                                           *citation ? " (" : "", citation, *citation ? ")" : ""));
    mb_report_table_begin(page->r, &table);
    MB_JSON_EACH (sum, mb_json_get(limit, "sums"))
        mb_report_table_row(
            page->r, &table,
            (const char *const[]){
                mb_audit_text(page, sum, "key"),
                mb_json_get(sum, "party") ? mb_audit_name(page, mb_json_get(sum, "party"))
                                          : "together",
                mb_arena_printf(page->arena, "%s%s %s%s",
                                mb_json_true(mb_json_get(sum, "atLeast")) ? "at least " : "",
                                amount(page, sum, "sum"), unit,
                                is_more(limit, sum) ? ", more than the limit" : ""),
                addends(page, sum) });
    mb_report_table_end(page->r);
}

void mb_audit_account_pages(struct mb_audit_page *page)
{
    const mb_json *accounts = mb_json_get(page->audit, "accounts");

    mb_report_section(page->r, "What was taken, against each limit");
    if (!accounts->count) {
        mb_report_say(page->r, "No find on the record was made under a permission or a rule of the"
                               " land that limits how much.");
        return;
    }
    mb_report_say(page->r, "Only what came out of the ground counts: dividing, joining and"
                           " preparing add nothing. A mass is as taken, rock included, unless the"
                           " permission says otherwise. Where one is missing a sum says \"at"
                           " least\".");
    MB_JSON_EACH (account, accounts) {
        mb_report_group(page->r, mb_arena_printf(page->arena, "Permission %s",
                                                 mb_audit_name(page, mb_json_get(account,
                                                                                 "permission"))));
        MB_JSON_EACH (limit, mb_json_get(account, "limits"))
            one_limit(page, limit);
    }
}
