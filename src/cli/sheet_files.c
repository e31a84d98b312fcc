#include "sheet_files.h"

#include <markerbed/certificate.h>

#include <string.h>
#include <unistd.h>

#include "fileio.h"
#include "text.h"

#define CERTIFICATE_ENDING ".certificate.json"
#define PAGE_ENDING ".pdf"
#define WEB_ENDING ".html"
#define PREVIEW_ENDING ".preview"

enum { FILE_MODE = 0644, FOLDER_MODE = 0755 };

static const char *without_ending(mb_arena *arena, const char *path, const char *ending)
{
    size_t len = strlen(path), end = strlen(ending);

    if (len <= end || strcmp(path + len - end, ending) != 0)
        return NULL;
    return mb_arena_copy(arena, path, len - end);
}

/* --out names a file if it ends like one of ours; the base that both files share. */
static const char *base_of_file(mb_arena *arena, const char *out)
{
    static const char *const endings[] = { CERTIFICATE_ENDING, PAGE_ENDING, WEB_ENDING,
                                          ".json" };

    for (size_t i = 0; out != NULL && i < sizeof endings / sizeof *endings; i++) {
        const char *base = without_ending(arena, out, endings[i]);
        if (base != NULL)
            return base;
    }
    return NULL;
}

static const char *folder_of(mb_arena *arena, const char *path)
{
    size_t len = (size_t)(mb_path_name(path) - path);

    return len == 0 ? "." : mb_arena_copy(arena, path, len);
}

static enum mb_rc check_folder(const struct call *call, const char *path, struct mb_error *err)
{
    const char *folder = folder_of(call->arena, path);

    if (access(folder, W_OK | X_OK) != 0)
        return mb_fail(err, MB_REFUSED, "cannot write into %s: %m; name another with --out",
                       folder);
    return MB_OK;
}

static enum mb_rc check_free(const struct call *call, const char *path, struct mb_error *err)
{
    if (mb_file_exists(path))
        return mb_fail(err, MB_REFUSED,
                       "%s is there already; move it away, or choose another name with --out",
                       path);
    return check_folder(call, path, err);
}

/* What the names of all its files begin with; makes the folder. */
static enum mb_rc choose_base(const struct call *call, const char *id, size_t more, size_t all,
                              const char **out, struct mb_error *err)
{
    mb_arena *arena = call->arena;
    const char *where = call_value(call, "out"), *base = base_of_file(arena, where);
    const char *name = mb_path_name(id);
    enum mb_rc rc = MB_OK;

    if (base != NULL && all > 1)
        return mb_fail(err, MB_REFUSED,
                       "--out names one file, and %zu certificates are made; name a folder", all);
    if (base == NULL) {
        if (more > 0)
            name = mb_arena_printf(arena, "%s-and-%zu-more", name, more);
        if (where != NULL)
            rc = mb_folder_make(where, FOLDER_MODE, err);
        base = where != NULL ? mb_path_join(arena, where, name) : name;
    }
    *out = base;
    return rc;
}

enum mb_rc sheet_files_choose(const struct call *call, const char *id, size_t more, size_t all,
                              struct sheet_files *out, struct mb_error *err)
{
    mb_arena *arena = call->arena;
    const char *base;
    enum mb_rc rc = choose_base(call, id, more, all, &base, err);

    if (rc != MB_OK)
        return rc;
    out->certificate = mb_arena_printf(arena, "%s%s", base, CERTIFICATE_ENDING);
    out->sheet = mb_arena_printf(arena, "%s%s", base, PAGE_ENDING);
    out->web = mb_arena_printf(arena, "%s%s", base, WEB_ENDING);
    rc = check_free(call, out->certificate, err);
    if (rc == MB_OK)
        rc = check_free(call, out->sheet, err);
    return rc == MB_OK ? check_free(call, out->web, err) : rc;
}

enum mb_rc sheet_files_preview(const struct call *call, const char *id, size_t more, size_t all,
                               struct sheet_files *out, struct mb_error *err)
{
    mb_arena *arena = call->arena;
    const char *base, *shorter;
    enum mb_rc rc = choose_base(call, id, more, all, &base, err);

    if (rc != MB_OK)
        return rc;
    shorter = without_ending(arena, base, PREVIEW_ENDING); /* --out x.preview.pdf */
    base = shorter != NULL ? shorter : base;
    out->sheet = mb_arena_printf(arena, "%s" PREVIEW_ENDING "%s", base, PAGE_ENDING);
    out->web = mb_arena_printf(arena, "%s" PREVIEW_ENDING "%s", base, WEB_ENDING);
    return check_folder(call, out->sheet, err);
}

/* A web page where the file is named like one, else the page to print. */
enum mb_rc sheet_files_page(const struct call *call, mb_arena *arena, const char *path,
                            struct mb_str certificate, const struct mb_paper_code *code,
                            struct mb_error *err)
{
    const char *paper = call_value(call, "paper");
    struct mb_str page;
    enum mb_rc rc = without_ending(arena, path, WEB_ENDING) != NULL
                        ? mb_sheet_html(arena, certificate, code, &page, err)
                        : mb_sheet_pdf(arena, certificate, paper != NULL ? paper : "A4", code,
                                       &page, err);

    return rc == MB_OK ? mb_file_create(path, page, FILE_MODE, err) : rc;
}

enum mb_rc sheet_files_write(const struct call *call, mb_arena *arena,
                             const struct sheet_files *files, struct mb_str certificate,
                             struct mb_error *err)
{
    struct mb_paper_code code = { NULL, NULL };
    enum mb_rc rc = mb_file_create(files->certificate, certificate, FILE_MODE, err);

    if (rc == MB_OK)
        rc = mb_sheet_code(call->ledger, arena, certificate, &code, err);
    if (rc == MB_OK)
        rc = sheet_files_page(call, arena, files->sheet, certificate, &code, err);
    return rc == MB_OK ? sheet_files_page(call, arena, files->web, certificate, &code, err) : rc;
}

enum mb_rc sheet_files_write_pages(const struct sheet_files *files,
                                   const struct mb_sheet_pages *pages, struct mb_error *err)
{
    enum mb_rc rc = mb_file_write(files->sheet, pages->pdf, FILE_MODE, err);

    return rc == MB_OK ? mb_file_write(files->web, pages->html, FILE_MODE, err) : rc;
}
