#include "section_record.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "chrono.h"
#include "date.h"
#include "decimal.h"
#include "lithology.h"
#include "text.h"
#include "views.h"

enum { FINDS_MOST = 20000, NAMED_MOST = 12 };

/* A find or several, at one height or somewhere in one layer. */
struct found {
    const struct mb_layer *layer; /* NULL: at a height */
    double from, to;
    mb_json *subjects;
};

struct drawing {
    mb_ledger *ledger;
    mb_arena *arena;
    mb_db *db;
    mb_chrono *chart;
    struct mb_str datum, section; /* of the layer asked for; .at NULL: none */
    struct mb_layer *layers;
    size_t layer_count, layer_room;
    struct found *finds;
    size_t find_count, find_room, all_finds;
    mb_json *loose, *elsewhere, *beyond, *notes;
    double low, high;
};

static void note(struct drawing *d, const char *text)
{
    mb_json_add_text(d->arena, d->notes, text);
}

static bool same_words(struct mb_str a, struct mb_str b)
{
    a = mb_str_trim(a);
    b = mb_str_trim(b);
    return a.len == b.len && a.len && strncasecmp(a.at, b.at, a.len) == 0;
}

/* The first of a list, in words. */
static const char *some(struct drawing *d, const mb_json *list)
{
    const char *text = "";
    size_t told = 0;

    MB_JSON_EACH (one, list) {
        struct mb_str id = one->text;

        if (told++ == NAMED_MOST)
            return mb_arena_printf(d->arena, "%s and %u more", text,
                                   (unsigned)list->count - NAMED_MOST);
        if (mb_str_starts(id, "specimen/"))
            id = (struct mb_str){ id.at + 9, id.len - 9 };
        text = mb_arena_printf(d->arena, "%s%s%.*s", text, told > 1 ? ", " : "", MB_STR_ARG(id));
    }
    return text;
}

/* ---- layers ---------------------------------------------------------------------------------- */

enum column {
    C_SUB, C_NAME, C_ROCK, C_FORMATION, C_MEMBER, C_OLDEST, C_YOUNGEST, C_THICK, C_BASE, C_DATUM,
    C_SECTION, C_HOW, C_DIP, C_DIP_TO, C_SLOPE, C_SLOPE_TO
};

#define FIELD(name) ", (SELECT value FROM v_field f WHERE f.seq = h.seq AND f.name = '" name "')"
static const char layer_sql[] =
    "SELECT h.sub, h.layer_name, h.lithology, h.formation, h.member, h.earliest_stage,"
    " h.latest_stage, h.thickness, h.base_height, h.base_datum, h.section" FIELD("thicknessHow")
    FIELD("dip") FIELD("dipDirection") FIELD("slope") FIELD("slopeDirection")
    " FROM v_horizon h WHERE ";

static const char *words_at(struct drawing *d, mb_stmt *row, int at)
{
    struct mb_str text = mb_col_text(row, at);

    return text.len && !mb_str_is(text, "not known") ? mb_arena_copy(d->arena, text.at, text.len)
                                                     : NULL;
}

/* "Santonian, 85.7 ± 0.2 Ma to 83.6 ± 0.2 Ma"; the bare words where the chart has none of them. */
static const char *age_of(struct drawing *d, mb_stmt *row)
{
    const char *oldest = words_at(d, row, C_OLDEST), *youngest = words_at(d, row, C_YOUNGEST);
    struct mb_error ignored = { 0 };
    struct mb_chrono_span span;
    const char *name;

    if (!oldest)
        oldest = youngest;
    if (!oldest)
        return NULL;
    name = !youngest || strcmp(oldest, youngest) == 0
               ? oldest
               : mb_arena_printf(d->arena, "%s to %s", oldest, youngest);
    if (mb_chrono_span(d->arena, d->chart, mb_str_of(oldest), mb_str_of(youngest), &span,
                       &ignored))
        return name;
    return mb_arena_printf(d->arena, "%s, %s to %s", name,
                           mb_chrono_age_text(d->arena, &span.oldest.age),
                           mb_chrono_age_text(d->arena, &span.youngest.age));
}

static double degrees_at(mb_stmt *row, int at)
{
    return mb_col_text(row, at).len ? mb_decimal_double(mb_col_text(row, at)) : NAN;
}

