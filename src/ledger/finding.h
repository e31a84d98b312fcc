/*
 * What a check finds, as data. The list is closed: findings.def names every finding that verifying
 * can make, with its severity, what it means and how it is mended; docs/findings.md is made from
 * it.
 */
#ifndef MB_FINDING_H
#define MB_FINDING_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/json.h>

enum mb_severity {
    MB_FAULT,  /* something does not hold: the answer is no (exit 1) */
    MB_UNSURE, /* something could not be checked: no answer (exit 3) */
    MB_REMARK  /* worth knowing; changes no answer */
};

enum mb_finding_id {
#define MB_FINDING(id, name, severity, means, mend) MB_F_##id,
#include "findings.def"
#undef MB_FINDING
    MB_FINDING_COUNT
};

struct mb_finding_kind {
    const char *name;
    enum mb_severity severity;
    const char *means, *mend;
};
extern const struct mb_finding_kind mb_finding_kinds[MB_FINDING_COUNT];
extern const char *const mb_severity_name[3]; /* fault, unsure, remark */

struct mb_finding {
    enum mb_finding_id id;
    struct mb_str file;    /* which file, {NULL, 0} where there is only one */
    struct mb_str subject; /* {NULL, 0} where it is about the whole */
    int64_t seq;           /* the entry, -1 where there is none */
    const char *text;      /* one sentence */
    struct mb_finding *next;
};

typedef struct mb_findings mb_findings;

/* Keeps at most `max` findings of each name (0: all) and counts the rest. */
mb_findings *mb_findings_new(mb_arena *arena, size_t max_each);
void mb_findings_in_file(mb_findings *findings, const char *file); /* for those added from now on */
void mb_find(mb_findings *findings, enum mb_finding_id id, struct mb_str subject, int64_t seq,
             const char *format, ...) MB_PRINTF(5, 6);
const struct mb_finding *mb_findings_first(const mb_findings *findings);
size_t mb_findings_count(const mb_findings *findings, enum mb_severity severity); /* all of them */
size_t mb_findings_of(const mb_findings *findings, enum mb_finding_id id);
/* MB_NO if there is a fault, else MB_UNABLE if something is unsure, else MB_OK. */
enum mb_rc mb_findings_rc(const mb_findings *findings);
/* [{"name","severity","file"?,"subject"?,"seq"?,"text","mend"}...] and how many were not kept. */
mb_json *mb_findings_json(mb_arena *arena, const mb_findings *findings);

#endif
