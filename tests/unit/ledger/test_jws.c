/* Small signed texts beside the log. Their outside judge is python3-cryptography in
 * tests/e2e/cli_publish.py. */
#include <criterion/criterion.h>
#include <string.h>

#include "bytes_of.h"
#include "jws.h"
#include "text.h"

#define TYPE "markerbed-test+jwt"

Test(jws, it_reads_what_it_signed_and_nothing_bent)
{
    mb_arena *arena = mb_arena_new();
    mb_secret *secret = secret_of_seed(0x20);
    mb_json *payload = mb_json_object(arena);
    struct mb_jws jws;
    struct mb_str text;
    char *bent;

    mb_json_put_int(arena, payload, "size", 15);
    text = mb_jws_sign(arena, TYPE, payload, secret);
    cr_assert_eq(mb_jws_read(arena, text, TYPE, &jws, NULL), MB_OK);
    cr_expect_eq(mb_json_int(mb_json_get(jws.payload, "size"), 0), 15);
    cr_expect(mb_sig_ok(mb_secret_key(secret), jws.signed_part, &jws.sig));
    for (size_t i = 0; i < text.len; i++) {
        bent = mb_arena_copy(arena, text.at, text.len);
        bent[i] = bent[i] == 'A' ? 'B' : 'A';
        cr_expect(mb_jws_read(arena, (struct mb_str){ bent, text.len }, TYPE, &jws, NULL)
                      || !mb_sig_ok(mb_secret_key(secret), jws.signed_part, &jws.sig),
                  "character %zu", i);
    }
    cr_expect_eq(mb_jws_read(arena, text, "markerbed-entry+sd-jwt", &jws, NULL), MB_REFUSED);
    cr_expect_eq(mb_jws_read(arena, MB_STR("a.b.c"), TYPE, &jws, NULL), MB_REFUSED);
    cr_expect_eq(mb_jws_read(arena, MB_STR(""), TYPE, &jws, NULL), MB_REFUSED);
    mb_secret_free(secret);
    mb_arena_free(arena);
}
