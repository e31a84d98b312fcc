/* A witness's own memory, with the public test log of transparency-dev/tessera (testdata, made by
 * build_log.sh): its checkpoints of sizes 5, 6 and 15, and the consistency proof from 6 to 15. */
#include <criterion/criterion.h>
#include <string.h>

#include <markerbed/witness.h>

#include "fileio.h"
#include "temp_folder.h"
#include "text.h"

#define LOG "example.com/log/testdata"
#define DASH "\xE2\x80\x94 "
#define VKEY LOG "+33d7b496+AeHTu4Q3hEIMHNqc6fASMsq3rKNx280NI+oO5xCFkkSx"
#define FIVE \
    LOG "\n5\ngy5gl3aksFyiCO95a/1vLXz88A3dRq+0l9Sxte8ZqZQ=\n\n" DASH LOG \
        " M9e0lmn5eDHyHP10zJObZdFAX2y1V8fdDKBi4IiHbDYf1TCUBwxZOhqwv2QZCqrdda2zTRTrmnwjwscN5RBTEmZ" \
        "UYAs=\n"
#define SIX \
    LOG "\n6\na6sWvsc2eEzmj72vah7mZ5dwFltivehh2b11qwlp5Jg=\n\n" DASH LOG \
        " M9e0ln+nHSdGSHEZBcjvqyYDXDbG8WxDwCDjbbGAMv/NTynAtJWhckSXIpuwpN3yJ4PTtzUbD34YGqIZr6RgJRn" \
        "16gU=\n"
#define FIFTEEN \
    LOG "\n15\nrKbDipCvhuX1GZ7g5BBe8sA6BbJ7ja/1nk427v383cs=\n\n" DASH LOG \
        " M9e0luh4jTG+UMBqOUo9/q+yAEvx1ilBEniMvjf1zfcBOhg+CKubMt53MvIt/uEWP6zdkdIQzd/fmwlM/dlPWF7" \
        "4ewI=\n"
#define PROOF \
    "ycRkkNklus5eMVRUvkD1pK321vMrA+jjOiZKU8aOcY4=\n" \
    "nk9gCR+floFqznAPtqjjcnnV64dge2jQB95D5t164Hg=\n" \
    "zY1lN35vrXYAPixXSd59LsU29xUJtuW4o2dNNg5Y2Co=\n" \
    "5jLpqTgjsBDSEX6SgZiRnbTMdTuRd8bQ5tSsAOxe0Ks=\n"

static mb_arena *arena;
static mb_witness *witness;
static const char *folder;

static void open_it(void)
{
    cr_assert_eq(mb_witness_open(arena, folder, &witness, NULL), MB_OK);
    cr_assert_eq(mb_witness_unlock(witness, MB_STR("a friend looks on"), NULL), MB_OK);
}

static void setup(void)
{
    const mb_json *made;

    arena = mb_arena_new();
    cr_assert_eq(mb_start(NULL), MB_OK);
    folder = mb_arena_printf(arena, "%s/watch", temp_folder_new(arena));
    cr_assert_eq(mb_witness_new(arena, folder, "witness.example/w1", MB_STR("a friend looks on"),
                                &made, NULL),
                 MB_OK);
    open_it();
    cr_assert_eq(mb_witness_know(witness, arena, MB_STR(VKEY), &made, NULL), MB_OK);
}

static void teardown(void)
{
    witness = mb_witness_close(witness);
    mb_stop();
    mb_arena_free(arena);
}

static int64_t status(const char *request, enum mb_rc expected, const mb_json **result)
{
    cr_expect_eq(mb_witness_answer(witness, arena, mb_str_of(request), result, NULL), expected);
    return mb_json_int(mb_json_get(*result, "status"), 0);
}

Test(cosign, what_was_seen_is_on_disk_and_holds_after_a_restart, .init = setup, .fini = teardown)
{
    const mb_json *result;

    cr_expect_eq(status("old 0\n\n" SIX, MB_OK, &result), 200);
    cr_expect(mb_str_starts(mb_json_str(mb_json_get(result, "body")), DASH "witness.example/w1 "));
    witness = mb_witness_close(witness);
    open_it();
    cr_expect_eq(status("old 0\n\n" FIFTEEN, MB_NO, &result), 409);
    cr_expect(mb_json_text_is(mb_json_get(result, "body"), "6\n"));
    cr_expect_eq(status("old 6\n" PROOF "\n" FIFTEEN, MB_OK, &result), 200);
    cr_expect_eq(status("old 15\n\n" FIFTEEN, MB_OK, &result), 200, "the same tree once more");
}

Test(cosign, going_back_is_refused_and_kept, .init = setup, .fini = teardown)
{
    const mb_json *result;

    cr_expect_eq(status("old 0\n\n" SIX, MB_OK, &result), 200);
    cr_expect_eq(status("old 5\n\n" FIVE, MB_NO, &result), 409);
    cr_expect(mb_json_get(result, "seen") != NULL, "what it signed before is shown");
    cr_expect(strstr(mb_json_cstr(arena, mb_json_get(result, "why")), "older copy") != NULL);
    cr_expect(mb_file_exists(mb_path_join(arena, folder, "refused")));
    cr_expect_eq(status("old 6\n\n" FIVE, MB_NO, &result), 400);
    cr_expect_eq(status("old 6\n\n" FIFTEEN, MB_NO, &result), 422, "without a proof");
    cr_expect_eq(status("old 6\n" PROOF "\n" FIFTEEN, MB_OK, &result), 200, "and goes on after");
}

Test(cosign, a_folder_is_used_by_one_program, .init = setup, .fini = teardown)
{
    mb_witness *second = NULL;
    struct mb_error err = { 0 };

    cr_expect_eq(mb_witness_open(arena, folder, &second, &err), MB_UNABLE);
    cr_expect(strstr(err.text, "another program") != NULL);
}

Test(cosign, what_is_no_ledger_of_another_is_not_watched, .init = setup, .fini = teardown)
{
    const mb_json *about, *result;
    struct mb_str own;

    cr_assert_eq(mb_witness_about(witness, arena, &about, NULL), MB_OK);
    own = mb_json_str(mb_json_get(about, "vkey"));
    cr_expect_eq(mb_witness_know(witness, arena, own, &result, NULL), MB_REFUSED);
    cr_expect_eq(mb_witness_know(witness, arena, MB_STR("hello"), &result, NULL), MB_REFUSED);
    cr_expect_eq(mb_witness_know(witness, arena, MB_STR("{}"), &result, NULL), MB_REFUSED);
    cr_assert_eq(mb_witness_know(witness, arena, MB_STR(VKEY), &result, NULL), MB_OK);
    cr_expect_not(mb_json_true(mb_json_get(result, "new")));
}
