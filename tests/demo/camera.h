/*
 * A picture as a camera leaves it: a JPEG with an Exif block in which stand the position, the name
 * of the place, the camera and the day. All of it is invented; the position is that of the demo's
 * first site. Tags by their numbers in JEITA CP-3451 (Exif 2.3).
 */
#ifndef CAMERA_H
#define CAMERA_H

#include <markerbed/arena.h>

/* From a PNG that the canvas drew. */
struct mb_str camera_jpeg(mb_arena *arena, struct mb_str png);

#endif
