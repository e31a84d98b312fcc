#include "labels_sheet.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"

#define LABEL_WIDTH_MIN_MM 20.0
#define LABEL_HEIGHT_MIN_MM 8.0
#define SLACK_MM 0.05 /* inches on paper are not whole millimetres */
#define NUMBER_MOST_PT 16.0
#define NUMBER_LEAST_PT 6.0
#define WORDS_MOST_PT 9.0
#define WORDS_LEAST_PT 5.5
#define SMALL_PT 5.0
#define SIDE_MOST_MM 24.0

/* ---- sheets ---- */

/* Common practice, no source: sizes in which self-adhesive sheets are sold, by their measures. */
static const struct mb_label_sheet sheets[] = {
    { "A4-8", 210, 297, 105, 71, 0, 6.5, 0, 0 },
    { "A4-10", 210, 297, 105, 57, 0, 6, 0, 0 },
    { "A4-21", 210, 297, 63.5, 38.1, 7.25, 15.15, 2.5, 0 },
    { "A4-24", 210, 297, 70, 37, 0, 0.5, 0, 0 },
    { "A4-40", 210, 297, 48.5, 25.4, 8, 21.5, 0, 0 },
    { "A4-65", 210, 297, 38.1, 21.2, 4.75, 10.7, 2.5, 0 },
    { "A4-70", 210, 297, 25, 25, 10, 13.5, 2.5, 2.2 },
    { "Letter-10", 215.9, 279.4, 101.6, 50.8, 3.95, 12.7, 4.8, 0 },
    { "Letter-30", 215.9, 279.4, 66.675, 25.4, 4.7625, 12.7, 3.175, 0 },
    { "Letter-48", 215.9, 279.4, 25.4, 25.4, 14.3, 17.8, 7.2, 5.1 },
};

bool mb_label_measure(const char *text, double *width, double *height)
{
    char *end;

    if (*text < '0' || *text > '9')
        return false;
    *width = strtod(text, &end);
    if (*end != 'x' || end[1] < '0' || end[1] > '9')
        return false;
    *height = strtod(end + 1, &end);
    return *end == '\0' && isfinite(*width) && isfinite(*height);
}

static const struct mb_label_sheet *sheet_named(const char *name)
{
    for (size_t i = 0; i < sizeof sheets / sizeof *sheets; i++)
        if (strcmp(sheets[i].name, name) == 0)
            return &sheets[i];
    return NULL;
}

/* How many fit: n labels and the gaps between them. */
static size_t fit(double room, double label, double gap)
{
    double n = floor((room + gap + SLACK_MM) / (label + gap));

    return n < 1 ? 0 : (size_t)n;
}

enum mb_rc mb_label_grid(const struct mb_label_sheet *sheet, struct mb_label_grid *out,
                         struct mb_error *err)
{
    struct mb_label_sheet s = *sheet;

    if (sheet->name) {
        const struct mb_label_sheet *named = sheet_named(sheet->name);

        if (!named)
            return mb_fail(err, MB_REFUSED,
                           "there is no sheet '%s'; `markerbed labels --sheets` shows them, or give"
                           " its measures: --sheet 210x297 --label 40x30",
                           sheet->name);
        s = *named;
    }
    if (s.label_width < LABEL_WIDTH_MIN_MM || s.label_height < LABEL_HEIGHT_MIN_MM)
        return mb_fail(err, MB_REFUSED,
                       "labels of %g x %g mm are too small to be read; 20 x 8 mm are the least",
                       s.label_width, s.label_height);
    /* what is left of the paper on the far side may be as narrow as one likes */
    *out = (struct mb_label_grid){ .page_width = s.page_width, .page_height = s.page_height,
                                   .width = s.label_width, .height = s.label_height,
                                   .left = s.margin_left, .top = s.margin_top,
                                   .step_across = s.label_width + s.gap_across,
                                   .step_down = s.label_height + s.gap_down };
    out->across = fit(s.page_width - s.margin_left * (sheet->name ? 1 : 2), s.label_width,
                      s.gap_across);
    out->down = fit(s.page_height - s.margin_top * (sheet->name ? 1 : 2), s.label_height,
                    s.gap_down);
    if (out->across == 0 || out->down == 0)
        return mb_fail(err, MB_REFUSED, "a label of %g x %g mm does not fit on %g x %g mm of paper",
                       s.label_width, s.label_height, s.page_width, s.page_height);
    return MB_OK;
}

