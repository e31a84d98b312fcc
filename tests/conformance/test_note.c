/*
 * Signed notes, checkpoints and cosignatures as C2SP writes them down. Sources:
 *   - golang/mod sumdb/note/{note,example_test,note_test}.go (PeterNeumann, EnochRoot, bad notes);
 *   - C2SP signed-note.md (example.com/foo), tlog-checkpoint.md, tlog-cosignature.md;
 *   - transparency-dev/formats log/checkpoint_test.go (bad checkpoints);
 *   - FiloSottile/torchwood cmd/litewitness/testdata/sumdb.txt (a real checkpoint);
 *   - florolf/tlog-scales tests/test_signing.py (real cosignatures; fixtures/mldsa*).
 */
#include <criterion/criterion.h>

#include "bytes_of.h"
#include "note.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define DASH "\xE2\x80\x94 "

#define NEUMANN_VKEY "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
#define NEUMANN_TEXT                                             \
    "If you think cryptography is the answer to your problem,\n" \
    "then you don't know what your problem is.\n"
#define NEUMANN_LINE                                                                             \
    DASH "PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdng" \
         "otpRZb6KE6RyyBwJnAM=\n"
#define ROOT_VKEY "EnochRoot+af0cfe78+ATtqJ7zOtqQtYqOo0CpvDXNlMhV3HeJDpjrASKGLWdop"
#define ROOT_LINE                                                                                 \
    DASH "EnochRoot rwz+eBzmZa0SO3NbfRGzPCpDckykFXSdeX+MNtCOXm2/5n2tiOHp+vAF1aGrQ5ovTG01oOTGwnWL" \
         "ox33WWd1RvMc+QQ=\n"
#define FOO_NOTE                                                                               \
    "This is an example message.\n\n" DASH                                                     \
    "example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3mFXm" \
    "RKuwHjG1Yu72IneyaQM=\n"
#define SUMDB_NOTE                                                                               \
    "go.sum database tree\n35225469\nvt5T6GaLCXvyHFl9VUvvItR43XZxfLgftEcTyO3eJCQ=\n\n" DASH      \
    "sum.golang.org Az3grpukl5AXaVfYkLiDGORx/DN2nlcS5kZHR5uYOBV2KA2HgXpD+gu9HHONebHLAyaKbbTM75Q" \
    "TtPydhKCExixSfwQ=\n"

/* A real checkpoint with a signature of type 05 by a key unknown to us under the log's own name,
 * one by the log (01) and four by witnesses (04). */
#define CT_NOTE                                                                                  \
    "arche2025h1.staging.ct.transparency.dev\n1432088532\n"                                      \
    "U7WM79jrzyhGZ5/GUBTpM7NzwdyfFx61t3RovgcC4Ro=\n\n" DASH                                      \
    "arche2025h1.staging.ct.transparency.dev zTM8sQAAAZ5W0WdjBAMARjBEAiBjW5IQf9pvsYLfQFX6hoGREP" \
    "MHbdQ3urbllzalApkptQIgIpwtEroeW2BXaHAI4kJXFbon5Ch9MNL5zRNZ55lvGt0=\n" DASH                  \
    "arche2025h1.staging.ct.transparency.dev ui8GwCF1+kWqZrxGdhj4aX3gcw7XUlXQQabg/27lefwhUkzbC3" \
    "NygNI75MdhL1bfTW9g8Ei59RA23oHP7Ry1k3ZFWwQ=\n" DASH                                          \
    "transparency.dev/DEV:witness-little-garden 2AQqhwAAAABqEiEgzgFIqqhbUoDwjMWE6UP8nd8/KYTzwZ2" \
    "rhIgcqoXHAwVkjZr4AscylP3v7sEodkRAErumC2q44vdgJY096st5BQ==\n" DASH                           \
    "witness1.smartit.nu/witness1 pIyCDwAAAABqEiEghIp82KWebrw7/oHQwlTAm3g2RKS4+eebl8eO0WH+/iEcx" \
    "Z75W3u5hNI7TOQtmJbqmNWVuE0tgh0XwzdZsDsUAQ==\n" DASH                                         \
    "remora.n621.de 2net5wAAAABqEiEgPlfF3V06o0Y+fHM+J5J9s27wgxxcOVSpZ/2g/KSiXCg9DEZI+aVCIobWX9s" \
    "XTynk5XeU/zZ0WBxtqB0DrAWfBw==\n" DASH                                                       \
    "witness.stagemole.eu Z/euoAAAAABqEiEgw0i+7g2ENfDAWHmtRzCfKTHSDwYDJA2NmKeGi9Y8FtEyOUvVr+AJm" \
    "IY/2TUFucgKi7lI7cUiOvKFYe/TmN9DAg==\n"

