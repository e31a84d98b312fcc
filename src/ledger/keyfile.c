#include "keyfile.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>

#include "fileio.h"
#include "sha256.h"
#include "text.h"

#define KEY_FORMAT "markerbed-key/1"
#define BOX_FORMAT "markerbed-checkpoint-key/1"
#define FILE_MAX 65536
enum { SEED = 32, CHECK = 5 };

static void put_bytes(mb_arena *arena, mb_json *object, const char *name, const void *bytes,
                      size_t len)
{
    mb_json_put(arena, object, name, mb_json_string_str(arena, mb_b64u(arena, bytes, len)));
}

static bool get_bytes(const mb_json *object, const char *name, void *out, size_t len)
{
    return mb_b64u_read_exact(mb_json_str(mb_json_get(object, name)), out, len);
}

/* What the seal authenticates besides the seed: whose it is. */
static struct mb_str about(mb_arena *arena, const char *kid)
{
    return mb_str_of(mb_arena_printf(arena, KEY_FORMAT " %s", kid));
}

enum mb_rc mb_keyfile_write(mb_arena *arena, const char *ledger, const char *label,
                            const mb_secret *secret, struct mb_str passphrase,
                            struct mb_error *err)
{
    struct mb_seal_cost cost = mb_seal_cost_default();
    uint8_t salt[MB_SEAL_SALT], seed[SEED], sealed[SEED + MB_SEAL_EXTRA];
    char kid[MB_THUMBPRINT_LEN + 1];
    mb_json *file = mb_json_object(arena);
    const char *folder = mb_path_join(arena, ledger, "keys");
    enum mb_rc rc;

    if (passphrase.len < MB_PASSPHRASE_MIN)
        return mb_fail(err, MB_REFUSED, "the passphrase is too short: at least %d characters",
                       MB_PASSPHRASE_MIN);
    if (!label[0] || strlen(label) > 64 || !mb_text_allowed(mb_str_of(label), false))
        return mb_fail(err, MB_REFUSED, "the key's label must be 1-64 characters of plain text");
    mb_thumbprint(mb_secret_key(secret), kid);
    mb_random(salt, sizeof salt);
    mb_secret_seed(secret, seed);
    rc = mb_seal(passphrase, salt, cost, about(arena, kid), seed, sizeof seed, sealed, err);
    mb_wipe(seed, sizeof seed);
    if (rc)
        return rc;
    mb_json_put_text(arena, file, "format", KEY_FORMAT);
    mb_json_put_text(arena, file, "label", label);
    mb_json_put(arena, file, "jwk", mb_jwk_make(arena, mb_secret_key(secret)));
    mb_json_put_int(arena, file, "argon2idPasses", (int64_t)cost.operations);
    mb_json_put_int(arena, file, "argon2idBytes", (int64_t)cost.memory_bytes);
    put_bytes(arena, file, "salt", salt, sizeof salt);
    put_bytes(arena, file, "sealed", sealed, sizeof sealed);
    rc = mb_folder_make(folder, 0700, err);
    if (rc)
        return rc;
    return mb_file_create(mb_path_join(arena, folder, mb_arena_printf(arena, "%s.key", kid)),
                          mb_json_write_pretty(arena, file), 0600, err);
}

static enum mb_rc read_file(mb_arena *arena, const char *path, const char *format,
                            const mb_json **out, struct mb_error *err)
{
    struct mb_str bytes;
    enum mb_rc rc = mb_file_read(arena, path, FILE_MAX, &bytes, err);

    if (!rc)
        rc = mb_json_read(arena, bytes, MB_JSON_STRICT, out, err);
    if (!rc && !mb_json_text_is(mb_json_get(*out, "format"), format))
        rc = mb_fail(err, MB_REFUSED, "it is no key file of this program");
    if (rc)
        mb_fail_where(err, "%s", path);
    return rc;
}

static int by_label(const void *a, const void *b)
{
    return mb_str_compare(((const struct mb_keyfile *)a)->label,
                          ((const struct mb_keyfile *)b)->label);
}

static bool ends_with(const char *name, const char *end)
{
    size_t n = strlen(name), e = strlen(end);

    return n > e && strcmp(name + n - e, end) == 0;
}

static enum mb_rc read_key(mb_arena *arena, const char *path, struct mb_keyfile *out,
                           struct mb_error *err)
{
    const mb_json *json;
    enum mb_rc rc = read_file(arena, path, KEY_FORMAT, &json, err);

