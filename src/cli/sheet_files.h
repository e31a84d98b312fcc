/* Where the files of issued sheets go, and writing them. */
#ifndef MB_SHEET_FILES_H
#define MB_SHEET_FILES_H

#include <markerbed/certificate.h>

#include "command.h"

struct sheet_files {
    const char *certificate, *sheet, *web; /* paths */
};

/* For certificate `which` of `all`, over specimens named `id` and `more` others. MB_REFUSED if a
 * file is there already or the folder cannot be written: asked before anything is signed. */
MB_CHECK enum mb_rc sheet_files_choose(const struct call *call, const char *id, size_t more,
                                       size_t all, struct sheet_files *out, struct mb_error *err);
/* Makes the pages (PDF and HTML) out of a certificate and writes all three. */
MB_CHECK enum mb_rc sheet_files_write(const struct call *call, mb_arena *arena,
                                      const struct sheet_files *files, struct mb_str certificate,
                                      struct mb_error *err);
/* Where a preview's two pages go; those of an earlier preview are written over. MB_REFUSED if the
 * folder cannot be written. */
MB_CHECK enum mb_rc sheet_files_preview(const struct call *call, const char *id, size_t more,
                                        size_t all, struct sheet_files *out, struct mb_error *err);
/* The page alone; code may be NULL. */
MB_CHECK enum mb_rc sheet_files_page(const struct call *call, mb_arena *arena, const char *path,
                                     struct mb_str certificate, const struct mb_paper_code *code,
                                     struct mb_error *err);
MB_CHECK enum mb_rc sheet_files_write_pages(const struct sheet_files *files,
                                            const struct mb_sheet_pages *pages,
                                            struct mb_error *err);

#endif
