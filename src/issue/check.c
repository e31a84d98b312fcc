/* Checking files and ledgers: what markerbed/verify.h promises. */
#include <markerbed/verify.h>

#include <string.h>
#include <sys/stat.h>

#include "bag_unpack.h"
#include "bag_verify.h"
#include "carrier.h"
#include "check_about.h"
#include "check_code.h"
#include "date.h"
#include "fileio.h"
#include "filetree.h"
#include "loose_notes.h"
#include "published.h"
#include "remeasure.h"
#include "session.h"
#include "sightings.h"
#include "text.h"
#include "verify_countersign.h"
#include "views.h"
#include "witnessed.h"

#define FINDINGS_EACH 50 /* told in full, of each name; all are counted */

struct checking {
    mb_arena *arena;
    const struct mb_bag *bag; /* around the certificate in hand; NULL: none */
    const struct mb_verify *verify;
    struct mb_trust trust;
    mb_policy *policy; /* NULL: no witness is asked */
    mb_json *witnessed; /* a sentence for each certificate, with a policy */
    mb_json *published; /* a sentence for each, of what its ledger has published */
    bool withdrawn_now; /* which withdraws one of them */
    bool withdrawn_inside; /* or one of another ledger inside them */
    mb_findings *findings;
    mb_sightings *seen;
    mb_loose_notes *notes;
    struct known_log *logs; /* of ledgers on disk */
    struct known_file *certificates, **certificates_end;
    mb_known_keys *keys; /* of all that were given */
    mb_code_check *code; /* NULL: none was given */
    mb_json *files;
    mb_json *issued, *withdrawn; /* certificate_name of those in the files; of those withdrawn */
    const char *as_of; /* the latest of all files */
    bool pdf, page;    /* one of them was a sheet */
    bool not_for_sale; /* one of them is for another audience than a buyer or institution */
    size_t unsigned_notes; /* checkpoints that no key in the files signed */
    struct mb_remeasured measured; /* in all files */
};

struct known_log {
    const char *path;
    bool damaged;
    struct known_log *next;
};

struct known_file {
    const char *path;
    const struct mb_bundle_check *check;
    mb_json *file; /* what is answered of it */
    struct known_file *next;
};

static bool is_folder(const char *path)
{
    struct stat st;

    return stat(path, &st) == 0 && S_ISDIR(st.st_mode);
}

static mb_json *new_file(struct checking *c, const char *path, const char *what)
{
    mb_json *file = mb_json_object(c->arena);

    mb_json_put_text(c->arena, file, "path", path);
    mb_json_put_text(c->arena, file, "what", what);
    return file;
}

static void add_members(struct checking *c, mb_json *file, const mb_json *about)
{
    MB_JSON_EACH(member, about)
    {
        mb_json_put_str(c->arena, file, member->name, mb_json_copy(c->arena, member));
    }
    mb_json_add(c->files, file);
}

static void note_day(struct checking *c, const mb_json *file)
{
    const char *day = mb_json_cstr(c->arena, mb_json_get(file, "asOf"));

    if (day && (!c->as_of || strcmp(day, c->as_of) > 0))
        c->as_of = day;
}

/* A ledger, by its fingerprint, and a certificate of it. */
static const char *certificate_name(struct checking *c, const struct mb_hash *print,
                                    struct mb_str leaf)
{
    return mb_arena_printf(c->arena, "%.*s %.*s",
                           MB_STR_ARG(mb_base32(c->arena, print->b, 32, false)),
                           MB_STR_ARG(leaf));
}

/* Only a ledger itself can withdraw what it issued: a well signed entry of the same founding. */
static void note_withdrawal(struct checking *c, const struct mb_hash *print,
                            const struct mb_entry *entry)
{
    struct mb_str leaf = mb_json_str(mb_json_get(mb_entry_open(entry, "which"), "entry"));

    mb_json_add_text(c->arena, c->withdrawn, certificate_name(c, print, leaf));
}

static void note_withdrawals(struct checking *c, const struct mb_bundle_check *check)
{
    const struct mb_hash *print = &check->bundle->entries[0].entry.leaf;

    for (size_t i = 0; i < check->bundle->count; i++) {
        const struct mb_bundle_entry *e = &check->bundle->entries[i];

        if (e->signed_well && mb_str_is(e->entry.kind, "withdrawal"))
            note_withdrawal(c, print, &e->entry);
    }
    for (size_t i = 0; i < check->certificate_count; i++) {
        struct mb_str leaf = mb_b64u(c->arena, check->certificates[i]->entry.leaf.b, 32);

        mb_json_add_text(c->arena, c->issued, certificate_name(c, print, leaf));
    }
}

