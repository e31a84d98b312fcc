#include <criterion/criterion.h>
#include <string.h>
#include <time.h>

#include "date.h"
#include "text.h"

/* 1970-01-01 is Julian day number 2440588, 1582-10-15 is 2299161 and modified Julian day 0
 * (1858-11-17) is 2400001: astronomers' common tables, from memory. */
Test(date, known_days_have_their_known_numbers)
{
    static const struct {
        int year, month, day;
        int32_t number;
    } cases[] = {
        { 1970, 1, 1, 0 },      { 1969, 12, 31, -1 },      { 2000, 3, 1, 11017 },
        { 2000, 2, 29, 11016 }, { 1582, 10, 15, -141427 }, { 1858, 11, 17, -40587 },
        { 2038, 1, 19, 24855 }, { 0, 3, 1, -719468 },      { -4713, 11, 24, -2440588 },
    };

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        int year, month, day;
        cr_assert_eq(mb_day_number(cases[i].year, cases[i].month, cases[i].day), cases[i].number);
        mb_day_parts(cases[i].number, &year, &month, &day);
        cr_assert(year == cases[i].year && month == cases[i].month && day == cases[i].day,
                  "%d: %d-%d-%d", cases[i].number, year, month, day);
    }
}

/* The C library's calendar judges every day of the years that dates may have. */
Test(date, every_day_of_1500_to_2999_agrees_with_the_c_library)
{
    mb_arena *arena = mb_arena_new();

    for (int32_t day = -171664; day < 376200; day++) {
        time_t noon = (time_t)day * 86400 + 43200;
        struct mb_days days;
        struct tm tm;
        char text[40];
        int64_t back;
        cr_assert_not_null(gmtime_r(&noon, &tm));
        strftime(text, sizeof text, "%Y-%m-%d", &tm);
        cr_assert_str_eq(mb_day_write(arena, day), text);
        cr_assert_eq(mb_day_number(tm.tm_year + 1900, tm.tm_mon + 1, tm.tm_mday), day);
        cr_assert(mb_days_read(mb_str_of(text), &days), "%s", text);
        cr_assert(days.first == day && days.last == day);
        strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &tm);
        cr_assert_str_eq(mb_moment_write(arena, noon), text);
        cr_assert(mb_moment_read(mb_str_of(text), &back) && back == noon);
        mb_arena_reset(arena);
    }
    mb_arena_free(arena);
}

/* ISO 8601 calendar dates, reduced precision, intervals whose end leaves out what it shares. */
Test(date, days_are_read_in_the_forms_people_write)
{
    static const struct {
        const char *text, *first, *last; /* NULL: refused */
    } cases[] = {
        { "2026", "2026-01-01", "2026-12-31" },
        { "2026-05", "2026-05-01", "2026-05-31" },
        { "2024-02", "2024-02-01", "2024-02-29" },
        { "1900-02", "1900-02-01", "1900-02-28" },
        { "2000-02", "2000-02-01", "2000-02-29" },
        { "2026-05-02", "2026-05-02", "2026-05-02" },
        { "2026-05-02/2026-05-04", "2026-05-02", "2026-05-04" },
        { "2026-05-02/04", "2026-05-02", "2026-05-04" },
        { "2026-05-02/06-04", "2026-05-02", "2026-06-04" },
        { "2026-05/07", "2026-05-01", "2026-07-31" },
        { "2026/2027", "2026-01-01", "2027-12-31" },
        { "2026-05-02/2026-06", "2026-05-02", "2026-06-30" },
        { "2026-05-02/02", "2026-05-02", "2026-05-02" },
        { "1500-01-01", "1500-01-01", "1500-01-01" },
        { "2999-12-31", "2999-12-31", "2999-12-31" },
        { "1499-12-31", NULL, NULL },
        { "3000", NULL, NULL },
        { "2026-05-04/02", NULL, NULL },
        { "2027/2026", NULL, NULL },
        { "2026-02-29", NULL, NULL },
        { "1900-02-29", NULL, NULL },
        { "2026-04-31", NULL, NULL },
        { "2026-13", NULL, NULL },
        { "2026-00", NULL, NULL },
        { "2026-05-00", NULL, NULL },
        { "2026-5-2", NULL, NULL },
        { "2026-05-2", NULL, NULL },
        { "20260502", NULL, NULL },
        { "2026-05-02/", NULL, NULL },
        { "/2026", NULL, NULL },
        { "2026/05", NULL, NULL },
        { "2026-05-02/32", NULL, NULL },
        { "2026-05-02/04/05", NULL, NULL },
        { "2026-05-02/00", NULL, NULL },
        { "2026-05-02 ", NULL, NULL },
        { "2026-05-02T10:00", NULL, NULL },
        { "02.05.2026", NULL, NULL },
        { "", NULL, NULL },
        { "-026", NULL, NULL },
    };
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct mb_days days = { 77, 77 };
        bool ok = mb_days_read(mb_str_of(cases[i].text), &days);
        cr_assert_eq(ok, cases[i].first != NULL, "%s", cases[i].text);
        if (ok) {
            cr_assert_str_eq(mb_day_write(arena, days.first), cases[i].first);
            cr_assert_str_eq(mb_day_write(arena, days.last), cases[i].last);
        } else {
            cr_assert(days.first == 77 && days.last == 77);
        }
    }
    mb_arena_free(arena);
}

Test(date, a_moment_is_read_in_one_form_only)
{
    static const char *const refused[] = {
        "2026-05-02T14:00:00",
        "2026-05-02 14:00:00Z",
        "2026-05-02T14:00:00+00:00",
        "2026-05-02T24:00:00Z",
        "2026-05-02T14:60:00Z",
        "2026-05-02T14:00:60Z",
        "2026-02-30T14:00:00Z",
        "2026-05-02t14:00:00z",
        "2026-05-02T14:00Z",
        "2026-05T14:00:00Z",
        "",
        "2026-05-02T14-00-00Z",
        "2026-05-02T1 :00:00Z",
    };
    static const int64_t far[] = { INT64_MIN, INT64_MAX, INT64_C(9007199254740991) };
    mb_arena *arena = mb_arena_new();
    int64_t seconds = 77;

    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++)
        cr_assert_not(mb_moment_read(mb_str_of(refused[i]), &seconds), "%s", refused[i]);
    cr_assert_eq(seconds, 77);
    cr_assert(mb_moment_read(MB_STR("2001-09-09T01:46:40Z"), &seconds) && seconds == 1000000000);
    cr_assert_str_eq(mb_moment_write(arena, 0), "1970-01-01T00:00:00Z");
    cr_assert_str_eq(mb_moment_write(arena, -1), "1969-12-31T23:59:59Z");
    for (size_t i = 0; i < 3; i++) /* hostile numbers are still written without harm */
        cr_assert_eq(mb_moment_write(arena, far[i])[strlen(mb_moment_write(arena, far[i])) - 1],
                     'Z');
    mb_arena_free(arena);
}
