/*
 * Pages, drawn by cairo and pango: the only files that know them (canvas*.c). The same calls make
 * a PDF of many pages, one SVG or one PNG.
 *
 * Units: millimetres from the top left corner of the page; sizes of letters in points. On a canvas
 * of 25.4 dpi a millimetre is a pixel, which suits drawing over a photo.
 *
 * The same calls give the same bytes, on the same machine with the same fonts: the one date in a
 * PDF is the caller's.
 *
 * Errors: lines, areas and codes cannot be refused one by one; what goes wrong there sticks and is
 * told by mb_canvas_finish. Texts and photos come from other people and are refused at once, with
 * nothing drawn; the canvas stays good.
 *
 * A canvas belongs to one thread at a time.
 */
#ifndef MB_CANVAS_H
#define MB_CANVAS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <markerbed/arena.h>

#include "picture.h"
#include "qr.h"

/* ---- the canvas ---- */

typedef struct mb_canvas mb_canvas;

enum mb_canvas_form { MB_CANVAS_PDF, MB_CANVAS_SVG, MB_CANVAS_PNG };

#define MB_A4_WIDTH_MM 210.0 /* ISO 216 */
#define MB_A4_HEIGHT_MM 297.0
#define MB_LETTER_WIDTH_MM 215.9 /* ANSI/ASME Y14.1: 8.5 x 11 in */
#define MB_LETTER_HEIGHT_MM 279.4

struct mb_canvas_setup {
    enum mb_canvas_form form;
    double width_mm, height_mm; /* 5-3000 (PDF, PNG), up to 30000 (SVG) */
    double dpi; /* PNG only: 10-1200; at most 20000 pixels a side, 64 million in all */
    /* PDF only. One line of UTF-8 each; NULL or empty leaves it out. */
    const char *title, *author, *subject;
    int64_t created; /* seconds since 1970 */
};

/* The first page is open at once. PDF: its creator is "Markerbed". MB_REFUSED for sizes out of
 * range, MB_UNABLE if no font is installed. */
MB_CHECK enum mb_rc mb_canvas_open(const struct mb_canvas_setup *setup, mb_canvas **out,
                                   struct mb_error *err);
/* Ends the page and begins another; PDF only. */
void mb_canvas_page(mb_canvas *canvas);
int mb_canvas_pages(const mb_canvas *canvas); /* begun so far */
/* Ends the drawing and hands out the file; nothing may be drawn behind it. */
MB_CHECK enum mb_rc mb_canvas_finish(mb_canvas *canvas, mb_arena *arena, struct mb_str *out,
                                     struct mb_error *err);
void mb_canvas_close(mb_canvas *canvas); /* accepts NULL; its blocks go with it */

static inline void mb_canvas_close_auto(mb_canvas **canvas)
{
    mb_canvas_close(*canvas);
}
#define MB_CANVAS_AUTO __attribute__((cleanup(mb_canvas_close_auto)))

/* Drops this thread's fonts, at the end of the program or between tests; drawing afterwards works
 * again, but pays for looking them up. What fontconfig and cairo keep besides is left to the end of
 * the process: their own ways of dropping it abort where a font is still in use anywhere. */
void mb_canvas_shutdown(void);

/* Everything between push and pop is drawn around (x, y) as the origin, turned clockwise; the clip
 * keeps what is drawn within the box. Each clip and push needs its pop. */
void mb_canvas_push(mb_canvas *canvas, double x_mm, double y_mm, double turn_degrees);
void mb_canvas_clip(mb_canvas *canvas, double x_mm, double y_mm, double width_mm,
                    double height_mm);
void mb_canvas_pop(mb_canvas *canvas);

/* ---- ink, lines, areas ---- */

struct mb_mm {
    double x, y;
};

struct mb_mm_box {
    double x, y, width, height;
};

struct mb_ink {
    uint32_t rgb; /* 0xRRGGBB */
    double fade;  /* 0 covers all, 1 is not seen */
};

struct mb_stroke {
    double width_mm;
    struct mb_ink ink;
    double dash_mm, gap_mm; /* both 0: an unbroken line */
};

/* Patterns that stay apart in black and white. They are drawn as lines, never as a picture, so
 * they are sharp at every size. */
enum mb_pattern {
    MB_PATTERN_NONE,  /* only the ground, if any */
    MB_PATTERN_SOLID, /* ink all over */
    MB_PATTERN_LINES,
    MB_PATTERN_CROSS, /* two sets of lines at right angles */
    MB_PATTERN_DASHES,
    MB_PATTERN_DOTS,
    MB_PATTERN_RINGS,
    MB_PATTERN_BRICKS
};

struct mb_fill {
    enum mb_pattern pattern;
    struct mb_ink ink;
    double step_mm;      /* from line to line; at least 0.2; 0 means 2 */
    double line_mm;      /* width of lines and dots; 0 means an eighth of the step */
    double turn_degrees; /* of the whole pattern, clockwise */
    bool ground;         /* first cover the area with ground_ink */
    struct mb_ink ground_ink;
};

/* A closed outline; the last point joins the first. */
struct mb_mm_ring {
    const struct mb_mm *points;
    size_t count;
};

void mb_canvas_line(mb_canvas *canvas, double x1_mm, double y1_mm, double x2_mm, double y2_mm,
                    const struct mb_stroke *stroke);
