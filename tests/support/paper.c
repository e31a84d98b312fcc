#include "paper.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <markerbed/certificate.h>
#include <markerbed/verify.h>

#include "bundle.h"
#include "fileio.h"
#include "text.h"

enum { PATHS_MOST = 16 };

static void must(enum mb_rc rc, const struct mb_error *err)
{
    if (rc) {
        fprintf(stderr, "a certificate of this test: %s\n", err->text);
        abort();
    }
}

/* ---- issuing ---- */

static const char *const *words(mb_arena *arena, const char *text, size_t *count)
{
    struct mb_str rest = mb_str_of(text), one;
    const char **list = MB_ARRAY(arena, rest.len / 2 + 2, const char *);

    *count = 0;
    while (rest.len) {
        mb_str_cut(rest, ' ', &one, &rest);
        list[(*count)++] = mb_arena_copy(arena, one.at, one.len);
    }
    return list;
}

static const struct mb_withhold *withheld(mb_arena *arena, const char *text, size_t *count)
{
    struct mb_str rest = mb_str_of(text), one, field, reason;
    struct mb_withhold *list = MB_ARRAY(arena, rest.len + 1, struct mb_withhold);

    *count = 0;
    while (rest.len) {
        mb_str_cut(rest, '|', &one, &rest);
        mb_str_cut(one, ':', &field, &reason);
        field = mb_str_trim(field);
        reason = mb_str_trim(reason);
        list[(*count)++] =
            (struct mb_withhold){ mb_arena_copy(arena, field.at, field.len),
                                  mb_arena_copy(arena, reason.at, reason.len) };
    }
    return list;
}

enum mb_rc paper_issue(struct workbench *b, struct paper_wish wish)
{
    struct mb_issue issue = { .audience = wish.audience, .to = wish.to, .preview = wish.preview,
                               .unmarked = !wish.marked };

    b->err = (struct mb_error){ 0 };
    b->out = NULL;
    issue.specimens = words(b->arena, wish.specimens, &issue.count);
    issue.reveal = words(b->arena, wish.reveal, &issue.reveal_count);
    issue.withhold = withheld(b->arena, wish.withhold, &issue.withhold_count);
    return mb_certificate_issue(b->ledger, b->arena, &issue, &b->out, &b->err);
}

const char *paper_must(struct workbench *b, struct paper_wish wish)
{
    must(paper_issue(b, wish), &b->err);
    return mb_json_cstr(b->arena, mb_json_get(b->out, "file"));
}

/* ---- looking inside ---- */

static struct mb_bundle opened(struct workbench *b, const char *file)
{
    struct mb_bundle bundle;
    struct mb_error err = { 0 };
    const mb_json *json;

