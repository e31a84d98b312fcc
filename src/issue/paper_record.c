/* The record of each piece on paper: the sheet's own findings, materials and cautions, then every
 * entry with every field, and what places, layers, permissions and people stand behind it. */
#include <string.h>

#include "date.h"
#include "kinds.h"
#include "papers.h"
#include "text.h"
#include "words.h"

static const char *title_of(struct mb_str kind)
{
    const struct mb_kind *known = mb_kind_find(kind);

    return known ? known->title : "An entry of a kind that this program does not know";
}

static void put_entry(const struct mb_handing *h, struct mb_page *page,
                      const struct mb_told *told)
{
    const struct mb_kind *kind = mb_kind_find(told->entry->kind);
    struct mb_page_item *item = mb_page_add(page, MB_PAGE_GROUP);
    bool any = false;

    item->text = mb_arena_printf(h->arena, "%s: entry %lld, written down %.10s%s",
                                 title_of(told->entry->kind), (long long)told->entry->seq,
                                 mb_moment_write(h->arena, told->entry->iat),
                                 told->voided_by >= 0 ? mb_arena_printf(h->arena,
                                                        "; struck out by entry %lld",
                                                        (long long)told->voided_by)
                                                      : "");
    for (size_t i = 0; kind && i < kind->count; i++) {
        const struct mb_kind_field *field = &kind->fields[i];
        const mb_json *value = mb_told_field(told, field->name.at, NULL, NULL);
        const char *words = value ? mb_handing_said(h, field->name, value) : NULL;

        if (!words || !*words || mb_json_get(value, "coordinates"))
            continue;
        if (mb_json_get(value, "lines")) /* a statement: the sheet is nothing else */
            words = "as its sheet prints it";
        mb_page_pair(page, field->title, words);
        any = true;
    }
    if (!any)
        mb_page_say(page, "Nothing of it is shown here beyond that it is there.");
}

static void put_chain(const struct mb_handing *h, struct mb_page *page, struct mb_str subject,
                      const char *heading)
{
    const mb_story *story = mb_stories_of(h->check.stories, subject);

    if (!story)
        return;
    mb_page_section(page, heading);
    for (size_t i = 0; i < mb_story_count(story); i++)
        put_entry(h, page, mb_story_at(story, i));
}

static void put_materials(const struct mb_handing *h, struct mb_page *page, size_t which)
{
    static const size_t columns = 4;
    mb_json *list = mb_paper_materials(h, which);
    struct mb_page_item *item;
    const char **cells, **at;

    mb_page_section(page, "Materials in it, and how to take them out");
    if (list->count == 0) {
        mb_page_say(page, "None is on record. That is no word that none is there.");
        return;
    }
    cells = at = MB_ARRAY(h->arena, columns * (list->count + 1), const char *);
    *at++ = "Material";
    *at++ = "Where";
    *at++ = "Comes out with";
    *at++ = "Removable";
    MB_JSON_EACH(row, list)
    {
        const char *solvent = mb_json_cstr(h->arena, mb_json_get(row, "solvent"));
        const char *removable = mb_json_cstr(h->arena, mb_json_get(row, "removable"));

        *at++ = mb_json_cstr(h->arena, mb_json_get(row, "material"));
        *at++ = mb_json_cstr(h->arena, mb_json_get(row, "where"));
        *at++ = solvent ? solvent : "not known here";
        *at++ = removable ? removable : "not known here";
    }
    item = mb_page_add(page, MB_PAGE_TABLE);
    item->cells = cells;
    item->columns = columns;
    item->rows = list->count + 1;
    mb_page_say(page, "What a material dissolves in is general knowledge of the trade, not a test"
                      " on this piece: try it where it does not show, and ask a conservator"
                      " first.");
}

static void put_hazards(const struct mb_handing *h, struct mb_page *page, struct mb_str subject)
{
    const mb_json *rows = mb_handing_value(h, subject, "condition", "hazards");

    mb_page_section(page, "Cautions");
    if (!mb_handing_known(rows) || !mb_json_is(rows, MB_JSON_ARRAY))
        mb_page_say(page, "No reading or test for radiation, asbestos in old jackets, arsenic,"
                          " lead or pyrite decay is on record: treat it as not tested.");
    else
        mb_page_pair(page, "On record", mb_handing_said(h, MB_STR("hazards"), rows));
    mb_page_say(page, "Follow your own safety officer and the local rules for handling, storage"
                      " and ventilation.");
}

/* ---- object identification ---- */

/* The categories of Object ID (1997, ICOM), as they read for a fossil: the maker is whoever found
 * and prepared it, the period its age, the subject its name. */