void mb_canvas_polyline(mb_canvas *canvas, const struct mb_mm *points, size_t count,
                        const struct mb_stroke *stroke);
/* fill and stroke may be NULL. */
void mb_canvas_rect(mb_canvas *canvas, double x_mm, double y_mm, double width_mm, double height_mm,
                    const struct mb_fill *fill, const struct mb_stroke *stroke);
void mb_canvas_circle(mb_canvas *canvas, double x_mm, double y_mm, double radius_mm,
                      const struct mb_fill *fill, const struct mb_stroke *stroke);
/* Rings within rings are holes (even-odd rule). */
void mb_canvas_shape(mb_canvas *canvas, const struct mb_mm_ring *rings, size_t count,
                     const struct mb_fill *fill, const struct mb_stroke *stroke);

/* A square of side_mm, white, with the code and its quiet zone inside: black rectangles, no image,
 * sharp at every size. */
void mb_canvas_qr(mb_canvas *canvas, const struct mb_qr *qr, double x_mm, double y_mm,
                  double side_mm);

/* ---- photos ---- */

enum mb_fit {
    MB_FIT_MIDDLE, /* in the middle of the box */
    MB_FIT_CORNER, /* at its top left */
    MB_FIT_STRETCH /* fills the box, its proportions lost */
};

/*
 * Draws the photo upright, as large as the box allows, and says in *drawn (may be NULL) where it
 * came to lie. A JPEG goes into a PDF byte for byte, with whatever metadata it has: give it the
 * cleaned copy (mb_picture_clean) where place or people are withheld; an SVG gets it cleaned. The
 * same bytes on several pages are stored once. The pixel data is read through first, so that no
 * damaged photo gets onto paper (about 4 ms a megapixel): MB_REFUSED.
 */
MB_CHECK enum mb_rc mb_canvas_picture(mb_canvas *canvas, const struct mb_picture *picture,
                                      struct mb_mm_box box, enum mb_fit fit,
                                      struct mb_mm_box *drawn, struct mb_error *err);

/* ---- text ---- */

enum mb_align { MB_ALIGN_START, MB_ALIGN_MIDDLE, MB_ALIGN_END }; /* START: right in Arabic */

/* How letters look. The family is DejaVu Sans, and any installed font for letters it has not. */
struct mb_type {
    double size_pt;      /* 2-400; 0 means 10 */
    int weight;          /* 100-900; 0 means 400; 700 is bold */
    bool italic, mono;
    struct mb_ink ink;
    enum mb_align align;
    double leading;      /* height of a line against the font's own; 0 means 1; 0.8-3 */
    double between_mm;   /* extra room between paragraphs (parted by line ends) */
};

struct mb_run {
    struct mb_str text;
    struct mb_type type; /* align, leading and between_mm count in the first run alone */
};

/*
 * A text broken into lines of at most width_mm (0: only at line ends), at words where it can be and
 * within a word where it must; it belongs to the canvas. It remembers how far it was drawn, so that
 * a long text flows over pages:
 *
 *     while (!mb_block_done(block)) {
 *         if (mb_block_fits(block, bottom - y) == 0) { start a page; y = top; }
 *         y += mb_block_draw(block, x, y, bottom - y);
 *     }
 *
 * (At the top of a page draw with INFINITY if even one line does not fit, to be sure to get on.)
 * Lines are never cut, and never lie on each other: a line whose letters reach higher or lower than
 * the font says takes more room, up to three times its height.
 *
 * A tab prints as a space, a Unicode noncharacter as a box. A line that is not to be wrapped is
 * broken all the same after 2 KiB.
 *
 * MB_REFUSED if the text is longer than 1 MiB or 65,535 lines, is not UTF-8 or has control or
 * bidirectional formatting characters (base/text.h).
 */
typedef struct mb_block mb_block;

#define MB_BLOCK_BYTES_MAX 1048576

MB_CHECK enum mb_rc mb_block_new(mb_canvas *canvas, const struct mb_type *type, struct mb_str text,
                                 double width_mm, mb_block **out, struct mb_error *err);
MB_CHECK enum mb_rc mb_block_new_runs(mb_canvas *canvas, const struct mb_run *runs, size_t count,
                                      double width_mm, mb_block **out, struct mb_error *err);
void mb_block_free(mb_block *block); /* accepts NULL; only to save memory */

/* Of what is not yet drawn: */
double mb_block_height(const mb_block *block);
size_t mb_block_lines(const mb_block *block);
bool mb_block_done(const mb_block *block);
/* Height of as many lines as fit into height_mm, 0 if not even one does. Where there is a choice,
 * neither the first nor the last line of a paragraph is parted from the rest of it. */
double mb_block_fits(const mb_block *block, double height_mm);
/* Draws them with the top left corner at (x, y), and tells the height it took. */
double mb_block_draw(mb_block *block, double x_mm, double y_mm, double height_mm);

double mb_block_width(const mb_block *block); /* of the widest line of all */
/* Characters for which no font is installed: they show as boxes with their code. In a paragraph
 * over 2 KiB a few may be counted twice. */
size_t mb_block_missing(const mb_block *block);

/* One call for short texts: lays out, draws all, tells the height (may be NULL). */
MB_CHECK enum mb_rc mb_canvas_text(mb_canvas *canvas, const struct mb_type *type,
                                   struct mb_str text, double x_mm, double y_mm, double width_mm,
                                   double *height_mm, struct mb_error *err);

#endif