static const struct {
    const char *what, *note, *vkey;
    int64_t seen; /* 0: no witness */
} published[] = {
    { "one signer", NEUMANN_TEXT "\n" NEUMANN_LINE, NEUMANN_VKEY, 0 },
    { "two signers, the first", NEUMANN_TEXT "\n" NEUMANN_LINE ROOT_LINE, NEUMANN_VKEY, 0 },
    { "two signers, the second", NEUMANN_TEXT "\n" NEUMANN_LINE ROOT_LINE, ROOT_VKEY, 0 },
    { "signed-note.md", FOO_NOTE,
      "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k", 0 },
    { "the key's name is not the origin", SUMDB_NOTE,
      "sum.golang.org+033de0ae+Ac4zctda0e5eza+HJyk9SxEdh+s3Ux18htTTAD8OuAn8", 0 },
    { "log", CT_NOTE,
      "arche2025h1.staging.ct.transparency.dev+ba2f06c0+AU0vHmlGCS/PdN8b2OaGmKprLI8HKM+dJ472xgFYh15"
      "f",
      0 },
    { "witness", CT_NOTE, "remora.n621.de+da77ade7+BOvN63jn/bLvkieywe8R6UYAtVtNbZpXh34x7onlmtw2",
      0x6a122120 },
    { "witness", CT_NOTE,
      "witness.stagemole.eu+67f7aea0+BEqSG3yu9YrmcM3BHvQYTxwFj3uSWakQepafafpUqklv", 0x6a122120 },
    { "witness", CT_NOTE,
      "transparency.dev/DEV:witness-little-garden+d8042a87+BCtusOxINQNUTN5Oj8HObRkh2yHf/MwYaGX4CPd"
      "iVEPM",
      0x6a122120 },
    { "witness", CT_NOTE,
      "witness1.smartit.nu/witness1+a48c820f+BPSFWg9G6KPiO7QPryYO5Xq4oYJJ+kAvLKLSimDhoxMO",
      0x6a122120 },
};

static struct mb_vkey vkey_of(const char *text)
{
    struct mb_error err = { 0 };
    struct mb_vkey vkey;

    cr_assert_eq(mb_vkey_read(mb_str_of(text), &vkey, &err), MB_OK, "%s: %s", text, err.text);
    return vkey;
}

static enum mb_note_answer signed_by(mb_arena *arena, const char *bytes, const char *vkey_text,
                                     int64_t *seen)
{
    struct mb_vkey vkey = vkey_of(vkey_text);
    struct mb_error err = { 0 };
    struct mb_note note;

    cr_assert_eq(mb_note_read(arena, mb_str_of(bytes), &note, &err), MB_OK, "%s", err.text);
    return mb_note_signed_by(&note, &vkey, seen);
}

