/*
 * Where a place lies, worked out on its way through the door: latitude and longitude of coordinates
 * as they were written, and how far off they may be. The reckoning is the land floor's, which joins
 * the ledger by mb_land_join (markerbed/land.h); without it nothing is worked out.
 */
#ifndef MB_PLACEWORK_H
#define MB_PLACEWORK_H

#include "checking.h"

/* What is on record of a place; .at is NULL where nothing is. */
struct mb_place_words {
    struct mb_str verbatim, latitude, longitude, datum, source, day, from_feature, map_scale;
    const mb_json *parts;    /* uncertaintyParts, or NULL */
    const mb_json *boundary; /* or NULL */
    bool wide; /* a site, which reaches somewhere; else a find, which is a point */
};

/*
 * {"decimalLatitude"?,"decimalLongitude"?: worked out of what was written,
 *  "uncertaintyParts": all of them, "coordinateUncertaintyInMeters"?: only where nothing that it
 *  needs is missing, "notes":[text]}
 * MB_REFUSED, in one sentence with the field's name in front, for what cannot be read.
 */
typedef enum mb_rc mb_place_work(mb_arena *arena, const struct mb_place_words *words,
                                 const mb_json **out, struct mb_error *err);

/* Is there anything to be worked out? Then the day, the datum and the source are to be filled in
 * before. */
bool mb_placework_due(const struct mb_checking *c);
MB_CHECK enum mb_rc mb_placework(struct mb_checking *c, struct mb_error *err);

#endif
