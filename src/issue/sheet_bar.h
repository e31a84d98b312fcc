/*
 * A share as a bar: 100 % wide, filled up to its figure with the patterns of its substances, its
 * range a line with ends across below; of a band, a dashed box over all that it may be, with
 * nothing at any one place.
 */
#ifndef MB_SHEET_BAR_H
#define MB_SHEET_BAR_H

#include "buf.h"
#include "canvas.h"
#include "sheet_page.h"

#define MB_BAR_HIGH_MM 6.6 /* with the range */

#define MB_BAR_SAMPLE_MM 12.0

/* The bar begins at x; where it has one substance, a sample of its pattern at sample_x, for a small
 * share is too narrow to show it. */
void mb_bar_draw(mb_canvas *canvas, const struct mb_page_item *item, double sample_x, double x,
                 double y, double width);
/* For a page in a browser: an <img>; the words stand beside it. */
void mb_bar_html(struct mb_buf *out, mb_arena *arena, const struct mb_page_item *item);

#endif