    must(mb_json_read(b->arena, mb_str_of(file), MB_JSON_STRICT, &json, &err), &err);
    must(mb_bundle_read(b->arena, json, &bundle, &err), &err);
    for (size_t i = 0; i < bundle.count; i++)
        must(mb_entry_read_sd(b->arena, bundle.entries[i].sd_jwt, &bundle.entries[i].entry, &err),
             &err);
    return bundle;
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* Sorted; equal ones once, with how many there are if `counted`. */
static const char *listed(mb_arena *arena, const char **list, size_t count, bool counted)
{
    char *out = mb_arena_text(arena, "");

    if (count)
        qsort(list, count, sizeof *list, by_text);
    for (size_t i = 0, n; i < count; i += n) {
        for (n = 1; i + n < count && strcmp(list[i], list[i + n]) == 0; n++)
            ;
        out = mb_arena_printf(arena, "%s%s%s", out, *out ? ", " : "", list[i]);
        if (counted)
            out = mb_arena_printf(arena, "%s %zu", out, n);
    }
    return out;
}

const char *paper_holds(struct workbench *b, const char *file)
{
    struct mb_bundle bundle = opened(b, file);
    const char **list = MB_ARRAY(b->arena, bundle.count + 1, const char *);

    for (size_t i = 0; i < bundle.count; i++) {
        struct mb_str sub = bundle.entries[i].entry.sub;

        list[i] = mb_str_starts(sub, "key/") ? "key" : mb_arena_copy(b->arena, sub.at, sub.len);
    }
    return listed(b->arena, list, bundle.count, true);
}

const char *paper_shows(struct workbench *b, const char *file, const char *subject)
{
    struct mb_bundle bundle = opened(b, file);
    const char **list = MB_ARRAY(b->arena, 4096, const char *);
    size_t count = 0;

    for (size_t i = 0; i < bundle.count; i++) {
        const struct mb_entry *entry = &bundle.entries[i].entry;

        for (size_t j = 0; mb_str_is(entry->sub, subject) && j < entry->disclosure_count; j++) {
            const struct mb_disclosure *d = &entry->disclosures[j];

            if (d->name.at && count < 4096)
                list[count++] = mb_arena_printf(b->arena, "%.*s.%.*s", MB_STR_ARG(entry->kind),
                                                MB_STR_ARG(d->name));
        }
    }
    return listed(b->arena, list, count, false);
}

const char *paper_line(struct workbench *b, const char *file, size_t which, const char *name)
{
    struct mb_bundle bundle = opened(b, file);

    for (size_t i = 0; i < bundle.count; i++) {
        const mb_json *statement =
            mb_entry_field(&bundle.entries[i].entry, "statement", NULL);

        if (!statement || which-- > 0)
            continue;
        MB_JSON_EACH(line, mb_json_get(statement, "lines"))
        {
            struct mb_str json;

            if (!mb_json_text_is(mb_json_get(line, "name"), name))
                continue;
            json = mb_json_write(b->arena, mb_json_get(line, "value"));
            return mb_arena_copy(b->arena, json.at, json.len);
        }
        break;
    }
    return "";
}

size_t paper_withheld(struct workbench *b, const char *file, const char *reason)
{
    struct mb_bundle bundle = opened(b, file);
    size_t count = 0;

    MB_JSON_EACH(row, mb_entry_open(&bundle.entries[bundle.count - 1].entry, "withheld"))
    {
        count += mb_json_text_is(mb_json_get(row, "reason"), reason);
    }
    return count;
}

size_t paper_files(struct workbench *b, const char *file)
{
    return opened(b, file).file_count;
}

const char *paper_decoded(struct workbench *b, const char *file)
{
    size_t len = strlen(file), at = len, n;
    char *out = mb_arena_get(b->arena, 2 * len + 2);

    memcpy(out, file, len);
    for (const char *p = file; *p; p += n + (p[n] != '\0')) {
        size_t bytes;

        n = strcspn(p, "\"~.");
        if (n < 8 || !mb_b64u_read((struct mb_str){ p, n }, out + at + 1, &bytes))
            continue;
        out[at] = '\n';
        for (size_t i = 1; i <= bytes; i++)
            if (out[at + i] == '\0')
                out[at + i] = ' ';
        at += bytes + 1;
    }
    out[at] = '\0';
    return out;
}

/* ---- having it judged ---- */

const char *paper_file(struct workbench *b, const char *name, struct mb_str bytes)
{
    const char *path = mb_arena_printf(b->arena, "%s/../%s", b->folder, name);

    must(mb_file_write(path, bytes, 0600, &b->err), &b->err);
    return path;
}

const char *paper_trust(struct workbench *b)
{
    const mb_json *about = NULL;
    const char *line;

    must(mb_ledger_about(b->ledger, b->arena, &about, &b->err), &b->err);
    line = mb_arena_printf(b->arena, "ledger %s %s\n", WORKBENCH_ORIGIN,
                           mb_json_cstr(b->arena, mb_json_get(about, "fingerprint")));
    return paper_file(b, "trust", mb_str_of(line));
}

static const char *judge(struct workbench *b, const struct mb_verify *verify)
{
    const char **names = MB_ARRAY(b->arena, 2000, const char *);
    size_t count = 0;
    const char *list;
    enum mb_rc rc;

    b->err = (struct mb_error){ 0 };
    b->out = NULL;
    rc = mb_verify(b->arena, verify, &b->out, &b->err);
    if (!b->out)
        return mb_arena_printf(b->arena, "%d: %s", rc, b->err.text);
    MB_JSON_EACH(finding, mb_json_get(b->out, "findings"))
    {
        if (count < 2000)
            names[count++] = mb_json_cstr(b->arena, mb_json_get(finding, "name"));
    }
    list = listed(b->arena, names, count, false);
    return mb_arena_printf(b->arena, "%d%s%s", rc, *list ? " " : "", list);
}

const char *paper_judge(struct workbench *b, const char *trust, ...)
{
    const char *paths[PATHS_MOST];
    struct mb_verify verify = { .paths = paths, .trust_path = trust, .threads = 1 };
    va_list args;

    va_start(args, trust);
    for (const char *path; (path = va_arg(args, const char *)) && verify.count < PATHS_MOST;)
        paths[verify.count++] = path;
    va_end(args);
    return judge(b, &verify);
}

const char *paper_judge_text(struct workbench *b, const char *trust, const char *file)
{
    return paper_judge(b, trust, paper_file(b, "judged.json", mb_str_of(file)), NULL);
}
