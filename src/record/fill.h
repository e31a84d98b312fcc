/*
 * Filling in what is known already. What is filled in is written into the entry, so that each
 * stands alone, and named in the answer, so that a person sees it.
 *
 * For a field that was not typed, its sources (`from` in schema/kinds) are asked in order, then its
 * default is taken:
 *   field-day.X   the field X of the day that this entry names, as it stands after corrections
 *   dealing.X     the same of its dealing
 *   last.X        X of the last entry of this kind that the same key signed, not of a named batch:
 *                 a spreadsheet's empty cell is not "as above". Only while the anchor holds:
 *                 another place, sender or examiner than last time, and nothing of last time is
 *                 taken (see the table in fill.c); and work at the bench is only carried on on the
 *                 same piece.
 *   setting.X     the person's own default (settings.h)
 *   recorder      the party of the signing key, if that party is recorded
 *   keeper, keeperLabel, owner, ownerLabel   by the piece's last custody and title
 *   today         the day by this machine's calendar
 *   program       what can be worked out: counts of a division, the coarse place of a site
 * A place that was written down in some other way than as decimal degrees, or with what its
 * uncertainty is made of, is worked out before (placework.h).
 *
 * A field that only applies under a condition is filled in only where it holds.
 */
#ifndef MB_FILL_H
#define MB_FILL_H

#include "checking.h"

MB_CHECK enum mb_rc mb_fill(struct mb_checking *c, struct mb_error *err);

/* Does the condition of a field hold? True where it has none. */
bool mb_fill_applies(const struct mb_checking *c, const struct mb_kind_field *field);

#endif
