/*
 * What a person drew or counted on photos of a specimen: the input of every measured share.
 *
 * Three forms are read into one model; docs/measuring.md describes them for users:
 *   JSON   "markerbed-outlines/1", everything that can be said
 *   SVG    shapes with data- attributes, drawn in a vector editor (outline_svg.c)
 *   table  point counts with a header line: substance,count or x,y,substance (outline_table.c)
 *
 * A view is one photo. In it lie parts (the outline of one element of one individual, which is
 * what 100 % is there), regions (what is of one substance, or has one or more surfaces), joins
 * (mended breaks, as lines), counts of points, and estimates. A region that names no individual
 * or element belongs to every part that it lies on.
 *
 * Reading checks words, numbers, names and amounts; whether outlines are sound is found when they
 * are measured (measure.h). Everything lives in the arena; lists are in the order of the file.
 * A refusal is one sentence: file, view, region, what is wrong. Nothing is guessed: an unknown
 * member or attribute of ours is refused, so that no slip of the pen is passed over.
 */
#ifndef MB_OUTLINE_H
#define MB_OUTLINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <markerbed/arena.h>

#include "geom.h"
#include "substance.h"

/* Limits at the door, so that no file can ask for more memory or time than it is worth. */
enum {
    MB_OUTLINE_BYTES_MAX = 32 * 1024 * 1024,
    MB_OUTLINE_VIEWS_MAX = 200,
    MB_OUTLINE_PARTS_MAX = 2000,     /* in all views */
    MB_OUTLINE_REGIONS_MAX = 10000,  /* and joins; in all views */
    MB_OUTLINE_CORNERS_MAX = 100000, /* in all views */
    MB_OUTLINE_POINTS_MAX = 1000000, /* counted points, in all views */
    MB_OUTLINE_VALUES_MAX = 1000000, /* of a JSON text: about 70 bytes of memory each */
    MB_OUTLINE_LABEL_MAX = 200       /* bytes of a name or label */
};

/* The label of the only individual where none is given. */
#define MB_OUTLINE_SPECIMEN "specimen"

/* Outer line and holes of each piece. */
struct mb_shape {
    const struct mb_polygon *at;
    size_t count;
};

struct mb_part {
    struct mb_part *next;
    const char *individual; /* never NULL */
    const char *element;    /* "" if the individual is not divided */
    const char *where;      /* for messages: "specimen 2 ('skull')" */
    struct mb_shape shape;
    enum mb_substance uncovered; /* what a spot is that no region covers */
};

struct mb_region {
    struct mb_region *next;
    const char *individual, *element; /* NULL: of whatever part it lies on */
    const char *where;                /* for messages: "region 3 ('left rib')" */
    struct mb_shape shape;
    bool has_substance;
    enum mb_substance substance;
    unsigned surfaces; /* bit 1 << enum mb_surface */
};

struct mb_join {
    struct mb_join *next;
    const char *name; /* "" if none; the same name in another view is the same join */
    const char *where;
    enum mb_through through;
    const char *cause, *adhesive; /* "" if not given */
    const char *gap_mm;           /* widest gap, a decimal; "" if not given */
    const struct mb_xy *at;
    size_t count;
};

struct mb_count {
    struct mb_count *next;
    const char *individual, *element;
    const char *where;
    const char *layout;   /* how the points were laid: "" or one of mb_layout_words */
    const char *area_mm2; /* the area they stand for, a decimal; "" takes it from the outline */
    uint64_t hits[MB_SUBSTANCES];
    uint64_t total;
    /* Where the points are, if the file says so: at_count is total or 0. */
    const struct mb_xy *at;
    const uint8_t *substance; /* of each point */
    size_t at_count;
};

/* A band for a substance, or an extent word for a surface. */
struct mb_estimate {
    struct mb_estimate *next;
    const char *individual, *element;
    bool of_surface;
    enum mb_substance substance; /* of a surface: what it lies on, if on_substance */
    bool on_substance;
    enum mb_surface surface;
    enum mb_band band;
    enum mb_extent extent;
};

struct mb_view {
    struct mb_view *next;
    const char *name;
    const char *photo, *photo_sha256; /* "" if not given; hash in small hex */
    double width_px, height_px;       /* of the photo; 0 if not given */
    double line_px;                   /* width of the drawn line; 0 where nothing is drawn */
    bool has_scale;
    double bar_px, bar_mm;
    bool has_bar; /* where the bar lies on the photo */
    struct mb_xy bar_from, bar_to;
    struct mb_part *parts, *parts_last;
    struct mb_region *regions, *regions_last;
    struct mb_join *joins, *joins_last;
    struct mb_count *counts, *counts_last;
    struct mb_estimate *estimates, *estimates_last;
};

struct mb_individual {
    struct mb_individual *next;
    const char *label;
    const char *name;                  /* what it is; "" if not given */
    const char *association, *setting; /* words; "" if not given */
    const char *shown_by;              /* how that is known; "" if not given */
};

struct mb_outlines {
    const char *file; /* for messages */
    const char *form; /* "JSON", "SVG" or "table" */
    /* What was not looked at, in the user's words; one text "nothing" says so expressly. */
    const char **not_examined;
    size_t not_examined_count;
    struct mb_individual *individuals, *individuals_last;
    size_t individual_count;
    struct mb_view *views, *views_last;
    size_t view_count, part_count, count_count, estimate_count;
    size_t region_count, join_count, corner_count;
    uint64_t point_count;
};

enum { MB_LAYOUTS = 3 };
extern const char *const mb_layout_words[MB_LAYOUTS]; /* random; grid, random start; grid */

/*
 * What forms without room for it are told from outside (the command line, a form). Where the file
 * says the same thing itself, the file holds and what is given here is not looked at. NULL or 0:
 * not given.
 */
struct mb_outlines_given {
    const char *view, *individual, *element;
    const char *const *not_examined;
    size_t not_examined_count;
    double line_px;       /* for SVG */
    const char *area_mm2; /* for point counts */
};

/* file: the name used in messages. given may be NULL. MB_REFUSED with the sentence. */
MB_CHECK enum mb_rc mb_outlines_read(mb_arena *arena, const char *file, struct mb_str text,
                                     const struct mb_outlines_given *given,
                                     const struct mb_outlines **out, struct mb_error *err);

/*
 * The same outlines as JSON, with everything in it that was told from outside, and nothing that
 * measuring does not read: no names of regions, no comments, of a photo's path the name alone.
 * Curves are their chords, places are rounded to a millionth of a pixel. Reading what was written
 * and writing it again gives the same bytes. MB_REFUSED if it would be longer than may be read.
 */
MB_CHECK enum mb_rc mb_outlines_write(mb_arena *arena, const struct mb_outlines *outlines,
                                      struct mb_str *text, struct mb_error *err);

#endif