Test(note, the_published_notes_verify)
{
    mb_arena *arena = mb_arena_new();

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    for (size_t i = 0; i < COUNT(published); i++) {
        struct mb_vkey vkey = vkey_of(published[i].vkey);
        char *changed = mb_arena_text(arena, published[i].note);
        int64_t seen = 0;

        cr_expect_str_eq(mb_vkey_write(arena, &vkey), published[i].vkey);
        cr_expect_eq(signed_by(arena, published[i].note, published[i].vkey, &seen), MB_NOTE_SIGNED,
                     "%s", published[i].what);
        cr_expect_eq(seen, published[i].seen);
        changed[3] ^= 1; /* of the signed text */
        cr_expect_eq(signed_by(arena, changed, published[i].vkey, NULL), MB_NOTE_FORGED, "%s",
                     published[i].what);
        if (published[i].seen) { /* the time is signed too */
            char *line = strstr(mb_arena_text(arena, published[i].note),
                                mb_arena_printf(arena, DASH "%.*s ", MB_STR_ARG(vkey.name)));
            char *time = strstr(line, "BqEiEg");

            *time = 'C';
            cr_expect_eq(signed_by(arena,
                                   mb_arena_printf(arena, "%.*s%s",
                                                   (int)(strstr(published[i].note, "\n\n") + 2
                                                         - published[i].note),
                                                   published[i].note, line),
                                   published[i].vkey, NULL),
                         MB_NOTE_FORGED);
        }
    }
    cr_expect_eq(signed_by(arena, FOO_NOTE, NEUMANN_VKEY, NULL), MB_NOTE_UNSIGNED);
    mb_arena_free(arena);
}

/* Key of type 06 (ML-DSA-44), which this program does not know, and a real cosignature by it of
 * 2,420 bytes beside one of type 04 by the same witness, which it does. */
Test(note, what_is_not_known_is_passed_over)
{
    static const char witness[] =
        "witness.navigli.sunlight.geomys.org+a3e00fe2+BNy/co4C1Hn1p+INwJrfUlgz7W55dSZReusH/GhUhJ/G";
    mb_arena *arena = mb_arena_new();
    struct mb_str bytes = file_of_tree(arena, "tests/fixtures/mldsa_cosigned.note");
    struct mb_str key = mb_str_trim(file_of_tree(arena, "tests/fixtures/mldsa.vkey"));
    struct mb_error err = { 0 };
    struct mb_vkey vkey;
    int64_t seen = 0;

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    cr_assert(bytes.at && key.at);
    cr_expect_eq(signed_by(arena, mb_arena_copy(arena, bytes.at, bytes.len), witness, &seen),
                 MB_NOTE_SIGNED);
    cr_expect_eq(seen, 1785704691);
    cr_expect_eq(mb_vkey_read(key, &vkey, &err), MB_UNABLE);
    cr_expect_str_eq(err.text, "the key 'witness.navigli.sunlight.geomys.org' is of type 06, which "
                               "this program does not know");
    mb_arena_free(arena);
}

/* x/mod's PRIVATE+KEY holds 01 and the seed. */
Test(note, a_note_is_signed_as_published)
{
    static const struct {
        const char *name, *secret, *text, *line;
    } cases[] = {
        { "PeterNeumann", "AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz", NEUMANN_TEXT,
          NEUMANN_LINE },
        { "ledger.example/log", "ASAhIiMkJSYnKCkqKywtLi8wMTIzNDU2Nzg5Ojs8PT4/",
          "ledger.example/log\n3\ndNjghGfsXunQ9S9Rn2E8CEbohg7VSUjjEAnKYC/eEeY=\n",
          DASH "ledger.example/log oiPaTO4p+3eGPjpAnWisi5JAudPNz0lKeacUqhCTulBGLlSBcT1wS0f3nnw9ob"
               "us/aC1EKbqg3WOAY0ignkcZ+x4kwk=\n" },
    };
    mb_arena *arena = mb_arena_new();

    cr_assert_eq(mb_crypto_start(NULL), MB_OK);
    for (size_t i = 0; i < COUNT(cases); i++) {
        uint8_t bytes[33];
        mb_secret *secret;

        cr_assert(mb_b64_read_exact(mb_str_of(cases[i].secret), bytes, sizeof bytes));
        secret = mb_secret_from_seed(bytes + 1);
        cr_expect_str_eq(
            mb_note_sign(arena, mb_str_of(cases[i].text), mb_str_of(cases[i].name), secret),
            cases[i].line);
        mb_secret_free(secret);
    }
    mb_arena_free(arena);
}

