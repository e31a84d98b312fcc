/* Measuring how much is original: from drawn outlines or counted points (docs/measuring.md). */
#ifndef MARKERBED_SHARES_H
#define MARKERBED_SHARES_H

#include <markerbed/arena.h>
#include <markerbed/error.h>
#include <markerbed/json.h>

/* What the file may leave out; where it says the same thing itself, the file holds. NULL or 0: not
 * given. */
struct mb_measure_given {
    const char *view, *individual, *element;
    const char *const *not_examined;
    size_t not_examined_count;
    const char *line_px;  /* width of the drawn line, as typed; for SVG */
    const char *area_mm2; /* for point counts */
};

/* Reads JSON, SVG or a table of points and measures: shares, surfaces, joins, individuals,
 * notExamined and frame are rows of the kind `condition`; totals and notes stand beside them
 * (docs/measuring.md, "What comes out"). MB_REFUSED: file, view, outline and place. */
MB_CHECK enum mb_rc mb_measure_file(mb_arena *arena, const char *path,
                                    const struct mb_measure_given *given, const mb_json **out,
                                    struct mb_error *err);

/* The same, for a record: *complete gets the outlines as JSON with everything that was told from
 * outside, and with the size and hash of each photo that lies beside them; `out` is what these
 * bytes give, so that whoever has them can measure again (docs/measuring.md, "Recorded"), and
 * beside it `photos`: rows {"file":path,"view":word?} of the photos that lie there. Also
 * MB_REFUSED: a photo beside the outlines is not the one that they name by its hash or size. */
MB_CHECK enum mb_rc mb_measure_complete(mb_arena *arena, const char *path,
                                        const struct mb_measure_given *given, const mb_json **out,
                                        struct mb_str *complete, struct mb_error *err);

/* One view with its regions, legend and scale bar, as SVG, PNG or PDF by the ending of `name`.
 * view NULL: the first. photo NULL: the file that the view names, in the folder of the outlines;
 * where it names none, the regions are drawn on white. */
MB_CHECK enum mb_rc mb_measure_overlay(mb_arena *arena, const char *path,
                                       const struct mb_measure_given *given, const char *view,
                                       const char *photo, const char *name, struct mb_str *out,
                                       struct mb_error *err);

#endif
