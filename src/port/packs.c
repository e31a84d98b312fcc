#include "packs.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <archive.h>
#include <archive_entry.h>

#include "buf.h"
#include "fileio.h"
#include "filetree.h"
#include "text.h"

enum { PIECE = 1 << 20, FILE_MODE = 0644, FOLDER_MODE = 0755, MEMORY_MAX = 1 << 30 };

/* ---- writing ---- */

struct packing {
    mb_arena *arena;
    struct archive *to;
    enum mb_pack form;
    int64_t when;
    char *piece;
    struct mb_error *err;
};

static enum mb_rc failed(const struct packing *p, const char *name)
{
    return mb_fail(p->err, MB_UNABLE, "cannot pack %s: %s", name, archive_error_string(p->to));
}

static bool set_up(struct packing *p)
{
    p->to = archive_write_new();
    if (!p->to)
        return false;
    if (p->form == MB_PACK_ZIP)
        return archive_write_set_format_zip(p->to) == ARCHIVE_OK;
    return archive_write_set_format_pax_restricted(p->to) == ARCHIVE_OK
           && archive_write_add_filter_gzip(p->to) == ARCHIVE_OK
           && archive_write_set_filter_option(p->to, "gzip", "timestamp", NULL) == ARCHIVE_OK
           && archive_write_set_filter_option(p->to, "gzip", "compression-level", "1")
                  == ARCHIVE_OK;
}

/* Formats whose bytes are packed already. */
static bool packed_already(const char *name)
{
    static const char *const endings[] = { ".jpg", ".png", ".pdf", ".zip" };
    size_t len = strlen(name);

    for (size_t i = 0; i < sizeof endings / sizeof *endings; i++)
        if (len > 4 && strcmp(name + len - 4, endings[i]) == 0)
            return true;
    return false;
}

static enum mb_rc begin_file(struct packing *p, const char *name, int64_t bytes)
{
    struct archive_entry *entry = archive_entry_new();
    int rc;

    if (!entry)
        return mb_fail(p->err, MB_UNABLE, "cannot pack %s: no memory", name);
    archive_entry_set_pathname(entry, name);
    archive_entry_set_filetype(entry, AE_IFREG);
    archive_entry_set_perm(entry, FILE_MODE);
    archive_entry_set_size(entry, bytes);
    archive_entry_set_mtime(entry, p->when, 0);
    if (p->form == MB_PACK_ZIP) {
        if (packed_already(name))
            archive_write_zip_set_compression_store(p->to);
        else
            archive_write_zip_set_compression_deflate(p->to);
    }
    rc = archive_write_header(p->to, entry);
    archive_entry_free(entry);
    return rc == ARCHIVE_OK ? MB_OK : failed(p, name);
}

static enum mb_rc pack_bytes(struct packing *p, const char *name, struct mb_str bytes)
{
    enum mb_rc rc = begin_file(p, name, (int64_t)bytes.len);

    if (!rc && bytes.len > 0
        && archive_write_data(p->to, bytes.at, bytes.len) != (la_ssize_t)bytes.len)
        return failed(p, name);
    return rc;
}

static enum mb_rc pack_file(struct packing *p, const char *name, const char *source,
                            int64_t bytes)
{
    int fd = open(source, O_RDONLY | O_CLOEXEC | O_NOFOLLOW);
    enum mb_rc rc = fd < 0 ? mb_fail(p->err, MB_UNABLE, "cannot read %s: %m", source)
                           : begin_file(p, name, bytes);
    int64_t total = 0;

    while (!rc) {
        ssize_t n = read(fd, p->piece, PIECE);

        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            rc = mb_fail(p->err, MB_UNABLE, "cannot read %s: %m", source);
        else if (n > 0 && archive_write_data(p->to, p->piece, (size_t)n) != n)
            rc = failed(p, name);
        if (n <= 0)
            break;
        total += n;
    }
    if (!rc && total != bytes)
        rc = mb_fail(p->err, MB_UNABLE, "%s changed while it was packed; try again", source);
    if (fd >= 0)
        close(fd);
    return rc;
}

static enum mb_rc pack_folder(struct packing *p, const char *folder, const char *top)
{
    struct mb_leaves leaves;
    enum mb_rc rc = mb_filetree_list(p->arena, folder, &leaves, p->err);

