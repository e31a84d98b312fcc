/*
 * Cautions of methods and materials. What must be said is checked against the vocabularies: no term
 * goes without. A few are named here by hand: silica of a scribe (29 CFR 1910.1053 is the rule that
 * its limit comes from), hydrofluoric acid, cyanoacrylate.
 */
#include <criterion/criterion.h>
#include <string.h>

#include "cautions.h"
#include "text.h"
#include "workbench.h"

static struct workbench b;

static void set_up(void)
{
    workbench_house(&b);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(cautions, .init = set_up, .fini = tear_down);

static const struct mb_kind_field *column(const char *name)
{
    const struct mb_kind_field *steps =
        mb_kind_field(mb_kind_find(MB_STR("preparation")), MB_STR("steps"));

    for (size_t i = 0; i < steps->column_count; i++)
        if (mb_str_is(steps->columns[i].name, name))
            return &steps->columns[i];
    cr_assert_fail("no column %s", name);
    return NULL;
}

static const mb_json *steps(struct mb_cautions *c, const char *json)
{
    const mb_json *value;

    cr_assert_eq(mb_json_read(b.arena, mb_str_of(json), MB_JSON_STRICT, &value, NULL), MB_OK);
    mb_cautions_value(c, mb_kind_field(mb_kind_find(MB_STR("preparation")), MB_STR("steps")),
                      value);
    return c->list;
}

static const mb_json *caution(const mb_json *list, const char *hazard)
{
    MB_JSON_EACH(one, list)
    {
        if (mb_json_text_is(mb_json_get(one, "hazard"), hazard))
            return one;
    }
    return NULL;
}

static void each_term_of(const char *name)
{
    const struct mb_choices *choices = column(name)->choices;

    cr_assert_gt(choices->ids.count, 30, "%s", name);
    for (size_t i = 0; i < choices->ids.count; i++) {
        struct mb_cautions c = mb_cautions_new(b.arena);
        const mb_json *list = steps(&c, mb_arena_printf(b.arena, "[{\"%s\":\"%s\"}]", name,
                                                        choices->ids.at[i]));

        cr_expect_gt(list->count, 0, "%s has no caution", choices->ids.at[i]);
        cr_expect_null(caution(list, "own word"), "%s is on no list", choices->ids.at[i]);
        MB_JSON_EACH(one, list)
        {
            cr_expect_gt(mb_json_str(mb_json_get(one, "guard")).len, 10, "%s",
                         choices->ids.at[i]);
            cr_expect_gt(mb_json_str(mb_json_get(one, "source")).len, 5, "%s",
                         choices->ids.at[i]);
            cr_expect_gt(mb_json_get(one, "for")->count, 0);
        }
    }
}

Test(cautions, every_method_has_its_own)
{
    each_term_of("method");
}

Test(cautions, every_material_has_its_own)
{
    each_term_of("material");
}

Test(cautions, what_harms_most_is_said)
{
    static const struct {
        const char *step, *hazard, *says;
    } cases[] = {
        { "\"method\":\"airscribe\"", "silica dust", "1910.1053" },
        { "\"method\":\"airscribe\"", "hand-arm vibration", "numb" },
        { "\"method\":\"hf\"", "hydrogen fluoride", "calcium gluconate" },
        { "\"method\":\"peroxide\"", "oxidiser", "goggles" },
        { "\"material\":\"cyanoacrylate\"", "ethyl cyanoacrylate", "cotton" },
        { "\"material\":\"polyester resin\"", "styrene", "fume hood" },
        { "\"medium\":\"starch powder\"", "explosive dust", "earth the cabinet" },
        { "\"method\":\"join\",\"solvent\":\"Toluene, a little\"", "toluene", "1910.1000" },
    };

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_cautions c = mb_cautions_new(b.arena);
        const mb_json *list = steps(&c, mb_arena_printf(b.arena, "[{%s}]", cases[i].step));
        const mb_json *one = caution(list, cases[i].hazard);

        cr_assert_not_null(one, "%s: no %s", cases[i].step, cases[i].hazard);
        cr_assert(strstr(mb_caution_words(b.arena, one), cases[i].says), "%s",
                  mb_caution_words(b.arena, one));
    }
}

/* Once, for all that it is a caution of; a named solvent leaves out the others of a resin. */
Test(cautions, a_hazard_is_told_once)
{
    struct mb_cautions c = mb_cautions_new(b.arena);
    const mb_json *list = steps(&c, "[{\"method\":\"airscribe\"},{\"method\":\"rotary\"},"
                                    "{\"method\":\"consolidate\",\"material\":"
                                    "\"acrylic copolymer resin\",\"solvent\":\"acetone\"}]");
    size_t silica = 0;

    MB_JSON_EACH(one, list)
    {
        silica += mb_json_text_is(mb_json_get(one, "hazard"), "silica dust");
    }
    cr_assert_eq(silica, 1);
    cr_assert_eq(mb_json_get(caution(list, "silica dust"), "for")->count, 2);
    cr_assert_not_null(caution(list, "acetone"));
    cr_assert_null(caution(list, "toluene"));
}

/* Mohs: alumina 9, sodium bicarbonate 2.5, apatite 5 (the scale itself: apatite is its fifth). */
Test(cautions, a_powder_harder_than_the_fossil)
{
    static const struct {
        const char *step;
        bool harder;
    } cases[] = {
        { "\"medium\":\"alumina\"", true },
        { "\"medium\":\"baking soda\"", false },
        { "\"medium\":\"baking soda\",\"fossilMohs\":\"2\"", true },
        { "\"medium\":\"dolomite powder\",\"fossilMohs\":\"3\"", true },
        { "\"medium\":\"dolomite powder\",\"fossilMohs\":\"5\"", false },
        { "\"medium\":\"ground walnut\",\"mohs\":\"6\"", true },
        { "\"medium\":\"ground walnut\"", false },
    };

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_cautions c = mb_cautions_new(b.arena);
        const mb_json *list =
            steps(&c, mb_arena_printf(b.arena, "[{\"method\":\"airabrasive\",%s}]",
                                      cases[i].step));

        cr_expect_eq(caution(list, "harder than the fossil") != NULL, cases[i].harder, "%s",
                     cases[i].step);
    }
}

static bool told(const char *part)
{
    MB_JSON_EACH(one, mb_json_get(b.out, "cautionWords"))
    {
        if (strstr(mb_json_cstr(b.arena, one), part))
            return true;
    }
    return false;
}

/* Through the door: what was chosen, what lies in the piece itself, own words, and the deferral. */
Test(cautions, are_told_with_the_entry)
{
    workbench_must(&b, "collecting", "specimen/26-0115", "objectForm=slab", "objectQuantity=1",
                   "fieldDay=field-day/D001", "verbatimIdentification=bone",
                   "recordNumber=none", "quantityHow=counted",
                   "materialClass=vertebrate", "fieldTreatment=none", "horizon=horizon/H-A",
                   "inPlace=in place", NULL);
    cr_assert_null(mb_json_get(b.out, "cautions"), "a find has none");
    workbench_must(&b, "preparation", "specimen/26-0115",
                   "steps=method:steaming; material:acrylic copolymer resin", "lostInWork=none",
                   NULL);
    cr_assert(told("steaming: not on our list"));
    cr_assert(told("acrylic copolymer resin: acetone"));
    cr_assert(told("local codes"));
    cr_assert(!told("uranium"));
    workbench_must(&b, "preparation", "specimen/26-0115", "lostInWork=none", NULL);
    cr_assert(told("steaming"), "what came from the last sitting was not cautioned of");
}
