#include "sheet_files.h"

#include <markerbed/certificate.h>

#include <string.h>
#include <unistd.h>

#include "fileio.h"
#include "text.h"

#define CERTIFICATE_ENDING ".certificate.json"
#define PAGE_ENDING ".pdf"
#define WEB_ENDING ".html"

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

static enum mb_rc check_free(const struct call *call, const char *path, struct mb_error *err)
{
    const char *folder = folder_of(call->arena, path);

    if (mb_file_exists(path))
        return mb_fail(err, MB_REFUSED,
                       "%s is there already; move it away, or choose another name with --out",
                       path);
    if (access(folder, W_OK | X_OK) != 0)
        return mb_fail(err, MB_REFUSED, "cannot write into %s: %m", folder);
    return MB_OK;
}

enum mb_rc sheet_files_choose(const struct call *call, const char *id, size_t more, size_t all,
                              struct sheet_files *out, struct mb_error *err)
{
    mb_arena *arena = call->arena;
    const char *where = call_value(call, "out"), *base = base_of_file(arena, where);
    const char *name = mb_path_name(id);
    enum mb_rc rc;

    if (base != NULL && all > 1)
        return mb_fail(err, MB_REFUSED,
                       "--out names one file, and %zu certificates are made; name a folder", all);
    if (base == NULL) {
        if (more > 0)
            name = mb_arena_printf(arena, "%s-and-%zu-more", name, more);
        if (where != NULL) {
            rc = mb_folder_make(where, FOLDER_MODE, err);
            if (rc != MB_OK)
                return rc;
        }
        base = where != NULL ? mb_path_join(arena, where, name) : name;
    }
    out->certificate = mb_arena_printf(arena, "%s%s", base, CERTIFICATE_ENDING);
    out->sheet = mb_arena_printf(arena, "%s%s", base, PAGE_ENDING);
    out->web = mb_arena_printf(arena, "%s%s", base, WEB_ENDING);
    rc = check_free(call, out->certificate, err);
    if (rc == MB_OK)
        rc = check_free(call, out->sheet, err);
    return rc == MB_OK ? check_free(call, out->web, err) : rc;
}

/* A web page where the file is named like one, else the page to print. */
enum mb_rc sheet_files_page(const struct call *call, const char *path, struct mb_str certificate,
                            struct mb_error *err)
{
    const char *paper = call_value(call, "paper");
    struct mb_str page;
    enum mb_rc rc =
        without_ending(call->arena, path, WEB_ENDING) != NULL
            ? mb_sheet_html(call->arena, certificate, &page, err)
            : mb_sheet_pdf(call->arena, certificate, paper != NULL ? paper : "A4", &page, err);

    return rc == MB_OK ? mb_file_create(path, page, FILE_MODE, err) : rc;
}

enum mb_rc sheet_files_write(const struct call *call, const struct sheet_files *files,
                             struct mb_str certificate, struct mb_error *err)
{
    enum mb_rc rc = mb_file_create(files->certificate, certificate, FILE_MODE, err);

    if (rc == MB_OK)
        rc = sheet_files_page(call, files->sheet, certificate, err);
    return rc == MB_OK ? sheet_files_page(call, files->web, certificate, err) : rc;
}
