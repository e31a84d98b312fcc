/*
 * Outlines written down for a record: whoever measures what was written gets what the drawing gave,
 * and nothing is in it that measuring does not read.
 */
#include "measuring.h"

static struct mb_str written(mb_arena *arena, const char *text,
                             const struct mb_outlines_given *given)
{
    struct mb_error err = { .code = MB_OK };
    const struct mb_outlines *all;
    struct mb_str out;

    cr_assert_eq(mb_outlines_read(arena, "drawing", mb_str_of(text), given, &all, &err), MB_OK,
                 "%s", err.text);
    cr_assert_eq(mb_outlines_write(arena, all, &out, &err), MB_OK, "%s", err.text);
    return out;
}

/* The same numbers from the drawing and from what was written of it; the same bytes again. */
static struct mb_str goes_round(mb_arena *arena, const char *text,
                                const struct mb_outlines_given *given)
{
    static const char *const members[] = { "shares", "surfaces",    "joins", "individuals",
                                           "totals", "notExamined", "frame" };
    struct mb_str once = written(arena, text, given);
    const char *copy = mb_arena_copy(arena, once.at, once.len);
    struct mb_str twice = written(arena, copy, NULL);
    const mb_json *drawn = mb_measure_json(arena, measure_text(arena, text, given));
    const mb_json *read = mb_measure_json(arena, measure_text(arena, copy, NULL));

    cr_assert(mb_str_equal(once, twice), "%s\n%.*s", copy, MB_STR_ARG(twice));
    for (size_t i = 0; i < sizeof members / sizeof *members; i++) {
        struct mb_str a = mb_json_write(arena, mb_json_get(drawn, members[i]));
        struct mb_str b = mb_json_write(arena, mb_json_get(read, members[i]));

        cr_assert(mb_str_equal(a, b), "%s: %.*s is not %.*s", members[i], MB_STR_ARG(b),
                  MB_STR_ARG(a));
    }
    return once;
}

static bool has(struct mb_str text, const char *part)
{
    return memmem(text.at, text.len, part, strlen(part)) != NULL;
}

Test(outline_write, everything_that_json_can_say)
{
    mb_arena *arena = mb_arena_new();
    struct mb_str out = goes_round(
        arena,
        "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"reverse\",\"the \\\"mount\\\"\"],"
        "\"individuals\":[{\"label\":\"A\",\"name\":\"Uintacrinus socialis\",\"association\":"
        "\"same layer, placed together\",\"setting\":\"reset in other rock\",\"shownBy\":\"cut "
        "rock\"},{\"label\":\"B\",\"association\":\"not known\"}],"
        "\"views\":[{\"name\":\"front\",\"photo\":{\"file\":\"/home/wren/Gannet Flat/front.jpg\","
        "\"sha256\":"
        "\"E3B0C44298FC1C149AFBF4C8996FB92427AE41E4649B934CA495991B7852B855\",\"widthPx\":4000,"
        "\"heightPx\":3000},\"scaleBar\":{\"from\":[0,0],\"to\":[300,400.25],\"mm\":50},"
        "\"lineWidthPx\":3.5,\"specimens\":[{\"individual\":\"A\",\"element\":\"calyx\","
        "\"outline\":"
        "[[10,10],[500,10],[500,500]],\"holes\":[[[300,100],[400,100],[400,200]]],\"uncovered\":"
        "\"original\"},{\"individual\":\"B\",\"outline\":[[600,10],[900,10],[900,500]]}],"
        "\"regions\":[{\"name\":\"under Gannet Flat\",\"substance\":\"filled\",\"surface\":["
        "\"inpainted\",\"coated\"],\"individual\":\"A\",\"element\":\"calyx\",\"outline\":["
        "[20,20],[90,20],[90,60]]}],\"joins\":[{\"name\":\"j1\",\"through\":\"both\",\"line\":"
        "[[0,0],[9,9]],\"cause\":\"fell\",\"adhesive\":\"acrylic copolymer\",\"gapMm\":0.40}],"
        "\"points\":[{\"individual\":\"B\",\"layout\":\"random\",\"areaMm2\":\"1200\",\"at\":"
        "[[700,20,\"original\"],[701.5,30,\"filled\"]]}],\"estimates\":[{\"individual\":\"B\","
        "\"substance\":\"filled\",\"band\":\"5-10\"},{\"individual\":\"B\",\"surface\":"
        "\"consolidated\",\"substance\":\"original\",\"extent\":\"in places\"}]},"
        "{\"name\":\"back\",\"lineWidthPx\":2,\"scaleBar\":{\"px\":100,\"mm\":12.5},"
        "\"specimens\":[{\"individual\":\"A\",\"outline\":[[10,10],[500,10],[500,500]]}],"
        "\"points\":[{\"individual\":\"B\",\"areaMm2\":\"800\",\"counts\":{\"original\":40,"
        "\"restored\":2}}]}]}",
        NULL);

    cr_assert(has(out, "\"front.jpg\""));
    cr_assert(!has(out, "Gannet"), "a path or a region's name went along");
    mb_arena_free(arena);
}

