#include "bag_check.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bag_list.h"
#include "buf.h"
#include "codec.h"
#include "digest.h"
#include "fileio.h"
#include "text.h"

enum { FORM_MAX = 4096, INFO_MAX = 4 << 20, PIECE = 1 << 20, FAULTS_MAX = 200 };

bool mb_bag_is(const char *folder)
{
    mb_arena *arena = mb_arena_new();
    bool is = mb_file_exists(mb_path_join(arena, folder, "bagit.txt"));

    mb_arena_free(arena);
    return is;
}

void mb_bag_say(struct mb_bag_checking *c, mb_json *list, const char *file, const char *format,
                ...)
{
    va_list args;
    mb_json *row;

    if (list->count >= FAULTS_MAX)
        return;
    row = mb_json_add(list, mb_json_object(c->arena));
    va_start(args, format);
    mb_json_put_text(c->arena, row, "file", file);
    mb_json_put_text(c->arena, row, "text", mb_arena_vprintf(c->arena, format, args));
    va_end(args);
}

/* ---- what is on the disk ---- */

static bool is_payload(const char *path)
{
    return strncmp(path, "data/", 5) == 0;
}

static bool is_tag_manifest(const char *path)
{
    return strncmp(path, "tagmanifest-", 12) == 0 && !strchr(path, '/');
}

static enum mb_rc take_tree(struct mb_bag_checking *c, struct mb_error *err)
{
    struct mb_leaves leaves;
    bool data = false;
    enum mb_rc rc = mb_filetree_list(c->arena, c->bag->folder, &leaves, err);

    if (rc)
        return rc;
    c->files = MB_ARRAY(c->arena, leaves.count + 1, struct mb_bag_seen);
    for (size_t i = 0; i < leaves.count; i++) {
        const struct mb_leaf *leaf = &leaves.at[i];

        data = data || is_payload(leaf->path) || strcmp(leaf->path, "data") == 0;
        if (leaf->kind == MB_LEAF_OTHER)
            mb_bag_say(c, c->faults, leaf->path,
                       "is a link or device; a bag holds nothing but files and folders");
        else if (leaf->kind == MB_LEAF_EMPTY_FOLDER && strcmp(leaf->path, "data") != 0)
            mb_bag_say(c, c->warnings, leaf->path, "is an empty folder, of which no manifest can"
                                                   " speak");
        else if (leaf->kind == MB_LEAF_FILE)
            c->files[c->count++] = (struct mb_bag_seen){ .path = leaf->path,
                                                         .bytes = leaf->bytes,
                                                         .payload = is_payload(leaf->path) };
    }
    if (!data)
        mb_bag_say(c, c->faults, "data", "is missing: what a bag carries lies in that folder");
    return MB_OK;
}

static int by_path(const void *a, const void *b)
{
    const struct mb_bag_seen *one = a, *other = b;

    return strcmp(one->path, other->path);
}

struct mb_bag_seen *mb_bag_seen(struct mb_bag_checking *c, const char *path)
{
    struct mb_bag_seen key = { .path = path };

    return bsearch(&key, c->files, c->count, sizeof key, by_path);
}

/* ---- checksums ---- */

struct hashing {
    mb_digest *digests[MB_BAG_LISTS_MAX];
    size_t which[MB_BAG_LISTS_MAX]; /* a manifest with the same algorithm before it, or itself */
};

static void begin(const struct mb_bag_checking *c, const struct mb_bag_seen *file,
                  struct hashing *h)
{
    for (size_t i = 0; i < c->list_count; i++) {
        h->digests[i] = NULL;
        h->which[i] = i;
        if (!file->sums[i])
            continue;
        for (size_t k = 0; k < i; k++)
            if (h->digests[k] && strcmp(c->lists[k].algorithm, c->lists[i].algorithm) == 0)
                h->which[i] = k;
        if (h->which[i] == i)
            h->digests[i] = mb_digest_new(c->lists[i].algorithm);
    }
}

static enum mb_rc read_through(const struct mb_bag_checking *c, const struct mb_bag_seen *file,
                               struct hashing *h, struct mb_error *err)
{
    const char *path = mb_path_join(c->arena, c->bag->folder, file->path);
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NOCTTY);
    int64_t total = 0;
    ssize_t n = fd < 0 ? -1 : 0;

    while (fd >= 0) {
        n = read(fd, c->piece, PIECE);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            break;
        total += n;
        for (size_t i = 0; i < c->list_count; i++)
            if (h->digests[i])
                mb_digest_add(h->digests[i], c->piece, (size_t)n);
    }
    if (n < 0)
        mb_fail(err, MB_UNABLE, "cannot read %s: %m", path);
    else if (total != file->bytes)
        mb_fail(err, MB_UNABLE, "%s changed while it was being read; try again", path);
    if (fd >= 0)
        close(fd);
    return n < 0 || total != file->bytes ? MB_UNABLE : MB_OK;
}

