/* A site's land description in parts, for those who read on: the views, show, the door. */
#ifndef MB_LANDWORDS_H
#define MB_LANDWORDS_H

#include <markerbed/json.h>

/*
 * {"read": in one form,"township","range","sections"?,"parts"?,"lots"?,"meridian"?,
 *  "meridianKnown"?: false,"nominalAcres"?,"notUnderstood"?: words left over,"caution"}; or, where
 * it was not read as township and range, {"notRead": why}.
 */
const mb_json *mb_landwords(mb_arena *arena, struct mb_str description);

#endif
