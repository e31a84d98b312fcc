/* Publishing: static files for any web host. docs/publishing.md says what each of them is. */
#include <markerbed/verify.h>
#include <markerbed/witness.h>

#include <string.h>

#include "buf.h"
#include "date.h"
#include "fileio.h"
#include "jws.h"
#include "published.h"
#include "session.h"
#include "text.h"
#include "tiles.h"

enum { FILE_MODE = 0644, FOLDER_MODE = 0755, PAGE_MAX = 16 << 20, BUNDLE_MAX = 20 << 20 };

struct publishing {
    mb_ledger *ledger;
    mb_arena *arena;
    const char *folder;
    bool entries;
    int64_t size;
    struct mb_str note; /* the newest checkpoint, with its cosignatures */
    struct mb_hash root;
    const mb_keyring *ring;
    size_t written;
    mb_json *withdrawn; /* [{"certificate","subject","why","recordedAt"}] */
    mb_json *proven;    /* the entries of withdrawn.json */
};

/* ---- files ---- */

static enum mb_rc make_folders(struct publishing *p, const char *name, struct mb_error *err)
{
    enum mb_rc rc = mb_folder_make(p->folder, FOLDER_MODE, err);

    for (const char *at = strchr(name, '/'); !rc && at; at = strchr(at + 1, '/'))
        rc = mb_folder_make(mb_path_join(p->arena, p->folder,
                                         mb_arena_copy(p->arena, name, (size_t)(at - name))),
                            FOLDER_MODE, err);
    return rc;
}

static enum mb_rc put_file(struct publishing *p, const char *name, struct mb_str bytes,
                           struct mb_error *err)
{
    const char *path = mb_path_join(p->arena, p->folder, name);
    struct mb_str before;
    enum mb_rc rc;

    if (mb_file_exists(path) && mb_file_read(p->arena, path, BUNDLE_MAX, &before, NULL) == MB_OK
        && mb_str_equal(before, bytes))
        return MB_OK;
    rc = make_folders(p, name, err);
    if (!rc)
        rc = mb_file_write(path, bytes, FILE_MODE, err);
    p->written += rc == MB_OK;
    return rc;
}

/* ---- what was published before ---- */

static enum mb_rc newest(struct publishing *p, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_log_checkpoint(p->ledger->log, p->arena, 0, &p->note, &p->size, err);

    if (rc == MB_NO)
        return mb_fail(err, MB_UNABLE, "no checkpoint is signed yet, so there is nothing to"
                       " publish");
    if (!rc)
        rc = mb_log_root(p->ledger->log, p->size, &p->root, err);
    if (!rc)
        rc = mb_stmt_make(mb_log_db(p->ledger->log),
                          "SELECT line FROM cosignature WHERE size = ?1 ORDER BY line", &stmt, err);
    if (rc)
        return rc;
    mb_bind_int(stmt, 1, p->size);
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row)
        p->note = mb_str_of(mb_arena_printf(p->arena, "%.*s%.*s", MB_STR_ARG(p->note),
                                            MB_STR_ARG(mb_col_text(stmt, 0))));
    mb_stmt_free(stmt);
    return rc;
}

/* Never over what another ledger, or a longer history of this one, has published. */
static enum mb_rc check_before(struct publishing *p, struct mb_error *err)
{
    const char *path = mb_path_join(p->arena, p->folder, "checkpoint");
    struct mb_checkpoint before;
    struct mb_note note;
    struct mb_str bytes;
    struct mb_hash root;
    enum mb_rc rc;

