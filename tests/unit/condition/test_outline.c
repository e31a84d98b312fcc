#include "measuring.h"

#include "asset.h"
#include "drawnum.h"
#include "fileio.h"

#define BOX "[[0,0],[100,0],[100,100],[0,100]]"
#define PART "\"lineWidthPx\":1,\"specimens\":[{\"outline\":" BOX "}]"

/* ---- JSON ------------------------------------------------------------------------------------ */

static const struct mb_outlines *read_all(mb_arena *arena, const char *text,
                                          const struct mb_outlines_given *given)
{
    struct mb_error err = { .code = MB_OK };
    const struct mb_outlines *out = NULL;

    cr_assert_eq(mb_outlines_read(arena, "drawing", mb_str_of(text), given, &out, &err), MB_OK,
                 "%s", err.text);
    return out;
}

Test(outline, reads_everything_that_json_can_say)
{
    mb_arena *arena = mb_arena_new();
    const struct mb_outlines *all = read_all(
        arena,
        "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"reverse\",\"under the mount\"],"
        "\"individuals\":[{\"label\":\"A\",\"name\":\"Uintacrinus socialis\",\"association\":"
        "\"same layer, placed together\",\"setting\":\"reset in other rock\",\"shownBy\":\"cut "
        "rock\"},{\"label\":\"B\",\"association\":\"not known\"}],"
        "\"views\":[{\"name\":\"front\",\"photo\":{\"file\":\"front.jpg\",\"sha256\":"
        "\"E3B0C44298FC1C149AFBF4C8996FB92427AE41E4649B934CA495991B7852B855\",\"widthPx\":4000,"
        "\"heightPx\":3000},\"scaleBar\":{\"from\":[0,0],\"to\":[300,400],\"mm\":50},"
        "\"lineWidthPx\":3.5,\"specimens\":[{\"individual\":\"A\",\"element\":\"calyx\","
        "\"outline\":"
        "[[10,10],[500,10],[500,500]],\"holes\":[[[300,100],[400,100],[400,200]]],\"uncovered\":"
        "\"original\"},{\"individual\":\"B\",\"outline\":[[600,10],[900,10],[900,500]]}],"
        "\"regions\":[{\"name\":\"left arm\",\"substance\":\"filled\",\"surface\":[\"inpainted\","
        "\"coated\"],\"individual\":\"A\",\"element\":\"calyx\",\"outline\":[[20,20],[90,20],"
        "[90,60]]}],\"joins\":[{\"name\":\"j1\",\"through\":\"both\",\"line\":[[0,0],[9,9]],"
        "\"cause\":\"fell\",\"adhesive\":\"acrylic copolymer\",\"gapMm\":0.40}],"
        "\"points\":[{\"individual\":\"B\",\"layout\":\"random\",\"areaMm2\":\"1200\",\"at\":"
        "[[700,20,\"original\"],[701.5,30,\"filled\"]]}],\"estimates\":[{\"individual\":\"B\","
        "\"substance\":\"filled\",\"band\":\"5\xE2\x80\x93"
        "10 %\"},{\"individual\":\"B\",\"surface\":"
        "\"consolidated\",\"substance\":\"original\",\"extent\":\"in places\"}]}]}",
        NULL);
    const struct mb_view *view = all->views;

    cr_assert_eq(all->not_examined_count, 2);
    cr_assert_str_eq(all->not_examined[1], "under the mount");
    cr_assert_eq(all->individual_count, 2);
    cr_assert_str_eq(all->individuals->association, "same layer, placed together");
    cr_assert_str_eq(all->individuals->setting, "reset in other rock");
    cr_assert_str_eq(view->photo_sha256,
                     "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    cr_assert(view->width_px == 4000 && view->height_px == 3000 && view->line_px == 3.5);
    cr_assert(view->has_scale && view->bar_px == 500 && view->bar_mm == 50);
    cr_assert_str_eq(view->parts->element, "calyx");
    cr_assert_eq(view->parts->shape.at->count, 2);
    cr_assert_eq(view->parts->uncovered, MB_SUBSTANCE_ORIGINAL);
    cr_assert_eq(view->parts->next->uncovered, MB_SUBSTANCE_UNEXAMINED);
    cr_assert_eq(view->regions->surfaces, 1u << MB_SURFACE_INPAINTED | 1u << MB_SURFACE_COATED);
    cr_assert_str_eq(view->regions->where, "region 1 ('left arm')");
    cr_assert_str_eq(view->joins->gap_mm, "0.40", "the decimal is not as it was written");
    cr_assert_eq(view->counts->total, 2);
    cr_assert_eq(view->counts->hits[MB_SUBSTANCE_FILLED], 1);
    cr_assert_eq(view->estimates->band, MB_BAND_5_10);
    cr_assert_eq(view->estimates->next->extent, MB_EXTENT_IN_PLACES);
    mb_arena_free(arena);
}

Test(outline, refuses_json_in_one_sentence_with_the_place)
{
    mb_arena *arena = mb_arena_new();
    static const struct {
        const char *members, *said;
    } rows[] = {
        { PART ",\"colour\":1", "view 1 ('front'): the member 'colour' is none of: name, photo" },
        { PART ",\"region\":[]", "did you mean regions?" },
        { "\"specimens\":[{\"outline\":" BOX "}]", "the width of the drawn line is not stated" },
        { "\"lineWidthPx\":0,\"specimens\":[{\"outline\":" BOX "}]", "'lineWidthPx' is 0" },
        { "\"lineWidthPx\":-2,\"specimens\":[{\"outline\":" BOX "}]", "'lineWidthPx' is -2" },
        { "\"lineWidthPx\":\"wide\",\"specimens\":[{\"outline\":" BOX "}]", "is no number" },
        { PART ",\"regions\":[{\"name\":\"arm\",\"substance\":\"filed\",\"outline\":" BOX "}]",
          "view 1 ('front'): region 1 ('arm'): 'substance' 'filed' is none of: original, repaired, "
          "filled, restored, replica, foreign, unexamined; did you mean filled?" },
        { PART ",\"regions\":[{\"outline\":" BOX "}]", "neither a substance nor a surface" },
        { PART ",\"regions\":[{\"substance\":\"filled\"}]", "'outline' is missing" },
        { PART ",\"regions\":[{\"substance\":\"filled\",\"outline\":[[0,0],[1]]}]",
          "the outline, corner 2: a place is not written as [x, y] with two numbers" },
        { PART ",\"regions\":[{\"substance\":\"filled\",\"outline\":[[0,0],[1,\"2\"]]}]",
          "corner 2" },
        { PART ",\"regions\":[{\"substance\":\"filled\",\"outline\":[[0,0],[1,1e999],[2,2]]}]",
          "corner 2" },
        { PART ",\"regions\":[{\"substance\":\"filled\",\"outline\":[[0,0],[1,1e12],[2,2]]}]",
          "away from the photo's corner" },
        { PART ",\"regions\":[{\"surface\":[\"bare\",\"coated\"],\"outline\":" BOX "}]",
          "cannot be bare and something else" },
        { PART ",\"regions\":[{\"substance\":\"filled\",\"individual\":\"B\",\"outline\":" BOX "}]",
          "individual 'B', which has no outline in this view" },
        { "\"lineWidthPx\":1,\"regions\":[{\"substance\":\"filled\",\"outline\":" BOX "}]",
          "has no specimen outline to lie in" },
        { "\"lineWidthPx\":1,\"specimens\":[{\"uncovered\":\"filled\",\"outline\":" BOX "}]",
          "what is not covered by a region 'filled' is none of: original, repaired, unexamined" },
        { PART ",\"scaleBar\":{\"px\":100}", "'mm' is missing" },
        { PART ",\"scaleBar\":{\"px\":0,\"mm\":10}", "'px' is 0" },
        { PART ",\"scaleBar\":{\"from\":[0,0],\"mm\":10}", "one end without the other" },
        { PART ",\"scaleBar\":{\"from\":[0,0],\"to\":[0.5,0],\"mm\":10}",
          "no longer than the drawn line is wide" },
        { PART ",\"photo\":{\"sha256\":\"123\"}", "not 64 hexadecimal digits" },
        { PART ",\"joins\":[{\"line\":[[0,0],[1,1]]}]", "join 1: 'through' is missing" },
        { PART ",\"joins\":[{\"through\":\"fossil\",\"line\":[[3,3],[3,3]]}]",
          "view 'front': join 1: a line needs two different points" },
        { PART ",\"points\":[{\"counts\":{\"original\":0}}]", "point count 1 has no points" },
        { PART ",\"points\":[{\"counts\":{\"original\":-1}}]", "is no whole number" },
        { PART ",\"points\":[{\"counts\":{\"original\":2.5}}]", "is no whole number" },
        { PART ",\"points\":[{\"counts\":{\"original\":9000000000}}]", "counted points" },
        { PART ",\"points\":[{}]", "either 'counts' or 'at'" },
        { PART ",\"points\":[{\"at\":[[5,5,\"original\"],[5,5,\"filled\"]]}]",
          "points 1 and 2 are both at 5, 5" },
        { PART ",\"points\":[{\"at\":[[5,5,\"original\"],[500,5,\"filled\"]]}]",
          "point 2 at 500, 5 lies outside the outline" },
        { PART ",\"points\":[{\"counts\":{\"original\":1}},{\"counts\":{\"original\":1}}]",
          "are of the same surface" },
        { PART ",\"estimates\":[{\"substance\":\"filled\",\"band\":\"7 %\"}]",
          "the band '7' is none of: none seen, under 5, 5-10" },
        { PART ",\"estimates\":[{\"surface\":\"coated\",\"band\":\"under 5\"}]",
          "has an 'extent', no 'band'" },
        { "\"lineWidthPx\":1", "nothing is drawn, counted or estimated in it" },
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const char *sentence = refusal(arena, one_view(arena, rows[i].members), NULL);

        says(sentence, rows[i].said);
        says(sentence, "drawing: ");
    }
    mb_arena_free(arena);
}

Test(outline, refuses_files_that_are_no_outlines)
{
    mb_arena *arena = mb_arena_new();
    static const struct {
        const char *text, *said;
    } rows[] = {
        { "", "it is empty" },
        { "  \n", "it is empty" },
        { "\xff\xfe{", "not UTF-8" },
        { "{", "line 1" },
        { "{\"format\":\"markerbed-outlines/2\"}", "'format' is not" },
        { "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"x\"]}", "there is no view" },
        { "{\"format\":\"markerbed-outlines/1\",\"views\":[{\"name\":\"a\"," PART "}]}",
          "what was not examined" },
        { "{\"format\":\"markerbed-outlines/"
          "1\",\"notExamined\":[\"x\"],\"views\":[{\"name\":\"a\"," PART "},{\"name\":\"a\"," PART
          "}]}",
          "the view 'a' is there twice" },
        { "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"x\"],\"views\":[{" PART "}]}",
          "'name' is missing" },
        { "{\"format\":\"markerbed-outlines/"
          "1\",\"notExamined\":[\"\"],\"views\":[{\"name\":\"a\"," PART "}]}",
          "is empty" },
        { "{\"format\":\"markerbed-outlines/"
          "1\",\"notExamined\":[\"x\"],\"individuals\":[{\"label\":"
          "\"A\"},{\"label\":\"B\"}],\"views\":[{\"name\":\"a\",\"lineWidthPx\":1,\"specimens\":[{"
          "\"individual\":\"A\",\"outline\":" BOX "}]}]}",
          "how it belongs with the others" },
        { "{\"format\":\"markerbed-outlines/"
          "1\",\"notExamined\":[\"x\"],\"individuals\":[{\"label\":"
          "\"A\"}],\"views\":[{\"name\":\"a\",\"lineWidthPx\":1,\"specimens\":[{\"individual\":"
          "\"C\",\"outline\":" BOX "}]}]}",
          "individual 'C' is not in the list" },
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        says(refusal(arena, rows[i].text, NULL), rows[i].said);
    mb_arena_free(arena);
}

/* ---- tables ---------------------------------------------------------------------------------- */

Test(outline, reads_tables_as_spreadsheets_write_them)
{
    mb_arena *arena = mb_arena_new();
    static const char *const texts[] = {
        "substance,count\noriginal,88\nfilled,12\n",
        "\xEF\xBB\xBFsubstance;count\r\noriginal;88\r\nfilled;12\r\n",
        "Count\tSubstance\n# by hand\n\n80\toriginal\n8\tOriginal\n12\tfilled",
        "\"substance\",\"count\",\"view\"\n\"original\",\"88\",\"front\"\nfilled,12,",
    };

    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        const struct mb_count *count = read_all(arena, texts[i], GIVEN_ALL)->views->counts;

        cr_assert_eq(count->total, 100, "table %d has %d points", (int)i, (int)count->total);
        cr_assert_eq(count->hits[MB_SUBSTANCE_ORIGINAL], 88);
        cr_assert_null(count->next);
    }
    {
        const struct mb_count *count =
            read_all(arena, "x;y;substance\n1,5;2,25;original\n3;4;filled\n", GIVEN_ALL)
                ->views->counts;

        cr_assert_eq(count->at_count, 2);
        cr_assert(count->at[0].x == 1.5 && count->at[0].y == 2.25 && count->substance[1] == 2);
    }
    mb_arena_free(arena);
}

Test(outline, refuses_tables_in_one_sentence_with_the_line)
{
    mb_arena *arena = mb_arena_new();
    static const struct {
        const char *text, *said;
    } rows[] = {
        { "substance,number\noriginal,1\n", "line 1: the column 'number' is none of" },
        { "count\n1\n", "line 1: there is no column 'substance'" },
        { "substance\noriginal\n", "either a column 'count' or the columns 'x' and 'y'" },
        { "substance,x\noriginal,1\n", "either a column 'count'" },
        { "substance,count,count\noriginal,1,1\n", "is there twice" },
        { "substance,count\noriginal,1\nglue,2\n", "line 3: the substance 'glue' is none of" },
        { "substance,count\noriginal,1.5\n", "line 2: the count '1.5' is no whole number" },
        { "substance,count\noriginal,-1\n", "is no whole number" },
        { "substance,count\noriginal,1,2\n", "3 cells under 2 columns" },
        { "substance,count\n\"original,1\n", "quotation marks" },
        { "substance,x,y\noriginal,nan,1\n", "is not two numbers" },
        { "substance,x,y\noriginal,1,inf\n", "is not two numbers" },
        { "substance,count\noriginal,0\n", "has no points" },
        { "substance,count\n", "there is no view" },
        { "substance,count,areaMm2\noriginal,1,5\nfilled,2,6\n", "areaMm2 is '6' here and '5'" },
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        says(refusal(arena, rows[i].text, GIVEN_ALL), rows[i].said);
    says(refusal(arena, "substance,count\noriginal,1\n", NULL), "which view was counted");
    mb_arena_free(arena);
}

/* ---- the manual ------------------------------------------------------------------------------ */

/* What docs/measuring.md shows can be read and measured as it stands there. */
Test(outline, examples_of_the_manual_can_be_measured)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { .code = MB_OK };
    struct mb_str manual;
    const char *at;
    int found = 0;

    cr_assert_eq(mb_file_read(arena, "docs/measuring.md", 1 << 20, &manual, &err), MB_OK, "%s",
                 err.text);
    for (at = strstr(manual.at, "\n```"); at; at = strstr(at + 4, "\n```")) {
        const char *text = strchr(at + 1, '\n') + 1, *end = strstr(text, "\n```");

        if (at[4] != 'j' && at[4] != 'x' && strncmp(text, "substance", 9) != 0)
            continue;
        cr_assert_not_null(end);
        measure_text(arena, mb_arena_copy(arena, text, (size_t)(end - text)), GIVEN_ALL);
        found++;
    }
    cr_assert_eq(found, 3, "%d examples", found);
    mb_arena_free(arena);
}

/* ---- numbers --------------------------------------------------------------------------------- */

/* Against the C library's own reader, which rounds exactly. */
Test(outline, numbers_are_read_as_the_c_library_reads_them)
{
    static const char *const texts[] = { "0",
                                         "-0.5",
                                         "12.50",
                                         "1e3",
                                         "1E-3",
                                         ".5",
                                         "+7.25",
                                         "123456.789",
                                         "9007199254740991",
                                         "1e-22",
                                         "3.1415926535897",
                                         "100000000000000000000",
                                         "0.000123456789012" };

    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        double got = 99;

        cr_assert(mb_drawnum_read(mb_str_of(texts[i]), &got), "%s is refused", texts[i]);
        cr_assert_eq(got, strtod(texts[i], NULL), "%s is read as %.17g", texts[i], got);
    }
}

