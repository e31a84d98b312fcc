/* What a certificate travels in, by its bytes. */
#include <criterion/criterion.h>
#include <string.h>

#include "carrier.h"
#include "text.h"

#define OPENING "<script type=\"application/json\" id=\"certificate\">"

static const struct {
    const char *bytes;
    enum mb_carrier is;
    const char *inside; /* NULL: refused */
} files[] = {
    { "{\"format\":1}", MB_CARRIER_FILE, "{\"format\":1}" },
    { " \n{}", MB_CARRIER_FILE, " \n{}" },
    { "", MB_CARRIER_NONE, NULL },
    { "[]", MB_CARRIER_NONE, NULL },
    { "a note\n", MB_CARRIER_NONE, NULL },
    { "%PDF-1.7 and nothing behind it", MB_CARRIER_PDF, NULL },
    { "<!DOCTYPE html><html></html>", MB_CARRIER_HTML, NULL },
    { "<!doctype html>" OPENING "{\"a\":\"\\u003c\"}</script></html>", MB_CARRIER_HTML,
      "{\"a\":\"\\u003c\"}" },
    { "<html>" OPENING "{}", MB_CARRIER_HTML, NULL },
    { "<html><script id=\"certificate\">{}</script>", MB_CARRIER_HTML, NULL },
};

Test(carrier, a_file_is_known_by_its_first_bytes_and_gives_what_it_carries)
{
    mb_arena *arena = mb_arena_new();

    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        struct mb_str bytes = mb_str_of(files[i].bytes), inside = { NULL, 0 };
        struct mb_error err = { 0 };
        enum mb_rc rc = mb_carrier_open(arena, "it", bytes, &inside, &err);

        cr_expect_eq(mb_carrier_of(bytes), files[i].is, "%s", files[i].bytes);
        cr_expect_eq(rc == MB_OK, files[i].inside != NULL, "%s: %d", files[i].bytes, (int)rc);
        if (rc == MB_OK)
            cr_expect(mb_str_is(inside, files[i].inside), "%s", files[i].bytes);
        else
            cr_expect(strstr(err.text, "it"), "%s", err.text);
    }
    mb_arena_free(arena);
}
