/*
 * Measured sections: how thick each bed really is, and where in the pile a find lay.
 *
 * True thickness is taken at right angles to the bedding. From a line of length L laid on the
 * ground in direction a, rising by the angle s (falling: negative), over beds that dip by d
 * towards direction t:
 *
 *     T = L | cos s sin d cos(a - t) + sin s cos d |
 *
 * Derived from trigonometry: the line's direction times the unit vector at right angles to the
 * beds. Its well-known cases: straight across the strike, uphill against the dip or downhill with
 * it, T = L sin(d + s) and L |sin(d - s)|; level ground, T = L sin d; a vertical line, T = L cos d.
 * A staff held at right angles to the beds measures T itself. Beds are taken as planes that keep
 * their dip over the unit.
 */
#ifndef MB_SECTION_H
#define MB_SECTION_H

#include <stdbool.h>
#include <stddef.h>

#include <markerbed/arena.h>

enum mb_section_way {
    MB_SECTION_TRUE,    /* measured at right angles to the beds */
    MB_SECTION_SLOPE,   /* along the ground: slope and azimuth of the line are needed */
    MB_SECTION_VERTICAL /* up a cliff or down a hole */
};

/* One unit as it was measured. Angles in degrees, azimuths clockwise from north. */
struct mb_section_unit {
    const char *name;
    const char *lithology;  /* may be NULL */
    bool covered;           /* not exposed */
    enum mb_section_way way;
    double measured_m;
    double dip, dip_azimuth; /* of the beds; not needed for MB_SECTION_TRUE */
    double slope, azimuth;   /* of the line; MB_SECTION_SLOPE alone */
};

struct mb_section_bed {
    const struct mb_section_unit *unit;
    double true_m;
    bool derived;           /* by the formula above */
    double base_m, top_m;   /* above the datum; negative below */
};

/* Where levels are counted from. */
struct mb_section_datum {
    const char *unit; /* NULL: the base of the section */
    bool top;         /* the unit's top and not its base */
};

struct mb_section {
    const struct mb_section_bed *beds; /* from the lowest up */
    size_t count;
    double base_m, top_m;
    const char *datum; /* in words: "base of the marker bed" */
};

#define MB_SECTION_UNITS_MAX 2000

double mb_section_true_m(double length_m, double slope, double azimuth, double dip,
                         double dip_azimuth);
/* Units from the lowest up. MB_REFUSED, naming the unit, for a thickness of 0 or less, angles that
 * cannot be, a line that runs along the beds (it would measure nothing), two units of one name, and
 * a datum that is no unit. */
MB_CHECK enum mb_rc mb_section_build(mb_arena *arena, const struct mb_section_unit *units,
                                     size_t count, struct mb_section_datum datum,
                                     struct mb_section *out, struct mb_error *err);

struct mb_section_place {
    const struct mb_section_bed *bed; /* a level on a boundary is in the bed above it */
    double above_base_m;              /* in that bed */
    bool on_boundary;
    double beyond_m; /* outside the section: how far above (positive) or below; then bed is NULL */
};
void mb_section_locate(const struct mb_section *section, double level_m,
                       struct mb_section_place *out);

/* ---- drawing to scale: positions only, in mm from the top of the drawing downwards ----------- */

/* A find, or a run of finds, at its level. */
struct mb_section_mark {
    const char *label;
    double from_m, to_m; /* equal for one level */
};

struct mb_section_want {
    double height_mm;      /* room for the column */
    double label_mm;       /* height of one line of text */
    double tick_mm;        /* at least so far apart; 0 means 8 */
    const struct mb_section_mark *marks;
    size_t mark_count;
};

struct mb_section_drawn_bed {
    const struct mb_section_bed *bed;
    double top_mm, base_mm;
    double label_mm; /* middle of its label: moved off its bed only where labels would overlap */
};
struct mb_section_drawn_mark {
    const struct mb_section_mark *mark;
    double top_mm, base_mm, label_mm;
    bool outside; /* its level is not in the section: drawn at the nearest end */
};
struct mb_section_tick {
    double mm;
    const char *text; /* metres above the datum */
};

struct mb_section_layout {
    double scale;     /* 1 : scale, a round number */
    double height_mm; /* of the column, at most what was wanted */
    const struct mb_section_drawn_bed *beds;
    size_t bed_count;
    const struct mb_section_tick *ticks;
    size_t tick_count;
    const struct mb_section_drawn_mark *marks; /* from the top down */
    size_t mark_count;
    bool crowded; /* more labels than fit: they lie closer than a line of text */
};

/* The largest scale 1:1, 1:2 or 1:5 times a power of ten at which the column fits. */
MB_CHECK enum mb_rc mb_section_lay_out(mb_arena *arena, const struct mb_section *section,
                                       const struct mb_section_want *want,
                                       struct mb_section_layout *out, struct mb_error *err);

#endif
