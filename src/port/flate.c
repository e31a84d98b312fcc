#include "flate.h"

#include <limits.h>
#include <stdlib.h>

#include <zlib.h>

#include "buf.h"

#define STEP 65536

static uInt at_most(size_t len)
{
    return len > UINT_MAX / 2 ? UINT_MAX / 2 : (uInt)len;
}

/* The library never writes through next_in. */
static Bytef *input(const char *at)
{
    union {
        const char *from;
        Bytef *to;
    } same = { at };

    return same.to;
}

/* Z_STREAM_END when all was unpacked, Z_BUF_ERROR when the buffer or the input came to its end. */
static int unpack_all(z_stream *z, struct mb_str packed, struct mb_buf *buf)
{
    size_t left = packed.len;
    int rc = Z_OK;

    z->next_in = input(packed.at);
    while (rc == Z_OK) {
        size_t want = buf->max - buf->len < STEP ? buf->max - buf->len : STEP;
        uInt given;

        if (z->avail_in == 0) {
            z->avail_in = at_most(left);
            left -= z->avail_in;
        }
        if (want == 0)
            return Z_BUF_ERROR;
        z->next_out = (Bytef *)mb_buf_room(buf, want);
        if (!z->next_out)
            return Z_BUF_ERROR;
        z->avail_out = given = (uInt)want;
        rc = inflate(z, Z_NO_FLUSH);
        mb_buf_grew(buf, given - z->avail_out);
    }
    return rc;
}

enum mb_rc mb_flate_unpack(mb_arena *arena, struct mb_str packed, size_t max, struct mb_str *out,
                           struct mb_error *err)
{
    MB_BUF_AUTO struct mb_buf buf;
    z_stream z = { 0 };
    int rc;

    /* One byte past max is let in, so that exactly max is told from more. */
    mb_buf_init(&buf, max + 1);
    if (inflateInit(&z) != Z_OK)
        abort();
    rc = unpack_all(&z, packed, &buf);
    inflateEnd(&z);
    if (buf.len > max)
        return mb_fail(err, MB_REFUSED, "packed data unpacks into more than the %zu bytes allowed",
                       max);
    if (rc != Z_STREAM_END)
        return mb_fail(err, MB_REFUSED, "packed data is damaged or cut short");
    *out = mb_arena_str(arena, mb_buf_str(&buf));
    return MB_OK;
}

struct mb_str mb_flate_pack(mb_arena *arena, struct mb_str plain)
{
    uLongf len = compressBound((uLong)plain.len);
    Bytef *packed = mb_arena_get(arena, len);

    if (compress2(packed, &len, (const Bytef *)plain.at, (uLong)plain.len, 1) != Z_OK)
        abort();
    return (struct mb_str){ (const char *)packed, len };
}
