#include "bag_write.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "bag_check.h"
#include "bag_text.h"
#include "buf.h"
#include "codec.h"
#include "digest.h"
#include "fileio.h"
#include "filetree.h"
#include "text.h"

enum { PIECE = 1 << 20, FOLDER_MODE = 0755, FILE_MODE = 0644, LIST_MAX = 1 << 30, LINE = 79 };

static const char *const algorithms[] = { "sha256", "sha512" };
enum { ALGORITHMS = sizeof algorithms / sizeof *algorithms };

struct packed {
    const char *path; /* in the bag */
    const char *sums[ALGORITHMS];
    struct packed *next;
};

struct mb_bag_writer {
    mb_arena *arena;
    const char *folder, *part;
    struct packed *files;
    size_t count;
    int64_t bytes;
    mb_json *labels;
    char *piece;
};

/* ---- one file ---- */

struct hashed {
    mb_digest *digests[ALGORITHMS];
};

static void hash_begin(struct hashed *h)
{
    for (size_t i = 0; i < ALGORITHMS; i++)
        h->digests[i] = mb_digest_new(algorithms[i]);
}

static void hash_add(struct hashed *h, const void *bytes, size_t len)
{
    for (size_t i = 0; i < ALGORITHMS; i++)
        mb_digest_add(h->digests[i], bytes, len);
}

static void hash_end(struct hashed *h, mb_arena *arena, struct packed *file)
{
    for (size_t i = 0; i < ALGORITHMS; i++) {
        uint8_t sum[MB_DIGEST_MAX];
        char hex[MB_HEX_LEN(MB_DIGEST_MAX) + 1];

        mb_digest_end(h->digests[i], sum);
        mb_hex_write(hex, sum, mb_digest_size(algorithms[i]));
        file->sums[i] = mb_arena_text(arena, hex);
    }
}

static enum mb_rc make_folders(mb_bag_writer *w, const char *path, struct mb_error *err)
{
    char *name = mb_path_join(w->arena, w->part, path);

    for (char *at = name + strlen(w->part) + 1; *at; at++) {
        if (*at != '/')
            continue;
        *at = '\0';
        if (mkdir(name, FOLDER_MODE) != 0 && errno != EEXIST)
            return mb_fail(err, MB_UNABLE, "cannot make the folder %s: %m", name);
        *at = '/';
    }
    return MB_OK;
}

static enum mb_rc open_new(mb_bag_writer *w, const char *path, int *fd, struct mb_error *err)
{
    const char *bad = mb_bag_path_bad(mb_str_of(path)), *name;
    enum mb_rc rc;

    if (bad)
        return mb_fail(err, MB_REFUSED, "a bag cannot hold %s: %s", bad, path);
    rc = make_folders(w, path, err);
    if (rc)
        return rc;
    name = mb_path_join(w->arena, w->part, path);
    *fd = open(name, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, FILE_MODE);
    if (*fd < 0 && errno == EEXIST)
        return mb_fail(err, MB_REFUSED, "the bag holds a file %s already", path);
    return *fd < 0 ? mb_fail(err, MB_UNABLE, "cannot write %s: %m", name) : MB_OK;
}

static bool write_all(int fd, const char *bytes, size_t len)
{
    while (len > 0) {
        ssize_t n = write(fd, bytes, len);

        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return false;
        bytes += n;
        len -= (size_t)n;
    }
    return true;
}

static enum mb_rc put(mb_bag_writer *w, const char *path, struct mb_str bytes,
                      struct packed *file, struct mb_error *err)
{
    struct hashed h;
    int fd;
    bool written;
    enum mb_rc rc = open_new(w, path, &fd, err);

    if (rc)
        return rc;
    written = write_all(fd, bytes.at, bytes.len);
    if (!written)
        mb_fail(err, MB_UNABLE, "cannot write %s into the bag: %m", path);
    if (close(fd) != 0 && written) {
        mb_fail(err, MB_UNABLE, "cannot write %s into the bag: %m", path);
        written = false;
    }
    if (!written)
        return MB_UNABLE;
    hash_begin(&h);
    hash_add(&h, bytes.at, bytes.len);
    hash_end(&h, w->arena, file);
    file->path = mb_arena_text(w->arena, path);
    return MB_OK;
}

static void keep(mb_bag_writer *w, struct packed file, int64_t bytes)
{
    struct packed *kept = MB_NEW(w->arena, struct packed);

    *kept = file;
    kept->next = w->files;
    w->files = kept;
    w->count++;
    w->bytes += bytes;
}

enum mb_rc mb_bag_add(mb_bag_writer *w, const char *path, struct mb_str bytes,
                      struct mb_error *err)
{
    struct packed file = { 0 };
    enum mb_rc rc = put(w, mb_arena_printf(w->arena, "data/%s", path), bytes, &file, err);

    if (!rc)
        keep(w, file, (int64_t)bytes.len);
    return rc;
}

/* ---- copying ---- */

