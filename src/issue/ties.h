/*
 * What ties a paper to one piece, so that it cannot be handed over with another: three marks to be
 * found on it, its size, its mass, the number written on it, and a photo.
 */
#ifndef MB_TIES_H
#define MB_TIES_H

#include <markerbed/json.h>

/* What of it the lines of a statement do not tell: "its size and its mass", NULL if all is there or
 * it is a lot, which is no single piece. `pictured`: a photo of the piece is in the file. */
const char *mb_ties_missing(mb_arena *arena, const mb_json *lines, bool pictured);

#endif
