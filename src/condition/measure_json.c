/* The result as data. The names of members are those of the kind `condition`. */
#include "measure.h"

#include <math.h>
#include <string.h>

#define FRAME "visible fossil surface in the named views"

static void put_if(mb_arena *arena, mb_json *object, const char *name, const char *text)
{
    if (*text)
        mb_json_put_text(arena, object, name, text);
}

static void put_tenths(mb_arena *arena, mb_json *object, const char *name, int tenths)
{
    mb_json_put_text(arena, object, name, mb_share_text(arena, tenths));
}

static void put_share(mb_arena *arena, mb_json *object, const struct mb_share *share)
{
    put_tenths(arena, object, "percent", share->tenths);
    put_tenths(arena, object, "low", share->tenths_low);
    put_tenths(arena, object, "high", share->tenths_high);
}

/* Lengths and areas: one place, and never 0 for what is there. */
static void put_amount(mb_arena *arena, mb_json *object, const char *name, double amount)
{
    mb_json_put_text(arena, object, name,
                     mb_arena_printf(arena, "%.1f", amount > 0 && amount < 0.1 ? 0.1 : amount));
}

static mb_json *row_of(mb_arena *arena, mb_json *rows, const struct mb_tally *tally)
{
    mb_json *row = mb_json_add(rows, mb_json_object(arena));

    mb_json_put_text(arena, row, "individual", tally->individual);
    put_if(arena, row, "element", tally->element);
    mb_json_put_text(arena, row, "view", tally->view);
    return row;
}

/* Rows hold texts, whole numbers too. */
static void put_whole(mb_arena *arena, mb_json *object, const char *name, uint64_t number)
{
    mb_json_put_text(arena, object, name,
                     mb_arena_printf(arena, "%llu", (unsigned long long)number));
}

static void put_how(mb_arena *arena, mb_json *row, const struct mb_tally *tally)
{
    mb_json_put_text(arena, row, "how", mb_how_words[tally->how]);
    put_whole(arena, row, "n", tally->n);
}

/* ---- rows ------------------------------------------------------------------------------------ */

static void share_rows(mb_arena *arena, mb_json *rows, const struct mb_tally *tally)
{
    for (size_t s = 0; s < MB_SUBSTANCES; s++) {
        mb_json *row;

        if (!tally->substance[s].there)
            continue;
        row = row_of(arena, rows, tally);
        mb_json_put_text(arena, row, "substance", mb_substance_words[s]);
        put_share(arena, row, &tally->substance[s]);
        put_how(arena, row, tally);
    }
}

static void surface_rows(mb_arena *arena, mb_json *rows, const struct mb_tally *tally)
{
    for (size_t f = 0; f < MB_SURFACES; f++)
        for (size_t s = 0; s < MB_SUBSTANCES; s++) {
            mb_json *row;

            if (!tally->surface_on[f][s].there)
                continue;
            row = row_of(arena, rows, tally);
            mb_json_put_text(arena, row, "surface", mb_surface_words[f]);
            mb_json_put_text(arena, row, "on", mb_substance_words[s]);
            put_share(arena, row, &tally->surface_on[f][s]);
            mb_json_put_text(arena, row, "how", mb_how_words[tally->how]);
        }
}

static void estimate_row(mb_arena *arena, mb_json *shares, mb_json *surfaces,
                         const struct mb_view *view, const struct mb_estimate *one)
{
    mb_json *row = mb_json_add(one->of_surface ? surfaces : shares, mb_json_object(arena));

    mb_json_put_text(arena, row, "individual", one->individual);
    put_if(arena, row, "element", one->element);
    mb_json_put_text(arena, row, "view", view->name);
    if (one->of_surface) {
        mb_json_put_text(arena, row, "surface", mb_surface_words[one->surface]);
        if (one->on_substance)
            mb_json_put_text(arena, row, "on", mb_substance_words[one->substance]);
        mb_json_put_text(arena, row, "extent", mb_extent_words[one->extent]);
    } else {
        mb_json_put_text(arena, row, "substance", mb_substance_words[one->substance]);
        mb_json_put_text(arena, row, "band", mb_band_words[one->band]);
    }
    mb_json_put_text(arena, row, "how", mb_how_words[MB_HOW_ESTIMATE]);
}

static mb_json *join_rows(mb_arena *arena, const struct mb_measured *measured)
{
    mb_json *rows = mb_json_array(arena);

    for (const struct mb_join_group *group = measured->joins; group; group = group->next) {
        mb_json *row = mb_json_add(rows, mb_json_object(arena));

        mb_json_put_text(arena, row, "through", mb_through_words[group->through]);
        put_whole(arena, row, "count", group->count);
        /* The length of some of them would read as that of all. */
        if (group->without_mm == 0)
            put_amount(arena, row, "lengthMm", group->mm);
        put_if(arena, row, "widestGapMm", group->gap_mm);
        put_if(arena, row, "cause", group->cause);
        put_if(arena, row, "adhesive", group->adhesive);
    }
    return rows;
}

