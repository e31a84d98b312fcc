#include "pdf.h"

#include <string.h>

#include <qpdf/qpdf-c.h>

#include "buf.h"
#include "date.h"
#include "flate.h"
#include "text.h"

#define XMP_MAX 65536

struct job {
    qpdf_data q;
    mb_arena *arena;
    qpdf_oh root;
    const struct mb_pdf_dress *dress;
    const char *date; /* D:20260502140000Z */
};

static void drop(qpdf_data *q)
{
    if (*q)
        qpdf_cleanup(q);
}

static qpdf_oh text_object(struct job *j, const char *text)
{
    return qpdf_oh_new_unicode_string(j->q, text);
}

static void set(struct job *j, qpdf_oh dict, const char *key, qpdf_oh value)
{
    qpdf_oh_replace_key(j->q, dict, key, value);
}

/* 2026-05-02T14:00:00Z as ISO 32000-2, 7.9.4 wants it. */
static const char *pdf_date(mb_arena *arena, int64_t seconds)
{
    const char *moment = mb_moment_write(arena, seconds);
    char *date = mb_arena_get(arena, strlen(moment) + 3);
    char *to = date;

    *to++ = 'D';
    *to++ = ':';
    for (; *moment; moment++)
        if (*moment != '-' && *moment != ':' && *moment != 'T')
            *to++ = *moment;
    return date;
}

/* A stream of our own; already packed where filter says so. */
static qpdf_oh stream(struct job *j, struct mb_str bytes, const char *filter, qpdf_oh *dict)
{
    qpdf_oh s = qpdf_oh_new_stream(j->q);

    qpdf_oh_replace_stream_data(j->q, s, (const unsigned char *)bytes.at, bytes.len,
                                filter ? qpdf_oh_new_name(j->q, filter) : qpdf_oh_new_null(j->q),
                                qpdf_oh_new_null(j->q));
    *dict = qpdf_oh_get_dict(j->q, s);
    return s;
}

/* ---- the attached file ---- */

static qpdf_oh embedded_file(struct job *j, const struct mb_pdf_file *file)
{
    qpdf_oh dict, params = qpdf_oh_new_dictionary(j->q);
    qpdf_oh s = stream(j, mb_flate_pack(j->arena, file->bytes), "/FlateDecode", &dict);

    set(j, params, "/Size", qpdf_oh_new_integer(j->q, (long long)file->bytes.len));
    set(j, params, "/CreationDate", qpdf_oh_new_string(j->q, j->date));
    set(j, params, "/ModDate", qpdf_oh_new_string(j->q, j->date));
    set(j, dict, "/Type", qpdf_oh_new_name(j->q, "/EmbeddedFile"));
    set(j, dict, "/Subtype", qpdf_oh_new_name(j->q, mb_arena_printf(j->arena, "/%s", file->mime)));
    set(j, dict, "/Params", params);
    return s;
}

static void attach(struct job *j, const struct mb_pdf_file *file)
{
    qpdf_data q = j->q;
    qpdf_oh held = embedded_file(j, file);
    qpdf_oh both = qpdf_oh_new_dictionary(q), spec = qpdf_oh_new_dictionary(q);
    qpdf_oh names = qpdf_oh_new_dictionary(q), tree = qpdf_oh_new_dictionary(q);
    qpdf_oh list = qpdf_oh_new_array(q), associated = qpdf_oh_new_array(q);

    set(j, both, "/F", held);
    set(j, both, "/UF", held);
    set(j, spec, "/Type", qpdf_oh_new_name(q, "/Filespec"));
    set(j, spec, "/F", text_object(j, file->name));
    set(j, spec, "/UF", text_object(j, file->name));
    set(j, spec, "/Desc", text_object(j, file->description ? file->description : ""));
    set(j, spec, "/AFRelationship", qpdf_oh_new_name(q, "/Data"));
    set(j, spec, "/EF", both);
    spec = qpdf_make_indirect_object(q, spec);
    qpdf_oh_append_item(q, list, text_object(j, file->name));
    qpdf_oh_append_item(q, list, spec);
    set(j, tree, "/Names", list);
    set(j, names, "/EmbeddedFiles", tree);
    set(j, j->root, "/Names", names);
    qpdf_oh_append_item(q, associated, spec);
    set(j, j->root, "/AF", associated);
}

/* ---- metadata ---- */

/* The value of a key of the Info dictionary, or NULL; good until the next call of the library. */
static const char *info_text(struct job *j, const char *key)
{
    qpdf_oh info = qpdf_oh_get_key_if_dict(j->q, qpdf_get_trailer(j->q), "/Info");
    qpdf_oh value = qpdf_oh_get_key_if_dict(j->q, info, key);

    return qpdf_oh_is_string(j->q, value) ? qpdf_oh_get_utf8_value(j->q, value) : NULL;
}

static void add_info(struct job *j, struct mb_buf *buf, const char *key, const char *before,
                     const char *after)
{
    const char *text = info_text(j, key);

    if (!text || !*text)
        return;
    mb_buf_add_text(buf, before);
    mb_buf_add_escaped(buf, mb_str_of(text));
    mb_buf_add_text(buf, after);
}

