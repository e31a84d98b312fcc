/* The one source of randomness. It stands alone in its object file: a test program that needs the
 * same salts twice links an mb_random of its own, and the shipped program has no switch for it. */
#include "crypto.h"

#include <sodium.h>

void mb_random(void *out, size_t len)
{
    randombytes_buf(out, len);
}
