/*
 * What rules may call in SQL. Places are judged by area.h itself, whose own test goes by closed
 * forms; here it is asked whether the quick look ever says more than the exact one. Masses: the
 * pound is 0.45359237 kg by the agreement of 1959, the ounce a sixteenth of it.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "dice.h"
#include "landsql.h"
#include "text.h"

#define SQUARE \
    "'{\"type\":\"Polygon\",\"coordinates\":[[[\"-101.02\",\"38.90\"],[\"-101.00\",\"38.90\"]," \
    "[\"-101.00\",\"38.92\"],[\"-101.02\",\"38.92\"],[\"-101.02\",\"38.90\"]]," \
    "[[\"-101.012\",\"38.908\"],[\"-101.012\",\"38.912\"],[\"-101.008\",\"38.912\"]," \
    "[\"-101.008\",\"38.908\"],[\"-101.012\",\"38.908\"]]]}'"

static mb_arena *arena;
static mb_db *db;
static mb_landsql *sql;

static void setup(void)
{
    struct mb_error err = { 0 };

    arena = mb_arena_new();
    cr_assert_eq(mb_db_open(NULL, MB_DB_MEMORY, &db, &err), MB_OK, "%s", err.text);
    cr_assert_eq(mb_landsql_open(db, "/nowhere", &sql, &err), MB_OK, "%s", err.text);
}

static void teardown(void)
{
    mb_landsql_close(sql);
    mb_db_close(db);
    mb_arena_free(arena);
}

TestSuite(landsql, .init = setup, .fini = teardown);

/* The answer to one expression, "NULL" where it is that. */
static const char *ask(const char *expression)
{
    struct mb_error err = { 0 };
    mb_stmt *stmt;
    bool row;
    const char *out;

    cr_assert_eq(mb_stmt_make(db, mb_arena_printf(arena, "SELECT %s", expression), &stmt, &err),
                 MB_OK, "%s: %s", expression, err.text);
    cr_assert_eq(mb_stmt_step(stmt, &row, &err), MB_OK, "%s", err.text);
    out = mb_col_type(stmt, 0) == MB_COL_NULL
              ? "NULL"
              : mb_arena_copy(arena, mb_col_text(stmt, 0).at, mb_col_text(stmt, 0).len);
    mb_stmt_free(stmt);
    return out;
}

Test(landsql, masses_are_exact)
{
    cr_expect_str_eq(ask("micrograms('1', 'lb')"), "453592370");
    cr_expect_str_eq(ask("micrograms('25', 'lb') = 2 * micrograms('12.5', 'lb')"), "1");
    cr_expect_str_eq(ask("16 * micrograms('1', 'oz') - micrograms('1', 'lb')"), "-2");
    cr_expect_str_eq(ask("micrograms('16', 'oz') = micrograms('1', 'lb')"), "1");
    cr_expect_str_eq(ask("micrograms('0.000000001', 'kg')"), "1");
    cr_expect_str_eq(ask("micrograms('1', 'ton') = micrograms('2000', 'lb')"), "1");
    cr_expect_str_eq(ask("micrograms('3', 'piece')"), "NULL");
    cr_expect_str_eq(ask("micrograms('not known', 'kg')"), "NULL");
    cr_expect_str_eq(ask("micrograms(NULL, 'kg')"), "NULL");
    cr_expect_str_eq(ask("micrograms('-1', 'kg')"), "NULL");
}

Test(landsql, words_of_a_list)
{
    cr_expect_str_eq(ask("other_words('surface; hand tools', 'Hand tools; surface')"), "");
    cr_expect_str_eq(ask("other_words('surface; machine; x', 'surface')"), "machine, x");
    cr_expect_str_eq(ask("other_words('', 'surface')"), "");
    cr_expect_str_eq(ask("other_words(NULL, 'surface')"), "NULL");
    cr_expect_str_eq(ask("other_words('hand', 'hand tools')"), "hand");
}

