#include "note.h"

#include <string.h>

#include "sha256.h"
#include "text.h"

#define DASH "\xE2\x80\x94 " /* em dash and a space begin a signature line */
#define DASH_LEN 4
#define VKEY_MAX 4096 /* characters; keys of types that we do not know can be long */

/* Unicode spaces (White_Space property), which no key name may hold. */
static bool is_space(uint32_t c)
{
    return (c >= 0x09 && c <= 0x0D) || c == 0x20 || c == 0x85 || c == 0xA0 || c == 0x1680
           || (c >= 0x2000 && c <= 0x200A) || c == 0x2028 || c == 0x2029 || c == 0x202F
           || c == 0x205F || c == 0x3000;
}

bool mb_key_name_ok(struct mb_str name)
{
    if (name.len == 0)
        return false;
    while (name.len) {
        uint32_t c;
        size_t n = mb_utf8_next(name, &c);

        if (!n || c < 0x20 || c == '+' || is_space(c))
            return false;
        name.at += n;
        name.len -= n;
    }
    return true;
}

bool mb_origin_ok(struct mb_str origin)
{
    if (origin.len < 1 || origin.len > MB_ORIGIN_MAX)
        return false;
    for (size_t i = 0; i < origin.len; i++)
        if (origin.at[i] <= 0x20 || origin.at[i] > 0x7E || origin.at[i] == '+')
            return false;
    return true;
}

static uint32_t key_id(struct mb_str name, uint8_t type, const uint8_t *key, size_t len)
{
    mb_hasher *hasher = mb_hasher_new();
    uint8_t middle[2] = { '\n', type };
    struct mb_hash hash;

    mb_hasher_add(hasher, name.at, name.len);
    mb_hasher_add(hasher, middle, sizeof middle);
    mb_hasher_add(hasher, key, len);
    hash = mb_hasher_end(hasher);
    return (uint32_t)hash.b[0] << 24 | (uint32_t)hash.b[1] << 16 | (uint32_t)hash.b[2] << 8
           | hash.b[3];
}

