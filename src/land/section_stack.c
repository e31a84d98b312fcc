#include "section_record.h"

#include <math.h>
#include <stdlib.h>

#include "decimal.h"
#include "text.h"

#define SAME_M 1e-9
#define FOOT_M 0.3048 /* international foot, exact by the agreement of 1959 */

double mb_section_metres(struct mb_str words)
{
    struct mb_str number, unit;

    if (!mb_str_cut(words, ' ', &number, &unit) || !mb_decimal_ok(number))
        return NAN;
    if (mb_str_is(unit, "m"))
        return mb_decimal_double(number);
    if (mb_str_is(unit, "cm"))
        return mb_decimal_double(number) / 100;
    if (mb_str_is(unit, "ft"))
        return mb_decimal_double(number) * FOOT_M;
    return NAN;
}

static int rising(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;

    return left < right ? -1 : left > right;
}

/* The thinnest layer that covers the middle of a step. */
static const struct mb_layer *layer_at(const struct mb_layer *layers, size_t count, double level)
{
    const struct mb_layer *found = NULL;

    for (size_t i = 0; i < count; i++)
        if (level > layers[i].base_m && level < layers[i].base_m + layers[i].thick_m
            && (!found || layers[i].thick_m < found->thick_m))
            found = &layers[i];
    return found;
}

void mb_section_stack(mb_arena *arena, const struct mb_layer *layers, size_t count,
                      struct mb_stack *out)
{
    double *edges = MB_ARRAY(arena, 2 * count + 1, double);
    size_t edge_count = 0;

    for (size_t i = 0; i < count; i++) {
        edges[2 * i] = layers[i].base_m;
        edges[2 * i + 1] = layers[i].base_m + layers[i].thick_m;
    }
    if (count)
        qsort(edges, 2 * count, sizeof *edges, rising);
    for (size_t i = 0; i < 2 * count; i++)
        if (!edge_count || edges[i] - edges[edge_count - 1] > SAME_M)
            edges[edge_count++] = edges[i];
    *out = (struct mb_stack){ MB_ARRAY(arena, edge_count + 1, struct mb_section_bed),
                              MB_ARRAY(arena, edge_count + 1, const struct mb_layer *), 0 };
    for (size_t i = 0; i + 1 < edge_count; i++) {
        const struct mb_layer *layer = layer_at(layers, count, (edges[i] + edges[i + 1]) / 2);
        struct mb_section_bed *bed;

        if (out->count && out->layer_of[out->count - 1] == layer) {
            bed = &out->beds[out->count - 1];
        } else {
            out->layer_of[out->count] = layer;
            bed = &out->beds[out->count++];
            bed->base_m = edges[i];
        }
        bed->top_m = edges[i + 1];
        bed->true_m = bed->top_m - bed->base_m;
    }
}
