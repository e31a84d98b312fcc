/* Giving a countersignature: what is to be signed, and by which key. */
#include <markerbed/countersigning.h>
#include <markerbed/verify.h>

#include <string.h>

#include "bundle.h"
#include "carrier.h"
#include "countersign.h"
#include "date.h"
#include "fileio.h"
#include "handover_entry.h"
#include "kinds.h"
#include "session.h"
#include "text.h"

struct signing {
    mb_ledger *ledger; /* the signer's, NULL with a key of their own */
    mb_arena *arena;
    const struct mb_countersign_wish *wish;
    struct mb_entry entry;
    mb_json *result, *fields;
    const mb_secret *key;
    mb_secret *own; /* to be freed */
};

/* ---- what is signed ---- */

static enum mb_rc none_found(const struct signing *s, struct mb_error *err)
{
    const struct mb_countersign_wish *wish = s->wish;

    return wish->entry ? mb_fail(err, MB_REFUSED, "%s: there is no entry %s of a specimen in it",
                                 wish->path, wish->entry)
                       : mb_fail(err, MB_REFUSED,
                                 "%s: no handover and no change of owner is in it; --entry names"
                                 " another entry",
                                 wish->path);
}

static bool is_wanted(const struct signing *s, const struct mb_entry *entry)
{
    return mb_is_specimen(entry->sub)
           && (s->wish->entry ? mb_entry_is_named(entry, s->wish->entry) : mb_is_handover(entry));
}

static enum mb_rc from_request(struct signing *s, const mb_json *json, struct mb_error *err)
{
    struct mb_str text = mb_json_str(mb_json_get(json, "entry"));
    struct mb_str origin = mb_json_str(mb_json_get(json, "origin"));

    if (json->count != 3 || !text.at || !origin.at
        || mb_entry_read_sd(s->arena, text, &s->entry, err)
        || !mb_str_equal(s->entry.iss, origin)) {
        mb_fail(err, MB_REFUSED, "it is not format, origin and entry as they should be");
        mb_fail_where(err, "%s", s->wish->path);
        return MB_REFUSED;
    }
    for (size_t i = 0; i < s->entry.disclosure_count; i++)
        if (s->entry.disclosures[i].slot < 0)
            return mb_fail(err, MB_REFUSED, "%s: it shows a field that the entry does not hold",
                           s->wish->path);
    return is_wanted(s, &s->entry) ? MB_OK : none_found(s, err);
}

/* What does not hold is not signed for; an unknown ledger's may be, and that is said. */
static enum mb_rc check_certificate(struct signing *s, struct mb_error *err)
{
    struct mb_verify verify = { .paths = &s->wish->path,
                                .count = 1,
                                .trust_path = s->wish->trust_path,
                                .skip_views = true };
    const mb_json *told = NULL;
    enum mb_rc rc = mb_verify(s->arena, &verify, &told, err);

    if (rc == MB_NO)
        return mb_fail(err, MB_NO, "%s does not hold: `markerbed verify` says why, and nothing was"
                       " signed", s->wish->path);
    if (!told)
        return rc;
    mb_json_put_bool(s->arena, s->result, "trusted", rc == MB_OK);
    return MB_OK;
}

static enum mb_rc from_certificate(struct signing *s, struct mb_str bytes, struct mb_error *err)
{
    struct mb_bundle bundle;
    struct mb_str text;
    const mb_json *json;
    enum mb_rc rc = check_certificate(s, err);

    if (!rc)
        rc = mb_carrier_open(s->arena, s->wish->path, bytes, &text, err);
    if (!rc)
        rc = mb_json_read(s->arena, text, MB_JSON_STRICT, &json, err);
    if (!rc)
        rc = mb_bundle_read(s->arena, json, &bundle, err);
    while (!rc && bundle.count-- > 0) {
        rc = mb_entry_read_sd(s->arena, bundle.entries[bundle.count].sd_jwt, &s->entry, err);
        if (!rc && is_wanted(s, &s->entry))
            return MB_OK;
    }
    return rc ? rc : none_found(s, err);
}

static enum mb_rc find(struct signing *s, struct mb_error *err)
{
    struct mb_str bytes;
    const mb_json *json;
    enum mb_rc rc = mb_file_read(s->arena, s->wish->path, 4 * (size_t)MB_BUNDLE_MAX, &bytes, err);

    if (rc)
        return rc;
    if (mb_carrier_of(bytes) == MB_CARRIER_FILE
        && !mb_json_read(s->arena, bytes, MB_JSON_STRICT, &json, NULL)
        && mb_json_text_is(mb_json_get(json, "format"), MB_HANDOVER_FORMAT))
        return from_request(s, json, err);
    return from_certificate(s, bytes, err);
}

static void take_field(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in)
{
    const struct signing *s = ctx;

    (void)in;
    mb_json_put_str(s->arena, s->fields, name, mb_json_copy(s->arena, value));
}

static void describe(struct signing *s)
{
    mb_json *out = s->result;

    mb_json_put(s->arena, out, "origin", mb_json_string_str(s->arena, s->entry.iss));
    mb_json_put(s->arena, out, "subject", mb_json_string_str(s->arena, s->entry.sub));
    mb_json_put_int(s->arena, out, "seq", s->entry.seq);
    mb_json_put(s->arena, out, "kind", mb_json_string_str(s->arena, s->entry.kind));
    mb_json_put(s->arena, out, "line",
                mb_json_string_str(s->arena, mb_handover_line(s->arena, &s->entry)));
    s->fields = mb_json_put(s->arena, out, "fields", mb_json_object(s->arena));
    mb_entry_fields(&s->entry, take_field, s);
}