/* The true thickness; MB_REFUSED where the way it was measured does not give one. */
static enum mb_rc thickness_of(struct drawing *d, mb_stmt *row, struct mb_layer *layer,
                               struct mb_error *err)
{
    struct mb_section_unit unit = { .name = layer->name, .way = MB_SECTION_TRUE };
    struct mb_str how = mb_col_text(row, C_HOW);
    struct mb_section built;
    double needed = 0;
    enum mb_rc rc;

    unit.measured_m = mb_section_metres(mb_col_text(row, C_THICK));
    unit.dip = degrees_at(row, C_DIP);
    unit.dip_azimuth = degrees_at(row, C_DIP_TO);
    unit.slope = degrees_at(row, C_SLOPE);
    unit.azimuth = degrees_at(row, C_SLOPE_TO);
    if (mb_str_is(how, "along the ground")) {
        unit.way = MB_SECTION_SLOPE;
        needed = unit.dip + unit.dip_azimuth + unit.slope + unit.azimuth;
    } else if (mb_str_is(how, "straight up or down")) {
        unit.way = MB_SECTION_VERTICAL;
        needed = unit.dip;
    }
    if (isnan(needed))
        return mb_fail(err, MB_REFUSED,
                       "%s was measured %.*s, and the record lacks what its true thickness needs"
                       " (%s); add it by a correction", layer->sub, MB_STR_ARG(how),
                       unit.way == MB_SECTION_SLOPE
                           ? "dip, dipDirection, slope, slopeDirection" : "dip");
    rc = mb_section_build(d->arena, &unit, 1, (struct mb_section_datum){ NULL, false }, &built,
                          err);
    if (rc)
        return rc;
    layer->thick_m = built.beds[0].true_m;
    if (unit.way != MB_SECTION_TRUE)
        layer->how = mb_arena_printf(d->arena, "%.*s measured %.*s, beds dipping %g degrees:"
                                     " %.2f m across the beds",
                                     MB_STR_ARG(mb_col_text(row, C_THICK)), MB_STR_ARG(how),
                                     unit.dip, layer->thick_m);
    return MB_OK;
}

static enum mb_rc take_layer(struct drawing *d, mb_stmt *row, struct mb_error *err)
{
    struct mb_layer layer = { .sub = words_at(d, row, C_SUB), .name = words_at(d, row, C_NAME),
                              .rock = words_at(d, row, C_ROCK),
                              .formation = words_at(d, row, C_FORMATION),
                              .member = words_at(d, row, C_MEMBER), .age = age_of(d, row) };
    enum mb_rc rc;

    if (!layer.name)
        layer.name = layer.sub;
    if (!mb_col_text(row, C_THICK).len) {
        note(d, mb_arena_printf(d->arena, "%s (%s) has no thickness on record and is not drawn.",
                                layer.name, layer.sub));
        return MB_OK;
    }
    rc = thickness_of(d, row, &layer, err);
    if (rc)
        return rc;
    if (d->datum.at)
        layer.base_m = mb_section_metres(mb_col_text(row, C_BASE));
    if (d->layer_count == d->layer_room) {
        size_t room = d->layer_room ? 2 * d->layer_room : 64;
        struct mb_layer *larger = MB_ARRAY(d->arena, room, struct mb_layer);

        if (d->layer_count)
            memcpy(larger, d->layers, d->layer_count * sizeof *larger);
        d->layers = larger;
        d->layer_room = room;
    }
    if (d->layer_count >= MB_SECTION_UNITS_MAX)
        return mb_fail(err, MB_REFUSED, "the section has more than %d layers",
                       MB_SECTION_UNITS_MAX);
    d->layers[d->layer_count++] = layer;
    return MB_OK;
}

/* The layer that was asked for: what section and datum it has. */
static enum mb_rc ask_layer(struct drawing *d, const char *horizon, mb_json *out,
                            struct mb_error *err)
{
    const char *sub = strchr(horizon, '/') ? horizon
                                           : mb_arena_printf(d->arena, "horizon/%s", horizon);
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(d->db, mb_arena_printf(d->arena,
                                                        "%sh.sub = ?1 COLLATE NOCASE", layer_sql),
                                 &stmt, err);

