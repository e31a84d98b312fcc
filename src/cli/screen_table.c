#include "screen.h"

#include <string.h>

#include "text.h"
#include "wording.h"

enum { BETWEEN = 2, COLUMN_LEAST = 6, WHOLE_MOST = 16 };

struct table {
    const struct screen *screen;
    const char **cells; /* the heading's first, then row by row */
    size_t columns, rows;
    unsigned *natural, *width;
    bool *right; /* numbers alone: aligned at the right */
    bool blocks; /* the columns do not fit side by side */
};

static const char *cell(const struct table *grid, size_t row, size_t column)
{
    return grid->cells[row * grid->columns + column];
}

static struct table read_table(const struct screen *screen, const mb_json *table)
{
    const mb_json *columns = mb_json_get(table, "columns"), *rows = mb_json_get(table, "rows");
    struct table grid = { .screen = screen };
    size_t r = 1, c = 0;

    grid.columns = columns ? columns->count : 0;
    grid.rows = rows ? rows->count + 1 : 1;
    grid.cells = MB_ARRAY(screen->arena, grid.rows * grid.columns + 1, const char *);
    grid.natural = MB_ARRAY(screen->arena, grid.columns + 1, unsigned);
    grid.width = MB_ARRAY(screen->arena, grid.columns + 1, unsigned);
    grid.right = MB_ARRAY(screen->arena, grid.columns + 1, bool);
    for (size_t i = 0; i < grid.rows * grid.columns; i++)
        grid.cells[i] = "";
    MB_JSON_EACH(name, columns)
        grid.cells[c++] = wording(screen->arena, name);
    memset(grid.right, rows && rows->count > 0, grid.columns * sizeof *grid.right);
    MB_JSON_EACH(row, rows) {
        c = 0;
        MB_JSON_EACH(value, row) {
            if (c == grid.columns)
                break;
            grid.right[c] &= value->type == MB_JSON_INTEGER || value->type == MB_JSON_NULL
                             || value->type == MB_JSON_NUMBER;
            grid.cells[r * grid.columns + c++] = wording(screen->arena, value);
        }
        r++;
    }
    return grid;
}

static unsigned total(const struct table *grid, const unsigned *widths)
{
    unsigned sum = 0;

    for (size_t c = 0; c < grid->columns; c++)
        sum += widths[c] + (c > 0 ? BETWEEN : 0);
    return sum;
}

static bool is_number_like(struct mb_str word)
{
    for (size_t i = 0; i < word.len; i++)
        if (strchr("0123456789-/#.:,+", word.at[i]) == NULL)
            return false;
    return true;
}

/* What a column may not become narrower than: its longest word; where words must be broken, its
 * longest day or number. */
static unsigned least_width(const struct table *grid, size_t c, bool break_words)
{
    unsigned least = break_words ? COLUMN_LEAST : 0;

    for (size_t r = 0; r < grid->rows; r++) {
        struct mb_str word, rest = mb_str_of(cell(grid, r, c));
        while (rest.len > 0) {
            unsigned wide;
            mb_str_cut(rest, ' ', &word, &rest);
            wide = screen_columns(word);
            if (wide > least && wide <= WHOLE_MOST && (!break_words || is_number_like(word)))
                least = wide;
        }
    }
    return least < COLUMN_LEAST && !break_words ? COLUMN_LEAST : least;
}

/* The widest columns give way first, each down to its least. */
static bool shrink(struct table *grid, bool break_words)
{
    unsigned *least = MB_ARRAY(grid->screen->arena, grid->columns, unsigned);

    for (size_t c = 0; c < grid->columns; c++)
        least[c] = least_width(grid, c, break_words);
    while (total(grid, grid->width) > grid->screen->width) {
        size_t widest = grid->columns;
        for (size_t c = 0; c < grid->columns; c++)
            if (grid->width[c] > least[c]
                && (widest == grid->columns || grid->width[c] > grid->width[widest]))
                widest = c;
        if (widest == grid->columns)
            return false;
        grid->width[widest]--;
    }
    return true;
}

/* False if the columns cannot stand side by side. */
static bool fit(struct table *grid)
{
    for (size_t c = 0; c < grid->columns; c++) {
        for (size_t r = 0; r < grid->rows; r++) {
            unsigned wide = screen_columns(mb_str_of(cell(grid, r, c)));
            if (wide > grid->natural[c])
                grid->natural[c] = wide;
        }
        grid->width[c] = grid->natural[c];
    }
    return shrink(grid, false) || shrink(grid, true);
}