static enum mb_rc check_sums(struct mb_bag_checking *c, struct mb_bag_seen *file,
                             struct mb_error *err)
{
    struct hashing h;
    char hex[MB_BAG_LISTS_MAX][MB_HEX_LEN(MB_DIGEST_MAX) + 1];
    bool told = false;
    enum mb_rc rc;

    begin(c, file, &h);
    rc = read_through(c, file, &h, err);
    for (size_t i = 0; i < c->list_count; i++) {
        uint8_t sum[MB_DIGEST_MAX];

        if (!h.digests[i])
            continue;
        mb_digest_end(h.digests[i], sum);
        mb_hex_write(hex[i], sum, mb_digest_size(c->lists[i].algorithm));
    }
    for (size_t i = 0; i < c->list_count && !rc; i++) {
        if (!file->sums[i])
            continue;
        if (strcasecmp(file->sums[i], hex[h.which[i]]) != 0) {
            if (!told)
                mb_bag_say(c, c->faults, file->path, "is not the file that %s names: its %s"
                                                     " checksum differs",
                           c->lists[i].name, c->lists[i].algorithm);
            told = true;
        } else if (strcmp(c->lists[i].algorithm, "sha256") == 0) {
            file->sha256 = mb_arena_text(c->arena, hex[h.which[i]]);
        }
    }
    return rc;
}

static enum mb_rc check_all_sums(struct mb_bag_checking *c, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    c->piece = mb_arena_get(c->arena, PIECE);
    for (size_t i = 0; i < c->count && !rc; i++)
        rc = check_sums(c, &c->files[i], err);
    return rc;
}

/* ---- completeness ---- */

static bool listed(const struct mb_bag_checking *c, const struct mb_bag_seen *file, bool all)
{
    bool any = false, every = true;

    for (size_t i = 0; i < c->list_count; i++)
        if (c->lists[i].payload == file->payload) {
            any = any || file->sums[i];
            every = every && file->sums[i];
        }
    return all ? every : any;
}

static void check_listed(struct mb_bag_checking *c)
{
    bool all = c->bag->form.major >= 1;

    for (size_t i = 0; i < c->count; i++) {
        struct mb_bag_seen *file = &c->files[i];
        bool tag_manifest = is_tag_manifest(file->path);

        if (file->payload && !listed(c, file, all))
            mb_bag_say(c, c->faults, file->path,
                       listed(c, file, false) ? "is not named by every payload manifest"
                                              : "is in the bag, and no manifest names it");
        else if (!file->payload && c->bag->sealed && !tag_manifest && !listed(c, file, true))
            mb_bag_say(c, c->faults, file->path,
                       "was added to a sealed bag, or is not named by every tag manifest");
        else if (!file->payload && !c->bag->sealed && !tag_manifest && c->has_tag_list
                 && !listed(c, file, false))
            mb_bag_say(c, c->warnings, file->path, "lies beside the bag's own files, and nothing"
                                                   " shows whether it was changed");
    }
    for (size_t i = 1; i < c->count; i++)
        if (strcasecmp(c->files[i - 1].path, c->files[i].path) == 0)
            mb_bag_say(c, c->warnings, c->files[i].path,
                       "differs from another name in the bag only by capital letters");
}

static void check_oxum(struct mb_bag_checking *c)
{
    struct mb_str given = mb_bag_info(c->bag->info, "Payload-Oxum");
    long long bytes = 0, count = 0;
    const char *found;

    for (size_t i = 0; i < c->count; i++)
        if (c->files[i].payload) {
            bytes += c->files[i].bytes;
            count++;
        }
    c->bag->payload_bytes = bytes;
    found = mb_arena_printf(c->arena, "%lld.%lld", bytes, count);
    if (given.at && !mb_str_is(given, found))
        mb_bag_say(c, c->faults, "bag-info.txt", "says that the payload is %.*s (bytes.files), and"
                                                 " it is %s", MB_STR_ARG(given), found);
}

/* ---- sealed bags ---- */

/* The tag manifest as it has to be, byte for byte. */
static struct mb_str tag_list_due(struct mb_bag_checking *c, size_t which)
{
    MB_BUF_AUTO struct mb_buf buf;

    mb_buf_init(&buf, 1 << 20);
    for (size_t i = 0; i < c->count; i++) {
        const char *sum = c->files[i].sums[which];

        if (!c->files[i].payload && !is_tag_manifest(c->files[i].path))
            mb_buf_printf(&buf, "%s  %s\n", sum ? mb_lower(c->arena, mb_str_of(sum)) : "-",
                          mb_bag_path_write(c->arena, c->files[i].path));
    }
    return mb_arena_str(c->arena, mb_buf_str(&buf));
}