    if (rc)
        return rc;
    *out = (struct mb_keyfile){ .label = mb_json_str(mb_json_get(json, "label")), .path = path };
    if (!mb_jwk_read(mb_json_get(json, "jwk"), &out->key))
        return mb_fail(err, MB_REFUSED, "%s: its public key is not readable", path);
    mb_thumbprint(&out->key, out->kid);
    return MB_OK;
}

enum mb_rc mb_keyfile_list(mb_arena *arena, const char *ledger, struct mb_keyfile **out,
                           size_t *count, struct mb_error *err)
{
    const char *folder = mb_path_join(arena, ledger, "keys");
    struct mb_keyfile *files = MB_ARRAY(arena, 256, struct mb_keyfile);
    size_t n = 0;
    DIR *dir = opendir(folder);
    enum mb_rc rc = MB_OK;

    if (!dir)
        return mb_fail(err, MB_REFUSED,
                       "%s: there is no folder of keys; this copy can be read and checked, and"
                       " written to only where its keys are",
                       folder);
    for (struct dirent *item; !rc && n < 256 && (item = readdir(dir));)
        if (ends_with(item->d_name, ".key"))
            rc = read_key(arena, mb_path_join(arena, folder, item->d_name), &files[n++], err);
    closedir(dir);
    if (rc)
        return rc;
    qsort(files, n, sizeof *files, by_label);
    *out = files;
    *count = n;
    return MB_OK;
}

enum mb_rc mb_keyfile_find(mb_arena *arena, const char *ledger, const char *name,
                           struct mb_keyfile *out, struct mb_error *err)
{
    struct mb_keyfile *files, *found = NULL;
    char *labels = mb_arena_text(arena, "");
    size_t count, hits = 0;
    enum mb_rc rc = mb_keyfile_list(arena, ledger, &files, &count, err);

    if (rc)
        return rc;
    for (size_t i = 0; i < count; i++) {
        bool hit = !name || mb_str_is(files[i].label, name)
                   || (strlen(name) >= 6 && strncmp(files[i].kid, name, strlen(name)) == 0);

        labels = mb_arena_printf(arena, "%s%s%.*s", labels, i ? ", " : "",
                                 MB_STR_ARG(files[i].label));
        if (hit) {
            found = &files[i];
            hits++;
        }
    }
    if (count == 0)
        return mb_fail(err, MB_REFUSED, "this copy of the ledger holds no key to sign with");
    if (hits == 0)
        return mb_fail(err, MB_REFUSED, "no key is called '%s'; there are: %s", name, labels);
    if (hits > 1)
        return mb_fail(err, MB_REFUSED, "say with --key which key signs; there are: %s", labels);
    *out = *found;
    return MB_OK;
}

enum mb_rc mb_keyfile_open(mb_arena *arena, const struct mb_keyfile *file,
                           struct mb_str passphrase, mb_secret **out, struct mb_error *err)
{
    uint8_t salt[MB_SEAL_SALT], seed[SEED], sealed[SEED + MB_SEAL_EXTRA];
    struct mb_seal_cost cost;
    const mb_json *json;
    mb_secret *secret;
    enum mb_rc rc = read_file(arena, file->path, KEY_FORMAT, &json, err);

    if (rc)
        return rc;
    if (!get_bytes(json, "salt", salt, sizeof salt)
        || !get_bytes(json, "sealed", sealed, sizeof sealed))
        return mb_fail(err, MB_REFUSED, "%s: the sealed key is damaged", file->path);
    cost.operations = (uint64_t)mb_json_int(mb_json_get(json, "argon2idPasses"), 0);
    cost.memory_bytes = (uint64_t)mb_json_int(mb_json_get(json, "argon2idBytes"), 0);
    rc = mb_unseal(passphrase, salt, cost, about(arena, file->kid), sealed, sizeof sealed, seed,
                   err);
    if (rc) {
        mb_fail_where(err, "key '%.*s'", MB_STR_ARG(file->label));
        return rc;
    }
    secret = mb_secret_from_seed(seed);
    mb_wipe(seed, sizeof seed);
    if (!mb_key_equal(mb_secret_key(secret), &file->key)) {
        mb_secret_free(secret);
        return mb_fail(err, MB_REFUSED, "%s: the sealed key is not the one it names", file->path);
    }
    *out = secret;
    return MB_OK;
}

static const char *box_path(mb_arena *arena, const char *ledger, const struct mb_vkey *vkey)
{
    return mb_path_join(arena, mb_path_join(arena, ledger, "keys"),
                        mb_arena_printf(arena, "checkpoint-%08x.box", vkey->id));
}