/* -1: reading failed; -2: writing failed. */
static int64_t copy_bytes(mb_bag_writer *w, int from, int to, struct hashed *h)
{
    int64_t total = 0;

    for (;;) {
        ssize_t n = read(from, w->piece, PIECE);

        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return -1;
        if (n == 0)
            return total;
        hash_add(h, w->piece, (size_t)n);
        if (!write_all(to, w->piece, (size_t)n))
            return -2;
        total += n;
    }
}

enum mb_rc mb_bag_copy(mb_bag_writer *w, const char *path, const char *source, const char *sha256,
                       int64_t *bytes, struct mb_error *err)
{
    const char *name = mb_arena_printf(w->arena, "data/%s", path);
    int from = open(source, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NOCTTY), to = -1;
    struct packed file = { .path = name };
    struct hashed h;
    int64_t total;
    enum mb_rc rc;

    if (from < 0)
        return mb_fail(err, MB_UNABLE, "cannot read %s: %m", source);
    rc = open_new(w, name, &to, err);
    if (rc) {
        close(from);
        return rc;
    }
    hash_begin(&h);
    total = copy_bytes(w, from, to, &h);
    if (total < 0)
        rc = mb_fail(err, MB_UNABLE, "cannot copy %s into the bag: %m", source);
    hash_end(&h, w->arena, &file);
    close(from);
    if (close(to) != 0 && !rc)
        rc = mb_fail(err, MB_UNABLE, "cannot write %s into the bag: %m", path);
    if (!rc && sha256 && strcmp(sha256, file.sums[0]) != 0)
        rc = mb_fail(err, MB_UNABLE, "%s is not the file that was recorded: its hash differs",
                     source);
    if (rc)
        return rc;
    keep(w, file, total);
    if (bytes)
        *bytes = total;
    return MB_OK;
}

/* ---- tag files ---- */

void mb_bag_label(mb_bag_writer *w, const char *label, const char *value)
{
    mb_json *row = mb_json_add(w->labels, mb_json_object(w->arena));
    char *line = mb_arena_text(w->arena, value);

    for (char *at = line; *at; at++)
        if ((unsigned char)*at < ' ')
            *at = ' ';
    mb_json_put_text(w->arena, row, "label", label);
    mb_json_put_text(w->arena, row, "value", line);
}

/* "Label: value", broken at blanks before the 79th character where it can be. */
static void label_line(struct mb_buf *buf, struct mb_str label, struct mb_str value)
{
    size_t at = label.len + 2;
    struct mb_str word;
    bool first = true;

    mb_buf_printf(buf, "%.*s:", MB_STR_ARG(label));
    while (value.len > 0) {
        mb_str_cut(value, ' ', &word, &value);
        if (!first && at + 1 + word.len > LINE) {
            mb_buf_add_char(buf, '\n');
            at = 1;
        }
        mb_buf_add_char(buf, ' ');
        mb_buf_add_str(buf, word);
        at += word.len + 1;
        first = false;
    }
    mb_buf_add_char(buf, '\n');
}

static const char *size_words(mb_arena *arena, int64_t bytes)
{
    static const char *const units[] = { "bytes", "kB", "MB", "GB", "TB" };
    double size = (double)bytes;
    size_t unit = 0;

    for (; size >= 1000 && unit < 4; unit++)
        size /= 1000;
    return mb_arena_printf(arena, unit ? "%.1f %s" : "%.0f %s", size, units[unit]);
}

static enum mb_rc put_tag(mb_bag_writer *w, const char *name, struct mb_buf *buf,
                          struct packed **tags, struct mb_error *err)
{
    struct packed *tag = MB_NEW(w->arena, struct packed);
    enum mb_rc rc;

    if (!mb_buf_ok(buf))
        return mb_fail(err, MB_UNABLE, "%s of the bag would be too long", name);
    rc = put(w, name, mb_buf_str(buf), tag, err);
    tag->next = *tags;
    *tags = tag;
    mb_buf_clear(buf);
    return rc;
}

static int by_path(const void *a, const void *b)
{
    const struct packed *one = *(const struct packed *const *)a;
    const struct packed *other = *(const struct packed *const *)b;

    return strcmp(one->path, other->path);
}

static void list_lines(mb_bag_writer *w, struct packed *files, size_t which, struct mb_buf *buf)
{
    size_t count = 0, i = 0;
    const struct packed **sorted;

    for (const struct packed *file = files; file; file = file->next)
        count++;
    sorted = MB_ARRAY(w->arena, count + 1, const struct packed *);
    for (const struct packed *file = files; file; file = file->next)
        sorted[i++] = file;
    if (count > 0)
        qsort(sorted, count, sizeof *sorted, by_path);
    for (i = 0; i < count; i++)
        mb_buf_printf(buf, "%s  %s\n", sorted[i]->sums[which],
                      mb_bag_path_write(w->arena, sorted[i]->path));
}

