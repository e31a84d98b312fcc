#include "outline.h"
#include "outline_build.h"

#include <math.h>
#include <string.h>

#include "drawnum.h"
#include "text.h"

const char *const mb_layout_words[MB_LAYOUTS] = { "random", "grid, random start", "grid" };

/* Hangs an item on the end of a list whose head and last member are given. */
#define HANG(head, last, item)     \
    do {                           \
        if (last)                  \
            (last)->next = (item); \
        else                       \
            (head) = (item);       \
        (last) = (item);           \
    } while (0)

bool mb_outlines_same(const char *a, const char *b)
{
    return a && b ? strcmp(a, b) == 0 : a == b;
}

/* ---- adding ---------------------------------------------------------------------------------- */

struct mb_view *mb_outlines_view(const struct mb_outlines *all, const char *name)
{
    for (struct mb_view *view = all->views; view; view = view->next)
        if (strcmp(view->name, name) == 0)
            return view;
    return NULL;
}

enum mb_rc mb_outlines_add_view(mb_arena *arena, struct mb_outlines *all, const char *name,
                                struct mb_view **out, struct mb_error *err)
{
    struct mb_view *view;

    if (mb_outlines_view(all, name))
        return mb_fail(err, MB_REFUSED, "the view '%s' is there twice; give each its own name",
                       name);
    if (all->view_count == MB_OUTLINE_VIEWS_MAX)
        return mb_fail(err, MB_REFUSED, "there are more than %d views", MB_OUTLINE_VIEWS_MAX);
    view = MB_NEW(arena, struct mb_view);
    *view = (struct mb_view){ .name = name, .photo = "", .photo_sha256 = "" };
    HANG(all->views, all->views_last, view);
    all->view_count++;
    *out = view;
    return MB_OK;
}

enum mb_rc mb_outlines_add_part(mb_arena *arena, struct mb_outlines *all, struct mb_view *view,
                                struct mb_part **out, struct mb_error *err)
{
    struct mb_part *part;

    if (all->part_count == MB_OUTLINE_PARTS_MAX)
        return mb_fail(err, MB_REFUSED, "there are more than %d specimen outlines",
                       MB_OUTLINE_PARTS_MAX);
    part = MB_NEW(arena, struct mb_part);
    part->uncovered = MB_SUBSTANCE_UNEXAMINED;
    HANG(view->parts, view->parts_last, part);
    all->part_count++;
    *out = part;
    return MB_OK;
}

static enum mb_rc room_for_region(const struct mb_outlines *all, struct mb_error *err)
{
    if (all->region_count + all->join_count >= MB_OUTLINE_REGIONS_MAX)
        return mb_fail(err, MB_REFUSED, "there are more than %d regions and joins",
                       MB_OUTLINE_REGIONS_MAX);
    return MB_OK;
}

enum mb_rc mb_outlines_add_region(mb_arena *arena, struct mb_outlines *all, struct mb_view *view,
                                  struct mb_region **out, struct mb_error *err)
{
    enum mb_rc rc = room_for_region(all, err);

    if (rc != MB_OK)
        return rc;
    *out = MB_NEW(arena, struct mb_region);
    HANG(view->regions, view->regions_last, *out);
    all->region_count++;
    return MB_OK;
}

enum mb_rc mb_outlines_add_join(mb_arena *arena, struct mb_outlines *all, struct mb_view *view,
                                struct mb_join **out, struct mb_error *err)
{
    enum mb_rc rc = room_for_region(all, err);

    if (rc != MB_OK)
        return rc;
    *out = MB_NEW(arena, struct mb_join);
    **out = (struct mb_join){ .name = "", .cause = "", .adhesive = "", .gap_mm = "" };
    HANG(view->joins, view->joins_last, *out);
    all->join_count++;
    return MB_OK;
}

enum mb_rc mb_outlines_add_count(mb_arena *arena, struct mb_outlines *all, struct mb_view *view,
                                 struct mb_count **out, struct mb_error *err)
{
    struct mb_count *count;

