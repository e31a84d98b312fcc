#include "backup_files.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "codec.h"
#include "fileio.h"
#include "sha256.h"
#include "text.h"

enum { STEP = 64 << 10, OPEN_MOST = 16, KEY_FILE_MOST = 1 << 20 };

static void close_fd(const int *fd)
{
    if (*fd >= 0)
        close(*fd);
}

static void close_folder(DIR **folder)
{
    if (*folder)
        closedir(*folder);
}

#define FD_AUTO __attribute__((cleanup(close_fd)))
#define FOLDER_AUTO __attribute__((cleanup(close_folder)))

static enum mb_rc sync_folder(const char *path, struct mb_error *err)
{
    FD_AUTO int fd = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);

    if (fd < 0 || (fsync(fd) != 0 && errno != EINVAL))
        return mb_fail(err, MB_UNABLE, "the folder %s could not be saved: %m", path);
    return MB_OK;
}

/* ---- the folder under its temporary name ---- */

static int remove_one(const char *path, const struct stat *about, int what, struct FTW *where)
{
    (void)about;
    (void)what;
    (void)where;
    return remove(path);
}

static int remove_all(const char *path)
{
    return nftw(path, remove_one, OPEN_MOST, FTW_DEPTH | FTW_PHYS);
}

static enum mb_rc lock_part(struct mb_part *part, struct mb_error *err)
{
    part->lock = open(part->path, O_RDONLY | O_DIRECTORY | O_CLOEXEC | O_NOFOLLOW);
    if (part->lock >= 0 && flock(part->lock, LOCK_EX | LOCK_NB) == 0)
        return MB_OK;
    if (part->lock >= 0 && errno == EWOULDBLOCK)
        return mb_fail(err, MB_REFUSED, "%s is being written by another run just now", part->to);
    return mb_fail(err, MB_UNABLE, "cannot write the folder %s: %m", part->path);
}

static enum mb_rc make_part(struct mb_part *part, struct mb_error *err)
{
    enum mb_rc rc;

    if (mkdir(part->path, 0700) == 0)
        return lock_part(part, err);
    if (errno != EEXIST) {
        bool wrong = errno == ENOENT || errno == ENOTDIR || errno == ENAMETOOLONG;

        return mb_fail(err, wrong ? MB_REFUSED : MB_UNABLE, "cannot make the folder %s: %m",
                       part->path);
    }
    rc = lock_part(part, err); /* nobody holds it: left by a run that was stopped */
    if (rc)
        return rc;
    if (remove_all(part->path) != 0 || mkdir(part->path, 0700) != 0)
        return mb_fail(err, MB_UNABLE, "cannot clear away %s, left by an earlier run: %m",
                       part->path);
    close(part->lock);
    return lock_part(part, err);
}

enum mb_rc mb_part_begin(mb_arena *arena, const char *to, struct mb_part *part,
                         struct mb_error *err)
{
    size_t len = strlen(to);
    enum mb_rc rc;

    while (len > 1 && to[len - 1] == '/')
        len--;
    *part = (struct mb_part){ .to = mb_arena_copy(arena, to, len), .lock = -1 };
    part->path = mb_arena_printf(arena, "%s.part", part->to);
    if (mb_file_exists(part->to))
        return mb_fail(err, MB_REFUSED, "%s is there already; choose another name or move it away",
                       part->to);
    rc = make_part(part, err);
    if (rc && part->lock >= 0)
        close(part->lock);
    if (rc)
        part->path = NULL;
    return rc;
}

enum mb_rc mb_part_end(struct mb_part *part, struct mb_error *err)
{
    mb_arena *arena = mb_arena_new();
    const char *name = mb_path_name(part->to);
    const char *parent = name == part->to
                             ? "."
                             : mb_arena_copy(arena, part->to, (size_t)(name - part->to));
    enum mb_rc rc = sync_folder(part->path, err);

    if (!rc && chmod(part->path, 0755) != 0)
        rc = mb_fail(err, MB_UNABLE, "the folder %s could not be saved: %m", part->path);
    if (!rc && renameat2(AT_FDCWD, part->path, AT_FDCWD, part->to, RENAME_NOREPLACE) != 0
        && (errno == EEXIST || mb_file_exists(part->to) || rename(part->path, part->to) != 0))
        rc = mb_fail(err, errno == EEXIST ? MB_REFUSED : MB_UNABLE, "cannot name the folder %s: %m",
                     part->to);
    if (!rc) {
        close(part->lock);
        part->path = NULL;
        rc = sync_folder(parent, err);
    }
    mb_arena_free(arena);
    return rc;
}

void mb_part_drop(struct mb_part *part)
{
    if (!part->path)
        return;
    remove_all(part->path);
    close(part->lock);
    part->path = NULL;
}

/* ---- files ---- */

static int write_all(int fd, const char *at, size_t len)
{
    while (len > 0) {
        ssize_t n = write(fd, at, len);

        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return -1;
        at += n;
        len -= (size_t)n;
    }
    return 0;
}

static enum mb_rc pour(int from, const char *path_from, int to, const char *path_to,
                       struct mb_hash *hash, int64_t *bytes, struct mb_error *err)
{
    mb_hasher *hasher = mb_hasher_new();
    char step[STEP];
    enum mb_rc rc = MB_OK;

    *bytes = 0;
    for (;;) {
        ssize_t n = read(from, step, sizeof step);

        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            rc = mb_fail(err, MB_UNABLE, "cannot read %s: %m", path_from);
        if (n <= 0)
            break;
        mb_hasher_add(hasher, step, (size_t)n);
        *bytes += n;
        if (write_all(to, step, (size_t)n) != 0) {
            rc = mb_fail(err, MB_UNABLE, "cannot write %s: %m", path_to);
            break;
        }
    }
    *hash = mb_hasher_end(hasher);
    if (!rc && fsync(to) != 0)
        rc = mb_fail(err, MB_UNABLE, "cannot write %s: %m", path_to);
    return rc;
}