/* note_test.go: a verifier key cut anywhere, or with any one byte counted up, is none. */
Test(note, a_verifier_key_that_is_not_whole_is_refused)
{
    static const struct {
        const char *text;
        enum mb_rc rc;
    } bad[] = {
        { "PeterNeumann+cc469956+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TWBADKEY==",
          MB_REFUSED },
        { "PeterNeumann+173116ae+ZRpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW", MB_UNABLE },
        { "", MB_REFUSED },
        { "PeterNeumann", MB_REFUSED },
        { "++", MB_REFUSED },
        { "PeterNeumann++ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW", MB_REFUSED },
        { "PeterNeumann+C74F20A3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW", MB_REFUSED },
        { "Peter Neumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW", MB_REFUSED },
        { "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq_LDE4izWy10TW", MB_REFUSED },
        { NEUMANN_VKEY " ", MB_REFUSED },
        { NEUMANN_VKEY "\n", MB_REFUSED },
        { NEUMANN_VKEY "=", MB_REFUSED },
    };
    mb_arena *arena = mb_arena_new();
    struct mb_str whole = MB_STR(NEUMANN_VKEY);
    struct mb_vkey vkey;

    for (size_t i = 0; i < COUNT(bad); i++) {
        struct mb_error err = { 0 };

        cr_expect_eq(mb_vkey_read(mb_str_of(bad[i].text), &vkey, &err), bad[i].rc, "%s",
                     bad[i].text);
        cr_expect(err.text[0]);
    }
    for (size_t from = 0; from <= whole.len; from++)
        for (size_t to = from; to <= whole.len; to++)
            if (to - from < whole.len)
                cr_expect_neq(
                    mb_vkey_read((struct mb_str){ whole.at + from, to - from }, &vkey, NULL),
                    MB_OK);
    for (size_t i = 0; i < whole.len; i++) {
        char *changed = mb_arena_copy(arena, whole.at, whole.len);

        changed[i]++;
        cr_expect_neq(mb_vkey_read(mb_str_of(changed), &vkey, NULL), MB_OK, "%s", changed);
    }
    mb_arena_free(arena);
}

