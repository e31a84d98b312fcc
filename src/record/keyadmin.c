/* Keys of a living ledger: adding, bringing back, retiring, changing the checkpoint key,
 * listing. */
#include <markerbed/ledger.h>

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "door.h"
#include "fileio.h"
#include "kinds.h"
#include "recorder.h"
#include "session.h"
#include "settings.h"
#include "text.h"
#include "value.h"

enum { PREFIX_MIN = 6 }; /* of a thumbprint, as in keyfile.h */

/* ---- naming a key ---- */

static struct mb_str label_of(const struct mb_keyfile *files, size_t count, const char *kid)
{
    for (size_t i = 0; i < count; i++)
        if (strcmp(files[i].kid, kid) == 0)
            return files[i].label;
    return (struct mb_str){ NULL, 0 };
}

/* A folder without keys is no failure: the ring knows them all the same. */
static void key_files(mb_ledger *ledger, mb_arena *arena, struct mb_keyfile **files, size_t *count)
{
    if (mb_keyfile_list(arena, mb_log_folder(ledger->log), files, count, NULL)) {
        *files = NULL;
        *count = 0;
    }
}

static enum mb_rc find_key(mb_ledger *ledger, mb_arena *arena, const mb_keyring *ring,
                           const char *name, const struct mb_ring_key **out, struct mb_error *err)
{
    struct mb_keyfile *files;
    size_t count, hits = 0, all = mb_keyring_count(ring);
    const char **names = MB_ARRAY(arena, all, const char *);

    key_files(ledger, arena, &files, &count);
    for (size_t i = 0; i < all; i++) {
        const struct mb_ring_key *key = mb_keyring_at(ring, i);
        struct mb_str label = label_of(files, count, key->kid);

        names[i] = label.at ? mb_arena_copy(arena, label.at, label.len)
                            : mb_arena_printf(arena, "%.8s", key->kid);
        if ((label.at && mb_str_is(label, name))
            || (strlen(name) >= PREFIX_MIN && strncmp(key->kid, name, strlen(name)) == 0)) {
            *out = key;
            hits++;
        }
    }
    if (hits == 1)
        return MB_OK;
    return mb_fail(err, MB_REFUSED, hits ? "'%s' may be several keys; there are: %s"
                                         : "no key is called '%s'; there are: %s",
                   name, mb_kinds_join(arena, names, all, 12));
}

/* ---- adding ---- */

/* Kinds that a key's rights can name: those about keys go with "enrol". */
static bool is_right(const struct mb_kind *kind)
{
    return !mb_str_is(kind->name, "founding") && !mb_str_is(kind->name, "key-enrolment")
           && !mb_str_is(kind->name, "key-retirement")
           && !mb_str_is(kind->name, "checkpoint-key");
}

static enum mb_rc rights_of(mb_arena *arena, const struct mb_key_adding *adding, mb_json **out,
                            struct mb_error *err)
{
    size_t kinds = mb_kinds_count(), count = 0;
    const char **allowed = MB_ARRAY(arena, kinds + 2, const char *);
    mb_json *may = mb_json_array(arena);

    for (size_t i = 0; i < kinds; i++)
        if (is_right(mb_kinds_at(i)))
            allowed[count++] = mb_kinds_at(i)->name.at;
    allowed[count++] = "enrol";
    for (size_t n = 0; n < adding->may_count; n++) {
        const char *near, *right = adding->may[n];
        size_t i = 0;

        if (strcmp(right, "everything") == 0) {
            for (i = 0; i + 1 < count; i++)
                mb_json_add_text(arena, may, allowed[i]);
            continue;
        }
        while (i < count && strcmp(allowed[i], right) != 0)
            i++;
        near = i < count ? NULL : mb_nearest(mb_str_of(right), allowed, count);
        if (i == count)
            return mb_fail(err, MB_REFUSED,
                           "'%s' is nothing that a key may record%s%s%s; write everything, enrol,"
                           " or kinds: %s",
                           right, near ? " (did you mean " : "", near ? near : "",
                           near ? "?)" : "", mb_kinds_join(arena, allowed, count - 1, 12));
        mb_json_add_text(arena, may, right);
    }
    if (may->count == 0)
        return mb_fail(err, MB_REFUSED,
                       "say what the key may record: everything, enrol, or kinds, like"
                       " preparation");
    *out = may;
    return MB_OK;
}

static enum mb_rc check_label(mb_ledger *ledger, mb_arena *arena, const char *label,
                              struct mb_error *err)
{
    struct mb_keyfile *files;
    size_t count;

