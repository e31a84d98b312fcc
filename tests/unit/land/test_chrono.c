/*
 * Ages: International Chronostratigraphic Chart 2024-12 (ICS, CC BY 4.0), read off the printed
 * chart's numbers and not through our table.
 */
#include <criterion/criterion.h>
#include <string.h>

#include "chrono.h"
#include "text.h"

static mb_arena *arena;
static mb_chrono *chart;

static void setup(void)
{
    struct mb_error err = { 0 };
    arena = mb_arena_new();
    cr_assert_eq(mb_chrono_open(arena, &chart, &err), MB_OK, "%s", err.text);
}

static void teardown(void)
{
    mb_arena_free(arena);
}

TestSuite(chrono, .init = setup, .fini = teardown);

static const struct mb_chrono_unit *find(const char *name)
{
    struct mb_error err = { 0 };
    const struct mb_chrono_unit *unit = NULL;
    cr_assert_eq(mb_chrono_find(arena, chart, mb_str_of(name), &unit, NULL, &err), MB_OK, "%s",
                 err.text);
    return unit;
}

Test(chrono, ages_of_the_chart)
{
    static const struct {
        const char *name, *base, *top, *parent;
    } cases[] = {
        { "Campanian", "83.6 \u00b1 0.2 Ma", "72.2 \u00b1 0.2 Ma", "Upper Cretaceous" },
        { "Maastrichtian", "72.2 \u00b1 0.2 Ma", "66.00 Ma", "Upper Cretaceous" },
        { "Santonian", "85.7 \u00b1 0.2 Ma", "83.6 \u00b1 0.2 Ma", "Upper Cretaceous" },
        { "Cretaceous", "143.1 \u00b1 0.6 Ma", "66.00 Ma", "Mesozoic" },
        { "Norian", "~227.3 Ma", "~205.7 Ma", "Upper Triassic" },
        { "Ypresian", "56.00 Ma", "48.07 Ma", "Eocene" },
        { "Hirnantian", "445.2 \u00b1 0.9 Ma", "443.1 \u00b1 1.0 Ma", "Upper Ordovician" },
        { "Ludlow", "426.7 \u00b1 1.5 Ma", "422.7 \u00b1 1.6 Ma", "Silurian" },
        { "Paleozoic", "538.8 \u00b1 0.6 Ma", "251.902 \u00b1 0.024 Ma", "Phanerozoic" },
    };
    cr_assert_str_eq(mb_chrono_version(chart), "2024-12");
    cr_assert_eq(mb_chrono_count(chart), 178);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const struct mb_chrono_unit *unit = find(cases[i].name);
        cr_assert_str_eq(mb_chrono_age_text(arena, &unit->base), cases[i].base);
        cr_assert_str_eq(mb_chrono_age_text(arena, &unit->top), cases[i].top);
        cr_assert_str_eq(unit->parent->rock_name, cases[i].parent);
    }
}

/* What the chart promises of itself: below a unit's top nothing is missing and nothing double. */
Test(chrono, units_of_one_parent_tile_it)
{
    for (size_t i = 0; i < mb_chrono_count(chart); i++) {
        const struct mb_chrono_unit *parent = mb_chrono_at(chart, i);
        int64_t covered = 0;
        size_t children = 0;
        for (size_t j = 0; j < mb_chrono_count(chart); j++) {
            const struct mb_chrono_unit *child = mb_chrono_at(chart, j);
            if (child->parent != parent)
                continue;
            children++;
            covered += child->base.ma_nano - child->top.ma_nano;
        }
        if (children)
            cr_assert_eq(covered, parent->base.ma_nano - parent->top.ma_nano, "%s", parent->id);
    }
    cr_assert_null(mb_chrono_at(chart, mb_chrono_count(chart)));
}