Test(note, a_malformed_note_is_refused)
{
    static const struct {
        const char *what, *bytes;
    } bad[] = {
        { "nothing", "" },
        { "text alone", NEUMANN_TEXT },
        { "text and a blank line", NEUMANN_TEXT "\n" },
        { "no blank line", NEUMANN_TEXT NEUMANN_LINE },
        { "last line end missing", NEUMANN_TEXT "\n" DASH "PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVB"
                                                "tiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngot"
                                                "pRZb6KE6RyyBwJnAM=" },
        { "a blank line at the end", NEUMANN_TEXT "\n" NEUMANN_LINE "\n" },
        { "another line behind", NEUMANN_TEXT "\n" NEUMANN_LINE "hello\n" },
        { "another line in front", NEUMANN_TEXT "\nhello\n" NEUMANN_LINE },
        { "a hyphen for the dash", NEUMANN_TEXT "\n- PeterNeumann x08go/ZJkuA=\n" },
        { "no name", NEUMANN_TEXT "\n" DASH " x08go/ZJkuA=\n" },
        { "name with a space", NEUMANN_TEXT "\n" DASH "Peter Neumann x08go/ZJkuA=\n" },
        { "name with U+00A0", NEUMANN_TEXT "\n" DASH "Peter\xC2\xA0Neumann x08go/ZJkuA=\n" },
        { "name with U+3000", NEUMANN_TEXT "\n" DASH "Peter\xE3\x80\x80Neumann x08go/ZJkuA=\n" },
        { "name with a plus", NEUMANN_TEXT "\n" DASH "Peter+Neumann x08go/ZJkuA=\n" },
        { "no signature", NEUMANN_TEXT "\n" DASH "PeterNeumann\n" },
        { "an empty signature", NEUMANN_TEXT "\n" DASH "PeterNeumann \n" },
        { "four bytes of signature", NEUMANN_TEXT "\n" DASH "PeterNeumann x08gow==\n" },
        { "no base64", NEUMANN_TEXT "\n" DASH "PeterNeumann x08go*ZJkuA=\n" },
        { "base64url", NEUMANN_TEXT "\n" DASH "PeterNeumann x08go_ZJkuA=\n" },
        { "stray bits", NEUMANN_TEXT "\n" DASH "PeterNeumann x08go/ZJkuB=\n" },
        { "padding missing", NEUMANN_TEXT "\n" DASH "PeterNeumann x08go/ZJkuA\n" },
        { "two blanks", NEUMANN_TEXT "\n" DASH "PeterNeumann  x08go/ZJkuA=\n" },
        { "a tab in the text", "a\tb\n\n" NEUMANN_LINE },
        { "a carriage return", "a\r\n\n" NEUMANN_LINE },
        { "half a character", "a\xC3\n\n" NEUMANN_LINE },
    };
    static const char whole[] = NEUMANN_TEXT "\n" NEUMANN_LINE;
    mb_arena *arena = mb_arena_new();
    struct mb_note note;
    char *many = mb_arena_text(arena, "a\n\n");

    for (size_t i = 0; i < COUNT(bad); i++) {
        struct mb_error err = { 0 };

        cr_expect_eq(mb_note_read(arena, mb_str_of(bad[i].bytes), &note, &err), MB_REFUSED, "%s",
                     bad[i].what);
        cr_expect(err.text[0]);
    }
    for (size_t i = 0; i < sizeof whole - 1; i++) /* note_test.go: 01 or FF anywhere */
        for (int c = 0; c < 2; c++) {
            char *changed = mb_arena_text(arena, whole);

            changed[i] = c ? '\x01' : '\xFF';
            cr_expect_eq(mb_note_read(arena, mb_str_of(changed), &note, NULL), MB_REFUSED, "%zu",
                         i);
        }
    for (int i = 1; i <= 101; i++) { /* 100 signatures are x/mod's limit, and ours */
        many = mb_arena_printf(arena, "%s" ROOT_LINE, many);
        if (i >= 99)
            cr_expect_eq(mb_note_read(arena, mb_str_of(many), &note, NULL),
                         i > 100 ? MB_REFUSED : MB_OK);
    }
    mb_arena_free(arena);
}

/* The last blank line divides, so a text may have blank lines; of two lines by one key the first
 * counts; a known name with another key ID is somebody else. */
