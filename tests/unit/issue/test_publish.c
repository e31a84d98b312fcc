/* Publishing and holding a certificate against it, through the public headers. The files themselves
 * are judged by golang.org/x/mod and python3-cryptography in tests/e2e/cli_publish.py. */
#include <criterion/criterion.h>
#include <string.h>

#include <markerbed/certificate.h>
#include <markerbed/verify.h>
#include <markerbed/witness.h>

#include "fileio.h"
#include "paper.h"
#include "stock.h"
#include "text.h"

static struct workbench b;
static const char *web, *path, *id;

static void set_up(void)
{
    const char *file;

    stock_house(&b);
    stock_find(&b, "26-0001");
    file = paper_must(&b, (struct paper_wish){ .specimens = "26-0001", .audience = "public" });
    id = mb_json_cstr(b.arena, mb_json_get(b.out, "id"));
    path = paper_file(&b, "one.json", mb_str_of(file));
    web = mb_arena_printf(b.arena, "%s-web", b.folder);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(publish, .init = set_up, .fini = tear_down);

static enum mb_rc publish(void)
{
    b.err = (struct mb_error){ 0 };
    return mb_publish(b.ledger, b.arena, web, false, &b.out, &b.err);
}

/* verify --published, and the answer's member of the file. */
static enum mb_rc held(const mb_json **published)
{
    const struct mb_verify verify = { .paths = &path, .count = 1, .trust_path = paper_trust(&b),
                                      .published = web };
    const mb_json *out = NULL;
    enum mb_rc rc = mb_verify(b.arena, &verify, &out, NULL);

    *published = mb_json_get(mb_json_at(mb_json_get(out, "files"), 0), "published");
    return rc;
}

Test(publish, a_certificate_stands_until_its_withdrawal_is_published)
{
    const mb_json *published, *out;

    cr_assert_eq(publish(), MB_OK, "%s", b.err.text);
    cr_expect_eq(held(&published), MB_OK);
    cr_expect(mb_json_true(mb_json_get(published, "goesOn")));
    cr_assert_eq(mb_certificate_withdraw(b.ledger, b.arena, id, "error in facts", &out, NULL),
                 MB_OK);
    cr_expect_eq(held(&published), MB_OK, "nobody can know yet");
    cr_assert_eq(publish(), MB_OK, "%s", b.err.text);
    cr_expect_eq(held(&published), MB_NO);
    cr_expect(mb_json_text_is(mb_json_get(published, "why"), "error in facts"));
}

Test(publish, nothing_new_writes_no_tile_again)
{
    int64_t first, second;

    cr_assert_eq(publish(), MB_OK, "%s", b.err.text);
    first = mb_json_int(mb_json_get(b.out, "written"), -1);
    cr_assert_eq(publish(), MB_OK, "%s", b.err.text);
    second = mb_json_int(mb_json_get(b.out, "written"), -1);
    cr_expect_leq(second, 2, "the dated list and the page at most: %lld of %lld",
                  (long long)second, (long long)first);
}

Test(publish, what_is_missing_or_of_another_is_told)
{
    const mb_json *published;
    const char *checkpoint = mb_path_join(b.arena, web, "checkpoint");

    cr_expect_eq(held(&published), MB_UNABLE, "there is nothing");
    cr_assert_eq(publish(), MB_OK, "%s", b.err.text);
    cr_assert_eq(mb_file_write(checkpoint, MB_STR("hello\n"), 0644, NULL), MB_OK);
    cr_expect_eq(held(&published), MB_UNABLE);
    cr_expect_eq(publish(), MB_REFUSED, "not over what is no checkpoint of this ledger");
}
