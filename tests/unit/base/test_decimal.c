#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "decimal.h"
#include "text.h"

#define S(text) mb_str_of(text)

Test(decimal, only_plainly_written_numbers_are_decimals)
{
    static const struct {
        const char *text;
        bool ok;
    } cases[] = {
        { "0", true },
        { "12.50", true },
        { "-3", true },
        { "0.000", true },
        { "-0", true },
        { "100", true },
        { "0.1", true },
        { "123456789012345678901234567890", true },
        { "1234567890123456789012345678901", false },
        { "12345678901234567890.1234567890", true },
        { "12345678901234567890.12345678901", false },
        { "", false },
        { "-", false },
        { "+1", false },
        { "01", false },
        { "00.5", false },
        { ".5", false },
        { "5.", false },
        { "1e3", false },
        { "1,5", false },
        { " 1", false },
        { "1 ", false },
        { "1.2.3", false },
        { "--1", false },
        { "0x10", false },
        { "nan", false },
        { "\xd9\xa1", false },
    };
    int64_t nano = 77;

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        cr_assert_eq(mb_decimal_ok(S(cases[i].text)), cases[i].ok, "%s", cases[i].text);
        cr_assert_eq(isnan(mb_decimal_double(S(cases[i].text))) == 0, cases[i].ok);
        if (!cases[i].ok)
            cr_assert_not(mb_decimal_nano(S(cases[i].text), &nano));
    }
    cr_assert_eq(nano, 77);
}

Test(decimal, billionths_are_exact_up_to_the_last_that_fits)
{
    static const struct {
        const char *text;
        bool ok;
        int64_t nano;
    } cases[] = {
        { "12.50", true, 12500000000 },
        { "-0.000000001", true, -1 },
        { "-0.00", true, 0 },
        { "9223372036.854775807", true, INT64_MAX },
        { "9223372036.854775808", false, 0 },
        { "-9223372036.854775808", true, INT64_MIN },
        { "-9223372036.854775809", false, 0 },
        { "9223372037", false, 0 },
        { "123456789012345678901234567890", false, 0 },
        { "0.1234567891", false, 0 },
    };

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        int64_t nano = 77;
        cr_assert_eq(mb_decimal_nano(S(cases[i].text), &nano), cases[i].ok, "%s", cases[i].text);
        cr_assert_eq(nano, cases[i].ok ? cases[i].nano : 77);
    }
}

Test(decimal, writing_gives_the_shortest_text_with_the_places_wanted)
{
    static const struct {
        int64_t nano;
        int places;
        const char *text;
    } cases[] = {
        { 12500000000, 0, "12.5" },
        { 12500000000, 2, "12.50" },
        { 12000000000, 0, "12" },
        { 12000000000, 3, "12.000" },
        { 0, 0, "0" },
        { 0, 1, "0.0" },
        { -1, 0, "-0.000000001" },
        { -1, 12, "-0.000000001000" },
        { -500000000, 0, "-0.5" },
        { INT64_MAX, 0, "9223372036.854775807" },
        { INT64_MIN, 0, "-9223372036.854775808" },
        { 1000000000, -4, "1" },
        { 10000000000, 0, "10" },
    };
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        cr_assert_str_eq(mb_decimal_write(arena, cases[i].nano, cases[i].places), cases[i].text);
    mb_arena_free(arena);
}

Test(decimal, comparing_is_exact_and_knows_that_12_50_is_12_5)
{
    static const char *const rising[] = {
        "-123456789012345678901234567890",
        "-10.1",
        "-10",
        "-9.99",
        "-0.1",
        "0",
        "0.000000000000000000000000001",
        "0.1",
        "0.11",
        "0.2",
        "1",
        "9.99",
        "10",
        "10.000000000000000001",
        "123456789012345678901234567889",
        "123456789012345678901234567890",
    };
    enum { COUNT = sizeof rising / sizeof rising[0] };

    for (int i = 0; i < COUNT; i++)
        for (int j = 0; j < COUNT; j++)
            cr_assert_eq(mb_decimal_compare(S(rising[i]), S(rising[j])), (i > j) - (i < j),
                         "%s, %s", rising[i], rising[j]);
    cr_assert_eq(mb_decimal_compare(S("12.50"), S("12.5")), 0);
    cr_assert_eq(mb_decimal_compare(S("-0.0"), S("0")), 0);
    cr_assert_eq(mb_decimal_compare(S("-12.50"), S("-12.5")), 0);
}

static uint64_t any64(void)
{
    return (uint64_t)random() << 42 ^ (uint64_t)random() << 21 ^ (uint64_t)random();
}

/* Whole numbers printed by the C library, with the point set nine places from the end, and its
 * strtod (correctly rounded in glibc) are the judges. */
Test(decimal, any_number_agrees_with_the_c_library)
{
    mb_arena *arena = mb_arena_new();

    srandom(20260502);
    for (int i = 0; i < 200000; i++) {
        int64_t value = (int64_t)any64() >> random() % 60, nano;
        uint64_t size = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
        char text[64];
        snprintf(text, sizeof text, "%s%llu.%09llu", value < 0 ? "-" : "",
                 (unsigned long long)(size / 1000000000), (unsigned long long)(size % 1000000000));
        cr_assert(mb_decimal_nano(S(text), &nano) && nano == value, "%s", text);
        cr_assert_str_eq(mb_decimal_write(arena, value, 9), text);
        if (size < UINT64_C(1) << 53)
            cr_assert_eq(mb_decimal_double(S(text)), strtod(text, NULL), "%s", text);
        snprintf(text, sizeof text, "%llu.%010llu", (unsigned long long)(any64() >> 3) | 1,
                 (unsigned long long)(any64() % 10000000000));
        cr_assert_float_eq(mb_decimal_double(S(text)) / strtod(text, NULL), 1, 3e-16, "%s", text);
        mb_arena_reset(arena);
    }
    mb_arena_free(arena);
}