Test(outline, what_is_no_number_is_refused)
{
    static const char *const texts[] = { "",     "-",   ".",   "e5",      "1e",  "1 2",
                                         "0x10", "nan", "inf", "1e999",   "--1", "1..2",
                                         "1,5",  "NaN", "1_0", "\xd9\xa1" };
    double got = 99;

    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        cr_assert_not(mb_drawnum_read(mb_str_of(texts[i]), &got), "'%s' is read", texts[i]);
    cr_assert_eq(got, 99);
    /* The front of a text: "1em" is 1 and leaves the unit. */
    cr_assert_eq(mb_drawnum_at(MB_STR("1em"), &got), 1);
    cr_assert_eq(mb_drawnum_at(MB_STR("-.5.5"), &got), 3);
    cr_assert_eq(got, -0.5);
}

/* ---- words ----------------------------------------------------------------------------------- */

/* The words here and the vocabularies that entries are checked against are the same. */
static void agrees(const char *path, const char *const *words, size_t count)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { .code = MB_OK };
    const struct mb_asset *asset = mb_asset_find(path);
    const mb_json *root, *terms;
    size_t found = 0;

    cr_assert_not_null(asset, "%s is not built in", path);
    cr_assert_eq(mb_json_read(arena, (struct mb_str){ asset->data, asset->size }, MB_JSON_PLAIN,
                              &root, &err),
                 MB_OK, "%s", err.text);
    terms = mb_json_get(root, "terms");
    cr_assert_eq(terms->count, count, "%s has %d terms", path, (int)terms->count);
    MB_JSON_EACH(term, terms) {
        cr_assert(mb_json_text_is(mb_json_get(term, "id"), words[found]), "%s: term %d is not '%s'",
                  path, (int)found, words[found]);
        found++;
    }
    mb_arena_free(arena);
}

