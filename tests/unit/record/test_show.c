/* What `show`, `find` and `list` answer, in a ledger recorded through the door. */
#include <criterion/criterion.h>
#include <string.h>

#include <markerbed/show.h>

#include "text.h"
#include "workbench.h"

static struct workbench b;

static void set_up(void)
{
    workbench_house(&b);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(show, .init = set_up, .fini = tear_down, .timeout = 60);

static int64_t find_of(const char *id, const char *quantity, const char *what)
{
    return workbench_must(&b, "collecting", id, "fieldDay=D001", "recordNumber=T-118",
                          mb_arena_printf(b.arena, "verbatimIdentification=%s", what),
                          mb_arena_printf(b.arena, "objectQuantity=%s", quantity),
                          "objectForm=lot", "quantityHow=counted", "materialClass=vertebrate",
                          "horizon=H-A", "inPlace=in place", NULL);
}

static const mb_json *shown(const char *subject, const char *as_of)
{
    const mb_json *out = NULL;

    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_show(b.ledger, b.arena, subject, as_of, &out, &b.err), MB_OK, "%s",
                 b.err.text);
    return out;
}

static const char *json(const mb_json *value)
{
    return mb_json_write(b.arena, value).at;
}

static const char *now(const mb_json *story, const char *field)
{
    return json(mb_json_get(mb_json_get(story, "now"), field));
}

static const mb_json *entry(const mb_json *story, size_t at)
{
    return mb_json_at(mb_json_get(story, "entries"), at);
}

static const char *text_of(const mb_json *object, const char *name)
{
    const char *text = mb_json_cstr(b.arena, mb_json_get(object, name));

    return text ? text : "";
}

#define IS(text, wanted) cr_assert_str_eq(text, wanted, "%s\n is not %s", text, wanted)

Test(show, the_story_of_a_lot)
{
    int64_t find = find_of("26-0240", "240", "shark teeth");
    const mb_json *story;
    int64_t fixed;

    workbench_must(&b, "division", "26-0240", "purpose=drawn from lot", "remains=yes, smaller",
                   "into=specimen:specimen/26-0241; form:lot; quantity:80; what:show tray",
                   "remainder=160", "consumed=0", "sameIndividual=does not apply",
                   "date=2026-05-31", NULL);
    fixed = workbench_must(&b, "correction", "26-0240",
                           mb_arena_printf(b.arena, "target=#%lld", (long long)find),
                           "action=change fields", "why=measured again", "changesFacts=yes",
                           "objectQuantity=250", NULL);
    story = shown("26-0240", NULL);
    IS(text_of(story, "subject"), "specimen/26-0240");
    IS(now(story, "objectQuantity"),
       mb_arena_printf(b.arena, "{\"corrected\":true,\"seq\":%lld,\"value\":250}",
                       (long long)fixed));
    IS(now(story, "eventDate"), mb_arena_printf(b.arena, "{\"seq\":%lld,\"value\":\"2026-05-30\"}",
                                                (long long)find));
    IS(text_of(entry(story, 0), "line"),
       "Found by Wren Castellane and Ottoline Harrow on 2026-05-30 at site/S001 in horizon/H-A:"
       " shark teeth, 250 pieces");
    IS(text_of(entry(story, 0), "title"), "Found in the field");
    IS(text_of(entry(story, 0), "by"), "Ottoline Harrow");
    IS(text_of(entry(story, 0), "day"), "2026-05-30");
    IS(text_of(entry(story, 0), "recordedAt"), "2026-06-01T12:00:00Z");
    IS(json(mb_json_get(mb_json_get(entry(story, 0), "fields"), "objectQuantity")), "240");
    IS(text_of(entry(story, 1), "line"),
       "Divided on 2026-05-31 (drawn from lot) into 1 new number, 80 pieces given out, 160 left");
    IS(text_of(entry(story, 2), "line"),
       mb_arena_printf(b.arena, "Entry #%lld corrected, because: measured again",
                       (long long)find));
    cr_assert_eq(mb_json_int(mb_json_get(entry(story, 2), "corrects"), -1), find);
    IS(json(mb_json_get(story, "holders")),
       mb_arena_printf(b.arena, "[{\"from\":\"2026-05-30\",\"label\":\"us\",\"seqIn\":%lld}]",
                       (long long)find));
    /* 250 - 80 = 170, and 160 were said to be left */
    IS(json(mb_json_get(mb_json_get(story, "account"), "now")), "160");
    IS(json(mb_json_get(story, "warnings")),
       mb_arena_printf(b.arena, "[\"Entry #%lld: the pieces do not add up, by 10.\"]",
                       (long long)find + 1));
    story = shown("specimen/26-0241", NULL);
    IS(text_of(entry(story, 0), "line"),
       "Came out of specimen/26-0240 on 2026-05-31 (drawn from lot), 80 pieces");
}

