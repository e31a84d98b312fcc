#include "measure.h"
#include "measure_inside.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "drawnum.h"
#include "text.h"

enum { NAMES_TOLD = 6 };

void mb_measure_note(struct mb_measuring *m, const char *format, ...)
{
    struct mb_measure_note *note;
    const char *text;
    va_list args;

    va_start(args, format);
    text = mb_arena_vprintf(m->arena, format, args);
    va_end(args);
    for (note = m->out->notes; note; note = note->next)
        if (strcmp(note->text, text) == 0)
            return;
    note = MB_NEW(m->arena, struct mb_measure_note);
    note->text = text;
    if (m->notes_last)
        m->notes_last->next = note;
    else
        m->out->notes = note;
    m->notes_last = note;
}

struct mb_tally *mb_measure_add_tally(struct mb_measuring *m, const char *individual,
                                      enum mb_how how)
{
    struct mb_tally *tally = MB_NEW(m->arena, struct mb_tally);

    tally->individual = individual;
    tally->how = how;
    if (m->tallies_last)
        m->tallies_last->next = tally;
    else
        m->out->tallies = tally;
    m->tallies_last = tally;
    return tally;
}

const char *mb_measure_list(mb_arena *arena, const char *const *names, size_t count)
{
    const char *text = "";
    size_t told = 0, more = 0;

    for (size_t i = 0; i < count; i++) {
        bool again = false;

        for (size_t j = 0; j < i; j++)
            again = again || strcmp(names[j], names[i]) == 0;
        if (again || !*names[i])
            continue;
        if (told == NAMES_TOLD)
            more++;
        else
            text = mb_arena_printf(arena, "%s%s%s", text, told++ ? ", " : "", names[i]);
    }
    return more ? mb_arena_printf(arena, "%s and %zu more", text, more) : text;
}

/* ---- joins ----------------------------------------------------------------------------------- */

/* A join of one name; drawn in several views it is the same join, as long as it is where it is
 * longest. */
struct seam {
    const struct mb_join *join; /* the first line of it */
    const struct mb_view *view; /* the view that `here` is the length in */
    double here, mm;
    bool has_mm;
};

static bool wider(const char *gap, const char *than)
{
    double a = 0, b = 0;

    mb_drawnum_read(mb_str_of(gap), &a);
    mb_drawnum_read(mb_str_of(than), &b);
    return a > b;
}

static struct mb_join_group *group_of(struct mb_measuring *m, const struct mb_join *join)
{
    struct mb_join_group *group, **end = &m->out->joins;

    for (group = m->out->joins; group; group = group->next) {
        if (group->through == join->through && strcmp(group->cause, join->cause) == 0
            && strcmp(group->adhesive, join->adhesive) == 0)
            return group;
        end = &group->next;
    }
    group = MB_NEW(m->arena, struct mb_join_group);
    *group = (struct mb_join_group){
        .through = join->through, .cause = join->cause, .adhesive = join->adhesive, .gap_mm = ""
    };
    *end = group;
    return group;
}

static enum mb_rc same_words(struct mb_measuring *m, const struct seam *seam,
                             const struct mb_view *view, const struct mb_join *join)
{
    if (seam->join->through == join->through && strcmp(seam->join->cause, join->cause) == 0
        && strcmp(seam->join->adhesive, join->adhesive) == 0)
        return MB_OK;
    return mb_fail(m->err, MB_REFUSED,
                   "view '%s': %s has the name of %s, but goes through something else or has "
                   "another cause or adhesive; the same name means the same join",
                   view->name, join->where, seam->join->where);
}

/* Length along the line; where it runs over itself it counts once. */
static enum mb_rc length_px(struct mb_measuring *m, const struct mb_join *join, double *out)
{
    MB_GEOMS_AUTO mb_geoms *geoms = mb_geoms_open();
    mb_geom *line = NULL, *once = NULL;
    enum mb_rc rc = mb_geom_line(geoms, join->at, join->count, &line, m->err);

    if (rc == MB_OK)
        rc = mb_geom_union(geoms, &line, 1, &once, m->err);
    if (rc == MB_OK)
        *out = mb_geom_length(once);
    return rc;
}

static struct seam *seam_of(struct seam *seams, size_t *count, const struct mb_join *join,
                            const struct mb_view *view)
{
    struct seam *seam;

    for (size_t i = 0; i < *count && *join->name; i++)
        if (strcmp(seams[i].join->name, join->name) == 0)
            return &seams[i];
    seam = &seams[(*count)++];
    *seam = (struct seam){ .join = join, .view = view };
    return seam;
}

