#include <markerbed/record.h>
#include <markerbed/verify.h>

#include "buf.h"
#include "docs.h"
#include "fileio.h"
#include "wording.h"

enum { DOCUMENT_MAX = 16 << 20 };

static const struct {
    const char *name;
    enum mb_rc (*write)(struct mb_buf *buf, mb_arena *arena, struct mb_error *err);
} documents[] = {
    { "markerbed.1", docs_manual },
    { "markerbed.bash", docs_completion },
    { "kinds.md", docs_kinds },
    { "findings.md", docs_findings },
};
enum { DOCUMENT_COUNT = sizeof documents / sizeof *documents };

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *folder = call->words[0];
    mb_json *written = mb_json_array(call->arena);
    enum mb_rc rc = mb_folder_make(folder, 0755, err);

    for (size_t i = 0; i < DOCUMENT_COUNT && rc == MB_OK; i++) {
        const char *path = mb_path_join(call->arena, folder, documents[i].name);
        MB_BUF_AUTO struct mb_buf buf;

        mb_buf_init(&buf, DOCUMENT_MAX);
        rc = documents[i].write(&buf, call->arena, err);
        if (rc == MB_OK)
            rc = mb_file_write(path, mb_buf_str(&buf), 0644, err);
        if (rc == MB_OK)
            mb_json_add_text(call->arena, written, path);
    }
    if (rc == MB_OK)
        call->result = written;
    return rc;
}

static void tell(const struct call *call, const struct screen *screen)
{
    MB_JSON_EACH(path, call->result)
        screen_say(screen, PLAIN, 0, "%s", wording(call->arena, path));
}

static const char *const usage[] = { "FOLDER", NULL };

static const struct example examples[] = {
    { "As the build does it", "markerbed docs build/docs" },
    { 0 },
};

const struct command cmd_docs = {
    .name = "docs",
    .group = "This program",
    .line = "write the man page, completion and lists that come out of the program",
    .usage = usage,
    .about = "Writes markerbed.1, markerbed.bash, kinds.md and findings.md into a folder.",
    .examples = examples,
    .flags = HIDDEN,
    .words_min = 1,
    .words_max = 1,
    .words = OFFER_FOLDERS,
    .run = run,
    .tell = tell,
};
