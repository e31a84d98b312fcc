#include "canvas.h"

#include <math.h>
#include <string.h>

#include <pango/pangocairo.h>

#include "canvas_priv.h"
#include "text.h"

#define POINTS(units) ((double)(units) / PANGO_SCALE)
#define TALLEST 3.0   /* a line may take so many times its own height */
#define PIECE 2048    /* bytes given to pango at once */
#define LINES_MAX 65535
#define KEPT_MAX 64   /* pieces whose layout is kept between measuring and drawing */

/*
 * Pango's time grows with the square of a paragraph, and past some millions of points its widths
 * overflow. So a block is laid out in pieces: each paragraph by itself, and of a long one as much
 * as a few dozen lines. Where a piece ends within a paragraph its last line is laid out again as
 * the first one of the next piece, so no seam is seen.
 */
struct piece {
    size_t from, to; /* bytes given to pango */
    size_t run;      /* the run in which it begins */
    bool leftward;
    PangoLayout *layout; /* NULL: to be made again for drawing */
};

struct line {
    uint32_t piece;
    uint16_t nth;          /* in its piece */
    bool opens;            /* a paragraph */
    bool clip;             /* its letters would reach out of even the tallest line */
    float width;           /* all in points */
    float ascent, height;  /* baseline below the top of the line */
    float before;          /* room above */
};

struct mb_block {
    mb_block *next, *previous;
    mb_canvas *canvas;
    mb_arena *arena;
    struct mb_run *runs; /* their texts lie one behind the other in `text` */
    size_t run_count;
    struct mb_str text;
    struct mb_buf pieces, lines;
    size_t drawn, missing;
    double limit, width; /* points; limit 0: none */
    PangoLayout *current; /* made again for drawing piece number current_of */
    size_t current_of;
};

static struct piece *piece_at(const mb_block *b, size_t i)
{
    return (struct piece *)(void *)b->pieces.at + i;
}

static struct line *line_at(const mb_block *b, size_t i)
{
    return (struct line *)(void *)b->lines.at + i;
}

static size_t line_count(const mb_block *b)
{
    return b->lines.len / sizeof(struct line);
}

/* ---- laying out ---- */

static PangoLayout *lay_out(const mb_block *b, const struct piece *p, bool find_direction)
{
    PangoLayout *layout =
        pango_layout_new(p->leftward ? b->canvas->leftward : b->canvas->rightward);
    PangoAttrList *list = pango_attr_list_new();
    PangoFontDescription *font = mb_canvas_font(&b->runs[p->run].type);

    for (size_t i = p->run; i < b->run_count; i++) {
        size_t start = (size_t)(b->runs[i].text.at - b->text.at), end = start + b->runs[i].text.len;

        if (start >= p->to && i > p->run)
            break;
        mb_canvas_put_type(list, &b->runs[i].type, start > p->from ? start - p->from : 0,
                           (end < p->to ? end : p->to) - p->from);
    }
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    pango_layout_set_auto_dir(layout, find_direction);
    pango_layout_set_width(layout, b->limit > 0 ? (int)(b->limit * PANGO_SCALE) : -1);
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_attributes(layout, list);
    pango_attr_list_unref(list);
    pango_layout_set_text(layout, b->text.at + p->from, (int)(p->to - p->from));
    return layout;
}

/* The line's own box, grown to what its letters really cover. */
static struct line measure(PangoLayoutIter *iter, const struct mb_type *type)
{
    PangoRectangle ink, box;
    double leading = type->leading > 0 ? fmin(fmax(type->leading, 0.8), 3) : 1;
    double own, over, under, most, spare;
    struct line l = { 0 };

    pango_layout_iter_get_line_extents(iter, &ink, &box);
    own = POINTS(box.height);
    most = own * (TALLEST - 1) / 2;
    spare = own * (leading - 1) / 2;
    over = under = spare;
    if (ink.height > 0) {
        over = fmax(POINTS(box.y - ink.y), spare);
        under = fmax(POINTS(ink.y + ink.height - box.y - box.height), spare);
    }
    l.clip = over > most || under > most;
    over = fmin(over, most);
    under = fmin(under, most);
    l.width = (float)POINTS(box.width);
    l.ascent = (float)(over + POINTS(pango_layout_iter_get_baseline(iter) - box.y));
    l.height = (float)(over + own + under);
    return l;
}

