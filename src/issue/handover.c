#include <markerbed/handover.h>
#include <markerbed/land.h>

#include <string.h>

#include "attach.h"
#include "bag_check.h"
#include "bag_write.h"
#include "buf.h"
#include "dwca.h"
#include "fileio.h"
#include "packs.h"
#include "papers.h"
#include "readiness.h"
#include "registrar.h"
#include "session.h"
#include "text.h"

enum { INDEX_MAX = 64 << 20, SPECIMENS_MAX = 500 };

static const char *const as_names[] = { "gift", "loan", "deposit", "none" };
static const char *const form_files[] = { "forms/deed-of-gift-draft.pdf", "forms/loan-draft.pdf",
                                          "forms/repository-receipt-draft.pdf" };

/* Many pieces take much memory in each of three steps: looking, issuing, filling the bag. So each
 * has `arena` for itself, emptied behind it; what outlives it is copied to `kept`, the caller's. */
struct making {
    mb_ledger *ledger;
    mb_arena *arena, *kept;
    const struct mb_handover *asked;
    struct mb_handing handing; /* at first what it would be */
    mb_bag_writer *bag;
    enum mb_handed_as as;
    const char *why;
    mb_json *readiness, *points, *warnings; /* the last in kept */
    struct mb_str certificate;
    const char *id;
    int64_t seq;
    int64_t bytes, files;
};

static enum mb_rc add(struct making *m, const char *path, struct mb_str bytes,
                      struct mb_error *err)
{
    m->bytes += (int64_t)bytes.len;
    m->files++;
    return mb_bag_add(m->bag, path, bytes, err);
}

/* ---- attached files ---- */

static enum mb_rc copy_files(struct making *m, struct mb_error *err)
{
    const char *folder = mb_log_folder(m->ledger->log);
    enum mb_rc rc = MB_OK;

    for (struct mb_handed_file *file = m->handing.files; file && !rc; file = file->next) {
        const char *hex = mb_arena_copy(m->arena, file->sha256.at, file->sha256.len);
        const char *source = mb_attach_path(m->arena, folder, hex);
        int64_t bytes = 0;

        if (!file->first)
            continue;
        if (!mb_file_exists(source)) {
            const char *gone = file->path;

            mb_json_add_text(m->kept, m->warnings,
                             mb_arena_printf(m->kept, "A file of entry %lld (%.12s…) is not in"
                                                       " the ledger any more and could not go in.",
                                             (long long)file->seq, hex));
            for (struct mb_handed_file *same = file; same; same = same->next)
                if (same->path == gone)
                    same->path = NULL;
            continue;
        }
        rc = mb_bag_copy(m->bag, file->path, source, hex, &bytes, err);
        m->bytes += bytes;
        m->files++;
    }
    return rc;
}

static enum mb_rc index_files(struct making *m, struct mb_error *err)
{
    MB_BUF_AUTO struct mb_buf buf = { 0 };

    mb_buf_init(&buf, INDEX_MAX);
    mb_buf_add_text(&buf, "file\tsubject\tkind\tentry\tfield\ttype\tbytes\tsha256\tcaption\n");
    for (const struct mb_handed_file *file = m->handing.files; file; file = file->next) {
        const char *words = mb_handing_words(&m->handing, mb_json_get(file->row, "caption"));
        char *caption = mb_arena_text(m->arena, words ? words : "");

        for (char *at = caption; *at; at++)
            if ((unsigned char)*at < ' ')
                *at = ' ';
        mb_buf_printf(&buf, "%s\t%.*s\t%.*s\t%lld\t%.*s\t%s\t%lld\t%.*s\t%s\n",
                      file->path ? file->path : "(missing)", MB_STR_ARG(file->subject),
                      MB_STR_ARG(file->kind), (long long)file->seq, MB_STR_ARG(file->field),
                      file->type ? file->type : "", (long long)file->bytes,
                      MB_STR_ARG(file->sha256), caption);
    }
    if (!mb_buf_ok(&buf))
        return mb_fail(err, MB_UNABLE, "there are too many files to list");
    return add(m, "attachments.tsv", mb_buf_str(&buf), err);
}

/* ---- tables ---- */

/* Made in h->arena, which is let go behind it. */
static enum mb_rc add_tables_of(struct making *m, const struct mb_handing *h, struct mb_error *err)
{
    struct mb_dwca_file *files;
    struct mb_archived *packed;
    struct mb_str zip;
    size_t count;
    enum mb_rc rc = mb_dwca_make(h, &files, &count, err);

