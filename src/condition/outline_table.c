/* Point counts as a table: comma, semicolon or tab between the cells, one header line. */
#include "outline_build.h"

#include <string.h>

#include "drawnum.h"
#include "text.h"

enum column {
    COL_SUBSTANCE,
    COL_COUNT,
    COL_X,
    COL_Y,
    COL_VIEW,
    COL_INDIVIDUAL,
    COL_ELEMENT,
    COL_AREA,
    COL_LAYOUT,
    COLUMNS
};

static const char *const column_names[COLUMNS] = {
    "substance", "count", "x", "y", "view", "individual", "element", "areaMm2", "layout",
};

enum { CELLS_MAX = 32 };

/* The points of one count while they are read. */
struct pile {
    struct pile *next;
    const struct mb_view *view;
    struct mb_count *count;
    struct mb_xy *at;
    uint8_t *substance;
    size_t room;
};

struct table {
    mb_arena *arena;
    const struct mb_outlines_given *given;
    struct mb_outlines *all;
    char mark;             /* between cells */
    int place_of[COLUMNS]; /* index of the cell, -1 if the column is not there */
    size_t cells;          /* of the header */
    struct pile *piles;
    struct mb_error *err;
};

/* ---- lines and cells ------------------------------------------------------------------------- */

static bool next_line(struct mb_str *rest, struct mb_str *line)
{
    size_t len = 0;

    if (rest->len == 0)
        return false;
    while (len < rest->len && rest->at[len] != '\n' && rest->at[len] != '\r')
        len++;
    *line = (struct mb_str){ rest->at, len };
    if (len + 1 < rest->len && rest->at[len] == '\r' && rest->at[len + 1] == '\n')
        len++;
    if (len < rest->len)
        len++;
    rest->at += len;
    rest->len -= len;
    return true;
}

static bool nothing_on(struct mb_str line)
{
    struct mb_str text = mb_str_trim(line);

    return text.len == 0 || text.at[0] == '#';
}

/* One cell off the front of the line, quotation marks undone. False if they do not match. */
static bool next_cell(mb_arena *arena, struct mb_str *line, char mark, struct mb_str *cell)
{
    char *plain;
    size_t i = 1, len = 0;

    if (line->len == 0 || line->at[0] != '"') {
        mb_str_cut(*line, mark, cell, line);
        *cell = mb_str_trim(*cell);
        return true;
    }
    plain = mb_arena_get(arena, line->len);
    for (; i < line->len; i++) {
        if (line->at[i] == '"' && (i + 1 == line->len || line->at[i + 1] != '"'))
            break;
        i += line->at[i] == '"';
        plain[len++] = line->at[i];
    }
    if (i >= line->len || (i + 1 < line->len && line->at[i + 1] != mark))
        return false;
    i += i + 1 < line->len ? 2 : 1;
    line->at += i;
    line->len -= i;
    *cell = mb_str_trim((struct mb_str){ plain, len });
    return true;
}

static enum mb_rc cut_line(struct table *t, struct mb_str line, struct mb_str *cells, size_t *count)
{
    bool more = true;

    *count = 0;
    while (more) {
        if (*count == CELLS_MAX)
            return mb_fail(t->err, MB_REFUSED, "there are more than %d cells", CELLS_MAX);
        more = memchr(line.at, t->mark, line.len) != NULL;
        if (!next_cell(t->arena, &line, t->mark, &cells[*count]))
            return mb_fail(t->err, MB_REFUSED, "the quotation marks of cell %zu do not match",
                           *count + 1);
        (*count)++;
        more = more && line.len > 0;
    }
    return MB_OK;
}

/* ---- the header ------------------------------------------------------------------------------ */

static char mark_of(struct mb_str header)
{
    if (memchr(header.at, '\t', header.len))
        return '\t';
    return memchr(header.at, ';', header.len) ? ';' : ',';
}

static enum mb_rc read_header(struct table *t, struct mb_str line)
{
    struct mb_str cells[CELLS_MAX];
    size_t found;
    enum mb_rc rc;

    t->mark = mark_of(line);
    rc = cut_line(t, line, cells, &t->cells);
    for (size_t i = 0; i < COLUMNS; i++)
        t->place_of[i] = -1;
    for (size_t i = 0; i < t->cells && rc == MB_OK; i++) {
        rc = mb_word_find(cells[i], "the column", column_names, COLUMNS, &found, t->err);
        if (rc == MB_OK && t->place_of[found] >= 0)
            rc = mb_fail(t->err, MB_REFUSED, "the column '%s' is there twice", column_names[found]);
        if (rc == MB_OK)
            t->place_of[found] = (int)i;
    }
    if (rc != MB_OK)
        return rc;
    if (t->place_of[COL_SUBSTANCE] < 0)
        return mb_fail(t->err, MB_REFUSED, "there is no column 'substance'");
    if ((t->place_of[COL_X] < 0) != (t->place_of[COL_Y] < 0)
        || (t->place_of[COL_X] < 0) == (t->place_of[COL_COUNT] < 0))
        return mb_fail(t->err, MB_REFUSED,
                       "there must be either a column 'count' or the columns 'x' and 'y'");
    return MB_OK;
}

