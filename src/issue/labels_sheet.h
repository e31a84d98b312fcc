/* Where labels lie on a sheet, and one label's drawing. */
#ifndef MB_LABELS_SHEET_H
#define MB_LABELS_SHEET_H

#include <markerbed/labels.h>

#include "canvas.h"

struct mb_label_grid {
    double page_width, page_height, width, height, left, top, step_across, step_down;
    size_t across, down;
};
/* MB_REFUSED where labels of this size do not fit on the page, or are under 20 x 8 mm. */
MB_CHECK enum mb_rc mb_label_grid(const struct mb_label_sheet *sheet, struct mb_label_grid *out,
                                  struct mb_error *err);

struct mb_label {
    const char *code;          /* what the QR code says */
    const char *number;        /* large */
    const char *what;          /* one or two lines under it; may be NULL */
    const char *small;         /* the ledger's origin */
    const char *const *blanks; /* tags: what is to be filled in, NULL-ended; or NULL */
};
/* Within the box: the code at the left of a wide label, at the top of others. MB_REFUSED where a
 * module of the code would be under MB_LABEL_MODULE_MM. */
#define MB_LABEL_MODULE_MM 0.30
MB_CHECK enum mb_rc mb_label_draw(mb_canvas *canvas, mb_arena *arena, const struct mb_label *label,
                                  struct mb_mm_box box, struct mb_error *err);

#endif
