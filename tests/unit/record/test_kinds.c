/* The kinds as data: read whole, found by name, the same as their files. tests/tools/check_kinds.py
 * judges what stands in them. */
#include <criterion/criterion.h>
#include <markerbed/record.h>
#include <string.h>

#include "asset.h"
#include "kinds.h"
#include "text.h"

static mb_arena *arena;
static struct mb_error err;

static void set_up(void)
{
    arena = mb_arena_new();
    cr_assert_eq(mb_start(&err), MB_OK, "%s", err.text);
}

static void tear_down(void)
{
    mb_stop();
    mb_arena_free(arena);
}

TestSuite(kinds, .init = set_up, .fini = tear_down);

Test(kinds, are_all_read_and_found)
{
    size_t files = 0;

    for (size_t i = 0; i < mb_asset_count(); i++)
        files += strncmp(mb_asset_at(i)->path, "kinds/", 6) == 0;
    cr_assert_eq(mb_kinds_count(), files - 1, "all but common.json");
    cr_assert_geq(mb_kinds_count(), 36);
    for (size_t i = 0; i < mb_kinds_count(); i++) {
        const struct mb_kind *kind = mb_kinds_at(i);

        cr_assert_eq(mb_kind_find(kind->name), kind);
        cr_assert_eq(kind->index, i);
        for (size_t f = 0; f < kind->count; f++)
            cr_assert_eq(mb_kind_field(kind, kind->fields[f].name), &kind->fields[f]);
    }
    cr_assert_null(mb_kind_find(MB_STR("colecting")));
    cr_assert_null(mb_kind_find(MB_STR("common")));
    cr_assert_null(mb_kind_field(mb_kinds_at(0), MB_STR("")));
}

Test(kinds, give_each_field_what_its_file_says)
{
    const struct mb_kind *kind = mb_kind_find(MB_STR("collecting"));
    const struct mb_kind_field *mass = mb_kind_field(kind, MB_STR("mass"));
    const struct mb_kind_field *with = mb_kind_field(kind, MB_STR("foundWith"));
    const struct mb_kind_field *form = mb_kind_field(kind, MB_STR("objectForm"));
    const struct mb_kind_field *how = mb_kind_field(kind, MB_STR("massHow"));
    const struct mb_kind_field *batch = mb_kind_field(kind, MB_STR("batch"));

    cr_assert_eq(mass->type, MB_V_DECIMAL);
    cr_assert_eq(mass->in, MB_LAND);
    cr_assert_eq(mass->units.count, 3);
    cr_assert_str_eq(mass->min.at, "0");
    cr_assert_eq(with->type, MB_V_LIST);
    cr_assert(with->salted);
    cr_assert_eq(with->of->type, MB_V_REF);
    cr_assert_eq(with->of->in, MB_SCIENCE);
    cr_assert_eq(form->in, MB_OPEN);
    cr_assert_geq(mb_choice_find(form->choices, MB_STR("slab")), 0);
    cr_assert_lt(mb_choice_find(form->choices, MB_STR("Slab")), 0);
    cr_assert_eq(how->required, MB_REQUIRED_WHEN);
    cr_assert_eq(&kind->fields[how->if_field], mass);
    cr_assert(batch->common);
    cr_assert_eq(batch->in, MB_PRIVATE);
    cr_assert(mb_kind_field(mb_kind_find(MB_STR("permission")), MB_STR("validUntil"))->future);
    cr_assert_not(mb_kind_field(kind, MB_STR("eventDate"))->future);
}

/* Own words and a vocabulary together. */
Test(kinds, put_own_choices_behind_those_of_a_vocabulary)
{
    const struct mb_kind_field *datum =
        mb_kind_field(mb_kind_find(MB_STR("collecting")), MB_STR("geodeticDatum"));

    cr_assert_geq(mb_choice_find(datum->choices, MB_STR("EPSG:4326")), 0);
    cr_assert_str_eq(datum->choices->ids.at[datum->choices->ids.count - 1], "not recorded");
    cr_assert_str_eq(datum->choices->vocab, "datum");
}

/* A photo of the open class would be in clear in every file for ever. */
Test(kinds, keep_free_text_names_and_places_out_of_the_open)
{
    for (size_t i = 0; i < mb_kinds_count(); i++)
        for (size_t f = 0; f < mb_kinds_at(i)->count; f++) {
            const struct mb_kind_field *field = &mb_kinds_at(i)->fields[f];
            const char *kind = mb_kinds_at(i)->name.at;
            bool named = strcmp(kind, "founding") == 0 || strcmp(kind, "key-enrolment") == 0;

            if (field->in != MB_OPEN || named)
                continue;
            cr_expect(field->type != MB_V_TEXT && field->type != MB_V_REF
                          && field->type != MB_V_FILE && field->type != MB_V_GEOMETRY
                          && field->or_type != MB_V_TEXT,
                      "%s.%s", kind, field->name.at);
            for (size_t c = 0; c < field->column_count; c++)
                cr_expect(field->columns[c].type != MB_V_TEXT
                              && field->columns[c].type != MB_V_REF,
                          "%s.%s.%s", kind, field->name.at, field->columns[c].name.at);
        }
}

Test(kinds, are_handed_out_with_the_fields_of_every_kind)
{
    const mb_json *list = NULL, *last = NULL;
    size_t count = 0;

    cr_assert_eq(mb_kinds(arena, &list, &err), MB_OK, "%s", err.text);
    cr_assert_eq(list->count, mb_kinds_count());
    MB_JSON_EACH(kind, list)
    {
        if (!mb_json_text_is(mb_json_get(kind, "kind"), "collecting"))
            continue;
        count = mb_json_get(kind, "fields")->count;
        last = mb_json_get(kind, "fields")->last;
    }
    cr_assert_eq(count, mb_kind_find(MB_STR("collecting"))->count);
    cr_assert(mb_json_text_is(mb_json_get(last, "name"), "remarks"));
    cr_assert(mb_json_true(mb_json_get(last, "common")));
}

Test(kinds, each_prefix_begins_with_some_kind_that_is_there)
{
    const char *const *prefixes;
    size_t count;

    mb_kinds_prefixes(&prefixes, &count);
    cr_assert_eq(count, 8);
    for (size_t i = 0; i < count; i++) {
        struct mb_words kinds = mb_kinds_beginning(mb_str_of(prefixes[i]));

        cr_assert_gt(kinds.count, 0, "%s", prefixes[i]);
        for (size_t k = 0; k < kinds.count; k++) {
            const struct mb_kind *kind = mb_kind_find(mb_str_of(kinds.at[k]));

            cr_assert(kind, "%s", kinds.at[k]);
            cr_assert(mb_words_has(&kind->subjects, mb_str_of(prefixes[i])));
        }
    }
    cr_assert_eq(mb_kinds_beginning(MB_STR("key")).count, 0);
}

Test(kinds, join_says_how_many_were_left_out)
{
    static const char *const words[] = { "a", "b", "c" };

    cr_assert_str_eq(mb_kinds_join(arena, words, 3, 3), "a, b, c");
    cr_assert_str_eq(mb_kinds_join(arena, words, 3, 2), "a, b and 1 more");
    cr_assert_str_eq(mb_kinds_join(arena, words, 0, 2), "");
}

Test(kinds, can_be_stopped_and_started_again)
{
    mb_stop();
    cr_assert_null(mb_kind_find(MB_STR("collecting")));
    cr_assert_eq(mb_start(&err), MB_OK);
    cr_assert(mb_kind_find(MB_STR("collecting")));
}