Test(show, as_of_knows_nothing_of_later)
{
    int64_t find = find_of("26-0240", "240", "shark teeth");
    const mb_json *story, *out;

    workbench_now += 3 * 86400; /* 2026-06-04 */
    workbench_must(&b, "party", "P004", "partyType=person", "name=Marguerite Oduya",
                   "namedTo=nobody", NULL);
    workbench_must(&b, "custody", "26-0240", "from=P001", "to=P004", "fromLabel=us",
                   "toLabel=client", "handedOver=2026-06-03", "received=2026-06-03", "reason=loan",
                   "capacity=borrower", "acknowledged=one side only", "fromCountry=US",
                   "toCountry=US", NULL);
    story = shown("26-0240", NULL);
    cr_assert_eq(mb_json_get(story, "entries")->count, 2);
    IS(text_of(entry(story, 1), "line"),
       "Handed over by Ottoline Harrow to Marguerite Oduya on 2026-06-03 for loan");
    story = shown("26-0240", "2026-06-03");
    cr_assert_eq(mb_json_get(story, "entries")->count, 1);
    IS(json(mb_json_get(story, "holders")),
       mb_arena_printf(b.arena, "[{\"from\":\"2026-05-30\",\"label\":\"us\",\"seqIn\":%lld}]",
                       (long long)find));
    story = shown("26-0240", mb_arena_printf(b.arena, "#%lld", (long long)find));
    cr_assert_eq(mb_json_get(story, "entries")->count, 1);
    cr_assert_eq(mb_show(b.ledger, b.arena, "party/P004", "2026-06-03", &out, &b.err),
                 MB_REFUSED);
    IS(b.err.text,
       "nothing had been recorded on party/P004 by 2026-06-03; its first entry is later");
    cr_assert_eq(mb_list(b.ledger, b.arena, "parties", "2026-06-03", &out, &b.err), MB_OK);
    cr_assert_eq(mb_json_get(out, "rows")->count, 3);
    cr_assert_eq(mb_list(b.ledger, b.arena, "parties", NULL, &out, &b.err), MB_OK);
    cr_assert_eq(mb_json_get(out, "rows")->count, 4);
}

Test(show, moments_that_are_none_are_refused)
{
    static const char *const bad[] = { "yesterday", "2026-02-30", "#", "#x", "#-1", "#99999", "",
                                       "# 1", "#+1", "2026-06-01T12:00:00Z" };
    const mb_json *out;

    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        b.err = (struct mb_error){ 0 };
        cr_assert_eq(mb_list(b.ledger, b.arena, "sites", bad[i], &out, &b.err), MB_REFUSED, "%s",
                     bad[i]);
        cr_assert(b.err.text[0]);
    }
}

Test(show, subjects_that_are_none_are_refused_with_the_nearest)
{
    const mb_json *out;

    cr_assert_eq(mb_show(b.ledger, b.arena, "site/S01", NULL, &out, &b.err), MB_REFUSED);
    cr_assert(strstr(b.err.text, "S001"), "%s", b.err.text);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_show(b.ledger, b.arena, "site/", NULL, &out, &b.err), MB_REFUSED);
    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_show(b.ledger, b.arena, "a/b/c", NULL, &out, &b.err), MB_REFUSED);
    IS(text_of(shown("site/s001", NULL), "subject"), "site/S001");
}

