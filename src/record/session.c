#include "session.h"

#include <string.h>

#include "door.h"
#include "fileio.h"
#include "fresh_files.h"
#include "kinds.h"
#include "settings.h"
#include "text.h"

enum mb_rc mb_start(struct mb_error *err)
{
    enum mb_rc rc = mb_crypto_start(err);

    return rc ? rc : mb_kinds_start(err);
}

void mb_stop(void)
{
    mb_kinds_stop();
}

enum mb_rc mb_ledger_open(mb_arena *arena, const char *folder, enum mb_access access,
                          mb_ledger **out, struct mb_error *err)
{
    mb_ledger *ledger = MB_NEW(arena, mb_ledger);
    enum mb_rc rc;

    if (access == MB_WRITE && mb_file_exists(mb_path_join(arena, folder, MB_BACKUP_MARK)))
        return mb_fail(err, MB_REFUSED,
                       "%s is a backup, and nothing is recorded in one: bring it back with"
                       " `markerbed restore` first",
                       folder);
    ledger->arena = arena;
    ledger->access = access;
    rc = mb_log_open(arena, folder, access == MB_WRITE ? MB_LOG_WRITE : MB_LOG_READ, &ledger->log,
                     err);
    if (!rc)
        *out = ledger;
    return rc;
}

static void lock(mb_ledger *ledger)
{
    ledger->person = mb_secret_free(ledger->person);
    for (size_t i = 0; i < MB_CHECKPOINT_SIGNERS; i++) {
        ledger->owned[i] = mb_secret_free(ledger->owned[i]);
        ledger->checkpoint[i] = NULL;
    }
    ledger->checkpoint_count = 0;
    ledger->recorder = (struct mb_str){ NULL, 0 };
}

mb_ledger *mb_ledger_close(mb_ledger *ledger)
{
    if (!ledger)
        return NULL;
    lock(ledger);
    ledger->door = mb_door_free(ledger->door);
    if (ledger->views && ledger->views != mb_log_db(ledger->log))
        mb_db_close(ledger->views);
    ledger->views = NULL;
    ledger->ring = NULL;
    ledger->key_entries = mb_stmt_free(ledger->key_entries);
    ledger->ring_arena = mb_arena_free(ledger->ring_arena);
    ledger->log = mb_log_close(ledger->log);
    return NULL;
}

bool mb_ledger_unlocked(const mb_ledger *ledger)
{
    return ledger->person != NULL;
}

void mb_ledger_confirm_clock(mb_ledger *ledger)
{
    mb_log_confirm_clock(ledger->log);
}

/* ---- keys ---- */

/* Everything that a ring learns from stands on `ledger` or on a key. */
#define KEY_ENTRIES \
    "SELECT seq FROM line WHERE sub = 'ledger'" \
    " UNION ALL SELECT seq FROM line WHERE sub >= 'key/' AND sub < 'key0'"

static enum mb_rc read_ring(mb_ledger *ledger, mb_arena *arena, mb_keyring **out,
                            struct mb_error *err)
{
    mb_keyring *ring = mb_keyring_new(arena);
    mb_findings *findings = mb_findings_new(arena, 1); /* judged by verify, not here */
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(mb_log_db(ledger->log), KEY_ENTRIES " ORDER BY 1", &stmt, err);

    while (!rc) {
        struct mb_entry entry;

        rc = mb_stmt_step(stmt, &row, err);
        if (rc || !row)
            break;
        rc = mb_log_entry(ledger->log, arena, mb_col_int(stmt, 0), &entry, err);
        if (!rc)
            mb_keyring_take(ring, &entry, findings);
    }
    mb_stmt_free(stmt);
    if (!rc)
        *out = ring;
    return rc;
}

static enum mb_rc key_entries(mb_ledger *ledger, int64_t *entries, int64_t *last,
                              struct mb_error *err)
{
    bool row;
    enum mb_rc rc = MB_OK;

    if (!ledger->key_entries)
        rc = mb_stmt_make(mb_log_db(ledger->log),
                          "SELECT count(*), max(seq) FROM (" KEY_ENTRIES ")",
                          &ledger->key_entries, err);
    if (!rc)
        rc = mb_stmt_step(ledger->key_entries, &row, err);
    if (!rc) {
        *entries = mb_col_int(ledger->key_entries, 0);
        *last = mb_col_int(ledger->key_entries, 1);
        mb_stmt_reset(ledger->key_entries);
    }
    return rc;
}

