#include "attach.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

#include "codec.h"
#include "fileio.h"
#include "picture.h"
#include "sha256.h"
#include "text.h"
#include "tiff.h"

enum { STEP = 64 << 10, HEAD = 64 << 10, PART_TRIES = 10 };

static void close_fd(const int *fd)
{
    if (*fd >= 0)
        close(*fd);
}

#define FD_AUTO __attribute__((cleanup(close_fd)))

/* ---- what a file is ---- */

static bool begins(struct mb_str head, const char *bytes, size_t len, size_t at)
{
    return head.len >= at + len && memcmp(head.at + at, bytes, len) == 0;
}

static bool name_ends(const char *name, const char *ending)
{
    size_t n = strlen(name), e = strlen(ending);

    return n > e && strcasecmp(name + n - e, ending) == 0;
}

/* A cut through a character at the end of what was read is no fault of the text. */
static bool is_text(struct mb_str head)
{
    for (size_t cut = 0; cut < 4 && cut <= head.len; cut++) {
        struct mb_str part = { head.at, head.len - cut };

        if (mb_utf8_ok(part))
            return memchr(part.at, 0, part.len) == NULL;
    }
    return false;
}

static const char *type_of(struct mb_str head, const char *name)
{
    static const char *const by_ending[][2] = {
        { ".json", "application/json" },   { ".geojson", "application/geo+json" },
        { ".csv", "text/csv" },            { ".svg", "image/svg+xml" },
        { ".xml", "application/xml" },     { ".eml", "message/rfc822" },
        { ".html", "text/html" },
    };

    if (begins(head, "\xff\xd8\xff", 3, 0))
        return "image/jpeg";
    if (begins(head, "\x89PNG\r\n\x1a\n", 8, 0))
        return "image/png";
    if (begins(head, "%PDF-", 5, 0))
        return "application/pdf";
    if (begins(head, "II*\0", 4, 0) || begins(head, "MM\0*", 4, 0))
        return "image/tiff";
    if (begins(head, "RIFF", 4, 0) && begins(head, "WEBP", 4, 8))
        return "image/webp";
    if (begins(head, "ftypheic", 8, 4) || begins(head, "ftypmif1", 8, 4))
        return "image/heic";
    if (begins(head, "ftyp", 4, 4))
        return "video/mp4";
    if (begins(head, "PK\x03\x04", 4, 0))
        return "application/zip";
    if (!is_text(head))
        return "application/octet-stream";
    for (size_t i = 0; i < sizeof by_ending / sizeof *by_ending; i++)
        if (name_ends(name, by_ending[i][0]))
            return by_ending[i][1];
    return "text/plain";
}

/* ---- reading and copying ---- */

/* Hashes all of `from`, copying to `to` unless that is -1. The first bytes stay in *head. */
static enum mb_rc pour(int from, int to, const char *name, char *head, size_t *head_len,
                       int64_t *bytes, struct mb_hash *hash, struct mb_error *err)
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
            rc = mb_fail(err, MB_UNABLE, "cannot read %s: %m", name);
        if (n <= 0)
            break;
        if (*bytes == 0 && head) {
            memcpy(head, step, (size_t)n);
            *head_len = (size_t)n;
        }
        *bytes += n;
        mb_hasher_add(hasher, step, (size_t)n);
        for (ssize_t done = 0; to >= 0 && done < n;) {
            ssize_t w = write(to, step + done, (size_t)(n - done));

            if (w < 0 && errno == EINTR)
                continue;
            if (w < 0) {
                rc = mb_fail(err, MB_UNABLE, "cannot copy %s into the ledger: %m", name);
                break;
            }
            done += w;
        }
        if (rc || *bytes > MB_ATTACH_MAX)
            break;
    }
    *hash = mb_hasher_end(hasher);
    return rc;
}

enum mb_rc mb_attach_look(mb_arena *arena, const char *path, struct mb_attached *out,
                          struct mb_error *err)
{
    FD_AUTO int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    char *head = mb_arena_get(arena, HEAD);
    size_t head_len = 0;
    struct mb_hash hash;
    struct stat about;
    enum mb_rc rc;

    *out = (struct mb_attached){ .path = mb_arena_text(arena, path),
                                 .name = mb_path_name(mb_arena_text(arena, path)) };
    if (fd < 0)
        return mb_fail(err, MB_REFUSED, "cannot open %s: %m", path);
    if (fstat(fd, &about) != 0 || !S_ISREG(about.st_mode))
        return mb_fail(err, MB_REFUSED, "%s is no file that can be attached", path);
    if (!mb_text_allowed(mb_str_of(out->name), false) || strlen(out->name) > 255)
        return mb_fail(err, MB_REFUSED, "%s: give the file a plain name first", path);
    rc = pour(fd, -1, path, head, &head_len, &out->bytes, &hash, err);
    if (rc)
        return rc;
    if (out->bytes == 0 || out->bytes > MB_ATTACH_MAX)
        return mb_fail(err, MB_REFUSED, out->bytes ? "%s is longer than 1 GiB" : "%s is empty",
                       path);
    mb_hex_write(out->hex, hash.b, sizeof hash.b);
    out->type = type_of((struct mb_str){ head, head_len }, out->name);
    return MB_OK;
}

bool mb_attach_is_picture(const struct mb_attached *attached)
{
    return strcmp(attached->type, "image/jpeg") == 0 || strcmp(attached->type, "image/png") == 0;
}

/* MB_NO where there was nothing to take out. */
static enum mb_rc clean_tiff(mb_arena *arena, struct mb_str bytes, struct mb_str *clean,
                             struct mb_error *err)
{
    bool other = false;
    enum mb_rc rc = mb_tiff_clean(arena, bytes, clean, &other, err);