/* Two rings of one path are one region, with a hole in the first; the count of regions, n, must
 * stay. Curves become chords. Comments and the editor's own notes stay behind. */
Test(outline_write, a_drawing)
{
    mb_arena *arena = mb_arena_new();
    struct mb_str out = goes_round(
        arena,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" data-photo=\"../bracken/front.jpg\">"
        "<!-- Bracken Quarry, east face --><title>Bracken Quarry</title>"
        "<line data-kind=\"scale\" data-mm=\"50\" x1=\"200\" y1=\"900\" x2=\"600.3\" y2=\"901\"/>"
        "<ellipse data-kind=\"specimen\" data-uncovered=\"original\" cx=\"500\" cy=\"400\""
        " rx=\"400\" ry=\"300.7\"/>"
        "<g data-substance=\"filled\" transform=\"rotate(3)\">"
        "<path data-name=\"Bracken\" d=\"M300 300h200v200h-200zM350 350v100h100v-100z"
        "M600 300h80v80h-80z\"/>"
        "<circle data-surface=\"inpainted\" cx=\"500\" cy=\"250\" r=\"33.3\"/></g>"
        "<path data-kind=\"join\" data-through=\"fossil\" d=\"M310 400 C400 300 500 500 880 440\"/>"
        "</svg>",
        GIVEN_ALL);

    cr_assert(has(out, "\"pieces\":[{"));
    cr_assert(has(out, "\"front\""), "the view that was told from outside is missing");
    cr_assert(!has(out, "racken"), "what measuring does not read went along");
    mb_arena_free(arena);
}

Test(outline_write, counted_points)
{
    mb_arena *arena = mb_arena_new();

    struct mb_outlines_given given = *GIVEN_ALL;

    given.area_mm2 = "1250.50";
    cr_assert(has(goes_round(arena, "substance,count\noriginal,88\nfilled,12\n", &given),
                  "\"areaMm2\":\"1250.50\""));
    goes_round(arena, "substance;x;y;layout\noriginal;10,5;20;random\nfilled;11;21;random\n",
               GIVEN_ALL);
    mb_arena_free(arena);
}

Test(outline_write, pieces_that_are_none_are_refused)
{
    mb_arena *arena = mb_arena_new();
    static const struct {
        const char *region, *says;
    } cases[] = {
        { "\"pieces\":[]", "'pieces' is no list of outlines" },
        { "\"pieces\":[{\"outline\":[[0,0],[9,0],[9,9]]}],\"outline\":[[0,0],[9,0],[9,9]]",
          "not both" },
        { "\"pieces\":[{\"outline\":[[0,0],[9,0],[9,9]]},{\"holes\":[]}]",
          "piece 2: 'outline' is missing" },
        { "\"pieces\":[{\"outline\":[[0,0],[9,0],[9,9]],\"substance\":\"filled\"}]", "piece 1" },
    };

    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const char *text = one_view(
            arena, mb_arena_printf(arena,
                                   "\"lineWidthPx\":1,\"specimens\":[{\"outline\":[[0,0],[99,0],"
                                   "[99,99],[0,99]]}],\"regions\":[{\"substance\":\"filled\",%s}]",
                                   cases[i].region));

        says(refusal(arena, text, NULL), cases[i].says);
    }
    mb_arena_free(arena);
}
