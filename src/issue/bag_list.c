#include "bag_list.h"

#include <string.h>

#include "codec.h"
#include "digest.h"
#include "fileio.h"
#include "text.h"

enum { LIST_MAX = 256 << 20 };

static bool blank(char c)
{
    return c == ' ' || c == '\t';
}

static bool is_hex(struct mb_str text)
{
    for (size_t i = 0; i < text.len; i++)
        if (!strchr("0123456789abcdefABCDEF", text.at[i]) || text.at[i] == '\0')
            return false;
    return true;
}

/* The path as written, "./" before it taken off with a warning. */
static struct mb_str path_of(struct mb_bag_checking *c, const char *list, struct mb_str written)
{
    struct mb_str path = mb_bag_path_read(c->arena, written, c->bag->form.major >= 1);

    if (mb_str_starts(path, "./")) {
        mb_bag_say(c, c->warnings, list, "has a path that begins with ./");
        path.at += 2;
        path.len -= 2;
    }
    return path;
}

/* A file that is named and not there. */
static void missing(struct mb_bag_checking *c, const struct mb_bag_manifest *list,
                    const char *path)
{
    MB_JSON_EACH(fault, c->faults)
        if (mb_json_text_is(mb_json_get(fault, "file"), path))
            return;
    mb_bag_say(c, c->faults, path, "is missing; %s names it", list->name);
}

static void take_sum(struct mb_bag_checking *c, size_t which, struct mb_str sum,
                     struct mb_str path)
{
    const struct mb_bag_manifest *list = &c->lists[which];
    const char *name = mb_arena_copy(c->arena, path.at, path.len);
    struct mb_bag_seen *file = mb_bag_seen(c, name);
    char *hex = mb_arena_copy(c->arena, sum.at, sum.len);

    if (!file) {
        missing(c, list, name);
        return;
    }
    if (file->sums[which]) {
        bool same = strcasecmp(file->sums[which], hex) == 0;

        if (!same || c->bag->form.major >= 1)
            mb_bag_say(c, c->faults, name, "stands twice in %s%s", list->name,
                       same ? "" : ", with two different checksums");
        else
            mb_bag_say(c, c->warnings, name, "stands twice in %s", list->name);
        return;
    }
    file->sums[which] = hex;
}

static void take_line(struct mb_bag_checking *c, size_t which, struct mb_str line, size_t at)
{
    const struct mb_bag_manifest *list = &c->lists[which];
    struct mb_str sum = line, path;
    const char *bad;
    size_t n = 0;

    while (n < line.len && !blank(line.at[n]))
        n++;
    sum.len = n;
    while (n < line.len && blank(line.at[n]))
        n++;
    path = (struct mb_str){ line.at + n, line.len - n };
    if (path.len > 0 && path.at[0] == '*' && c->bag->form.major < 1) {
        mb_bag_say(c, c->warnings, list->name, "has a * before a path, as md5sum writes it");
        path.at++;
        path.len--;
    }
    if (sum.len != 2 * mb_digest_size(list->algorithm) || !is_hex(sum) || path.len == 0) {
        mb_bag_say(c, c->faults, list->name, "line %zu is no checksum and path", at);
        return;
    }
    path = path_of(c, list->name, path);
    bad = mb_bag_path_bad(path);
    if (bad)
        mb_bag_say(c, c->faults, list->name, "line %zu has %s: %.*s", at, bad, MB_STR_ARG(path));
    else if (mb_str_starts(path, "data/") != list->payload)
        mb_bag_say(c, c->faults, list->name, "line %zu names a file that is %s data/: %.*s", at,
                   list->payload ? "not in" : "in", MB_STR_ARG(path));
    else
        take_sum(c, which, sum, path);
}

static enum mb_rc tag_text(struct mb_bag_checking *c, const char *name, struct mb_str *bytes,
                           struct mb_str *text, struct mb_error *err)
{
    enum mb_rc rc = mb_file_read(c->arena, mb_path_join(c->arena, c->bag->folder, name), LIST_MAX,
                                 bytes, err);

    if (!rc)
        rc = mb_bag_recode(c->arena, c->bag->form.encoding, *bytes, text, err);
    if (rc == MB_REFUSED) {
        mb_bag_say(c, c->faults, name, "%s", err->text);
        *err = (struct mb_error){ 0 };
        *text = (struct mb_str){ NULL, 0 };
        rc = MB_OK;
    }
    return rc;
}