/* ---- rows ------------------------------------------------------------------------------------ */

static struct mb_str cell_of(const struct table *t, const struct mb_str *cells, size_t count,
                             enum column column)
{
    int place = t->place_of[column];

    return place < 0 || (size_t)place >= count ? MB_STR("") : cells[place];
}

/* A label: of the cell, else what was given, else the fallback. */
static enum mb_rc label_of(struct table *t, struct mb_str cell, const char *given,
                           const char *fallback, enum column column, const char **out)
{
    if (cell.len == 0)
        cell = mb_str_of(given && *given ? given : fallback);
    *out = "";
    if (cell.len == 0)
        return MB_OK;
    return mb_outlines_label(t->arena, cell, column_names[column], out, t->err);
}

/* 12,5 in tables whose cells are not divided by commas. */
static struct mb_str with_point(struct table *t, struct mb_str cell)
{
    char *text = mb_arena_copy(t->arena, cell.at, cell.len);

    for (size_t i = 0; i < cell.len && t->mark != ','; i++)
        if (text[i] == ',')
            text[i] = '.';
    return (struct mb_str){ text, cell.len };
}

/* Several rows of one count must say the same of it; an empty cell says nothing. */
static enum mb_rc agree(struct table *t, const char *what, const char *now, const char **kept)
{
    if (**kept && *now && strcmp(*kept, now) != 0)
        return mb_fail(t->err, MB_REFUSED, "%s is '%s' here and '%s' in a row before", what, now,
                       *kept);
    if (*now)
        *kept = now;
    return MB_OK;
}

static enum mb_rc read_area_and_layout(struct table *t, struct mb_count *count, struct mb_str area,
                                       struct mb_str layout)
{
    const char *text = "";
    size_t found;
    enum mb_rc rc = MB_OK;

    if (area.len == 0 && t->given && t->given->area_mm2 && !*count->area_mm2)
        area = mb_str_of(t->given->area_mm2);
    if (area.len > 0)
        rc = mb_outlines_decimal(t->arena, with_point(t, area), "areaMm2", &text, t->err);
    if (rc == MB_OK)
        rc = agree(t, "areaMm2", text, &count->area_mm2);
    if (rc != MB_OK || layout.len == 0)
        return rc;
    rc = mb_word_find(layout, "the layout", mb_layout_words, MB_LAYOUTS, &found, t->err);
    return rc == MB_OK ? agree(t, "layout", mb_layout_words[found], &count->layout) : rc;
}

/* The count that this row belongs to, made if it is the first. */
static enum mb_rc pile_of(struct table *t, const char *view_name, const char *individual,
                          const char *element, struct pile **out)
{
    struct mb_view *view = mb_outlines_view(t->all, view_name);
    struct pile *pile;
    enum mb_rc rc;

    for (pile = t->piles; pile && view; pile = pile->next) {
        if (pile->view == view && mb_outlines_same(pile->count->individual, individual)
            && mb_outlines_same(pile->count->element, element)) {
            *out = pile;
            return MB_OK;
        }
    }
    if (!view) {
        rc = mb_outlines_add_view(t->arena, t->all, view_name, &view, t->err);
        if (rc != MB_OK)
            return rc;
    }
    pile = MB_NEW(t->arena, struct pile);
    rc = mb_outlines_add_count(t->arena, t->all, view, &pile->count, t->err);
    if (rc != MB_OK)
        return rc;
    pile->view = view;
    pile->count->individual = individual;
    pile->count->element = element;
    pile->count->where =
        *element ? mb_arena_printf(t->arena, "the count of '%s', '%s'", individual, element)
                 : mb_arena_printf(t->arena, "the count of '%s'", individual);
    pile->next = t->piles;
    t->piles = pile;
    mb_outlines_individual(t->arena, t->all, individual);
    *out = pile;
    return MB_OK;
}

static void add_spot(struct table *t, struct pile *pile, struct mb_xy at, uint8_t substance)
{
    struct mb_count *count = pile->count;

    if (count->at_count == pile->room) {
        size_t room = pile->room ? 2 * pile->room : 64;
        struct mb_xy *places = MB_ARRAY(t->arena, room, struct mb_xy);
        uint8_t *words = MB_ARRAY(t->arena, room, uint8_t);

        if (count->at_count > 0) {
            memcpy(places, pile->at, count->at_count * sizeof *places);
            memcpy(words, pile->substance, count->at_count);
        }
        pile->at = places;
        pile->substance = words;
        pile->room = room;
        count->at = places;
        count->substance = words;
    }
    pile->at[count->at_count] = at;
    pile->substance[count->at_count++] = substance;
}