    if (all->count_count == MB_OUTLINE_PARTS_MAX)
        return mb_fail(err, MB_REFUSED, "there are more than %d point counts",
                       MB_OUTLINE_PARTS_MAX);
    count = MB_NEW(arena, struct mb_count);
    *count = (struct mb_count){ .layout = "", .area_mm2 = "" };
    HANG(view->counts, view->counts_last, count);
    all->count_count++;
    *out = count;
    return MB_OK;
}

enum mb_rc mb_outlines_add_estimate(mb_arena *arena, struct mb_outlines *all, struct mb_view *view,
                                    struct mb_estimate **out, struct mb_error *err)
{
    if (all->estimate_count == MB_OUTLINE_PARTS_MAX)
        return mb_fail(err, MB_REFUSED, "there are more than %d estimates", MB_OUTLINE_PARTS_MAX);
    *out = MB_NEW(arena, struct mb_estimate);
    HANG(view->estimates, view->estimates_last, *out);
    all->estimate_count++;
    return MB_OK;
}

struct mb_individual *mb_outlines_individual(mb_arena *arena, struct mb_outlines *all,
                                             const char *label)
{
    struct mb_individual *one;

    for (one = all->individuals; one; one = one->next)
        if (strcmp(one->label, label) == 0)
            return one;
    one = MB_NEW(arena, struct mb_individual);
    *one = (struct mb_individual){
        .label = label, .name = "", .association = "", .setting = "", .shown_by = ""
    };
    HANG(all->individuals, all->individuals_last, one);
    all->individual_count++;
    return one;
}

/* ---- small checks ---------------------------------------------------------------------------- */

enum mb_rc mb_outlines_corners(struct mb_outlines *all, size_t more, struct mb_error *err)
{
    if (more > MB_OUTLINE_CORNERS_MAX - all->corner_count)
        return mb_fail(err, MB_REFUSED,
                       "there are more than %d corners in the file; simplify the outlines",
                       MB_OUTLINE_CORNERS_MAX);
    all->corner_count += more;
    return MB_OK;
}

enum mb_rc mb_outlines_points(struct mb_outlines *all, uint64_t more, struct mb_error *err)
{
    if (more > MB_OUTLINE_POINTS_MAX - all->point_count)
        return mb_fail(err, MB_REFUSED, "there are more than %d counted points",
                       MB_OUTLINE_POINTS_MAX);
    all->point_count += more;
    return MB_OK;
}

enum mb_rc mb_outlines_label(mb_arena *arena, struct mb_str text, const char *what,
                             const char **out, struct mb_error *err)
{
    text = mb_str_trim(text);
    if (text.len == 0)
        return mb_fail(err, MB_REFUSED, "%s is empty", what);
    if (text.len > MB_OUTLINE_LABEL_MAX)
        return mb_fail(err, MB_REFUSED, "%s is longer than %d bytes", what, MB_OUTLINE_LABEL_MAX);
    if (!mb_text_allowed(text, false))
        return mb_fail(err, MB_REFUSED, "%s has a character that cannot be printed", what);
    *out = mb_arena_copy(arena, text.at, text.len);
    return MB_OK;
}

enum mb_rc mb_outlines_place(struct mb_xy at, struct mb_error *err)
{
    if (!(fabs(at.x) <= MB_DRAWN_MAX && fabs(at.y) <= MB_DRAWN_MAX))
        return mb_fail(err, MB_REFUSED,
                       "the place %.10g, %.10g is more than %.0f away from the photo's corner",
                       at.x, at.y, MB_DRAWN_MAX);
    return MB_OK;
}

enum mb_rc mb_outlines_size(double size, const char *what, struct mb_error *err)
{
    if (!(size > 0 && size <= MB_DRAWN_MAX))
        return mb_fail(err, MB_REFUSED, "%s is %.10g; it must be above 0 and at most %.0f", what,
                       size, MB_DRAWN_MAX);
    return MB_OK;
}

enum mb_rc mb_outlines_decimal(mb_arena *arena, struct mb_str text, const char *what,
                               const char **out, struct mb_error *err)
{
    double value;

    if (!mb_drawnum_read(text, &value) || !(value > 0) || value > 1e12 || text.len > 30)
        return mb_fail(err, MB_REFUSED, "%s '%.*s' is no number above 0", what,
                       text.len < 60 ? (int)text.len : 60, text.at);
    *out = mb_arena_copy(arena, text.at, text.len);
    return MB_OK;
}

