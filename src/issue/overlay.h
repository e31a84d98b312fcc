/*
 * The overlay of one view on a canvas: photo, marks (marks.h), scale bar, and a legend with the
 * shares of this view in as many columns as there is room for.
 */
#ifndef MB_OVERLAY_H
#define MB_OVERLAY_H

#include "marks.h"

#define MB_OVERLAY_EDGE_MM 6.0

struct mb_overlay {
    mb_arena *arena;
    const struct mb_measured *measured;
    const struct mb_view *view;
    const struct mb_picture *photo; /* NULL: on white */
    double photo_high_mm;           /* the photo at most; 0: as the width gives it */
    size_t legend_max;              /* lines at most; 0: all */
    bool bare;                      /* the legend is told elsewhere */
    /* made by mb_overlay_prepare */
    double width_mm, height_mm;
    struct mb_mm_box box; /* of the photo */
    struct mb_marks marks;
};

/* Works out the marks and how tall it will be. Where neither the photo nor the view says how large
 * the photo is, the view's outlines are drawn into a box of 4 : 3. */
MB_CHECK enum mb_rc mb_overlay_prepare(struct mb_overlay *overlay, double width_mm,
                                       struct mb_error *err);
MB_CHECK enum mb_rc mb_overlay_draw(const struct mb_overlay *overlay, mb_canvas *canvas, double x,
                                    double y, struct mb_error *err);
/* What stands over the legend, and a line of it: for who tells it elsewhere. */
const char *mb_overlay_heading(const struct mb_overlay *overlay);
const char *mb_overlay_line(const struct mb_overlay *overlay, const struct mb_legend *line);
size_t mb_overlay_lines(const struct mb_overlay *overlay);
/* The sample before a line, with its top left corner at (x, y); none before a heading. */
#define MB_OVERLAY_SAMPLE_WIDTH_MM 12.0
#define MB_OVERLAY_SAMPLE_HEIGHT_MM 5.0
MB_CHECK enum mb_rc mb_overlay_sample(const struct mb_overlay *overlay, mb_canvas *canvas,
                                      const struct mb_legend *line, double x, double y,
                                      struct mb_error *err);
/* What it shows, in words, for who cannot see it: "front: original 83.6 % (82.5-84.5 %), ..." */
const char *mb_overlay_words(const struct mb_overlay *overlay);

#endif
