/*
 * Checking anything this program ever issued, offline, without a database or a ledger at hand.
 *
 * MB_OK: everything holds and the ledger is one that the trust file names. MB_NO: something does
 * not hold. MB_UNABLE: nothing is wrong, but it could not be checked to the end (unknown ledger,
 * unknown version). MB_REFUSED: the input is none of our files. Except for MB_REFUSED the verdict
 * is always given.
 */
#ifndef MARKERBED_VERIFY_H
#define MARKERBED_VERIFY_H

#include <markerbed/json.h>

struct mb_verify {
    const char *const *paths; /* certificates, sheets (PDF, web page), bags, ledgers, notes */
    size_t count;             /* 0 only with a code */
    const char *trust_path;   /* lines "ledger ORIGIN FINGERPRINT" and "key THUMBPRINT"; NULL: none
                               * is trusted */
    const char *policy_path;  /* C2SP tlog-policy: whose cosignatures count; NULL: none is asked */
    const char *code;         /* what the code on a sheet says, typed or scanned; NULL: none */
    const char *published;    /* folder with what the ledger published; NULL: none is asked */
    const char *scratch;      /* where packed bags are unpacked for a while; NULL: the system's */
    unsigned threads;         /* for a whole ledger; 0: all cores */
    bool skip_views;          /* do not compare the views with a replay */
    void (*progress)(void *ctx, uint64_t done, uint64_t entries);
    void *ctx;
};

/* {"verdict":"holds"|"does not hold"|"could not be checked","asOf":date?,"words":["..."],
 *  "files":[{"path","what","origin","fingerprint","fingerprintGrouped","trusted","entries",
 *            "checkpointSize","recordedAt","asOf",
 *            "audience"?,"certificates"?:[{"id","subject","statement":[line + "title"],"to"?}],
 *            "withheld"?:[{"subject","kind","class","reason"}],"signers"?:[{"kid","holder",...}],
 *            "measured"?:{"agree","differ","unchecked"},
 *            "witnessed"? (with a policy; of a ledger too):{"quorum":bool,"existedBy"?,
 *            "witnesses":[{"name","size","seenAt"}],"earlier"?:{"size","existedBy"}},
 *            "foreign"?:[the same of each certificate of another ledger inside],
 *            "countersigned"?:[{"seq","origin","subject","over","role","kid","by","signedAt",
 *                               "known":bool}]}],
 *  "code"? (with a code):{"origin","certificate","subject"?,"audience"?,"issuedOn"?,
 *            "says"?:["..."],"summary":"none"|"fits"|"does not fit"|"not checked","file"?},
 *  "findings":[{"name","severity","file"?,"subject"?,"seq"?,"text","mend"}]} */
MB_CHECK enum mb_rc mb_verify(mb_arena *arena, const struct mb_verify *verify,
                              const mb_json **out, struct mb_error *err);

/* The page that checks certificates in a browser, offline: one self-contained HTML file. */
struct mb_str mb_verify_page(mb_arena *arena);

/* The closed list of findings: [{"name","severity","means","mend"}] */
const mb_json *mb_finding_list(mb_arena *arena);

#endif