    if (!mb_file_exists(path))
        return MB_OK;
    rc = mb_file_read(p->arena, path, MB_NOTE_MAX, &bytes, err);
    if (!rc && (mb_note_read(p->arena, bytes, &note, NULL)
                || mb_checkpoint_read(note.text, &before, NULL, NULL)
                || !mb_str_equal(before.origin, mb_log_origin(p->ledger->log))))
        rc = mb_fail(err, MB_REFUSED, "%s is not of this ledger; publish into a folder of its own",
                     path);
    if (!rc && before.size > (uint64_t)p->size)
        return mb_fail(err, MB_NO,
                       "what is published covers %llu entries and this ledger has a checkpoint over"
                       " %lld: this is an older copy of the ledger, and nothing was published",
                       (unsigned long long)before.size, (long long)p->size);
    if (!rc && before.size > 0)
        rc = mb_log_root(p->ledger->log, (int64_t)before.size, &root, err);
    if (!rc && before.size > 0 && !mb_hash_equal(&root, &before.root))
        rc = mb_fail(err, MB_NO,
                     "what is published over %llu entries is not of this ledger's history: two"
                     " stories were told, and nothing was published",
                     (unsigned long long)before.size);
    return rc;
}

/* ---- tiles ---- */

static enum mb_rc put_tile(struct publishing *p, unsigned level, uint64_t n, unsigned width,
                           struct mb_error *err)
{
    const char *name = mb_tile_name(p->arena, level, n, width);
    struct mb_hash hashes[MB_TILE_WIDTH];
    enum mb_rc rc = MB_OK;

    if (mb_file_exists(mb_path_join(p->arena, p->folder, name)))
        return MB_OK; /* tiles never change */
    for (unsigned i = 0; !rc && i < width; i++)
        rc = mb_log_node(p->ledger->log, 8 * level, n * MB_TILE_WIDTH + i, &hashes[i], err);
    if (!rc)
        rc = put_file(p, name, (struct mb_str){ (const char *)hashes, width * sizeof *hashes },
                      err);
    return rc;
}

/* C2SP tlog-tiles: each entry with its length in two bytes before it. */
static enum mb_rc put_entries(struct publishing *p, uint64_t n, unsigned width,
                              struct mb_error *err)
{
    const char *name = mb_tile_name(p->arena, MB_TILE_LEVELS, n, width);
    int64_t from = (int64_t)(n * MB_TILE_WIDTH), seq;
    MB_BUF_AUTO struct mb_buf bundle = { 0 };
    struct mb_str leaf, jws, tail;
    mb_log_scan *scan;
    bool row = true;
    enum mb_rc rc;

    if (mb_file_exists(mb_path_join(p->arena, p->folder, name)))
        return MB_OK;
    mb_buf_init(&bundle, BUNDLE_MAX);
    rc = mb_log_scan_open(p->ledger->log, from, from + width, &scan, err);
    if (rc)
        return rc;
    while (!(rc = mb_log_scan_next(scan, &row, &seq, &leaf, &jws, &tail, err)) && row) {
        uint8_t len[2] = { (uint8_t)(jws.len >> 8), (uint8_t)jws.len };

        mb_buf_add(&bundle, len, sizeof len);
        mb_buf_add_str(&bundle, jws);
    }
    mb_log_scan_close(scan);
    return rc ? rc : put_file(p, name, (struct mb_str){ bundle.at, bundle.len }, err);
}

static enum mb_rc put_tiles(struct publishing *p, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    for (unsigned level = 0; !rc; level++) {
        uint64_t hashes = mb_tile_hashes(level, (uint64_t)p->size);

        if (hashes == 0)
            break;
        for (uint64_t n = 0; !rc && n * MB_TILE_WIDTH < hashes; n++) {
            uint64_t left = hashes - n * MB_TILE_WIDTH;
            unsigned width = left < MB_TILE_WIDTH ? (unsigned)left : MB_TILE_WIDTH;

            rc = put_tile(p, level, n, width, err);
            if (!rc && level == 0 && p->entries)
                rc = put_entries(p, n, width, err);
        }
    }
    return rc;
}

/* ---- the withdrawn ones ---- */

static enum mb_rc add_proven(struct publishing *p, const struct mb_entry *entry,
                             struct mb_error *err)
{
    mb_json *row = mb_json_object(p->arena), *proof = mb_json_array(p->arena);
    struct mb_path path;
    enum mb_rc rc = mb_log_prove(p->ledger->log, entry->seq, p->size, &path, err);

