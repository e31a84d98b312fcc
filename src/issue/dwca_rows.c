#include "dwca_rows.h"

#include <string.h>

#include "kinds.h"
#include "text.h"
#include "units.h"

const struct mb_dwca_term *mb_dwca_term(const struct mb_dwca *d, const char *name)
{
    for (size_t i = 0; i < d->term_count; i++)
        if (strcmp(d->terms[i].name, name) == 0)
            return &d->terms[i];
    return NULL;
}

const char *mb_dwca_id(const struct mb_dwca *d, struct mb_str subject)
{
    return mb_arena_printf(d->arena, "%s/%.*s", d->h->origin, MB_STR_ARG(subject));
}

void mb_dwca_put(const struct mb_dwca *d, mb_json *row, const char *term, const char *text)
{
    char *cell;

    if (!text || !*text || mb_json_get(row, term))
        return;
    cell = mb_arena_text(d->arena, text);
    for (char *at = cell; *at; at++)
        if ((unsigned char)*at < ' ')
            *at = ' ';
    mb_json_put_text(d->arena, row, term, cell);
}

mb_json *mb_dwca_row(struct mb_dwca *d, enum mb_dwca_table table, const char *id)
{
    mb_json *row = mb_json_add(d->rows[table], mb_json_object(d->arena));

    mb_json_put_text(d->arena, row, "id", id);
    return row;
}

/* ---- values ---- */

static const char *reference(const struct mb_dwca *d, const mb_json *value)
{
    struct mb_str ref = mb_json_str(mb_json_get(value, "ref"));

    if (!ref.at)
        return NULL;
    if (mb_str_starts(ref, "party/"))
        return mb_handing_words(d->h, value);
    return mb_dwca_id(d, ref);
}

static const char *list_words(const struct mb_dwca *d, const mb_json *value)
{
    const char *out = NULL;

    MB_JSON_EACH(item, value)
    {
        const char *words = mb_dwca_words(d, item);

        if (words)
            out = out ? mb_arena_printf(d->arena, "%s | %s", out, words) : words;
    }
    return out;
}

const char *mb_dwca_words(const struct mb_dwca *d, const mb_json *value)
{
    const char *ref = reference(d, value);
    struct mb_str entry = mb_json_str(mb_json_get(value, "entry"));

    if (ref)
        return ref;
    if (!value || mb_json_is(value, MB_JSON_NULL) || mb_json_get(value, "answer")
        || mb_json_get(value, "file") || mb_json_get(value, "coordinates"))
        return NULL;
    if (value->type == MB_JSON_ARRAY)
        return list_words(d, value);
    if (entry.at)
        return mb_arena_printf(d->arena, "%s#%.*s", d->h->origin, MB_STR_ARG(entry));
    return mb_handing_words(d->h, value);
}

/* In the unit that the term's name asks for: dwc:...InMeters. */
static const char *measured(const struct mb_dwca *d, const char *term, const mb_json *value)
{
    struct mb_str number = mb_json_str(mb_json_get(value, "value"));
    struct mb_str unit = mb_json_str(mb_json_get(value, "unit"));
    size_t len = strlen(term);
    double metres;

    if (!number.at || !unit.at || len < 8 || strcmp(term + len - 8, "InMeters") != 0)
        return mb_dwca_words(d, value);
    if (!mb_unit_base(number, unit, "m", &metres))
        return NULL;
    return mb_arena_printf(d->arena, "%.10g", metres);
}

static const char *cell(const struct mb_dwca *d, const struct mb_kind_field *field,
                        const mb_json *value)
{
    const mb_json *as = mb_json_get(field->json, "as");
    struct mb_str word = mb_json_str(value);
    const mb_json *said = as && word.at ? mb_json_get_str(as, word) : NULL;

    return said ? mb_json_cstr(d->arena, said) : measured(d, field->term, value);
}

/* ---- where a field goes ---- */

static const struct {
    const char *class_name;
    enum mb_dwca_table table;
} by_class[] = {
    { "Identification", MB_DWCA_IDENTIFICATION },
    { "MeasurementOrFact", MB_DWCA_FACT },
    { "ResourceRelationship", MB_DWCA_RELATION },
    { "ac:Multimedia ext", MB_DWCA_MEDIA },
    { "ggbn:Preparation ext", MB_DWCA_PREPARATION },
    { "ggbn:Permit ext", MB_DWCA_PERMIT },
    { "ggbn:Preservation ext", MB_DWCA_PRESERVATION },
    { "ggbn:Loan ext", MB_DWCA_LOAN },
};