Test(outline, words_are_those_of_the_vocabularies)
{
    agrees("vocab/substance.json", mb_substance_words, MB_SUBSTANCES);
    agrees("vocab/surface.json", mb_surface_words, MB_SURFACES);
    agrees("vocab/setting.json", mb_setting_words, MB_SETTINGS);
    agrees("vocab/association.json", mb_association_words, MB_ASSOCIATIONS);
}

/* Choices and columns of the rows that mb_measure_json writes. */
Test(outline, rows_fit_the_kind_condition)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { .code = MB_OK };
    const struct mb_asset *asset = mb_asset_find("kinds/condition.json");
    const char *text = one_view(
        arena, "\"lineWidthPx\":1,\"scaleBar\":{\"px\":50,\"mm\":5},\"specimens\":[{\"element\":"
               "\"skull\",\"outline\":" BOX "}],\"regions\":[{\"substance\":\"filled\",\"surface\":"
               "\"coated\",\"outline\":[[5,5],[9,5],[9,9]]}],\"joins\":[{\"through\":\"both\","
               "\"cause\":\"fell\",\"adhesive\":\"animal glue\",\"gapMm\":\"0.2\",\"line\":[[0,0],"
               "[9,9]]}],\"points\":[{\"counts\":{\"original\":3}}],\"estimates\":[{\"substance\":"
               "\"filled\",\"band\":\"over 50\"},{\"surface\":\"coated\",\"extent\":\"throughout\""
               "}]");
    const mb_json *kind, *json = mb_measure_json(arena, measure_text(arena, text, NULL));
    static const char *const lists[] = { "shares", "surfaces", "joins" };

    cr_assert_not_null(asset);
    cr_assert_eq(mb_json_read(arena, (struct mb_str){ asset->data, asset->size }, MB_JSON_PLAIN,
                              &kind, &err),
                 MB_OK, "%s", err.text);
    for (size_t i = 0; i < 3; i++) {
        const mb_json *field = NULL;

        MB_JSON_EACH(one, mb_json_get(kind, "fields")) {
            if (mb_json_text_is(mb_json_get(one, "name"), lists[i]))
                field = one;
        }
        cr_assert_not_null(field, "the kind has no field %s", lists[i]);
        cr_assert_gt(mb_json_get(json, lists[i])->count, 0);
        MB_JSON_EACH(row, mb_json_get(json, lists[i])) {
            MB_JSON_EACH(cell, row) {
                const mb_json *column = NULL;

                MB_JSON_EACH(one, mb_json_get(field, "columns")) {
                    if (mb_str_equal(mb_json_str(mb_json_get(one, "name")), cell->name))
                        column = one;
                }
                cr_assert_not_null(column, "%s has no column %.*s", lists[i],
                                   MB_STR_ARG(cell->name));
                cr_assert(mb_json_is(cell, MB_JSON_STRING), "%.*s is no text",
                          MB_STR_ARG(cell->name));
            }
            MB_JSON_EACH(one, mb_json_get(field, "columns")) {
                cr_assert(!mb_json_text_is(mb_json_get(one, "required"), "yes")
                              || mb_json_get_str(row, mb_json_str(mb_json_get(one, "name"))),
                          "a row of %s lacks a required column", lists[i]);
            }
        }
    }
    mb_arena_free(arena);
}