    key_files(ledger, arena, &files, &count);
    for (size_t i = 0; i < count; i++)
        if (mb_str_is(files[i].label, label))
            return mb_fail(err, MB_REFUSED, "a key called '%s' is here already; choose another"
                                            " name for this one", label);
    return MB_OK;
}

static enum mb_rc give_checkpoint_key(mb_ledger *ledger, mb_arena *arena,
                                      const struct mb_key *to, struct mb_error *err)
{
    struct mb_vkey vkey;

    if (!ledger->owned[0])
        return mb_fail(err, MB_REFUSED,
                       "this key was not given the checkpoint key and cannot pass it on");
    vkey = mb_vkey_make(mb_log_origin(ledger->log), MB_VKEY_LOG, mb_secret_key(ledger->owned[0]));
    return mb_keybox_add(arena, mb_log_folder(ledger->log), &vkey, ledger->owned[0], to, err);
}

static enum mb_rc enrol(mb_ledger *ledger, mb_arena *arena, const struct mb_key_adding *adding,
                        const mb_secret *secret, const char *kid, struct mb_entry *entry,
                        struct mb_error *err)
{
    struct mb_field fields[3];
    mb_json *may = NULL, *holder = mb_json_object(arena);
    struct mb_str subject;
    enum mb_rc rc = rights_of(arena, adding, &may, err);

    if (!rc)
        rc = mb_door_subject(ledger, arena, "party", mb_str_of(adding->holder), &subject, err);
    if (rc)
        return rc;
    mb_json_put(arena, holder, "ref", mb_json_string_str(arena, subject));
    fields[0] = mb_field_open("jwk", mb_jwk_make(arena, mb_secret_key(secret)));
    fields[1] = mb_field_open("may", may);
    fields[2] = mb_field_open("holder", holder);
    return mb_recorder_append(ledger, arena, "key-enrolment",
                              mb_arena_printf(arena, "key/%s", kid), fields, 3, entry, err);
}

static const mb_json *tell_key(mb_arena *arena, const char *kid, const char *label)
{
    mb_json *out = mb_json_object(arena);

    mb_json_put_text(arena, out, "kid", kid);
    mb_json_put_text(arena, out, "label", label);
    return out;
}

/* A key that the ring knows comes back from its envelope: nothing is recorded, so no key need be
 * open. */
static enum mb_rc bring_back(mb_ledger *ledger, mb_arena *arena,
                             const struct mb_key_adding *adding, const mb_json **out,
                             struct mb_error *err)
{
    const struct mb_ring_key *key = NULL;
    const mb_keyring *ring;
    struct mb_keyfile *files;
    char kid[MB_THUMBPRINT_LEN + 1];
    mb_secret *secret;
    size_t count;
    enum mb_rc rc = mb_envelope_read(adding->envelope, &secret, err);

    if (rc)
        return rc;
    mb_thumbprint(mb_secret_key(secret), kid);
    key_files(ledger, arena, &files, &count);
    rc = mb_session_keys(ledger, &ring, err);
    if (!rc)
        key = mb_keyring_find(ring, mb_str_of(kid));
    if (!rc && !key)
        rc = mb_fail(err, MB_REFUSED, "the key from this envelope was never enrolled in this"
                                      " ledger; is it the envelope of another?");
    else if (!rc && key->retired != MB_NEVER)
        rc = mb_fail(err, MB_REFUSED, "the key from this envelope was retired by entry %lld and"
                                      " signs no more", (long long)key->retired);
    else if (!rc && label_of(files, count, kid).at)
        rc = mb_fail(err, MB_REFUSED, "the key from this envelope is here already, called '%.*s'",
                     MB_STR_ARG(label_of(files, count, kid)));
    if (!rc)
        rc = mb_keyfile_write(arena, mb_log_folder(ledger->log), adding->label, secret,
                              adding->passphrase, err);
    mb_secret_free(secret);
    if (!rc)
        *out = tell_key(arena, kid, adding->label);
    return rc;
}

static enum mb_rc add_new(mb_ledger *ledger, mb_arena *arena, const struct mb_key_adding *adding,
                          const mb_secret *secret, const char *kid, const mb_json **out,
                          struct mb_error *err)
{
    const char *folder = mb_log_folder(ledger->log);
    bool written = false;
    struct mb_entry entry;
    mb_json *answer;
    enum mb_rc rc = mb_session_begin(ledger, err);

