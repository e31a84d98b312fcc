/* The files that an audit leaves: its report on paper. */
#ifndef MB_AUDIT_FILES_H
#define MB_AUDIT_FILES_H

#include "command.h"

/* Asked before anything is worked out: MB_REFUSED where the file is there already. */
MB_CHECK enum mb_rc audit_files_check(const struct call *call, struct mb_error *err);
/* Writes what was asked for of the audit in call->result. */
MB_CHECK enum mb_rc audit_files_write(struct call *call, struct mb_error *err);
void audit_files_tell(const struct call *call, const struct screen *screen);

#endif
