/* Outlines in all three forms, read and measured; what is measured adds up, whatever was drawn. */
#include "fuzz.h"

#include <stdlib.h>

#include "measure.h"

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
    } else if (err.code == MB_OK || err.text[0] == '\0') {
        abort();
    }
    mb_arena_free(arena);
    return 0;
}
