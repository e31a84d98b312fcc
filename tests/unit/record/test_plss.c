/*
 * Sizes are those of the law: a township is six miles square in 36 sections of one mile square, 640
 * acres (43 U.S.C. 751); the rest follows by halving. Spellings: common practice, no source.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "plss.h"
#include "text.h"

#define MILE 1609.344

/* Every text is the same ground, written back in the one form. */
Test(plss, many_spellings_of_one_place)
{
    static const char *const texts[] = {
        "T. 12 S., R. 31 W., sec. 14, NE1/4 SW1/4",
        "T12S R31W S14 NESW",
        "T12S, R31W, Sec 14: NE\u00bcSW\u00bc",
        "NE/4 SW/4 Sec. 14, T12S-R31W",
        "NE/4SW/4 Sec 14-T12S-R31W",
        "NE 1/4 of the SW 1/4 of Section 14, Township 12 South, Range 31 West",
        "northeast quarter of the southwest quarter, section 14, T. 12 South, R. 31 West",
        "Sec. 14, T.12S.R.31W., NE4SW4",
        "twp 12 s rge 31 w sec 14 ne qtr sw qtr",
        "NE1/4SW1/4 sec. 14, T. 12 S., R. 31 W.",
        "the NE quarter of the SW quarter in Sec. 14, T12S, R31W",
    };
    mb_arena *arena = mb_arena_new();
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct mb_error err = { 0 };
        struct mb_plss out;
        cr_assert_eq(mb_plss_read(arena, mb_str_of(texts[i]), &out, &err), MB_OK, "%s: %s",
                     texts[i], err.text);
        cr_assert_str_eq(mb_plss_write(arena, &out), "T. 12 S., R. 31 W., sec. 14, NE1/4 SW1/4",
                         "%s: %s", texts[i], mb_plss_write(arena, &out));
        cr_assert_str_eq(out.verbatim, texts[i]);
        cr_assert_null(out.rest, "%s: %s", texts[i], out.rest);
        cr_assert_null(out.meridian);
        cr_assert_float_eq(mb_plss_acres(&out), 40, 1e-12);
        cr_assert_float_eq(mb_plss_extent_m(&out), MILE / 4 * sqrt(2) / 2, 1e-9);
    }
    mb_arena_free(arena);
}

Test(plss, parts_and_their_sizes)
{
    static const struct {
        const char *text, *written;
        double acres, extent_miles;
    } cases[] = {
        { "T12S R31W", "T. 12 S., R. 31 W.", 23040, 3 * M_SQRT2 },
        { "T12S R31W sec 14", "T. 12 S., R. 31 W., sec. 14", 640, M_SQRT2 / 2 },
        { "T12S R31W sec 14 N1/2", "T. 12 S., R. 31 W., sec. 14, N1/2", 320, 0 },
        { "N2NE4 sec 14, T1N R2E", "T. 1 N., R. 2 E., sec. 14, N1/2 NE1/4", 80, 0 },
        { "W\u00bd of the SE\u00bc of Sec. 3, T1N R2E", "T. 1 N., R. 2 E., sec. 3, W1/2 SE1/4", 80,
          0 },
        { "NENENE sec 3 T1N R2E", "T. 1 N., R. 2 E., sec. 3, NE1/4 NE1/4 NE1/4", 10, 0 },
        { "S2 N2 sec 3 T1N R2E", "T. 1 N., R. 2 E., sec. 3, S1/2 N1/2", 160, 0 },
        { "NE1/4 and SW1/4 sec. 9, T1N R2E", "T. 1 N., R. 2 E., sec. 9, NE1/4 and SW1/4", 320,
          M_SQRT2 / 2 },
        { "NE1/4, N1/2 SE1/4, sec. 9, T1N R2E", "T. 1 N., R. 2 E., sec. 9, NE1/4 and N1/2 SE1/4",
          240, 0 },
        { "secs. 9, 10 and 15, T1N R2E", "T. 1 N., R. 2 E., secs. 9, 10, 15", 1920, 3 * M_SQRT2 },
        { "NE1/4 secs. 9 and 10, T1N R2E", "T. 1 N., R. 2 E., secs. 9, 10, NE1/4", -1, 0 },
        { "lots 3 and 4, sec. 2, T1N R2E", "T. 1 N., R. 2 E., sec. 2, lot 3, lot 4", -1,
          M_SQRT2 / 2 },
        { "T. 12 1/2 N., R. 4 \u00bd E., sec. 1", "T. 12 1/2 N., R. 4 1/2 E., sec. 1", 640, 0 },
        { "T1N R2E S2", "T. 1 N., R. 2 E., sec. 2", 640, 0 },
    };
    mb_arena *arena = mb_arena_new();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        struct mb_plss out;
        cr_assert_eq(mb_plss_read(arena, mb_str_of(cases[i].text), &out, &err), MB_OK, "%s: %s",
                     cases[i].text, err.text);
        cr_assert_str_eq(mb_plss_write(arena, &out), cases[i].written, "%s",
                         mb_plss_write(arena, &out));
        if (cases[i].acres < 0)
            cr_assert_lt(mb_plss_acres(&out), 0, "%s", cases[i].text);
        else
            cr_assert_float_eq(mb_plss_acres(&out), cases[i].acres, 1e-9, "%s", cases[i].text);
        if (cases[i].extent_miles > 0)
            cr_assert_float_eq(mb_plss_extent_m(&out), cases[i].extent_miles * MILE, 1e-6);
        /* What is written back is read the same. */
        struct mb_plss again;
        char *written = mb_plss_write(arena, &out);
        cr_assert_eq(mb_plss_read(arena, mb_str_of(written), &again, &err), MB_OK, "%s", err.text);
        cr_assert_str_eq(mb_plss_write(arena, &again), written);
    }
    mb_arena_free(arena);
}

