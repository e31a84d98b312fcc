/*
 * A photo that is drawn, and what is said of it. Outlines are polygons whose corners are whole
 * pixels, so an area is a whole number of half square pixels, and known exactly.
 *
 * What goes wrong sticks in `rc` and `err`, and is told by scene_end.
 */
#ifndef SCENE_H
#define SCENE_H

#include <stdint.h>

#include <markerbed/json.h>

#include "canvas.h"

enum { CORNERS_MAX = 160, SHAPES_MAX = 16 };

struct corner {
    int x, y; /* pixels */
};

struct ring {
    struct corner at[CORNERS_MAX];
    int count;
};

struct scene {
    mb_arena *arena;
    mb_canvas *canvas;
    struct mb_error err;
    enum mb_rc rc;
    const char *name, *number, *view; /* "front" at first */
    int width, height, bar_px, bar_mm;
    double left, top, zoom; /* what of the piece is in the picture: 0, 0, 1 where it is whole */
    mb_json *individuals, *specimens, *regions, *joins;
    struct {
        const char *individual, *substance; /* substance NULL: the whole individual */
        int64_t twice_px;
    } areas[SHAPES_MAX];
    int area_count;
};

extern const struct mb_ink scene_paper, scene_black, scene_white, scene_edge, scene_bone;

void scene_corner(struct ring *ring, double x, double y);

void scene_begin(struct scene *s, const char *name, const char *number, int width, int height);
void scene_ink(struct scene *s, const struct ring *ring, struct mb_ink colour, bool edged);
/* One animal, with how it came to lie there; it is inked as bone. */
void scene_individual(struct scene *s, const char *label, const char *name,
                      const char *association, const char *setting, const struct ring *ring);
/* A part of it that is of another substance. Regions of one individual do not overlap. */
void scene_region(struct scene *s, const char *label, const char *substance,
                  const struct ring *ring, struct mb_ink colour);
void scene_join(struct scene *s, const char *through, const char *cause, const struct ring *line);
void scene_say(struct scene *s, const char *text, double x, double y, double size,
               struct mb_ink colour);
/* A bar of bar_px that stands for bar_mm, in five fields, and the piece's number. */
void scene_scale(struct scene *s, int bar_px, int bar_mm);
/* Saves NAME.jpg. */
void scene_photo(struct scene *s);

/* A mark that tells the piece from any other, in the middle of a picture taken from close by. */
struct mark {
    const char *name;
    int x, y; /* in the picture of the whole piece */
    double zoom;
};
/* Saves NAME.jpg of each: the same piece inked again, larger. */
enum mb_rc scene_marks(const struct mark *marks, int count, void (*ink)(struct scene *s));
/* The same piece seen from several sides, one scene each: saves NAME.outlines.json with all views.
 * MB_NO in rc of the first if a measured share, of a view or of the whole, is more than a tenth of
 * a per cent off the one that is known. */
void scene_measured_together(struct scene *const *views, int count, const char *name,
                             const char *unseen);
/* Saves NAME.outlines.json, and what the library measures from it as lists for the kind
 * `condition`: NAME.shares.json, NAME.joins.json, NAME.individuals.json. MB_NO in rc if a measured
 * share is more than a tenth of a per cent off the one that is known. */
void scene_measured(struct scene *s, const char *unseen);
enum mb_rc scene_end(struct scene *s);

#endif
