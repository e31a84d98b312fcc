#include "recode.h"

#include <errno.h>
#include <iconv.h>

enum { STEP = 4096 };

static enum mb_rc recode(iconv_t how, struct mb_str bytes, struct mb_buf *out)
{
    /* iconv takes its input as char *, and does not change it */
    union {
        const char *given;
        char *taken;
    } in = { bytes.at };
    size_t left = bytes.len;

    while (left > 0) {
        char *to = mb_buf_room(out, STEP), *start = to;
        size_t room = STEP, n;

        if (!to)
            return MB_REFUSED;
        n = iconv(how, &in.taken, &left, &to, &room);
        mb_buf_grew(out, (size_t)(to - start));
        if (n == (size_t)-1 && errno != E2BIG)
            return MB_REFUSED;
    }
    return MB_OK;
}

enum mb_rc mb_recode(const char *encoding, struct mb_str bytes, struct mb_buf *out)
{
    iconv_t how = iconv_open("UTF-8", encoding);
    enum mb_rc rc;

    if (how == (iconv_t)-1)
        return MB_UNABLE;
    rc = recode(how, bytes, out);
    iconv_close(how);
    return rc;
}