const mb_json *mb_label_sheets(mb_arena *arena)
{
    mb_json *list = mb_json_array(arena);

    for (size_t i = 0; i < sizeof sheets / sizeof *sheets; i++) {
        const struct mb_label_sheet *s = &sheets[i];
        mb_json *one = mb_json_add(list, mb_json_object(arena));
        struct mb_label_grid grid;

        if (mb_label_grid(s, &grid, NULL) != MB_OK)
            continue;
        mb_json_put_text(arena, one, "name", s->name);
        mb_json_put_text(arena, one, "page",
                         mb_arena_printf(arena, "%g x %g", s->page_width, s->page_height));
        mb_json_put_text(arena, one, "label",
                         mb_arena_printf(arena, "%g x %g", s->label_width, s->label_height));
        mb_json_put_int(arena, one, "across", (int64_t)grid.across);
        mb_json_put_int(arena, one, "down", (int64_t)grid.down);
    }
    return list;
}

/* ---- one label ---- */

static const struct mb_ink black = { 0x000000, 0 };
static const struct mb_ink grey = { 0x404040, 0 };

/* Level M where there is room, L on small labels. */
static enum mb_rc make_code(mb_arena *arena, const struct mb_label *label, double side,
                            const struct mb_qr **out, struct mb_error *err)
{
    static const enum mb_qr_level levels[] = { MB_QR_LEVEL_M, MB_QR_LEVEL_L };
    enum mb_rc rc = MB_OK;

    for (int i = 0; i < 2 && !rc; i++) {
        rc = mb_qr_make(arena, mb_str_of(label->code), levels[i], out, err);
        if (!rc && mb_qr_module_mm(*out, side) >= MB_LABEL_MODULE_MM)
            return MB_OK;
    }
    if (!rc)
        rc = mb_fail(err, MB_REFUSED,
                     "the code of %s needs %.0f mm to be read and has %.0f on this label: take a"
                     " larger one",
                     label->number,
                     ceil(MB_LABEL_MODULE_MM * ((*out)->side + 2 * MB_QR_QUIET)), floor(side));
    return rc;
}

/* Modules of whole dots of a 300 dpi printer come out all alike. */
static double whole_dots(const struct mb_qr *qr, double side)
{
    const double dot = 25.4 / 300;

    return floor(mb_qr_module_mm(qr, side) / dot + 0.001) * dot * (qr->side + 2 * MB_QR_QUIET);
}

/* The largest size at which the text stays within the box; the least where none does. */
static enum mb_rc fitting(mb_canvas *canvas, struct mb_type *type, const char *text, double width,
                          double height, double most, double least, mb_block **out,
                          struct mb_error *err)
{
    for (double size = most;; size -= 0.5) {
        enum mb_rc rc;

        type->size_pt = size > least ? size : least;
        rc = mb_block_new(canvas, type, mb_str_of(text), width, out, err);
        if (rc || size <= least
            || (mb_block_height(*out) <= height && mb_block_width(*out) <= width + SLACK_MM))
            return rc;
        mb_block_free(*out);
    }
}

/* On one line if a letter size for that is to be had; else over as many as it needs, but whole. */
static enum mb_rc draw_number(mb_canvas *canvas, const char *number, struct mb_mm_box box,
                              double most, double *took, struct mb_error *err)
{
    struct mb_type type = { .weight = 700, .ink = black };
    double size = NUMBER_MOST_PT;
    mb_block *block = NULL;
    enum mb_rc rc = MB_OK;

    for (; !rc && size > NUMBER_LEAST_PT; size -= 0.5) {
        type.size_pt = size;
        rc = mb_block_new(canvas, &type, mb_str_of(number), 0, &block, err);
        if (rc || (mb_block_width(block) <= box.width && mb_block_height(block) <= box.height))
            break;
        mb_block_free(block);
        block = NULL;
    }
    if (!rc && !block)
        rc = fitting(canvas, &type, number, box.width, box.height, NUMBER_MOST_PT / 2,
                     NUMBER_LEAST_PT, &block, err);
    if (!rc && mb_block_height(block) > most)
        rc = mb_fail(err, MB_REFUSED, "the number %s does not fit on this label: take a larger one",
                     number);
    if (!rc)
        *took = mb_block_draw(block, box.x, box.y, most);
    return rc;
}