/* What the ledger itself has withdrawn by now. */
static enum mb_rc note_withdrawals_in(struct checking *c, mb_log *log, struct mb_error *err)
{
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc;

    if (c->issued->count == 0)
        return MB_OK;
    rc = mb_stmt_make(mb_log_db(log), "SELECT seq FROM line WHERE kind = 'withdrawal'", &stmt, err);
    if (rc)
        return rc;
    while (!(rc = mb_stmt_step(stmt, &row, err)) && row) {
        struct mb_entry entry;

        rc = mb_log_entry(log, c->arena, mb_col_int(stmt, 0), &entry, err);
        if (rc)
            break;
        note_withdrawal(c, mb_log_fingerprint(log), &entry);
    }
    mb_stmt_free(stmt);
    return rc;
}

static void compare_withdrawals(struct checking *c)
{
    MB_JSON_EACH(issued, c->issued)
    {
        MB_JSON_EACH(withdrawn, c->withdrawn)
        {
            struct mb_str print, leaf;

            if (!mb_str_equal(issued->text, withdrawn->text)
                || !mb_str_cut(issued->text, ' ', &print, &leaf))
                continue;
            mb_find(c->findings, MB_F_WITHDRAWN, (struct mb_str){ NULL, 0 }, -1,
                    "Another of these files withdraws the certificate %.*s.", MB_STR_ARG(leaf));
            break;
        }
    }
}

/* What it says, and what the certificates inside it say, is held against all others. */
static void tell_bundle(struct checking *c, const char *path, const struct mb_bundle_check *check)
{
    const struct mb_bundle_entry *first = &check->bundle->entries[0];
    const struct mb_hash *print = &first->entry.leaf;
    struct mb_checkpoint checkpoint;
    struct mb_note note;

    for (const struct mb_bundle_check *inner = check->inside; inner; inner = inner->next)
        tell_bundle(c, path, inner);
    if (first->index != 0 || !first->signed_well || check->newer)
        return; /* whose it is, or what holds of it, nobody knows */
    for (size_t i = 0; i < check->bundle->count; i++)
        if (check->bundle->entries[i].signed_well)
            mb_sightings_entry(c->seen, path, print, &check->bundle->entries[i].entry);
    note_withdrawals(c, check);
    mb_loose_notes_ring(c->notes, print, check->ring);
    if (check->checkpoint_good && !mb_note_read(c->arena, check->bundle->note, &note, NULL)
        && !mb_checkpoint_read(note.text, &checkpoint, NULL, NULL))
        mb_sightings_root(c->seen, path, print, checkpoint.origin, checkpoint.size,
                          &checkpoint.root);
}

/* Whose keys countersigned is judged when all files are known. */
static void keep_file(struct checking *c, const char *path, const struct mb_bundle_check *check,
                      mb_json *file)
{
    struct known_file *known = MB_NEW(c->arena, struct known_file);

    *known = (struct known_file){ path, check, file, NULL };
    *c->certificates_end = known;
    c->certificates_end = &known->next;
    mb_known_keys_add(c->keys, check);
    if (c->code)
        mb_code_see_file(c->code, path, check);
}

static void hold_against_published(struct checking *c, struct mb_bundle_check *check,
                                   mb_json *file)
{
    const mb_json *published = mb_published_check(check, c->verify->published);
    const char *words = mb_published_words(c->arena, published);

    mb_json_put(c->arena, file, "published", mb_json_copy(c->arena, published));
    if (mb_json_true(mb_json_get(published, "withdrawn")))
        *(mb_json_get(published, "of") ? &c->withdrawn_inside : &c->withdrawn_now) = true;
    if (words)
        mb_json_add_text(c->arena, c->published, words);
}