    if (rc)
        return rc;
    for (size_t i = 0; i < path.count; i++)
        mb_json_add(proof, mb_json_string_str(p->arena, mb_b64(p->arena, path.node[i].b, 32)));
    mb_json_put_int(p->arena, row, "index", entry->seq);
    mb_json_put_text(p->arena, row, "sd_jwt",
                     mb_arena_printf(p->arena, "%.*s~", MB_STR_ARG(entry->jws)));
    mb_json_put(p->arena, row, "proof", proof);
    mb_json_add(p->proven, row);
    return MB_OK;
}

static void add_withdrawn(struct publishing *p, const struct mb_entry *entry)
{
    const mb_json *which = mb_json_get(mb_entry_open(entry, "which"), "entry");
    mb_json *row = mb_json_add(p->withdrawn, mb_json_object(p->arena));

    mb_json_put(p->arena, row, "certificate", mb_json_copy(p->arena, which));
    mb_json_put(p->arena, row, "subject", mb_json_string_str(p->arena, entry->sub));
    mb_json_put(p->arena, row, "why", mb_json_copy(p->arena, mb_entry_open(entry, "why")));
    mb_json_put_text(p->arena, row, "recordedAt", mb_moment_write(p->arena, entry->iat));
}

/* The ledger's own chain, those of its keys, and the withdrawals, in their order. */
static enum mb_rc gather(struct publishing *p, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(mb_log_db(p->ledger->log),
                                 "SELECT seq FROM line WHERE seq < ?1 AND (sub = 'ledger' OR"
                                 " (sub >= 'key/' AND sub < 'key0') OR kind = 'withdrawal')"
                                 " ORDER BY seq",
                                 &stmt, err);

    if (rc)
        return rc;
    mb_bind_int(stmt, 1, p->size);
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        struct mb_entry entry;

        rc = mb_log_entry(p->ledger->log, p->arena, mb_col_int(stmt, 0), &entry, err);
        if (!rc)
            rc = add_proven(p, &entry, err);
        if (rc)
            break;
        if (mb_str_is(entry.kind, "withdrawal"))
            add_withdrawn(p, &entry);
    }
    mb_stmt_free(stmt);
    return rc;
}

static enum mb_rc put_withdrawn(struct publishing *p, struct mb_error *err)
{
    mb_json *file = mb_json_object(p->arena), *list = mb_json_object(p->arena);
    mb_json *which = mb_json_array(p->arena);

    MB_JSON_EACH(row, p->withdrawn)
    {
        mb_json_add(which, mb_json_copy(p->arena, mb_json_get(row, "certificate")));
    }
    mb_json_put_int(p->arena, list, "iat", mb_now());
    mb_json_put(p->arena, list, "iss",
                mb_json_string_str(p->arena, mb_log_origin(p->ledger->log)));
    mb_json_put(p->arena, list, "root",
                mb_json_string_str(p->arena, mb_b64u(p->arena, p->root.b, sizeof p->root.b)));
    mb_json_put_int(p->arena, list, "size", p->size);
    mb_json_put(p->arena, list, "withdrawn", which);
    mb_json_put_text(p->arena, file, "format", MB_WITHDRAWN_FORMAT);
    mb_json_put(p->arena, file, "origin",
                mb_json_string_str(p->arena, mb_log_origin(p->ledger->log)));
    mb_json_put(p->arena, file, "checkpoint", mb_json_string_str(p->arena, p->note));
    mb_json_put(p->arena, file, "entries", p->proven);
    mb_json_put(p->arena, file, "list",
                mb_json_string_str(p->arena, mb_jws_sign(p->arena, MB_WITHDRAWN_TYPE, list,
                                                         p->ledger->person)));
    return put_file(p, "withdrawn.json", mb_json_write(p->arena, file), err);
}

/* ---- keys ---- */

static void add_key(struct publishing *p, mb_json *list, const struct mb_key *key, const char *kid)
{
    mb_json *jwk = mb_json_add(list, mb_jwk_make(p->arena, key));

    mb_json_put_text(p->arena, jwk, "alg", "EdDSA");
    mb_json_put_text(p->arena, jwk, "kid", kid);
    mb_json_put_text(p->arena, jwk, "use", "sig");
}

