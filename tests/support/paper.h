/* Certificates of a workbench's ledger: issuing them, looking into them, having them judged. Texts
 * live in the workbench's arena. */
#ifndef MB_PAPER_H
#define MB_PAPER_H

#include "workbench.h"

struct paper_wish {
    const char *specimens; /* IDs with blanks between */
    const char *audience, *to;
    const char *withhold;  /* "field: reason" with " | " between */
    const char *reveal;    /* fields with blanks between */
    bool preview;
    bool marked;           /* a buyer's is refused where nothing ties it to the piece */
};

/* mb_certificate_issue, its answer in b->out. */
enum mb_rc paper_issue(struct workbench *b, struct paper_wish wish);
/* The file's text; a refusal ends the test. */
const char *paper_must(struct workbench *b, struct paper_wish wish);

/* Whose entries are inside and how many: "ledger 1, party/P001 2", sorted. Keys are "key". */
const char *paper_holds(struct workbench *b, const char *file);
/* Fields that are shown of a subject's entries (open ones apart): "party.name, ...", sorted. */
const char *paper_shows(struct workbench *b, const char *file, const char *subject);
/* The value of a statement's line as JSON text, "" where there is no such line; which: of k. */
const char *paper_line(struct workbench *b, const char *file, size_t which, const char *name);
/* {digest, reason} of its certificate: how many rows have this reason. */
size_t paper_withheld(struct workbench *b, const char *file, const char *reason);
size_t paper_files(struct workbench *b, const char *file);
/* All that a reader could find in it: its text, and whatever in it is base64url, decoded. */
const char *paper_decoded(struct workbench *b, const char *file);

/* Writes a file beside the ledger and gives its path; the trust file for the ledger. */
const char *paper_file(struct workbench *b, const char *name, struct mb_str bytes);
const char *paper_trust(struct workbench *b);

/* mb_verify: "0" and the names of what was found (remarks too), sorted, each once:
 * "1 broken-signature, cut-down". The answer is in b->out. Paths end with NULL. */
const char *paper_judge(struct workbench *b, const char *trust, ...);
/* The same of one text, as a certificate file. */
const char *paper_judge_text(struct workbench *b, const char *trust, const char *file);

#endif
