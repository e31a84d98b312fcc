/* Backups and bringing them back: what markerbed/backup.h promises. */
#include <markerbed/backup.h>

#include <markerbed/verify.h>

#include "backup_files.h"
#include "date.h"
#include "fileio.h"
#include "session.h"
#include "text.h"
#include "views.h"

#define FORMAT "markerbed-backup/1"
enum { ABOUT_MOST = 1 << 16 };

/* ---- what it says of itself ---- */

/* Of the copy, not of the ledger: that one may have grown meanwhile. */
static enum mb_rc about_copy(mb_arena *arena, const char *folder, mb_json *about,
                             struct mb_error *err)
{
    mb_ledger *ledger = NULL;
    const mb_json *found = NULL;
    enum mb_rc rc = mb_ledger_open(arena, folder, MB_READ, &ledger, err);

    if (!rc)
        rc = mb_ledger_about(ledger, arena, &found, err);
    MB_JSON_EACH(member, found)
    {
        if (!mb_str_is(member->name, "folder"))
            mb_json_put_str(arena, about, member->name, mb_json_copy(arena, member));
    }
    mb_ledger_close(ledger);
    return rc;
}

static void tell_copied(mb_arena *arena, mb_json *about, const struct mb_copied *copied,
                        int64_t keys)
{
    mb_json_put_int(arena, about, "files", copied->files);
    mb_json_put_int(arena, about, "bytes", copied->bytes);
    mb_json_put_int(arena, about, "keys", keys);
}

/* ---- making one ---- */

/* In place: the views away, then nothing but what is stored. */
static enum mb_rc scrub_copy(const char *path, struct mb_error *err)
{
    mb_db *db = NULL;
    enum mb_rc rc = mb_db_open(path, MB_DB_WRITE, &db, err);

    if (rc)
        return rc;
    mb_db_grant(db, MB_MAY_VIEW);
    rc = mb_views_drop(db, err);
    if (!rc)
        rc = mb_db_write_anew(db, err);
    if (!rc)
        rc = mb_db_one_file(db, err);
    mb_db_close(db);
    return rc;
}

/* The ledger's own file, and the views in it, for what was erased may still stand in them. */
static enum mb_rc scrub_ledger(mb_ledger *ledger, struct mb_error *err)
{
    mb_db *db = mb_log_db(ledger->log);
    enum mb_rc rc;

    if (ledger->access != MB_WRITE)
        return MB_OK;
    mb_db_grant(db, MB_MAY_VIEW);
    rc = mb_views_drop(db, err);
    mb_db_grant(db, 0);
    return rc ? rc : mb_db_write_anew(db, err);
}

static enum mb_rc fill(mb_ledger *ledger, mb_arena *arena, const struct mb_backup *backup,
                       const char *part, mb_json *about, struct mb_copied *copied,
                       struct mb_error *err)
{
    const char *from = mb_log_folder(ledger->log);
    const char *db = mb_path_join(arena, part, "ledger.db");
    int64_t keys = 0;
    enum mb_rc rc = mb_db_copy(mb_log_db(ledger->log), db, err);

    if (!rc && backup->scrub)
        rc = scrub_copy(db, err);
    /* after the entries: a file is there before an entry names it */
    if (!rc)
        rc = mb_copy_attachments(arena, from, part, copied, err);
    if (!rc && !backup->scrub)
        rc = mb_copy_one(arena, from, part, "settings.json", 0644, err);
    if (!rc && backup->with_keys)
        rc = mb_copy_keys(arena, from, part, &keys, err);
    if (!rc)
        rc = about_copy(arena, part, about, err);
    if (rc)
        return rc;
    tell_copied(arena, about, copied, keys);
    mb_json_put_text(arena, about, "format", FORMAT);
    mb_json_put_text(arena, about, "madeAt", mb_moment_write(arena, mb_now()));
    mb_json_put_bool(arena, about, "scrubbed", backup->scrub);
    return mb_file_write(mb_path_join(arena, part, MB_BACKUP_MARK),
                         mb_json_write_pretty(arena, about), 0644, err);
}

enum mb_rc mb_backup_make(mb_ledger *ledger, mb_arena *arena, const struct mb_backup *backup,
                          const mb_json **out, struct mb_error *err)
{
    mb_json *about = mb_json_object(arena);
    struct mb_copied copied;
    struct mb_part part;
    enum mb_rc rc = MB_OK;

    if (mb_log_in_group(ledger->log))
        return mb_fail(err, MB_REFUSED, "no backup can be made while entries are being recorded");
    rc = mb_part_begin(arena, backup->to, &part, err);
    if (!rc && backup->scrub)
        rc = scrub_ledger(ledger, err);
    if (!rc)
        rc = fill(ledger, arena, backup, part.path, about, &copied, err);
    if (!rc)
        rc = mb_part_end(&part, err);
    if (rc) {
        mb_part_drop(&part);
        return rc;
    }
    mb_json_put_text(arena, about, "to", part.to);
    mb_json_put(arena, about, "damaged", copied.damaged);
    *out = about;
    return copied.damaged->count ? MB_NO : MB_OK;
}

