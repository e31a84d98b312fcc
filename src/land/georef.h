/*
 * Point and radius: how far off a place may be, from what the collector wrote down.
 *
 * The point-radius method: Wieczorek, Guo & Hijmans 2004, Int. J. Geographical Information Science
 * 18: 745-767, doi 10.1080/13658810412331280211; Chapman & Wieczorek 2020, Georeferencing Best
 * Practices, doi 10.15468/doc-gg7h-s853; Bloom et al. 2020, Georeferencing Calculator Manual, doi
 * 10.35035/gdwq-3v93. With R the extent of the named feature, g the error of the GPS or map, m of
 * measuring on the map, c of the coordinates' precision, t of the datum, q half the step of the
 * distance, D the distance, h the half-angle of the heading (all in metres but h):
 *
 *     point, feature   U = R + m + g + c + t
 *     along a path     U = R + m + g + c + t + q
 *     two offsets      U = R + m + g + c + t + sqrt(2) q
 *     at a heading     U = sqrt(D^2 + D'^2 - 2 D D' cos h) + c + t,  D' = D + R + m + g + q
 *
 * The manual's printed example (21001 m) comes out with c outside the root; where t belongs no
 * example shows: outside is the larger choice, so the safe one. The parts handed out add up to U;
 * at a heading "direction" is what the root adds to R + m + g + q.
 *
 * The radius bounds the place under the assumptions written down here; it is no statistical margin.
 */
#ifndef MB_GEOREF_H
#define MB_GEOREF_H

#include <stdbool.h>
#include <stdint.h>

#include "earth.h"

enum mb_georef_form {
    MB_GEOREF_POINT,
    MB_GEOREF_PATH,
    MB_GEOREF_HEADING,
    MB_GEOREF_OFFSETS
};

/* Everything not stated is 0 and adds nothing: where the collector wrote nothing, fill in what the
 * functions below give for that. */
struct mb_georef_input {
    enum mb_georef_form form;
    struct mb_latlon at;                  /* of the coordinates, or of the feature */
    const struct mb_ellipsoid *ellipsoid; /* of the datum of `at`; NULL is WGS 84 */
    double extent_m;        /* R: from the middle of the feature to its farthest point */
    double precision_m;     /* c: mb_georef_precision_m or mb_georef_grid_m */
    double gps_m;           /* g: mb_georef_gps_m */
    double map_m;           /* g: mb_georef_map_m or mb_georef_imagery_m */
    double measuring_m;     /* m: mb_georef_map_mm */
    double datum_m;         /* t: mb_georef_datum_m */
    double distance_m;      /* path, heading; D */
    double distance_step_m; /* path, heading, offsets; the step, not half of it */
    double azimuth;         /* heading, degrees clockwise from true north */
    double half_angle;      /* heading, degrees */
    double north_m, east_m; /* offsets; south and west negative */
};

struct mb_georef_part {
    /* extent, precision, GPS, map, measuring, datum, distance, direction, offset */
    const char *name;
    double metres;
};

#define MB_GEOREF_PARTS_MAX 9

struct mb_georef {
    /* Of the place meant. For headings and offsets moved from `at` over a flat earth, with the
     * latitude of the start, as the manual does; for a path it is the start (where along the path
     * the place is, the map shows and not we). */
    struct mb_latlon at;
    double uncertainty_m;
    struct mb_georef_part parts[MB_GEOREF_PARTS_MAX]; /* none is 0 */
    size_t count;
};

/* MB_REFUSED for numbers that cannot be (negative, unknown, past the pole). */
MB_CHECK enum mb_rc mb_georef_compute(const struct mb_georef_input *input, struct mb_georef *out,
                                      struct mb_error *err);
/* Whole metres, to the nearest as the manual prints them, but never 0. */
int64_t mb_georef_whole_m(double uncertainty_m);

/* ---- the parts ------------------------------------------------------------------------------- */

/* One step of the coordinates in both directions: lat = p M pi/180, lon = p N cos(lat) pi/180,
 * c = sqrt(lat^2 + lon^2). Not halved (Best Practices, table of coordinate precision). */
double mb_georef_precision_m(const struct mb_ellipsoid *e, double lat, double precision_deg);
/* A grid cell of this side: half its diagonal; 0.707 m for full UTM numbers. */
double mb_georef_grid_m(double cell_m);

/* Twice what the receiver shows (it is a figure of one in two). accuracy_m < 0: not recorded, then
 * 30 m from 2000-05-01 on, when the signal was no longer degraded, and 100 m before; `day` as in
 * date.h, the earliest day in question. */
double mb_georef_gps_m(double accuracy_m, int32_t day);
/* A map 1:scale held to the United States National Map Accuracy Standards (1947): 1/30 inch on the
 * sheet for scales larger than 1:20,000, else 1/50 inch. */
double mb_georef_map_m(double scale);
/* So many millimetres on a sheet of this scale. Measuring: 1 mm where nothing better is known;
 * error of a map of unknown standard: 1 mm too. */
double mb_georef_map_mm(double scale, double mm);
/* Online imagery: 8 m after 2008, 89.7 m up to then. */
double mb_georef_imagery_m(int32_t day);

/* Datum not recorded, without a table of shifts by place (none is shipped): the largest anywhere
 * (Best Practices, Uncertainty from Unknown Datum). */
#define MB_GEOREF_DATUM_UNKNOWN_M 5359.0
/* What a shift leaves open: its accuracy. NULL, a mere relabelling, or an accuracy that nobody
 * states count as not recorded. */
double mb_georef_datum_m(const struct mb_shift *shift);

/* The step in which a distance was written, in its own unit. Halves, quarters and eighths are taken
 * as such (10.5 -> 0.5, 10.25 -> 0.25), other decimals by their last digit; whole numbers by 1, but
 * multiples of ten by the power of ten below their size (30 -> 1, 140 -> 10, 2000 -> 100). False if
 * the text is no number above 0. */
bool mb_georef_step(struct mb_str distance, double *step);
/* Metres in a unit: m, km, mi, ft, yd, nmi (exact by the agreement of 1959). False if unknown. */
bool mb_georef_unit(struct mb_str unit, double *metres);

/* A heading: N, NE, NNE, "N by E", the words north, southwest..., degrees (045, 45.5), or quadrant
 * bearings (N45E). Half-angles: 45, 22.5, 11.25, 5.625 for 4, 8, 16, 32 winds (Best Practices,
 * Uncertainty Related to Heading); half the step for degrees (from memory). */
bool mb_georef_heading(struct mb_str text, double *azimuth, double *half_angle);

/* ---- coarse places --------------------------------------------------------------------------- */

/* A place given out by its cell of a grid of whole cells counted from the equator and Greenwich:
 * the middle of the cell, and the distance from there to its farthest corner; the old radius is
 * added where the old circle leaves the cell. MB_REFUSED if 180 is no multiple of the cell. */
MB_CHECK enum mb_rc mb_georef_coarse(struct mb_latlon at, double uncertainty_m, double cell_deg,
                                     struct mb_latlon *middle, double *radius_m,
                                     struct mb_error *err);
/* Spatial fit: area given over true area; 0 if the one given does not hold the true one. */
double mb_georef_fit(double given_m2, double true_m2, bool holds);

#endif