    if (rc)
        return rc;
    packed = MB_ARRAY(h->arena, count, struct mb_archived);
    for (size_t i = 0; i < count && !rc; i++) {
        packed[i] = (struct mb_archived){ files[i].name, files[i].bytes };
        rc = add(m, mb_path_join(h->arena, "darwin-core", files[i].name), files[i].bytes, err);
    }
    if (!rc)
        rc = mb_archive_zip(h->arena, packed, count, h->check.certificates[0]->entry.iat, &zip,
                            err);
    return rc ? rc : add(m, "darwin-core.zip", zip, err);
}

static enum mb_rc add_tables(struct making *m, struct mb_error *err)
{
    struct mb_handing one = m->handing;
    enum mb_rc rc;

    one.arena = mb_arena_new();
    rc = add_tables_of(m, &one, err);
    mb_arena_free(one.arena);
    return rc;
}

/* ---- papers ---- */

static enum mb_rc add_forms(struct making *m, struct mb_error *err)
{
    struct mb_str pdf;
    enum mb_rc rc = mb_paper_receipt(&m->handing, true, m->asked->paper, &pdf, err);

    if (!rc)
        rc = add(m, "forms/entry-receipt.pdf", pdf, err);
    if (!rc)
        rc = mb_paper_receipt(&m->handing, false, m->asked->paper, &pdf, err);
    if (!rc)
        rc = add(m, "forms/exit-receipt.pdf", pdf, err);
    if (rc)
        return rc;
    if (m->as == MB_AS_NOTHING)
        return add(m, "forms/README.txt",
                   mb_str_of(mb_arena_printf(m->arena, "There is no deed of gift here: %s.\n"
                                                       "A loan or a deposit can be asked for with"
                                                       " --as.\n", m->why)),
                   err);
    rc = mb_paper_form(&m->handing, m->as, m->asked->paper, &pdf, err);
    return rc ? rc : add(m, form_files[m->as], pdf, err);
}

/* The measured section of each layer, with the finds that are handed over and no others. */
static enum mb_rc add_section(struct making *m, struct mb_str horizon, struct mb_error *err)
{
    const char *id = mb_arena_copy(m->arena, horizon.at, horizon.len);
    const mb_json *told;
    mb_json *section, *finds = mb_json_array(m->arena);
    struct mb_error none = { 0 };
    struct mb_str pdf;
    enum mb_rc rc;

    if (mb_section_tell(m->ledger, m->arena, id, NULL, &told, &none))
        return MB_OK; /* no thickness on record: there is nothing to draw */
    section = mb_json_copy(m->arena, told);
    MB_JSON_EACH(find, mb_json_get(told, "finds"))
    {
        mb_json *ours = mb_json_array(m->arena), *kept;

        MB_JSON_EACH(subject, mb_json_get(find, "subjects"))
            for (size_t i = 0; i < m->handing.count; i++)
                if (mb_str_equal(mb_json_str(subject), m->handing.subjects[i]))
                    mb_json_add(ours, mb_json_copy(m->arena, subject));
        if (ours->count == 0)
            continue;
        kept = mb_json_add(finds, mb_json_copy(m->arena, find));
        mb_json_put(m->arena, kept, "subjects", ours);
    }
    mb_json_put(m->arena, section, "finds", finds);
    rc = mb_section_pdf(m->arena, section, m->asked->paper, &pdf, NULL, err);
    return rc ? rc : add(m, mb_arena_printf(m->arena, "sections/%s.pdf", mb_path_name(id)), pdf,
                         err);
}

static enum mb_rc add_sections(struct making *m, struct mb_error *err)
{
    mb_json *done = mb_json_object(m->arena);
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; i < m->handing.count && !rc; i++) {
        struct mb_str horizon =
            mb_handing_ref(&m->handing, m->handing.subjects[i], "horizon", "statedHorizon");

        if (!horizon.at || mb_json_get_str(done, horizon))
            continue;
        mb_json_put_str(m->arena, done, horizon, mb_json_null(m->arena));
        rc = add_section(m, horizon, err);
    }
    return rc;
}

static enum mb_rc add_certificate(struct making *m, struct mb_error *err)
{
    struct mb_paper_code code;
    struct mb_str pdf;
    enum mb_rc rc = add(m, "certificate.json", m->certificate, err);

    if (!rc)
        rc = mb_sheet_code(m->ledger, m->arena, m->certificate, &code, err);
    if (!rc)
        rc = mb_sheet_pdf(m->arena, m->certificate, m->asked->paper, &code, &pdf, err);
    if (!rc)
        rc = add(m, "sheet.pdf", pdf, err);
    mb_arena_reset(m->arena);
    return rc;
}

static enum mb_rc add_papers(struct making *m, struct mb_error *err)
{
    struct mb_handing one = m->handing;
    struct mb_str pdf;
    enum mb_rc rc;

