#include "georef.h"

#include <math.h>

#include "date.h"

#define INCH_M 0.0254
#define DEGREE (M_PI / 180)

/* ---- combining ------------------------------------------------------------------------------- */

static void part(struct mb_georef *out, const char *name, double metres)
{
    if (metres > 0)
        out->parts[out->count++] = (struct mb_georef_part){ name, metres };
}

static enum mb_rc check(const struct mb_georef_input *in, struct mb_error *err)
{
    const struct {
        const char *name;
        double value, most;
    } numbers[] = {
        { "extent", in->extent_m, 1e7 },
        { "precision", in->precision_m, 1e7 },
        { "GPS error", in->gps_m, 1e6 },
        { "map error", in->map_m, 1e6 },
        { "measuring error", in->measuring_m, 1e6 },
        { "datum error", in->datum_m, 1e6 },
        { "distance", in->distance_m, 1e7 },
        { "step of the distance", in->distance_step_m, 1e7 },
        { "half-angle", in->half_angle, 180 },
    };
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        if (!(numbers[i].value >= 0 && numbers[i].value <= numbers[i].most))
            return mb_fail(err, MB_REFUSED, "a %s of %g cannot be; it must be 0 to %g",
                           numbers[i].name, numbers[i].value, numbers[i].most);
    if (!(fabs(in->at.lat) <= 90) || !(fabs(in->at.lon) <= 180))
        return mb_fail(err, MB_REFUSED, "latitude %.7f, longitude %.7f is no place", in->at.lat,
                       in->at.lon);
    if (!isfinite(in->azimuth) || !(fabs(in->north_m) <= 1e7) || !(fabs(in->east_m) <= 1e7))
        return mb_fail(err, MB_REFUSED, "the heading or the offsets are no numbers");
    return MB_OK;
}

static enum mb_rc move(const struct mb_georef_input *in, const struct mb_ellipsoid *e,
                       struct mb_latlon *out, struct mb_error *err)
{
    double north = in->north_m, east = in->east_m, lat_m, lon_m;
    *out = in->at;
    if (in->form == MB_GEOREF_POINT || in->form == MB_GEOREF_PATH)
        return MB_OK;
    if (in->form == MB_GEOREF_HEADING) {
        north = in->distance_m * cos(in->azimuth * DEGREE);
        east = in->distance_m * sin(in->azimuth * DEGREE);
    }
    mb_earth_degree(e, in->at.lat, &lat_m, &lon_m);
    out->lat += north / lat_m;
    out->lon += lon_m > 1 ? east / lon_m : 0;
    if (fabs(out->lat) > 90 || lon_m <= 1)
        return mb_fail(err, MB_REFUSED, "the distance leads past the pole");
    out->lon = remainder(out->lon, 360);
    return MB_OK;
}

/* What the heading adds to the extent, map, measuring and distance parts. */
static double direction_m(const struct mb_georef_input *in, double along_m)
{
    double d = in->distance_m, longer = d + along_m;
    double apart2 = d * d + longer * longer - 2 * d * longer * cos(in->half_angle * DEGREE);
    return sqrt(fmax(apart2, 0)) - along_m;
}

enum mb_rc mb_georef_compute(const struct mb_georef_input *in, struct mb_georef *out,
                             struct mb_error *err)
{
    const struct mb_ellipsoid *e = in->ellipsoid ? in->ellipsoid : &mb_ellipsoid_wgs84;
    struct mb_georef result = { .count = 0 };
    enum mb_rc rc = check(in, err);
    if (rc == MB_OK)
        rc = move(in, e, &result.at, err);
    if (rc != MB_OK)
        return rc;
    double q = in->distance_step_m / 2;
    bool far = in->form == MB_GEOREF_PATH || in->form == MB_GEOREF_HEADING;
    part(&result, "extent", in->extent_m);
    part(&result, "precision", in->precision_m);
    part(&result, "GPS", in->gps_m);
    part(&result, "map", in->map_m);
    part(&result, "measuring", in->measuring_m);
    part(&result, "datum", in->datum_m);
    part(&result, "distance", far ? q : 0);
    part(&result, "offset", in->form == MB_GEOREF_OFFSETS ? sqrt(2) * q : 0);
    if (in->form == MB_GEOREF_HEADING)
        part(&result, "direction",
             direction_m(in, in->extent_m + in->measuring_m + in->gps_m + in->map_m + q));
    for (size_t i = 0; i < result.count; i++)
        result.uncertainty_m += result.parts[i].metres;
    *out = result;
    return MB_OK;
}