/* ---- bringing one back ---- */

static enum mb_rc read_about(mb_arena *arena, const char *from, const mb_json **about,
                             struct mb_error *err)
{
    const char *path = mb_path_join(arena, from, MB_BACKUP_MARK);
    struct mb_str bytes;
    enum mb_rc rc;

    if (!mb_file_exists(path))
        return mb_fail(err, MB_REFUSED, "%s is no backup of this program: there is no %s in it",
                       from, MB_BACKUP_MARK);
    rc = mb_file_read(arena, path, ABOUT_MOST, &bytes, err);
    if (!rc)
        rc = mb_json_read(arena, bytes, MB_JSON_STRICT, about, err);
    if (!rc && !mb_json_text_is(mb_json_get(*about, "format"), FORMAT))
        rc = mb_fail(err, MB_REFUSED, "it is of a newer program, or no backup's");
    if (rc)
        mb_fail_where(err, "%s", path);
    return rc;
}

static enum mb_rc pour_back(mb_arena *arena, const char *from, const char *part, mb_json *about,
                            struct mb_error *err)
{
    struct mb_copied copied;
    mb_db *db = NULL;
    int64_t keys = 0;
    enum mb_rc rc = mb_db_open(mb_path_join(arena, from, "ledger.db"), MB_DB_READ, &db, err);

    if (!rc)
        rc = mb_db_copy(db, mb_path_join(arena, part, "ledger.db"), err);
    mb_db_close(db);
    if (!rc)
        rc = mb_copy_attachments(arena, from, part, &copied, err);
    if (!rc)
        rc = mb_copy_one(arena, from, part, "settings.json", 0644, err);
    if (!rc)
        rc = mb_copy_keys(arena, from, part, &keys, err);
    if (!rc)
        rc = about_copy(arena, part, about, err);
    if (!rc)
        tell_copied(arena, about, &copied, keys);
    return rc;
}

/* MB_NO where something in the copy does not hold, or it is not the ledger that was backed up. */
static enum mb_rc judge(mb_arena *arena, const char *part, const mb_json *said, mb_json *about,
                        struct mb_error *err)
{
    struct mb_verify verify = { .paths = &part, .count = 1, .skip_views = true };
    const mb_json *result = NULL;
    mb_json *findings = mb_json_array(arena);
    enum mb_rc rc = mb_verify(arena, &verify, &result, err);

    if (!result)
        return rc;
    MB_JSON_EACH(finding, mb_json_get(result, "findings"))
    {
        mb_json_add(findings, mb_json_copy(arena, finding));
    }
    mb_json_put(arena, about, "findings", findings);
    if (!mb_json_equal(mb_json_get(said, "fingerprint"), mb_json_get(about, "fingerprint"))
        || !mb_json_equal(mb_json_get(said, "entries"), mb_json_get(about, "entries")))
        return mb_fail(err, MB_NO, "the ledger in it is not the one that %s tells of",
                       MB_BACKUP_MARK);
    /* a ledger that no trust file names cannot be checked to the end, and is whole all the same */
    return rc == MB_NO ? MB_NO : MB_OK;
}

enum mb_rc mb_backup_restore(mb_arena *arena, const char *from, const char *to, bool even_damaged,
                             const mb_json **out, struct mb_error *err)
{
    mb_json *about = mb_json_object(arena);
    const mb_json *said = NULL;
    struct mb_part part;
    bool damaged = false;
    enum mb_rc rc = read_about(arena, from, &said, err);

    if (!rc)
        rc = mb_part_begin(arena, to, &part, err);
    if (rc)
        return rc;
    rc = pour_back(arena, from, part.path, about, err);
    if (!rc) {
        rc = judge(arena, part.path, said, about, err);
        damaged = rc == MB_NO;
        if (damaged)
            *out = about;
        if (damaged && even_damaged)
            rc = MB_OK;
    }
    if (!rc)
        rc = mb_part_end(&part, err);
    mb_json_put_bool(arena, about, "restored", rc == MB_OK);
    if (rc) {
        mb_part_drop(&part);
        return rc;
    }
    mb_json_put_text(arena, about, "to", part.to);
    mb_json_put(arena, about, "madeAt", mb_json_copy(arena, mb_json_get(said, "madeAt")));
    *out = about;
    return damaged ? MB_NO : MB_OK;
}