    for (size_t i = 0; !rc && i < leaves.count; i++)
        if (leaves.at[i].kind == MB_LEAF_FILE)
            rc = pack_file(p, mb_path_join(p->arena, top, leaves.at[i].path),
                           mb_path_join(p->arena, folder, leaves.at[i].path), leaves.at[i].bytes);
    return rc;
}

static enum mb_rc to_file(struct packing *p, int fd, const char *folder, const char *top,
                          const char *path)
{
    enum mb_rc rc = MB_OK;

    if (!set_up(p) || archive_write_open_fd(p->to, fd) != ARCHIVE_OK)
        rc = failed(p, path);
    if (!rc)
        rc = pack_folder(p, folder, top);
    if (!rc && archive_write_close(p->to) != ARCHIVE_OK)
        rc = failed(p, path);
    archive_write_free(p->to);
    if (!rc && fsync(fd) != 0)
        rc = mb_fail(p->err, MB_UNABLE, "cannot write %s: %m", path);
    return rc;
}

enum mb_rc mb_archive_folder(mb_arena *arena, enum mb_pack form, const char *folder,
                             const char *top, int64_t when, const char *path,
                             struct mb_error *err)
{
    struct packing p = { .arena = arena, .form = form, .when = when, .err = err };
    const char *part = mb_arena_printf(arena, "%s.unfinished-%ld", path, (long)getpid());
    enum mb_rc rc;
    int fd;

    if (mb_file_exists(path))
        return mb_fail(err, MB_REFUSED, "%s is there already; move it away first", path);
    fd = open(part, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, FILE_MODE);
    if (fd < 0)
        return mb_fail(err, MB_REFUSED, "cannot write %s: %m", part);
    p.piece = mb_arena_get(arena, PIECE);
    rc = to_file(&p, fd, folder, top, path);
    if (close(fd) != 0 && !rc)
        rc = mb_fail(err, MB_UNABLE, "cannot write %s: %m", path);
    if (!rc && rename(part, path) != 0)
        rc = mb_fail(err, MB_UNABLE, "cannot write %s: %m", path);
    if (rc)
        unlink(part);
    return rc;
}

static la_ssize_t into_buf(struct archive *a, void *ctx, const void *bytes, size_t len)
{
    struct mb_buf *buf = ctx;

    (void)a;
    mb_buf_add(buf, bytes, len);
    return mb_buf_ok(buf) ? (la_ssize_t)len : -1;
}

enum mb_rc mb_archive_zip(mb_arena *arena, const struct mb_archived *files, size_t count,
                          int64_t when, struct mb_str *out, struct mb_error *err)
{
    struct packing p = { .arena = arena, .form = MB_PACK_ZIP, .when = when, .err = err };
    MB_BUF_AUTO struct mb_buf buf = { 0 };
    enum mb_rc rc = MB_OK;

    mb_buf_init(&buf, MEMORY_MAX);
    if (!set_up(&p) || archive_write_set_bytes_in_last_block(p.to, 1) != ARCHIVE_OK
        || archive_write_open2(p.to, &buf, NULL, into_buf, NULL, NULL) != ARCHIVE_OK)
        rc = failed(&p, "a zip");
    for (size_t i = 0; !rc && i < count; i++)
        rc = pack_bytes(&p, files[i].name, files[i].bytes);
    if (!rc && archive_write_close(p.to) != ARCHIVE_OK)
        rc = failed(&p, "a zip");
    archive_write_free(p.to);
    if (!rc)
        *out = mb_arena_str(arena, mb_buf_str(&buf));
    return rc;
}

/* ---- reading ---- */

struct unpacking {
    mb_arena *arena;
    struct archive *from;
    const char *path, *folder;
    const struct mb_unpack_limits *limits;
    int64_t bytes, files;
    char *piece;
    struct mb_error *err;
};

static enum mb_rc damaged(const struct unpacking *u)
{
    return mb_fail(u->err, MB_REFUSED, "%s cannot be unpacked: %s", u->path,
                   archive_error_string(u->from) ? archive_error_string(u->from)
                                                 : "it is damaged");
}

static enum mb_rc make_folders(const struct unpacking *u, const char *name)
{
    char *path = mb_path_join(u->arena, u->folder, name);

    for (char *at = path + strlen(u->folder) + 1; *at; at++) {
        if (*at != '/')
            continue;
        *at = '\0';
        if (mkdir(path, FOLDER_MODE) != 0 && errno != EEXIST)
            return mb_fail(u->err, MB_UNABLE, "cannot make the folder %s: %m", path);
        *at = '/';
    }
    return MB_OK;
}

