/* A countersignature by a key that does not fit would stand in every later certificate for ever,
 * and make it one that does not hold: it is refused at the door. */
#include "checking.h"

#include "countersign.h"
#include "text.h"

static const mb_json *value_of(const struct mb_checking *c, const char *name)
{
    const struct mb_kind_field *field = mb_kind_field(c->kind, mb_str_of(name));

    return field ? c->values[field - c->kind->fields] : NULL;
}

static enum mb_rc check_over(struct mb_checking *c, const struct mb_hash *over,
                             struct mb_error *err)
{
    struct mb_str which = mb_json_str(mb_json_get(value_of(c, "whichEntry"), "entry"));
    struct mb_hash leaf;
    int64_t seq;
    enum mb_rc rc;

    if (!mb_b64u_read_exact(which, leaf.b, sizeof leaf.b) || !mb_hash_equal(&leaf, over))
        return mb_fail(err, MB_REFUSED,
                       "field jws: it is over another entry than whichEntry names");
    rc = mb_log_find_leaf(c->ledger->log, c->arena, mb_str_of(c->subject), over, &seq, err);
    return rc == MB_NO ? mb_fail(err, MB_REFUSED,
                                 "field whichEntry: the entry is none of %s, and a key signs for"
                                 " entries of the same specimen only",
                                 c->subject)
                       : rc;
}

enum mb_rc mb_otherside_check(struct mb_checking *c, struct mb_error *err)
{
    struct mb_str jws = { NULL, 0 };
    struct mb_countersign what;
    enum mb_rc rc;

    if (!mb_str_is(c->kind->name, "countersign"))
        return MB_OK;
    jws = mb_json_str(value_of(c, "jws"));
    if (!mb_json_text_is(value_of(c, "how"), "key"))
        return jws.at ? mb_fail(err, MB_REFUSED, "field jws: it goes with how=key alone") : MB_OK;
    if (mb_countersign_read(c->arena, jws, &what, err)) {
        mb_fail_where(err, "field jws");
        return MB_REFUSED;
    }
    rc = check_over(c, &what.over, err);
    if (!rc && !mb_str_equal(what.role, mb_json_str(value_of(c, "role"))))
        rc = mb_fail(err, MB_REFUSED, "field role: it was signed as %.*s", MB_STR_ARG(what.role));
    return rc;
}
