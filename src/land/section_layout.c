#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "section.h"

#define TICK_MM 8.0

/* 1, 2 or 5 times a power of ten, at least x. */
static double round_up(double x)
{
    double power = pow(10, floor(log10(x) + 1e-12));
    static const double steps[] = { 1, 2, 5 };
    for (size_t i = 0; i < 3; i++)
        if (steps[i] * power >= x * (1 - 1e-12))
            return steps[i] * power;
    return 10 * power;
}

/* ---- labels ---------------------------------------------------------------------------------- */

/* A run of labels that touch and move as one. */
struct cluster {
    size_t first, count;
    double sum; /* of the wanted places, each less its distance from the cluster's first */
};

static double settled(const struct cluster *c, double gap, double low, double high)
{
    double first = c->sum / (double)c->count;
    double last_may = high - gap * (double)(c->count - 1);
    return fmax(fmin(first, last_may), low);
}

/* Places sorted labels as near as can be (least squares) to where they want to be, a gap apart and
 * between low and high. Where they do not fit, the gap shrinks: true. */
static bool spread(mb_arena *arena, const double *wanted, size_t count, double gap, double low,
                   double high, double *out)
{
    bool crowded = count > 1 && gap * (double)(count - 1) > high - low;
    if (crowded)
        gap = (high - low) / (double)(count - 1);
    struct cluster *clusters = MB_ARRAY(arena, count + 1, struct cluster);
    size_t used = 0;
    for (size_t i = 0; i < count; i++) {
        clusters[used++] = (struct cluster){ i, 1, wanted[i] };
        while (used > 1) {
            struct cluster *a = &clusters[used - 2], *b = &clusters[used - 1];
            double end = settled(a, gap, low, high) + gap * (double)a->count;
            if (settled(b, gap, low, high) >= end)
                break;
            a->sum += b->sum - gap * (double)(a->count * b->count);
            a->count += b->count;
            used--;
        }
    }
    for (size_t i = 0; i < used; i++)
        for (size_t j = 0; j < clusters[i].count; j++)
            out[clusters[i].first + j] = settled(&clusters[i], gap, low, high) + gap * (double)j;
    return crowded;
}

/* ---- the column ------------------------------------------------------------------------------ */

struct drawing {
    mb_arena *arena;
    const struct mb_section *section;
    const struct mb_section_want *want;
    struct mb_section_layout *out;
};

static double down(const struct drawing *d, double level_m)
{
    return (d->section->top_m - level_m) * 1000 / d->out->scale;
}

static void lay_beds(struct drawing *d)
{
    size_t count = d->section->count;
    struct mb_section_drawn_bed *beds = MB_ARRAY(d->arena, count, struct mb_section_drawn_bed);
    double *wanted = MB_ARRAY(d->arena, count, double), *got = MB_ARRAY(d->arena, count, double);
    double half = d->want->label_mm / 2;
    for (size_t i = 0; i < count; i++) {
        const struct mb_section_bed *bed = &d->section->beds[count - 1 - i];
        beds[i].bed = bed;
        beds[i].top_mm = down(d, bed->top_m);
        beds[i].base_mm = down(d, bed->base_m);
        wanted[i] = (beds[i].top_mm + beds[i].base_mm) / 2;
    }
    double low = half, high = fmax(d->out->height_mm - half, half);
    d->out->crowded |= spread(d->arena, wanted, count, d->want->label_mm, low, high, got);
    for (size_t i = 0; i < count; i++)
        beds[i].label_mm = got[i];
    d->out->beds = beds;
    d->out->bed_count = count;
}

static int higher_first(const void *a, const void *b)
{
    const struct mb_section_drawn_mark *left = a, *right = b;
    if (left->top_mm != right->top_mm)
        return left->top_mm < right->top_mm ? -1 : 1;
    return strcmp(left->mark->label, right->mark->label);
}

static void lay_marks(struct drawing *d)
{
    size_t count = d->want->mark_count;
    const struct mb_section *section = d->section;
    struct mb_section_drawn_mark *marks =
        MB_ARRAY(d->arena, count + 1, struct mb_section_drawn_mark);
    double *wanted = MB_ARRAY(d->arena, count + 1, double);
    double *got = MB_ARRAY(d->arena, count + 1, double);
    for (size_t i = 0; i < count; i++) {
        const struct mb_section_mark *mark = &d->want->marks[i];
        double low = fmin(mark->from_m, mark->to_m), high = fmax(mark->from_m, mark->to_m);
        marks[i].mark = mark;
        marks[i].outside = low < section->base_m || high > section->top_m;
        marks[i].top_mm = down(d, fmax(fmin(high, section->top_m), section->base_m));
        marks[i].base_mm = down(d, fmin(fmax(low, section->base_m), section->top_m));
    }
    if (count)
        qsort(marks, count, sizeof *marks, higher_first);
    for (size_t i = 0; i < count; i++)
        wanted[i] = (marks[i].top_mm + marks[i].base_mm) / 2;
    /* A run can end below a later one that begins lower: labels go by their middles. */
    for (size_t i = 1; i < count; i++)
        wanted[i] = fmax(wanted[i], wanted[i - 1]);
    double half = d->want->label_mm / 2, last = fmax(d->out->height_mm - half, half);
    d->out->crowded |= spread(d->arena, wanted, count, d->want->label_mm, half, last, got);
    for (size_t i = 0; i < count; i++)
        marks[i].label_mm = got[i];
    d->out->marks = marks;
    d->out->mark_count = count;
}

static void lay_ticks(struct drawing *d)
{
    double least_mm = d->want->tick_mm > 0 ? d->want->tick_mm : TICK_MM;
    double step = round_up(least_mm * d->out->scale / 1000);
    int places = step >= 1 ? 0 : (int)ceil(-log10(step) - 1e-9);
    double first = ceil(d->section->base_m / step - 1e-9);
    double last = floor(d->section->top_m / step + 1e-9);
    size_t count = last >= first ? (size_t)(last - first) + 1 : 0;
    struct mb_section_tick *ticks = MB_ARRAY(d->arena, count + 1, struct mb_section_tick);
    for (size_t i = 0; i < count; i++) {
        double level = (last - (double)i) * step;
        ticks[i].mm = down(d, level);
        ticks[i].text = mb_arena_printf(d->arena, "%.*f", places, level == 0 ? 0.0 : level);
    }
    d->out->ticks = ticks;
    d->out->tick_count = count;
}

enum mb_rc mb_section_lay_out(mb_arena *arena, const struct mb_section *section,
                              const struct mb_section_want *want, struct mb_section_layout *out,
                              struct mb_error *err)
{
    struct mb_section_layout layout = { .crowded = false };
    struct drawing drawing = { arena, section, want, &layout };
    if (!(want->height_mm > 0) || !(want->label_mm > 0) || want->label_mm > want->height_mm)
        return mb_fail(err, MB_REFUSED, "a drawing of %g mm has no room for lines of %g mm",
                       want->height_mm, want->label_mm);
    for (size_t i = 0; i < want->mark_count; i++)
        if (!isfinite(want->marks[i].from_m) || !isfinite(want->marks[i].to_m))
            return mb_fail(err, MB_REFUSED, "\"%s\" has no level in the section",
                           want->marks[i].label);
    double thick_m = section->top_m - section->base_m;
    layout.scale = round_up(thick_m * 1000 / want->height_mm);
    layout.height_mm = thick_m * 1000 / layout.scale;
    lay_beds(&drawing);
    lay_marks(&drawing);
    lay_ticks(&drawing);
    *out = layout;
    return MB_OK;
}
