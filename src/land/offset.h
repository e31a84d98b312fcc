/*
 * How far and which way from a feature, as collectors write it: "2.5 mi NE of the windmill",
 * "10 km N45E", "2 mi S and 0.5 mi W", "3 km along the road north", "1 mi from the bridge".
 */
#ifndef MB_OFFSET_H
#define MB_OFFSET_H

#include "georef.h"

struct mb_offset {
    enum mb_georef_form form; /* MB_GEOREF_POINT: only the distance is known, or it follows a way */
    double distance_m, step_m;
    double azimuth, half_angle; /* heading */
    double north_m, east_m;     /* offsets */
};

/* MB_REFUSED, in one sentence, where there is no distance with a unit. */
MB_CHECK enum mb_rc mb_offset_read(struct mb_str text, struct mb_offset *out,
                                   struct mb_error *err);

#endif
