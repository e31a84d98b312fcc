#include "units.h"

#include <math.h>

#include <markerbed/json.h>

#include "asset.h"
#include "decimal.h"
#include "text.h"

bool mb_unit_base(struct mb_str number, struct mb_str unit, const char *base, double *out)
{
    const struct mb_asset *asset = mb_asset_find("vocab/unit.json");
    mb_arena *arena = mb_arena_new();
    const mb_json *vocab, *found = NULL;

    if (asset
        && !mb_json_read(arena, (struct mb_str){ asset->data, asset->size }, MB_JSON_PLAIN, &vocab,
                         NULL))
        MB_JSON_EACH(term, mb_json_get(vocab, "terms"))
            if (mb_str_equal(mb_json_str(mb_json_get(term, "id")), unit)
                && mb_json_text_is(mb_json_get(term, "base"), base))
                found = term;
    *out = found ? mb_decimal_double(number)
                       * mb_decimal_double(mb_json_str(mb_json_get(found, "factor")))
                 : NAN;
    mb_arena_free(arena);
    return !isnan(*out);
}
