/* The parts of an audit's report on paper. Private to audit_page.c, audit_map.c, audit_time.c and
 * audit_account.c. */
#ifndef MB_AUDIT_PAGE_H
#define MB_AUDIT_PAGE_H

#include <markerbed/land.h>

#include "report_paper.h"

struct mb_audit_page {
    struct mb_report *r;
    mb_arena *arena;
    const mb_json *audit, *names;
};

/* "24-0117" of "specimen/24-0117", "site S002" of "site/S002". */
const char *mb_audit_short(struct mb_audit_page *page, const mb_json *subject);
/* "L002, lease" */
const char *mb_audit_name(struct mb_audit_page *page, const mb_json *subject);
/* Text, or a number as it is written; "" for what is not there. */
const char *mb_audit_text(struct mb_audit_page *page, const mb_json *of, const char *name);

void mb_audit_maps(struct mb_audit_page *page);
void mb_audit_timelines(struct mb_audit_page *page);
void mb_audit_account_pages(struct mb_audit_page *page);

#endif
