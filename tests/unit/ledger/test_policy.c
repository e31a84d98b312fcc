/* The reader's policy: C2SP tlog-policy. Keys and checkpoint are real ones, of public witnesses, as
 * printed in florolf/tlog-scales tests/test_signing.py. */
#include <criterion/criterion.h>
#include <string.h>

#include "policy.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define REMORA "remora.n621.de+da77ade7+BOvN63jn/bLvkieywe8R6UYAtVtNbZpXh34x7onlmtw2"
#define STAGEMOLE "witness.stagemole.eu+67f7aea0+BEqSG3yu9YrmcM3BHvQYTxwFj3uSWakQepafafpUqklv"
#define GARDEN \
    "transparency.dev/DEV:witness-little-garden+d8042a87+" \
    "BCtusOxINQNUTN5Oj8HObRkh2yHf/MwYaGX4CPdiVEPM"
#define ARCHE \
    "arche2025h1.staging.ct.transparency.dev+ba2f06c0+" \
    "AU0vHmlGCS/PdN8b2OaGmKprLI8HKM+dJ472xgFYh15f"
/* golang.org/x/mod sumdb/note/note_test.go */
#define NEUMANN "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
#define THREE "witness a " REMORA "\nwitness b\t" STAGEMOLE " https://b.example/\nwitness c " GARDEN "\n"

static const char checkpoint[] =
    "arche2025h1.staging.ct.transparency.dev\n1432088532\n"
    "U7WM79jrzyhGZ5/GUBTpM7NzwdyfFx61t3RovgcC4Ro=\n\n"
    "\xE2\x80\x94 arche2025h1.staging.ct.transparency.dev ui8GwCF1+kWqZrxGdhj4aX3gcw7XUlXQQabg/"
    "27lefwhUkzbC3NygNI75MdhL1bfTW9g8Ei59RA23oHP7Ry1k3ZFWwQ=\n"
    "\xE2\x80\x94 remora.n621.de 2net5wAAAABqEiEgPlfF3V06o0Y+fHM+J5J9s27wgxxcOVSpZ/2g/"
    "KSiXCg9DEZI+aVCIobWX9sXTynk5XeU/zZ0WBxtqB0DrAWfBw==\n";

static enum mb_rc take(mb_arena *arena, const char *text, mb_policy **out, struct mb_error *err)
{
    return mb_policy_read(arena, mb_str_of(text), out, err);
}

Test(policy, lines_are_taken_or_refused_by_number)
{
    static const struct {
        const char *text, *says; /* NULL: taken */
    } cases[] = {
        { "quorum none\n", NULL },
        { "# mine\n\n \t \nquorum none", NULL },
        { "log " ARCHE "\n" THREE "group g any a b c\nquorum g\n", NULL },
        { THREE "group g 2 a b\ngroup h all g c\nquorum h\n", NULL },
        { THREE "quorum a\n", NULL },
        { "", "no quorum" },
        { THREE, "no quorum" },
        { "quorum none\nquorum none\n", "line 2" },
        { "quorum a\n" THREE, "line 1" },              /* earlier names only */
        { THREE "group g 3 a b\nquorum g\n", "line 4" }, /* more than there are */
        { THREE "group g 0 a b\nquorum g\n", "line 4" },
        { THREE "group g 01 a b\nquorum g\n", "line 4" },
        { THREE "group g any\nquorum g\n", "line 4" },
        { THREE "group g any a a\nquorum g\n", "line 4" },
        { THREE "group g any a\ngroup h any a b\nquorum h\n", "line 5" }, /* a member once */
        { THREE "group g any a\ngroup g any b\nquorum g\n", "line 5" },
        { THREE "group g any g\nquorum g\n", "line 4" },
        { THREE "group none any a\nquorum none\n", "line 4" },
        { THREE "witness a " ARCHE "\nquorum a\n", "line 4" },
        { THREE "witness d " REMORA "\nquorum d\n", "line 4" }, /* a key twice */
        { "log " REMORA "\nquorum none\n", "line 1" },           /* a witness's key */
        { "witness a " NEUMANN "\nquorum a\n", "line 1" },       /* a log's key */
        { "witness a\nquorum a\n", "line 1" },
        { "quorum none none\n", "line 1" },
        { "hello\nquorum none\n", "line 1" },
        { "quorum none\r\n", "line 1" },
    };

    for (size_t i = 0; i < COUNT(cases); i++) {
        mb_arena *arena = mb_arena_new();
        struct mb_error err = { 0 };
        mb_policy *policy;
        enum mb_rc rc = take(arena, cases[i].text, &policy, &err);

        cr_expect_eq(rc, cases[i].says ? MB_REFUSED : MB_OK, "%zu: %s", i, err.text);
        if (cases[i].says)
            cr_expect(strstr(err.text, cases[i].says) != NULL, "%zu: %s", i, err.text);
        mb_arena_free(arena);
    }
}

Test(policy, groups_count_their_members)
{
    static const struct {
        const char *lines;
        bool seen[3], reached;
    } cases[] = {
        { "quorum none\n", { false, false, false }, true },
        { "quorum b\n", { true, false, true }, false },
        { "quorum b\n", { false, true, false }, true },
        { "group g any a b c\nquorum g\n", { false, false, false }, false },
        { "group g any a b c\nquorum g\n", { false, false, true }, true },
        { "group g all a b c\nquorum g\n", { true, true, false }, false },
        { "group g all a b c\nquorum g\n", { true, true, true }, true },
        { "group g 2 a b c\nquorum g\n", { true, false, false }, false },
        { "group g 2 a b c\nquorum g\n", { true, false, true }, true },
        { "group g any a b\ngroup h all g c\nquorum h\n", { true, true, false }, false },
        { "group g any a b\ngroup h all g c\nquorum h\n", { false, true, true }, true },
    };

    for (size_t i = 0; i < COUNT(cases); i++) {
        mb_arena *arena = mb_arena_new();
        mb_policy *policy;

        cr_assert_eq(take(arena, mb_arena_printf(arena, THREE "%s", cases[i].lines), &policy,
                          NULL),
                     MB_OK);
        cr_expect_eq(mb_policy_reached(policy, cases[i].seen), cases[i].reached, "%zu", i);
        mb_arena_free(arena);
    }
}

Test(policy, a_real_checkpoint_is_seen_by_those_who_signed_it)
{
    mb_arena *arena = mb_arena_new();
    struct mb_note note;
    mb_policy *policy;
    int64_t when = 0;

    cr_assert_eq(take(arena, "log " ARCHE "\n" THREE "quorum a\n", &policy, NULL), MB_OK);
    cr_assert_eq(mb_note_read(arena, mb_str_of(checkpoint), &note, NULL), MB_OK);
    cr_expect(mb_policy_takes_log(policy, &note));
    cr_expect_eq(mb_policy_witness_count(policy), 3);
    cr_expect_eq(mb_note_signed_by(&note, &mb_policy_witness_at(policy, 0)->vkey, &when),
                 MB_NOTE_SIGNED);
    cr_expect_eq(when, 0x6a122120);
    cr_expect_eq(mb_note_signed_by(&note, &mb_policy_witness_at(policy, 1)->vkey, &when),
                 MB_NOTE_UNSIGNED);
    cr_assert_eq(take(arena, "log " NEUMANN "\nquorum none\n", &policy, NULL), MB_OK);
    cr_expect_not(mb_policy_takes_log(policy, &note), "of a log that the policy does not name");
    mb_arena_free(arena);
}
