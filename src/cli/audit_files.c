#include "audit_files.h"

#include <markerbed/land.h>

#include <stdio.h>

#include "fileio.h"

enum { FILE_MODE = 0600 }; /* it may hold exact places */

enum mb_rc audit_files_check(const struct call *call, struct mb_error *err)
{
    static const char *const files[] = { "pdf", "report" };
    bool any = false;

    for (size_t i = 0; i < 2; i++) {
        const char *path = call_value(call, files[i]);

        any = any || path != NULL;
        if (path != NULL && mb_file_exists(path))
            return mb_fail(err, MB_REFUSED,
                           "%s is there already; move it away, or name another file", path);
    }
    if (call_has(call, "report") && !call_has(call, "permission") == !call_has(call, "agency"))
        return mb_fail(err, MB_REFUSED,
                       "--report is about one permit or one agency: add --permission ID or"
                       " --agency ID");
    if (!any)
        return MB_OK;
    if (!call_json(call))
        fprintf(stderr, "A report you make may have to be handed over. Ask counsel first if there"
                        " is a dispute or inquiry.\n");
    return MB_OK;
}

static enum mb_rc write_permit(struct call *call, struct mb_error *err)
{
    const char *path = call_value(call, "report");
    struct mb_permit_ask ask = { call_value(call, "permission"), call_value(call, "agency"),
                                 call_value(call, "from"), call_value(call, "until"),
                                 call_value(call, "as-of") };
    const mb_json *permit;
    struct mb_str pdf;
    enum mb_rc rc;

    if (path == NULL)
        return MB_OK;
    rc = mb_permit_tell(call->ledger, call->arena, &ask, &permit, err);
    if (rc == MB_OK)
        rc = mb_permit_pdf(call->arena, permit, call_value(call, "paper"), &pdf, err);
    return rc == MB_OK ? mb_file_create(path, pdf, FILE_MODE, err) : rc;
}

enum mb_rc audit_files_write(struct call *call, struct mb_error *err)
{
    const char *path = call_value(call, "pdf");
    const mb_json *names;
    struct mb_str pdf;
    enum mb_rc rc = write_permit(call, err);

    if (path == NULL || rc != MB_OK)
        return rc;
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
    if (call_has(call, "report") && call_has(call, "permission"))
        screen_say(screen, PLAIN, 0, "The permit's report is in %s: read it, complete it, sign it.",
                   call_value(call, "report"));
    else if (call_has(call, "report"))
        screen_say(screen, PLAIN, 0,
                   "What the agency gets of its own land is in %s. Where it asks because of an"
                   " inquiry, record that nothing is to be erased: markerbed record claim --help.",
                   call_value(call, "report"));
}
