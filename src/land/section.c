#include "section.h"

#include <math.h>
#include <string.h>

#define DEGREE (M_PI / 180)
/* A line that makes less than half a degree with the beds says nothing of their thickness. */
#define ALONG_THE_BEDS 0.0087
#define SAME_LEVEL_M 1e-9

double mb_section_true_m(double length_m, double slope, double azimuth, double dip,
                         double dip_azimuth)
{
    double s = slope * DEGREE, d = dip * DEGREE, across = (azimuth - dip_azimuth) * DEGREE;
    return length_m * fabs(cos(s) * sin(d) * cos(across) + sin(s) * cos(d));
}

static enum mb_rc check_angle(const struct mb_section_unit *unit, const char *what, double value,
                              double low, double high, struct mb_error *err)
{
    if (value >= low && value <= high)
        return MB_OK;
    return mb_fail(err, MB_REFUSED,
                   "unit \"%s\": a %s of %g degrees cannot be; it must be %g to %g", unit->name,
                   what, value, low, high);
}

static enum mb_rc check_unit(const struct mb_section_unit *unit, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;
    if (!(unit->measured_m > 0) || !(unit->measured_m < 1e5))
        return mb_fail(err, MB_REFUSED,
                       "unit \"%s\": a thickness of %g m cannot be; it must be more than 0",
                       unit->name, unit->measured_m);
    if (unit->way != MB_SECTION_TRUE)
        rc = check_angle(unit, "dip", unit->dip, 0, 90, err);
    if (rc == MB_OK && unit->way == MB_SECTION_SLOPE)
        rc = check_angle(unit, "slope", unit->slope, -90, 90, err);
    if (rc == MB_OK && unit->way == MB_SECTION_SLOPE)
        rc = check_angle(unit, "direction of the dip", unit->dip_azimuth, 0, 360, err);
    if (rc == MB_OK && unit->way == MB_SECTION_SLOPE)
        rc = check_angle(unit, "direction of the line", unit->azimuth, 0, 360, err);
    return rc;
}

static enum mb_rc find_thickness(const struct mb_section_unit *unit, struct mb_section_bed *bed,
                                 struct mb_error *err)
{
    enum mb_rc rc = check_unit(unit, err);
    if (rc != MB_OK)
        return rc;
    bed->unit = unit;
    bed->derived = unit->way != MB_SECTION_TRUE;
    bed->true_m = unit->measured_m;
    if (unit->way == MB_SECTION_SLOPE)
        bed->true_m = mb_section_true_m(unit->measured_m, unit->slope, unit->azimuth, unit->dip,
                                        unit->dip_azimuth);
    if (unit->way == MB_SECTION_VERTICAL)
        bed->true_m = unit->measured_m * cos(unit->dip * DEGREE);
    if (bed->true_m < ALONG_THE_BEDS * unit->measured_m)
        return mb_fail(err, MB_REFUSED,
                       "unit \"%s\": the line runs along the beds, so it does not measure their "
                       "thickness; measure across them",
                       unit->name);
    return MB_OK;
}

/* The level of the datum above the base of the section. */
static enum mb_rc find_datum(mb_arena *arena, const struct mb_section_bed *beds, size_t count,
                             struct mb_section_datum datum, double *level, const char **words,
                             struct mb_error *err)
{
    *level = 0;
    *words = "base of the section";
    if (!datum.unit)
        return MB_OK;
    for (size_t i = 0; i < count; i++)
        if (strcmp(beds[i].unit->name, datum.unit) == 0) {
            *level = datum.top ? beds[i].top_m : beds[i].base_m;
            *words = mb_arena_printf(arena, "%s of %s", datum.top ? "top" : "base", datum.unit);
            return MB_OK;
        }
    return mb_fail(err, MB_REFUSED, "the datum \"%s\" is no unit of the section", datum.unit);
}

enum mb_rc mb_section_build(mb_arena *arena, const struct mb_section_unit *units, size_t count,
                            struct mb_section_datum datum, struct mb_section *out,
                            struct mb_error *err)
{
    if (!count || count > MB_SECTION_UNITS_MAX)
        return mb_fail(err, MB_REFUSED, "a section has 1 to %d units, this has %zu",
                       MB_SECTION_UNITS_MAX, count);
    struct mb_section_bed *beds = MB_ARRAY(arena, count, struct mb_section_bed);
    double level = 0, zero;
    const char *words;
    for (size_t i = 0; i < count; i++) {
        for (size_t j = 0; j < i; j++)
            if (strcmp(units[i].name, units[j].name) == 0)
                return mb_fail(err, MB_REFUSED, "the section has two units called \"%s\"",
                               units[i].name);
        enum mb_rc rc = find_thickness(&units[i], &beds[i], err);
        if (rc != MB_OK)
            return rc;
        beds[i].base_m = level;
        level += beds[i].true_m;
        beds[i].top_m = level;
    }
    enum mb_rc rc = find_datum(arena, beds, count, datum, &zero, &words, err);
    if (rc != MB_OK)
        return rc;
    for (size_t i = 0; i < count; i++) {
        beds[i].base_m -= zero;
        beds[i].top_m -= zero;
    }
    *out = (struct mb_section){ .beds = beds,
                                .count = count,
                                .base_m = beds[0].base_m,
                                .top_m = beds[count - 1].top_m,
                                .datum = words };
    return MB_OK;
}

void mb_section_locate(const struct mb_section *section, double level_m,
                       struct mb_section_place *out)
{
    *out = (struct mb_section_place){ .bed = NULL };
    if (level_m < section->base_m - SAME_LEVEL_M) {
        out->beyond_m = level_m - section->base_m;
        return;
    }
    if (level_m > section->top_m + SAME_LEVEL_M) {
        out->beyond_m = level_m - section->top_m;
        return;
    }
    size_t i = section->count - 1;
    while (i > 0 && level_m < section->beds[i].base_m - SAME_LEVEL_M)
        i--;
    const struct mb_section_bed *bed = &section->beds[i];
    out->bed = bed;
    out->above_base_m = fmax(level_m - bed->base_m, 0);
    out->on_boundary =
        fabs(level_m - bed->base_m) <= SAME_LEVEL_M || fabs(level_m - bed->top_m) <= SAME_LEVEL_M;
}
