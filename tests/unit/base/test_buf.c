#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "buf.h"
#include "text.h"

Test(buf, what_is_added_stands_there_in_order_and_ends_with_a_zero)
{
    MB_BUF_AUTO struct mb_buf buf;
    char expected[20001], piece[32];

    mb_buf_init(&buf, sizeof expected);
    cr_assert_str_eq(buf.at, "");
    for (int i = 0; i < 2000; i++) {
        mb_buf_add_char(&buf, 'a');
        mb_buf_add_text(&buf, "bc");
        mb_buf_add_str(&buf, MB_STR("def"));
        mb_buf_printf(&buf, "%04d", i);
        snprintf(piece, sizeof piece, "abcdef%04d", i);
        memcpy(expected + i * 10, piece, 11);
        cr_assert_eq(buf.at[buf.len], '\0');
    }
    cr_assert(mb_buf_ok(&buf));
    cr_assert_eq(mb_buf_str(&buf).len, 20000);
    cr_assert_str_eq(mb_buf_str(&buf).at, expected);
    mb_buf_clear(&buf);
    cr_assert_str_eq(mb_buf_str(&buf).at, "");
    memcpy(mb_buf_room(&buf, 5), "chalk", 5);
    mb_buf_grew(&buf, 5);
    cr_assert_str_eq(mb_buf_str(&buf).at, "chalk");
    mb_buf_done(&buf);
    mb_buf_done(&buf);
    cr_assert_eq(mb_buf_str(&buf).len, 0);
}

Test(buf, text_for_markup_closes_nothing_and_opens_nothing)
{
    MB_BUF_AUTO struct mb_buf buf;

    mb_buf_init(&buf, 100);
    mb_buf_add_escaped(&buf, mb_str_of("a <b> & \"c\" d's"));
    cr_assert_str_eq(mb_buf_str(&buf).at, "a &lt;b&gt; &amp; &quot;c&quot; d's");
}

Test(buf, passing_the_maximum_sticks_and_leaves_what_was_there)
{
    for (size_t max = 0; max < 300; max += 7) {
        MB_BUF_AUTO struct mb_buf buf;
        mb_buf_init(&buf, max);
        for (size_t i = 0; i < max; i++)
            mb_buf_add_char(&buf, 'x');
        cr_assert(mb_buf_ok(&buf));
        mb_buf_add(&buf, "", 0);
        cr_assert(mb_buf_ok(&buf));
        mb_buf_printf(&buf, "%s", "one more");
        cr_assert_not(mb_buf_ok(&buf));
        cr_assert_eq(buf.len, max);
        cr_assert_null(mb_buf_room(&buf, 0));
        mb_buf_clear(&buf);
        cr_assert(mb_buf_ok(&buf));
        cr_assert_null(mb_buf_room(&buf, SIZE_MAX));
        mb_buf_add_char(&buf, 'y');
        cr_assert_eq(buf.len, 0, "a full buffer took more");
    }
}