static mb_json *individual_rows(mb_arena *arena, const struct mb_outlines *outlines)
{
    mb_json *rows = mb_json_array(arena);

    for (const struct mb_individual *one = outlines->individuals; one; one = one->next) {
        mb_json *row = mb_json_add(rows, mb_json_object(arena));

        mb_json_put_text(arena, row, "label", one->label);
        put_if(arena, row, "name", one->name);
        put_if(arena, row, "association", one->association);
        put_if(arena, row, "setting", one->setting);
        put_if(arena, row, "shownBy", one->shown_by);
    }
    return rows;
}

/* ---- totals ---------------------------------------------------------------------------------- */

static void put_sum(mb_arena *arena, mb_json *total, const char *name, const struct mb_share *sum)
{
    if (sum->there)
        put_share(arena, mb_json_put(arena, total, name, mb_json_object(arena)), sum);
}

static void put_surfaces(mb_arena *arena, mb_json *total, const struct mb_tally *tally)
{
    mb_json *list = mb_json_array(arena);

    for (size_t f = 0; f < MB_SURFACES; f++) {
        mb_json *one;

        if (!tally->surface[f].there)
            continue;
        one = mb_json_add(list, mb_json_object(arena));
        mb_json_put_text(arena, one, "surface", mb_surface_words[f]);
        put_share(arena, one, &tally->surface[f]);
    }
    if (list->count > 0)
        mb_json_put(arena, total, "surfaces", list);
}

static void put_weights(mb_arena *arena, mb_json *total, const struct mb_tally *tally)
{
    mb_json *list = mb_json_put(arena, total, "weights", mb_json_array(arena));

    for (size_t i = 0; i < tally->weight_count; i++) {
        mb_json *one = mb_json_add(list, mb_json_object(arena));

        put_if(arena, one, "element", tally->weights[i].element);
        mb_json_put_text(arena, one, "view", tally->weights[i].view);
        if (tally->weights[i].mm2 > 0)
            put_amount(arena, one, "areaMm2", tally->weights[i].mm2);
        put_tenths(arena, one, "percent", tally->weights[i].tenths);
    }
}

static void total_row(mb_arena *arena, mb_json *rows, const struct mb_tally *tally)
{
    mb_json *row = row_of(arena, rows, tally);

    put_how(arena, row, tally);
    if (tally->has_mm2) {
        put_amount(arena, row, "areaMm2", tally->mm2);
        if (tally->how == MB_HOW_OUTLINE) {
            put_amount(arena, row, "areaLowMm2", tally->mm2_low);
            put_amount(arena, row, "areaHighMm2", tally->mm2_high);
        }
    }
    put_sum(arena, row, "original", &tally->sum[MB_SUM_ORIGINAL]);
    put_sum(arena, row, "notOriginal", &tally->sum[MB_SUM_NOT_ORIGINAL]);
    put_sum(arena, row, "unexamined", &tally->sum[MB_SUM_UNEXAMINED]);
    put_surfaces(arena, row, tally);
    if (tally->weight_count > 1)
        put_weights(arena, row, tally);
}

mb_json *mb_measure_json(mb_arena *arena, const struct mb_measured *measured)
{
    const struct mb_outlines *outlines = measured->outlines;
    mb_json *all = mb_json_object(arena);
    mb_json *shares = mb_json_put(arena, all, "shares", mb_json_array(arena));
    mb_json *surfaces = mb_json_put(arena, all, "surfaces", mb_json_array(arena));
    mb_json *totals, *list;

    for (const struct mb_tally *tally = measured->tallies; tally; tally = tally->next) {
        share_rows(arena, shares, tally);
        surface_rows(arena, surfaces, tally);
    }
    for (const struct mb_view *view = outlines->views; view; view = view->next)
        for (const struct mb_estimate *one = view->estimates; one; one = one->next)
            estimate_row(arena, shares, surfaces, view, one);
    mb_json_put(arena, all, "joins", join_rows(arena, measured));
    mb_json_put(arena, all, "individuals", individual_rows(arena, outlines));
    list = mb_json_put(arena, all, "notExamined", mb_json_array(arena));
    for (size_t i = 0; i < outlines->not_examined_count; i++)
        mb_json_add_text(arena, list, outlines->not_examined[i]);
    mb_json_put_text(arena, all, "frame", FRAME);
    totals = mb_json_put(arena, all, "totals", mb_json_array(arena));
    for (const struct mb_tally *tally = measured->tallies; tally; tally = tally->next)
        total_row(arena, totals, tally);
    list = mb_json_put(arena, all, "notes", mb_json_array(arena));
    for (const struct mb_measure_note *note = measured->notes; note; note = note->next)
        mb_json_add_text(arena, list, note->text);
    return all;
}