Test(plss, meridians_and_what_is_left_over)
{
    static const struct {
        const char *text, *meridian;
        bool known;
        const char *rest;
    } cases[] = {
        { "sec. 14, T12S R31W, 6th P.M.", "Sixth Principal Meridian", true, NULL },
        { "sec. 14, 6th P.M., T12S R31W", "Sixth Principal Meridian", true, NULL },
        { "T12S R31W, Sixth Principal Meridian, sec 14", "Sixth Principal Meridian", true, NULL },
        { "sec 14, T12S R31W of the 6th PM, Gove County, Kansas", "Sixth Principal Meridian", true,
          "Gove County, Kansas" },
        { "T1N R2E SLB&M", "Salt Lake Meridian", true, NULL },
        { "T1N R2E Salt Lake Base and Meridian", "Salt Lake Meridian", true, NULL },
        { "T1N R2E, NMPM, sec. 4", "New Mexico Principal Meridian", true, NULL },
        { "T1N R2E, Black Hills Meridian", "Black Hills Meridian", true, NULL },
        { "T1N R2E, Mt. Diablo Meridian", "Mount Diablo Meridian", true, NULL },
        { "T1N R2E, Blue Moon Meridian", "Blue Moon Meridian", false, NULL },
        { "T1N R2E, by the old fence", NULL, false, "by the old fence" },
    };
    mb_arena *arena = mb_arena_new();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        struct mb_plss out;
        cr_assert_eq(mb_plss_read(arena, mb_str_of(cases[i].text), &out, &err), MB_OK, "%s: %s",
                     cases[i].text, err.text);
        if (cases[i].meridian)
            cr_assert(out.meridian && strcmp(out.meridian, cases[i].meridian) == 0, "%s: %s",
                      cases[i].text, out.meridian);
        else
            cr_assert_null(out.meridian);
        cr_assert_eq(out.meridian_known, cases[i].known, "%s", cases[i].text);
        if (cases[i].rest)
            cr_assert(out.rest && strcmp(out.rest, cases[i].rest) == 0, "%s: %s", cases[i].text,
                      out.rest);
        else
            cr_assert_null(out.rest, "%s: %s", cases[i].text, out.rest);
    }
    mb_arena_free(arena);
}

Test(plss, what_cannot_be)
{
    static const struct {
        const char *text, *words;
    } cases[] = {
        { "", "no township and range" },
        { "the big cut behind the barn", "no township and range" },
        { "sec. 14, R31W", "no township" },
        { "T12S", "no range" },
        { "T12 R31W", "township 12 needs N or S" },
        { "T12S R31", "range 31 needs E or W" },
        { "T12W R31S", "township 12 needs N or S" },
        { "T12S R31W sec 37", "section 37" },
        { "T12S R31W sec 0", "section 0" },
        { "T0S R31W", "township 0" },
        { "T999S R31W", "township 999" },
        { "T12S R31W T13S", "two townships" },
        { "T12S R31W NE1/4", "no section" },
        { "T12S R31W sec 1 NENENENENENENE", NULL },
        { "T12S R31W sec 1 NE NE NE NE NE NE NE", "more than 6 times" },
    };
    mb_arena *arena = mb_arena_new();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct mb_error err = { 0 };
        struct mb_plss out = { .township = 77 };
        enum mb_rc rc = mb_plss_read(arena, mb_str_of(cases[i].text), &out, &err);
        if (!cases[i].words) {
            cr_assert_eq(rc, MB_OK, "%s", err.text);
            cr_assert(out.rest, "too long a run of letters is no part");
            continue;
        }
        cr_assert_eq(rc, MB_REFUSED, "%s", cases[i].text);
        cr_assert(strstr(err.text, cases[i].words), "%s: %s", cases[i].text, err.text);
        cr_assert_eq(out.township, 77);
    }
    cr_assert(strstr(MB_PLSS_CAUTION, "No survey grid"));
    mb_arena_free(arena);
}
