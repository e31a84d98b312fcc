/* What the canvas*.c files share; nobody else includes this, for here cairo and pango are seen. */
#ifndef MB_CANVAS_PRIV_H
#define MB_CANVAS_PRIV_H

#include <cairo/cairo.h>
#include <pango/pango.h>

#include "buf.h"
#include "canvas.h"
#include "codec.h"

#define MB_MM_PER_POINT (25.4 / 72)
#define MB_FAR_MM 100000.0 /* no coordinate is farther out than this */

struct mb_stored_picture {
    struct mb_stored_picture *next;
    struct mb_hash hash; /* of the file */
    int page;            /* on which it was drawn last */
    cairo_surface_t *surface;
};

struct mb_canvas {
    enum mb_canvas_form form;
    mb_arena *arena;
    cairo_surface_t *surface;
    cairo_t *cr;         /* its unit is the millimetre */
    PangoContext *rightward, *leftward; /* by the direction of writing; their unit is the point */
    double points_wide, points_high;
    double px_per_mm;    /* of a PNG */
    int pages, pushed;
    bool finished;
    struct mb_buf bytes;
    struct mb_error trouble; /* the first thing that went wrong in a drawing call */
    mb_block *blocks;
    struct mb_stored_picture *pictures;
};

/* False, and trouble noted, if the canvas is finished or a number is not a sane coordinate. */
bool mb_canvas_may_draw(mb_canvas *canvas, const double *numbers, size_t count);
void mb_canvas_use_ink(mb_canvas *canvas, struct mb_ink ink);

/* canvas_text.c: MB_UNABLE if there is no font at all. */
MB_CHECK enum mb_rc mb_canvas_open_text(mb_canvas *canvas, struct mb_error *err);
void mb_canvas_close_text(mb_canvas *canvas);
/* Puts U+FFFD or a private character, as long in bytes, for each Unicode noncharacter: they are
 * UTF-8, but cairo stops at them. text is known to be UTF-8. */
void mb_canvas_drop_noncharacters(char *text, size_t len);
PangoFontDescription *mb_canvas_font(const struct mb_type *type);
void mb_canvas_put_type(PangoAttrList *list, const struct mb_type *type, size_t from, size_t to);

void mb_canvas_close_pictures(mb_canvas *canvas);

#endif
