/* The examples of FIPS 180-4 ("abc") and RFC 1321 (MD5) and a long text in pieces. */
#include "digest.h"

#include <criterion/criterion.h>

#include "codec.h"

static const struct {
    const char *name, *abc;
} examples[] = {
    { "md5", "900150983cd24fb0d6963f7d28e17f72" },
    { "sha1", "a9993e364706816aba3e25717850c26c9cd0d89d" },
    { "sha224", "23097d223405d8228642a477bda255b32aadbce4bda0b3f7e36c9da7" },
    { "sha256", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" },
    { "sha384", "cb00753f45a35e8bb5a03d699ac65007272c32ab0eded1631a8b605a43ff5bed8086072ba1e7cc2358"
                "baeca134c825a7" },
    { "sha512", "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836"
                "ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f" },
};

Test(digest, published_examples)
{
    for (size_t i = 0; i < sizeof examples / sizeof *examples; i++) {
        mb_digest *digest = mb_digest_new(examples[i].name);
        uint8_t sum[MB_DIGEST_MAX];
        char hex[MB_HEX_LEN(MB_DIGEST_MAX) + 1];

        cr_assert_not_null(digest);
        mb_digest_add(digest, "a", 1);
        mb_digest_add(digest, "bc", 2);
        mb_digest_end(digest, sum);
        mb_hex_write(hex, sum, mb_digest_size(examples[i].name));
        cr_expect_str_eq(hex, examples[i].abc);
    }
}

Test(digest, unknown_names)
{
    cr_expect_null(mb_digest_new("sha3"));
    cr_expect_eq(mb_digest_size("SHA256"), 0);
    mb_digest_end(NULL, NULL);
    mb_digest_end(mb_digest_new("sha512"), NULL);
}
