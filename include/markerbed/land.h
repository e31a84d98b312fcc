/* Land on paper: the measured section of a layer, the audit's report, a permit's report. Each page
 * is made of the JSON that the library answers, and of nothing else. */
#ifndef MARKERBED_LAND_H
#define MARKERBED_LAND_H

#include <markerbed/ledger.h>

/*
 * The section that a layer was measured in: all layers with the same section and the same datum
 * (only itself, from its base, where it has no height), and the finds with a height above that
 * datum.
 *
 * {"origin","horizon","name","section"?,"siteName"?,"datum","chart","asOf",
 *  "units":[{"number" from the lowest,"horizon"?,"name"?,"rock"?,"pattern","formation"?,"member"?,
 *    "age"?: in words,"thickness": metres, of what is drawn,"base","top","how"? the thickness was
 *    come by}] from the lowest up; without "horizon" nothing is recorded there,
 *  "finds":[{"subjects":[...],"from","to","somewhereIn"?: a layer, where no height is recorded}]
 *    from the top down,
 *  "notes":[text]}
 * Heights are metres above the datum, across the beds. Where layers overlap on the record the
 * thinner one is drawn, and a note says so. MB_REFUSED where there is no such layer, and where it
 * has no thickness on record.
 */
MB_CHECK enum mb_rc mb_section_tell(mb_ledger *ledger, mb_arena *arena, const char *horizon,
                                    const char *as_of, const mb_json **out, struct mb_error *err);
/* Drawn to scale. paper: "A4", "Letter", NULL for A4. *scale (may be NULL): 1 : scale. */
MB_CHECK enum mb_rc mb_section_pdf(mb_arena *arena, const mb_json *section, const char *paper,
                                   struct mb_str *pdf, double *scale, struct mb_error *err);
MB_CHECK enum mb_rc mb_section_svg(mb_arena *arena, const mb_json *section, struct mb_str *svg,
                                   double *scale, struct mb_error *err);

/*
 * The report of an audit (see markerbed/audit.h), for a land manager who has nothing else of ours:
 * what was checked, what the record shows, maps of the sites drawn from their own boundaries, the
 * accounts and the timeline of each permission. `names` may be NULL: {"permission/L002":"lease",
 * ...}, words to stand beside an ID; mb_audit_names makes it of what the audit speaks of.
 * MB_REFUSED for JSON that is no audit.
 */
MB_CHECK enum mb_rc mb_audit_names(mb_ledger *ledger, mb_arena *arena, const mb_json *audit,
                                   const char *as_of, const mb_json **out, struct mb_error *err);
MB_CHECK enum mb_rc mb_audit_pdf(mb_arena *arena, const mb_json *audit, const mb_json *names,
                                 const char *paper, struct mb_str *pdf, struct mb_error *err);

/* What an agency asks for. */
struct mb_permit_ask {
    const char *permission; /* its report; or else: */
    const char *agency;     /* a party: its land, as land manager, and the permits it gave */
    const char *from, *until, *as_of; /* days of finding; for an agency of moving and selling too */
};

/*
 * A permit's report out of the record, with what 36 CFR 291.17 asks for, or what is recorded of an
 * agency's own land: pieces, lots, losses, what was struck out, and by category what was left out.
 * What is not on the record is said to be missing. People stand in it as they let themselves be
 * named to a land manager.
 * {"origin","subject","madeOn","asOf","from"?,"until"?,"opening",
 *  "sections":[{"title","mayBeNone","head":[text],"rows":[[text]]}]}
 */
MB_CHECK enum mb_rc mb_permit_tell(mb_ledger *ledger, mb_arena *arena,
                                   const struct mb_permit_ask *ask, const mb_json **out,
                                   struct mb_error *err);
MB_CHECK enum mb_rc mb_permit_pdf(mb_arena *arena, const mb_json *permit, const char *paper,
                                  struct mb_str *pdf, struct mb_error *err);

/*
 * From then on, whatever is recorded in this ledger, by whatever way: of a site's and a find's
 * coordinates as written (verbatimCoordinates, fromFeature) latitude and longitude are worked out,
 * and of those, mapScale, uncertaintyParts and the boundary how far off they may be, by the
 * point-radius method, with all parts listed. What was typed stays as it is.
 */
void mb_land_join(mb_ledger *ledger);

/*
 * Coordinates as people write them (degrees, minutes, seconds, decimal minutes, UTM), turned into
 * decimal degrees on the same datum. datum: "EPSG:4267", "NAD27", "not recorded"; NULL where
 * nothing is said, which does for degrees alone.
 * {"decimalLatitude","decimalLongitude": texts,"precision": words,"reading"?: what was taken for
 *  granted,"parts":[{"part":"precision"|"datum","value","unit":"m"}],"notes":[text]}
 * The parts are those that the numbers and the datum bring; how they were taken comes on top.
 * MB_REFUSED, in one sentence, for what cannot be read.
 */
MB_CHECK enum mb_rc mb_place_read(mb_arena *arena, const char *text, const char *datum,
                                  const mb_json **out, struct mb_error *err);

#endif
