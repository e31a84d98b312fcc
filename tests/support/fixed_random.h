/*
 * Linked into a test program that calls one of these, an mb_random of its own takes the place of
 * the system's: first the bytes that were put in, then a stream that is the same in each run. The
 * shipped program has no such thing (src/port/random.c stands alone in its object file for this).
 */
#ifndef MB_FIXED_RANDOM_H
#define MB_FIXED_RANDOM_H

#include <stddef.h>

void fixed_random_put(const void *bytes, size_t len); /* handed out next, in this order */
void fixed_random_forget(void);                       /* what was put in and not handed out yet */
size_t fixed_random_left(void);

#endif