static bool read_id(struct mb_str hex, uint32_t *out)
{
    uint8_t b[4];
    size_t len;

    if (hex.len != 8)
        return false;
    for (size_t i = 0; i < hex.len; i++)
        if (hex.at[i] >= 'A' && hex.at[i] <= 'F')
            return false;
    if (!mb_hex_read(hex, b, &len))
        return false;
    *out = (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 8 | b[3];
    return true;
}

enum mb_rc mb_vkey_read(struct mb_str text, struct mb_vkey *out, struct mb_error *err)
{
    struct mb_str name, rest, hex, tail;
    uint8_t bytes[VKEY_MAX];
    size_t len;
    uint32_t id;

    if (text.len > VKEY_MAX || !mb_str_cut(text, '+', &name, &rest)
        || !mb_str_cut(rest, '+', &hex, &tail) || !mb_key_name_ok(name) || !read_id(hex, &id)
        || !mb_b64_read(tail, bytes, &len) || len < 1)
        return mb_fail(err, MB_REFUSED, "'%.*s' is no verifier key (name+hash+base64)",
                       text.len > 200 ? 200 : (int)text.len, text.at);
    if (bytes[0] != MB_VKEY_LOG && bytes[0] != MB_VKEY_WITNESS)
        return mb_fail(err, MB_UNABLE,
                       "the key '%.*s' is of type %02x, which this program does not know",
                       MB_STR_ARG(name), bytes[0]);
    if (len != 33)
        return mb_fail(err, MB_REFUSED, "the key '%.*s' is not 32 bytes long", MB_STR_ARG(name));
    if (key_id(name, bytes[0], bytes + 1, 32) != id)
        return mb_fail(err, MB_REFUSED, "the key '%.*s' does not have the hash that it states",
                       MB_STR_ARG(name));
    *out = (struct mb_vkey){ .name = name, .id = id, .type = bytes[0] };
    memcpy(out->key.b, bytes + 1, 32);
    return MB_OK;
}

struct mb_vkey mb_vkey_make(struct mb_str name, enum mb_vkey_type type, const struct mb_key *key)
{
    return (struct mb_vkey){ .name = name,
                             .id = key_id(name, (uint8_t)type, key->b, sizeof key->b),
                             .type = (uint8_t)type,
                             .key = *key };
}

char *mb_vkey_write(mb_arena *arena, const struct mb_vkey *vkey)
{
    uint8_t bytes[33];
    char b64[MB_B64_LEN(33) + 1];

    bytes[0] = vkey->type;
    memcpy(bytes + 1, vkey->key.b, 32);
    mb_b64_write(b64, bytes, sizeof bytes);
    return mb_arena_printf(arena, "%.*s+%08x+%s", MB_STR_ARG(vkey->name), vkey->id, b64);
}

static enum mb_rc read_line(mb_arena *arena, struct mb_str line, struct mb_note_line *out,
                            struct mb_error *err)
{
    struct mb_str name, b64, body = line;
    uint8_t *bytes;
    size_t len;

    if (body.len < DASH_LEN + 1 || memcmp(body.at, DASH, DASH_LEN) != 0)
        return mb_fail(err, MB_REFUSED, "a line behind the note's blank line is no signature");
    body.at += DASH_LEN;
    body.len -= DASH_LEN + 1; /* and the line end */
    if (!mb_str_cut(body, ' ', &name, &b64) || !mb_key_name_ok(name))
        return mb_fail(err, MB_REFUSED, "a signature line of the note has no proper key name");
    bytes = mb_arena_get(arena, b64.len + 4);
    if (!mb_b64_read(b64, bytes, &len) || len < 5)
        return mb_fail(err, MB_REFUSED, "the signature of '%.*s' is not proper base64",
                       MB_STR_ARG(name));
    out->name = name;
    out->id = (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8
              | bytes[3];
    out->payload = (struct mb_str){ (const char *)bytes + 4, len - 4 };
    out->line = line;
    return MB_OK;
}

static enum mb_rc note_bytes_ok(struct mb_str bytes, struct mb_error *err)
{
    if (bytes.len > MB_NOTE_MAX)
        return mb_fail(err, MB_REFUSED, "the note is longer than %u bytes", MB_NOTE_MAX);
    if (bytes.len < 4 || bytes.at[bytes.len - 1] != '\n')
        return mb_fail(err, MB_REFUSED, "the note does not end with a line end");
    for (size_t i = 0; i < bytes.len; i++)
        if ((uint8_t)bytes.at[i] < 0x20 && bytes.at[i] != '\n')
            return mb_fail(err, MB_REFUSED, "the note holds a control character");
    if (!mb_utf8_ok(bytes))
        return mb_fail(err, MB_REFUSED, "the note is not UTF-8");
    return MB_OK;
}

enum mb_rc mb_note_read(mb_arena *arena, struct mb_str bytes, struct mb_note *out,
                        struct mb_error *err)
{
    struct mb_note note = { 0 };
    size_t blank = bytes.len;
    enum mb_rc rc = note_bytes_ok(bytes, err);

    if (rc)
        return rc;
    /* the last empty line divides: a text may hold empty lines of its own */
    for (size_t i = bytes.len - 1; i-- > 0;)
        if (bytes.at[i] == '\n' && bytes.at[i + 1] == '\n') {
            blank = i;
            break;
        }
    if (blank == bytes.len || blank + 2 >= bytes.len)
        return mb_fail(err, MB_REFUSED, "the note carries no signature line");
    note.text = (struct mb_str){ bytes.at, blank + 1 };
    note.lines = MB_ARRAY(arena, MB_NOTE_SIGNATURES_MAX, struct mb_note_line);
    for (size_t at = blank + 2; at < bytes.len;) {
        const char *end = memchr(bytes.at + at, '\n', bytes.len - at);
        struct mb_str line = { bytes.at + at, (size_t)(end - (bytes.at + at)) + 1 };

        if (note.count == MB_NOTE_SIGNATURES_MAX)
            return mb_fail(err, MB_REFUSED, "the note carries more than %d signatures",
                           MB_NOTE_SIGNATURES_MAX);
        rc = read_line(arena, line, &note.lines[note.count++], err);
        if (rc)
            return rc;
        at += line.len;
    }
    *out = note;
    return MB_OK;
}

/* What a witness signs: tlog-cosignature, "Signed message". */
static struct mb_str cosigned(mb_arena *arena, struct mb_str text, int64_t seen)
{
    return mb_str_of(mb_arena_printf(arena, "cosignature/v1\ntime %lld\n%.*s", (long long)seen,
                                     MB_STR_ARG(text)));
}

static bool line_ok(const struct mb_note *note, const struct mb_note_line *line,
                    const struct mb_vkey *vkey, int64_t *seen)
{
    const uint8_t *payload = (const uint8_t *)line->payload.at;
    struct mb_sig sig;
    uint64_t time = 0;
    mb_arena *arena;
    bool ok;

    if (vkey->type == MB_VKEY_LOG) {
        if (line->payload.len != sizeof sig)
            return false;
        memcpy(sig.b, payload, sizeof sig);
        return mb_sig_ok(&vkey->key, note->text, &sig);
    }
    if (line->payload.len != 8 + sizeof sig)
        return false;
    for (int i = 0; i < 8; i++)
        time = time << 8 | payload[i];
    if (time > INT64_MAX)
        return false;
    memcpy(sig.b, payload + 8, sizeof sig);
    arena = mb_arena_new();
    ok = mb_sig_ok(&vkey->key, cosigned(arena, note->text, (int64_t)time), &sig);
    mb_arena_free(arena);
    if (ok && seen)
        *seen = (int64_t)time;
    return ok;
}

enum mb_note_answer mb_note_signed_by(const struct mb_note *note, const struct mb_vkey *vkey,
                                      int64_t *seen)
{
    for (size_t i = 0; i < note->count; i++) {
        const struct mb_note_line *line = &note->lines[i];

        if (line->id == vkey->id && mb_str_equal(line->name, vkey->name))
            return line_ok(note, line, vkey, seen) ? MB_NOTE_SIGNED : MB_NOTE_FORGED;
    }
    return MB_NOTE_UNSIGNED;
}

static char *signature_line(mb_arena *arena, struct mb_str name, uint32_t id, const void *payload,
                            size_t len)
{
    uint8_t bytes[4 + 8 + 64];
    char b64[MB_B64_LEN(sizeof bytes) + 1];

    for (int i = 0; i < 4; i++)
        bytes[i] = (uint8_t)(id >> (24 - 8 * i));
    memcpy(bytes + 4, payload, len);
    mb_b64_write(b64, bytes, 4 + len);
    return mb_arena_printf(arena, DASH "%.*s %s\n", MB_STR_ARG(name), b64);
}

char *mb_note_sign(mb_arena *arena, struct mb_str text, struct mb_str name,
                   const mb_secret *secret)
{
    struct mb_vkey vkey = mb_vkey_make(name, MB_VKEY_LOG, mb_secret_key(secret));
    struct mb_sig sig;

    mb_sign(secret, text, &sig);
    return signature_line(arena, name, vkey.id, sig.b, sizeof sig);
}

char *mb_note_cosign(mb_arena *arena, struct mb_str text, struct mb_str name,
                     const mb_secret *secret, int64_t seen)
{
    struct mb_vkey vkey = mb_vkey_make(name, MB_VKEY_WITNESS, mb_secret_key(secret));
    uint8_t payload[8 + 64];
    struct mb_sig sig;

    for (int i = 0; i < 8; i++)
        payload[i] = (uint8_t)((uint64_t)seen >> (56 - 8 * i));
    mb_sign(secret, cosigned(arena, text, seen), &sig);
    memcpy(payload + 8, sig.b, sizeof sig);
    return signature_line(arena, name, vkey.id, payload, sizeof payload);
}

static bool next_line(struct mb_str *text, struct mb_str *line)
{
    return mb_str_cut(*text, '\n', line, text);
}

/* ASCII decimal without superfluous zeros. */
static bool read_count(struct mb_str digits, uint64_t *out)
{
    uint64_t n = 0;

    if (digits.len == 0 || (digits.len > 1 && digits.at[0] == '0'))
        return false;
    for (size_t i = 0; i < digits.len; i++) {
        unsigned digit = (unsigned)digits.at[i] - '0';

        if (digit > 9 || n > ((uint64_t)INT64_MAX - digit) / 10)
            return false;
        n = n * 10 + digit;
    }
    *out = n;
    return true;
}

enum mb_rc mb_checkpoint_read(struct mb_str text, struct mb_checkpoint *out, bool *extended,
                              struct mb_error *err)
{
    struct mb_checkpoint checkpoint;
    struct mb_str origin, size, root;

    if (!next_line(&text, &origin) || !next_line(&text, &size) || !next_line(&text, &root))
        return mb_fail(err, MB_REFUSED, "the checkpoint is not three lines long");
    if (origin.len == 0)
        return mb_fail(err, MB_REFUSED, "the checkpoint names no origin");
    if (!read_count(size, &checkpoint.size))
        return mb_fail(err, MB_REFUSED, "the checkpoint's size '%.*s' is no number",
                       (int)(size.len > 40 ? 40 : size.len), size.at);
    if (!mb_b64_read_exact(root, checkpoint.root.b, sizeof checkpoint.root.b))
        return mb_fail(err, MB_REFUSED, "the checkpoint's root is not 32 bytes of base64");
    checkpoint.origin = origin;
    if (extended)
        *extended = text.len > 0;
    *out = checkpoint;
    return MB_OK;
}

char *mb_checkpoint_text(mb_arena *arena, const struct mb_checkpoint *checkpoint)
{
    char root[MB_HASH_B64_LEN + 1];

    mb_b64_write(root, checkpoint->root.b, sizeof checkpoint->root.b);
    return mb_arena_printf(arena, "%.*s\n%llu\n%s\n", MB_STR_ARG(checkpoint->origin),
                           (unsigned long long)checkpoint->size, root);
}

enum mb_rc mb_proof_read(mb_arena *arena, struct mb_str bytes, struct mb_proof *out,
                         struct mb_error *err)
{
    struct mb_proof proof = { 0 };
    struct mb_str line;

    if (!next_line(&bytes, &line) || !mb_str_is(line, "c2sp.org/tlog-proof@v1"))
        return mb_fail(err, MB_REFUSED, "the file does not begin with c2sp.org/tlog-proof@v1");
    if (!next_line(&bytes, &line))
        return mb_fail(err, MB_REFUSED, "the proof has no index line");
    if (mb_str_starts(line, "extra ")) {
        struct mb_str b64 = { line.at + 6, line.len - 6 };
        size_t len;

        if (!mb_b64_read(b64, mb_arena_get(arena, b64.len + 4), &len) || !next_line(&bytes, &line))
            return mb_fail(err, MB_REFUSED, "the proof's extra line is not proper base64");
    }
    if (!mb_str_starts(line, "index ")
        || !read_count((struct mb_str){ line.at + 6, line.len - 6 }, &proof.index))
        return mb_fail(err, MB_REFUSED, "the proof has no proper index line");
    proof.nodes = MB_ARRAY(arena, MB_PROOF_NODES_MAX, struct mb_hash);
    while (next_line(&bytes, &line) && line.len > 0) {
        if (proof.count == MB_PROOF_NODES_MAX
            || !mb_b64_read_exact(line, proof.nodes[proof.count++].b, 32))
            return mb_fail(err, MB_REFUSED,
                           "line %zu of the proof's hashes is not 32 bytes of base64", proof.count);
    }
    if (bytes.len == 0)
        return mb_fail(err, MB_REFUSED, "the proof carries no checkpoint");
    proof.checkpoint = bytes;
    *out = proof;
    return MB_OK;
}

char *mb_proof_write(mb_arena *arena, uint64_t index, const struct mb_hash *nodes, size_t count,
                     struct mb_str checkpoint)
{
    char *lines = mb_arena_text(arena, "");
    char b64[MB_HASH_B64_LEN + 1];

    for (size_t i = 0; i < count; i++) {
        mb_b64_write(b64, nodes[i].b, sizeof nodes[i].b);
        lines = mb_arena_printf(arena, "%s%s\n", lines, b64);
    }
    return mb_arena_printf(arena, "c2sp.org/tlog-proof@v1\nindex %llu\n%s\n%.*s",
                           (unsigned long long)index, lines, MB_STR_ARG(checkpoint));
}