    if (!rc)
        mb_bind_text(stmt, 1, mb_str_of(sub));
    if (!rc)
        rc = mb_stmt_step(stmt, &row, err);
    if (!rc && !row)
        rc = mb_fail(err, MB_REFUSED, "there is no layer %s; markerbed list horizons shows them",
                     sub);
    if (!rc && !mb_col_text(stmt, C_THICK).len)
        rc = mb_fail(err, MB_REFUSED,
                     "%s has no thickness on record, so nothing can be drawn to scale; add"
                     " thickness (and baseHeight, baseDatum, section) by a correction", sub);
    if (!rc) {
        mb_json_put_text(d->arena, out, "horizon", words_at(d, stmt, C_SUB));
        mb_json_put_text(d->arena, out, "name", words_at(d, stmt, C_NAME));
        if (mb_col_text(stmt, C_BASE).len && mb_col_text(stmt, C_DATUM).len)
            d->datum = mb_arena_str(d->arena, mb_col_text(stmt, C_DATUM));
        if (mb_col_text(stmt, C_SECTION).len)
            d->section = mb_arena_str(d->arena, mb_col_text(stmt, C_SECTION));
        if (!d->datum.at)
            rc = take_layer(d, stmt, err);
    }
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc take_section(struct drawing *d, struct mb_error *err)
{
    mb_json *others = mb_json_array(d->arena);
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(
        d->db,
        mb_arena_printf(d->arena,
                        "%sh.base_height IS NOT NULL AND coalesce(h.section, '') ="
                        " coalesce(?1, '') COLLATE NOCASE ORDER BY h.sub", layer_sql),
        &stmt, err);

    if (!rc)
        mb_bind_text(stmt, 1, d->section);
    while (!rc && !(rc = mb_stmt_step(stmt, &row, err)) && row) {
        if (same_words(mb_col_text(stmt, C_DATUM), d->datum))
            rc = take_layer(d, stmt, err);
        else
            mb_json_add(others, mb_json_string_str(d->arena, mb_col_text(stmt, C_SUB)));
    }
    if (others->count)
        note(d, mb_arena_printf(d->arena, "Measured here from another datum, so not drawn: %s.",
                                some(d, others)));
    mb_stmt_free(stmt);
    return rc;
}

static void note_overlaps(struct drawing *d)
{
    for (size_t i = 0; i < d->layer_count; i++)
        for (size_t j = 0; j < d->layer_count; j++) {
            const struct mb_layer *a = &d->layers[i], *b = &d->layers[j];
            double top_a = a->base_m + a->thick_m, top_b = b->base_m + b->thick_m;
            double both = fmin(top_a, top_b) - fmax(a->base_m, b->base_m);

            if (i == j || both <= 1e-6 || a->base_m < b->base_m
                || (a->base_m == b->base_m && i < j) || both > 0.999999 * a->thick_m
                || both > 0.999999 * b->thick_m)
                continue;
            note(d, mb_arena_printf(d->arena, "On the record %s and %s overlap by %.2f m; the"
                                    " thinner of them is drawn there.", b->name, a->name, both));
        }
}

/* ---- finds ----------------------------------------------------------------------------------- */

static void put_find(struct drawing *d, const struct mb_layer *layer, double from, double to,
                     struct mb_str sub)
{
    struct found *at = NULL;