Test(chrono, names_as_people_write_them)
{
    static const struct {
        const char *name, *id, *part;
    } cases[] = {
        { "Campanian", "Campanian", NULL },
        { " campanian ", "Campanian", NULL },
        { "Campanian Stage", "Campanian", NULL },
        { "Campanian age", "Campanian", NULL },
        { "upper Campanian", "Campanian", "upper" },
        { "Late Campanian", "Campanian", "Late" },
        { "lowermost Campanian", "Campanian", "lowermost" },
        { "Upper Cretaceous", "UpperCretaceous", NULL },
        { "Late Cretaceous", "UpperCretaceous", NULL },
        { "upper-cretaceous series", "UpperCretaceous", NULL },
        { "Cretaceous Period", "Cretaceous", NULL },
        { "mid-Cretaceous", "Cretaceous", "mid" },
        { "Early Eocene", "Eocene", "Early" },
        { "Palaeogene", "Paleogene", NULL },
        { "Palaeocene", "Paleocene", NULL },
        { "Palaeozoic Era", "Paleozoic", NULL },
        { "Pennsylvanian", "Pennsylvanian", NULL },
        { "Stage 10", "CambrianStage10", NULL },
        { "Cambrian Stage 10", "CambrianStage10", NULL },
        { "Pridoli", "Pridoli", NULL },
        { "Holocene", "Holocene", NULL },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        const struct mb_chrono_unit *unit;
        const char *part;
        cr_assert_eq(mb_chrono_find(arena, chart, mb_str_of(cases[i].name), &unit, &part, &err),
                     MB_OK, "%s", err.text);
        cr_assert_str_eq(unit->id, cases[i].id, "%s: %s", cases[i].name, unit->id);
        if (cases[i].part)
            cr_assert(part && strcmp(part, cases[i].part) == 0, "%s", cases[i].name);
        else
            cr_assert_null(part, "%s", cases[i].name);
    }
    /* Every name of the chart finds its own unit. */
    for (size_t i = 0; i < mb_chrono_count(chart); i++) {
        const struct mb_chrono_unit *unit = mb_chrono_at(chart, i);
        cr_assert_eq(find(unit->rock_name), unit);
        cr_assert_eq(find(unit->time_name), unit);
    }
}