Test(show, a_changed_permission_stands_as_it_was_changed)
{
    const mb_json *story;

    workbench_must(&b, "permission", "L002", "permissionType=lease", "grantor=P002", "holder=P001",
                   "validFrom=2025-01-01", "validUntil=2025-12-31", "document=none", NULL);
    workbench_must(&b, "permission-change", "L002", "what=extended", "from=2025-12-01",
                   "newValidUntil=2026-12-31", "document=none", "by=P002", NULL);
    story = shown("permission/L002", NULL);
    cr_assert(strstr(now(story, "validUntil"), "2026-12-31"));
    IS(text_of(entry(story, 1), "line"),
       "Permission extended from 2025-12-01, last day now 2026-12-31");
    workbench_must(&b, "permission-change", "L002", "what=revoked", "from=2026-03-01",
                   "document=none", "by=P002", NULL);
    {
        const mb_json *out;

        cr_assert_eq(mb_query(b.ledger, b.arena,
                              MB_STR("SELECT valid_until, until_now, last_change, holder_now"
                                     " FROM v_permission WHERE sub = 'permission/L002'"),
                              NULL, &out, &b.err),
                     MB_OK, "%s", b.err.text);
        IS(json(mb_json_get(out, "rows")),
           "[[\"2025-12-31\",\"2026-02-28\",\"revoked\",\"party/P001\"]]");
    }
    story = shown("permission/L002", NULL);
    cr_assert(strstr(json(mb_json_get(story, "warnings")), "revoked from 2026-03-01"));
}

/* ---- find ---- */

static const char *found(const char *words)
{
    const mb_json *out;
    const char *text = "";

    b.err = (struct mb_error){ 0 };
    if (mb_find_words(b.ledger, b.arena, words, 20, NULL, &out, &b.err))
        return b.err.text;
    MB_JSON_EACH(hit, out)
    {
        text = mb_arena_printf(b.arena, "%s%s%s", text, *text ? " " : "",
                               text_of(hit, "subject"));
    }
    return text;
}

Test(show, words_are_found_wherever_they_stand)
{
    find_of("26-0115", "1", "Seelilie, gro\xc3\x9f");
    find_of("26-0116", "240", "shark teeth");
    IS(found("seelilie"), "specimen/26-0115");
    IS(found("SEELI"), "specimen/26-0115"); /* the last word may only be begun */
    IS(found("see teeth"), "");             /* only the last */
    IS(found("teeth shark"), "specimen/26-0116");
    IS(found("26-0115"), "specimen/26-0115");
    IS(found("T-118 shark"), "specimen/26-0116");
    IS(found("sallow shark"), "specimen/26-0116"); /* the name of its place */
    IS(found("castellane shark"), "specimen/26-0116");
    IS(found("crinoid"), "");
}

Test(show, letters_with_marks_are_found_without_them)
{
    find_of("26-0115", "1", "Cr\xc3\xa2ne d'Elasmosaure");
    IS(found("crane"), "specimen/26-0115");
    IS(found("cr\xc3\xa2ne"), "specimen/26-0115");
    IS(found("d'elasmo"), "specimen/26-0115");
}

Test(show, whatever_is_typed_is_words_and_no_syntax)
{
    static const char *const odd[] = { "shark AND",     "shark OR tooth", "NOT shark", "shark*",
                                       "\"shark",       "sha\"rk",        "(shark",    "shark)",
                                       "shark NEAR(1)", "id:shark",       "{shark}",   "^shark",
                                       "shark - x",     "' OR 1=1 --",    "a;b",       "\\" };

    find_of("26-0116", "240", "shark teeth");
    for (size_t i = 0; i < sizeof odd / sizeof *odd; i++) {
        const mb_json *out;
        enum mb_rc rc;

        b.err = (struct mb_error){ 0 };
        rc = mb_find_words(b.ledger, b.arena, odd[i], 20, NULL, &out, &b.err);
        cr_assert(rc == MB_OK || strstr(b.err.text, "no word to look for"), "%s: %s", odd[i],
                  b.err.text);
    }
    IS(found("shark*"), "specimen/26-0116");
    IS(found("\"shark teeth\""), "specimen/26-0116");
    IS(found("( shark )"), "specimen/26-0116");
    IS(found("..."), "there is no word to look for in '...'");
    IS(found("\xff"), "the words to look for are no UTF-8 text");
}