static const struct {
    const char *label, *fields; /* in the specimen's chain; divided by blanks */
} identifying[] = {
    { "Type of object", "whatItIs objectForm" },
    { "Title", "verbatimIdentification vernacularName" },
    { "Subject", "scientificName identificationQualifier elements" },
    { "Materials and techniques", "preservation materialClass" },
    { "Measurements", "dimensions mass" },
    { "Inscriptions and markings", "numberOnObject verbatimLabel recordNumber" },
    { "Distinguishing features", "identifyingMarks" },
    { "Short description", "form setting individuals joins" },
};

static const char *words_of(const struct mb_handing *h, struct mb_str subject, const char *fields)
{
    struct mb_str rest = mb_str_of(fields), field;
    const char *out = NULL;

    while (mb_str_cut(rest, ' ', &field, &rest) || field.len > 0) {
        const mb_json *value = mb_handing_value(h, subject, NULL,
                                                mb_arena_copy(h->arena, field.at, field.len));

        if (value)
            out = out ? mb_arena_printf(h->arena, "%s; %s", out, mb_handing_said(h, field, value))
                      : mb_handing_said(h, field, value);
    }
    return out ? out : "not on record";
}

static const char *pictures(const struct mb_handing *h, struct mb_str subject)
{
    const char *out = NULL;

    for (const struct mb_handed_file *file = h->files; file; file = file->next)
        if (file->path && mb_str_equal(file->subject, subject) && file->type
            && strncmp(file->type, "image/", 6) == 0)
            out = out ? mb_arena_printf(h->arena, "%s\n%s", out, file->path) : file->path;
    return out ? out : "not on record";
}

static const char *of_layer(const struct mb_handing *h, struct mb_str layer, const char *field)
{
    const mb_json *value = layer.at ? mb_handing_value(h, layer, "horizon", field) : NULL;

    return value ? mb_handing_words(h, value) : "not on record";
}

static void put_identification(const struct mb_handing *h, struct mb_page *page,
                               struct mb_str subject)
{
    struct mb_str layer = mb_handing_ref(h, subject, "horizon", "statedHorizon");

    mb_page_section(page, "Object identification");
    mb_page_pair(page, "Photographs", pictures(h, subject));
    for (size_t i = 0; i < sizeof identifying / sizeof *identifying; i++)
        mb_page_pair(page, identifying[i].label, words_of(h, subject, identifying[i].fields));
    mb_page_pair(page, "Date or period",
                 mb_arena_printf(h->arena, "%s to %s; found %s",
                                 of_layer(h, layer, "earliestStage"),
                                 of_layer(h, layer, "latestStage"),
                                 words_of(h, subject, "eventDate statedDate")));
    mb_page_pair(page, "Maker",
                 mb_arena_printf(h->arena, "found by %s; prepared by %s",
                                 words_of(h, subject, "recordedBy statedCollector"),
                                 words_of(h, subject, "preparedBy")));
}

static struct mb_page *page_of(const struct mb_handing *h, size_t which)
{
    struct mb_page *page = mb_page_make(h->arena, &h->check, h->check.certificates[which]);
    struct mb_str subject = mb_handing_subject(h, which), ref;

    put_identification(h, page, subject);
    put_materials(h, page, which);
    put_hazards(h, page, subject);
    put_chain(h, page, subject, "Every entry about this piece");
    ref = mb_handing_ref(h, subject, "fieldDay", NULL);
    if (ref.at)
        put_chain(h, page, ref, mb_arena_printf(h->arena, "The day in the field (%.*s)",
                                                MB_STR_ARG(ref)));
    ref = mb_handing_ref(h, subject, "site", "statedSite");
    if (ref.at)
        put_chain(h, page, ref, mb_arena_printf(h->arena, "The place and its land (%.*s)",
                                                MB_STR_ARG(ref)));
    ref = mb_handing_ref(h, subject, "horizon", "statedHorizon");
    if (ref.at)
        put_chain(h, page, ref, mb_arena_printf(h->arena, "The layer (%.*s)", MB_STR_ARG(ref)));
    ref = mb_handing_ref(h, subject, "permission", NULL);
    if (ref.at)
        put_chain(h, page, ref, mb_arena_printf(h->arena, "The permission and its papers (%.*s)",
                                                MB_STR_ARG(ref)));
    return page;
}

enum mb_rc mb_paper_record(const struct mb_handing *h, const char *paper, struct mb_str *pdf,
                           struct mb_error *err)
{
    const struct mb_paper record = {
        .banner = "The full record, for the institution that receives it",
        .page_of = page_of,
    };

    return mb_paper_draw(h, &record, paper, pdf, err);
}