static void pad(FILE *to, unsigned columns)
{
    fprintf(to, "%*s", (int)columns, "");
}

static void put_cell(const struct table *grid, size_t c, struct mb_str text)
{
    FILE *to = grid->screen->to;
    unsigned wide = screen_columns(text);
    unsigned room = grid->width[c] > wide ? grid->width[c] - wide : 0;

    if (grid->right[c])
        pad(to, room);
    fprintf(to, "%.*s", MB_STR_ARG(text));
    if (!grid->right[c] && c + 1 < grid->columns)
        pad(to, room);
}

/* `late`: the columns were not made for this row. A word that is too wide for its own then pushes
 * the others aside: a number that is broken in two is worse than one out of line. */
static void put_row(const struct table *grid, const char *const *row, bool late, mb_arena *arena)
{
    FILE *to = grid->screen->to;
    struct lines *cells = MB_ARRAY(arena, grid->columns, struct lines);
    size_t height = 0;

    for (size_t c = 0; c < grid->columns; c++) {
        cells[c] = screen_wrap(arena, mb_str_of(row[c]), grid->width[c], !late);
        if (cells[c].count > height)
            height = cells[c].count;
    }
    for (size_t line = 0; line < height; line++) {
        size_t last = grid->columns;
        while (last > 1 && (line >= cells[last - 1].count || cells[last - 1].at[line].len == 0))
            last--;
        for (size_t c = 0; c < last; c++) {
            struct mb_str text = line < cells[c].count ? cells[c].at[line] : MB_STR("");
            if (c > 0)
                pad(to, BETWEEN);
            if (c + 1 == last && !grid->right[c])
                fprintf(to, "%.*s", MB_STR_ARG(text));
            else
                put_cell(grid, c, text);
        }
        fputc('\n', to);
    }
}

static void put_rule(const struct table *grid)
{
    FILE *to = grid->screen->to;
    size_t columns = grid->columns;

    while (columns > 1 && grid->width[columns - 1] == 0)
        columns--;
    for (size_t c = 0; c < columns; c++) {
        if (c > 0)
            pad(to, BETWEEN);
        for (unsigned i = 0; i < grid->width[c]; i++)
            fputc('-', to);
    }
    fputc('\n', to);
}

static void put_block(const struct table *grid, const char *const *row, mb_arena *arena)
{
    struct pairs pairs = { .arena = arena };
    struct screen screen = *grid->screen;

    screen.arena = arena;
    for (size_t c = 0; c < grid->columns; c++)
        pairs_add(&pairs, cell(grid, 0, c), row[c]);
    pairs_print(&screen, 0, &pairs);
}

static void put_any(const struct table *grid, const char *const *row, size_t r, bool late,
                    mb_arena *arena)
{
    if (grid->blocks && r > 1)
        screen_gap(grid->screen);
    if (grid->blocks)
        put_block(grid, row, arena);
    else
        put_row(grid, row, late, arena);
}

const struct table *screen_table_begin(const struct screen *screen, const mb_json *table)
{
    struct table *grid = MB_NEW(screen->arena, struct table);

    *grid = read_table(screen, table);
    if (grid->columns == 0)
        return grid;
    grid->blocks = !fit(grid);
    if (!grid->blocks) {
        put_row(grid, grid->cells, false, screen->arena);
        put_rule(grid);
    }
    for (size_t r = 1; r < grid->rows; r++) {
        put_any(grid, grid->cells + r * grid->columns, r, false, screen->arena);
    }
    return grid;
}

void screen_table_row(const struct table *table, const mb_json *row, mb_arena *scratch)
{
    const char **cells = MB_ARRAY(scratch, table->columns + 1, const char *);
    size_t c = 0;

    for (size_t i = 0; i < table->columns; i++)
        cells[i] = "";
    MB_JSON_EACH(value, row) {
        if (c < table->columns)
            cells[c++] = wording(scratch, value);
    }
    put_any(table, cells, table->rows, true, scratch);
}

void screen_table(const struct screen *screen, const mb_json *table)
{
    screen_table_begin(screen, table);
}