static void check_seal(struct mb_bag_checking *c)
{
    static const char *const needed[] = { "manifest-sha256.txt", "manifest-sha512.txt",
                                          "tagmanifest-sha256.txt", "tagmanifest-sha512.txt" };
    size_t needed_count = sizeof needed / sizeof *needed;

    for (size_t k = 0; k < needed_count; k++)
        if (!mb_bag_seen(c, needed[k]))
            mb_bag_say(c, c->faults, needed[k], "is missing from a sealed bag");
    for (size_t i = 0; i < c->list_count; i++) {
        bool known = false;

        for (size_t k = 0; k < needed_count; k++)
            known = known || strcmp(needed[k], c->lists[i].name) == 0;
        if (!known)
            mb_bag_say(c, c->faults, c->lists[i].name, "was added to a sealed bag");
        else if (!c->lists[i].payload
                 && !mb_str_equal(c->lists[i].bytes, tag_list_due(c, i)))
            mb_bag_say(c, c->faults, c->lists[i].name,
                       "was changed: its lines are not those of a sealed bag");
    }
}

/* ---- the whole ---- */

static enum mb_rc read_info(struct mb_bag_checking *c, struct mb_error *err)
{
    struct mb_str bytes, text;
    enum mb_rc rc;

    c->bag->info = mb_json_array(c->arena);
    if (!mb_bag_seen(c, "bag-info.txt"))
        return MB_OK;
    rc = mb_file_read(c->arena, mb_path_join(c->arena, c->bag->folder, "bag-info.txt"), INFO_MAX,
                      &bytes, err);
    if (!rc)
        rc = mb_bag_recode(c->arena, c->bag->form.encoding, bytes, &text, err);
    if (!rc)
        rc = mb_bag_info_read(c->arena, text, &c->bag->info, err);
    if (rc)
        mb_fail_where(err, "bag-info.txt");
    if (rc == MB_REFUSED) {
        mb_bag_say(c, c->faults, "bag-info.txt", "%s", err->text);
        *err = (struct mb_error){ 0 };
        return MB_OK;
    }
    c->bag->sealed = mb_bag_info(c->bag->info, MB_BAG_SEALED).at != NULL;
    return rc;
}

static void hand_over(struct mb_bag_checking *c)
{
    struct mb_bag *bag = c->bag;

    bag->files = MB_ARRAY(c->arena, c->count + 1, struct mb_bag_file);
    for (size_t i = 0; i < c->count; i++)
        bag->files[bag->count++] = (struct mb_bag_file){ c->files[i].path, c->files[i].bytes,
                                                         c->files[i].payload,
                                                         c->files[i].sha256 };
    bag->faults = c->faults;
    bag->warnings = c->warnings;
}

static enum mb_rc check(struct mb_bag_checking *c, struct mb_error *err)
{
    struct mb_str form;
    enum mb_rc rc = mb_file_read(c->arena, mb_path_join(c->arena, c->bag->folder, "bagit.txt"),
                                 FORM_MAX, &form, err);

    if (!rc)
        rc = take_tree(c, err);
    if (rc)
        return rc;
    rc = mb_bag_form_read(c->arena, form, &c->bag->form, err);
    if (rc == MB_REFUSED) { /* a bag, but not one that holds */
        mb_bag_say(c, c->faults, "bagit.txt", "%s", err->text + strlen("bagit.txt "));
        *err = (struct mb_error){ 0 };
        return MB_OK;
    }
    if (!rc)
        rc = read_info(c, err);
    if (!rc)
        rc = mb_bag_lists_read(c, err);
    if (rc)
        return rc;
    check_listed(c);
    check_oxum(c);
    if (c->bag->sealed)
        check_seal(c);
    return check_all_sums(c, err);
}

enum mb_rc mb_bag_check(mb_arena *arena, const char *folder, const struct mb_bag **out,
                        struct mb_error *err)
{
    struct mb_error local = { 0 };
    struct mb_bag_checking c = { .arena = arena };
    enum mb_rc rc;

    c.bag = MB_NEW(arena, struct mb_bag);
    c.bag->folder = folder;
    c.faults = mb_json_array(arena);
    c.warnings = mb_json_array(arena);
    rc = check(&c, err ? err : &local);
    if (rc)
        return rc;
    hand_over(&c);
    *out = c.bag;
    return c.faults->count > 0 ? MB_NO : MB_OK;
}

const struct mb_bag_file *mb_bag_find(const struct mb_bag *bag, const char *path)
{
    for (size_t low = 0, high = bag->count; low < high;) {
        size_t middle = low + (high - low) / 2;
        int order = strcmp(bag->files[middle].path, path);

        if (order == 0)
            return &bag->files[middle];
        if (order < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return NULL;
}
