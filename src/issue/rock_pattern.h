/* How rocks are drawn: simple patterns of our own that stay apart in black and white. The legend
 * says in words what each means. */
#ifndef MB_ROCK_PATTERN_H
#define MB_ROCK_PATTERN_H

#include "canvas.h"
#include "lithology.h"

/* A box of that rock, with a thin frame. Rock that is not recorded is an empty box with a cross. */
void mb_rock_box(mb_canvas *canvas, enum mb_lithology rock, struct mb_mm_box box);

#endif