static enum mb_rc read_hits(struct table *t, struct mb_str cell, uint64_t *out)
{
    double value;

    if (!mb_drawnum_read(cell, &value) || value < 0 || value > MB_OUTLINE_POINTS_MAX
        || value != (double)(uint64_t)value)
        return mb_fail(t->err, MB_REFUSED, "the count '%.*s' is no whole number from 0 to %d",
                       cell.len < 40 ? (int)cell.len : 40, cell.at, MB_OUTLINE_POINTS_MAX);
    *out = (uint64_t)value;
    return MB_OK;
}

static enum mb_rc read_spot(struct table *t, struct mb_str x, struct mb_str y, struct mb_xy *out)
{
    x = with_point(t, x);
    y = with_point(t, y);
    if (!mb_drawnum_read(x, &out->x) || !mb_drawnum_read(y, &out->y))
        return mb_fail(t->err, MB_REFUSED, "the place '%.*s', '%.*s' is not two numbers",
                       x.len < 40 ? (int)x.len : 40, x.at, y.len < 40 ? (int)y.len : 40, y.at);
    return mb_outlines_place(*out, t->err);
}

static enum mb_rc read_row(struct table *t, const struct mb_str *cells, size_t count)
{
    const char *view, *individual, *element;
    struct pile *pile;
    uint64_t hits = 1;
    struct mb_xy at = { 0, 0 };
    size_t found;
    const struct mb_outlines_given *given = t->given;
    enum mb_rc rc = mb_word_find(cell_of(t, cells, count, COL_SUBSTANCE), "the substance",
                                 mb_substance_words, MB_SUBSTANCES, &found, t->err);

    if (rc == MB_OK && t->place_of[COL_COUNT] >= 0)
        rc = read_hits(t, cell_of(t, cells, count, COL_COUNT), &hits);
    else if (rc == MB_OK)
        rc = read_spot(t, cell_of(t, cells, count, COL_X), cell_of(t, cells, count, COL_Y), &at);
    if (rc == MB_OK)
        rc = label_of(t, cell_of(t, cells, count, COL_VIEW), given ? given->view : NULL, "",
                      COL_VIEW, &view);
    if (rc == MB_OK && !*view)
        rc = mb_fail(t->err, MB_REFUSED, "it does not say which view was counted");
    if (rc == MB_OK)
        rc = label_of(t, cell_of(t, cells, count, COL_INDIVIDUAL), given ? given->individual : NULL,
                      MB_OUTLINE_SPECIMEN, COL_INDIVIDUAL, &individual);
    if (rc == MB_OK)
        rc = label_of(t, cell_of(t, cells, count, COL_ELEMENT), given ? given->element : NULL, "",
                      COL_ELEMENT, &element);
    if (rc == MB_OK)
        rc = mb_outlines_points(t->all, hits, t->err);
    if (rc == MB_OK)
        rc = pile_of(t, view, individual, element, &pile);
    if (rc == MB_OK)
        rc = read_area_and_layout(t, pile->count, cell_of(t, cells, count, COL_AREA),
                                  cell_of(t, cells, count, COL_LAYOUT));
    if (rc != MB_OK)
        return rc;
    pile->count->hits[found] += hits;
    pile->count->total += hits;
    if (t->place_of[COL_COUNT] < 0)
        add_spot(t, pile, at, (uint8_t)found);
    return MB_OK;
}

enum mb_rc mb_outlines_table(mb_arena *arena, struct mb_str text,
                             const struct mb_outlines_given *given, struct mb_outlines *out,
                             struct mb_error *err)
{
    struct table t = { .arena = arena, .given = given, .all = out, .err = err };
    struct mb_str line, cells[CELLS_MAX];
    size_t number = 0, count;
    enum mb_rc rc = MB_OK;

    while (rc == MB_OK && next_line(&text, &line)) {
        number++;
        if (nothing_on(line))
            continue;
        if (t.cells == 0) {
            rc = read_header(&t, line);
        } else {
            rc = cut_line(&t, line, cells, &count);
            if (rc == MB_OK && count > t.cells)
                rc = mb_fail(err, MB_REFUSED, "there are %zu cells under %zu columns", count,
                             t.cells);
            if (rc == MB_OK)
                rc = read_row(&t, cells, count);
        }
    }
    if (rc != MB_OK)
        mb_fail_where(err, "line %zu", number);
    return rc;
}