enum mb_rc mb_session_keys(mb_ledger *ledger, const mb_keyring **out, struct mb_error *err)
{
    int64_t entries = 0, last = 0;
    enum mb_rc rc = key_entries(ledger, &entries, &last, err);

    if (!rc && (!ledger->ring || entries != ledger->ring_entries || last != ledger->ring_last)) {
        mb_arena *arena = mb_arena_new();

        rc = read_ring(ledger, arena, &ledger->ring, err);
        mb_arena_free(ledger->ring_arena);
        ledger->ring_arena = arena;
        ledger->ring_entries = entries;
        ledger->ring_last = last;
        if (rc)
            ledger->ring = NULL;
    }
    if (!rc)
        *out = ledger->ring;
    return rc;
}

/* Opens one checkpoint key's box unless it is open already. Not having it is no failure: such a
 * person records without signing checkpoints. */
static bool hold(mb_ledger *ledger, size_t at, const struct mb_ring_checkpoint *wanted)
{
    mb_arena *scratch;

    if (ledger->owned[at]
        && mb_key_equal(mb_secret_key(ledger->owned[at]), &wanted->vkey.key))
        return true;
    ledger->owned[at] = mb_secret_free(ledger->owned[at]);
    scratch = mb_arena_new();
    if (mb_keybox_open(scratch, mb_log_folder(ledger->log), &wanted->vkey, ledger->person,
                       &ledger->owned[at], NULL))
        ledger->owned[at] = NULL;
    mb_arena_free(scratch);
    return ledger->owned[at] != NULL;
}

/* Opens the newest key, and each older one that a change behind the last signed checkpoint still
 * wants. Holding less than all of them is holding none. */
static size_t hold_all(mb_ledger *ledger, const mb_keyring *ring, int64_t signed_size)
{
    size_t count = mb_keyring_checkpoint_count(ring), held = 0;

    if (count == 0 || !hold(ledger, held++, mb_keyring_checkpoint_at(ring, count - 1)))
        return 0;
    for (size_t i = count - 1; i > 0; i--) {
        if (!mb_keyring_owes(ring, i, (uint64_t)signed_size, MB_NEVER))
            continue;
        if (held == MB_CHECKPOINT_SIGNERS
            || !hold(ledger, held++, mb_keyring_checkpoint_at(ring, i - 1)))
            return 0;
    }
    return held;
}

static enum mb_rc choose_checkpoint_keys(mb_ledger *ledger, const mb_keyring *ring,
                                         struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    struct mb_str note;
    int64_t signed_size = 0;
    enum mb_rc rc = mb_log_checkpoint(ledger->log, scratch, 0, &note, &signed_size, err);

    mb_arena_free(scratch);
    ledger->checkpoint_count = 0;
    if (rc && rc != MB_NO)
        return rc;
    ledger->checkpoint_count = hold_all(ledger, ring, signed_size);
    for (size_t i = 0; i < MB_CHECKPOINT_SIGNERS; i++)
        ledger->checkpoint[i] = i < ledger->checkpoint_count ? ledger->owned[i] : NULL;
    return MB_OK;
}

static enum mb_rc check_signer(const mb_ledger *ledger, const mb_keyring *ring,
                               const struct mb_ring_key **out, struct mb_error *err)
{
    const struct mb_ring_key *key = mb_keyring_find(ring, mb_str_of(ledger->signer.kid));

    if (!key)
        return mb_fail(err, MB_REFUSED,
                       "the key '%.*s' was never enrolled in this ledger; add it with"
                       " `markerbed key add`",
                       MB_STR_ARG(ledger->signer.label));
    if (key->retired != MB_NEVER)
        return mb_fail(err, MB_REFUSED,
                       "the key '%.*s' was retired by entry %lld and signs no more; use another",
                       MB_STR_ARG(ledger->signer.label), (long long)key->retired);
    *out = key;
    return MB_OK;
}