static enum mb_rc check_certificate(struct checking *c, const char *path, struct mb_str bytes,
                                    const char *what, struct mb_error *err)
{
    struct mb_bundle *bundle = MB_NEW(c->arena, struct mb_bundle);
    struct mb_bundle_check *check = MB_NEW(c->arena, struct mb_bundle_check);
    mb_json *file = new_file(c, path, what);
    struct mb_remeasured measured;
    struct mb_error inner = { 0 };
    const mb_json *json;
    enum mb_rc rc;

    if (bytes.len > MB_BUNDLE_MAX)
        return mb_fail(err, MB_REFUSED, "%s: a certificate is at most 64 MiB long", path);
    rc = mb_json_read(c->arena, bytes, MB_JSON_STRICT, &json, &inner);
    if (!rc && !mb_json_get(json, "format"))
        return mb_fail(err, MB_REFUSED, "%s: this is no certificate of Markerbed", path);
    if (!rc)
        rc = mb_bundle_read(c->arena, json, bundle, &inner);
    if (rc) {
        mb_find(c->findings, rc == MB_UNABLE ? MB_F_UNKNOWN_VERSION : MB_F_MALFORMED,
                (struct mb_str){ NULL, 0 }, -1, "The file: %s.", inner.text);
        mb_json_add(c->files, file);
        return MB_OK;
    }
    *check = (struct mb_bundle_check){ .arena = c->arena,
                                       .bundle = bundle,
                                       .trust = &c->trust,
                                       .findings = c->findings,
                                       .has_file = c->bag ? mb_bag_has : NULL,
                                       .has_file_ctx = c->bag,
                                       .foreign_left = MB_FOREIGN_MAX };
    mb_bundle_verify(check);
    mb_remeasure_bundle(check, NULL, NULL, c->findings, &measured);
    mb_check_measured(c->arena, file, &measured, &c->measured);
    tell_bundle(c, path, check);
    if (c->verify->published && !check->newer)
        hold_against_published(c, check, file);
    if (c->policy && !check->newer) {
        const mb_json *witnessed = mb_witnessed(c->arena, c->policy, check);

        mb_json_put(c->arena, file, "witnessed", mb_json_copy(c->arena, witnessed));
        mb_json_add_text(c->arena, c->witnessed, mb_witnessed_words(c->arena, witnessed));
    }
    add_members(c, file, mb_bundle_about(c->arena, check));
    keep_file(c, path, check, file);
    note_day(c, file);
    if (check->certificate_count
        && (check->audience == MB_PUBLIC || check->audience == MB_AUDITOR))
        c->not_for_sale = true;
    return MB_OK;
}

static enum mb_rc check_carried(struct checking *c, const char *path, struct mb_str bytes,
                                struct mb_error *err)
{
    static const char *const what[] = { [MB_CARRIER_FILE] = "certificate",
                                        [MB_CARRIER_PDF] = "sheet (PDF)",
                                        [MB_CARRIER_HTML] = "sheet (web page)" };
    enum mb_carrier carrier = mb_carrier_of(bytes);
    struct mb_str inside;
    enum mb_rc rc = mb_carrier_open(c->arena, path, bytes, &inside, err);

    if (rc)
        return rc;
    c->pdf = c->pdf || carrier == MB_CARRIER_PDF;
    c->page = c->page || carrier == MB_CARRIER_HTML;
    return check_certificate(c, path, inside, what[carrier], err);
}

static enum mb_rc check_witnessed(struct checking *c, const char *path, mb_json *file,
                                  struct mb_error *err)
{
    const mb_json *witnessed = NULL;
    mb_ledger *ledger;
    enum mb_rc rc = mb_ledger_open(c->arena, path, MB_READ, &ledger, err);

    if (rc)
        return rc;
    rc = mb_witnessed_ledger(ledger, c->arena, c->policy, c->findings, &witnessed, err);
    mb_ledger_close(ledger);
    if (rc)
        return rc;
    mb_json_put(c->arena, file, "witnessed", mb_json_copy(c->arena, witnessed));
    mb_json_add_text(c->arena, c->witnessed, mb_witnessed_words(c->arena, witnessed));
    return MB_OK;
}

static enum mb_rc check_views(struct checking *c, const char *path, struct mb_error *err)
{
    mb_ledger *ledger;
    const char *where = NULL;
    enum mb_rc rc = mb_ledger_open(c->arena, path, MB_READ, &ledger, err);

    if (rc)
        return rc;
    rc = mb_views_compare(ledger, c->arena, &where, err);
    mb_ledger_close(ledger);
    if (rc == MB_NO) {
        mb_find(c->findings, MB_F_VIEW_DIFFERS, (struct mb_str){ NULL, 0 }, -1,
                "The view %s is not what a replay of the entries gives.", where);
        rc = MB_OK;
    }
    return rc;
}

static void keep_log(struct checking *c, const char *path, const struct mb_log_check *check,
                     bool damaged)
{
    struct known_log *known = MB_NEW(c->arena, struct known_log);

    *known = (struct known_log){ path, damaged, c->logs };
    c->logs = known;
    mb_loose_notes_ring(c->notes, mb_log_fingerprint(check->log), check->ring);
}

