/* Founding a ledger: entry 0, the second enrolling key, the first signed checkpoint. */
#include <markerbed/ledger.h>

#include <dirent.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "fileio.h"
#include "keyfile.h"
#include "log.h"
#include "recorder.h"
#include "settings.h"
#include "text.h"

/* What founding brings into being; all of it goes again where founding fails. */
struct birth {
    mb_arena *arena;
    const struct mb_founding *founding;
    bool folder_was_there;
    mb_secret *founder, *second, *checkpoint;
    struct mb_vkey vkey;
    char founder_kid[MB_THUMBPRINT_LEN + 1], second_kid[MB_THUMBPRINT_LEN + 1];
    const char *holder; /* party/ID */
    mb_log *log;
};

static enum mb_rc check(struct birth *birth, struct mb_error *err)
{
    const struct mb_founding *f = birth->founding;
    struct mb_str name = mb_str_of(f->name), holder = mb_str_of(f->holder_id);

    if (!f->origin || !mb_origin_ok(mb_str_of(f->origin)))
        return mb_fail(err, MB_REFUSED,
                       "'%s' is no origin: 1-255 printable characters without space and '+', best"
                       " a name of your own like ledger.example.org",
                       f->origin ? f->origin : "");
    if (name.len == 0 || name.len > 200 || !mb_text_allowed(name, false))
        return mb_fail(err, MB_REFUSED, "the firm's name must be 1-200 characters of plain text");
    if (f->passphrase.len < MB_PASSPHRASE_MIN)
        return mb_fail(err, MB_REFUSED, "the passphrase is too short: at least %d characters",
                       MB_PASSPHRASE_MIN);
    if (holder.at && mb_str_starts(holder, "party/"))
        holder = (struct mb_str){ holder.at + 6, holder.len - 6 };
    if (holder.at && !mb_id_ok(holder))
        return mb_fail(err, MB_REFUSED,
                       "'%.*s' is no ID: 1-64 letters, digits, '.', '_' and '-', beginning with a"
                       " letter or digit, like P001",
                       MB_STR_ARG(holder));
    birth->holder = mb_arena_printf(birth->arena, "party/%.*s",
                                    MB_STR_ARG(holder.at ? holder : MB_STR("P001")));
    if (mb_file_exists(mb_path_join(birth->arena, f->folder, "ledger.db")))
        return mb_fail(err, MB_REFUSED, "%s holds a ledger already; choose another folder",
                       f->folder);
    if (mb_file_exists(mb_path_join(birth->arena, f->folder, "keys"))
        || mb_file_exists(mb_settings_path(birth->arena, f->folder)))
        return mb_fail(err, MB_REFUSED,
                       "%s holds what is left of a ledger (keys or settings); choose another"
                       " folder",
                       f->folder);
    birth->folder_was_there = mb_file_exists(f->folder);
    return MB_OK;
}

static void make_keys(struct birth *birth)
{
    birth->founder = mb_secret_new();
    birth->second = mb_secret_new();
    birth->checkpoint = mb_secret_new();
    mb_thumbprint(mb_secret_key(birth->founder), birth->founder_kid);
    mb_thumbprint(mb_secret_key(birth->second), birth->second_kid);
    birth->vkey = mb_vkey_make(mb_str_of(birth->founding->origin), MB_VKEY_LOG,
                               mb_secret_key(birth->checkpoint));
}

static enum mb_rc keep_keys(const struct birth *birth, struct mb_error *err)
{
    const struct mb_founding *f = birth->founding;
    const mb_secret *holders[] = { birth->founder, birth->second };
    enum mb_rc rc = mb_keyfile_write(birth->arena, f->folder, f->key_label ? f->key_label : "",
                                     birth->founder, f->passphrase, err);

    for (size_t i = 0; !rc && i < 2; i++)
        rc = mb_keybox_add(birth->arena, f->folder, &birth->vkey, birth->checkpoint,
                           mb_secret_key(holders[i]), err);
    if (!rc && f->holder_id)
        rc = mb_settings_found(birth->arena, f->folder, birth->founder_kid, birth->holder, err);
    return rc;
}

