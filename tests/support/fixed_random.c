#include "fixed_random.h"

#include <stdlib.h>
#include <string.h>

#include "crypto.h"
#include "sha256.h"

static uint8_t waiting[4096];
static size_t waiting_len;
static uint64_t counter;

void fixed_random_put(const void *bytes, size_t len)
{
    if (len > sizeof waiting - waiting_len)
        abort();
    memcpy(waiting + waiting_len, bytes, len);
    waiting_len += len;
}

void fixed_random_forget(void)
{
    waiting_len = 0;
}

size_t fixed_random_left(void)
{
    return waiting_len;
}

void mb_random(void *out, size_t len)
{
    uint8_t *at = out;
    size_t n = len < waiting_len ? len : waiting_len;

    memcpy(at, waiting, n);
    waiting_len -= n;
    memmove(waiting, waiting + n, waiting_len);
    while (n < len) {
        struct mb_hash block = mb_sha256(&counter, sizeof counter);
        size_t more = len - n < sizeof block.b ? len - n : sizeof block.b;

        counter++;
        memcpy(at + n, block.b, more);
        n += more;
    }
}
