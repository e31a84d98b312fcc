/* Files that entries name: noted while entries are judged, looked at by the crew in the end. */
#include "verify_judge.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "fileio.h"
#include "file_shelf.h"
#include "sha256.h"
#include "text.h"

static const struct mb_str whole = { NULL, 0 };

/* 64 small hex digits: nothing else may become part of a path. */
static bool names_file(struct mb_str text)
{
    uint8_t bytes[MB_HEX_LEN(sizeof(struct mb_hash))];
    size_t len;

    return text.len == MB_HEX_LEN(sizeof(struct mb_hash)) && mb_hex_read(text, bytes, &len);
}

void mb_value_files(const mb_json *value, mb_file_fn *each, void *ctx)
{
    const mb_json *file;

    if (!value || (value->type != MB_JSON_OBJECT && value->type != MB_JSON_ARRAY))
        return;
    file = value->type == MB_JSON_OBJECT ? mb_json_get(value, "file") : NULL;
    if (file && names_file(mb_json_str(file))) {
        each(ctx, file->text);
        return;
    }
    MB_JSON_EACH(child, value)
    {
        mb_value_files(child, each, ctx);
    }
}

void mb_judge_keep_files(struct mb_judge *judge, const struct mb_row *row)
{
    for (size_t i = 0; i < row->file_count; i++) {
        judge->files = mb_judge_more(judge->check->arena, judge->files, judge->file_count,
                                     &judge->file_room, sizeof *judge->files);
        judge->files[judge->file_count++] =
            (struct named_file){ mb_arena_str(judge->check->arena, row->files[i]), row->seq };
    }
}

static int by_name(const void *a, const void *b)
{
    const struct named_file *x = a, *y = b;
    int order = mb_str_compare(x->sha256, y->sha256);

    return order ? order : (x->seq > y->seq) - (x->seq < y->seq);
}

enum file_state { FILE_WHOLE, FILE_GONE, FILE_OTHER };

struct file_job {
    const char *folder;
    const struct named_file *files;
    enum file_state *states;
};

/* By pieces, for an attachment may be larger than memory. */
static enum file_state look_at(const char *path, struct mb_str sha256)
{
    char hex[MB_HEX_LEN(sizeof(struct mb_hash)) + 1], bytes[1 << 14];
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    mb_hasher *hasher;
    struct mb_hash hash;
    struct stat about;
    ssize_t n = -1;

    if (fd < 0 || fstat(fd, &about) != 0 || !S_ISREG(about.st_mode)) {
        if (fd >= 0)
            close(fd);
        return FILE_GONE;
    }
    hasher = mb_hasher_new();
    do {
        n = read(fd, bytes, sizeof bytes);
        if (n > 0)
            mb_hasher_add(hasher, bytes, (size_t)n);
    } while (n > 0 || (n < 0 && errno == EINTR));
    hash = mb_hasher_end(hasher);
    close(fd);
    mb_hex_write(hex, hash.b, sizeof hash.b);
    return n < 0 ? FILE_GONE : mb_str_is(sha256, hex) ? FILE_WHOLE : FILE_OTHER;
}

static void work_file(void *ctx, size_t piece)
{
    const struct file_job *job = ctx;
    struct mb_str name = job->files[piece].sha256;
    mb_arena *scratch = mb_arena_new();

    job->states[piece] = look_at(mb_arena_printf(scratch, "%s/%.2s/%.*s", job->folder, name.at,
                                                 MB_STR_ARG(name)),
                                 name);
    mb_arena_free(scratch);
}

static void tell_file(struct mb_judge *judge, const struct named_file *file, enum file_state state)
{
    judge->check->attachments++;
    if (state == FILE_GONE)
        mb_find(judge->check->findings, MB_F_FILE_MISSING, whole, file->seq,
                "The file %.*s named by entry %lld is not in the ledger.",
                MB_STR_ARG(file->sha256), (long long)file->seq);
    else if (state == FILE_OTHER)
        mb_find(judge->check->findings, MB_F_FILE_CHANGED, whole, file->seq,
                "The file %.*s named by entry %lld was changed.", MB_STR_ARG(file->sha256),
                (long long)file->seq);
}

/* Files that no entry names. Not said where an entry could not be read, for it may name them; nor
 * of what was written while we looked. */
static void tell_loose(struct mb_judge *judge, size_t count)
{
    struct mb_log_check *check = judge->check;
    struct mb_shelf shelf;

    if (judge->newer || mb_findings_of(check->findings, MB_F_MALFORMED)
        || mb_shelf_read(check->arena, mb_log_folder(check->log), &shelf, NULL))
        return;
    for (size_t i = 0; i < count; i++) {
        struct mb_shelved *file = mb_shelf_find(&shelf, judge->files[i].sha256);

        if (file)
            file->named = true;
    }
    for (size_t i = 0; i < shelf.count; i++)
        if (!shelf.files[i].named && shelf.files[i].changed_s < judge->began)
            mb_find(check->findings, MB_F_FILE_LOOSE, whole, -1, "No entry names the file %s.",
                    shelf.files[i].name);
}

/* Each file once, told of by the first entry that names it. */
void mb_judge_files(struct mb_judge *judge)
{
    mb_arena *arena = judge->check->arena;
    const char *folder = mb_path_join(arena, mb_log_folder(judge->check->log), "files");
    struct file_job job = { .folder = folder, .files = judge->files };
    size_t n = 0;

    if (judge->file_count)
        qsort(judge->files, judge->file_count, sizeof *judge->files, by_name);
    for (size_t i = 0; i < judge->file_count; i++)
        if (i == 0 || !mb_str_equal(judge->files[i].sha256, judge->files[n - 1].sha256))
            judge->files[n++] = judge->files[i];
    job.states = MB_ARRAY(arena, n + 1, enum file_state);
    mb_crew_start(judge->crew, work_file, &job, n);
    mb_crew_wait(judge->crew);
    for (size_t i = 0; i < n; i++)
        tell_file(judge, &judge->files[i], job.states[i]);
    tell_loose(judge, n);
}