static enum mb_rc copy_out(struct unpacking *u, int fd, const char *name)
{
    for (;;) {
        la_ssize_t n = archive_read_data(u->from, u->piece, PIECE);

        if (n < 0)
            return damaged(u);
        if (n == 0)
            return MB_OK;
        u->bytes += n;
        if (u->bytes > u->limits->bytes_max)
            return mb_fail(u->err, MB_REFUSED, "%s holds more than the %lld bytes allowed here",
                           u->path, (long long)u->limits->bytes_max);
        for (la_ssize_t done = 0; done < n;) {
            ssize_t w = write(fd, u->piece + done, (size_t)(n - done));

            if (w < 0 && errno != EINTR)
                return mb_fail(u->err, MB_UNABLE, "cannot write %s: %m", name);
            done += w > 0 ? w : 0;
        }
    }
}

static enum mb_rc take_file(struct unpacking *u, const char *name)
{
    const char *to = mb_path_join(u->arena, u->folder, name);
    enum mb_rc rc = make_folders(u, name);
    int fd;

    if (rc)
        return rc;
    fd = open(to, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, FILE_MODE);
    if (fd < 0 && errno == EEXIST)
        return mb_fail(u->err, MB_REFUSED, "%s holds %s twice", u->path, name);
    if (fd < 0)
        return mb_fail(u->err, MB_UNABLE, "cannot write %s: %m", to);
    rc = copy_out(u, fd, name);
    if (close(fd) != 0 && !rc)
        rc = mb_fail(u->err, MB_UNABLE, "cannot write %s: %m", to);
    return rc;
}

static enum mb_rc take_entry(struct unpacking *u, struct archive_entry *entry)
{
    const char *raw = archive_entry_pathname_utf8(entry), *bad;
    char *name;
    size_t len;

    if (!raw)
        return mb_fail(u->err, MB_REFUSED, "%s holds a name that is not in UTF-8", u->path);
    name = mb_arena_text(u->arena, strncmp(raw, "./", 2) == 0 ? raw + 2 : raw);
    for (len = strlen(name); len > 0 && name[len - 1] == '/'; len--)
        name[len - 1] = '\0';
    if (len == 0 && archive_entry_filetype(entry) == AE_IFDIR)
        return MB_OK;
    bad = u->limits->bad ? u->limits->bad(mb_str_of(name)) : NULL;
    if (bad)
        return mb_fail(u->err, MB_REFUSED, "%s holds %s: %.200s", u->path, bad, name);
    if (++u->files > u->limits->files_max)
        return mb_fail(u->err, MB_REFUSED, "%s holds more than the %lld files allowed here",
                       u->path, (long long)u->limits->files_max);
    if (archive_entry_filetype(entry) == AE_IFDIR)
        return make_folders(u, mb_arena_printf(u->arena, "%s/", name));
    if (archive_entry_filetype(entry) != AE_IFREG || archive_entry_hardlink(entry))
        return mb_fail(u->err, MB_REFUSED, "%s holds %.200s, which is no plain file", u->path,
                       name);
    return take_file(u, name);
}

static enum mb_rc unpack(struct unpacking *u)
{
    struct archive_entry *entry;
    int rc;

    if (archive_read_support_format_zip(u->from) != ARCHIVE_OK
        || archive_read_support_format_tar(u->from) != ARCHIVE_OK
        || archive_read_support_filter_gzip(u->from) != ARCHIVE_OK
        || archive_read_open_filename(u->from, u->path, PIECE) != ARCHIVE_OK)
        return damaged(u);
    while ((rc = archive_read_next_header(u->from, &entry)) == ARCHIVE_OK) {
        enum mb_rc taken = take_entry(u, entry);

        if (taken)
            return taken;
    }
    return rc == ARCHIVE_EOF ? MB_OK : damaged(u);
}

enum mb_rc mb_archive_unpack(mb_arena *arena, const char *path, const char *folder,
                             const struct mb_unpack_limits *limits, struct mb_error *err)
{
    struct unpacking u = { .arena = arena,
                           .from = archive_read_new(),
                           .path = path,
                           .folder = folder,
                           .limits = limits,
                           .err = err };
    enum mb_rc rc;

    if (!u.from)
        return mb_fail(err, MB_UNABLE, "cannot unpack %s: no memory", path);
    u.piece = mb_arena_get(arena, PIECE);
    rc = unpack(&u);
    archive_read_free(u.from);
    return rc;
}
