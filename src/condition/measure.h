/*
 * From outlines and counts to shares with their ranges.
 *
 * What 100 % is: the visible surface of one individual (of one element of it) in the views that are
 * named. Numbers from outlines, from counted points and from estimates stand apart; nothing here
 * adds one sort to another.
 *
 * Outlines. Regions of one substance are united; where different substances overlap, the spot
 * counts once, by precedence (substance.h); what lies outside the specimen's outline does not
 * count; what no region covers is what the outline says, `unexamined` if it says nothing. Gaps
 * narrower than the drawn line and under 0.1 % of the outline in all are seams between lines, not
 * uncovered surface.
 *
 * Range of an outlined share: what it could be if every drawn line, the specimen's outline
 * included, lay anywhere within its own width (up to half the stated width on either side). It is
 * a bound, not a probability: the true share lies in it if no line is further off than that, and
 * the line follows the true one all along. A region drawn to the edge of the specimen's outline or
 * over it is taken to reach that edge. With w/2 the half width, E the outline, U the region,
 * H the regions that go before it, + grown and - shrunk by w/2:
 *     E- <= true outline <= E+
 *     may be U   = (U and E)+ and E+, without what surely is H
 *     surely U   = E+ without (E without U)+
 *     surely this substance = E+ without what may be any other
 *     low  = |sure in E-| / (|sure in E-| + |E+ without sure|)
 *     high = |may| / (|may| + |E- without may|)
 *
 * Range of a counted share: score interval, 95 % (wilson.h).
 *
 * Several views and elements are put together by area: 6 of 120, 20 of 80 and 0 of 40 cm2 are 26
 * of 240, 10.8 %, and not the mean of 5, 25 and 0. That takes a scale bar in each view if there is
 * more than one; where one lacks it, the parts are told and no whole. A scale bar's length may be
 * off by half a line's width at either end; the range covers that too. Views are taken to show
 * different sides: what two of them show counts twice.
 *
 * Not covered by any range: what could not be seen, surfaces that the photo shows at a slant
 * (photos are flat; steep surfaces count less), and a wrong judgement of what a spot is.
 */
#ifndef MB_MEASURE_H
#define MB_MEASURE_H

#include <markerbed/json.h>

#include "outline.h"
#include "share.h"
#include "substance.h"

/* Area of one view and element that went into a tally, and its part of the whole. */
struct mb_weight {
    const char *element, *view;
    double mm2; /* 0 if there is no scale; then it is the only one */
    double weight;
    int tenths;
};

/* One thing that is 100 %, and its shares, by one way of finding out. */
struct mb_tally {
    struct mb_tally *next;
    const char *individual;
    const char *element, *view; /* "" element: undivided; lists "front, back" if several */
    bool several_elements, several_views;
    enum mb_how how; /* outline or points */
    uint64_t n;      /* outlines drawn, or points counted */
    bool has_mm2;
    double mm2, mm2_low, mm2_high;
    struct mb_weight *weights;
    size_t weight_count;
    struct mb_share substance[MB_SUBSTANCES];
    struct mb_share sum[MB_SUMS];
    struct mb_share surface[MB_SURFACES];
    struct mb_share surface_on[MB_SURFACES][MB_SUBSTANCES]; /* of the whole, not of the substance */
};

/* The lines of mended breaks that have the same words, in all views. */
struct mb_join_group {
    struct mb_join_group *next;
    enum mb_through through;
    const char *cause, *adhesive;
    size_t count;
    double mm;          /* length of those with a scale */
    size_t without_mm;  /* how many of them lack one */
    const char *gap_mm; /* the widest; "" if none was given */
};

/* What one outline holds after overlaps are settled; for drawing. */
struct mb_settled {
    struct mb_settled *next;
    const struct mb_view *view;
    const char *individual, *element;
    struct mb_shape outline;
    struct mb_shape substance[MB_SUBSTANCES];
    struct mb_shape surface[MB_SURFACES];
};

struct mb_measure_note {
    struct mb_measure_note *next;
    const char *text; /* one sentence */
};

struct mb_measured {
    const struct mb_outlines *outlines;
    struct mb_tally *tallies; /* wholes before their parts, by individual; outlines, then points */
    struct mb_join_group *joins;
    struct mb_settled *settled;
    struct mb_measure_note *notes; /* what a reader must be told beside the numbers */
};

/* MB_REFUSED: file, view, outline, what is wrong and where ("crosses itself at 12, 40").
 * MB_UNABLE: the geometry library gave up. */
MB_CHECK enum mb_rc mb_measure(mb_arena *arena, const struct mb_outlines *outlines,
                               const struct mb_measured **out, struct mb_error *err);

/*
 * The result as data: members shares, surfaces, joins, individuals, notExamined, frame as the kind
 * `condition` has them (decimals are texts, one place), and totals, weights and notes as described
 * in docs/measuring.md.
 */
mb_json *mb_measure_json(mb_arena *arena, const struct mb_measured *measured);

/*
 * Whether recorded rows are what these outlines give: each row of `shares` and `surfaces` has its
 * counterpart, and each join that was drawn is among the recorded ones (others may be recorded that
 * nobody drew), with percentages and lengths within one unit of the last place (another version of
 * the geometry library may round the last one otherwise). Estimates are not compared. MB_OK; MB_NO
 * with the first difference as a sentence. Each may be NULL, which is an empty list.
 */
MB_CHECK enum mb_rc mb_measure_compare(mb_arena *arena, const struct mb_measured *measured,
                                       const mb_json *shares, const mb_json *surfaces,
                                       const mb_json *joins, struct mb_error *err);

#endif