static enum mb_dwca_table table_of(const struct mb_dwca *d, const char *term)
{
    const struct mb_dwca_term *known = mb_dwca_term(d, term);

    for (size_t i = 0; known && i < sizeof by_class / sizeof *by_class; i++)
        if (strcmp(known->class_name, by_class[i].class_name) == 0)
            return by_class[i].table;
    return MB_DWCA_CORE;
}

/* What one entry gives: at most one row a table, the core's shared by all. */
struct giving {
    struct mb_dwca *d;
    const char *id;
    mb_json *core;
    const struct mb_kind *kind;
    int64_t seq;
    bool placed; /* the find has its own point, and this is of its site */
    bool of_parent; /* what it came out of says when and where it was found, and no more */
    mb_json *own[MB_DWCA_TABLES]; /* NULL: none yet */
};

static void put_own(struct giving *g, enum mb_dwca_table table, const char *term,
                    const char *text)
{
    if (!text || !*text)
        return;
    if (!g->own[table])
        g->own[table] = mb_json_object(g->d->arena);
    mb_dwca_put(g->d, g->own[table], term, text);
}

/* A relation in rows (division's `into`): each row of its own. */
static void ties(struct giving *g, const struct mb_kind_field *field, const mb_json *value)
{
    const char *tie = mb_json_cstr(g->d->arena, mb_json_get(field->json, "tie"));
    int n = 0;

    if (!mb_json_is(value, MB_JSON_ARRAY) || !tie)
        return;
    MB_JSON_EACH(row, value)
    {
        const char *other = reference(g->d, mb_json_get(row, "specimen"));
        mb_json *out;

        if (!other)
            continue;
        out = mb_dwca_row(g->d, MB_DWCA_RELATION, g->id);
        mb_dwca_put(g->d, out, "dwc:resourceRelationshipID",
                    mb_arena_printf(g->d->arena, "%s#%lld.%d", g->id, (long long)g->seq, ++n));
        mb_dwca_put(g->d, out, "dwc:resourceID", g->id);
        mb_dwca_put(g->d, out, "dwc:relatedResourceID", other);
        mb_dwca_put(g->d, out, "dwc:relationshipOfResource", tie);
    }
}

/* A find's own point stands with its own datum, words and uncertainty, never with its site's. */
static bool of_another_point(const struct giving *g, const char *term)
{
    static const char *const terms[] = {
        "dwc:decimalLatitude", "dwc:decimalLongitude", "dwc:verbatimCoordinates",
        "dwc:geodeticDatum", "dwc:coordinateUncertaintyInMeters",
    };

    if (!g->placed)
        return false;
    for (size_t i = 0; i < sizeof terms / sizeof *terms; i++)
        if (strcmp(term, terms[i]) == 0)
            return true;
    return strncmp(term, "dwc:georeference", 16) == 0;
}

static void give_field(struct giving *g, const struct mb_kind_field *field, const mb_json *value)
{
    const mb_json *row = mb_json_get(field->json, "row");
    bool taxon = strcmp(g->kind->name.at, "identification") == 0;
    enum mb_dwca_table table;
    const struct mb_dwca_term *term;

    if (!field->term) {
        if (mb_json_text_is(row, "Rel") && !g->of_parent)
            ties(g, field, value);
        return;
    }
    if (of_another_point(g, field->term))
        return;
    table = mb_json_text_is(row, "MoF")   ? MB_DWCA_FACT
            : mb_json_text_is(row, "Rel") ? MB_DWCA_RELATION
                                          : table_of(g->d, field->term);
    term = mb_dwca_term(g->d, field->term);
    if (mb_json_text_is(row, "Media") || !term || strcmp(term->class_name, "Agent") == 0)
        return;
    if (g->of_parent && (strcmp(term->class_name, "Event") != 0
                         && strcmp(term->class_name, "Location") != 0
                         && strcmp(term->class_name, "GeologicalContext") != 0
                         && strcmp(field->term, "dwc:recordedBy") != 0))
        return;
    if (table != MB_DWCA_CORE)
        put_own(g, table, field->term, cell(g->d, field, value));
    else if (taxon && strcmp(term->class_name, "Taxon") == 0)
        put_own(g, MB_DWCA_IDENTIFICATION, field->term, cell(g->d, field, value));
    if (table == MB_DWCA_CORE || table == MB_DWCA_IDENTIFICATION)
        mb_dwca_put(g->d, g->core, field->term, cell(g->d, field, value));
    if (table == MB_DWCA_RELATION && mb_json_get(field->json, "tie"))
        put_own(g, table, "dwc:relationshipOfResource",
                mb_json_cstr(g->d->arena, mb_json_get(field->json, "tie")));
}