/* Lines that do not fit at the least size are left off at a line's end, never cut through. */
static enum mb_rc draw_words(mb_canvas *canvas, const char *text, double most, double least,
                             struct mb_ink ink, struct mb_mm_box box, double *took,
                             struct mb_error *err)
{
    struct mb_type type = { .ink = ink };
    mb_block *block;
    enum mb_rc rc;

    *took = 0;
    if (!text || !*text || box.height <= 0)
        return MB_OK;
    rc = fitting(canvas, &type, text, box.width, box.height, most, least, &block, err);
    if (!rc && mb_block_fits(block, box.height) > 0)
        *took = mb_block_draw(block, box.x, box.y, box.height);
    return rc;
}

static enum mb_rc draw_blanks(mb_canvas *canvas, const char *const *blanks, struct mb_mm_box box,
                              struct mb_error *err)
{
    const struct mb_stroke line = { .width_mm = 0.15, .ink = grey };
    const struct mb_type type = { .size_pt = 6, .ink = grey };
    size_t count = 0, n;
    double step;
    enum mb_rc rc = MB_OK;

    while (blanks[count])
        count++;
    n = (size_t)(box.height / 4.5); /* no hand writes smaller */
    if (n > count)
        n = count;
    step = n ? box.height / (double)n : 0;
    if (step > 8)
        step = 8;
    for (size_t i = 0; !rc && i < n; i++) {
        double y = box.y + step * (double)(i + 1) - 0.6;

        rc = mb_canvas_text(canvas, &type, mb_str_of(blanks[i]), box.x, y - 2.6, box.width, NULL,
                            err);
        mb_canvas_line(canvas, box.x + fmin(14, box.width / 3), y, box.x + box.width, y, &line);
    }
    return rc;
}

static enum mb_rc draw_texts(mb_canvas *canvas, const struct mb_label *label,
                             struct mb_mm_box box, struct mb_error *err)
{
    const double foot = label->small ? 2.4 : 0;
    struct mb_mm_box rest = box;
    double took = 0;
    enum mb_rc rc;

    rest.height = (box.height - foot) * (label->what || label->blanks ? 0.5 : 1);
    rc = draw_number(canvas, label->number, rest, box.height - foot, &took, err);
    rest.y += took + 0.3;
    rest.height = box.y + box.height - foot - rest.y;
    if (!rc && label->blanks && rest.height > 4.5)
        rc = draw_blanks(canvas, label->blanks, rest, err);
    else if (!rc)
        rc = draw_words(canvas, label->what, WORDS_MOST_PT, WORDS_LEAST_PT, black, rest, &took,
                        err);
    if (rc || !label->small)
        return rc;
    rest.y = box.y + box.height - foot;
    rest.height = foot;
    return draw_words(canvas, label->small, SMALL_PT, 4, grey, rest, &took, err);
}

enum mb_rc mb_label_draw(mb_canvas *canvas, mb_arena *arena, const struct mb_label *label,
                         struct mb_mm_box box, struct mb_error *err)
{
    const double edge = fmin(1.5, fmin(box.width, box.height) * 0.06);
    const bool wide = box.width >= box.height * 1.2;
    struct mb_mm_box text = { box.x + edge, box.y + edge, box.width - 2 * edge,
                              box.height - 2 * edge };
    double side = wide ? fmin(text.height, text.width * 0.55)
                       : fmin(text.width, text.height * 0.62);
    const struct mb_qr *qr;
    enum mb_rc rc;

    if (side > SIDE_MOST_MM)
        side = SIDE_MOST_MM;
    rc = make_code(arena, label, side, &qr, err);
    if (rc)
        return rc;
    side = whole_dots(qr, side);
    mb_canvas_clip(canvas, box.x, box.y, box.width, box.height);
    mb_canvas_qr(canvas, qr, wide ? text.x : text.x + (text.width - side) / 2, text.y, side);
    if (wide) {
        text.x += side + 0.6;
        text.width -= side + 0.6;
    } else {
        text.y += side;
        text.height -= side;
    }
    rc = draw_texts(canvas, label, text, err);
    mb_canvas_pop(canvas);
    return rc;
}
