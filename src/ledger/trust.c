#include "trust.h"

#include <string.h>

#include "fileio.h"
#include "note.h"
#include "text.h"

#define TRUST_MAX (1u << 20)

static bool read_line(struct mb_str line, struct mb_trusted *out)
{
    struct mb_str word, rest;

    if (!mb_str_cut(line, ' ', &word, &rest) || !mb_str_is(word, "ledger"))
        return false;
    rest = mb_str_trim(rest);
    if (!mb_str_cut(rest, ' ', &out->origin, &rest) || !mb_origin_ok(out->origin))
        return false;
    rest = mb_str_trim(rest);
    if (rest.len == MB_HASH_B64U_LEN
        && mb_b64u_read_exact(rest, out->fingerprint.b, sizeof out->fingerprint.b))
        return true;
    return mb_base32_read_exact(rest, out->fingerprint.b, sizeof out->fingerprint.b);
}

static bool read_key(struct mb_str line, struct mb_str *out)
{
    struct mb_str word, rest;
    uint8_t bytes[32];

    if (!mb_str_cut(line, ' ', &word, &rest) || !mb_str_is(word, "key"))
        return false;
    mb_str_cut(mb_str_trim(rest), ' ', out, &rest);
    return out->len == MB_HASH_B64U_LEN && mb_b64u_read_exact(*out, bytes, sizeof bytes);
}

enum mb_rc mb_trust_read(mb_arena *arena, const char *path, struct mb_trust *out,
                         struct mb_error *err)
{
    struct mb_trust trust = { 0 };
    struct mb_str bytes, line;
    size_t number = 0, room = 0;
    enum mb_rc rc = mb_file_read(arena, path, TRUST_MAX, &bytes, err);

    if (rc)
        return rc;
    for (size_t i = 0; i < bytes.len; i++)
        room += bytes.at[i] == '\n';
    trust.ledgers = MB_ARRAY(arena, room + 1, struct mb_trusted);
    trust.keys = MB_ARRAY(arena, room + 1, struct mb_str);
    while (bytes.len) {
        mb_str_cut(bytes, '\n', &line, &bytes);
        number++;
        line = mb_str_trim(line);
        if (line.len == 0 || line.at[0] == '#')
            continue;
        if (read_key(line, &trust.keys[trust.key_count]))
            trust.key_count++;
        else if (!read_line(line, &trust.ledgers[trust.count++]))
            return mb_fail(err, MB_REFUSED,
                           "%s: line %zu: write `ledger ORIGIN FINGERPRINT` (52 letters and digits"
                           " from the sheet or from `markerbed list keys`), or `key THUMBPRINT`",
                           path, number);
    }
    *out = trust;
    return MB_OK;
}

enum mb_trust_answer mb_trust_of(const struct mb_trust *trust, struct mb_str origin,
                                 const struct mb_hash *fingerprint)
{
    enum mb_trust_answer answer = MB_TRUST_UNKNOWN;

    for (size_t i = 0; i < trust->count; i++) {
        if (!mb_str_equal(trust->ledgers[i].origin, origin))
            continue;
        if (mb_hash_equal(&trust->ledgers[i].fingerprint, fingerprint))
            return MB_TRUST_KNOWN;
        answer = MB_TRUST_OTHER;
    }
    return answer;
}