/* Notes the lines of a piece; of one that breaks off within a paragraph all but the last, unless
 * it has only one. Returns where the next piece begins. */
static size_t note_lines(mb_block *b, const struct piece *p, bool paragraph_start,
                         bool paragraph_end)
{
    PangoLayoutIter *iter = pango_layout_get_iter(p->layout);
    int count = pango_layout_get_line_count(p->layout), used = count;
    size_t next = p->to;

    if (!paragraph_end && count > 1) {
        used = count - 1;
        next = p->from + (size_t)pango_layout_get_line_readonly(p->layout, used)->start_index;
    }
    for (int i = 0; i < used; i++) {
        struct line l = measure(iter, &b->runs[0].type);

        l.piece = (uint32_t)(b->pieces.len / sizeof *p);
        l.nth = (uint16_t)i;
        l.opens = i == 0 && paragraph_start;
        if (l.opens && p->from > 0)
            l.before = (float)(fmax(b->runs[0].type.between_mm, 0) / MB_MM_PER_POINT);
        b->width = fmax(b->width, l.width);
        mb_buf_add(&b->lines, &l, sizeof l);
        pango_layout_iter_next_line(iter);
    }
    pango_layout_iter_free(iter);
    return next;
}

static size_t piece_end(const mb_block *b, size_t from, size_t end)
{
    if (end - from <= PIECE)
        return end;
    end = from + PIECE;
    while (end > from + 1 && ((unsigned char)b->text.at[end] & 0xC0) == 0x80)
        end--;
    return end;
}

/* The first letter decides for all of a paragraph (Unicode standard annex 9, P2 and P3). */
static bool begins_leftward(PangoLayout *layout)
{
    PangoLayoutLine *line = pango_layout_get_line_readonly(layout, 0);

    return pango_layout_line_get_resolved_direction(line) == PANGO_DIRECTION_RTL;
}

static void lay_out_paragraph(mb_block *b, size_t from, size_t end, size_t *run)
{
    bool leftward = false;
    size_t at = from;

    do {
        struct piece p = { .from = at, .to = piece_end(b, at, end), .leftward = leftward };

        while (*run + 1 < b->run_count &&
               (size_t)(b->runs[*run + 1].text.at - b->text.at) <= at)
            (*run)++;
        p.run = *run;
        p.layout = lay_out(b, &p, at == from);
        if (at == from)
            p.leftward = leftward = begins_leftward(p.layout);
        b->missing += (size_t)pango_layout_get_unknown_glyphs_count(p.layout);
        at = note_lines(b, &p, at == from, p.to == end);
        if (b->pieces.len / sizeof p >= KEPT_MAX)
            g_clear_object(&p.layout);
        mb_buf_add(&b->pieces, &p, sizeof p);
    } while (at < end && mb_buf_ok(&b->lines));
}

static void lay_out_all(mb_block *b)
{
    size_t from = 0, run = 0;

    for (;;) {
        const char *line_end = memchr(b->text.at + from, '\n', b->text.len - from);
        size_t end = line_end ? (size_t)(line_end - b->text.at) : b->text.len;

        lay_out_paragraph(b, from, end, &run);
        if (!line_end || !mb_buf_ok(&b->lines))
            return;
        from = end + 1;
    }
}

/* ---- making ---- */

static enum mb_rc check_runs(const struct mb_run *runs, size_t count, double width_mm,
                             struct mb_error *err)
{
    size_t len = 0;