/* RFC 7517: the people's keys that are in force, and the checkpoint key. */
static enum mb_rc put_keys(struct publishing *p, struct mb_error *err)
{
    mb_json *set = mb_json_object(p->arena), *list = mb_json_array(p->arena);
    size_t checkpoints = mb_keyring_checkpoint_count(p->ring);

    for (size_t i = 0; i < mb_keyring_count(p->ring); i++) {
        const struct mb_ring_key *key = mb_keyring_at(p->ring, i);

        if (key->retired == MB_NEVER)
            add_key(p, list, &key->key, key->kid);
    }
    if (checkpoints) {
        const struct mb_vkey *vkey = &mb_keyring_checkpoint_at(p->ring, checkpoints - 1)->vkey;
        char kid[MB_THUMBPRINT_LEN + 1];

        mb_thumbprint(&vkey->key, kid);
        add_key(p, list, &vkey->key, kid);
    }
    mb_json_put(p->arena, set, "keys", list);
    return put_file(p, "keys.jwks", mb_json_write_pretty(p->arena, set), err);
}

/* ---- for people ---- */

static void add_rows(struct mb_buf *page, const mb_json *withdrawn)
{
    static const char *const cells[] = { "certificate", "why", "recordedAt" };

    if (withdrawn->count == 0) {
        mb_buf_add_text(page, "<p>None.</p>\n");
        return;
    }
    mb_buf_add_text(page, "<div class=\"wide\"><table><thead><tr><th scope=\"col\">Certificate</th>"
                          "<th scope=\"col\">Why</th><th scope=\"col\">Recorded</th></tr></thead>"
                          "<tbody>\n");
    MB_JSON_EACH(row, withdrawn)
    {
        mb_buf_add_text(page, "<tr>");
        for (size_t i = 0; i < sizeof cells / sizeof *cells; i++) {
            mb_buf_add_text(page, i == 0 ? "<td class=\"code\">" : "<td>");
            mb_buf_add_escaped(page, mb_json_str(mb_json_get(row, cells[i])));
            mb_buf_add_text(page, "</td>");
        }
        mb_buf_add_text(page, "</tr>\n");
    }
    mb_buf_add_text(page, "</tbody></table></div>\n");
}

static void add_facts(struct publishing *p, struct mb_buf *page, const mb_json *about)
{
    mb_buf_add_text(page, "<dl>\n<dt>Name of the ledger</dt><dd class=\"code\">");
    mb_buf_add_escaped(page, mb_log_origin(p->ledger->log));
    mb_buf_add_text(page, "</dd>\n<dt>Fingerprint</dt><dd class=\"code\">");
    mb_buf_add_escaped(page, mb_json_str(mb_json_get(about, "fingerprintGrouped")));
    mb_buf_printf(page, "</dd>\n<dt>Entries under the checkpoint</dt><dd>%lld</dd>\n"
                  "<dt>Published</dt><dd>%s</dd>\n</dl>\n",
                  (long long)p->size, mb_moment_write(p->arena, mb_now()));
}

static const char page_head[] =
    "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
    "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n"
    "<meta http-equiv=\"Content-Security-Policy\""
    " content=\"default-src 'none';style-src 'unsafe-inline'\">\n"
    "<style>body{font:1rem/1.5 system-ui,sans-serif;max-width:44rem;margin:2rem auto;padding:0 1rem"
    ";color:#1c1c1c;background:#fff}.code{font-family:monospace;overflow-wrap:anywhere}"
    "dt{font-weight:600;margin-top:.6rem}dd{margin:0}.wide{overflow-x:auto}"
    "td,th{text-align:left;vertical-align:top;padding:.2rem 1rem .2rem 0;"
    "border-bottom:1px solid #b0b0b0}"
    "@media(prefers-color-scheme:dark){body{color:#eaeaea;background:#151515}a{color:#9cc4ff}}"
    "</style>\n";

static enum mb_rc put_index(struct publishing *p, struct mb_error *err)
{
    MB_BUF_AUTO struct mb_buf page = { 0 };
    const mb_json *about;
    enum mb_rc rc = mb_ledger_about(p->ledger, p->arena, &about, err);

