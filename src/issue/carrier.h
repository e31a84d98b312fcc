/* What a certificate travels in: the JSON file itself, a sheet as PDF, a sheet as web page. */
#ifndef MB_CARRIER_H
#define MB_CARRIER_H

#include <markerbed/arena.h>

enum mb_carrier { MB_CARRIER_NONE, MB_CARRIER_FILE, MB_CARRIER_PDF, MB_CARRIER_HTML };

/* By its first bytes. NONE: nothing that could carry one. */
enum mb_carrier mb_carrier_of(struct mb_str bytes);

/* The certificate's own bytes, out of a file that mb_carrier_of has looked at. MB_REFUSED where
 * there is none inside, with `path` in front. */
MB_CHECK enum mb_rc mb_carrier_open(mb_arena *arena, const char *path, struct mb_str bytes,
                                    struct mb_str *certificate, struct mb_error *err);

#endif