Test(chrono, names_that_are_none)
{
    static const struct {
        const char *name, *words;
    } cases[] = {
        { "Campanien", "did you mean Campanian?" },
        { "Maestrichtian", "did you mean Maastrichtian?" },
        { "Cretacious", "did you mean Cretaceous?" },
        { "Tertiary", "use Paleogene or Neogene" },
        { "Senonian", "use Coniacian to Maastrichtian" },
        { "Lancian", "A regional name is kept with the zone" },
        { "Judithian", "a regional name" },
        { "Stage", "the chart (2024-12) has no" },
        { "", "has no" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        const struct mb_chrono_unit *unit;
        cr_assert_eq(mb_chrono_find(arena, chart, mb_str_of(cases[i].name), &unit, NULL, &err),
                     MB_REFUSED, "%s", cases[i].name);
        cr_assert(strstr(err.text, cases[i].words), "%s: %s", cases[i].name, err.text);
    }
}

Test(chrono, the_units_above)
{
    const struct mb_chrono_unit *campanian = find("Campanian");
    cr_assert_str_eq(mb_chrono_above(campanian, MB_CHRONO_AGE)->id, "Campanian");
    cr_assert_str_eq(mb_chrono_above(campanian, MB_CHRONO_EPOCH)->time_name, "Late Cretaceous");
    cr_assert_str_eq(mb_chrono_above(campanian, MB_CHRONO_PERIOD)->id, "Cretaceous");
    cr_assert_str_eq(mb_chrono_above(campanian, MB_CHRONO_ERA)->id, "Mesozoic");
    cr_assert_str_eq(mb_chrono_above(campanian, MB_CHRONO_EON)->id, "Phanerozoic");
    cr_assert_null(mb_chrono_above(campanian, MB_CHRONO_SUPEREON));
    cr_assert_null(mb_chrono_above(campanian, MB_CHRONO_SUBPERIOD));
    cr_assert_null(mb_chrono_above(find("Cretaceous"), MB_CHRONO_AGE));
    cr_assert_str_eq(mb_chrono_above(find("Moscovian"), MB_CHRONO_SUBPERIOD)->id, "Pennsylvanian");
    cr_assert_str_eq(mb_chrono_above(find("Pridoli"), MB_CHRONO_AGE)->id, "Pridoli");
    cr_assert_str_eq(mb_chrono_above(find("Pridoli"), MB_CHRONO_EPOCH)->id, "Pridoli");
}

#define MA(x) ((int64_t)((x)*1000) * 1000000)

Test(chrono, an_age_to_its_unit)
{
    static const struct {
        int64_t ma_nano;
        const char *id;
    } cases[] = {
        { MA(80), "Campanian" },     { MA(72.2), "Maastrichtian" },   { MA(83.6), "Campanian" },
        { MA(66), "Danian" },        { MA(66.001), "Maastrichtian" }, { MA(0), "Meghalayan" },
        { MA(420), "Pridoli" },      { MA(2600), "Neoarchean" },      { MA(4300), "Hadean" },
        { MA(150), "Kimmeridgian" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const struct mb_chrono_unit *unit = mb_chrono_when(chart, cases[i].ma_nano);
        cr_assert(unit && strcmp(unit->id, cases[i].id) == 0, "%s: %s", cases[i].id,
                  unit ? unit->id : "none");
    }
    cr_assert_null(mb_chrono_when(chart, MA(5000)));
}

Test(chrono, spans)
{
    static const struct {
        const char *oldest, *youngest, *base, *top, *old_unit, *young_unit;
    } cases[] = {
        { "Campanian", "", "83.6 \u00b1 0.2 Ma", "72.2 \u00b1 0.2 Ma", "Campanian", "Campanian" },
        { "Santonian", "Campanian", "85.7 \u00b1 0.2 Ma", "72.2 \u00b1 0.2 Ma", "Santonian",
          "Campanian" },
        { "Campanian", "Upper Cretaceous", "83.6 \u00b1 0.2 Ma", "66.00 Ma", "Campanian",
          "UpperCretaceous" },
        { "75.5", "", "75.5 Ma", "75.5 Ma", "Campanian", "Campanian" },
        { "72.4 \u00b1 0.3 Ma", "", "72.4 \u00b1 0.3 Ma", "72.4 \u00b1 0.3 Ma", "Campanian",
          "Maastrichtian" },
        { "84 Ma", "70.10 Ma", "84 Ma", "70.10 Ma", "Santonian", "Maastrichtian" },
        { "Campanian", "75 +/- 1", "83.6 \u00b1 0.2 Ma", "75 \u00b1 1 Ma", "Campanian",
          "Campanian" },
        { "12 ka", "4.25ka", "0.012 Ma", "0.00425 Ma", "UpperPleistocene", "Northgrippian" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        struct mb_chrono_span out;
        cr_assert_eq(mb_chrono_span(arena, chart, mb_str_of(cases[i].oldest),
                                    mb_str_of(cases[i].youngest), &out, &err),
                     MB_OK, "%s", err.text);
        cr_assert_str_eq(mb_chrono_age_text(arena, &out.oldest.age), cases[i].base);
        cr_assert_str_eq(mb_chrono_age_text(arena, &out.youngest.age), cases[i].top);
        cr_assert_str_eq(out.oldest.unit->id, cases[i].old_unit);
        cr_assert_str_eq(out.youngest.unit->id, cases[i].young_unit);
        cr_assert_str_eq(out.version, "2024-12");
    }
}

Test(chrono, spans_that_cannot_be)
{
    static const struct {
        const char *oldest, *youngest, *words;
    } cases[] = {
        { "Campanian", "Santonian", "wrong way" },
        { "Maastrichtian", "Campanian", "wrong way" },
        { "66", "72", "wrong way" },
        { "Campanian", "90", "wrong way" },
        { "72-66", "", "cannot be read" },
        { "75,5", "", "cannot be read" },
        { "75 Gyr", "", "cannot be read" },
        { "5000", "", "older than the earth" },
        { "Campanien", "", "did you mean" },
        { "", "", "has no" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        struct mb_chrono_span out = { .version = "kept" };
        cr_assert_eq(mb_chrono_span(arena, chart, mb_str_of(cases[i].oldest),
                                    mb_str_of(cases[i].youngest), &out, &err),
                     MB_REFUSED, "%s", cases[i].oldest);
        cr_assert(strstr(err.text, cases[i].words), "%s", err.text);
        cr_assert_str_eq(out.version, "kept");
    }
}

#define HEAD                                                                            \
    "id\trank\tgeochron_rank\tname_strat\tname_time\tparent_id\tbase_ma\tbase_unc_ma\t" \
    "base_approx\ttop_ma\ttop_unc_ma\ttop_approx\tgssp\tgssa\tcolour_hex\tcolour_rgb\t" \
    "ccgm_code\tnote\n"
#define ROW(id, rank, parent, base, top) \
    id "\tx\t" rank "\t" id "\t" id "\t" parent "\t" base "\t\t0\t" top "\t\t0\t1\t0\t#\t\t\t\n"

Test(chrono, a_damaged_chart_is_refused_with_its_line)
{
    static const struct {
        const char *table, *words;
    } cases[] = {
        { "", "no units" },
        { "id\tname\n", "line 1 of the chart is not its head" },
        { HEAD "A\tb\n", "line 2 of the chart has 2 columns" },
        { HEAD ROW("A", "aeon", "", "2", "1"), "rank \"aeon\"" },
        { HEAD ROW("A", "era", "", "x", "1"), "base \"x\"" },
        { HEAD ROW("A", "era", "", "1", "2"), "top \"2\"" },
        { HEAD ROW("A", "era", "B", "2", "1"), "no unit B" },
        { HEAD ROW("A", "era", "", "2", "1") ROW("B", "period", "A", "3", "1"), "inside A" },
        { HEAD ROW("A", "era", "", "2", "1") ROW("B", "eon", "A", "2", "1"), "inside A" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        mb_chrono *out = NULL;
        cr_assert_eq(mb_chrono_read(arena, mb_str_of(cases[i].table), &out, &err), MB_REFUSED,
                     "case %zu", i);
        cr_assert(strstr(err.text, cases[i].words), "case %zu: %s", i, err.text);
        cr_assert_null(out);
    }
}