static enum mb_rc read_list(struct mb_bag_checking *c, size_t which, struct mb_error *err)
{
    struct mb_bag_manifest *list = &c->lists[which];
    struct mb_str text, line;
    size_t at = 0;
    enum mb_rc rc = tag_text(c, list->name, &list->bytes, &text, err);

    if (rc)
        return rc;
    while (mb_bag_line(&text, &line)) {
        at++;
        if (mb_str_trim(line).len > 0)
            take_line(c, which, line, at);
    }
    return MB_OK;
}

/* "manifest-sha512.txt", "tagmanifest-md5.txt": the algorithm, NULL for another name. */
static const char *algorithm_of(mb_arena *arena, const char *name, bool *payload)
{
    size_t len = strlen(name), head;

    if (strncmp(name, "manifest-", 9) == 0)
        head = 9;
    else if (strncmp(name, "tagmanifest-", 12) == 0)
        head = 12;
    else
        return NULL;
    if (strchr(name, '/') || len <= head + 4 || strcmp(name + len - 4, ".txt") != 0)
        return NULL;
    *payload = head == 9;
    return mb_arena_copy(arena, name + head, len - head - 4);
}

static enum mb_rc find_lists(struct mb_bag_checking *c, struct mb_error *err)
{
    bool any = false;

    for (size_t i = 0; i < c->count; i++) {
        struct mb_bag_manifest list = { .name = c->files[i].path };

        list.algorithm = algorithm_of(c->arena, list.name, &list.payload);
        if (!list.algorithm)
            continue;
        if (mb_digest_size(list.algorithm) == 0)
            return mb_fail(err, MB_UNABLE, "%s: checksums of the kind %s are not known here",
                           list.name, list.algorithm);
        if (c->list_count == MB_BAG_LISTS_MAX)
            return mb_fail(err, MB_UNABLE, "the bag has more than %d manifests",
                           MB_BAG_LISTS_MAX);
        c->lists[c->list_count++] = list;
        any = any || list.payload;
        c->has_tag_list = c->has_tag_list || !list.payload;
    }
    if (!any)
        mb_bag_say(c, c->faults, "manifest-sha512.txt",
                   "is missing: the bag has no manifest of what it carries");
    return MB_OK;
}

/* ---- fetch.txt ---- */

static bool word(struct mb_str *line, struct mb_str *out)
{
    size_t n = 0;

    while (n < line->len && !blank(line->at[n]))
        n++;
    *out = (struct mb_str){ line->at, n };
    while (n < line->len && blank(line->at[n]))
        n++;
    *line = (struct mb_str){ line->at + n, line->len - n };
    return out->len > 0;
}

static void fetch_line(struct mb_bag_checking *c, struct mb_str line, size_t at)
{
    struct mb_str url, length;
    const char *bad, *name;

    if (!word(&line, &url) || !word(&line, &length) || line.len == 0) {
        mb_bag_say(c, c->faults, "fetch.txt", "line %zu is no address, length and path", at);
        return;
    }
    line = path_of(c, "fetch.txt", line);
    bad = mb_bag_path_bad(line);
    if (!bad && !mb_str_starts(line, "data/"))
        bad = "a path outside data/";
    if (bad) {
        mb_bag_say(c, c->faults, "fetch.txt", "line %zu has %s: %.*s", at, bad, MB_STR_ARG(line));
        return;
    }
    name = mb_arena_copy(c->arena, line.at, line.len);
    if (!mb_bag_seen(c, name))
        mb_bag_say(c, c->faults, name, "is not in the bag: fetch.txt says that it has to be"
                                       " fetched, which is not done here");
}

static enum mb_rc read_fetch(struct mb_bag_checking *c, struct mb_error *err)
{
    struct mb_str bytes, text, line;
    size_t at = 0;
    enum mb_rc rc;

    if (!mb_bag_seen(c, "fetch.txt"))
        return MB_OK;
    rc = tag_text(c, "fetch.txt", &bytes, &text, err);
    while (!rc && mb_bag_line(&text, &line)) {
        at++;
        if (mb_str_trim(line).len > 0)
            fetch_line(c, line, at);
    }
    return rc;
}

enum mb_rc mb_bag_lists_read(struct mb_bag_checking *c, struct mb_error *err)
{
    enum mb_rc rc = find_lists(c, err);

    if (!rc)
        rc = read_fetch(c, err);
    for (size_t i = 0; i < c->list_count && !rc; i++)
        rc = read_list(c, i, err);
    return rc;
}
