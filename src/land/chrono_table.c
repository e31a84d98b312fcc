#include <string.h>

#include "asset.h"
#include "chrono.h"
#include "chrono_names.h"
#include "decimal.h"
#include "text.h"

#define COLUMNS 18

/* The columns of the table, in order. */
enum column {
    ID,
    ROCK_RANK,
    TIME_RANK,
    ROCK_NAME,
    TIME_NAME,
    PARENT,
    BASE,
    BASE_UNC,
    BASE_APPROX,
    TOP,
    TOP_UNC,
    TOP_APPROX,
    GSSP,
    GSSA,
    COLOUR,
    COLOUR_RGB,
    CODE,
    NOTE
};

static const char head[] = "id\trank\tgeochron_rank\tname_strat\tname_time\tparent_id\tbase_ma\t"
                           "base_unc_ma\tbase_approx\ttop_ma\ttop_unc_ma\ttop_approx\tgssp\tgssa\t"
                           "colour_hex\tcolour_rgb\tccgm_code\tnote";

struct table {
    mb_arena *arena;
    mb_chrono *chart;
    size_t line;
    struct mb_error *err;
};

static enum mb_rc refuse(const struct table *table, const char *what, struct mb_str value)
{
    return mb_fail(table->err, MB_REFUSED, "line %zu of the chart: %s \"%.*s\" cannot be",
                   table->line, what, MB_STR_ARG(value));
}

static bool read_rank(struct mb_str word, enum mb_chrono_rank *rank, bool *stage_too)
{
    static const struct {
        const char *word;
        enum mb_chrono_rank rank;
        bool stage_too;
    } ranks[] = {
        { "super-eon", MB_CHRONO_SUPEREON, false },
        { "eon", MB_CHRONO_EON, false },
        { "era", MB_CHRONO_ERA, false },
        { "period", MB_CHRONO_PERIOD, false },
        { "sub-period", MB_CHRONO_SUBPERIOD, false },
        { "epoch", MB_CHRONO_EPOCH, false },
        { "age", MB_CHRONO_AGE, false },
        { "epoch/age", MB_CHRONO_EPOCH, true },
    };
    for (size_t i = 0; i < sizeof ranks / sizeof *ranks; i++)
        if (mb_str_is(word, ranks[i].word)) {
            *rank = ranks[i].rank;
            *stage_too = ranks[i].stage_too;
            return true;
        }
    return false;
}

static bool read_age(mb_arena *arena, struct mb_str ma, struct mb_str uncertainty,
                     struct mb_str approximate, struct mb_chrono_age *out)
{
    int64_t ignored;
    if (!mb_decimal_nano(ma, &out->ma_nano) || out->ma_nano < 0 ||
        (uncertainty.len && !mb_decimal_nano(uncertainty, &ignored)))
        return false;
    out->ma = mb_arena_copy(arena, ma.at, ma.len);
    out->uncertainty =
        uncertainty.len ? mb_arena_copy(arena, uncertainty.at, uncertainty.len) : NULL;
    out->uncertain = mb_str_is(approximate, "1");
    return true;
}

static const char *keep(const struct table *table, struct mb_str cell)
{
    return mb_arena_copy(table->arena, cell.at, cell.len);
}

static enum mb_rc read_row(struct table *table, struct mb_str line)
{
    struct mb_str cell[COLUMNS], rest = line;
    for (size_t i = 0; i < COLUMNS; i++)
        if (!mb_str_cut(rest, '\t', &cell[i], &rest) && i + 1 < COLUMNS)
            return mb_fail(table->err, MB_REFUSED, "line %zu of the chart has %zu columns, not %d",
                           table->line, i + 1, COLUMNS);
    struct mb_chrono_unit *unit = mb_chrono_add(table->chart);
    if (!read_rank(cell[TIME_RANK], &unit->rank, &unit->stage_too))
        return refuse(table, "rank", cell[TIME_RANK]);
    if (!read_age(table->arena, cell[BASE], cell[BASE_UNC], cell[BASE_APPROX], &unit->base))
        return refuse(table, "base", cell[BASE]);
    if (!read_age(table->arena, cell[TOP], cell[TOP_UNC], cell[TOP_APPROX], &unit->top) ||
        unit->top.ma_nano >= unit->base.ma_nano)
        return refuse(table, "top", cell[TOP]);
    unit->id = keep(table, cell[ID]);
    unit->rock_name = keep(table, cell[ROCK_NAME]);
    unit->time_name = keep(table, cell[TIME_NAME]);
    unit->rock_rank = keep(table, cell[ROCK_RANK]);
    unit->time_rank = keep(table, cell[TIME_RANK]);
    unit->gssp = mb_str_is(cell[GSSP], "1");
    unit->gssa = mb_str_is(cell[GSSA], "1");
    unit->colour = keep(table, cell[COLOUR]);
    unit->short_code = keep(table, cell[CODE]);
    mb_chrono_note_parent(table->chart, keep(table, cell[PARENT]));
    return MB_OK;
}

enum mb_rc mb_chrono_read(mb_arena *arena, struct mb_str text, mb_chrono **out,
                          struct mb_error *err)
{
    static const char version[] = "# version\t";
    struct table table = { .arena = arena, .chart = mb_chrono_new(arena), .err = err };
    struct mb_str rest = text, line;
    bool headed = false;
    while (rest.len) {
        mb_str_cut(rest, '\n', &line, &rest);
        table.line++;
        if (mb_str_starts(line, version))
            mb_chrono_set_version(table.chart, mb_arena_copy(arena, line.at + strlen(version),
                                                             line.len - strlen(version)));
        if (!line.len || line.at[0] == '#')
            continue;
        if (!headed && !mb_str_is(line, head))
            return mb_fail(err, MB_REFUSED, "line %zu of the chart is not its head", table.line);
        enum mb_rc rc = headed ? read_row(&table, line) : MB_OK;
        if (rc != MB_OK)
            return rc;
        headed = true;
    }
    enum mb_rc rc = mb_chrono_link(arena, table.chart, err);
    if (rc == MB_OK)
        *out = table.chart;
    return rc;
}

enum mb_rc mb_chrono_open(mb_arena *arena, mb_chrono **out, struct mb_error *err)
{
    const struct mb_asset *asset = mb_asset_find("vocab/chrono-ages.tsv");
    if (!asset)
        return mb_fail(err, MB_UNABLE, "the chart of geological time is not built in");
    if (mb_chrono_read(arena, (struct mb_str){ asset->data, asset->size }, out, err) == MB_OK)
        return MB_OK;
    if (err)
        err->code = MB_UNABLE;
    return MB_UNABLE;
}