    for (size_t i = 0; i < d->find_count && !at; i++)
        if (d->finds[i].layer == layer && d->finds[i].from == from && d->finds[i].to == to)
            at = &d->finds[i];
    if (!at) {
        if (d->find_count == d->find_room) {
            size_t room = d->find_room ? 2 * d->find_room : 64;
            struct found *larger = MB_ARRAY(d->arena, room, struct found);

            if (d->find_count)
                memcpy(larger, d->finds, d->find_count * sizeof *larger);
            d->finds = larger;
            d->find_room = room;
        }
        at = &d->finds[d->find_count++];
        *at = (struct found){ layer, from, to, mb_json_array(d->arena) };
    }
    mb_json_add(at->subjects, mb_json_string_str(d->arena, sub));
}

static void take_find(struct drawing *d, const struct mb_layer *layer, mb_stmt *row)
{
    struct mb_str sub = mb_col_text(row, 0), in_place = mb_col_text(row, 1);
    double from = mb_section_metres(mb_col_text(row, 2));
    double to = mb_section_metres(mb_col_text(row, 3));
    bool measured = !isnan(from) && d->datum.at && same_words(mb_col_text(row, 4), d->datum);

    if (isnan(to))
        to = from;
    if (!mb_str_is(in_place, "in place"))
        mb_json_add(d->loose, mb_json_string_str(d->arena, sub));
    else if (measured && (fmax(from, to) < d->low || fmin(from, to) > d->high))
        mb_json_add(d->beyond, mb_json_string_str(d->arena, sub));
    else if (measured)
        put_find(d, NULL, fmin(from, to), fmax(from, to), sub);
    else {
        if (!isnan(from))
            mb_json_add(d->elsewhere, mb_json_string_str(d->arena, sub));
        if (layer)
            put_find(d, layer, layer->base_m, layer->base_m + layer->thick_m, sub);
    }
    d->all_finds++;
}

#define OF_FIND(name) ", (SELECT value FROM v_field x WHERE x.seq = f.seq AND x.name = '" name "')"

static enum mb_rc take_finds(struct drawing *d, struct mb_error *err)
{
    static const char sql[] = "SELECT f.sub, f.in_place" OF_FIND("heightAboveBase")
        OF_FIND("heightAboveBaseTo") OF_FIND("heightDatum")
        " FROM v_find f WHERE f.horizon = ?1 COLLATE NOCASE ORDER BY f.sub";
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc = mb_stmt_make(d->db, sql, &stmt, err);

    for (size_t i = 0; i < d->layer_count && !rc; i++) {
        mb_bind_text(stmt, 1, mb_str_of(d->layers[i].sub));
        while (!(rc = mb_stmt_step(stmt, &row, err)) && row && d->all_finds < FINDS_MOST)
            take_find(d, &d->layers[i], stmt);
        mb_stmt_reset(stmt);
    }
    mb_stmt_free(stmt);
    if (d->all_finds >= FINDS_MOST)
        note(d, mb_arena_printf(d->arena, "There are more than %d finds; the others are not"
                                " drawn.", FINDS_MOST));
    return rc;
}

static void note_finds(struct drawing *d)
{
    if (d->loose->count)
        note(d, mb_arena_printf(d->arena, "Not found in place, so at no level of the section: %s.",
                                some(d, d->loose)));
    if (d->elsewhere->count)
        note(d, mb_arena_printf(d->arena, "Their height is measured from another datum, or the"
                                " layer has none, so only the layer is shown: %s.",
                                some(d, d->elsewhere)));
    if (d->beyond->count)
        note(d, mb_arena_printf(d->arena, "Their height on record lies outside what is recorded of"
                                " the section: %s.", some(d, d->beyond)));
}

/* ---- telling --------------------------------------------------------------------------------- */

static void put_metres(struct drawing *d, mb_json *out, const char *name, double value)
{
    double kept = fabs(value) < 5e-7 ? 0 : value;
    mb_json *json = mb_json_put_text(d->arena, out, name,
                                     mb_arena_printf(d->arena, "%.6f", kept));

    json->type = MB_JSON_NUMBER;
}

static void put_if(struct drawing *d, mb_json *out, const char *name, const char *text)
{
    if (text)
        mb_json_put_text(d->arena, out, name, text);
}

static void put_units(struct drawing *d, const struct mb_stack *stack, mb_json *out)
{
    mb_json *units = mb_json_put(d->arena, out, "units", mb_json_array(d->arena));

    for (size_t i = 0; i < stack->count; i++) {
        const struct mb_layer *layer = stack->layer_of[i];
        mb_json *one = mb_json_add(units, mb_json_object(d->arena));
        enum mb_lithology is = layer ? mb_lithology_of(mb_str_of(layer->rock)) : MB_LITHO_ABSENT;

        mb_json_put_int(d->arena, one, "number", (int64_t)i + 1);
        if (layer) {
            put_if(d, one, "horizon", layer->sub);
            put_if(d, one, "name", layer->name);
            put_if(d, one, "rock", layer->rock);
            put_if(d, one, "formation", layer->formation);
            put_if(d, one, "member", layer->member);
            put_if(d, one, "age", layer->age);
            put_if(d, one, "how", layer->how);
        }
        mb_json_put_text(d->arena, one, "pattern", mb_lithology_word[is]);
        put_metres(d, one, "thickness", stack->beds[i].true_m);
        put_metres(d, one, "base", stack->beds[i].base_m);
        put_metres(d, one, "top", stack->beds[i].top_m);
    }
}

static int higher_first(const void *a, const void *b)
{
    const struct found *left = a, *right = b;

    if (left->to != right->to)
        return left->to > right->to ? -1 : 1;
    return left->from > right->from ? -1 : left->from < right->from;
}

static void put_finds(struct drawing *d, mb_json *out)
{
    mb_json *finds = mb_json_put(d->arena, out, "finds", mb_json_array(d->arena));

    if (d->find_count)
        qsort(d->finds, d->find_count, sizeof *d->finds, higher_first);
    for (size_t i = 0; i < d->find_count; i++) {
        mb_json *one = mb_json_add(finds, mb_json_object(d->arena));

        mb_json_put(d->arena, one, "subjects", d->finds[i].subjects);
        put_metres(d, one, "from", d->finds[i].from);
        put_metres(d, one, "to", d->finds[i].to);
        if (d->finds[i].layer)
            mb_json_put_text(d->arena, one, "somewhereIn", d->finds[i].layer->sub);
    }
}

static enum mb_rc put_site(struct drawing *d, mb_json *out, struct mb_error *err)
{
    mb_stmt *stmt = NULL;
    bool row = false;
    enum mb_rc rc;