    if (rc)
        return rc;
    rc = enrol(ledger, arena, adding, secret, kid, &entry, err);
    if (!rc) {
        rc = mb_keyfile_write(arena, folder, adding->label, secret, adding->passphrase, err);
        written = rc == MB_OK;
    }
    if (!rc && adding->signs_checkpoints)
        rc = give_checkpoint_key(ledger, arena, mb_secret_key(secret), err);
    if (rc)
        mb_session_rollback(ledger);
    else
        rc = mb_session_commit(ledger, err);
    if (rc) {
        if (written)
            unlink(mb_arena_printf(arena, "%s/keys/%s.key", folder, kid));
        return rc;
    }
    answer = mb_json_object(arena);
    mb_json_put_text(arena, answer, "kid", kid);
    mb_json_put_text(arena, answer, "label", adding->label);
    mb_json_put_int(arena, answer, "entry", entry.seq);
    *out = answer;
    return MB_OK;
}

enum mb_rc mb_key_add(mb_ledger *ledger, mb_arena *arena, const struct mb_key_adding *adding,
                      const mb_json **out, struct mb_error *err)
{
    char kid[MB_THUMBPRINT_LEN + 1];
    mb_secret *secret;
    enum mb_rc rc = MB_OK;

    if (!adding->label || !adding->label[0])
        return mb_fail(err, MB_REFUSED, "say what the key is called, like teodor");
    rc = check_label(ledger, arena, adding->label, err);
    if (rc)
        return rc;
    if (adding->envelope.at)
        return bring_back(ledger, arena, adding, out, err);
    if (!adding->holder || !adding->holder[0])
        return mb_fail(err, MB_REFUSED, "say whose key it is, like party/P002");
    secret = mb_secret_new();
    mb_thumbprint(mb_secret_key(secret), kid);
    rc = add_new(ledger, arena, adding, secret, kid, out, err);
    mb_secret_free(secret);
    return rc;
}

/* ---- retiring ---- */

/* The thumbprint in a JWS: entries of one key begin with the same header, so each header is read
 * once. */
struct signer {
    struct mb_str header; /* as it stands in the JWS */
    char kid[MB_THUMBPRINT_LEN + 1];
};

static const char *signer_of(mb_arena *arena, struct signer *last, struct mb_str jws)
{
    const mb_json *header;
    struct mb_str head, rest, kid;
    size_t len;
    char *json;

    if (last->header.at && jws.len > last->header.len
        && memcmp(jws.at, last->header.at, last->header.len) == 0
        && jws.at[last->header.len] == '.')
        return last->kid;
    mb_str_cut(jws, '.', &head, &rest);
    json = mb_arena_get(arena, head.len + 3);
    if (!mb_b64u_read(head, json, &len)
        || mb_json_read(arena, (struct mb_str){ json, len }, MB_JSON_STRICT, &header, NULL))
        return NULL;
    kid = mb_json_str(mb_json_get(header, "kid"));
    if (kid.len != MB_THUMBPRINT_LEN)
        return NULL;
    last->header = mb_arena_str(arena, head);
    memcpy(last->kid, kid.at, MB_THUMBPRINT_LEN);
    last->kid[MB_THUMBPRINT_LEN] = '\0';
    return last->kid;
}

static enum mb_rc count_suspects(mb_ledger *ledger, mb_arena *arena, int64_t from, int64_t to,
                                 int64_t *count, struct mb_error *err)
{
    const mb_keyring *ring;
    struct signer last = { 0 };
    struct mb_str leaf, jws, tail;
    mb_log_scan *scan = NULL;
    int64_t seq;
    bool row = true;
    enum mb_rc rc = mb_session_keys(ledger, &ring, err);

    *count = 0;
    if (!rc)
        rc = mb_log_scan_open(ledger->log, from, to, &scan, err);
    while (!rc) {
        const char *kid;

        rc = mb_log_scan_next(scan, &row, &seq, &leaf, &jws, &tail, err);
        if (rc || !row)
            break;
        kid = signer_of(arena, &last, jws);
        if (kid && mb_keyring_suspects(ring, mb_str_of(kid), seq))
            ++*count;
    }
    mb_log_scan_close(scan);
    return rc;
}