static void add_xmp(struct job *j)
{
    static const char head[] =
        "<?xpacket begin=\"\xEF\xBB\xBF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"
        "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n"
        "<rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
        "<rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\""
        " xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\">\n"
        "<dc:format>application/pdf</dc:format>\n";
    static const char tail[] = "</rdf:Description>\n</rdf:RDF>\n</x:xmpmeta>\n"
                               "<?xpacket end=\"r\"?>\n";
    MB_BUF_AUTO struct mb_buf buf;
    const char *moment = mb_moment_write(j->arena, j->dress->created);
    qpdf_oh dict, s;

    mb_buf_init(&buf, XMP_MAX);
    mb_buf_add_text(&buf, head);
    add_info(j, &buf, "/Title", "<dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">",
             "</rdf:li></rdf:Alt></dc:title>\n");
    add_info(j, &buf, "/Author", "<dc:creator><rdf:Seq><rdf:li>",
             "</rdf:li></rdf:Seq></dc:creator>\n");
    add_info(j, &buf, "/Subject", "<dc:description><rdf:Alt><rdf:li xml:lang=\"x-default\">",
             "</rdf:li></rdf:Alt></dc:description>\n");
    if (j->dress->language) {
        mb_buf_add_text(&buf, "<dc:language><rdf:Bag><rdf:li>");
        mb_buf_add_escaped(&buf, mb_str_of(j->dress->language));
        mb_buf_add_text(&buf, "</rdf:li></rdf:Bag></dc:language>\n");
    }
    add_info(j, &buf, "/Creator", "<xmp:CreatorTool>", "</xmp:CreatorTool>\n");
    add_info(j, &buf, "/Producer", "<pdf:Producer>", "</pdf:Producer>\n");
    mb_buf_printf(&buf, "<xmp:CreateDate>%s</xmp:CreateDate>\n", moment);
    mb_buf_printf(&buf, "<xmp:ModifyDate>%s</xmp:ModifyDate>\n", moment);
    mb_buf_add_text(&buf, tail);
    if (!mb_buf_ok(&buf))
        return; /* a title of 60 KiB: the document has it elsewhere */
    s = stream(j, mb_buf_str(&buf), NULL, &dict);
    set(j, dict, "/Type", qpdf_oh_new_name(j->q, "/Metadata"));
    set(j, dict, "/Subtype", qpdf_oh_new_name(j->q, "/XML"));
    set(j, j->root, "/Metadata", s);
}

static void put_on(struct job *j)
{
    qpdf_oh prefer = qpdf_oh_new_dictionary(j->q);

    set(j, prefer, "/DisplayDocTitle", qpdf_oh_new_bool(j->q, QPDF_TRUE));
    set(j, j->root, "/ViewerPreferences", prefer);
    if (j->dress->language)
        set(j, j->root, "/Lang", text_object(j, j->dress->language));
    qpdf_set_info_key(j->q, "/CreationDate", j->date);
    qpdf_set_info_key(j->q, "/ModDate", j->date);
    if (j->dress->file)
        attach(j, j->dress->file);
    if (j->dress->xmp)
        add_xmp(j);
}

/* ---- reading and writing ---- */

static bool write_all(qpdf_data q)
{
    if (qpdf_init_write_memory(q) & QPDF_ERRORS)
        return false;
    qpdf_set_deterministic_ID(q, QPDF_TRUE);
    qpdf_set_object_stream_mode(q, qpdf_o_disable);
    qpdf_set_stream_data_mode(q, qpdf_s_preserve);
    return !(qpdf_write(q) & QPDF_ERRORS);
}

static enum mb_rc failed(qpdf_data q, struct mb_error *err)
{
    qpdf_error e = qpdf_get_error(q);

    return mb_fail(err, MB_UNABLE, "the PDF could not be finished: %s",
                   e ? qpdf_get_error_message_detail(q, e) : "no reason given");
}

static enum mb_rc check_file(const struct mb_pdf_file *file, struct mb_error *err)
{
    struct mb_str name = mb_str_of(file->name), mime = mb_str_of(file->mime);

    if (name.len == 0 || name.len > 255 || !mb_text_allowed(name, false) ||
        strpbrk(file->name, "/\\:") || file->name[0] == '.')
        return mb_fail(err, MB_REFUSED,
                       "the attached file has the name \"%.80s\"; it must be a plain file name",
                       file->name ? file->name : "");
    if (mime.len == 0 || strspn(mime.at, "abcdefghijklmnopqrstuvwxyz0123456789/.+-") != mime.len)
        return mb_fail(err, MB_REFUSED,
                       "the attached file has the type \"%.80s\"; it must be like "
                       "application/json", file->mime ? file->mime : "");
    return MB_OK;
}

static enum mb_rc run(struct job *j, struct mb_str pdf, mb_arena *arena, struct mb_str *out,
                      struct mb_error *err)
{
    qpdf_data q = j->q;

    qpdf_silence_errors(q);
    qpdf_set_suppress_warnings(q, QPDF_TRUE);
    qpdf_set_attempt_recovery(q, QPDF_FALSE);
    if (qpdf_read_memory(q, "the PDF", pdf.at, pdf.len, NULL) & QPDF_ERRORS)
        return failed(q, err);
    j->root = qpdf_get_root(q);
    put_on(j);
    if (qpdf_has_error(q) || !write_all(q))
        return failed(q, err);
    *out = mb_arena_str(arena, (struct mb_str){ (const char *)qpdf_get_buffer(q),
                                                qpdf_get_buffer_length(q) });
    return MB_OK;
}

enum mb_rc mb_pdf_finish(mb_arena *arena, struct mb_str pdf, const struct mb_pdf_dress *dress,
                         struct mb_str *out, struct mb_error *err)
{
    __attribute__((cleanup(drop))) qpdf_data q = NULL;
    struct job job = { .dress = dress };
    enum mb_rc rc = dress->file ? check_file(dress->file, err) : MB_OK;

    if (rc)
        return rc;
    q = job.q = qpdf_init();
    job.arena = mb_arena_new();
    job.date = pdf_date(job.arena, dress->created);
    rc = run(&job, pdf, arena, out, err);
    mb_arena_free(job.arena);
    return rc;
}
