/* Reading back in bulk: what the writer's own reader refuses stops the whole group, wherever in it
 * it stands and however long it is. */
#include <criterion/criterion.h>
#include <stdio.h>

#include "second_reader.h"
#include "temp_ledger.h"
#include "text.h"

Test(second_reader, one_bad_entry_stops_a_group_of_any_length)
{
    static const size_t lengths[] = { 1, 63, 64, 65, 127, 128, 129, 500 };
    const struct mb_str good_tail = { "", 0 }, bad = MB_STR("no.entry.atall");
    mb_arena *arena = mb_arena_new();
    struct temp_ledger t;
    struct mb_entry entry;
    mb_second *second = mb_second_new();

    temp_ledger_new(&t);
    cr_assert_eq(mb_log_entry(t.log, arena, 0, &entry, NULL), MB_OK);
    for (size_t n = 0; n < sizeof lengths / sizeof *lengths; n++) {
        struct mb_error err = { 0 };

        for (size_t i = 0; i < lengths[n]; i++)
            cr_assert_eq(mb_second_read(second, entry.jws, good_tail, &err), MB_OK);
        cr_assert_eq(mb_second_end(second, &err), MB_OK, "%zu good entries", lengths[n]);
        for (size_t at = 0; at < lengths[n]; at += 1 + lengths[n] / 7) {
            enum mb_rc rc = MB_OK;

            err = (struct mb_error){ 0 };
            for (size_t i = 0; i < lengths[n] && !rc; i++)
                rc = mb_second_read(second, i == at ? bad : entry.jws, good_tail, &err);
            if (!rc)
                rc = mb_second_end(second, &err);
            else
                mb_second_forget(second);
            cr_assert_eq(rc, MB_REFUSED, "the %zuth of %zu", at, lengths[n]);
            cr_assert(err.text[0] != '\0');
        }
    }
    mb_second_free(second);
    temp_ledger_done(&t);
    mb_arena_free(arena);
}
