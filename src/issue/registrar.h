/* The questions a registrar asks before and on accepting a piece, each answered by the record or
 * named as open (common practice of collections; the published minimum of incoming receipts and
 * object identification is in it). */
#ifndef MB_REGISTRAR_H
#define MB_REGISTRAR_H

#include "papers.h"

/* [{"point":1..22,"title","open","text"}] */
mb_json *mb_registrar_points(const struct mb_handing *h, enum mb_handed_as as);

/* README.txt of the bag: what lies where, how to check it, the points, what is missing.
 * readiness: [{"specimen","missing":[...]}]. */
struct mb_str mb_registrar_readme(const struct mb_handing *h, const mb_json *points,
                                  const mb_json *readiness);

#endif
