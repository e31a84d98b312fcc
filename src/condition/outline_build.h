/*
 * What the three readers of outlines share: adding to the model, limits, and small checks. Each
 * call answers MB_REFUSED with a sentence that still lacks the place; callers put it in front with
 * mb_fail_where as they go back up.
 */
#ifndef MB_OUTLINE_BUILD_H
#define MB_OUTLINE_BUILD_H

#include "outline.h"

/* The readers themselves; out is empty but for file and form. */
MB_CHECK enum mb_rc mb_outlines_json(mb_arena *arena, struct mb_str text, struct mb_outlines *out,
                                     struct mb_error *err);
MB_CHECK enum mb_rc mb_outlines_svg(mb_arena *arena, struct mb_str text,
                                    const struct mb_outlines_given *given, struct mb_outlines *out,
                                    struct mb_error *err);
MB_CHECK enum mb_rc mb_outlines_table(mb_arena *arena, struct mb_str text,
                                      const struct mb_outlines_given *given,
                                      struct mb_outlines *out, struct mb_error *err);

/* Hangs a zeroed item of its list on; the limits are checked here. */
MB_CHECK enum mb_rc mb_outlines_add_view(mb_arena *arena, struct mb_outlines *all, const char *name,
                                         struct mb_view **out, struct mb_error *err);
MB_CHECK enum mb_rc mb_outlines_add_part(mb_arena *arena, struct mb_outlines *all,
                                         struct mb_view *view, struct mb_part **out,
                                         struct mb_error *err);
MB_CHECK enum mb_rc mb_outlines_add_region(mb_arena *arena, struct mb_outlines *all,
                                           struct mb_view *view, struct mb_region **out,
                                           struct mb_error *err);
MB_CHECK enum mb_rc mb_outlines_add_join(mb_arena *arena, struct mb_outlines *all,
                                         struct mb_view *view, struct mb_join **out,
                                         struct mb_error *err);
MB_CHECK enum mb_rc mb_outlines_add_count(mb_arena *arena, struct mb_outlines *all,
                                          struct mb_view *view, struct mb_count **out,
                                          struct mb_error *err);
MB_CHECK enum mb_rc mb_outlines_add_estimate(mb_arena *arena, struct mb_outlines *all,
                                             struct mb_view *view, struct mb_estimate **out,
                                             struct mb_error *err);
/* The individual of this label; a new one is added if there is none. */
struct mb_individual *mb_outlines_individual(mb_arena *arena, struct mb_outlines *all,
                                             const char *label);
struct mb_view *mb_outlines_view(const struct mb_outlines *all, const char *name);

/* Counts corners or points against the limit. */
MB_CHECK enum mb_rc mb_outlines_corners(struct mb_outlines *all, size_t more, struct mb_error *err);
MB_CHECK enum mb_rc mb_outlines_points(struct mb_outlines *all, uint64_t more,
                                       struct mb_error *err);

/* A name or label: allowed characters, not empty, at most MB_OUTLINE_LABEL_MAX bytes. */
MB_CHECK enum mb_rc mb_outlines_label(mb_arena *arena, struct mb_str text, const char *what,
                                      const char **out, struct mb_error *err);
/* A coordinate: finite and not beyond MB_DRAWN_MAX. */
MB_CHECK enum mb_rc mb_outlines_place(struct mb_xy at, struct mb_error *err);
/* A length or area: above 0 and at most MB_DRAWN_MAX. */
MB_CHECK enum mb_rc mb_outlines_size(double size, const char *what, struct mb_error *err);
/* A decimal above 0, kept as written. */
MB_CHECK enum mb_rc mb_outlines_decimal(mb_arena *arena, struct mb_str text, const char *what,
                                        const char **out, struct mb_error *err);
/* "inpainted, coated": bits of enum mb_surface. */
MB_CHECK enum mb_rc mb_outlines_surfaces(struct mb_str text, unsigned *bits, struct mb_error *err);
/* original, repaired or unexamined: nothing else may be what is left over. */
MB_CHECK enum mb_rc mb_outlines_uncovered(struct mb_str text, enum mb_substance *out,
                                          struct mb_error *err);
/* 64 hexadecimal digits, made small. */
MB_CHECK enum mb_rc mb_outlines_sha256(mb_arena *arena, struct mb_str text, const char **out,
                                       struct mb_error *err);
bool mb_outlines_same(const char *a, const char *b); /* the same text; both may be NULL */

#endif
