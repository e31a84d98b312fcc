/* Outlines in all three forms, read and measured; what is measured adds up, whatever was drawn. */
#include "fuzz.h"

#include <stdlib.h>
#include <string.h>

#include "measure.h"

/* What is written can be read, and is written so again. */
static void goes_round(mb_arena *arena, const struct mb_outlines *outlines)
{
    struct mb_error err = { .code = MB_OK };
    const struct mb_outlines *again;
    struct mb_str once, twice;

    if (mb_outlines_write(arena, outlines, &once, &err)
        || mb_outlines_read(arena, "written", once, NULL, &again, &err))
        return; /* too long, or a size that rounds to nothing: refused in a sentence */
    if (mb_outlines_write(arena, again, &twice, &err) || once.len != twice.len
        || memcmp(once.at, twice.at, once.len) != 0)
        abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    mb_arena *arena = mb_arena_new();
    static const char *const nothing[] = { "nothing" };
    struct mb_outlines_given given = {
        .view = "front", .not_examined = nothing, .not_examined_count = 1, .line_px = 2
    };
    struct mb_error err = { .code = MB_OK };
    const struct mb_outlines *outlines;
    const struct mb_measured *measured;

    if (mb_outlines_read(arena, "drawing", (struct mb_str){ (const char *)data, size }, &given,
                         &outlines, &err) == MB_OK &&
        mb_measure(arena, outlines, &measured, &err) == MB_OK) {
        for (const struct mb_tally *tally = measured->tallies; tally; tally = tally->next) {
            int sum = 0;

            for (size_t s = 0; s < MB_SUBSTANCES; s++)
                sum += tally->substance[s].there ? tally->substance[s].tenths : 0;
            if (sum != MB_TENTHS_ALL)
                abort();
        }
        mb_measure_json(arena, measured);
        goes_round(arena, outlines);
    } else if (err.code == MB_OK || err.text[0] == '\0') {
        abort();
    }
    mb_arena_free(arena);
    return 0;
}