static enum mb_rc check_ledger(struct checking *c, const char *path, struct mb_error *err)
{
    struct mb_log_check check = { .arena = c->arena,
                                  .trust = &c->trust,
                                  .findings = c->findings,
                                  .threads = c->verify->threads,
                                  .progress = c->verify->progress,
                                  .ctx = c->verify->ctx };
    mb_json *file = new_file(c, path, "ledger");
    struct mb_remeasured measured;
    size_t before = mb_findings_count(c->findings, MB_FAULT);
    bool damaged = false;
    enum mb_rc rc = mb_log_open(c->arena, path, MB_LOG_CHECK, &check.log, err);

    if (rc)
        return rc;
    rc = mb_log_verify(&check, err);
    if (!rc) {
        damaged = mb_findings_count(c->findings, MB_FAULT) > before;
        add_members(c, file, mb_log_check_about(c->arena, &check));
        note_day(c, file);
        keep_log(c, path, &check, damaged);
        if (!damaged)
            rc = mb_known_keys_add_log(c->keys, &check, err);
        if (!rc && !damaged && c->code)
            rc = mb_code_see_log(c->code, path, &check, err);
    }
    if (!rc && !damaged)
        rc = mb_remeasure_log(check.log, c->findings, &measured, err);
    if (!rc && !damaged)
        mb_check_measured(c->arena, file, &measured, &c->measured);
    mb_log_close(check.log);
    if (!rc && !damaged && c->policy)
        rc = check_witnessed(c, path, file, err);
    /* a damaged log has no meaning worth replaying */
    if (!rc && !c->verify->skip_views && !damaged)
        rc = check_views(c, path, err);
    return rc;
}

static enum mb_rc check_note(struct checking *c, const char *path, struct mb_str bytes,
                             struct mb_error *err)
{
    mb_json *file = new_file(c, path, "checkpoint");
    enum mb_rc rc = mb_loose_notes_add(c->notes, path, bytes, file, err);

    if (!rc)
        mb_json_add(c->files, file);
    return rc;
}

/* shown: what the person named, where it is a pack. */
static enum mb_rc check_bag(struct checking *c, const char *path, const char *shown,
                            struct mb_error *err)
{
    mb_json *file = new_file(c, shown ? shown : path, shown ? "bag, packed" : "bag");
    const char *inside;
    struct mb_str bytes;
    enum mb_rc rc =
        mb_bag_verify(c->arena, path, c->findings, file, &c->bag, &inside, &bytes, err);

    if (rc)
        return rc;
    mb_json_add(c->files, file);
    if (inside && shown)
        inside = mb_arena_printf(c->arena, "%s: %s", shown, mb_path_name(inside));
    if (inside)
        rc = check_certificate(c, inside, bytes, "certificate in the bag", err);
    c->bag = NULL;
    return rc;
}

static enum mb_rc check_packed(struct checking *c, const char *path, struct mb_error *err)
{
    const char *folder, *bag;
    enum mb_rc rc = mb_bag_unpack(c->arena, path, c->verify->scratch, &folder, &bag, err);

    if (rc)
        return rc;
    rc = check_bag(c, bag, path, err);
    mb_filetree_delete(folder);
    return rc;
}

static enum mb_rc check_path(struct checking *c, const char *path, struct mb_error *err)
{
    struct mb_str bytes;
    enum mb_rc rc;

    mb_findings_in_file(c->findings, c->verify->count > 1 ? path : NULL);
    if (is_folder(path) && mb_bag_is(path))
        return check_bag(c, path, NULL, err);
    if (is_folder(path))
        return check_ledger(c, path, err);
    if (mb_is_pack(path))
        return check_packed(c, path, err);
    rc = mb_file_read(c->arena, path, 4 * (size_t)MB_BUNDLE_MAX, &bytes, err);
    if (rc)
        return rc;
    if (mb_carrier_of(bytes) != MB_CARRIER_NONE)
        return check_carried(c, path, bytes, err);
    if (bytes.len == 0)
        return mb_fail(err, MB_REFUSED, "%s: the file is empty", path);
    return check_note(c, path, bytes, err);
}

/* Holds one ledger on disk against the files, and against those that were named behind it. */
static enum mb_rc compare_log(struct checking *c, const struct known_log *known,
                              struct mb_error *err)
{
    mb_log *log, *other;
    enum mb_rc rc = mb_log_open(c->arena, known->path, MB_LOG_CHECK, &log, err);

    if (rc)
        return rc;
    rc = mb_sightings_against(c->seen, known->path, log, c->findings, err);
    if (!rc && !known->damaged)
        rc = note_withdrawals_in(c, log, err);
    for (const struct known_log *k = known->next; !rc && k; k = k->next) {
        rc = mb_log_open(c->arena, k->path, MB_LOG_CHECK, &other, err);
        if (rc)
            break;
        rc = mb_sightings_of_two(k->path, other, known->path, log, c->findings,
                                 k->damaged ? NULL : err);
        mb_log_close(other);
        if (rc && k->damaged) /* what is wrong with it is said already */
            rc = MB_OK;
    }
    mb_log_close(log);
    return rc;
}

