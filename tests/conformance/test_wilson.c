/*
 * The score interval of a proportion, against printed numbers and against its own definition.
 *
 *   N98   R. G. Newcombe, Two-sided confidence intervals for the single proportion: comparison of
 *         seven methods, Statistics in Medicine 17 (1998) 857-872, table I, methods 3 and 4:
 *         printed to four places (the printed digits are from memory)
 *   R     prop.test(5, 10, correct = FALSE, conf.level = 0.9) of R, as kept in the tests of a
 *         package that calls it: 0.2692718, 0.7307282 (used for the definition, at z of 90 %)
 *
 * The definition does not rest on anybody's digits: the ends of the score interval are those p at
 * which |x/n - p| = z sqrt(p (1 - p) / n), and with the correction |x/n - p| - 1/(2n) on the left
 * (E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212).
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>

#include "drawnum.h"
#include "fileio.h"
#include "text.h"
#include "wilson.h"

#define TABLE "../shared/data/wilson-tests.tsv"

static void near_to(double got, double wanted, double by, const char *what, uint64_t x, uint64_t n)
{
    cr_assert(fabs(got - wanted) <= by, "%s of %d/%d: %.9f is not %.9f", what, (int)x, (int)n, got,
              wanted);
}

Test(wilson, gives_the_numbers_printed_by_newcombe)
{
    static const struct {
        uint64_t x, n;
        double low, high, low_cc, high_cc;
    } rows[] = {
        { 81, 263, 0.2553, 0.3662, 0.2535, 0.3682 },
        { 15, 148, 0.0624, 0.1605, 0.0598, 0.1644 },
        { 0, 20, 0.0000, 0.1611, 0.0000, 0.2005 },
        { 1, 29, 0.0061, 0.1718, 0.0018, 0.1963 },
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct mb_interval plain, corrected;
        uint64_t x = rows[i].x, n = rows[i].n;

        cr_assert(mb_wilson(x, n, &plain));
        cr_assert(mb_wilson_corrected(x, n, &corrected));
        near_to(plain.low, rows[i].low, 0.5e-4, "low end", x, n);
        near_to(plain.high, rows[i].high, 0.5e-4, "high end", x, n);
        near_to(corrected.low, rows[i].low_cc, 0.5e-4, "corrected low end", x, n);
        near_to(corrected.high, rows[i].high_cc, 0.5e-4, "corrected high end", x, n);
    }
}

/* How far x/n lies from p, in standard errors under p. */
static double distance(uint64_t x, uint64_t n, double p, double correction)
{
    double count = (double)n;

    return (fabs((double)x / count - p) - correction / (2 * count)) / sqrt(p * (1 - p) / count);
}

Test(wilson, ends_lie_just_z_standard_errors_away)
{
    double r_low = 0.2692718, r_high = 0.7307282, z90 = 1.6448536;

    near_to(distance(5, 10, r_low, 0), z90, 1e-6, "R's low end", 5, 10);
    near_to(distance(5, 10, r_high, 0), z90, 1e-6, "R's high end", 5, 10);
    for (uint64_t n = 1; n <= 120; n++)
        for (uint64_t x = 0; x <= n; x++) {
            struct mb_interval plain, corrected;

            cr_assert(mb_wilson(x, n, &plain));
            cr_assert(mb_wilson_corrected(x, n, &corrected));
            if (x > 0) {
                near_to(distance(x, n, plain.low, 0), MB_Z95, 1e-8, "low end", x, n);
                near_to(distance(x, n, corrected.low, 1), MB_Z95, 1e-7, "corrected low", x, n);
            } else {
                cr_assert_eq(plain.low, 0);
                cr_assert_eq(corrected.low, 0);
            }
            if (x < n) {
                near_to(distance(x, n, plain.high, 0), MB_Z95, 1e-8, "high end", x, n);
                near_to(distance(x, n, corrected.high, 1), MB_Z95, 1e-7, "corrected high", x, n);
            } else {
                cr_assert_eq(plain.high, 1);
                cr_assert_eq(corrected.high, 1);
            }
            cr_assert_leq(corrected.low, plain.low);
            cr_assert_geq(corrected.high, plain.high);
        }
}

Test(wilson, none_in_a_hundred_still_allows_nearly_four_per_cent)
{
    struct mb_interval ends;

    cr_assert(mb_wilson(0, 100, &ends));
    cr_assert_eq(ends.low, 0);
    /* For x = 0 the high end is z^2 / (n + z^2). */
    near_to(ends.high, MB_Z95 * MB_Z95 / (100 + MB_Z95 * MB_Z95), 1e-15, "high end", 0, 100);
    near_to(ends.high, 0.037, 0.0001, "high end", 0, 100);
}