int64_t mb_georef_whole_m(double uncertainty_m)
{
    return uncertainty_m < 1 ? 1 : llround(uncertainty_m);
}

/* ---- the parts ------------------------------------------------------------------------------- */

double mb_georef_precision_m(const struct mb_ellipsoid *e, double lat, double precision_deg)
{
    double lat_m, lon_m;
    mb_earth_degree(e, lat, &lat_m, &lon_m);
    return hypot(precision_deg * lat_m, precision_deg * lon_m);
}

double mb_georef_grid_m(double cell_m)
{
    return cell_m * sqrt(2) / 2;
}

double mb_georef_gps_m(double accuracy_m, int32_t day)
{
    if (accuracy_m >= 0)
        return 2 * accuracy_m;
    return day >= mb_day_number(2000, 5, 1) ? 30 : 100;
}

double mb_georef_map_m(double scale)
{
    return scale * INCH_M / (scale < 20000 ? 30 : 50);
}

double mb_georef_map_mm(double scale, double mm)
{
    return scale * mm / 1000;
}

double mb_georef_imagery_m(int32_t day)
{
    return day >= mb_day_number(2009, 1, 1) ? 8 : 89.7;
}

double mb_georef_datum_m(const struct mb_shift *shift)
{
    if (!shift || shift->ballpark || shift->accuracy_m < 0)
        return MB_GEOREF_DATUM_UNKNOWN_M;
    return shift->accuracy_m;
}

/* ---- coarse places --------------------------------------------------------------------------- */

enum mb_rc mb_georef_coarse(struct mb_latlon at, double uncertainty_m, double cell_deg,
                            struct mb_latlon *middle, double *radius_m, struct mb_error *err)
{
    double cells = 180 / cell_deg;
    if (!(cell_deg > 0) || fabs(cells - round(cells)) > 1e-6 || !(uncertainty_m >= 0) ||
        !(fabs(at.lat) <= 90) || !(fabs(at.lon) <= 180))
        return mb_fail(err, MB_REFUSED,
                       "a cell of %g degrees cannot hold this place; 180 must be a multiple of it",
                       cell_deg);
    /* The hair keeps a place on a grid line in the cell that its decimals name. */
    double hair = 1e-9;
    double row = fmin(floor(at.lat / cell_deg + hair), round(90 / cell_deg) - 1);
    double column = fmin(floor(at.lon / cell_deg + hair), round(180 / cell_deg) - 1);
    struct mb_latlon low = { row * cell_deg, column * cell_deg };
    struct mb_latlon centre = { low.lat + cell_deg / 2, low.lon + cell_deg / 2 };
    double far = 0, edge = INFINITY;
    for (int corner = 0; corner < 4; corner++) {
        struct mb_latlon to = { low.lat + (corner & 1) * cell_deg,
                                low.lon + (corner >> 1) * cell_deg };
        double m;
        mb_earth_inverse(&mb_ellipsoid_wgs84, centre, to, &m, NULL, NULL);
        far = fmax(far, m);
    }
    double lat_m, lon_m;
    mb_earth_degree(&mb_ellipsoid_wgs84, at.lat, &lat_m, &lon_m);
    edge = fmin(fmin(at.lat - low.lat, low.lat + cell_deg - at.lat) * lat_m,
                fmin(at.lon - low.lon, low.lon + cell_deg - at.lon) * lon_m);
    *middle = centre;
    /* Near an edge within a hundredth the flat estimate is not trusted, and the radius is added. */
    *radius_m = far + (uncertainty_m * 1.01 >= edge ? uncertainty_m : 0);
    return MB_OK;
}

double mb_georef_fit(double given_m2, double true_m2, bool holds)
{
    if (!holds || !(true_m2 > 0))
        return 0;
    return given_m2 / true_m2;
}
