/* The quantity account of each permission. */
#include "audit_priv.h"

enum mb_rc mb_audit_accounts(struct mb_audit *a, mb_json *out, struct mb_error *err)
{
    (void)a;
    (void)out;
    (void)err;
    return MB_OK;
}
