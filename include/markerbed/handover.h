/* Handing a piece over to an institution: what is still missing, and the bag that goes with it. */
#ifndef MARKERBED_HANDOVER_H
#define MARKERBED_HANDOVER_H

#include <markerbed/certificate.h>

/* What an institution would miss, in the order of what matters most: place and its uncertainty,
 * layer, who and when, land and permission, treatment, identity.
 * [{"rank","about":"place"|"layer"|"finding"|"permission"|"treatment"|"identity","title",
 *   "state":"missing"|"not known","subject","kind","field","why","how":command line}] */
MB_CHECK enum mb_rc mb_readiness(mb_ledger *ledger, mb_arena *arena, const char *specimen,
                                 const mb_json **out, struct mb_error *err);

struct mb_handover {
    const char *const *specimens; /* "specimen/26-0115" or the ID alone; 1 to 500 */
    size_t count;
    const char *to;     /* party/ID */
    const char *as;     /* gift, loan, deposit; NULL: what the record says */
    const char *folder; /* of the bag; must not be there */
    const char *pack;   /* NULL, "tar.gz" or "zip": packed as folder.tar.gz beside it */
    const char *paper;  /* "A4" (NULL too) or "Letter" */
    const struct mb_withhold *withhold;
    size_t withhold_count;
    bool preview;       /* signs and writes nothing; folder and to may be NULL */
};

/* Issues an institution's certificate and writes a bag (RFC 8493) with it, the attached files, a
 * Darwin Core Archive, the record on paper, forms and receipts, and a README that answers the
 * registrar's questions. Custody and title are not recorded by it: that is the giver's own act.
 * A preview leaves bag, certificate, seq, files and bytes out.
 * {"bag","pack"?,"certificate":id,"seq","files","bytes","form":"gift"|"loan"|"deposit"|"none",
 *  "formWhy"?,"specimens":[...],"readiness":[{"specimen","missing":[as above]}],
 *  "points":[{"point","title","open":bool,"text"}],"warnings":[...]} */
MB_CHECK enum mb_rc mb_handover_make(mb_ledger *ledger, mb_arena *arena,
                                     const struct mb_handover *handover, const mb_json **out,
                                     struct mb_error *err);

#endif