static void facts_of(struct giving *g, const struct mb_told *told)
{
    for (size_t i = 0; i < g->kind->count; i++) {
        const struct mb_kind_field *field = &g->kind->fields[i];
        const mb_json *value = mb_told_field(told, field->name.at, NULL, NULL);

        if (value && !field->term && mb_json_text_is(mb_json_get(field->json, "row"), "MoF"))
            mb_dwca_facts(g->d, g->id, g->seq, field, value, g->own[MB_DWCA_FACT]);
    }
}

/* Completes the rows that an entry began, and leaves out those that say nothing. */
static void finish(struct giving *g, const struct mb_told *told)
{
    static const struct {
        enum mb_dwca_table table;
        const char *needed, *id_term, *constant, *text;
    } rules[] = {
        { MB_DWCA_IDENTIFICATION, NULL, "dwc:identificationID", NULL, NULL },
        { MB_DWCA_FACT, "dwc:measurementType", "dwc:measurementID", NULL, NULL },
        { MB_DWCA_RELATION, "dwc:relatedResourceID", "dwc:resourceRelationshipID", NULL, NULL },
        { MB_DWCA_PREPARATION, "ggbn:preparationDate", NULL, "ggbn:preparationType",
          "fossil preparation" },
        { MB_DWCA_PERMIT, "ggbn:permitType", NULL, "ggbn:permitStatus", "Unknown" },
        { MB_DWCA_PRESERVATION, "ggbn:preservationType", NULL, NULL, NULL },
        { MB_DWCA_LOAN, "ggbn:loanDate", NULL, NULL, NULL },
    };
    const mb_json *reason = mb_told_field(told, "reason", NULL, NULL);

    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        mb_json *own = g->own[rules[i].table], *row;

        if (!own || (rules[i].needed && !mb_json_get(own, rules[i].needed))
            || (rules[i].table == MB_DWCA_IDENTIFICATION
                && strcmp(g->kind->name.at, "identification") != 0)
            || (rules[i].table == MB_DWCA_LOAN && !mb_json_text_is(reason, "loan")))
            continue;
        row = mb_dwca_row(g->d, rules[i].table, g->id);
        MB_JSON_EACH(member, own)
            mb_json_put_str(g->d->arena, row, member->name,
                            mb_json_copy(g->d->arena, member));
        if (rules[i].id_term)
            mb_dwca_put(g->d, row, rules[i].id_term,
                        mb_arena_printf(g->d->arena, "%s#%lld", g->id, (long long)g->seq));
        if (rules[i].constant)
            mb_dwca_put(g->d, row, rules[i].constant, rules[i].text);
        if (rules[i].table == MB_DWCA_RELATION)
            mb_dwca_put(g->d, row, "dwc:resourceID", g->id);
    }
}

static void give_entry(struct giving *g, const struct mb_told *told)
{
    g->kind = mb_kind_find(told->entry->kind);
    g->seq = told->entry->seq;
    memset(g->own, 0, sizeof g->own);
    if (!g->kind)
        return;
    for (size_t i = 0; i < g->kind->count; i++) {
        const mb_json *value = mb_told_field(told, g->kind->fields[i].name.at, NULL, NULL);

        if (value)
            give_field(g, &g->kind->fields[i], value);
    }
    if (g->of_parent)
        return;
    facts_of(g, told);
    finish(g, told);
}

static void give_subject(struct giving *g, struct mb_str subject)
{
    const mb_story *story =
        subject.at ? mb_stories_of(g->d->h->check.stories, subject) : NULL;

    for (size_t i = story ? mb_story_count(story) : 0; i-- > 0;)
        if (mb_story_at(story, i)->voided_by < 0)
            give_entry(g, mb_story_at(story, i));
}

