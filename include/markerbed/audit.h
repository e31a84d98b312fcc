/*
 * The audit of land and permission: what the record shows, rule by rule, and what it does not.
 *
 * Rules are data: schema/rules, and a folder of the user's own (docs/rules.md). Each answers for
 * each case it applies to: fits, does not fit, or cannot tell where something is missing. Nothing
 * here is a finding of law or of fact by any authority, and no word of it says so.
 */
#ifndef MARKERBED_AUDIT_H
#define MARKERBED_AUDIT_H

#include <markerbed/ledger.h>

/* What to look at. NULL everywhere: the whole ledger, now. Several limits hold together. */
struct mb_audit_ask {
    const char *site;       /* "S001" or "site/S001" */
    const char *permission;
    const char *specimen;   /* with the pieces it came out of */
    const char *party;      /* who collected, held, owned, granted or was granted */
    const char *agency;     /* a party: found on land that it manages, or under its permits */
    const char *from, *until; /* days: of collecting, or of any day a piece was moved or sold */
    const char *as_of;      /* see markerbed/show.h */
    const char *rules;      /* a folder of own rules, beside ours */
    bool standing;          /* tell the standing of every specimen, however many */
};

/*
 * {"origin","asOf":day,"scope":{"whole":true} or the limits that were given,
 *  "opening":text,"cautions":[text],
 *  "specimens":n,
 *  "rules":[{"id","name","title","severity","citation","effective","writtenDown","confidence",
 *    "checkedAgainstText":bool,"own":bool,"applied","fits","doesNotFit","cannotTell",
 *    "why":[{"reason","count"}] of what it cannot tell,"mend"}],
 *  "findings":[{"rule","name","severity","answer":"does not fit"|"cannot tell","reason",
 *    "acts":["collecting"|"keeping"|"selling"|"moving abroad"...],"subject","entries":[seq...],
 *    "sentence","mend","site"?,"permission"?,
 *    "count"?,"subjects"?:[...]}],
 *  "moreFindings"?: how many were counted and not listed, where there are very many,
 *  "standing":[{"subject","act","standing":"shown on the record"|"incomplete"|"in question",
 *    "reasons":[{"rule","severity","sentence","subject"}]}],
 *  "accounts":[{"permission","limits":[{"material"?,"per":"day"|"year"|"in all","whose","limit",
 *    "unit","from":permission or regime,"citation"?,"sums":[{"key","party"?,"sum","atLeast":bool,
 *    "addends":[{"subject","seq","amount"}]}]}]}],
 *  "sites":[{"site","name","boundary":GeoJSON?,"source"?,
 *    "parcels":[{"seq","category","area":GeoJSON?}],
 *    "permissionAreas":[{"permission","area":GeoJSON}],
 *    "points":[{"subject","seq","lat","lon","uncertaintyM"?}],"morePoints"?}],
 *  "timeline":[{"permission","from","until","changes":[{"what","from","seq"}],
 *    "days":[{"day","finds"}],"moreDays"?}],
 *  "leftOut":[{"category","count"}] of what was not looked at,
 *  "contains":[{"what":"lots"|"divisions"|"joinings"|"losses","count"}] of what was,
 *  "struckOut":[{"seq","subject","kind","day"?,"struckOutBy":seq}]}
 *
 * Several cases of one rule that cannot be told for the same reason stand as one finding, with
 * their "count" and the first of their "subjects" and entries. "standing" is filled where few
 * specimens are looked at or ask->standing. Latitudes and longitudes are on WGS 84.
 * MB_REFUSED for what is not there to be asked for, and for a rule of the user's that is not
 * readable, that would write, or that does not come to an end.
 */
MB_CHECK enum mb_rc mb_audit(mb_ledger *ledger, mb_arena *arena, const struct mb_audit_ask *ask,
                             const mb_json **out, struct mb_error *err);

/* The standing of one specimen, act by act: the same four objects as in "standing" above. */
MB_CHECK enum mb_rc mb_standing(mb_ledger *ledger, mb_arena *arena, const char *specimen,
                                const char *as_of, const mb_json **out, struct mb_error *err);

/* Severities in rising order: note, gap, conflict, bar; 0 for a word that is none. */
int mb_severity_rank(const char *word);

#endif