Test(show, a_hit_names_the_entry_that_holds_the_words)
{
    int64_t find = find_of("26-0116", "240", "shark teeth"), note;
    const mb_json *out;

    note = workbench_must(&b, "note", "26-0116", "text=the red box by the window", NULL);
    cr_assert_eq(mb_find_words(b.ledger, b.arena, "red window", 5, NULL, &out, &b.err), MB_OK);
    IS(json(out), mb_arena_printf(b.arena,
                                  "[{\"kind\":\"note\",\"line\":\"shark teeth \xe2\x80\x93 Note:"
                                  " the red box by the window\",\"seq\":%lld,\"subject\":"
                                  "\"specimen/26-0116\"}]",
                                  (long long)note));
    cr_assert_eq(mb_find_words(b.ledger, b.arena, "shark", 5, NULL, &out, &b.err), MB_OK);
    cr_assert_eq(mb_json_int(mb_json_get(out->first, "seq"), -1), find);
}

Test(show, no_more_hits_than_asked_for)
{
    const mb_json *out;

    for (int i = 0; i < 7; i++)
        find_of(mb_arena_printf(b.arena, "26-01%d", i), "1", "ammonite");
    cr_assert_eq(mb_find_words(b.ledger, b.arena, "ammonite", 3, NULL, &out, &b.err), MB_OK);
    cr_assert_eq(out->count, 3);
}

/* ---- lists ---- */

static const char *list_of(const char *what)
{
    const mb_json *out;

    b.err = (struct mb_error){ 0 };
    cr_assert_eq(mb_list(b.ledger, b.arena, what, NULL, &out, &b.err), MB_OK, "%s: %s", what,
                 b.err.text);
    MB_JSON_EACH(row, mb_json_get(out, "rows"))
    {
        cr_assert_eq(row->count, mb_json_get(out, "columns")->count, "%s", what);
    }
    return json(mb_json_get(out, "rows"));
}

Test(show, there_is_a_list_of_each)
{
    static const char *const empty[] = { "dealings", "places", "certificates" };
    const mb_json *out;

    find_of("26-0240", "240", "shark teeth");
    IS(list_of("specimens"),
       "[[\"26-0240\",\"shark teeth\",\"lot\",240,\"S001\",\"2026-05-30\",\"us\",null,"
       "\"with us\"]]");
    IS(list_of("lots"), "[[\"26-0240\",\"shark teeth\",240,0,0,240,\"\"]]");
    IS(list_of("sites"), "[[\"S001\",\"Sallow Draw\",\"Gove\",\"Kansas\",\"US\",null,1]]");
    IS(list_of("permissions"),
       "[[\"L001\",\"own land\",\"Ottoline Harrow\",\"Ottoline Harrow\",\"2024-01-01\","
       "\"until ended\",null,\"not stated\",1]]");
    IS(list_of("field-days"),
       "[[\"D001\",\"2026-05-30\",\"S001\",\"L001\",\"Wren Castellane, Ottoline Harrow\",1]]");
    cr_assert(strstr(list_of("horizons"), "Santonian"));
    cr_assert(strstr(list_of("parties"), "Teodor Vane"));
    cr_assert(strstr(list_of("keys"), "\"everything\",\"#0\""));
    cr_assert(strstr(list_of("kinds"), "collecting"));
    for (size_t i = 0; i < sizeof empty / sizeof *empty; i++)
        IS(list_of(empty[i]), "[]");
    cr_assert_eq(mb_list(b.ledger, b.arena, "fossils", NULL, &out, &b.err), MB_REFUSED);
    cr_assert(strstr(b.err.text, "specimens, lots, sites"), "%s", b.err.text);
}

Test(show, places_and_dealings_are_listed_with_what_they_hold)
{
    find_of("26-0240", "240", "shark teeth");
    workbench_must(&b, "placement", "T1", "placeName=flat 7", "what=specimen/26-0240",
                   "date=2026-05-31", NULL);
    workbench_must(&b, "placement", "T2", "placeName=shelf", "what=place/T1", "date=2026-06-01",
                   NULL);
    IS(list_of("places"), "[[\"T1\",\"flat 7\",null,\"T2\",1],[\"T2\",\"shelf\",null,null,1]]");
    workbench_must(&b, "dealing", "J7", "type=consignment", "opened=2026-06-01",
                   "parties=party:P002; role:seller", "specimens=specimen/26-0240",
                   "signedPaper=none", NULL);
    cr_assert(strstr(list_of("dealings"), "[\"J7\",\"consignment\",\"2026-06-01\","), "%s",
              list_of("dealings"));
}
