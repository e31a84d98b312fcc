/*
 * Forced into every file of ours by the build (-include): calls that cannot be used safely do not
 * compile. The headers that declare them come first, so that the system's own declarations pass.
 * What to call instead: mb_arena_printf and struct mb_buf for writing text, mb_str_cut for cutting
 * it, mb_decimal_nano and strtol with its end pointer for reading numbers, mb_now for the hour,
 * mb_random for chance.
 *
 * Library headers that use one of these names themselves (FreeType's do) need the file that
 * includes them listed under `unbanned` in the Makefile; `make tidy` reads the same list from here
 * and refuses the calls there too.
 */
#ifndef MB_BANNED_H
#define MB_BANNED_H

#ifndef MB_BANNED_OFF

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <wchar.h>

/* No bound on what is written. (clang's <stdio.h> makes the last two macros under FORTIFY.) */
#undef sprintf
#undef vsprintf
#pragma GCC poison strcpy strcat stpcpy gets sprintf vsprintf
/* State that threads share, or that the caller's text is changed by. */
#pragma GCC poison strtok localtime gmtime asctime ctime
/* No way to tell a number from nonsense. */
#pragma GCC poison atoi atol atoll atof
/* A name that someone else can take before the file is there. */
#pragma GCC poison tmpnam tempnam mktemp

/* Guessable numbers. Not poisoned, for a library header names a parameter so; gcc alone takes this
 * attribute on a second declaration. */
#ifndef __clang__
__attribute__((error("use mb_random"))) int rand(void);
__attribute__((error("use mb_random"))) void srand(unsigned seed);
#endif

#endif

#endif
