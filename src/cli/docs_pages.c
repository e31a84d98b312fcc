#include "docs.h"

#include <markerbed/record.h>
#include <markerbed/verify.h>

#include <string.h>

#include "asset.h"
#include "kind_form.h"
#include "text.h"
#include "wording.h"

enum { TERMS_TITLED_MAX = 80 };

static const char *text_of(mb_arena *arena, const mb_json *object, const char *name)
{
    const char *text = wording_of(arena, object, name);

    return text != NULL ? text : "";
}

/* Text for a cell of a Markdown table. */
static const char *cell(mb_arena *arena, const char *text)
{
    char *out = mb_arena_array(arena, 2 * strlen(text) + 1, 1), *to = out;

    for (; *text != '\0'; text++) {
        if (*text == '|' || *text == '<' || *text == '*')
            *to++ = '\\';
        *to++ = *text == '\n' ? ' ' : *text;
    }
    return out;
}

/* ---- kinds ---- */

static void put_fields(struct mb_buf *buf, mb_arena *arena, const mb_json *fields)
{
    mb_buf_add_text(buf, "| field | what it is | how it is written | needed | class | term |\n"
                         "| --- | --- | --- | --- | --- | --- |\n");
    MB_JSON_EACH(field, fields)
        mb_buf_printf(
            buf, "| `%s` | **%s.** %s | %s | %s | %s | %s |\n", text_of(arena, field, "name"),
            cell(arena, text_of(arena, field, "title")), cell(arena, text_of(arena, field, "help")),
            cell(arena, kind_form(arena, field, true)), cell(arena, kind_needed(arena, field)),
            text_of(arena, field, "class"), text_of(arena, field, "term"));
}

static void put_kind(struct mb_buf *buf, mb_arena *arena, const mb_json *kind)
{
    const mb_json *subject = mb_json_get(kind, "subject"), *fields = mb_json_get(kind, "fields");
    const char *example = text_of(arena, kind, "example");

    mb_buf_printf(buf, "\n## %s\n\n**%s.** %s", text_of(arena, kind, "kind"),
                  text_of(arena, kind, "title"), text_of(arena, kind, "help"));
    if (subject != NULL)
        mb_buf_printf(buf, " Its subject is a %s.", wording_choices(arena, subject));
    mb_buf_add_text(buf, "\n\n");
    if (*example != '\0')
        mb_buf_printf(buf, "```sh\n%s\n```\n\n", example);
    if (fields != NULL && fields->count > 0)
        put_fields(buf, arena, fields);
}

static void put_vocabulary(struct mb_buf *buf, mb_arena *arena, const mb_json *vocab)
{
    const mb_json *terms = mb_json_get(vocab, "terms");
    const char *source = text_of(arena, vocab, "source");
    bool titled = terms != NULL && terms->count <= TERMS_TITLED_MAX;

    mb_buf_printf(buf, "\n### %s\n\n%s. Source: %s\n\n", text_of(arena, vocab, "vocab"),
                  text_of(arena, vocab, "title"), source);
    MB_JSON_EACH(term, terms) {
        const char *id = text_of(arena, term, "id");
        if (titled)
            mb_buf_printf(buf, "- `%s`: %s\n", id, text_of(arena, term, "title"));
        else
            mb_buf_printf(buf, "%s%s", id, term->next != NULL ? ", " : "\n");
    }
}

static enum mb_rc put_vocabularies(struct mb_buf *buf, mb_arena *arena, struct mb_error *err)
{
    const struct mb_asset *asset;

    mb_buf_add_text(buf, "\n## Lists of words\n");
    for (size_t i = 0; (asset = mb_asset_at(i)) != NULL; i++) {
        struct mb_str path = mb_str_of(asset->path), text = { asset->data, asset->size };
        const mb_json *vocab;
        enum mb_rc rc;

        if (!mb_str_starts(path, "vocab/") || strstr(asset->path, ".json") == NULL)
            continue;
        rc = mb_json_read(arena, text, MB_JSON_PLAIN, &vocab, err);
        if (rc != MB_OK) {
            mb_fail_where(err, "schema/%s", asset->path);
            return rc;
        }
        put_vocabulary(buf, arena, vocab);
    }
    return MB_OK;
}

enum mb_rc docs_kinds(struct mb_buf *buf, mb_arena *arena, struct mb_error *err)
{
    const mb_json *kinds;
    enum mb_rc rc = mb_kinds(arena, &kinds, err);

    if (rc != MB_OK)
        return rc;
    mb_buf_add_text(
        buf,
        "# Kinds of entries\n\n"
        "Made by `markerbed docs` out of schema/kinds; change those files, not this one.\n\n"
        "The *class* of a field says who may see it when it leaves the ledger: `open` everyone, for"
        " ever; `sale` a buyer too; `science` an institution; `land` an auditor or land manager;"
        " `private` nobody unless it is named. A *term* is the field's name in Darwin Core (`dwc:`)"
        " or another open standard. \"An answer\" is needed where a field may not be left empty but"
        " may be answered `not known`, `not examined`, `none` or `does not apply`, as it"
        " allows.\n");
    MB_JSON_EACH(kind, kinds)
        put_kind(buf, arena, kind);
    rc = put_vocabularies(buf, arena, err);
    if (rc == MB_OK && !mb_buf_ok(buf))
        rc = mb_fail(err, MB_UNABLE, "the list of kinds grew too long");
    return rc;
}

/* ---- findings ---- */

enum mb_rc docs_findings(struct mb_buf *buf, mb_arena *arena, struct mb_error *err)
{
    static const char *const severities[][2] = {
        { "fault", "Something does not hold: the answer is no (exit code 1)" },
        { "unsure", "Something could not be checked: no answer (exit code 3)" },
        { "remark", "Worth knowing; changes no answer" },
    };
    const mb_json *findings = mb_finding_list(arena);

    mb_buf_add_text(buf,
                    "# What a check can find\n\n"
                    "Made by `markerbed docs` out of src/ledger/findings.def; change that file, not"
                    " this one. The list is closed, and a name never changes its meaning.\n");
    for (size_t i = 0; i < sizeof severities / sizeof *severities; i++) {
        mb_buf_printf(buf,
                      "\n## %s\n\n%s.\n\n| finding | what it means | how it is mended |\n"
                      "| --- | --- | --- |\n",
                      severities[i][0], severities[i][1]);
        MB_JSON_EACH(finding, findings)
            if (mb_json_text_is(mb_json_get(finding, "severity"), severities[i][0]))
                mb_buf_printf(buf, "| `%s` | %s | %s |\n", text_of(arena, finding, "name"),
                              cell(arena, text_of(arena, finding, "means")),
                              cell(arena, text_of(arena, finding, "mend")));
    }
    return mb_buf_ok(buf) ? MB_OK : mb_fail(err, MB_UNABLE, "the list of findings grew too long");
}