enum mb_rc mb_keybox_add(mb_arena *arena, const char *ledger, const struct mb_vkey *vkey,
                         const mb_secret *checkpoint, const struct mb_key *to,
                         struct mb_error *err)
{
    const char *path = box_path(arena, ledger, vkey);
    mb_json *file = mb_json_object(arena), *boxes = mb_json_object(arena);
    uint8_t seed[SEED], box[SEED + MB_BOX_EXTRA];
    char kid[MB_THUMBPRINT_LEN + 1];
    const mb_json *old;
    enum mb_rc rc;
    bool ok;

    mb_thumbprint(to, kid);
    if (mb_file_exists(path)) {
        rc = read_file(arena, path, BOX_FORMAT, &old, err);
        if (rc)
            return rc;
        MB_JSON_EACH(one, mb_json_get(old, "boxes"))
        {
            if (!mb_str_is(one->name, kid))
                mb_json_put_str(arena, boxes, one->name, mb_json_copy(arena, one));
        }
    }
    mb_secret_seed(checkpoint, seed);
    ok = mb_box_to(to, seed, sizeof seed, box);
    mb_wipe(seed, sizeof seed);
    if (!ok)
        return mb_fail(err, MB_REFUSED, "the key %s cannot be given the checkpoint key", kid);
    put_bytes(arena, boxes, kid, box, sizeof box);
    mb_json_put_text(arena, file, "format", BOX_FORMAT);
    mb_json_put_text(arena, file, "vkey", mb_vkey_write(arena, vkey));
    mb_json_put(arena, file, "boxes", boxes);
    rc = mb_folder_make(mb_path_join(arena, ledger, "keys"), 0700, err);
    if (rc)
        return rc;
    return mb_file_write(path, mb_json_write_pretty(arena, file), 0600, err);
}

enum mb_rc mb_keybox_open(mb_arena *arena, const char *ledger, const struct mb_vkey *vkey,
                          const mb_secret *person, mb_secret **out, struct mb_error *err)
{
    const char *path = box_path(arena, ledger, vkey);
    uint8_t seed[SEED], box[SEED + MB_BOX_EXTRA];
    char kid[MB_THUMBPRINT_LEN + 1];
    const mb_json *file;
    mb_secret *secret;
    enum mb_rc rc;

    if (!mb_file_exists(path))
        return mb_fail(err, MB_NO, "this copy of the ledger does not hold the checkpoint key");
    rc = read_file(arena, path, BOX_FORMAT, &file, err);
    if (rc)
        return rc;
    mb_thumbprint(mb_secret_key(person), kid);
    if (!get_bytes(mb_json_get(file, "boxes"), kid, box, sizeof box)
        || !mb_box_open(person, box, sizeof box, seed))
        return mb_fail(err, MB_NO, "this key was not given the checkpoint key");
    secret = mb_secret_from_seed(seed);
    mb_wipe(seed, sizeof seed);
    if (!mb_key_equal(mb_secret_key(secret), &vkey->key)) {
        mb_secret_free(secret);
        return mb_fail(err, MB_REFUSED, "%s: it holds another key than the one in force", path);
    }
    *out = secret;
    return MB_OK;
}

static void check_of(const uint8_t seed[SEED], uint8_t check[CHECK])
{
    struct mb_hash hash = mb_sha256_tagged('e', seed, SEED, NULL, 0);

    memcpy(check, hash.b, CHECK);
}

char *mb_envelope_write(mb_arena *arena, const mb_secret *secret)
{
    uint8_t bytes[SEED + CHECK];
    struct mb_str text;

    mb_secret_seed(secret, bytes);
    check_of(bytes, bytes + SEED);
    text = mb_base32(arena, bytes, sizeof bytes, true);
    mb_wipe(bytes, sizeof bytes);
    return mb_arena_copy(arena, text.at, text.len);
}

enum mb_rc mb_envelope_read(struct mb_str text, mb_secret **out, struct mb_error *err)
{
    uint8_t bytes[SEED + CHECK], check[CHECK];
    bool ok = mb_base32_read_exact(text, bytes, sizeof bytes);

    if (ok) {
        check_of(bytes, check);
        ok = memcmp(check, bytes + SEED, CHECK) == 0;
    }
    if (ok)
        *out = mb_secret_from_seed(bytes);
    mb_wipe(bytes, sizeof bytes);
    return ok ? MB_OK
              : mb_fail(err, MB_REFUSED,
                        "that is not the key from the envelope: a character is wrong or missing");
}