    if (rc)
        return rc;
    mb_buf_init(&page, PAGE_MAX);
    mb_buf_add_text(&page, page_head);
    mb_buf_add_text(&page, "<title>");
    mb_buf_add_escaped(&page, mb_json_str(mb_json_get(about, "name")));
    mb_buf_add_text(&page, ": ledger</title></head><body>\n<main>\n<h1>");
    mb_buf_add_escaped(&page, mb_json_str(mb_json_get(about, "name")));
    mb_buf_add_text(&page, "</h1>\n<p>This ledger keeps the story of fossils: each entry is signed"
                           " and none is ever changed. Here is what others need to hold it to its"
                           " word. What the entries say is in the certificates alone.</p>\n");
    add_facts(p, &page, about);
    mb_buf_add_text(&page,
                    "<p>Compare the fingerprint with one that you have by another way, such as the"
                    " printed sheet: a page can be copied.</p>\n<h2>Check a certificate</h2>\n"
                    "<p><a href=\"verify.html\">The page that checks certificates</a> works offline"
                    " too: keep a copy of it.</p>\n<h2>Withdrawn certificates</h2>\n");
    add_rows(&page, p->withdrawn);
    mb_buf_add_text(&page,
                    "<h2>For programs</h2>\n<ul>\n"
                    "<li><a href=\"checkpoint\">checkpoint</a> (C2SP tlog-checkpoint), hash tiles"
                    " under tile/ (C2SP tlog-tiles)</li>\n"
                    "<li><a href=\"withdrawn.json\">withdrawn.json</a>: the list above, signed,"
                    " with proofs</li>\n<li><a href=\"keys.jwks\">keys.jwks</a>: the keys in"
                    " force (RFC 7517)</li>\n</ul>\n</main>\n</body></html>\n");
    return mb_buf_ok(&page)
               ? put_file(p, "index.html", (struct mb_str){ page.at, page.len }, err)
               : mb_fail(err, MB_UNABLE, "index.html would be longer than 16 MiB");
}

/* ---- all of it ---- */

static enum mb_rc check_right(struct publishing *p, struct mb_error *err)
{
    const struct mb_ring_key *key;
    enum mb_rc rc = mb_session_keys(p->ledger, &p->ring, err);

    if (rc)
        return rc;
    key = mb_keyring_find(p->ring, mb_str_of(p->ledger->signer.kid));
    if (!p->ledger->person || !key
        || !mb_keyring_may(p->ring, key, MB_STR("withdrawal"), mb_log_next_seq(p->ledger->log)))
        return mb_fail(err, MB_REFUSED,
                       "the list of withdrawn certificates is signed with a key that may record"
                       " withdrawals, which this one may not");
    return MB_OK;
}

enum mb_rc mb_publish(mb_ledger *ledger, mb_arena *arena, const char *folder, bool entries,
                      const mb_json **out, struct mb_error *err)
{
    struct publishing p = { .ledger = ledger, .arena = arena, .folder = folder,
                            .entries = entries, .withdrawn = mb_json_array(arena),
                            .proven = mb_json_array(arena) };
    mb_json *result = mb_json_object(arena);
    enum mb_rc rc = check_right(&p, err);

    if (!rc)
        rc = newest(&p, err);
    if (!rc)
        rc = check_before(&p, err);
    if (!rc)
        rc = put_tiles(&p, err);
    if (!rc)
        rc = gather(&p, err);
    if (!rc)
        rc = put_keys(&p, err);
    if (!rc)
        rc = put_file(&p, "verify.html", mb_verify_page(arena), err);
    if (!rc)
        rc = put_withdrawn(&p, err);
    if (!rc)
        rc = put_index(&p, err);
    if (!rc) /* last: what it speaks of is all there */
        rc = put_file(&p, "checkpoint", p.note, err);
    if (rc)
        return rc;
    mb_json_put_text(arena, result, "folder", folder);
    mb_json_put_int(arena, result, "size", p.size);
    mb_json_put_int(arena, result, "written", (int64_t)p.written);
    mb_json_put_int(arena, result, "withdrawn", p.withdrawn->count);
    *out = result;
    return MB_OK;
}