static enum mb_rc append_founding(const struct birth *birth, struct mb_error *err)
{
    const struct mb_founding *f = birth->founding;
    mb_arena *arena = birth->arena;
    struct mb_field fields[] = {
        mb_field_open("origin", mb_json_string(arena, f->origin)),
        mb_field_open("name", mb_json_string(arena, f->name)),
        mb_field_open("checkpointKey",
                      mb_json_string(arena, mb_vkey_write(arena, &birth->vkey))),
        mb_field_open("jwk", mb_jwk_make(arena, mb_secret_key(birth->founder))),
    };
    struct mb_append append = { .sub = "ledger", .kind = "founding", .fields = fields,
                                .count = sizeof fields / sizeof *fields, .origin = f->origin };

    return mb_log_append(birth->log, arena, &append, birth->founder, NULL, err);
}

static enum mb_rc append_second(const struct birth *birth, struct mb_error *err)
{
    mb_arena *arena = birth->arena;
    mb_json *may = mb_json_array(arena), *holder = mb_json_object(arena);
    struct mb_field fields[] = {
        mb_field_open("jwk", mb_jwk_make(arena, mb_secret_key(birth->second))),
        mb_field_open("may", may),
        mb_field_open("holder", holder),
    };
    struct mb_append append = { .sub = mb_arena_printf(arena, "key/%s", birth->second_kid),
                                .kind = "key-enrolment", .fields = fields,
                                .count = sizeof fields / sizeof *fields };

    mb_json_add_text(arena, may, "enrol");
    mb_json_put_text(arena, holder, "ref", birth->holder);
    return mb_log_append(birth->log, arena, &append, birth->founder, NULL, err);
}

static enum mb_rc write_log(struct birth *birth, struct mb_error *err)
{
    enum mb_rc rc = mb_log_create(birth->arena, birth->founding->folder, &birth->log, err);

    if (!rc)
        rc = mb_log_begin(birth->log, err);
    if (!rc)
        rc = append_founding(birth, err);
    if (!rc)
        rc = append_second(birth, err);
    if (!rc)
        rc = mb_log_commit(birth->log, (const mb_secret *const[]){ birth->checkpoint }, 1, err);
    return rc;
}

static void remove_all_in(mb_arena *arena, const char *folder)
{
    DIR *dir = opendir(folder);

    if (!dir)
        return;
    for (struct dirent *item; (item = readdir(dir));)
        unlink(mb_path_join(arena, folder, item->d_name));
    closedir(dir);
    rmdir(folder);
}

static void unmake(const struct birth *birth)
{
    static const char *const files[] = { "ledger.db", "ledger.db-wal", "ledger.db-shm",
                                         "settings.json" };
    const char *folder = birth->founding->folder;

    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        unlink(mb_path_join(birth->arena, folder, files[i]));
    remove_all_in(birth->arena, mb_path_join(birth->arena, folder, "keys"));
    if (!birth->folder_was_there)
        rmdir(folder);
}

static const mb_json *tell(const struct birth *birth)
{
    mb_arena *arena = birth->arena;
    const struct mb_hash *fingerprint = mb_log_fingerprint(birth->log);
    mb_json *out = mb_json_object(arena);

    mb_json_put_text(arena, out, "origin", birth->founding->origin);
    mb_json_put(arena, out, "fingerprint",
                mb_json_string_str(arena, mb_b64u(arena, fingerprint->b, sizeof fingerprint->b)));
    mb_json_put(arena, out, "fingerprintGrouped",
                mb_json_string_str(
                    arena, mb_base32(arena, fingerprint->b, sizeof fingerprint->b, true)));
    mb_json_put_text(arena, out, "founder", birth->founder_kid);
    mb_json_put_text(arena, out, "second", birth->second_kid);
    mb_json_put_text(arena, out, "envelope", mb_envelope_write(arena, birth->second));
    mb_json_put_int(arena, out, "entries", mb_log_next_seq(birth->log));
    return out;
}

enum mb_rc mb_ledger_found(mb_arena *arena, const struct mb_founding *founding,
                           const mb_json **out, struct mb_error *err)
{
    struct birth birth = { .arena = arena, .founding = founding };
    enum mb_rc rc = check(&birth, err);

    if (rc)
        return rc;
    rc = mb_folder_make(founding->folder, 0755, err);
    if (rc)
        return rc;
    make_keys(&birth);
    rc = keep_keys(&birth, err);
    if (!rc)
        rc = write_log(&birth, err);
    if (!rc)
        *out = tell(&birth);
    mb_log_close(birth.log);
    if (rc)
        unmake(&birth);
    mb_secret_free(birth.founder);
    mb_secret_free(birth.second);
    mb_secret_free(birth.checkpoint);
    return rc;
}
