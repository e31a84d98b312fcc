/* A measured section out of the record: its layers stacked, and the finds at their heights. */
#ifndef MB_SECTION_RECORD_H
#define MB_SECTION_RECORD_H

#include <markerbed/land.h>

#include "section.h"

/* A layer as it is recorded. Texts may be NULL. */
struct mb_layer {
    const char *sub, *name, *rock, *formation, *member, *age;
    const char *how; /* the thickness was come by, where it was worked out */
    double base_m, thick_m;
};

/* Layers, in any order, to beds without holes or overlaps, from the lowest up: where several cover
 * a level the thinnest counts, and where none does there is a bed without a layer. bed->unit is
 * not set; layer_of[i] is the layer of beds[i] or NULL. */
struct mb_stack {
    struct mb_section_bed *beds;
    const struct mb_layer **layer_of;
    size_t count;
};
void mb_section_stack(mb_arena *arena, const struct mb_layer *layers, size_t count,
                      struct mb_stack *out);

/* Metres of "0.35 m", "-40 cm", "3 ft"; NaN where it is none of these. */
double mb_section_metres(struct mb_str words);

#endif