    return rc ? rc : other ? MB_OK : MB_NO;
}

static enum mb_rc clean_photo(mb_arena *arena, struct mb_str bytes, struct mb_str *clean,
                              struct mb_error *err)
{
    struct mb_picture picture;
    enum mb_rc rc = mb_picture_look(bytes, &picture, err);

    if (rc)
        return rc;
    if (!picture.metadata)
        return MB_NO;
    *clean = mb_picture_clean(arena, &picture, true);
    return MB_OK;
}

enum mb_rc mb_attach_clean(mb_arena *arena, const struct mb_attached *attached,
                           struct mb_attached *out, struct mb_error *err)
{
    bool tiff = strcmp(attached->type, "image/tiff") == 0;
    struct mb_error why = { 0 };
    struct mb_str bytes, clean;
    struct mb_hash hash;
    enum mb_rc rc;

    if (!tiff && !mb_attach_is_picture(attached))
        return MB_NO;
    rc = mb_file_read(arena, attached->path, MB_PICTURE_BYTES_MAX, &bytes, err);
    if (rc)
        return rc;
    rc = tiff ? clean_tiff(arena, bytes, &clean, &why) : clean_photo(arena, bytes, &clean, &why);
    if (rc == MB_NO)
        return MB_NO;
    if (rc)
        return mb_fail(err, rc, "%s: %s", attached->name, why.text);
    *out = (struct mb_attached){ .path = attached->path,
                                 .content = clean,
                                 .name = attached->name,
                                 .type = attached->type };
    out->bytes = (int64_t)out->content.len;
    hash = mb_sha256_str(out->content);
    mb_hex_write(out->hex, hash.b, sizeof hash.b);
    return MB_OK;
}

mb_json *mb_attach_value(mb_arena *arena, const struct mb_attached *attached, bool named)
{
    mb_json *value = mb_json_object(arena);

    mb_json_put_int(arena, value, "bytes", attached->bytes);
    mb_json_put_text(arena, value, "file", attached->hex);
    if (named)
        mb_json_put_text(arena, value, "name", attached->name);
    mb_json_put_text(arena, value, "type", attached->type);
    return value;
}

char *mb_attach_path(mb_arena *arena, const char *folder, const char *hex)
{
    return mb_arena_printf(arena, "%s/files/%.2s/%s", folder, hex, hex);
}

static enum mb_rc sync_folder(const char *folder, struct mb_error *err)
{
    FD_AUTO int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);

    if (fd < 0 || (fsync(fd) != 0 && errno != EINVAL))
        return mb_fail(err, MB_UNABLE, "the folder %s could not be saved: %m", folder);
    return MB_OK;
}

static int open_part(const char *part)
{
    for (int i = 0; i < PART_TRIES; i++) {
        int fd;

        unlink(part); /* left by a process of the same number that was killed */
        fd = open(part, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0444);
        if (fd < 0 || mb_part_claim(fd))
            return fd;
        close(fd);
    }
    errno = EBUSY;
    return -1;
}

static enum mb_rc copy_in(mb_arena *arena, const char *folder, const struct mb_attached *attached,
                          struct mb_error *err)
{
    FD_AUTO int from = open(attached->path, O_RDONLY | O_CLOEXEC);
    const char *part = mb_arena_printf(arena, "%s/.%s-%ld.part", folder, attached->hex,
                                       (long)getpid());
    const char *path = mb_arena_printf(arena, "%s/%s", folder, attached->hex);
    FD_AUTO int to = -1;
    char hex[65];
    struct mb_hash hash;
    int64_t bytes;
    enum mb_rc rc;

    if (from < 0)
        return mb_fail(err, MB_UNABLE, "cannot open %s: %m", attached->path);
    to = open_part(part);
    if (to < 0)
        return mb_fail(err, MB_UNABLE, "cannot copy %s into the ledger: %m", attached->path);
    rc = pour(from, to, attached->path, NULL, NULL, &bytes, &hash, err);
    mb_hex_write(hex, hash.b, sizeof hash.b);
    if (!rc && strcmp(hex, attached->hex) != 0)
        rc = mb_fail(err, MB_UNABLE, "%s changed while it was being read; try again",
                     attached->path);
    if (!rc && (fsync(to) != 0 || rename(part, path) != 0))
        rc = mb_fail(err, MB_UNABLE, "cannot copy %s into the ledger: %m", attached->path);
    if (rc)
        unlink(part);
    return rc ? rc : sync_folder(folder, err);
}

enum mb_rc mb_attach_store(const char *folder, const struct mb_attached *attached,
                           struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    const char *files = mb_arena_printf(scratch, "%s/files", folder);
    const char *near = mb_arena_printf(scratch, "%s/%.2s", files, attached->hex);
    struct stat about;
    enum mb_rc rc = MB_OK;

    /* a file of this name holds what its name says, or verifying finds it; of the right length it
     * is taken for whole */
    if (stat(mb_attach_path(scratch, folder, attached->hex), &about) != 0
        || about.st_size != attached->bytes) {
        rc = mb_folder_make(files, 0755, err);
        if (!rc)
            rc = mb_folder_make(near, 0755, err);
        if (!rc && attached->content.at)
            rc = mb_file_write(mb_attach_path(scratch, folder, attached->hex), attached->content,
                               0444, err);
        else if (!rc)
            rc = copy_in(scratch, near, attached, err);
    }
    mb_arena_free(scratch);
    return rc;
}
