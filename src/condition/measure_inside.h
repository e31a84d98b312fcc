/* Inside of measuring: what its files hand to each other. */
#ifndef MB_MEASURE_INSIDE_H
#define MB_MEASURE_INSIDE_H

#include "measure.h"
#include "measure_part.h"

struct mb_measuring {
    mb_arena *arena;
    const struct mb_outlines *outlines;
    struct mb_measured *out;
    struct mb_part_areas *parts, *parts_last; /* of all views, in order */
    struct mb_tally *tallies_last;
    struct mb_settled *settled_last;
    struct mb_measure_note *notes_last;
    struct mb_error *err;
};

/* Adds a sentence for the reader, once. */
void mb_measure_note(struct mb_measuring *m, const char *format, ...) MB_PRINTF(2, 3);
struct mb_tally *mb_measure_add_tally(struct mb_measuring *m, const char *individual,
                                      enum mb_how how);
/* "front, back"; with more than six names "front, back and 7 more". No name twice. */
const char *mb_measure_list(mb_arena *arena, const char *const *names, size_t count);
/* Weights in tenths of a per cent that add up to 100.0. */
void mb_measure_weights(mb_arena *arena, struct mb_tally *tally);

/* Square millimetres in a square pixel of the view, and how far that may be off; false if it has
 * no scale. MB_REFUSED before this if the bar is no longer than the line is wide. */
struct mb_scale {
    double mm2, mm2_low, mm2_high;
};
bool mb_measure_scale(const struct mb_view *view, struct mb_scale *out);

/* Sound outlines, overlaps settled, areas: one part for each element in each view. */
MB_CHECK enum mb_rc mb_measure_view(struct mb_measuring *m, const struct mb_view *view);
/* From parts to tallies of one individual. */
void mb_measure_outlined(struct mb_measuring *m, const struct mb_individual *one);
/* Counts: checks them against outlines, and makes the tallies of one individual. */
MB_CHECK enum mb_rc mb_measure_check_counts(struct mb_measuring *m, const struct mb_view *view);
void mb_measure_counted(struct mb_measuring *m, const struct mb_individual *one);
MB_CHECK enum mb_rc mb_measure_joins(struct mb_measuring *m);

#endif
