/*
 * The words of a condition report, as they are written in entries, outlines and on paper, and what
 * follows from them for measuring.
 *
 * Substance answers "what is this spot made of" and adds up to 100 % of what is seen. Surface
 * answers "what was done to what is seen here"; each word stands alone and they may overlap. Own
 * definitions, built on common conservation usage (common practice, no source); docs/measuring.md
 * states them for users.
 */
#ifndef MB_SUBSTANCE_H
#define MB_SUBSTANCE_H

#include <stdbool.h>
#include <stddef.h>

#include <markerbed/arena.h>

enum mb_substance {
    MB_SUBSTANCE_ORIGINAL,   /* as nature left it, replacement and natural moulds included */
    MB_SUBSTANCE_REPAIRED,   /* original, wholly off and set back */
    MB_SUBSTANCE_FILLED,     /* foreign material in a loss over 1 mm, no shape invented */
    MB_SUBSTANCE_RESTORED,   /* shape of missing anatomy made by hand, out of anything */
    MB_SUBSTANCE_REPLICA,    /* cast or print */
    MB_SUBSTANCE_FOREIGN,    /* real, from another individual */
    MB_SUBSTANCE_UNEXAMINED, /* visible, but not judged */
    MB_SUBSTANCES
};

enum mb_surface {
    MB_SURFACE_BARE, /* looked at by the named means, nothing found */
    MB_SURFACE_CONSOLIDATED,
    MB_SURFACE_COATED,
    MB_SURFACE_INPAINTED,   /* colour on what is not original */
    MB_SURFACE_OVERPAINTED, /* colour on original */
    MB_SURFACE_REWORKED,    /* carved, ground, cut, polished */
    MB_SURFACES
};

/* How a number was come by. The three are never added to each other. */
enum mb_how { MB_HOW_OUTLINE, MB_HOW_POINTS, MB_HOW_ESTIMATE, MB_HOWS };

/* Estimates are one of these, in per cent, and never a figure. */
enum mb_band {
    MB_BAND_NONE_SEEN,
    MB_BAND_UNDER_5,
    MB_BAND_5_10,
    MB_BAND_10_25,
    MB_BAND_25_50,
    MB_BAND_OVER_50,
    MB_BANDS
};

enum mb_extent { MB_EXTENT_NONE_SEEN, MB_EXTENT_IN_PLACES, MB_EXTENT_THROUGHOUT, MB_EXTENTS };

enum mb_through { MB_THROUGH_FOSSIL, MB_THROUGH_ROCK, MB_THROUGH_BOTH, MB_THROUGHS };

/* The words for them; index with the enums above. */
extern const char *const mb_substance_words[MB_SUBSTANCES];
extern const char *const mb_surface_words[MB_SURFACES];
extern const char *const mb_how_words[MB_HOWS];
extern const char *const mb_band_words[MB_BANDS];
extern const char *const mb_extent_words[MB_EXTENTS];
extern const char *const mb_through_words[MB_THROUGHS];

enum { MB_SETTINGS = 6, MB_ASSOCIATIONS = 4 };
extern const char *const mb_setting_words[MB_SETTINGS];
extern const char *const mb_association_words[MB_ASSOCIATIONS];

/*
 * Precedence: where regions of different substance lie over each other, the spot counts once, as
 * the one that comes first here: what is known not to be original, the most made-up first; then
 * what was not examined; then repaired; original last. So an overlap never makes a piece look more
 * original than it is.
 */
extern const enum mb_substance mb_substance_precedence[MB_SUBSTANCES];

/* Sums that are printed before the single substances. Every substance is in exactly one. */
enum mb_sum {
    MB_SUM_ORIGINAL,     /* original and repaired */
    MB_SUM_NOT_ORIGINAL, /* filled, restored, replica, foreign */
    MB_SUM_UNEXAMINED,
    MB_SUMS
};
enum mb_sum mb_substance_sum(enum mb_substance substance);

/* The index of a word in a list, ignoring the case of ASCII letters. If it is none of them:
 * MB_REFUSED, "<what> '<word>' is none of: a, b, c; did you mean a?". */
MB_CHECK enum mb_rc mb_word_find(struct mb_str word, const char *what, const char *const *words,
                                 size_t count, size_t *out, struct mb_error *err);

#endif
