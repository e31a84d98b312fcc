#include <criterion/criterion.h>
#include <stdlib.h>
#include <time.h>

#include "clock.c" /* this very file: the support library has a clock of its own */

Test(clock, it_shows_the_hour_of_the_system_and_obeys_a_test_only_in_a_test_build)
{
    int64_t before, now;

    unsetenv("MARKERBED_CLOCK");
    before = (int64_t)time(NULL);
    now = mb_now();
    cr_assert(now >= before && now <= (int64_t)time(NULL));
    setenv("MARKERBED_CLOCK", "2001-09-09T01:46:40Z", 1);
#ifdef MB_TEST_BUILD
    cr_assert_eq(mb_now(), 1000000000);
#else
    cr_assert_geq(mb_now(), before, "only a test build may have its clock set");
#endif
}