    if (count == 0)
        return mb_fail(err, MB_REFUSED, "a text to be printed has no parts");
    if (!(width_mm >= 0 && width_mm <= 20000))
        return mb_fail(err, MB_REFUSED, "a text cannot be %g mm wide", width_mm);
    for (size_t i = 0; i < count; i++) {
        const struct mb_type *t = &runs[i].type;

        if (t->size_pt != 0 && !(t->size_pt >= 2 && t->size_pt <= 400))
            return mb_fail(err, MB_REFUSED, "letters cannot be %g points high; allowed are 2-400",
                           t->size_pt);
        if (!mb_text_allowed(runs[i].text, true))
            return mb_fail(err, MB_REFUSED,
                           "a text to be printed is not UTF-8, or has control characters or marks "
                           "that turn the direction of writing; take them out");
        len += runs[i].text.len;
        if (len > MB_BLOCK_BYTES_MAX)
            return mb_fail(err, MB_REFUSED,
                           "a text to be printed is longer than %d KiB; shorten it",
                           MB_BLOCK_BYTES_MAX / 1024);
    }
    return MB_OK;
}

/* The runs' texts one behind the other; a tab is a space, for there are no tables in a text. */
static void copy_runs(mb_block *b, const struct mb_run *runs, size_t count)
{
    size_t len = 0;
    char *to;

    for (size_t i = 0; i < count; i++)
        len += runs[i].text.len;
    to = mb_arena_get(b->arena, len + 1);
    b->text = (struct mb_str){ to, len };
    b->runs = MB_ARRAY(b->arena, count, struct mb_run);
    b->run_count = count;
    for (size_t i = 0; i < count; i++) {
        b->runs[i] = (struct mb_run){ { to, runs[i].text.len }, runs[i].type };
        for (size_t k = 0; k < runs[i].text.len; k++, to++)
            *to = runs[i].text.at[k] == '\t' ? ' ' : runs[i].text.at[k];
    }
    mb_canvas_drop_noncharacters(to - len, len);
}

enum mb_rc mb_block_new_runs(mb_canvas *canvas, const struct mb_run *runs, size_t count,
                             double width_mm, mb_block **out, struct mb_error *err)
{
    enum mb_rc rc = check_runs(runs, count, width_mm, err);
    mb_arena *arena;
    mb_block *b;

    if (rc)
        return rc;
    arena = mb_arena_new();
    b = MB_NEW(arena, mb_block);
    b->arena = arena;
    b->canvas = canvas;
    b->limit = width_mm / MB_MM_PER_POINT;
    b->next = canvas->blocks;
    if (b->next)
        b->next->previous = b;
    canvas->blocks = b;
    mb_buf_init(&b->lines, LINES_MAX * sizeof(struct line));
    mb_buf_init(&b->pieces, (LINES_MAX + 1) * sizeof(struct piece));
    copy_runs(b, runs, count);
    lay_out_all(b);
    if (!mb_buf_ok(&b->lines)) {
        mb_block_free(b);
        return mb_fail(err, MB_REFUSED, "a text to be printed has more than %d lines; shorten it",
                       LINES_MAX);
    }
    *out = b;
    return MB_OK;
}

enum mb_rc mb_block_new(mb_canvas *canvas, const struct mb_type *type, struct mb_str text,
                        double width_mm, mb_block **out, struct mb_error *err)
{
    return mb_block_new_runs(canvas, &(struct mb_run){ text, *type }, 1, width_mm, out, err);
}

void mb_block_free(mb_block *block)
{
    if (!block)
        return;
    if (block->next)
        block->next->previous = block->previous;
    if (block->previous)
        block->previous->next = block->next;
    else
        block->canvas->blocks = block->next;
    for (size_t i = 0; i < block->pieces.len / sizeof(struct piece); i++)
        g_clear_object(&piece_at(block, i)->layout);
    g_clear_object(&block->current);
    mb_buf_done(&block->pieces);
    mb_buf_done(&block->lines);
    mb_arena_free(block->arena);
}

/* ---- asking ---- */

/* Room above is left out at the top of what is drawn in one go. */
static double line_step(const mb_block *b, size_t i, size_t top)
{
    const struct line *l = line_at(b, i);

    return (double)l->height + (i > top ? (double)l->before : 0);
}

