/*
 * The figure of the earth: distances and areas on the ellipsoid, coordinates from one datum to
 * another, and a plane laid on the ground for geometry.
 *
 * Latitudes and longitudes are degrees, north and east positive; distances are metres on the
 * ellipsoid. Geodesics follow Karney, "Algorithms for geodesics", J. Geodesy 87 (2013) 43-55, as
 * the library underneath (PROJ) implements them. Nothing is ever fetched over a network: a grid
 * that is not installed is said to be missing. PROJ's types stay in earth.c.
 */
#ifndef MB_EARTH_H
#define MB_EARTH_H

#include <stdbool.h>
#include <stddef.h>

#include <markerbed/arena.h>

struct mb_latlon {
    double lat, lon;
};

struct mb_ellipsoid {
    const char *name;
    double a_m;           /* equatorial radius */
    double flattening;    /* (a - b) / a */
};

/* EPSG ellipsoids 7030, 7019, 7008, 7022, 7004, 7024; parameters as registered there. */
extern const struct mb_ellipsoid mb_ellipsoid_wgs84;
extern const struct mb_ellipsoid mb_ellipsoid_grs80;
extern const struct mb_ellipsoid mb_ellipsoid_clarke1866;
extern const struct mb_ellipsoid mb_ellipsoid_international1924;
extern const struct mb_ellipsoid mb_ellipsoid_bessel1841;
extern const struct mb_ellipsoid mb_ellipsoid_krassowsky1940;

/* ---- geodesics (no state, no failure; the values must be finite, lat within 90) -------------- */

/* Shortest way: its length; its direction at `from`, clockwise from north, -180..180; and the
 * direction in which it runs on at `to`. Outputs may be NULL. */
void mb_earth_inverse(const struct mb_ellipsoid *e, struct mb_latlon from, struct mb_latlon to,
                      double *distance_m, double *azimuth, double *azimuth_at_to);
/* Where one arrives; lon is -180..180. */
void mb_earth_direct(const struct mb_ellipsoid *e, struct mb_latlon from, double azimuth,
                     double distance_m, struct mb_latlon *to, double *azimuth_at_to);
/* A polygon of geodesic edges (not of the straight lines in latitude and longitude that GeoJSON
 * has). The area is positive and the smaller of both sides; corners are not repeated. */
void mb_earth_polygon(const struct mb_ellipsoid *e, const struct mb_latlon *at, size_t count,
                      double *area_m2, double *perimeter_m);
/* Length of one degree along the meridian and along the parallel: pi/180 * M and
 * pi/180 * N * cos(lat), with W = 1 - e2 sin2(lat), M = a(1 - e2) / W^1.5, N = a / sqrt(W). */
void mb_earth_degree(const struct mb_ellipsoid *e, double lat, double *lat_m, double *lon_m);

/* ---- with PROJ and its register of coordinate systems ---------------------------------------- */

typedef struct mb_earth mb_earth; /* one per thread; keeps what it has looked up */

/* MB_UNABLE if PROJ's register (proj.db) is not installed. */
MB_CHECK enum mb_rc mb_earth_open(mb_earth **out, struct mb_error *err);
mb_earth *mb_earth_close(mb_earth *earth); /* accepts NULL, returns NULL */
void mb_earth_done(mb_earth **earth);
#define MB_EARTH_AUTO __attribute__((cleanup(mb_earth_done)))

/* A datum by the name people write ("EPSG:4267", "NAD27", "NAD 1927", "WGS 84", "ETRS89" ...).
 * MB_NO for "not recorded", "not known", "unknown" and the empty text: georef.h says what that
 * costs. MB_REFUSED for a name that is none (with the nearest), for a map grid, and for systems
 * that do not count degrees from Greenwich. Texts live in the arena. */
struct mb_datum {
    const char *code; /* EPSG:4267, the system of latitude and longitude on it */
    const char *name; /* NAD27 */
    struct mb_ellipsoid ellipsoid;
};
MB_CHECK enum mb_rc mb_earth_datum(mb_earth *earth, mb_arena *arena, struct mb_str text,
                                   struct mb_datum *out, struct mb_error *err);

/* How a position came from one datum to WGS 84. Texts live in the arena. */
struct mb_shift {
    struct mb_latlon to;      /* on WGS 84, EPSG:4326 */
    double moved_m;           /* how far the numbers moved, on WGS 84 */
    double accuracy_m;        /* of the operation, as its makers state it; negative: not stated */
    const char *operation;    /* its name */
    const char *operation_id; /* EPSG:1173, or NULL where it is a chain or a mere relabelling */
    const char *area;         /* where it is meant to be used, in the register's words */
    bool ballpark;            /* no known operation: the datum was only relabelled */
    bool grid_missing;        /* a more accurate operation exists, its grid is not installed */
    double better_accuracy_m; /* of that operation, if grid_missing */
    const char *grids;        /* names of the grids that are missing, else NULL */
};

/* Of the operations that the register holds for this place, the most accurate one that can be done
 * with what is installed; those made for the sea come after those for land. The register bounds
 * their areas by latitude and longitude only, so the area should be shown. MB_REFUSED for a code
 * that is no geographic system, or a place that is none. */
MB_CHECK enum mb_rc mb_earth_shift(mb_earth *earth, mb_arena *arena, const char *code,
                                   struct mb_latlon at, struct mb_shift *out,
                                   struct mb_error *err);
/* The same by one named operation (to repeat what a ledger says was done). MB_UNABLE if it needs a
 * grid that is not installed. */
MB_CHECK enum mb_rc mb_earth_shift_by(mb_earth *earth, mb_arena *arena, const char *operation_id,
                                      struct mb_latlon at, struct mb_shift *out,
                                      struct mb_error *err);

/* ---- planes ---------------------------------------------------------------------------------- */

typedef struct mb_plane mb_plane; /* lives as long as its mb_earth */

/* Lambert azimuthal equal-area, true at `centre`; x east, y north, metres. Areas are true
 * everywhere; lengths are true to 1 in 3,000 within 320 km of the centre. */
MB_CHECK enum mb_rc mb_plane_equal_area(mb_earth *earth, const struct mb_ellipsoid *e,
                                        struct mb_latlon centre, mb_plane **out,
                                        struct mb_error *err);
/* Universal Transverse Mercator of a zone 1..60 on any ellipsoid; x is the easting and y the
 * northing as they are written, false origins included. */
MB_CHECK enum mb_rc mb_plane_utm(mb_earth *earth, const struct mb_ellipsoid *e, int zone,
                                 bool south, mb_plane **out, struct mb_error *err);
/* False where the projection has no value. */
bool mb_plane_there(const mb_plane *plane, struct mb_latlon at, double *x, double *y);
bool mb_plane_back(const mb_plane *plane, double x, double y, struct mb_latlon *at);
/* Frees a plane early. Accepts NULL, returns NULL. */
mb_plane *mb_plane_free(mb_plane *plane);

#endif