enum mb_rc mb_outlines_surfaces(struct mb_str text, unsigned *bits, struct mb_error *err)
{
    struct mb_str word, rest = text;
    enum mb_rc rc;
    size_t found;
    unsigned all = 0;
    bool more = true;

    while (more) {
        more = mb_str_cut(rest, ',', &word, &rest);
        rc = mb_word_find(mb_str_trim(word), "the surface", mb_surface_words, MB_SURFACES, &found,
                          err);
        if (rc != MB_OK)
            return rc;
        all |= 1u << found;
    }
    if ((all & (1u << MB_SURFACE_BARE)) && all != 1u << MB_SURFACE_BARE)
        return mb_fail(err, MB_REFUSED,
                       "the surface cannot be bare and something else at the same spot");
    *bits |= all;
    return MB_OK;
}

enum mb_rc mb_outlines_uncovered(struct mb_str text, enum mb_substance *out, struct mb_error *err)
{
    static const char *const words[] = { "original", "repaired", "unexamined" };
    static const enum mb_substance meant[] = { MB_SUBSTANCE_ORIGINAL, MB_SUBSTANCE_REPAIRED,
                                               MB_SUBSTANCE_UNEXAMINED };
    size_t found;
    enum mb_rc rc = mb_word_find(text, "what is not covered by a region", words, 3, &found, err);

    if (rc == MB_OK)
        *out = meant[found];
    return rc;
}

enum mb_rc mb_outlines_sha256(mb_arena *arena, struct mb_str text, const char **out,
                              struct mb_error *err)
{
    bool good = text.len == 64;

    for (size_t i = 0; good && i < text.len; i++)
        good = strchr("0123456789abcdefABCDEF", text.at[i]) != NULL && text.at[i] != '\0';
    if (!good)
        return mb_fail(err, MB_REFUSED, "the photo's SHA-256 is not 64 hexadecimal digits");
    *out = mb_lower(arena, text);
    return MB_OK;
}

/* ---- what must hold of the whole ------------------------------------------------------------- */

static bool fits(const struct mb_part *part, const char *individual, const char *element)
{
    return (!individual || strcmp(individual, part->individual) == 0)
           && (!element || strcmp(element, part->element) == 0);
}

static enum mb_rc check_parts(const struct mb_view *view, struct mb_error *err)
{
    for (const struct mb_part *a = view->parts; a; a = a->next)
        for (const struct mb_part *b = a->next; b; b = b->next)
            if (fits(b, a->individual, a->element) && a->uncovered != b->uncovered)
                return mb_fail(err, MB_REFUSED,
                               "view '%s': %s and %s are of the same individual and element, but "
                               "one says that what no region covers is %s, the other %s",
                               view->name, a->where, b->where, mb_substance_words[a->uncovered],
                               mb_substance_words[b->uncovered]);
    return MB_OK;
}

static enum mb_rc check_region(const struct mb_view *view, const struct mb_region *region,
                               struct mb_error *err)
{
    const struct mb_part *part = view->parts;

    if (!part)
        return mb_fail(err, MB_REFUSED,
                       "view '%s': %s has no specimen outline to lie in; draw the outline of what "
                       "100 %% is",
                       view->name, region->where);
    while (part && !fits(part, region->individual, region->element))
        part = part->next;
    if (!part)
        return mb_fail(err, MB_REFUSED,
                       "view '%s': %s is of individual '%s'%s%s%s, which has no outline in this "
                       "view",
                       view->name, region->where, region->individual ? region->individual : "any",
                       region->element ? ", element '" : "", region->element ? region->element : "",
                       region->element ? "'" : "");
    return MB_OK;
}

static enum mb_rc check_view(const struct mb_view *view, struct mb_error *err)
{
    enum mb_rc rc = check_parts(view, err);