enum mb_rc mb_ledger_unlock(mb_ledger *ledger, const char *key, struct mb_str passphrase,
                            struct mb_error *err)
{
    const struct mb_ring_key *enrolled = NULL;
    const mb_keyring *ring = NULL;
    enum mb_rc rc;

    lock(ledger);
    rc = mb_keyfile_find(ledger->arena, mb_log_folder(ledger->log), key, &ledger->signer, err);
    if (!rc)
        rc = mb_session_keys(ledger, &ring, err);
    if (!rc)
        rc = check_signer(ledger, ring, &enrolled, err);
    if (!rc)
        rc = mb_keyfile_open(ledger->arena, &ledger->signer, passphrase, &ledger->person, err);
    if (!rc)
        rc = choose_checkpoint_keys(ledger, ring, err);
    if (!rc && enrolled->holder.at)
        ledger->recorder = mb_arena_str(ledger->arena, enrolled->holder);
    else if (!rc)
        rc = mb_settings_recorder(ledger, ledger->signer.kid, &ledger->recorder, err);
    if (rc)
        lock(ledger);
    return rc;
}

/* ---- groups ---- */

enum mb_rc mb_session_begin(mb_ledger *ledger, struct mb_error *err)
{
    const struct mb_ring_key *signer;
    const mb_keyring *ring;
    enum mb_rc rc;

    if (!ledger->person)
        return mb_fail(err, MB_REFUSED,
                       "no key is open to sign with: unlock one with its passphrase first");
    rc = mb_log_begin(ledger->log, err);
    if (rc)
        return rc;
    rc = mb_session_keys(ledger, &ring, err);
    if (!rc)
        rc = check_signer(ledger, ring, &signer, err);
    if (!rc)
        rc = mb_door_open(ledger, err);
    if (rc)
        mb_session_rollback(ledger);
    return rc;
}

enum mb_rc mb_session_commit(mb_ledger *ledger, struct mb_error *err)
{
    const mb_keyring *ring;
    enum mb_rc rc = mb_session_keys(ledger, &ring, err);

    if (!rc)
        rc = choose_checkpoint_keys(ledger, ring, err);
    if (rc) {
        mb_session_rollback(ledger);
        return rc;
    }
    mb_fresh_drop(ledger, false);
    rc = mb_log_commit(ledger->log, ledger->checkpoint, ledger->checkpoint_count, err);
    if (rc)
        mb_session_rollback(ledger);
    mb_fresh_settle(ledger);
    return rc;
}

void mb_session_rollback(mb_ledger *ledger)
{
    mb_fresh_drop(ledger, true);
    mb_log_rollback(ledger->log);
    ledger->ring = NULL; /* it may have learned from entries that are gone */
    mb_door_forget(ledger->door);
}

/* ---- about ---- */

enum mb_rc mb_ledger_about(mb_ledger *ledger, mb_arena *arena, const mb_json **out,
                           struct mb_error *err)
{
    const struct mb_hash *fingerprint = mb_log_fingerprint(ledger->log);
    mb_json *about = mb_json_object(arena);
    struct mb_entry founding;
    struct mb_str note;
    int64_t size = 0, signed_size = 0;
    enum mb_rc rc = mb_log_entry(ledger->log, arena, 0, &founding, err);

    if (!rc)
        rc = mb_log_size(ledger->log, &size, err);
    if (!rc)
        rc = mb_log_checkpoint(ledger->log, arena, 0, &note, &signed_size, err);
    if (rc && rc != MB_NO)
        return rc;
    mb_json_put(arena, about, "origin", mb_json_string_str(arena, mb_log_origin(ledger->log)));
    mb_json_put(arena, about, "name",
                mb_json_string_str(arena, mb_json_str(mb_entry_open(&founding, "name"))));
    mb_json_put(arena, about, "fingerprint",
                mb_json_string_str(arena, mb_b64u(arena, fingerprint->b, sizeof fingerprint->b)));
    mb_json_put(arena, about, "fingerprintGrouped",
                mb_json_string_str(
                    arena, mb_base32(arena, fingerprint->b, sizeof fingerprint->b, true)));
    mb_json_put_int(arena, about, "entries", size);
    mb_json_put_int(arena, about, "checkpointSize", signed_size);
    mb_json_put_text(arena, about, "folder", mb_log_folder(ledger->log));
    *out = about;
    return MB_OK;
}