/* Ledgers on disk can answer for every place: hold what the other files say against them. */
static enum mb_rc check_against(struct checking *c, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    c->unsigned_notes =
        mb_loose_notes_judge(c->notes, c->verify->count > 1, c->seen, c->findings);
    mb_sightings_compare(c->seen, c->findings);
    for (const struct known_log *known = c->logs; !rc && known; known = known->next) {
        rc = compare_log(c, known, known->damaged ? NULL : err);
        if (rc && known->damaged)
            rc = MB_OK;
    }
    compare_withdrawals(c);
    for (const struct known_file *known = c->certificates; known; known = known->next) {
        mb_json *signed_by;

        mb_findings_in_file(c->findings, c->verify->count > 1 ? known->path : NULL);
        signed_by = mb_countersigned_judge(c->keys, known->check);
        if (signed_by)
            mb_json_put(c->arena, known->file, "countersigned", signed_by);
    }
    return rc;
}

static bool several_ledgers(const struct checking *c)
{
    for (const struct known_file *known = c->certificates; known; known = known->next)
        if (known->check->inside)
            return true;
    return false;
}

static mb_json *words(const struct checking *c, enum mb_rc rc)
{
    struct mb_check_said said = { .findings = c->findings,
                                  .count = c->verify->count,
                                  .as_of = c->as_of,
                                  .pdf = c->pdf,
                                  .page = c->page,
                                  .not_for_sale = c->not_for_sale,
                                  .several_ledgers = several_ledgers(c),
                                  .unsigned_notes = c->unsigned_notes,
                                  .measured = c->measured,
                                  .witnessed = c->witnessed,
                                  .policy = c->policy != NULL,
                                  .published = c->published,
                                  .withdrawn = c->withdrawn_now,
                                  .withdrawn_inside = c->withdrawn_inside };

    if (c->verify->count == 0)
        return mb_code_words(c->arena, rc);
    return mb_check_words(c->arena, &said, rc);
}

enum mb_rc mb_verify(mb_arena *arena, const struct mb_verify *verify, const mb_json **out,
                     struct mb_error *err)
{
    struct checking c = { .arena = arena, .verify = verify };
    mb_json *result = mb_json_object(arena);
    const mb_json *said;
    enum mb_rc rc = MB_OK;

    if (verify->count == 0 && !verify->code)
        return mb_fail(err, MB_REFUSED, "name a certificate, a sheet or a ledger to check");
    if (verify->trust_path)
        rc = mb_trust_read(arena, verify->trust_path, &c.trust, err);
    if (!rc && verify->policy_path)
        rc = mb_check_policy(arena, verify->policy_path, &c.policy, err);
    if (!rc && verify->code)
        rc = mb_code_begin(arena, verify->code, &c.code, err);
    c.witnessed = mb_json_array(arena);
    c.published = mb_json_array(arena);
    c.findings = mb_findings_new(arena, FINDINGS_EACH);
    c.seen = mb_sightings_new(arena);
    c.notes = mb_loose_notes_new(arena);
    c.files = mb_json_array(arena);
    c.issued = mb_json_array(arena);
    c.withdrawn = mb_json_array(arena);
    c.certificates_end = &c.certificates;
    c.keys = mb_known_keys_new(arena, &c.trust);
    for (size_t i = 0; !rc && i < verify->count; i++)
        rc = check_path(&c, verify->paths[i], err);
    if (!rc)
        rc = check_against(&c, err);
    if (rc)
        return rc;
    said = c.code ? mb_code_end(c.code, c.findings) : NULL;
    rc = mb_findings_rc(c.findings);
    if (rc == MB_OK && verify->count == 0)
        rc = MB_UNABLE;
    /* it was asked whether the certificate still stands */
    if (c.withdrawn_now || c.withdrawn_inside)
        rc = MB_NO;
    mb_json_put_text(arena, result, "verdict", mb_check_verdict(rc));
    if (c.as_of)
        mb_json_put_text(arena, result, "asOf", c.as_of);
    mb_json_put(arena, result, "words", words(&c, rc));
    mb_json_put(arena, result, "files", c.files);
    if (said)
        mb_json_put(arena, result, "code", mb_json_copy(arena, said));
    mb_json_put(arena, result, "findings", mb_findings_json(arena, c.findings));
    *out = result;
    return rc;
}