    one.arena = mb_arena_new();
    rc = mb_paper_record(&one, m->asked->paper, &pdf, err);
    if (!rc)
        rc = add(m, "record.pdf", pdf, err);
    mb_arena_free(one.arena);
    if (!rc)
        rc = add_sections(m, err);
    return rc ? rc : add_forms(m, err);
}

/* ---- labels ---- */

static const char *ids(struct making *m)
{
    char *out = mb_arena_text(m->arena, "");

    for (size_t i = 0; i < m->handing.count; i++)
        out = mb_arena_printf(m->arena, "%s%s%s", out, *out ? ", " : "",
                              mb_handing_id(&m->handing, i));
    return out;
}

static void label(struct making *m)
{
    const struct mb_handing *h = &m->handing;
    mb_bag_writer *bag = m->bag;

    mb_bag_label(bag, "Source-Organization", h->issuer);
    mb_bag_label(bag, "Contact-Name", h->issuer);
    mb_bag_label(bag, "External-Description",
                 mb_arena_printf(m->arena, "Fossil specimens with their signed record, handed over"
                                           " to %s: %s", h->to_words, ids(m)));
    for (size_t i = 0; i < h->count; i++)
        mb_bag_label(bag, "External-Identifier", h->pages[i]->id);
    mb_bag_label(bag, "Bagging-Date", h->day);
    mb_bag_label(bag, "Internal-Sender-Identifier", h->origin);
    mb_bag_label(bag, "Internal-Sender-Description",
                 mb_arena_printf(m->arena, "Handed over as: %s", as_names[m->as]));
    mb_bag_label(bag, "Bag-Count", "1 of 1");
    mb_bag_label(bag, "Bag-Software-Agent", "Markerbed");
    mb_bag_label(bag, MB_BAG_CERTIFICATE, "data/certificate.json");
}

/* ---- the whole ---- */

static enum mb_rc fill(struct making *m, struct mb_error *err)
{
    enum mb_rc rc = copy_files(m, err);

    if (!rc)
        rc = index_files(m, err);
    if (!rc)
        rc = add_tables(m, err);
    if (!rc)
        rc = add_papers(m, err);
    if (!rc)
        rc = add(m, "README.txt", mb_registrar_readme(&m->handing, m->points, m->readiness), err);
    if (!rc)
        label(m);
    return rc;
}

static void look(struct making *m)
{
    m->readiness = mb_json_array(m->arena);
    for (size_t i = 0; i < m->handing.count; i++) {
        mb_json *one = mb_json_add(m->readiness, mb_json_object(m->arena));

        mb_json_put_text(m->arena, one, "specimen", mb_handing_id(&m->handing, i));
        mb_json_put(m->arena, one, "missing",
                    mb_readiness_of(&m->handing, mb_handing_subject(&m->handing, i)));
    }
    m->points = mb_registrar_points(&m->handing, m->as);
}

static enum mb_rc pack(struct making *m, mb_json *out, struct mb_error *err)
{
    const char *form = m->asked->pack, *path;
    enum mb_rc rc;

    if (!form)
        return MB_OK;
    path = mb_arena_printf(m->kept, "%s.%s", m->asked->folder, form);
    rc = mb_archive_folder(m->arena, strcmp(form, "zip") == 0 ? MB_PACK_ZIP : MB_PACK_TAR_GZ,
                           m->asked->folder, mb_path_name(m->asked->folder),
                           m->handing.check.certificates[0]->entry.iat, path, err);
    if (!rc)
        mb_json_put_text(m->kept, out, "pack", path);
    return rc;
}

static enum mb_rc check_asked(const struct mb_handover *asked, mb_arena *arena,
                              struct mb_error *err)
{
    if (asked->count == 0 || asked->count > SPECIMENS_MAX)
        return mb_fail(err, MB_REFUSED, "name 1 to %d specimens", SPECIMENS_MAX);
    if (!asked->preview && (!asked->to || strcmp(asked->to, "bearer") == 0))
        return mb_fail(err, MB_REFUSED, "say who receives it: a party, as in --to P006");
    if (asked->pack && strcmp(asked->pack, "zip") != 0 && strcmp(asked->pack, "tar.gz") != 0)
        return mb_fail(err, MB_REFUSED, "'%s' is no pack; choose tar.gz or zip", asked->pack);
    if (asked->as && strcmp(asked->as, "gift") != 0 && strcmp(asked->as, "loan") != 0
        && strcmp(asked->as, "deposit") != 0)
        return mb_fail(err, MB_REFUSED,
                       "'%s' is no way to hand over; choose gift, loan or deposit", asked->as);
    if (!asked->preview && asked->pack
        && mb_file_exists(mb_arena_printf(arena, "%s.%s", asked->folder, asked->pack)))
        return mb_fail(err, MB_REFUSED, "%s.%s is there already; move it away first",
                       asked->folder, asked->pack);
    return MB_OK;
}