/* ---- by which key ---- */

bool mb_countersign_has_key(mb_arena *arena, const char *folder)
{
    struct mb_keyfile *files;
    size_t count = 0;

    return !mb_keyfile_list(arena, folder, &files, &count, NULL) && count > 0;
}

static enum mb_rc open_own(struct signing *s, struct mb_error *err)
{
    const struct mb_countersign_wish *wish = s->wish;
    struct mb_keyfile file;
    enum mb_rc rc;

    if (!mb_countersign_has_key(s->arena, wish->own_folder)) {
        rc = mb_folder_make(wish->own_folder, 0700, err);
        if (!rc)
            rc = mb_folder_make(mb_path_join(s->arena, wish->own_folder, "keys"), 0700, err);
        if (rc)
            return rc;
        s->own = mb_secret_new();
        mb_json_put_bool(s->arena, s->result, "made", true);
        return mb_keyfile_write(s->arena, wish->own_folder, "own", s->own, wish->own_passphrase,
                                err);
    }
    rc = mb_keyfile_find(s->arena, wish->own_folder, NULL, &file, err);
    if (!rc)
        rc = mb_keyfile_open(s->arena, &file, wish->own_passphrase, &s->own, err);
    return rc == MB_NO ? mb_fail(err, MB_REFUSED, "that is not the passphrase of the key in %s",
                                 wish->own_folder)
                       : rc;
}

static enum mb_rc choose_key(struct signing *s, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    if (s->wish->own_folder) {
        rc = open_own(s, err);
        s->key = s->own;
    } else if (!s->ledger || !s->ledger->person) {
        rc = mb_fail(err, MB_REFUSED, "no key is open to sign with");
    } else if (mb_str_equal(mb_log_origin(s->ledger->log), s->entry.iss)) {
        rc = mb_fail(err, MB_REFUSED,
                     "the entry is of this very ledger (%.*s), and its own key is not the other"
                     " side's",
                     MB_STR_ARG(s->entry.iss));
    } else {
        s->key = s->ledger->person;
    }
    return rc;
}

static enum mb_rc check_role(const char *role, struct mb_error *err)
{
    const struct mb_kind *kind = mb_kind_find(MB_STR("countersign"));
    const struct mb_kind_field *field = kind ? mb_kind_field(kind, MB_STR("role")) : NULL;
    const struct mb_choices *choices = field ? field->choices : NULL;
    mb_arena *scratch;

    if (choices && mb_choice_find(choices, mb_str_of(role)) >= 0)
        return MB_OK;
    scratch = mb_arena_new();
    mb_fail(err, MB_REFUSED, "'%s' is no role; choose one of: %s", role,
            choices ? mb_kinds_join(scratch, choices->ids.at, choices->ids.count,
                                    choices->ids.count)
                    : "");
    mb_arena_free(scratch);
    return MB_REFUSED;
}

static void sign(struct signing *s, struct mb_str role)
{
    struct mb_hash *digests = MB_ARRAY(s->arena, s->entry.disclosure_count + 1, struct mb_hash);
    struct mb_countersign what = { .over = s->entry.leaf, .role = role, .iat = mb_now() };
    struct mb_str shown;
    char kid[MB_THUMBPRINT_LEN + 1];

    for (size_t i = 0; i < s->entry.disclosure_count; i++)
        digests[i] = s->entry.disclosures[i].digest;
    shown = mb_digest_of_set(s->arena, digests, s->entry.disclosure_count);
    if (!mb_b64u_read_exact(shown, what.shown.b, sizeof what.shown.b))
        return;
    mb_thumbprint(mb_secret_key(s->key), kid);
    what.iss = s->wish->own_folder ? mb_str_of(mb_arena_printf(s->arena, "key/%s", kid))
                                   : mb_log_origin(s->ledger->log);
    mb_json_put(s->arena, s->result, "jws",
                mb_json_string_str(s->arena, mb_countersign_write(s->arena, &what, s->key)));
    mb_json_put_text(s->arena, s->result, "kid", kid);
    mb_json_put(s->arena, s->result, "by", mb_json_string_str(s->arena, what.iss));
}

enum mb_rc mb_countersign_sign(mb_ledger *ledger, mb_arena *arena,
                               const struct mb_countersign_wish *wish, const mb_json **out,
                               struct mb_error *err)
{
    struct signing s = { .ledger = ledger, .arena = arena, .wish = wish };
    const char *role = wish->role ? wish->role : "receiver";
    enum mb_rc rc = check_role(role, err);

    s.result = mb_json_object(arena);
    if (!rc)
        rc = find(&s, err);
    if (rc)
        return rc;
    describe(&s);
    mb_json_put_text(arena, s.result, "role", role);
    if (!wish->look) {
        rc = choose_key(&s, err);
        if (!rc)
            sign(&s, mb_str_of(role));
        mb_secret_free(s.own);
    }
    if (!rc)
        *out = s.result;
    return rc;
}
