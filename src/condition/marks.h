/*
 * The overlay: what is drawn over a photo to show where it is original and where not. Everything
 * is data, in the order in which it is to be drawn; marks_draw of a later floor, or any other
 * drawer, goes through the list with canvas.h.
 *
 * Own design; it follows no known scheme. One dark ink on a white veil, so no colour has to be told
 * from another: what tells substances apart is the pattern (none, lines, dots, net, bricks, rings,
 * dashes), its direction and closeness, and how light the veil is, in black and white as well. The
 * more was made up, the closer the pattern; original is left clear. The veil keeps patterns legible
 * on dark rock. Surfaces are edges of different broken lines with the word written in; joins are
 * lines with cross ticks (through fossil), ticks to one side (through both), or none (rock).
 */
#ifndef MB_MARKS_H
#define MB_MARKS_H

#include "canvas.h"
#include "measure.h"

enum mb_mark_kind {
    MB_MARK_AREA,   /* rings: fill and stroke */
    MB_MARK_LINE,   /* points: stroke */
    MB_MARK_CIRCLE, /* at, radius: fill and stroke */
    MB_MARK_TEXT    /* at: the middle of the text, or of its left end */
};

struct mb_mark {
    struct mb_mark *next;
    enum mb_mark_kind kind;
    const struct mb_mm_ring *rings; /* rings within rings are holes (even-odd) */
    size_t ring_count;
    const struct mb_mm *points;
    size_t point_count;
    struct mb_mm at;
    double radius_mm;
    bool filled, stroked;
    struct mb_fill fill;
    struct mb_stroke stroke;
    const char *text;
    double size_pt;
    bool centred; /* the text's middle is at `at`, else its left end */
};

enum mb_legend_kind {
    MB_LEGEND_INDIVIDUAL, /* a heading, where there is more than one */
    MB_LEGEND_SUBSTANCE,
    MB_LEGEND_SURFACE,
    MB_LEGEND_JOIN
};

struct mb_legend {
    struct mb_legend *next;
    enum mb_legend_kind kind;
    unsigned index;    /* enum mb_substance, mb_surface, mb_through */
    const char *name;  /* "restored", "coated", "join through fossil", "individual A" */
    const char *share; /* "6.2 %"; of a join its number and length; "" if none */
    const char *range; /* "5.0-7.5 %" with an en dash, or words; "" if none */
};

struct mb_marks {
    struct mb_mark *marks;
    const struct mb_mark *bar; /* the scale bar, below the box: MB_MARKS_BAR_MM; NULL if no scale */
    struct mb_legend *legend;
    bool has_scale; /* false: say so beside the photo */
};

#define MB_MARKS_BAR_MM 7.0 /* what the bar takes below the box, with its gap */

struct mb_marks_setup {
    const struct mb_view *view;
    struct mb_mm_box box;       /* where the photo lies on the page */
    double width_px, height_px; /* of the photo; 0: what the view says, or what is drawn */
};

/* Marks of one view, over a photo that fills the box. MB_UNABLE: the geometry library gave up. */
MB_CHECK enum mb_rc mb_marks_view(mb_arena *arena, const struct mb_measured *measured,
                                  const struct mb_marks_setup *setup, struct mb_marks *out,
                                  struct mb_error *err);

/* The mark of a legend line, drawn into a small box; NULL for a heading. */
const struct mb_mark *mb_marks_sample(mb_arena *arena, enum mb_legend_kind kind, unsigned index,
                                      struct mb_mm_box box);

/* How a substance is filled and a surface's edge is drawn, at size 1 (a page of A4). */
struct mb_fill mb_marks_fill(enum mb_substance substance);
struct mb_stroke mb_marks_edge(enum mb_surface surface);

#endif
