#include "audit_files.h"

#include <markerbed/land.h>

#include <stdio.h>

#include "fileio.h"

enum { FILE_MODE = 0600 }; /* it may hold exact places */

enum mb_rc audit_files_check(const struct call *call, struct mb_error *err)
{
    const char *path = call_value(call, "pdf");

    if (path == NULL)
        return MB_OK;
    if (mb_file_exists(path))
        return mb_fail(err, MB_REFUSED, "%s is there already; move it away, or name another file",
                       path);
    if (!call_json(call))
        fprintf(stderr, "A report you make may have to be handed over. Ask counsel first if there"
                        " is a dispute or inquiry.\n");
    return MB_OK;
}

enum mb_rc audit_files_write(struct call *call, struct mb_error *err)
{
    const char *path = call_value(call, "pdf");
    const mb_json *names;
    struct mb_str pdf;
    enum mb_rc rc;

    if (path == NULL)
        return MB_OK;
    rc = mb_audit_names(call->ledger, call->arena, call->result, call_value(call, "as-of"), &names,
                        err);
    if (rc == MB_OK)
        rc = mb_audit_pdf(call->arena, call->result, names, call_value(call, "paper"), &pdf, err);
    return rc == MB_OK ? mb_file_create(path, pdf, FILE_MODE, err) : rc;
}

void audit_files_tell(const struct call *call, const struct screen *screen)
{
    if (call_has(call, "pdf"))
        screen_say(screen, PLAIN, 0, "The report is in %s.", call_value(call, "pdf"));
}