/* MB_NO where what was copied is not what its name says; it is not there then. */
static enum mb_rc copy_attachment(const char *from, const char *to, const char *hex,
                                  int64_t *bytes, struct mb_error *err)
{
    FD_AUTO int in = open(from, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK | O_NOFOLLOW);
    FD_AUTO int out = -1;
    char found[MB_HEX_LEN(sizeof(struct mb_hash)) + 1];
    struct mb_hash hash;
    struct stat about;
    enum mb_rc rc;

    if (in < 0 || fstat(in, &about) != 0)
        return mb_fail(err, MB_UNABLE, "cannot read %s: %m", from);
    if (!S_ISREG(about.st_mode))
        return MB_NO;
    out = open(to, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0444);
    if (out < 0)
        return mb_fail(err, MB_UNABLE, "cannot write %s: %m", to);
    rc = pour(in, from, out, to, &hash, bytes, err);
    mb_hex_write(found, hash.b, sizeof hash.b);
    if (!rc && strcmp(found, hex) != 0) {
        unlink(to);
        rc = MB_NO;
    }
    return rc;
}

/* Small hex digits, this many, and nothing else: temporary names are passed over. */
static bool is_hex(const char *name, size_t len)
{
    return strlen(name) == len && strspn(name, "0123456789abcdef") == len;
}

static enum mb_rc copy_shelf(mb_arena *arena, const char *from, const char *to,
                             struct mb_copied *copied, struct mb_error *err)
{
    FOLDER_AUTO DIR *folder = opendir(from);
    const struct dirent *one;
    enum mb_rc rc = folder ? mb_folder_make(to, 0755, err)
                           : mb_fail(err, MB_UNABLE, "cannot read the folder %s: %m", from);

    while (!rc && (one = readdir(folder)) != NULL) {
        int64_t bytes = 0;

        if (!is_hex(one->d_name, MB_HEX_LEN(sizeof(struct mb_hash))))
            continue;
        rc = copy_attachment(mb_path_join(arena, from, one->d_name),
                             mb_path_join(arena, to, one->d_name), one->d_name, &bytes, err);
        if (rc == MB_NO) {
            mb_json_add_text(arena, copied->damaged, one->d_name);
            rc = MB_OK;
            continue;
        }
        copied->files++;
        copied->bytes += bytes;
    }
    return rc ? rc : sync_folder(to, err);
}

enum mb_rc mb_copy_attachments(mb_arena *arena, const char *from, const char *to,
                               struct mb_copied *copied, struct mb_error *err)
{
    const char *files_from = mb_path_join(arena, from, "files");
    const char *files_to = mb_path_join(arena, to, "files");
    FOLDER_AUTO DIR *folder = opendir(files_from);
    mb_arena *scratch;
    const struct dirent *one;
    enum mb_rc rc;

    *copied = (struct mb_copied){ .damaged = mb_json_array(arena) };
    if (!folder && errno == ENOENT)
        return MB_OK;
    if (!folder)
        return mb_fail(err, MB_UNABLE, "cannot read the folder %s: %m", files_from);
    rc = mb_folder_make(files_to, 0755, err);
    scratch = mb_arena_new();
    while (!rc && (one = readdir(folder)) != NULL)
        if (is_hex(one->d_name, 2)) {
            struct mb_copied shelf = { .damaged = mb_json_array(scratch) };

            rc = copy_shelf(scratch, mb_path_join(scratch, files_from, one->d_name),
                            mb_path_join(scratch, files_to, one->d_name), &shelf, err);
            copied->files += shelf.files;
            copied->bytes += shelf.bytes;
            MB_JSON_EACH(damaged, shelf.damaged)
            {
                mb_json_add(copied->damaged, mb_json_copy(arena, damaged));
            }
            mb_arena_reset(scratch);
        }
    mb_arena_free(scratch);
    return rc ? rc : sync_folder(files_to, err);
}

enum mb_rc mb_copy_one(mb_arena *arena, const char *from, const char *to, const char *name,
                       mode_t mode, struct mb_error *err)
{
    const char *path = mb_path_join(arena, from, name);
    struct mb_str bytes;
    enum mb_rc rc;

    if (!mb_file_exists(path))
        return MB_OK;
    rc = mb_file_read(arena, path, KEY_FILE_MOST, &bytes, err);
    return rc ? rc : mb_file_write(mb_path_join(arena, to, name), bytes, mode, err);
}

enum mb_rc mb_copy_keys(mb_arena *arena, const char *from, const char *to, int64_t *keys,
                        struct mb_error *err)
{
    const char *keys_from = mb_path_join(arena, from, "keys");
    const char *keys_to = mb_path_join(arena, to, "keys");
    FOLDER_AUTO DIR *folder = opendir(keys_from);
    const struct dirent *one;
    enum mb_rc rc;

    *keys = 0;
    if (!folder && errno == ENOENT)
        return MB_OK;
    if (!folder)
        return mb_fail(err, MB_UNABLE, "cannot read the folder %s: %m", keys_from);
    rc = mb_folder_make(keys_to, 0700, err);
    while (!rc && (one = readdir(folder)) != NULL)
        if (one->d_name[0] != '.') {
            rc = mb_copy_one(arena, keys_from, keys_to, one->d_name, 0600, err);
            ++*keys;
        }
    return rc ? rc : sync_folder(keys_to, err);
}
