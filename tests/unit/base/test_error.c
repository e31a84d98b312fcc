#include <criterion/criterion.h>
#include <string.h>

#include <markerbed/error.h>

#include "text.h"

Test(error, the_first_cause_is_kept_and_the_code_is_handed_on)
{
    struct mb_error err = { 0 };

    cr_assert_eq(mb_fail(&err, MB_REFUSED, "line %d is wrong", 7), MB_REFUSED);
    cr_assert_eq(mb_fail(&err, MB_UNABLE, "something later"), MB_UNABLE);
    cr_assert_eq(err.code, MB_REFUSED);
    cr_assert_str_eq(err.text, "line 7 is wrong");
    cr_assert_eq(mb_fail(NULL, MB_NO, "nobody listens"), MB_NO);
}

Test(error, the_place_is_put_in_front_of_a_recorded_sentence_only)
{
    struct mb_error err = { 0 };

    mb_fail_where(NULL, "finds.csv");
    mb_fail_where(&err, "finds.csv");
    cr_assert_str_empty(err.text);
    mb_fail(&err, MB_REFUSED, "the day is missing");
    mb_fail_where(&err, "line %d", 12);
    mb_fail_where(&err, "%s", "finds.csv");
    cr_assert_str_eq(err.text, "finds.csv: line 12: the day is missing");
    cr_assert_eq(err.code, MB_REFUSED);
}

/* Whatever is quoted, the sentence stays one line of well-formed text that steers no terminal. */
Test(error, what_is_quoted_cannot_break_the_line)
{
    static const struct {
        const char *quoted, *shown;
    } cases[] = {
        { "two\nlines", "two?lines" },
        { "\x1b[2Jgone", "?[2Jgone" },
        { "a\x80z", "a?z" },
        { "turned \xe2\x80\xaeround", "turned ?round" }, /* U+202E */
        { "\xc3\xa9 stays", "\xc3\xa9 stays" },
    };

    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct mb_error err = { 0 };
        mb_fail(&err, MB_REFUSED, "%s", cases[i].quoted);
        cr_assert_str_eq(err.text, cases[i].shown);
        mb_fail_where(&err, "%s", cases[i].quoted);
        cr_assert_str_eq(strchr(err.text, ':') + 2, cases[i].shown);
        cr_assert(mb_text_allowed(mb_str_of(err.text), false));
    }
}

Test(error, a_long_sentence_is_cut_between_characters)
{
    static const char *const characters[] = { "x", "\xc3\xa9", "\xe2\x82\xac", "\xf0\x9f\xa6\xb4" };
    char filler[sizeof((struct mb_error *)0)->text];

    for (size_t c = 0; c < 4; c++) {
        for (size_t pad = sizeof filler - 12; pad < sizeof filler; pad++) {
            struct mb_error err = { 0 };
            size_t len, whole = strlen(characters[c]);
            memset(filler, '.', pad);
            filler[pad] = '\0';
            mb_fail(&err, MB_REFUSED, "%s%s%s%s", filler, characters[c], characters[c],
                    characters[c]);
            len = strlen(err.text);
            cr_assert_lt(len, sizeof err.text);
            cr_assert(mb_text_allowed(mb_str_of(err.text), false), "cut inside a character");
            cr_assert_null(strchr(err.text, '?'), "a half character became a question mark");
            cr_assert_eq((len - pad) % whole, 0);
            if (len < pad + 3 * whole)
                cr_assert_gt(len + whole, sizeof err.text - 1, "more was cut than had to be");
            mb_fail_where(&err, "%s", characters[c]);
            cr_assert(mb_text_allowed(mb_str_of(err.text), false));
            cr_assert_null(strchr(err.text, '?'));
        }
    }
}
