/* What drawings must not be able to do: crash, hang, fill the memory, or pass for measured. */
#include "measuring.h"

#include <stdio.h>
#include <sys/resource.h>
#include <time.h>

#define BOX "[[0,0],[100,0],[100,100],[0,100]]"

static const char *drawn(mb_arena *arena, const char *outline, const char *regions)
{
    return one_view(arena, mb_arena_printf(arena,
                                           "\"lineWidthPx\":1,\"specimens\":[{\"outline\":%s}],"
                                           "\"regions\":[%s]",
                                           outline, regions));
}

Test(hostile, unsound_outlines_are_refused_with_the_place)
{
    mb_arena *arena = mb_arena_new();
    static const struct {
        const char *outline, *region, *said;
    } rows[] = {
        /* a bow tie: crosses in the middle */
        { BOX,
          "{\"name\":\"bow\",\"substance\":\"filled\",\"outline\":[[0,0],[80,80],[80,0],[0,80]]}",
          "drawing: view 'front': region 1 ('bow'): the outline crosses itself at 40, 40" },
        { "[[0,0],[80,80],[80,0],[0,80]]", "",
          "drawing: view 'front': specimen 1 ('specimen'): the outline crosses itself at 40, 40" },
        { "[]", "", "specimen 1 ('specimen'): the outline" },
        { "[[5,5]]", "", "the outline" },
        { "[[5,5],[5,5],[5,5],[5,5]]", "", "the outline" },
        { "[[0,0],[50,50],[100,100]]", "", "the outline" },
        { "[[0,0],[100,0],[100,0.001],[0,0.001]]", "", "covers the whole outline" },
        { BOX, "{\"substance\":\"filled\",\"outline\":[[0,0],[9,9]]}", "region 1 ('filled')" },
        { BOX, "{\"substance\":\"filled\",\"outline\":[[500,500],[600,500],[600,600]]}",
          "lies wholly outside the specimen's outline, near 500, 500" },
        { BOX,
          "{\"substance\":\"filled\",\"outline\":[[1,1],[50,1],[50,50],[1,50]],\"holes\":[[[60,60],"
          "[70,60],[70,70]]]}",
          "hole" },
        { BOX,
          "{\"substance\":\"filled\",\"outline\":[[1,1],[50,1],[50,50],[1,50]],\"holes\":[[[10,10],"
          "[60,10],[20,40]]]}",
          "the outline" },
        { "[[0,0],[1000001,0],[0,5]]", "", "away from the photo's corner" },
        { "[[0,0],[-1e300,0],[0,5]]", "", "away from the photo's corner" },
        { "[[0,0],[null,0],[0,5]]", "", "with two numbers" },
        { "[[0,0],[\"NaN\",0],[0,5]]", "", "with two numbers" },
        { "[[0,0],[NaN,0],[0,5]]", "", "line 1" },
        { "[[0,0],[Infinity,0],[0,5]]", "", "line 1" },
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        says(refusal(arena, drawn(arena, rows[i].outline, rows[i].region), NULL), rows[i].said);
    mb_arena_free(arena);
}

Test(hostile, outlines_that_claim_the_same_spot_are_refused)
{
    mb_arena *arena = mb_arena_new();
    char members[400];
    struct mb_error err = { .code = MB_OK };
    const struct mb_measured *out = NULL;

    snprintf(members, sizeof members,
             "\"lineWidthPx\":2,\"specimens\":[{\"element\":\"skull\",\"outline\":" BOX "},"
             "{\"element\":\"jaw\",\"outline\":[[90,0],[200,0],[200,100],[90,100]]}]");
    says(refusal(arena, one_view(arena, members), NULL),
         "specimen 1 ('skull') and specimen 2 ('jaw') lie over each other near 95, 50");
    /* Within the width of the line is no matter. */
    snprintf(members, sizeof members,
             "\"lineWidthPx\":2,\"specimens\":[{\"element\":\"skull\",\"outline\":" BOX "},"
             "{\"element\":\"jaw\",\"outline\":[[99,0],[200,0],[200,100],[99,100]]}]");
    cr_assert_eq(try_text(arena, one_view(arena, members), NULL, &out, &err), MB_OK, "%s",
                 err.text);
    mb_arena_free(arena);
}

Test(hostile, an_outline_off_the_photo_was_drawn_on_another_copy)
{
    mb_arena *arena = mb_arena_new();

    says(refusal(arena,
                 one_view(arena, "\"lineWidthPx\":1,\"photo\":{\"file\":\"a.jpg\",\"widthPx\":80,"
                                 "\"heightPx\":200},\"specimens\":[{\"outline\":" BOX "}]"),
                 NULL),
         "is off the photo (80 x 200)");
    mb_arena_free(arena);
}

Test(hostile, a_line_wider_than_the_specimen_measures_nothing)
{
    mb_arena *arena = mb_arena_new();

    says(refusal(arena,
                 one_view(arena, "\"lineWidthPx\":200,\"specimens\":[{\"outline\":" BOX "}]"),
                 NULL),
         "the drawn line (200 wide) covers the whole outline");
    mb_arena_free(arena);
}

static double seconds(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

/* 100 x 100 squares of 6 x 6 in cells of 10 x 10: 36 %, and half of them restored on top of filled
 * ones that are larger. */
Test(hostile, ten_thousand_regions_are_measured, .timeout = 250)
{
    mb_arena *arena = mb_arena_new();
    char *regions = mb_arena_get(arena, 10000 * 120 + 1);
    size_t len = 0;
    double start = seconds();
    const struct mb_tally *tally;
    struct rusage usage;

    for (int i = 0; i < 10000; i++) {
        int x = i % 100 * 10 + 2, y = i / 100 * 10 + 2;

        len += (size_t)snprintf(regions + len, 120,
                                "%s{\"substance\":\"%s\",\"outline\":[[%d,%d],[%d,%d],[%d,%d],"
                                "[%d,%d]]}",
                                i ? "," : "", i % 2 ? "filled" : "restored", x, y, x + 6, y, x + 6,
                                y + 6, x, y + 6);
    }
    tally =
        measure_text(arena, drawn(arena, "[[0,0],[1000,0],[1000,1000],[0,1000]]", regions), NULL)
            ->tallies;
    cr_assert_eq(tally->n, 10001);
    cr_assert_eq(tally->substance[MB_SUBSTANCE_FILLED].tenths, 180);
    cr_assert_eq(tally->substance[MB_SUBSTANCE_RESTORED].tenths, 180);
    cr_assert_eq(tally->substance[MB_SUBSTANCE_UNEXAMINED].tenths, 640);
    getrusage(RUSAGE_SELF, &usage);
    fprintf(stderr, "10,000 regions: %.1f s, %ld MiB at most\n", seconds() - start,
            usage.ru_maxrss / 1024);
    mb_arena_free(arena);
}

Test(hostile, more_than_the_limits_is_refused_before_it_costs)
{
    mb_arena *arena = mb_arena_new();
    size_t count = 10001, len = 0;
    char *regions = mb_arena_get(arena, count * 60 + 1);
    char *corners = mb_arena_get(arena, 100002 * 6 + 2);

    for (size_t i = 0; i < count; i++)
        len += (size_t)snprintf(regions + len, 60,
                                "%s{\"substance\":\"filled\",\"outline\":[[1,1],"
                                "[2,1],[2,2]]}",
                                i ? "," : "");
    says(refusal(arena, drawn(arena, BOX, regions), NULL), "more than 10000 regions and joins");
    len = 0;
    for (size_t i = 0; i < 100002; i++)
        len += (size_t)snprintf(corners + len, 7, "%s[0,1]", i ? "," : "[");
    corners[len++] = ']';
    says(refusal(arena, drawn(arena, corners, ""), NULL), "more than 100000 corners");
    mb_arena_free(arena);
}

/* A saw blade with 4,000 teeth, a spiral, a comb of slits as narrow as a hundredth of a pixel. */
Test(hostile, jagged_and_thin_shapes_are_measured)
{
    mb_arena *arena = mb_arena_new();
    char *saw = mb_arena_get(arena, 8000 * 40 + 3);
    size_t len = 0;
    const struct mb_tally *tally;

    for (int i = 0; i < 8000; i++) {
        double angle = 2 * M_PI * i / 8000, r = i % 2 ? 500 : 480;
        len += (size_t)snprintf(saw + len, 40, "%s[%.6f,%.6f]", i ? "," : "[", 500 + r * cos(angle),
                                500 + r * sin(angle));
    }
    saw[len++] = ']';
    tally = measure_text(arena,
                         drawn(arena, saw,
                               "{\"substance\":\"filled\",\"outline\":[[0,499],"
                               "[1000,499],[1000,501],[0,501]]},"
                               "{\"substance\":\"foreign\",\"outline\":[[500,0],"
                               "[500.01,0],[500.01,1000],[500,1000]]}"),
                         NULL)
                ->tallies;
    /* n R r sin(pi / n) with 4,000 teeth. */
    cr_assert(tally->substance[MB_SUBSTANCE_FOREIGN].there, "a hair is lost");
    cr_assert_eq(tally->substance[MB_SUBSTANCE_FOREIGN].tenths, 1);
    cr_assert_eq(tally->substance[MB_SUBSTANCE_FOREIGN].low, 0, "a hair is not certain");
    cr_assert(fabs(tally->substance[MB_SUBSTANCE_FILLED].share
                   - 2.0 * 1000 / (4000 * 500.0 * 480.0 * sin(M_PI / 4000)))
              < 1e-4);
    mb_arena_free(arena);
}

/* Random bytes and random cuts of good files never do worse than a refusal. */
Test(hostile, damaged_files_are_refused_or_read)
{
    static const char *const good[] = {
        "{\"format\":\"markerbed-outlines/1\",\"notExamined\":[\"x\"],\"views\":[{\"name\":\"a\","
        "\"lineWidthPx\":1,\"scaleBar\":{\"px\":50,\"mm\":5},\"specimens\":[{\"outline\":" BOX "}],"
        "\"regions\":[{\"substance\":\"filled\",\"outline\":[[5,5],[9,5],[9,9]],\"holes\":[[[6,5.5]"
        ","
        "[7,5.5],[7,6]]]}],\"joins\":[{\"through\":\"rock\",\"line\":[[0,0],[9,9]]}]}]}",
        "<svg data-view='a' data-line-width='1' data-not-examined='x'><g transform='scale(2)'>"
        "<path data-kind='specimen' d='M0 0h90v90q-40 9-90 0z'/><circle r='9' cx='40' cy='40' "
        "data-substance='filled'/></g><path data-kind='join' data-through='both' "
        "d='M0 0a5 5 0 013 3'/></svg>",
        "x,y,substance\n1,2,original\n3,4,filled\n5,6,\"foreign\"\n",
    };
    uint64_t state = 1234567;
    size_t read = 0, refused = 0;

    for (int i = 0; i < 6000; i++) {
        mb_arena *arena = mb_arena_new();
        struct mb_error err = { .code = MB_OK };
        const struct mb_measured *out = NULL;
        char *text = mb_arena_text(arena, good[i % 3]);
        size_t len = strlen(text);
        enum mb_rc rc;

        for (int k = 0; k <= i % 3; k++) {
            state = state * 6364136223846793005u + 1442695040888963407u;
            text[(state >> 33) % len] = "0129.-,eE<>\"'{}[]Zz \x01"[(state >> 20) % 21];
        }
        if (i % 5 == 0)
            text[(state >> 40) % len] = '\0';
        rc = try_text(arena, text, GIVEN_ALL, &out, &err);
        cr_assert(rc == MB_OK || rc == MB_REFUSED, "%d: %s", rc, err.text);
        cr_assert(rc == MB_OK || strlen(err.text) > 10);
        read += rc == MB_OK;
        refused += rc == MB_REFUSED;
        mb_arena_free(arena);
    }
    cr_assert_gt(read, 100);
    cr_assert_gt(refused, 1000);
}
