/* The good and the faulty rows of a table as two tables beside it. */
#ifndef MB_INTAKE_SPLIT_H
#define MB_INTAKE_SPLIT_H

#include <markerbed/json.h>

/* Rows that begin on one of these lines (rising) go into PATH.faulty.csv, the others into
 * PATH.good.csv; both begin with the header. Row by row, so that a table may be larger than
 * memory. `out` gets "good" and "faulty". */
MB_CHECK enum mb_rc mb_intake_split(mb_arena *arena, const char *path, const size_t *lines,
                                    size_t count, mb_json *out, struct mb_error *err);

#endif
