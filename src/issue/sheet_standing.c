/*
 * The standing of the land record on a sheet. The file holds it as one line, with rules by number:
 * "selling: in question (04 day-outside, 36 paper); moving abroad: shown on the record". A reader
 * is told what each of those rules asks.
 */
#include <string.h>

#include "rule.h"
#include "sheet_page.h"
#include "text.h"

static const char *capital(mb_arena *arena, struct mb_str text)
{
    char *out = mb_arena_copy(arena, text.at, text.len);

    if (*out >= 'a' && *out <= 'z')
        *out = (char)(*out - 'a' + 'A');
    return out;
}

/* What the rule "04 day-outside" asks; a user's own rule is told as it is written. */
static const char *asked_by(mb_arena *arena, const struct mb_rules *rules, struct mb_str code)
{
    for (const struct mb_rule *rule = rules->first; rule; rule = rule->next)
        if (mb_str_is(code, mb_arena_printf(arena, "%s %s", rule->id, rule->name)))
            return mb_arena_printf(arena, "%c%s",
                                   rule->title[0] >= 'A' && rule->title[0] <= 'Z'
                                       ? rule->title[0] - 'A' + 'a'
                                       : rule->title[0],
                                   rule->title + 1);
    if (mb_str_is(code, "00 found-elsewhere"))
        return "how it was collected stands on the record of this ledger";
    if (mb_str_is(code, "00 struck-out"))
        return "how it came here stands on the record, and was not struck out";
    return mb_arena_copy(arena, code.at, code.len);
}

/* "in question (04 day-outside, 36 paper)" */
static const char *act_words(mb_arena *arena, const struct mb_rules *rules, struct mb_str said)
{
    struct mb_str word, codes, code;
    char *out;

    if (!mb_str_cut(said, '(', &word, &codes))
        return mb_arena_copy(arena, said.at, said.len);
    if (codes.len && codes.at[codes.len - 1] == ')')
        codes.len--;
    word = mb_str_trim(word);
    out = mb_arena_printf(arena, "%.*s. Rules that the record does not meet:", MB_STR_ARG(word));
    while (codes.len) {
        mb_str_cut(codes, ',', &code, &codes);
        out = mb_arena_printf(arena, "%s\n– %s", out, asked_by(arena, rules, mb_str_trim(code)));
    }
    return out;
}

void mb_page_standing(struct mb_page *page)
{
    struct mb_str rest = mb_json_str(mb_json_get(mb_page_line(page, "standing"), "value"));
    mb_arena *scratch = mb_arena_new(); /* all rules, read again for each of 500 pages */
    struct mb_rules rules = { 0 };
    struct mb_str part, act, said;

    if (!rest.len || mb_rules_built_in(scratch, &rules, NULL)) {
        mb_arena_free(scratch);
        return;
    }
    mb_page_add(page, MB_PAGE_GROUP)->text =
        "How the record stands, by the issuer's rules (the issuer's word)";
    while (rest.len) {
        mb_str_cut(rest, ';', &part, &rest);
        if (mb_str_cut(mb_str_trim(part), ':', &act, &said))
            mb_page_pair(page, capital(page->arena, act),
                         act_words(page->arena, &rules, mb_str_trim(said)));
    }
    mb_arena_free(scratch);
}