Test(note, lines_count_as_the_format_says)
{
    static const char bad_line[] = DASH
        "PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdng"
        "otpRZb6KE6RyyBwJnBM=\n";
    static const char short_line[] = DASH "PeterNeumann x08gozwA\n";
    static const char other_id[] = DASH "PeterNeumann x08gpPZJkuA=\n";
    mb_arena *arena = mb_arena_new();
    mb_secret *secret = secret_of_seed(0);
    struct mb_str text = MB_STR("one\n\ntwo\n\n\nthree\n");
    struct mb_vkey vkey = mb_vkey_make(MB_STR("a/b"), MB_VKEY_LOG, mb_secret_key(secret));
    struct mb_error err = { 0 };
    struct mb_note note;
    static const struct {
        const char *lines;
        enum mb_note_answer answer;
    } cases[] = {
        { NEUMANN_LINE, MB_NOTE_SIGNED }, { bad_line, MB_NOTE_FORGED },
        { NULL, MB_NOTE_SIGNED },         { NULL, MB_NOTE_FORGED },
        { short_line, MB_NOTE_FORGED },   { other_id, MB_NOTE_UNSIGNED },
        { ROOT_LINE, MB_NOTE_UNSIGNED },
    };
    const char *lines[COUNT(cases)];

    for (size_t i = 0; i < COUNT(cases); i++)
        lines[i] = cases[i].lines;
    lines[2] = mb_arena_printf(arena, "%s%s", NEUMANN_LINE, bad_line);
    lines[3] = mb_arena_printf(arena, "%s%s", bad_line, NEUMANN_LINE);
    for (size_t i = 0; i < COUNT(cases); i++)
        cr_expect_eq(signed_by(arena, mb_arena_printf(arena, NEUMANN_TEXT "\n%s", lines[i]),
                               NEUMANN_VKEY, NULL),
                     cases[i].answer, "case %zu", i);
    cr_assert_eq(
        mb_note_read(arena,
                     mb_str_of(mb_arena_printf(arena, "%s\n%s", text.at,
                                               mb_note_sign(arena, text, MB_STR("a/b"), secret))),
                     &note, &err),
        MB_OK, "%s", err.text);
    cr_expect(mb_str_equal(note.text, text));
    cr_expect_eq(mb_note_signed_by(&note, &vkey, NULL), MB_NOTE_SIGNED);
    mb_secret_free(secret);
    mb_arena_free(arena);
}

/* log/checkpoint_test.go, and what tlog-checkpoint.md asks beyond it */
Test(note, a_malformed_checkpoint_is_refused)
{
#define ROOT64 "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU="
    static const struct {
        const char *text;
        enum mb_rc rc;
        bool extended;
        uint64_t size;
    } cases[] = {
        { "origin\n0\n" ROOT64 "\n", MB_OK, false, 0 },
        { "origin\n9223372036854775807\n" ROOT64 "\n", MB_OK, false, INT64_MAX },
        { "origin\n7\n" ROOT64 "\nextension\n", MB_OK, true, 7 },
        { "origin\n7\n", MB_REFUSED, 0, 0 },
        { "\n7\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n7\n" ROOT64, MB_REFUSED, 0, 0 },
        { "origin\nbananas\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n-34\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n+34\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n 34\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n0x22\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n07\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n00\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n9223372036854775808\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n18446744073709551616\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n3438945738945739845734895735\n" ROOT64 "\n", MB_REFUSED, 0, 0 },
        { "origin\n7\nbananas\n", MB_REFUSED, 0, 0 },
        { "origin\n7\nAAAA\n", MB_REFUSED, 0, 0 },
        { "origin\n7\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFV=\n", MB_REFUSED, 0, 0 },
        { "origin\n7\n47DEQpj8HBSa-_TImW-5JCeuQeRkm5NMpJWZG3hSuFU=\n", MB_REFUSED, 0, 0 },
        { "origin\n7\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU\n", MB_REFUSED, 0, 0 },
        { "", MB_REFUSED, 0, 0 },
    };
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < COUNT(cases); i++) {
        struct mb_checkpoint checkpoint;
        struct mb_error err = { 0 };
        bool extended;

        cr_expect_eq(mb_checkpoint_read(mb_str_of(cases[i].text), &checkpoint, &extended, &err),
                     cases[i].rc, "%s", cases[i].text);
        if (cases[i].rc) {
            cr_expect(err.text[0]);
            continue;
        }
        cr_expect_eq(extended, cases[i].extended);
        cr_expect_eq(checkpoint.size, cases[i].size);
        if (!extended)
            cr_expect_str_eq(mb_checkpoint_text(arena, &checkpoint), cases[i].text);
    }
    mb_arena_free(arena);
}
