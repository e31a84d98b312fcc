#include "docs.h"

#include <markerbed/record.h>
#include <markerbed/verify.h>

#include <string.h>

#include "asset.h"
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

static const char *add(mb_arena *arena, const char *before, const char *more)
{
    return *before == '\0' ? more : mb_arena_printf(arena, "%s; %s", before, more);
}

static const char *form_of(mb_arena *arena, const mb_json *field);

static const char *columns_of(mb_arena *arena, const mb_json *columns)
{
    const char *text = "rows of";

    MB_JSON_EACH(column, columns)
        text = mb_arena_printf(arena, "%s%s `%s` (%s)", text, column == columns->first ? "" : ",",
                               text_of(arena, column, "name"), form_of(arena, column));
    return text;
}

static const char *form_of(mb_arena *arena, const mb_json *field)
{
    const mb_json *of = mb_json_get(field, "of"), *columns = mb_json_get(field, "columns");
    const char *type = text_of(arena, field, "type"), *text = type;
    const char *vocab = text_of(arena, field, "vocab"), *units = text_of(arena, field, "units");

    if (columns != NULL)
        text = columns_of(arena, columns);
    if (strcmp(type, "ref") == 0)
        text = mb_arena_printf(arena, "a %s", wording_choices(arena, mb_json_get(field, "ref")));
    if (strcmp(type, "list") == 0 && of != NULL)
        text = mb_arena_printf(arena, "list of %s", form_of(arena, of));
    if (mb_json_get(field, "choices") != NULL)
        text = mb_arena_printf(
            arena, "%sone of: %s",
            strcmp(type, "choice") == 0 ? "" : mb_arena_printf(arena, "%s, or ", text),
            wording_choices(arena, mb_json_get(field, "choices")));
    if (*vocab != '\0')
        text = add(arena, strcmp(type, "choice") == 0 ? "" : text,
                   mb_arena_printf(arena, "a word of the list `%s`", vocab));
    if (*units != '\0')
        text = add(
            arena, text,
            mb_arena_printf(arena, "in %s", wording_choices(arena, mb_json_get(field, "units"))));
    if (*text_of(arena, field, "unitVocab") != '\0')
        text = add(arena, text,
                   mb_arena_printf(arena, "with a unit of the list `%s`",
                                   text_of(arena, field, "unitVocab")));
    if (strcmp(text_of(arena, field, "or"), "text") == 0)
        text = add(arena, text, "or text");
    if (strcmp(text_of(arena, field, "or"), "entry") == 0)
        text = add(arena, text, "or an entry");
    if (mb_json_get(field, "answers") != NULL)
        text = add(arena, text,
                   mb_arena_printf(arena, "may be %s",
                                   wording_choices(arena, mb_json_get(field, "answers"))));
    return text;
}

static const char *needed_of(mb_arena *arena, const mb_json *field)
{
    const char *required = text_of(arena, field, "required");

    if (strcmp(required, "yes") == 0)
        return "yes";
    if (strcmp(required, "answer") == 0)
        return "an answer";
    if (strcmp(required, "when") == 0)
        return text_of(arena, field, "when");
    return "";
}

static void put_fields(struct mb_buf *buf, mb_arena *arena, const mb_json *fields)
{
    mb_buf_add_text(buf, "| field | what it is | how it is written | needed | class | term |\n"
                         "| --- | --- | --- | --- | --- | --- |\n");
    MB_JSON_EACH(field, fields)
        mb_buf_printf(buf, "| `%s` | **%s.** %s | %s | %s | %s | %s |\n",
                      text_of(arena, field, "name"), cell(arena, text_of(arena, field, "title")),
                      cell(arena, text_of(arena, field, "help")),
                      cell(arena, form_of(arena, field)), cell(arena, needed_of(arena, field)),
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
