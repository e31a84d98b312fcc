/* The one source of randomness. It stands alone in its object file: a test program that needs the
 * same salts twice links an mb_random of its own, and the shipped program has no switch for it.
 *
 * The system's generator is asked for a page at a time, since an entry takes a dozen salts and each
 * asking is a call into the kernel. A byte is handed out once and wiped; after a fork the child
 * begins a page of its own. */
#include "crypto.h"

#include <pthread.h>
#include <string.h>
#include <unistd.h>

#include <sodium.h>

enum { PAGE = 1024, SMALL = 64 };

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static unsigned char page[PAGE];
static size_t left;
static pid_t owner;

void mb_random(void *out, size_t len)
{
    if (len > SMALL) {
        randombytes_buf(out, len);
        return;
    }
    pthread_mutex_lock(&lock);
    if (left < len || owner != getpid()) {
        randombytes_buf(page, sizeof page);
        left = sizeof page;
        owner = getpid();
    }
    left -= len;
    memcpy(out, page + left, len);
    sodium_memzero(page + left, len);
    pthread_mutex_unlock(&lock);
}