    if (rc != MB_OK)
        return rc;
    if (!view->parts && !view->regions && !view->joins && !view->counts && !view->estimates)
        return mb_fail(err, MB_REFUSED, "view '%s': nothing is drawn, counted or estimated in it",
                       view->name);
    for (const struct mb_region *region = view->regions; region; region = region->next) {
        rc = check_region(view, region, err);
        if (rc != MB_OK)
            return rc;
    }
    if (view->parts && !(view->line_px > 0))
        return mb_fail(err, MB_REFUSED,
                       "view '%s': the width of the drawn line is not stated; the range of every "
                       "share follows from it",
                       view->name);
    for (const struct mb_count *count = view->counts; count; count = count->next)
        if (count->total == 0)
            return mb_fail(err, MB_REFUSED, "view '%s': %s has no points", view->name,
                           count->where);
    return MB_OK;
}

/* Where there is more than one animal, the reader must be told how they came together. */
static enum mb_rc check_individuals(const struct mb_outlines *all, struct mb_error *err)
{
    for (const struct mb_individual *one = all->individuals; one; one = one->next)
        if (all->individual_count > 1 && !*one->association)
            return mb_fail(err, MB_REFUSED,
                           "individual '%s': it does not say how it belongs with the others "
                           "(association: %s; %s; %s; %s)",
                           one->label, mb_association_words[0], mb_association_words[1],
                           mb_association_words[2], mb_association_words[3]);
    return MB_OK;
}

static enum mb_rc check_all(mb_arena *arena, const struct mb_outlines_given *given,
                            struct mb_outlines *all, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    if (!all->views)
        return mb_fail(err, MB_REFUSED, "there is no view in it");
    for (const struct mb_view *view = all->views; view && rc == MB_OK; view = view->next)
        rc = check_view(view, err);
    if (rc == MB_OK)
        rc = check_individuals(all, err);
    if (rc != MB_OK)
        return rc;
    if (all->not_examined_count == 0 && given && given->not_examined_count > 0) {
        all->not_examined = MB_ARRAY(arena, given->not_examined_count, const char *);
        for (size_t i = 0; i < given->not_examined_count && rc == MB_OK; i++)
            rc = mb_outlines_label(arena, mb_str_of(given->not_examined[i]),
                                   "what was not examined", &all->not_examined[i], err);
        all->not_examined_count = given->not_examined_count;
    }
    if (rc == MB_OK && all->not_examined_count == 0)
        return mb_fail(err, MB_REFUSED,
                       "it does not say what was not examined (reverse, embedded side, inside, "
                       "under a coating ...); say so, or say 'nothing'");
    return rc;
}

/* JSON begins with a brace, SVG with an angle bracket; all else is a table. */
static enum mb_rc read_form(mb_arena *arena, struct mb_str text,
                            const struct mb_outlines_given *given, struct mb_outlines *all,
                            struct mb_error *err)
{
    struct mb_str body;

    if (mb_str_starts(text, "\xEF\xBB\xBF")) {
        text.at += 3;
        text.len -= 3;
    }
    body = mb_str_trim(text);
    if (body.len == 0)
        return mb_fail(err, MB_REFUSED, "it is empty");
    if (!mb_utf8_ok(text))
        return mb_fail(err, MB_REFUSED, "it is not UTF-8 text; save it as UTF-8");
    if (body.at[0] == '{') {
        all->form = "JSON";
        return mb_outlines_json(arena, text, all, err);
    }
    if (body.at[0] == '<') {
        all->form = "SVG";
        return mb_outlines_svg(arena, text, given, all, err);
    }
    all->form = "table";
    return mb_outlines_table(arena, text, given, all, err);
}

enum mb_rc mb_outlines_read(mb_arena *arena, const char *file, struct mb_str text,
                            const struct mb_outlines_given *given, const struct mb_outlines **out,
                            struct mb_error *err)
{
    struct mb_outlines *all = MB_NEW(arena, struct mb_outlines);
    enum mb_rc rc;

    all->file = mb_arena_text(arena, file);
    if (text.len > MB_OUTLINE_BYTES_MAX)
        rc = mb_fail(err, MB_REFUSED, "it is larger than %d MiB",
                     MB_OUTLINE_BYTES_MAX / 1024 / 1024);
    else
        rc = read_form(arena, text, given, all, err);
    if (rc == MB_OK)
        rc = check_all(arena, given, all, err);
    if (rc == MB_OK)
        *out = all;
    else
        mb_fail_where(err, "%s", all->file);
    return rc;
}