static enum mb_rc take_join(struct mb_measuring *m, struct seam *seams, size_t *count,
                            const struct mb_view *view, const struct mb_join *join)
{
    struct seam *seam = seam_of(seams, count, join, view);
    struct mb_join_group *group = group_of(m, join);
    double px = 0;
    enum mb_rc rc = length_px(m, join, &px);

    if (rc != MB_OK) {
        mb_fail_where(m->err, "view '%s': %s", view->name, join->where);
        return rc;
    }
    rc = same_words(m, seam, view, join);
    if (rc != MB_OK)
        return rc;
    if (wider(join->gap_mm, group->gap_mm))
        group->gap_mm = join->gap_mm;
    if (!view->has_scale)
        return MB_OK;
    if (seam->view != view)
        seam->here = 0;
    seam->view = view;
    seam->here += px * view->bar_mm / view->bar_px;
    seam->mm = fmax(seam->mm, seam->here);
    seam->has_mm = true;
    return MB_OK;
}

enum mb_rc mb_measure_joins(struct mb_measuring *m)
{
    struct seam *seams = MB_ARRAY(m->arena, m->outlines->join_count, struct seam);
    size_t count = 0;
    enum mb_rc rc = MB_OK;

    for (const struct mb_view *view = m->outlines->views; view && rc == MB_OK; view = view->next)
        for (const struct mb_join *join = view->joins; join && rc == MB_OK; join = join->next)
            rc = take_join(m, seams, &count, view, join);
    for (size_t i = 0; i < count && rc == MB_OK; i++) {
        struct mb_join_group *group = group_of(m, seams[i].join);

        group->count++;
        group->mm += seams[i].mm;
        group->without_mm += !seams[i].has_mm;
    }
    return rc;
}

/* ---- the whole ------------------------------------------------------------------------------- */

static void note_drawing(struct mb_measuring *m)
{
    for (const struct mb_part_areas *part = m->parts; part; part = part->next)
        if (part->twice > 5e-4 * part->area)
            mb_measure_note(m,
                            "View '%s', %s: regions of different substance lie over each other on "
                            "%.1f %% of the outline; each spot counts once, what is not original "
                            "before what is.",
                            part->view->name, *part->element ? part->element : part->individual,
                            100 * part->twice / part->area);
}

static void note_always(struct mb_measuring *m)
{
    bool drawn = m->parts != NULL, counted = false, several = false;

    for (const struct mb_tally *tally = m->out->tallies; tally; tally = tally->next) {
        counted = counted || tally->how == MB_HOW_POINTS;
        several = several || tally->several_views;
    }
    if (drawn || counted)
        mb_measure_note(m, "100 %% is the visible surface of one individual in the views named.");
    if (several)
        mb_measure_note(m, "The views are taken to show different sides; what two of them show "
                           "counts twice.");
    if (drawn)
        mb_measure_note(m, "The range of an outlined share holds as long as no drawn line is off "
                           "by more than half its width.");
    if (counted)
        mb_measure_note(m, "The range of a counted share is a 95 %% score interval.");
    if (drawn || counted) {
        mb_measure_note(m, "The range does not cover work that could not be seen.");
        mb_measure_note(m, "Photos are flat: steep surfaces count less.");
    }
}

enum mb_rc mb_measure(mb_arena *arena, const struct mb_outlines *outlines,
                      const struct mb_measured **out, struct mb_error *err)
{
    struct mb_measured *all = MB_NEW(arena, struct mb_measured);
    struct mb_measuring m = { .arena = arena, .outlines = outlines, .out = all, .err = err };
    enum mb_rc rc = MB_OK;

    all->outlines = outlines;
    for (const struct mb_view *view = outlines->views; view && rc == MB_OK; view = view->next) {
        rc = mb_measure_view(&m, view);
        if (rc == MB_OK)
            rc = mb_measure_check_counts(&m, view);
    }
    if (rc == MB_OK)
        rc = mb_measure_joins(&m);
    if (rc != MB_OK) {
        mb_fail_where(err, "%s", outlines->file);
        return rc;
    }
    for (const struct mb_individual *one = outlines->individuals; one; one = one->next) {
        mb_measure_outlined(&m, one);
        mb_measure_counted(&m, one);
    }
    note_drawing(&m);
    note_always(&m);
    *out = all;
    return MB_OK;
}