/* ---- media ---- */

static void give_media(struct mb_dwca *d, const char *id, struct mb_str subject)
{
    for (const struct mb_handed_file *file = d->h->files; file; file = file->next) {
        const mb_json *caption = mb_json_get(file->row, "caption");
        mb_json *row;

        if (!file->path || !mb_str_equal(file->subject, subject))
            continue;
        row = mb_dwca_row(d, MB_DWCA_MEDIA, id);
        mb_dwca_put(d, row, "dcterms:identifier",
                    mb_arena_printf(d->arena, "../%s", file->path));
        mb_dwca_put(d, row, "dc:format", file->type);
        mb_dwca_put(d, row, "dc:type",
                    file->type && strncmp(file->type, "image/", 6) == 0 ? "StillImage" : "Text");
        mb_dwca_put(d, row, "dcterms:title",
                    mb_arena_printf(d->arena, "%.*s of entry %lld (%.*s)",
                                    MB_STR_ARG(file->field), (long long)file->seq,
                                    MB_STR_ARG(file->kind)));
        mb_dwca_put(d, row, "ac:caption", mb_dwca_words(d, caption));
        mb_dwca_put(d, row, "ac:subjectOrientationLiteral",
                    mb_dwca_words(d, mb_json_get(file->row, "view")));
        mb_dwca_put(d, row, "dc:creator", mb_dwca_words(d, mb_json_get(file->row, "takenBy")));
        mb_dwca_put(d, row, "ac:hashFunction", "SHA-256");
        mb_dwca_put(d, row, "ac:hashValue",
                    mb_arena_copy(d->arena, file->sha256.at, file->sha256.len));
    }
}

/* ---- one specimen ---- */

enum { STEPS_MAX = 16 };

static const char *withheld_words(const struct mb_dwca *d, size_t which)
{
    const mb_json *list =
        mb_entry_field(&d->h->check.certificates[which]->entry, "withheld", NULL);

    if (!list || list->count == 0)
        return NULL;
    return mb_arena_printf(d->arena, "%u fields are withheld; the certificate names them and why",
                           list->count);
}

void mb_dwca_specimen(struct mb_dwca *d, size_t which)
{
    struct mb_str subject = mb_handing_subject(d->h, which);
    struct giving g = { .d = d, .id = mb_dwca_id(d, subject) };
    int steps = 0;

    g.core = mb_dwca_row(d, MB_DWCA_CORE, g.id);
    mb_dwca_put(d, g.core, "dwc:occurrenceID", g.id);
    mb_dwca_put(d, g.core, "dwc:materialEntityID", g.id);
    mb_dwca_put(d, g.core, "dc:type", "PhysicalObject");
    mb_dwca_put(d, g.core, "dc:language", "en");
    mb_dwca_put(d, g.core, "dwc:occurrenceStatus", "present");
    mb_dwca_put(d, g.core, "dwc:informationWithheld", withheld_words(d, which));
    give_subject(&g, subject);
    if (mb_json_get(g.core, "dwc:catalogNumber")) /* an institution's; ours beside it */
        mb_dwca_put(d, g.core, "dwc:otherCatalogNumbers", mb_handing_id(d->h, which));
    mb_dwca_put(d, g.core, "dwc:catalogNumber", mb_handing_id(d->h, which));
    mb_dwca_put(d, g.core, "dwc:basisOfRecord", "FossilSpecimen");
    if (mb_json_get(g.core, "dwc:objectQuantity"))
        mb_dwca_put(d, g.core, "dwc:objectQuantityType", "pieces");
    g.of_parent = true;
    for (struct mb_str from = mb_handing_parent(d->h, subject); from.at && steps++ < STEPS_MAX;
         from = mb_handing_parent(d->h, from))
        give_subject(&g, from);
    g.of_parent = false;
    g.placed = mb_json_get(g.core, "dwc:decimalLatitude") != NULL;
    give_subject(&g, mb_handing_ref(d->h, subject, "site", "statedSite"));
    g.placed = false;
    give_subject(&g, mb_handing_ref(d->h, subject, "horizon", "statedHorizon"));
    give_subject(&g, mb_handing_ref(d->h, subject, "fieldDay", NULL));
    give_subject(&g, mb_handing_ref(d->h, subject, "permission", NULL));
    give_media(d, g.id, subject);
}