static enum mb_rc put_info(mb_bag_writer *w, struct mb_buf *buf, struct packed **tags,
                           struct mb_error *err)
{
    mb_bag_label(w, "Bag-Size", size_words(w->arena, w->bytes));
    mb_bag_label(w, "Payload-Oxum",
                 mb_arena_printf(w->arena, "%lld.%zu", (long long)w->bytes, w->count));
    mb_bag_label(w, MB_BAG_SEALED, "sha256 sha512");
    MB_JSON_EACH(row, w->labels)
        label_line(buf, mb_json_str(mb_json_get(row, "label")),
                   mb_json_str(mb_json_get(row, "value")));
    return put_tag(w, "bag-info.txt", buf, tags, err);
}

static enum mb_rc put_tags(mb_bag_writer *w, struct mb_error *err)
{
    static const char form[] = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
    MB_BUF_AUTO struct mb_buf buf = { 0 };
    struct packed *tags = NULL, bagit = { .path = "bagit.txt" };
    struct hashed h;
    enum mb_rc rc = MB_OK;

    mb_buf_init(&buf, LIST_MAX);
    for (size_t i = 0; i < ALGORITHMS && !rc; i++) {
        list_lines(w, w->files, i, &buf);
        rc = put_tag(w, mb_arena_printf(w->arena, "manifest-%s.txt", algorithms[i]), &buf, &tags,
                     err);
    }
    if (!rc)
        rc = put_info(w, &buf, &tags, err);
    hash_begin(&h);
    hash_add(&h, form, sizeof form - 1);
    hash_end(&h, w->arena, &bagit);
    bagit.next = tags;
    for (size_t i = 0; i < ALGORITHMS && !rc; i++) {
        struct packed unlisted = { 0 };
        const char *name = mb_arena_printf(w->arena, "tagmanifest-%s.txt", algorithms[i]);

        list_lines(w, &bagit, i, &buf);
        rc = put(w, name, mb_buf_str(&buf), &unlisted, err);
        mb_buf_clear(&buf);
    }
    if (!rc)
        rc = put(w, "bagit.txt", mb_str_of(form), &bagit, err);
    return rc;
}

/* ---- the folder ---- */

static const char *parent_of(mb_arena *arena, const char *path)
{
    size_t len = (size_t)(mb_path_name(path) - path);

    return len == 0 ? "." : mb_arena_copy(arena, path, len);
}

enum mb_rc mb_bag_begin(mb_arena *arena, const char *folder, mb_bag_writer **out,
                        struct mb_error *err)
{
    mb_bag_writer *w = MB_NEW(arena, mb_bag_writer);
    size_t len = strlen(folder);
    int fd;

    while (len > 1 && folder[len - 1] == '/')
        len--;
    w->arena = arena;
    w->folder = mb_arena_copy(arena, folder, len);
    w->labels = mb_json_array(arena);
    w->piece = mb_arena_get(arena, PIECE);
    if (mb_file_exists(w->folder))
        return mb_fail(err, MB_REFUSED,
                       "%s is there already; move it away, or choose another name with --out",
                       w->folder);
    w->part = mb_arena_printf(arena, "%s/.%s.unfinished-%ld", parent_of(arena, w->folder),
                              mb_path_name(w->folder), (long)getpid());
    fd = mkdir(w->part, FOLDER_MODE);
    if (fd != 0)
        return mb_fail(err, MB_REFUSED, "cannot make the folder %s: %m", w->part);
    *out = w;
    return MB_OK;
}

/* All of the file system's pending writes at once: one wait, not one for each of 2,000 files. */
static enum mb_rc bring_to_disk(const char *folder, struct mb_error *err)
{
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    bool done = fd >= 0 && syncfs(fd) == 0;

    if (!done)
        mb_fail(err, MB_UNABLE, "the bag could not be brought to the disk: %m");
    if (fd >= 0)
        close(fd);
    return done ? MB_OK : MB_UNABLE;
}

static enum mb_rc give_name(mb_bag_writer *w, struct mb_error *err)
{
    if (renameat2(AT_FDCWD, w->part, AT_FDCWD, w->folder, RENAME_NOREPLACE) == 0)
        return MB_OK;
    if ((errno == EINVAL || errno == ENOSYS) && !mb_file_exists(w->folder)
        && rename(w->part, w->folder) == 0)
        return MB_OK;
    return mb_fail(err, MB_UNABLE, "cannot give the bag its name %s: %m", w->folder);
}

enum mb_rc mb_bag_end(mb_bag_writer *w, struct mb_error *err)
{
    enum mb_rc rc = put_tags(w, err);

    if (!rc)
        rc = bring_to_disk(w->part, err);
    if (!rc)
        rc = give_name(w, err);
    if (rc) {
        mb_bag_cancel(w);
        return rc;
    }
    return bring_to_disk(parent_of(w->arena, w->folder), err);
}

void mb_bag_cancel(mb_bag_writer *w)
{
    if (w)
        mb_filetree_delete(w->part);
}