static mb_json *result_of(struct making *m)
{
    mb_json *out = mb_json_object(m->kept), *list = mb_json_array(m->kept);

    if (m->id) {
        mb_json_put_text(m->kept, out, "bag", m->asked->folder);
        mb_json_put_text(m->kept, out, "certificate", m->id);
        mb_json_put_int(m->kept, out, "seq", m->seq);
        mb_json_put_int(m->kept, out, "files", m->files);
        mb_json_put_int(m->kept, out, "bytes", m->bytes);
    }
    mb_json_put_text(m->kept, out, "form", as_names[m->as]);
    if (m->why)
        mb_json_put_text(m->kept, out, "formWhy", m->why);
    for (size_t i = 0; i < m->handing.count; i++)
        mb_json_add_text(m->kept, list, mb_handing_id(&m->handing, i));
    mb_json_put(m->kept, out, "specimens", list);
    mb_json_put(m->kept, out, "readiness", mb_json_copy(m->kept, m->readiness));
    mb_json_put(m->kept, out, "points", mb_json_copy(m->kept, m->points));
    mb_json_put(m->kept, out, "warnings", m->warnings);
    return out;
}

/* What it would be; *out where no more than that was asked for. */
static enum mb_rc prepare(struct making *m, mb_json **out, struct mb_error *err)
{
    const char *why = NULL;
    enum mb_rc rc = mb_handing_look(m->ledger, m->arena, m->asked->specimens, m->asked->count,
                                    &m->handing, err);

    if (!rc)
        rc = mb_papers_choose(&m->handing, m->asked->as, &m->as, &why, err);
    if (rc)
        return rc;
    m->why = why ? mb_arena_text(m->kept, why) : NULL;
    if (m->asked->preview) {
        look(m);
        *out = result_of(m);
    }
    mb_arena_reset(m->arena);
    return MB_OK;
}

static enum mb_rc issue(struct making *m, struct mb_error *err)
{
    const struct mb_issue asked = { .specimens = m->asked->specimens,
                                    .count = m->asked->count,
                                    .audience = "institution",
                                    .to = m->asked->to,
                                    .withhold = m->asked->withhold,
                                    .withhold_count = m->asked->withhold_count,
                                    .files_beside = true };
    const mb_json *issued;
    enum mb_rc rc = mb_certificate_issue(m->ledger, m->arena, &asked, &issued, err);

    if (rc)
        return rc;
    MB_JSON_EACH(warning, mb_json_get(issued, "warnings"))
        mb_json_add(m->warnings, mb_json_copy(m->kept, warning));
    m->id = mb_json_cstr(m->kept, mb_json_get(issued, "id"));
    m->seq = mb_json_int(mb_json_get(issued, "seq"), 0);
    m->certificate = mb_arena_str(m->kept, mb_json_str(mb_json_get(issued, "file")));
    mb_arena_reset(m->arena);
    return MB_OK;
}

static enum mb_rc make_bag(struct making *m, mb_json **out, struct mb_error *err)
{
    enum mb_rc rc = add_certificate(m, err);

    if (!rc)
        rc = mb_handing_make(m->arena, m->certificate, &m->handing, err);
    if (rc)
        return rc;
    look(m);
    rc = fill(m, err);
    if (!rc)
        *out = result_of(m);
    return rc;
}

static enum mb_rc hand_over(struct making *m, mb_json **out, struct mb_error *err)
{
    enum mb_rc rc = prepare(m, out, err);

    if (!rc && !m->asked->preview)
        rc = mb_bag_begin(m->kept, m->asked->folder, &m->bag, err);
    if (rc || m->asked->preview)
        return rc;
    rc = issue(m, err);
    if (rc) {
        mb_bag_cancel(m->bag);
        return rc;
    }
    rc = make_bag(m, out, err);
    if (rc) {
        mb_bag_cancel(m->bag);
        return MB_UNABLE; /* the certificate is recorded: not "nothing changed" */
    }
    return mb_bag_end(m->bag, err);
}

enum mb_rc mb_handover_make(mb_ledger *ledger, mb_arena *arena,
                            const struct mb_handover *handover, const mb_json **out,
                            struct mb_error *err)
{
    struct making m = { .ledger = ledger, .kept = arena, .asked = handover };
    enum mb_rc rc = check_asked(handover, arena, err);
    mb_json *result = NULL;

    if (rc)
        return rc;
    m.warnings = mb_json_array(arena);
    m.arena = mb_arena_new();
    rc = hand_over(&m, &result, err);
    if (!rc && !handover->preview)
        rc = pack(&m, result, err);
    mb_arena_free(m.arena);
    *out = result;
    return rc;
}