Test(landsql, places)
{
    cr_expect_str_eq(ask("place_side(" SQUARE ", 38.915, -101.015, 'EPSG:4326', 5)"), "inside");
    cr_expect_str_eq(ask("place_side(" SQUARE ", 38.91, -101.01, 'EPSG:4326', 5)"), "outside");
    cr_expect_str_eq(ask("place_side(" SQUARE ", 38.915, -101.0001, 'EPSG:4326', 40)"),
                     "straddling");
    cr_expect_str_eq(ask("place_centre(" SQUARE ", 38.915, -101.0001, 'EPSG:4326', 40)"), "inside");
    cr_expect_str_eq(ask("place_share(" SQUARE ", 38.915, -101.00, 'EPSG:4326', 40)"), "50");
    /* one thousandth of a degree of latitude is 111.0 m at 38.9 degrees (pi/180 M, M 6,360.7 km) */
    cr_expect_str_eq(ask("round(place_distance(" SQUARE ", 38.919, -101.015, 'EPSG:4326', 5), 1)"),
                     "111.0");
    cr_expect_str_eq(ask("place_side(NULL, 38.915, -101.015, 'EPSG:4326', 5)"), "NULL");
    cr_expect_str_eq(ask("place_side('none', 38.915, -101.015, 'EPSG:4326', 5)"), "NULL");
    cr_expect_str_eq(ask("place_side(" SQUARE ", 38.915, -101.015, 'EPSG:4326', NULL)"), "NULL");
    cr_expect_str_eq(ask("place_side(" SQUARE ", 99, -101.015, 'EPSG:4326', 5)"), "NULL");
    /* a datum that nobody recorded may be off by 5,359 m: georef.h */
    cr_expect_str_eq(ask("place_side(" SQUARE ", 38.915, -101.015, 'not recorded', 5)"),
                     "straddling");
}

Test(landsql, an_area_to_another)
{
    cr_expect_str_eq(ask("area_side(" SQUARE ", " SQUARE ")"), "inside");
    cr_expect_str_eq(ask("area_side('{\"type\":\"Polygon\",\"coordinates\":[[[\"-100\",\"38\"],"
                         "[\"-99\",\"38\"],[\"-99\",\"39\"],[\"-100\",\"38\"]]]}', " SQUARE ")"),
                     "outside");
    cr_expect_str_eq(ask("area_side('{\"type\":\"Polygon\",\"coordinates\":"
                         "[[[\"-101.01\",\"38.9\"],"
                         "[\"-100.9\",\"38.9\"],[\"-100.9\",\"38.92\"],[\"-101.01\",\"38.92\"],"
                         "[\"-101.01\",\"38.9\"]]]}', " SQUARE ")"),
                     "straddling");
    cr_expect_str_eq(ask("area_side('not known', " SQUARE ")"), "NULL");
}

/* Sure of it means: so says the exact look too. And it is sure of most that lie well inside. */
Test(landsql, the_quick_look_never_says_more_than_the_exact_one)
{
    struct dice dice = { 7 };
    int sure = 0, inside = 0;

    for (int i = 0; i < 3000; i++) {
        double lat = 38.895 + 0.03 * (double)dice_roll(&dice, 100000) / 100000;
        double lon = -101.025 + 0.03 * (double)dice_roll(&dice, 100000) / 100000;
        const char *at = mb_arena_printf(arena, SQUARE ", %.6f, %.6f, 'EPSG:4326', %u", lat, lon,
                                         (unsigned)dice_roll(&dice, 120));
        bool quick = strcmp(ask(mb_arena_printf(arena, "place_surely(%s)", at)), "1") == 0;
        bool exact = strcmp(ask(mb_arena_printf(arena, "place_side(%s)", at)), "inside") == 0;

        cr_expect(!quick || exact, "%s", at);
        sure += quick;
        inside += exact;
    }
    cr_expect_gt(inside, 500);
    cr_expect_gt(sure, inside * 9 / 10, "%d of %d", sure, inside);
}

Test(landsql, a_file_that_is_not_there)
{
    cr_expect_str_eq(ask("paper_state('0000000000000000000000000000000000000000000000000000000000"
                         "000000')"),
                     "missing");
    cr_expect_str_eq(ask("paper_state('none')"), "NULL");
}