static enum mb_rc check_retiring(const mb_keyring *ring, const struct mb_ring_key *key,
                                 int64_t suspect_from, int64_t next, struct mb_error *err)
{
    bool other = false;

    if (key->retired != MB_NEVER)
        return mb_fail(err, MB_REFUSED, "that key was retired already, by entry %lld",
                       (long long)key->retired);
    for (size_t i = 0; i < mb_keyring_count(ring); i++) {
        const struct mb_ring_key *one = mb_keyring_at(ring, i);

        other |= one != key && one->retired == MB_NEVER && (one->founding || one->enrols);
    }
    if ((key->founding || key->enrols) && !other)
        return mb_fail(err, MB_REFUSED,
                       "that is the last key that may enrol others; enrol another such key first,"
                       " or nobody could ever add one");
    if (suspect_from >= next)
        return mb_fail(err, MB_REFUSED, "there is no entry %lld to doubt; the last is %lld",
                       (long long)suspect_from, (long long)next - 1);
    return MB_OK;
}

/* The choice of a field of one of the key kinds, checked as the door would. */
static enum mb_rc check_why(mb_arena *arena, const char *kind, const char *name, const char *why,
                            mb_json **out, struct mb_error *err)
{
    const struct mb_kind *form = mb_kind_find(mb_str_of(kind));
    const struct mb_kind_field *field = form ? mb_kind_field(form, mb_str_of(name)) : NULL;
    mb_json *value;
    enum mb_rc rc;

    if (!field)
        return mb_fail(err, MB_UNABLE, "the form %s has no field %s", kind, name);
    rc = mb_value_choice(arena, field, mb_str_of(why ? why : ""), &value, err);
    if (rc) {
        mb_fail_where(err, "%s", name);
        return rc;
    }
    *out = value;
    return MB_OK;
}

static enum mb_rc retire(mb_ledger *ledger, mb_arena *arena, const char *name, const char *why,
                         int64_t suspect_from, const char **kid, struct mb_entry *entry,
                         struct mb_error *err)
{
    struct mb_field fields[2];
    const struct mb_ring_key *key = NULL;
    const mb_keyring *ring;
    mb_json *value;
    enum mb_rc rc = check_why(arena, "key-retirement", "why", why, &value, err);

    if (!rc)
        rc = mb_session_keys(ledger, &ring, err);
    if (!rc)
        rc = find_key(ledger, arena, ring, name ? name : "", &key, err);
    if (!rc)
        rc = check_retiring(ring, key, suspect_from, mb_log_next_seq(ledger->log), err);
    if (rc)
        return rc;
    *kid = mb_arena_text(arena, key->kid);
    fields[0] = mb_field_open("why", value);
    fields[1] = mb_field_open("suspectFrom", mb_json_integer(arena, suspect_from));
    return mb_recorder_append(ledger, arena, "key-retirement",
                              mb_arena_printf(arena, "key/%s", *kid), fields,
                              suspect_from < 0 ? 1 : 2, entry, err);
}

enum mb_rc mb_key_retire(mb_ledger *ledger, mb_arena *arena, const char *key, const char *why,
                         int64_t suspect_from, const mb_json **out, struct mb_error *err)
{
    int64_t suspects = 0;
    const char *kid = NULL;
    struct mb_entry entry;
    mb_json *answer;
    enum mb_rc rc = mb_session_begin(ledger, err);

    if (rc)
        return rc;
    rc = retire(ledger, arena, key, why, suspect_from, &kid, &entry, err);
    if (!rc && suspect_from >= 0)
        rc = count_suspects(ledger, arena, suspect_from, entry.seq, &suspects, err);
    if (rc)
        mb_session_rollback(ledger);
    else
        rc = mb_session_commit(ledger, err);
    if (rc)
        return rc;
    answer = mb_json_object(arena);
    mb_json_put_text(arena, answer, "kid", kid);
    mb_json_put_int(arena, answer, "entry", entry.seq);
    mb_json_put_int(arena, answer, "suspect", suspects);
    *out = answer;
    return MB_OK;
}

/* ---- the checkpoint key ---- */

/* The new key, boxed to everybody whose key is in force. Boxes of a change that then fails are left
 * lying: they open a key that no entry names. */
static enum mb_rc box_to_all(mb_ledger *ledger, mb_arena *arena, const mb_keyring *ring,
                             const struct mb_vkey *vkey, const mb_secret *checkpoint,
                             struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; !rc && i < mb_keyring_count(ring); i++) {
        const struct mb_ring_key *key = mb_keyring_at(ring, i);

        if (key->retired == MB_NEVER)
            rc = mb_keybox_add(arena, mb_log_folder(ledger->log), vkey, checkpoint, &key->key,
                               err);
    }
    return rc;
}

