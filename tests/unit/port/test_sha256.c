/* SHA-256 against FIPS 180-4's examples (and the two of RFC 6234 section 8.5 beside them), the
 * tagged form, pieces, and threads. */
#include <criterion/criterion.h>
#include <pthread.h>
#include <string.h>

#include "bytes_of.h"
#include "sha256.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static const struct {
    const char *text;
    size_t times;
    const char *hash;
} published[] = {
    { "", 1, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855" },
    { "abc", 1, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" },
    { "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", 1,
      "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1" },
    { "a", 1000000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0" },
    { "0123456701234567012345670123456701234567012345670123456701234567", 10,
      "594847328451bdfa85056225462cc1d867d877fb388df0ce35f25ab5562bfbb5" },
};

Test(sha256, the_published_hashes_come_out_whole_and_in_pieces)
{
    for (size_t i = 0; i < COUNT(published); i++) {
        struct mb_hash want = hash_of_hex(published[i].hash), got;
        mb_hasher *hasher = mb_hasher_new(), *bytewise = mb_hasher_new();
        size_t len = strlen(published[i].text);

        for (size_t n = 0; n < published[i].times; n++) {
            mb_hasher_add(hasher, published[i].text, len);
            for (size_t b = 0; b < len; b++)
                mb_hasher_add(bytewise, published[i].text + b, 1);
        }
        got = mb_hasher_end(hasher);
        cr_expect(mb_hash_equal(&got, &want), "%s", published[i].hash);
        got = mb_hasher_end(bytewise);
        cr_expect(mb_hash_equal(&got, &want), "%s", published[i].hash);
        if (published[i].times > 1)
            continue;
        got = mb_sha256(published[i].text, len);
        cr_expect(mb_hash_equal(&got, &want));
        got = mb_sha256_str(mb_str_of(published[i].text));
        cr_expect(mb_hash_equal(&got, &want));
        for (size_t at = 1; at < len; at++) { /* tag, two parts, wherever the text is cut */
            got = mb_sha256_tagged((uint8_t)published[i].text[0], published[i].text + 1, at - 1,
                                   published[i].text + at, len - at);
            cr_expect(mb_hash_equal(&got, &want), "cut at %zu", at);
        }
    }
    {
        struct mb_hash none = mb_sha256(NULL, 0), want = hash_of_hex(published[0].hash);

        cr_expect(mb_hash_equal(&none, &want));
    }
}

static void *hash_much(void *ctx)
{
    bool *ok = ctx;
    struct mb_hash want = hash_of_hex(published[1].hash);

    for (int i = 0; i < 5000; i++) {
        mb_hasher *hasher = mb_hasher_new();
        struct mb_hash got = mb_sha256("abc", 3);

        *ok = *ok && mb_hash_equal(&got, &want);
        mb_hasher_add(hasher, "a", 1);
        got = mb_sha256_tagged('a', "b", 1, "c", 1); /* in the middle of the other */
        *ok = *ok && mb_hash_equal(&got, &want);
        mb_hasher_add(hasher, "bc", 2);
        got = mb_hasher_end(hasher);
        *ok = *ok && mb_hash_equal(&got, &want);
    }
    return NULL;
}

Test(sha256, threads_do_not_disturb_one_another)
{
    pthread_t threads[8];
    bool ok[8];

    for (size_t i = 0; i < COUNT(threads); i++) {
        ok[i] = true;
        cr_assert_eq(pthread_create(&threads[i], NULL, hash_much, &ok[i]), 0);
    }
    for (size_t i = 0; i < COUNT(threads); i++) {
        pthread_join(threads[i], NULL);
        cr_expect(ok[i]);
    }
}
