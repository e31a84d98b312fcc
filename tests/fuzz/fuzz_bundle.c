/*
 * Fuzzing the reading and judging of certificate files. A file that begins with "{" is taken as it
 * stands. Else its lines are entries as in fuzz_entry.c, apart by an empty line, which are signed
 * properly here and put into a file with proofs and a checkpoint, so that hostile entries reach
 * every rule behind the signatures. In a line, #N stands for the leaf hash of entry N, #d for the
 * digest of the statement's table, and in a payload @N for the digest of the entry's disclosure N.
 */
#include <stdlib.h>
#include <string.h>

#include "fuzz.h"
#include "buf.h"
#include "merkle.h"
#include "sha256.h"
#include "text.h"
#include "verify_bundle.h"

enum { ENTRIES_MAX = 24 };

static void must(bool holds)
{
    if (!holds)
        abort();
}

static mb_secret *secret(unsigned first)
{
    uint8_t seed[32];

    for (unsigned i = 0; i < sizeof seed; i++)
        seed[i] = (uint8_t)(first + i);
    return mb_secret_from_seed(seed);
}

struct making {
    mb_arena *arena;
    const struct mb_hash *leaves;
    size_t count;
    struct mb_str shown[10]; /* the entry's disclosures, in base64url */
    size_t shown_count;
};

static struct mb_str stands_for(const struct making *m, char mark, char which)
{
    size_t n = (size_t)(which - '0');
    struct mb_hash hash;

    if (mark == '#' && which == 'd')
        return mb_statement_current(m->arena);
    if (which < '0' || which > '9' || n >= (mark == '#' ? m->count : m->shown_count))
        return (struct mb_str){ NULL, 0 };
    hash = mark == '#' ? m->leaves[n] : mb_sha256_str(m->shown[n]);
    return mb_b64u(m->arena, hash.b, sizeof hash.b);
}

/* A line with what its marks stand for, in base64url. */
static struct mb_str encoded(const struct making *m, struct mb_str line)
{
    MB_BUF_AUTO struct mb_buf buf;

    mb_buf_init(&buf, 4u << 20);
    for (size_t i = 0; i < line.len; i++) {
        struct mb_str other = { NULL, 0 };

        if ((line.at[i] == '#' || line.at[i] == '@') && i + 1 < line.len)
            other = stands_for(m, line.at[i], line.at[i + 1]);
        if (other.at) {
            mb_buf_add_str(&buf, other);
            i++;
        } else {
            mb_buf_add_char(&buf, line.at[i]);
        }
    }
    return mb_b64u(m->arena, buf.at ? buf.at : "", mb_buf_ok(&buf) ? buf.len : 0);
}

/* "header\npayload\nD1\n..." as a signed SD-JWT. */
static char *signed_entry(struct making *m, struct mb_str lines, const mb_secret *key)
{
    struct mb_str line, head, body, tail;
    char *text, *shown = mb_arena_text(m->arena, "");
    struct mb_sig sig;

    mb_str_cut(lines, '\n', &line, &lines);
    head = encoded(m, line);
    mb_str_cut(lines, '\n', &body, &lines);
    m->shown_count = 0;
    while (lines.len) {
        mb_str_cut(lines, '\n', &line, &lines);
        tail = encoded(m, line);
        shown = mb_arena_printf(m->arena, "%s%.*s~", shown, MB_STR_ARG(tail));
        if (m->shown_count < 10)
            m->shown[m->shown_count++] = tail;
    }
    body = encoded(m, body);
    text = mb_arena_printf(m->arena, "%.*s.%.*s", MB_STR_ARG(head), MB_STR_ARG(body));
    mb_sign(key, mb_str_of(text), &sig);
    tail = mb_b64u(m->arena, sig.b, sizeof sig.b);
    return mb_arena_printf(m->arena, "%s.%.*s~%s", text, MB_STR_ARG(tail), shown);
}

static enum mb_rc read_leaf(void *ctx, unsigned level, uint64_t index, struct mb_hash *out,
                            struct mb_error *err)
{
    const struct mb_hash *leaves = ctx;
    struct mb_hash left, right;

    if (level == 0) {
        *out = leaves[index];
        return MB_OK;
    }
    read_leaf(ctx, level - 1, 2 * index, &left, err);
    read_leaf(ctx, level - 1, 2 * index + 1, &right, err);
    *out = mb_node_hash(&left, &right);
    return MB_OK;
}