static enum mb_rc change_checkpoint(mb_ledger *ledger, mb_arena *arena, mb_json *why,
                                    const mb_secret *checkpoint, const struct mb_vkey *vkey,
                                    struct mb_entry *entry, struct mb_error *err)
{
    struct mb_field fields[] = {
        mb_field_open("checkpointKey", mb_json_string(arena, mb_vkey_write(arena, vkey))),
        mb_field_open("why", why),
    };
    bool lost = mb_json_text_is(why, "lost") || mb_json_text_is(why, "stolen");
    const mb_keyring *ring;
    enum mb_rc rc = mb_session_keys(ledger, &ring, err);

    if (!rc && !lost && ledger->checkpoint_count == 0)
        rc = mb_fail(err, MB_REFUSED,
                     "this key was not given the old checkpoint key, which must sign the change;"
                     " let somebody do it who was, or say why: lost or stolen");
    if (!rc)
        rc = mb_recorder_append(ledger, arena, "checkpoint-key", "ledger", fields,
                                sizeof fields / sizeof *fields, entry, err);
    return rc ? rc : box_to_all(ledger, arena, ring, vkey, checkpoint, err);
}

enum mb_rc mb_key_checkpoint(mb_ledger *ledger, mb_arena *arena, const char *why,
                             const mb_json **out, struct mb_error *err)
{
    mb_secret *checkpoint;
    struct mb_entry entry;
    struct mb_vkey vkey;
    mb_json *value, *answer;
    enum mb_rc rc = check_why(arena, "checkpoint-key", "why", why, &value, err);

    if (!rc)
        rc = mb_session_begin(ledger, err);
    if (rc)
        return rc;
    checkpoint = mb_secret_new();
    vkey = mb_vkey_make(mb_log_origin(ledger->log), MB_VKEY_LOG, mb_secret_key(checkpoint));
    rc = change_checkpoint(ledger, arena, value, checkpoint, &vkey, &entry, err);
    if (rc)
        mb_session_rollback(ledger);
    else
        rc = mb_session_commit(ledger, err);
    mb_secret_free(checkpoint);
    if (rc)
        return rc;
    answer = mb_json_object(arena);
    mb_json_put_text(arena, answer, "checkpointKey", mb_vkey_write(arena, &vkey));
    mb_json_put_int(arena, answer, "entry", entry.seq);
    *out = answer;
    return MB_OK;
}

/* ---- listing ---- */

static mb_json *list_key(mb_ledger *ledger, mb_arena *arena, const struct mb_ring_key *key,
                         struct mb_str label, struct mb_error *err)
{
    mb_json *row = mb_json_object(arena), *may = mb_json_array(arena);
    struct mb_str holder = key->holder;

    mb_json_put_text(arena, row, "kid", key->kid);
    if (label.at)
        mb_json_put(arena, row, "label", mb_json_string_str(arena, label));
    if (!holder.at && mb_settings_recorder(ledger, key->kid, &holder, err))
        return NULL;
    if (holder.at)
        mb_json_put(arena, row, "holder", mb_json_string_str(arena, holder));
    if (key->founding) {
        mb_json_add_text(arena, may, "everything");
        mb_json_add_text(arena, may, "enrol");
    }
    mb_json_put(arena, row, "may", key->may ? mb_json_copy(arena, key->may) : may);
    mb_json_put_int(arena, row, "enrolled", key->enrolled);
    if (key->retired != MB_NEVER)
        mb_json_put_int(arena, row, "retired", key->retired);
    if (key->suspect_from != MB_NEVER)
        mb_json_put_int(arena, row, "suspectFrom", key->suspect_from);
    mb_json_put_bool(arena, row, "here", label.at != NULL);
    return row;
}

enum mb_rc mb_key_list(mb_ledger *ledger, mb_arena *arena, const mb_json **out,
                       struct mb_error *err)
{
    mb_json *list = mb_json_array(arena);
    const mb_keyring *ring;
    struct mb_keyfile *files;
    size_t count;
    enum mb_rc rc = mb_session_keys(ledger, &ring, err);

    if (rc)
        return rc;
    key_files(ledger, arena, &files, &count);
    for (size_t i = 0; i < mb_keyring_count(ring); i++) {
        const struct mb_ring_key *key = mb_keyring_at(ring, i);
        mb_json *row = list_key(ledger, arena, key, label_of(files, count, key->kid), err);

        if (!row)
            return err ? err->code : MB_REFUSED;
        mb_json_add(list, row);
    }
    *out = list;
    return MB_OK;
}
