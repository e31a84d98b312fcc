/*
 * The drawn views on a sheet: the photo with its regions over it (overlay.h), out of the outlines
 * that travel with the certificate. Nothing is drawn where they do not.
 */
#ifndef MB_SHEET_DRAWING_H
#define MB_SHEET_DRAWING_H

#include "buf.h"
#include "overlay.h"
#include "sheet_layout.h"

/* Adds an item for each view of the newest look at the piece that has measured shares. */
void mb_page_drawings(struct mb_page *page);
/* On paper, on one page. */
void mb_sheet_drawing(struct mb_sheet *sheet, const struct mb_page_item *item);
/* For a page in a browser: an <img> with everything in it, and its words. */
void mb_drawing_html(struct mb_buf *out, const struct mb_page_item *item);

#endif
