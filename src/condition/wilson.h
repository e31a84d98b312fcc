/*
 * How sure a share is that was found by counting points: the score interval of a proportion.
 *
 * n points were looked at, x of them lay on what is asked for. z is the quantile of the normal
 * distribution for 95 % on both sides, 1.959963984540054; p = x/n and q = 1 - p.
 *
 * Score interval: E. B. Wilson, Probable inference, the law of succession, and statistical
 * inference, J. Am. Stat. Assoc. 22 (1927) 209-212:
 *     (2np + z^2 -+ z sqrt(z^2 + 4npq)) / 2(n + z^2)
 * With continuity correction: R. G. Newcombe, Two-sided confidence intervals for the single
 * proportion: comparison of seven methods, Statistics in Medicine 17 (1998) 857-872, method 4:
 *     (2np + z^2 - 1 - z sqrt(z^2 - 2 - 1/n + 4p(nq + 1))) / 2(n + z^2)
 *     (2np + z^2 + 1 + z sqrt(z^2 + 2 - 1/n + 4p(nq - 1))) / 2(n + z^2)
 * The low end is exactly 0 for x = 0, the high end exactly 1 for x = n (formulas from memory,
 * checked against the printed numbers in tests/conformance/test_wilson.c).
 *
 * Both take the points to be independent: a grid laid over a regular pattern is not.
 */
#ifndef MB_WILSON_H
#define MB_WILSON_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define MB_Z95 1.959963984540054

struct mb_interval {
    double low, high;
};

/* False, and out untouched, if n is 0 or x is more than n. */
bool mb_wilson(uint64_t x, uint64_t n, struct mb_interval *out);
bool mb_wilson_corrected(uint64_t x, uint64_t n, struct mb_interval *out);

/* One part of a whole whose share was counted on its own. */
struct mb_stratum {
    uint64_t x, n;
    double weight; /* its part of the whole; all weights add up to 1 */
};

/*
 * The share of the whole is p = sum(w_i p_i). Its interval puts the distances of the parts' ends
 * together as independent errors are (square and add):
 *     low  = p - sqrt(sum (w_i (p_i - l_i))^2)      high = p + sqrt(sum (w_i (u_i - p_i))^2)
 * with l_i, u_i the score interval of part i: R. G. Newcombe, Statistics in Medicine 17 (1998)
 * 873-890, method 10, carried to weighted sums by G. Y. Zou and A. Donner, Statistics in Medicine
 * 27 (2008) 1693-1702 (both from memory). One part alone gives the score interval itself.
 * False if a part is refused by mb_wilson, or there is none.
 */
bool mb_wilson_weighted(const struct mb_stratum *parts, size_t count, double *share,
                        struct mb_interval *out);

#endif