Test(wilson, refuses_more_hits_than_points_and_no_points)
{
    struct mb_interval ends = { 5, 6 };

    cr_assert_not(mb_wilson(0, 0, &ends));
    cr_assert_not(mb_wilson(3, 2, &ends));
    cr_assert_not(mb_wilson_corrected(0, 0, &ends));
    cr_assert_eq(ends.low, 5, "a refusal changes nothing");
    cr_assert(mb_wilson(UINT64_MAX / 2, UINT64_MAX, &ends));
    near_to(ends.high, 0.5, 1e-6, "high end", 0, 0);
}

Test(wilson, agrees_with_the_table_of_worked_numbers)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { 0 };
    struct mb_str text, line, cell;
    size_t rows = 0;

    if (!mb_file_exists(TABLE))
        cr_skip_test("%s is not there, so its rows were not checked", TABLE);
    cr_assert_eq(mb_file_read(arena, TABLE, 1 << 20, &text, &err), MB_OK, "%s", err.text);
    while (text.len > 0) {
        double n[7];
        size_t count = 0;
        struct mb_interval plain, corrected;

        mb_str_cut(text, '\n', &line, &text);
        while (count < 7 && line.len > 0) {
            mb_str_cut(line, '\t', &cell, &line);
            if (!mb_drawnum_read(cell, &n[count]))
                break;
            count++;
        }
        if (count < 7)
            continue; /* comment or header */
        rows++;
        cr_assert(mb_wilson((uint64_t)n[0], (uint64_t)n[1], &plain));
        cr_assert(mb_wilson_corrected((uint64_t)n[0], (uint64_t)n[1], &corrected));
        near_to(plain.low, n[3], 0.6e-6, "low end", (uint64_t)n[0], (uint64_t)n[1]);
        near_to(plain.high, n[4], 0.6e-6, "high end", (uint64_t)n[0], (uint64_t)n[1]);
        near_to(corrected.low, n[5], 0.6e-6, "corrected low", (uint64_t)n[0], (uint64_t)n[1]);
        near_to(corrected.high, n[6], 0.6e-6, "corrected high", (uint64_t)n[0], (uint64_t)n[1]);
    }
    cr_assert_geq(rows, 11, "only %d rows were read", (int)rows);
    mb_arena_free(arena);
}

/*
 * How often the interval holds the true share, by exact binomial sums over all outcomes. On the
 * average over p the score interval's coverage lies close to 95 % and dips below it in places
 * (Brown, Cai and DasGupta, Statistical Science 16 (2001) 101-133; from memory).
 */
static double chance_of(uint64_t x, uint64_t n, double p)
{
    return exp(lgamma((double)n + 1) - lgamma((double)x + 1) - lgamma((double)(n - x) + 1)
               + (double)x * log(p) + (double)(n - x) * log(1 - p));
}

Test(wilson, covers_the_truth_about_95_times_in_100)
{
    double sum = 0, least = 1;
    int count = 0;

    for (double p = 0.02; p < 0.985; p += 0.01) {
        double cover = 0;

        for (uint64_t x = 0; x <= 60; x++) {
            struct mb_interval ends;
            double share;
            struct mb_stratum part = { x, 60, 1 };

            cr_assert(mb_wilson_weighted(&part, 1, &share, &ends));
            if (ends.low <= p && p <= ends.high)
                cover += chance_of(x, 60, p);
        }
        sum += cover;
        least = fmin(least, cover);
        count++;
    }
    cr_log_info("one part: mean coverage %.4f, least %.4f", sum / count, least);
    near_to(sum / count, 0.95, 0.01, "mean coverage", 0, 60);
    cr_assert_gt(least, 0.90);
}

Test(wilson, covers_the_truth_of_two_parts_put_together)
{
    double sum = 0, least = 1;
    int count = 0;

    for (double p = 0.05; p < 0.96; p += 0.1)
        for (double q = 0.05; q < 0.96; q += 0.1) {
            double cover = 0, truth = 0.7 * p + 0.3 * q;

            for (uint64_t x = 0; x <= 40; x++)
                for (uint64_t y = 0; y <= 25; y++) {
                    struct mb_stratum parts[] = { { x, 40, 0.7 }, { y, 25, 0.3 } };
                    struct mb_interval ends;
                    double share;

                    cr_assert(mb_wilson_weighted(parts, 2, &share, &ends));
                    near_to(share, 0.7 * (double)x / 40 + 0.3 * (double)y / 25, 1e-12, "share", x,
                            40);
                    if (ends.low <= truth && truth <= ends.high)
                        cover += chance_of(x, 40, p) * chance_of(y, 25, q);
                }
            sum += cover;
            least = fmin(least, cover);
            count++;
        }
    cr_log_info("two parts: mean coverage %.4f, least %.4f", sum / count, least);
    near_to(sum / count, 0.95, 0.01, "mean coverage", 0, 65);
    cr_assert_gt(least, 0.92);
}