static double height_of(const mb_block *b, size_t from, size_t to)
{
    double height = 0;

    for (size_t i = from; i < to; i++)
        height += line_step(b, i, from);
    return height * MB_MM_PER_POINT;
}

/* Moves a break up so that no line of a paragraph stands alone before or behind it. */
static size_t good_break(const mb_block *b, size_t end)
{
    size_t count = line_count(b);
    bool last_alone;

    if (end >= count || line_at(b, end)->opens)
        return end;
    last_alone = end + 1 == count || line_at(b, end + 1)->opens;
    if (last_alone && end > b->drawn + 1 && !line_at(b, end - 1)->opens)
        end--;
    if (end > b->drawn + 1 && line_at(b, end - 1)->opens)
        end--;
    return end;
}

/* Index behind the last line that fits. */
static size_t fitting(const mb_block *b, double height_mm)
{
    double left = height_mm / MB_MM_PER_POINT + 1e-3;
    size_t end = b->drawn, count = line_count(b);

    while (end < count && line_step(b, end, b->drawn) <= left)
        left -= line_step(b, end++, b->drawn);
    return good_break(b, end);
}

double mb_block_height(const mb_block *block)
{
    return height_of(block, block->drawn, line_count(block));
}

size_t mb_block_lines(const mb_block *block)
{
    return line_count(block) - block->drawn;
}

bool mb_block_done(const mb_block *block)
{
    return block->drawn == line_count(block);
}

double mb_block_fits(const mb_block *block, double height_mm)
{
    return height_of(block, block->drawn, fitting(block, height_mm));
}

double mb_block_width(const mb_block *block)
{
    return block->width * MB_MM_PER_POINT;
}

size_t mb_block_missing(const mb_block *block)
{
    return block->missing;
}

/* ---- drawing ---- */

static PangoLayoutLine *pango_line(mb_block *b, const struct line *l)
{
    const struct piece *p = piece_at(b, l->piece);

    if (p->layout)
        return pango_layout_get_line_readonly(p->layout, l->nth);
    if (!b->current || b->current_of != l->piece) {
        g_clear_object(&b->current);
        b->current = lay_out(b, p, false);
        b->current_of = l->piece;
    }
    return pango_layout_get_line_readonly(b->current, l->nth);
}

static double line_left(const mb_block *b, const struct line *l)
{
    double spare = (b->limit > 0 ? b->limit : b->width) - (double)l->width;
    bool leftward = piece_at(b, l->piece)->leftward;
    enum mb_align align = b->runs[0].type.align;

    if (spare <= 0 || align == MB_ALIGN_MIDDLE)
        return fmax(spare, 0) / 2;
    return (align == MB_ALIGN_END) != leftward ? spare : 0;
}

static void draw_line(mb_block *b, const struct line *l, double top)
{
    cairo_t *cr = b->canvas->cr;
    double left = line_left(b, l);

    cairo_save(cr);
    if (l->clip) {
        cairo_rectangle(cr, left - 1000, top, (double)l->width + 2000, (double)l->height);
        cairo_clip(cr);
    }
    cairo_move_to(cr, left, top + (double)l->ascent);
    pango_cairo_show_layout_line(cr, pango_line(b, l));
    cairo_restore(cr);
}

double mb_block_draw(mb_block *block, double x_mm, double y_mm, double height_mm)
{
    mb_canvas *c = block->canvas;
    size_t end = fitting(block, height_mm), from = block->drawn;
    double y = 0;

    if (mb_canvas_may_draw(c, (double[]){ x_mm, y_mm }, 2)) {
        cairo_save(c->cr);
        cairo_new_path(c->cr);
        cairo_translate(c->cr, x_mm, y_mm);
        cairo_scale(c->cr, MB_MM_PER_POINT, MB_MM_PER_POINT);
        for (size_t i = from; i < end; i++) {
            const struct line *l = line_at(block, i);

            y += line_step(block, i, from);
            draw_line(block, l, y - (double)l->height);
        }
        cairo_restore(c->cr);
    }
    block->drawn = end;
    return height_of(block, from, end);
}
