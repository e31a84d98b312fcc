/* Inside of the SVG reader of outlines: what its two files share. */
#ifndef MB_OUTLINE_SVG_H
#define MB_OUTLINE_SVG_H

#include "outline_build.h"
#include "svgpath.h"
#include "svgxml.h"

enum svg_key {
    SVG_KIND,
    SVG_SUBSTANCE,
    SVG_SURFACE,
    SVG_VIEW,
    SVG_PHOTO,
    SVG_SHA256,
    SVG_PHOTO_WIDTH,
    SVG_PHOTO_HEIGHT,
    SVG_LINE_WIDTH,
    SVG_INDIVIDUAL,
    SVG_ELEMENT,
    SVG_UNCOVERED,
    SVG_ASSOCIATION,
    SVG_SETTING,
    SVG_SHOWN_BY,
    SVG_THROUGH,
    SVG_CAUSE,
    SVG_ADHESIVE,
    SVG_GAP_MM,
    SVG_MM,
    SVG_NAME,
    SVG_NOT_EXAMINED,
    SVG_KEYS
};

enum svg_kind { SVG_SPECIMEN, SVG_REGION, SVG_JOIN, SVG_SCALE, SVG_KINDS };

/* What holds at one depth of the file, handed down from the element around it. */
struct svg_layer {
    struct mb_svgmove move;
    struct mb_str value[SVG_KEYS]; /* {NULL, 0}: not said */
    bool own[SVG_KEYS];            /* said by the element itself */
    bool even_odd, hidden, styled;
    const char *shut; /* the name of an element around it that is not read */
};

struct svg_reading {
    mb_arena *arena;
    const struct mb_outlines_given *given;
    struct mb_outlines *all;
    struct mb_svgxml xml;
    struct svg_layer *layers; /* by depth; [0] holds nothing */
    struct mb_error *err;
};

/* Adds a drawn shape to the view as what it is. */
MB_CHECK enum mb_rc mb_svg_take(struct svg_reading *r, const struct svg_layer *layer,
                                enum svg_kind kind, struct mb_view *view,
                                const struct mb_svgline *lines, const char *where);
/* "reverse; under the mount" */
MB_CHECK enum mb_rc mb_svg_not_examined(struct svg_reading *r, struct mb_str text);
/* What must hold when the file is read to its end. */
MB_CHECK enum mb_rc mb_svg_finish(struct svg_reading *r);

#endif
