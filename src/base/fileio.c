#include "fileio.h"

#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "buf.h"
#include "text.h"

enum { STREAM_STEP = 64 << 10, NAME_TRIES = 1000 };

static void close_quietly(const int *fd)
{
    if (*fd > STDIN_FILENO)
        close(*fd);
}

#define MB_FD_AUTO __attribute__((cleanup(close_quietly)))

/* Up to len bytes, fewer only at the end of the file; -1 with errno. */
static ssize_t read_full(int fd, char *to, size_t len)
{
    size_t got = 0;

    while (got < len) {
        ssize_t n = read(fd, to + got, len - got);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return -1;
        if (n == 0)
            break;
        got += (size_t)n;
    }
    return (ssize_t)got;
}

static enum mb_rc too_long(const char *name, size_t max, struct mb_error *err)
{
    return mb_fail(err, MB_REFUSED, "%s is longer than the %zu bytes allowed here", name, max);
}

/* What has no length of its own (a pipe, a file made up by the system) is read until it ends. */
static enum mb_rc read_stream(mb_arena *arena, int fd, const char *name, size_t max,
                              struct mb_str *out, struct mb_error *err)
{
    MB_BUF_AUTO struct mb_buf buf;

    mb_buf_init(&buf, max < SIZE_MAX - STREAM_STEP ? max + STREAM_STEP : max);
    for (;;) {
        char *to = mb_buf_room(&buf, STREAM_STEP);
        ssize_t n;
        if (to == NULL || buf.len > max)
            return too_long(name, max, err);
        n = read_full(fd, to, STREAM_STEP);
        if (n < 0)
            return mb_fail(err, MB_UNABLE, "cannot read %s: %m", name);
        mb_buf_grew(&buf, (size_t)n);
        if (n < STREAM_STEP)
            break;
    }
    if (buf.len > max)
        return too_long(name, max, err);
    *out = mb_arena_str(arena, mb_buf_str(&buf));
    return MB_OK;
}

/* One byte more than the length is asked for, to see that the file did not grow meanwhile. */
static enum mb_rc read_sized(mb_arena *arena, int fd, const char *name, size_t size,
                             struct mb_str *out, struct mb_error *err)
{
    char *bytes = mb_arena_array(arena, size + 1, 1);
    ssize_t n = read_full(fd, bytes, size + 1);

    if (n < 0)
        return mb_fail(err, MB_UNABLE, "cannot read %s: %m", name);
    if ((size_t)n > size)
        return mb_fail(err, MB_UNABLE, "%s grew while it was being read; try again", name);
    *out = (struct mb_str){ bytes, (size_t)n };
    return MB_OK;
}

enum mb_rc mb_file_read(mb_arena *arena, const char *path, size_t max, struct mb_str *out,
                        struct mb_error *err)
{
    MB_FD_AUTO int fd = STDIN_FILENO;
    struct stat about;

    if (strcmp(path, "-") == 0)
        return read_stream(arena, fd, "standard input", max, out, err);
    fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK); /* a pipe must not hold us up */
    if (fd < 0)
        return mb_fail(err, MB_REFUSED, "cannot open %s: %m", path);
    if (fstat(fd, &about) != 0)
        return mb_fail(err, MB_UNABLE, "cannot read %s: %m", path);
    if (!S_ISREG(about.st_mode))
        return mb_fail(err, MB_REFUSED, "%s is %s, not a file", path,
                       S_ISDIR(about.st_mode) ? "a folder" : "a device or pipe");
    if (about.st_size == 0)
        return read_stream(arena, fd, path, max, out, err);
    if ((uint64_t)about.st_size > max)
        return too_long(path, max, err);
    return read_sized(arena, fd, path, (size_t)about.st_size, out, err);
}

static int write_full(int fd, struct mb_str bytes)
{
    while (bytes.len > 0) {
        ssize_t n = write(fd, bytes.at, bytes.len);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return -1;
        bytes.at += n;
        bytes.len -= (size_t)n;
    }
    return 0;
}

/* The folder that a path's last part stands in; "." if the path names none. */
static char *folder_of(mb_arena *arena, const char *path)
{
    size_t len = (size_t)(mb_path_name(path) - path);

    return len == 0 ? mb_arena_text(arena, ".") : mb_arena_copy(arena, path, len);
}

/* A path that leads nowhere is the caller's mistake; a full or failing disk is not. */
static enum mb_rc cannot(const char *doing, const char *path, struct mb_error *err)
{
    bool wrong_path = errno == ENOENT || errno == ENOTDIR || errno == EISDIR
                      || errno == ENAMETOOLONG || errno == ELOOP || errno == EEXIST;

    return mb_fail(err, wrong_path ? MB_REFUSED : MB_UNABLE, "cannot %s %s: %m", doing, path);
}

/* A new name has lasted only when its folder is on the disk. Some file systems cannot do that and
 * say EINVAL; they have nothing better to offer. */