    if (!d->section.at)
        return MB_OK;
    mb_json_put(d->arena, out, "section", mb_json_string_str(d->arena, d->section));
    rc = mb_stmt_make(d->db, "SELECT site_name FROM v_site WHERE sub = ?1 COLLATE NOCASE", &stmt,
                      err);
    if (!rc)
        mb_bind_text(stmt, 1, d->section);
    if (!rc)
        rc = mb_stmt_step(stmt, &row, err);
    if (!rc && row && mb_col_text(stmt, 0).len)
        mb_json_put(d->arena, out, "siteName", mb_json_string_str(d->arena, mb_col_text(stmt, 0)));
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc tell(struct drawing *d, const char *horizon, mb_json *out, struct mb_error *err)
{
    struct mb_stack stack;
    enum mb_rc rc = ask_layer(d, horizon, out, err);

    if (!rc && d->datum.at)
        rc = take_section(d, err);
    if (!rc)
        rc = put_site(d, out, err);
    if (rc)
        return rc;
    mb_json_put_text(d->arena, out, "datum",
                     d->datum.at ? mb_arena_copy(d->arena, d->datum.at, d->datum.len)
                                 : "base of the layer itself");
    mb_json_put_text(d->arena, out, "chart", mb_chrono_version(d->chart));
    mb_section_stack(d->arena, d->layers, d->layer_count, &stack);
    d->low = stack.beds[0].base_m - 1e-9;
    d->high = stack.beds[stack.count - 1].top_m + 1e-9;
    note_overlaps(d);
    put_units(d, &stack, out);
    rc = take_finds(d, err);
    note_finds(d);
    put_finds(d, out);
    mb_json_put(d->arena, out, "notes", d->notes);
    return rc;
}

enum mb_rc mb_section_tell(mb_ledger *ledger, mb_arena *arena, const char *horizon,
                           const char *as_of, const mb_json **out, struct mb_error *err)
{
    struct drawing d = { .ledger = ledger, .arena = arena, .loose = mb_json_array(arena),
                         .elsewhere = mb_json_array(arena), .beyond = mb_json_array(arena),
                         .notes = mb_json_array(arena) };
    mb_json *answer = mb_json_object(arena);
    struct mb_views views = { 0 };
    const mb_json *about;
    enum mb_rc rc = mb_chrono_open(arena, &d.chart, err);

    if (!rc)
        rc = mb_ledger_about(ledger, arena, &about, err);
    if (rc)
        return rc;
    mb_json_put(arena, answer, "origin", mb_json_copy(arena, mb_json_get(about, "origin")));
    mb_json_put_text(arena, answer, "asOf",
                     as_of ? as_of : mb_day_write(arena, (int32_t)(mb_now() / 86400)));
    rc = mb_views_begin(ledger, as_of, &views, err);
    d.db = views.db;
    if (!rc)
        rc = tell(&d, horizon, answer, err);
    mb_views_end(&views);
    if (!rc)
        *out = answer;
    return rc;
}
