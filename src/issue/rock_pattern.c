#include "rock_pattern.h"

#define INK .ink = { 0x1A1A1A, 0 }

/* One pattern over another where one alone would not be told apart. */
static const struct {
    struct mb_fill first, second;
} patterns[MB_LITHO_COUNT] = {
    [MB_LITHO_CHALK] = { { .pattern = MB_PATTERN_BRICKS, INK, .step_mm = 4, .line_mm = 0.15 },
                         { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_LIMESTONE] = { { .pattern = MB_PATTERN_BRICKS, INK, .step_mm = 2, .line_mm = 0.3 },
                             { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_MARL] = { { .pattern = MB_PATTERN_BRICKS, INK, .step_mm = 4, .line_mm = 0.15 },
                        { .pattern = MB_PATTERN_DASHES, INK, .step_mm = 1.3, .line_mm = 0.2 } },
    [MB_LITHO_DOLOMITE] = { { .pattern = MB_PATTERN_BRICKS, INK, .step_mm = 2.4, .line_mm = 0.25,
                              .turn_degrees = 20 },
                            { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_SHALE] = { { .pattern = MB_PATTERN_LINES, INK, .step_mm = 0.9, .line_mm = 0.15 },
                         { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_MUDSTONE] = { { .pattern = MB_PATTERN_DASHES, INK, .step_mm = 1.6,
                              .line_mm = 0.25 },
                            { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_SILTSTONE] = { { .pattern = MB_PATTERN_DOTS, INK, .step_mm = 1.1, .line_mm = 0.15 },
                             { .pattern = MB_PATTERN_LINES, INK, .step_mm = 3.3,
                               .line_mm = 0.15 } },
    [MB_LITHO_SANDSTONE] = { { .pattern = MB_PATTERN_DOTS, INK, .step_mm = 1.5, .line_mm = 0.22 },
                             { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_CONGLOMERATE] = { { .pattern = MB_PATTERN_RINGS, INK, .step_mm = 2.6,
                                  .line_mm = 0.25 },
                                { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_ASH] = { { .pattern = MB_PATTERN_LINES, INK, .step_mm = 1.2, .line_mm = 0.3,
                         .turn_degrees = 45 },
                       { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_COAL] = { { .pattern = MB_PATTERN_SOLID, INK }, { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_IRONSTONE] = { { .pattern = MB_PATTERN_RINGS, INK, .step_mm = 1.5, .line_mm = 0.5 },
                             { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_GYPSUM] = { { .pattern = MB_PATTERN_LINES, INK, .step_mm = 1.2, .line_mm = 0.2,
                            .turn_degrees = 90 },
                          { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_CHERT] = { { .pattern = MB_PATTERN_LINES, INK, .step_mm = 2, .line_mm = 0.9 },
                         { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_IGNEOUS] = { { .pattern = MB_PATTERN_CROSS, INK, .step_mm = 2.2, .line_mm = 0.25,
                             .turn_degrees = 45 },
                           { .pattern = MB_PATTERN_NONE } },
    [MB_LITHO_UNKNOWN] = { { .pattern = MB_PATTERN_DOTS, INK, .step_mm = 4, .line_mm = 0.3 },
                           { .pattern = MB_PATTERN_DASHES, INK, .step_mm = 4, .line_mm = 0.12,
                             .turn_degrees = 45 } },
};

void mb_rock_box(mb_canvas *canvas, enum mb_lithology rock, struct mb_mm_box box)
{
    const struct mb_stroke frame = { .width_mm = 0.25, INK };
    const struct mb_stroke thin = { .width_mm = 0.12, INK };
    const struct mb_fill white = { .pattern = MB_PATTERN_SOLID, .ink = { 0xFFFFFF, 0 } };

    mb_canvas_rect(canvas, box.x, box.y, box.width, box.height, &white, NULL);
    if (rock == MB_LITHO_ABSENT) {
        mb_canvas_line(canvas, box.x, box.y, box.x + box.width, box.y + box.height, &thin);
        mb_canvas_line(canvas, box.x, box.y + box.height, box.x + box.width, box.y, &thin);
    } else {
        mb_canvas_rect(canvas, box.x, box.y, box.width, box.height, &patterns[rock].first, NULL);
        mb_canvas_rect(canvas, box.x, box.y, box.width, box.height, &patterns[rock].second, NULL);
    }
    mb_canvas_rect(canvas, box.x, box.y, box.width, box.height, NULL, &frame);
}