static mb_json *path_json(mb_arena *arena, const struct mb_path *path)
{
    mb_json *list = mb_json_array(arena);

    for (size_t i = 0; i < path->count; i++)
        mb_json_add(list, mb_json_string_str(arena, mb_b64(arena, path->node[i].b, 32)));
    return list;
}

static const mb_json *made(mb_arena *arena, struct mb_str bytes)
{
    mb_secret *key = secret(0x20), *log = secret(0);
    mb_json *file = mb_json_object(arena), *entries = mb_json_array(arena);
    struct mb_checkpoint checkpoint = { .origin = MB_STR("ledger.example") };
    struct mb_hash leaves[ENTRIES_MAX];
    char *sd_jwt[ENTRIES_MAX], *text;
    struct making m = { .arena = arena, .leaves = leaves };
    struct mb_edge edge = { 0 };
    struct mb_path path;

    while (bytes.len && edge.size < ENTRIES_MAX) {
        const char *end = memmem(bytes.at, bytes.len, "\n\n", 2);
        struct mb_str one = { bytes.at, end ? (size_t)(end - bytes.at) : bytes.len };

        bytes.at += one.len + (end ? 2 : 0);
        bytes.len -= one.len + (end ? 2 : 0);
        text = sd_jwt[edge.size] = signed_entry(&m, one, key);
        m.count++;
        leaves[edge.size] = mb_leaf_hash((struct mb_str){ text, strcspn(text, "~") });
        must(!mb_edge_push(&edge, &leaves[edge.size], NULL, NULL, NULL));
    }
    for (uint64_t i = 0; i < edge.size; i++) {
        mb_json *entry = mb_json_add(entries, mb_json_object(arena));

        must(!mb_merkle_prove(i, edge.size, read_leaf, leaves, &path, NULL));
        mb_json_put_int(arena, entry, "index", (int64_t)i);
        mb_json_put_text(arena, entry, "sd_jwt", sd_jwt[i]);
        mb_json_put(arena, entry, "proof", path_json(arena, &path));
    }
    checkpoint.size = edge.size;
    checkpoint.root = mb_edge_root(&edge);
    text = mb_checkpoint_text(arena, &checkpoint);
    mb_json_put_text(arena, file, "format", MB_BUNDLE_FORMAT);
    mb_json_put_text(arena, file, "origin", "ledger.example");
    mb_json_put_text(
        arena, file, "checkpoint",
        mb_arena_printf(arena, "%s\n%s", text,
                        mb_note_sign(arena, mb_str_of(text), MB_STR("ledger.example"), log)));
    mb_json_put(arena, file, "entries", entries);
    mb_secret_free(key);
    mb_secret_free(log);
    return file;
}

static void judge(mb_arena *arena, const mb_json *json)
{
    struct mb_error err = { 0 };
    struct mb_bundle bundle;
    struct mb_bundle_check check = { .arena = arena,
                                     .bundle = &bundle,
                                     .findings = mb_findings_new(arena, 5),
                                     .foreign_left = MB_FOREIGN_MAX };
    enum mb_rc rc = mb_bundle_read(arena, json, &bundle, &err);

    must(rc == MB_OK || ((rc == MB_REFUSED || rc == MB_UNABLE) && err.text[0]));
    if (rc)
        return;
    mb_bundle_verify(&check);
    must(mb_findings_rc(check.findings) != MB_OK); /* nobody said whose ledger it is */
    for (const struct mb_finding *f = mb_findings_first(check.findings); f; f = f->next)
        must(f->text[0] && mb_text_allowed(mb_str_of(f->text), false));
    must(mb_json_write(arena, mb_findings_json(arena, check.findings)).len > 0);
    must(mb_json_write(arena, mb_bundle_about(arena, &check)).len > 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t len)
{
    mb_arena *arena = mb_arena_new();
    struct mb_str text = { (const char *)bytes, len };
    const mb_json *json;

    must(mb_crypto_start(NULL) == MB_OK);
    if (len > 0 && bytes[0] != '{')
        judge(arena, made(arena, (struct mb_str){ text.at + 1, len - 1 }));
    else if (!mb_json_read(arena, text, MB_JSON_STRICT, &json, NULL))
        judge(arena, json);
    mb_arena_free(arena);
    return 0;
}
