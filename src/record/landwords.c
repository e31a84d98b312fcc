#include "landwords.h"

#include "plss.h"
#include "text.h"

static void put_township(mb_arena *arena, mb_json *out, const struct mb_plss *plss)
{
    static const char *const quarters[] = { "", " 1/4", " 1/2", " 3/4" };

    mb_json_put_text(arena, out, "township",
                     mb_arena_printf(arena, "T. %d%s %c.", plss->township,
                                     quarters[plss->township_quarters], plss->township_side));
    mb_json_put_text(arena, out, "range",
                     mb_arena_printf(arena, "R. %d%s %c.", plss->range,
                                     quarters[plss->range_quarters], plss->range_side));
}

static void put_numbers(mb_arena *arena, mb_json *out, const char *name, const int *at,
                        size_t count)
{
    const char *list = "";

    for (size_t i = 0; i < count; i++)
        list = mb_arena_printf(arena, "%s%s%d", list, i ? ", " : "", at[i]);
    if (count)
        mb_json_put_text(arena, out, name, list);
}

static void put_parts(mb_arena *arena, mb_json *out, const struct mb_plss *plss)
{
    const char *list = "";

    for (size_t i = 0; i < plss->piece_count; i++) {
        const struct mb_plss_piece *piece = &plss->pieces[i];

        list = mb_arena_printf(arena, "%s%s", list, i ? " and " : "");
        for (size_t k = 0; k < piece->count; k++)
            list = mb_arena_printf(arena, "%s%s%s%s", list, k ? " " : "", piece->at[k].where,
                                   piece->at[k].where[1] ? "1/4" : "1/2");
    }
    if (plss->piece_count)
        mb_json_put_text(arena, out, "parts", list);
}

const mb_json *mb_landwords(mb_arena *arena, struct mb_str description)
{
    mb_json *out = mb_json_object(arena);
    struct mb_error err = { 0 };
    struct mb_plss plss;

    if (mb_plss_read(arena, description, &plss, &err) != MB_OK) {
        mb_json_put_text(arena, out, "notRead", err.text);
        return out;
    }
    mb_json_put_text(arena, out, "read", mb_plss_write(arena, &plss));
    put_township(arena, out, &plss);
    put_numbers(arena, out, "sections", plss.sections, plss.section_count);
    put_parts(arena, out, &plss);
    put_numbers(arena, out, "lots", plss.lots, plss.lot_count);
    if (plss.meridian)
        mb_json_put_text(arena, out, "meridian", plss.meridian);
    if (plss.meridian && !plss.meridian_known)
        mb_json_put_bool(arena, out, "meridianKnown", false);
    if (mb_plss_acres(&plss) >= 0)
        mb_json_put_text(arena, out, "nominalAcres",
                         mb_arena_printf(arena, "%.4g", mb_plss_acres(&plss)));
    if (plss.rest)
        mb_json_put_text(arena, out, "notUnderstood", plss.rest);
    mb_json_put_text(arena, out, "caution", MB_PLSS_CAUTION);
    return out;
}