static enum mb_rc sync_folder(const char *folder, const char *path, struct mb_error *err)
{
    MB_FD_AUTO int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);

    if (fd < 0 || (fsync(fd) != 0 && errno != EINVAL))
        return mb_fail(err, MB_UNABLE, "%s was written, but its folder could not be saved: %m",
                       path);
    return MB_OK;
}

bool mb_part_claim(int fd)
{
    struct stat about;

    flock(fd, LOCK_EX); /* where there are no locks, a name of its own has to do */
    return fstat(fd, &about) != 0 || about.st_nlink > 0;
}

int mb_part_remove(const char *path)
{
    int fd = open(path, O_RDONLY | O_NOFOLLOW | O_CLOEXEC), done, reason;

    if (fd < 0)
        return errno == ENOENT ? 0 : -1;
    done = flock(fd, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK ? 1 : unlink(path);
    reason = errno;
    close(fd);
    errno = reason;
    return done < 0 && reason == ENOENT ? 0 : done;
}

static int open_part(mb_arena *arena, const char *folder, mode_t mode, char **part)
{
    static atomic_uint counter;
    int fd = -1;

    for (int i = 0; i < NAME_TRIES && fd < 0; i++) {
        char *name = mb_arena_printf(arena, ".markerbed-%ld-%u.part", (long)getpid(),
                                     atomic_fetch_add(&counter, 1));
        *part = mb_path_join(arena, folder, name);
        fd = open(*part, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, mode);
        if (fd < 0 && errno != EEXIST)
            break;
        if (fd >= 0 && !mb_part_claim(fd)) {
            close(fd);
            fd = -1;
        }
    }
    return fd;
}

/* Gives the part its name; where `over` is false only if nothing has that name. */
static int name_part(const char *part, const char *path, bool over)
{
    if (over)
        return rename(part, path);
    if (renameat2(AT_FDCWD, part, AT_FDCWD, path, RENAME_NOREPLACE) == 0)
        return 0;
    if (errno != EINVAL && errno != ENOSYS)
        return -1;
    if (link(part, path) != 0)
        return -1;
    unlink(part);
    return 0;
}

static enum mb_rc put_file(mb_arena *arena, const char *path, struct mb_str bytes, mode_t mode,
                           bool over, struct mb_error *err)
{
    char *folder = folder_of(arena, path), *part;
    int fd = open_part(arena, folder, mode, &part), reason;
    bool done;

    if (fd < 0)
        return cannot("write", path, err);
    done = write_full(fd, bytes) == 0 && fsync(fd) == 0 && name_part(part, path, over) == 0;
    reason = errno;
    if (close(fd) != 0 && done && errno != EINTR) {
        done = false;
        reason = errno;
    }
    if (!done) {
        unlink(part);
        errno = reason;
        if (!over && reason == EEXIST)
            return mb_fail(err, MB_REFUSED,
                           "%s exists already; choose another name or move it away", path);
        return cannot("write", path, err);
    }
    return sync_folder(folder, path, err);
}

enum mb_rc mb_file_write(const char *path, struct mb_str bytes, mode_t mode, struct mb_error *err)
{
    mb_arena *arena = mb_arena_new();
    enum mb_rc rc = put_file(arena, path, bytes, mode, true, err);

    mb_arena_free(arena);
    return rc;
}

enum mb_rc mb_file_create(const char *path, struct mb_str bytes, mode_t mode, struct mb_error *err)
{
    mb_arena *arena = mb_arena_new();
    enum mb_rc rc = put_file(arena, path, bytes, mode, false, err);

    mb_arena_free(arena);
    return rc;
}

enum mb_rc mb_folder_make(const char *path, mode_t mode, struct mb_error *err)
{
    struct stat about;
    mb_arena *arena;
    enum mb_rc rc;

    if (mkdir(path, mode) != 0) {
        int reason = errno;
        if (reason == EEXIST && stat(path, &about) == 0 && S_ISDIR(about.st_mode))
            return MB_OK;
        errno = reason;
        return cannot("make the folder", path, err);
    }
    arena = mb_arena_new();
    rc = sync_folder(folder_of(arena, path), path, err);
    mb_arena_free(arena);
    return rc;
}

bool mb_file_exists(const char *path)
{
    struct stat about;

    return lstat(path, &about) == 0;
}

char *mb_path_join(mb_arena *arena, const char *folder, const char *name)
{
    size_t len = strlen(folder);
    bool slash = len > 0 && folder[len - 1] != '/';

    return mb_arena_printf(arena, "%s%s%s", folder, slash ? "/" : "", name);
}

const char *mb_path_name(const char *path)
{
    const char *name = path;

    for (const char *at = path; *at != '\0'; at++)
        if (at[0] == '/' && at[1] != '/' && at[1] != '\0')
            name = at + 1;
    return name;
}
