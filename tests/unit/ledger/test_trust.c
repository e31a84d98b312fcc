/* The trust file. */
#include <criterion/criterion.h>
#include <string.h>

#include "bytes_of.h"
#include "fileio.h"
#include "temp_folder.h"
#include "text.h"
#include "trust.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define PRINT "wa46rkqs4gg37lfozxg5chowx5bi3of2gr4sq6aikiwxhrjhgukq"
#define GROUPS "wa46 rkqs 4gg3 7lfo zxg5 chow x5bi 3of2 gr4s q6ai kiwx hrjh gukq"
#define URL64 "sDnoqhLhjb-srs3N0R3Wv0KNuLo0eSh4CFItc8UnNRU" /* the same 32 bytes */

Test(trust, lines_are_read_or_refused_by_number)
{
    static const struct {
        const char *text;
        int known;        /* how many ledgers; -1: refused */
        const char *says; /* then the line */
    } cases[] = {
        { "", 0, NULL },
        { "ledger ledger.example " PRINT "\n", 1, NULL },
        { "ledger ledger.example " PRINT, 1, NULL },
        { "ledger ledger.example " GROUPS "\n", 1, NULL },
        { "ledger ledger.example " URL64 "\n", 1, NULL },
        { "# mine\n\n   \n  ledger   ledger.example   " PRINT "  \r\n", 1, NULL },
        { "ledger a.example " PRINT "\nledger b.example " GROUPS "\n#end", 2, NULL },
        { "ledger ledger.example\n", -1, "line 1" },
        { "\n\nledger ledger.example nonsense\n", -1, "line 3" },
        { "ledger " PRINT "\n", -1, "line 1" },
        { "log ledger.example " PRINT "\n", -1, "line 1" },
        { "ledger ledger+example " PRINT "\n", -1, "line 1" },
        { "ledger ledger.example " PRINT "q\n", -1, "line 1" },
        { "ledger ledger.example " PRINT " more\n", -1, "line 1" },
        { "ledger ledger.example wa46rkqs\n", -1, "line 1" },
        { "Ledger ledger.example " PRINT "\n", -1, "line 1" },
    };
    mb_arena *arena = mb_arena_new();
    const char *folder = temp_folder_new(arena), *path = mb_arena_printf(arena, "%s/trust", folder);

    for (size_t i = 0; i < COUNT(cases); i++) {
        struct mb_error err = { 0 };
        struct mb_trust trust;
        enum mb_rc rc;

        cr_assert_eq(mb_file_write(path, mb_str_of(cases[i].text), 0644, NULL), MB_OK);
        rc = mb_trust_read(arena, path, &trust, &err);
        cr_expect_eq(rc, cases[i].known < 0 ? MB_REFUSED : MB_OK, "%s: %s", cases[i].text,
                     err.text);
        if (rc)
            cr_expect(strstr(err.text, cases[i].says) && strstr(err.text, path), "%s", err.text);
        else
            cr_expect_eq(trust.count, (size_t)cases[i].known, "%s", cases[i].text);
    }
    cr_expect_eq(mb_trust_read(arena, mb_arena_printf(arena, "%s/none", folder),
                               &(struct mb_trust){ 0 }, NULL),
                 MB_REFUSED);
    temp_folder_remove(folder);
    mb_arena_free(arena);
}

Test(trust, a_name_alone_is_not_trusted)
{
    struct mb_hash print, other;
    struct mb_trusted ledgers[2];
    struct mb_trust trust = { ledgers, 2, NULL, 0 };

    cr_assert(mb_base32_read_exact(MB_STR(PRINT), print.b, 32));
    other = print;
    other.b[31] ^= 1;
    ledgers[0] = (struct mb_trusted){ MB_STR("a.example"), other };
    ledgers[1] = (struct mb_trusted){ MB_STR("a.example"), print }; /* a second line for one name */
    cr_expect_eq(mb_trust_of(&trust, MB_STR("a.example"), &print), MB_TRUST_KNOWN);
    cr_expect_eq(mb_trust_of(&trust, MB_STR("a.example"), &other), MB_TRUST_KNOWN);
    cr_expect_eq(mb_trust_of(&trust, MB_STR("b.example"), &print), MB_TRUST_UNKNOWN);
    trust.count = 1;
    cr_expect_eq(mb_trust_of(&trust, MB_STR("a.example"), &print), MB_TRUST_OTHER);
    cr_expect_eq(mb_trust_of(&(struct mb_trust){ 0 }, MB_STR("a.example"), &print),
                 MB_TRUST_UNKNOWN);
}
