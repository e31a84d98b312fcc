#include "readiness.h"

#include <markerbed/handover.h>

#include <string.h>

#include "kinds.h"
#include "text.h"
#include "words.h"

/* Whose chain holds the field. */
enum whose { OF_PIECE, OF_SITE, OF_LAYER, OF_PERMISSION };

/* In the order of what matters most to whoever wants to use the piece (common practice of
 * collections, no one source; the registrar's questions are in registrar.c). */
static const struct {
    const char *about, *title;
    enum whose whose;
    const char *kinds; /* divided by blanks; the first is the one to record */
    const char *fields; /* any of these will do */
    const char *why;
    bool none_will_do; /* "none" or "does not apply" is an answer */
} asked[] = {
    { "place", "Place", OF_PIECE, "collecting arrival", "site statedSite",
      "Without a place a find tells nothing of where anything lived.", false },
    { "place", "Point on the map", OF_SITE, "site collecting", "decimalLatitude",
      "It lets others go back to the layer.", false },
    { "place", "Datum of the point", OF_SITE, "site collecting", "geodeticDatum",
      "Without it the same figures may mean places 100 m and more apart.", false },
    { "place", "Uncertainty of the point", OF_SITE, "site collecting",
      "coordinateUncertaintyInMeters",
      "A point without its uncertainty cannot be used in any analysis.", false },
    { "place", "How the point was taken", OF_SITE, "site collecting", "coordinateSource",
      "It tells how far the point can be trusted.", false },
    { "layer", "Layer", OF_PIECE, "collecting arrival", "horizon statedHorizon",
      "The layer gives the age and the rock; nothing else can replace it.", false },
    { "layer", "Formation", OF_LAYER, "horizon", "formation",
      "Age and setting are looked up by it.", false },
    { "layer", "Age", OF_LAYER, "horizon identification", "earliestStage",
      "Every use of the piece begins with its age.", false },
    { "layer", "In place or loose", OF_PIECE, "collecting", "inPlace",
      "A loose find does not date by the layer it lay on.", false },
    { "finding", "Day it was found", OF_PIECE, "collecting arrival", "eventDate statedDate",
      "The day ties it to field notes and to the permission.", false },
    { "finding", "Who found it", OF_PIECE, "collecting arrival", "recordedBy statedCollector",
      "Somebody may have to be asked.", false },
    { "permission", "Whose land it was", OF_SITE, "land-status", "landCategory",
      "It decides who can give the piece.", false },
    { "permission", "Permission", OF_PIECE, "collecting arrival", "permission earlierHistory",
      "An institution has to see by what right it was taken.", false },
    { "permission", "Paper of the permission", OF_PERMISSION, "permission", "document",
      "The paper itself, not the word of it.", false },
    { "permission", "Who owns it now", OF_PIECE, "title", "to",
      "The one who can give it, and from whom it came.", false },
    { "treatment", "Treatment in the field", OF_PIECE, "collecting arrival",
      "fieldTreatment earlierWork", "What went onto it in the field changes later analyses.",
      true },
    { "treatment", "Work at the bench", OF_PIECE, "preparation", "steps",
      "Materials in it decide what can still be measured on it, and how to undo them.", true },
    { "treatment", "How much is original", OF_PIECE, "condition",
      "shares elementsCount lotSummary", "What was made is not to be studied as bone.", true },
    { "treatment", "Hazards", OF_PIECE, "condition", "hazards",
      "Radiation, old pesticides, decaying pyrite: a reading, or not tested.", true },
    { "identity", "Name", OF_PIECE, "identification", "scientificName",
      "It is catalogued and found by it.", false },
    { "identity", "Three marks", OF_PIECE, "condition", "identifyingMarks",
      "They tie the paper to the stone.", false },
    { "identity", "Size", OF_PIECE, "condition", "dimensions", "Size tells two pieces apart.",
      false },
    { "identity", "Picture with a scale", OF_PIECE, "condition collecting arrival", "photos",
      "Anybody can compare it.", false },
};
enum { ASKED = sizeof asked / sizeof *asked };

static struct mb_str subject_of(const struct mb_handing *h, struct mb_str specimen,
                                enum whose whose)
{
    switch (whose) {
    case OF_SITE:
        return mb_handing_ref(h, specimen, "site", "statedSite");
    case OF_LAYER:
        return mb_handing_ref(h, specimen, "horizon", "statedHorizon");
    case OF_PERMISSION:
        return mb_handing_ref(h, specimen, "permission", NULL);
    default:
        return specimen;
    }
}

static bool next_word(struct mb_str *rest, struct mb_str *word)
{
    mb_str_cut(*rest, ' ', word, rest);
    return word->len > 0;
}

static bool is_none(const mb_json *value)
{
    const mb_json *answer = mb_json_get(value, "answer");

    return mb_json_text_is(answer, "none") || mb_json_text_is(answer, "does not apply")
           || mb_json_text_is(value, "none") || mb_json_text_is(value, "does not apply");
}

/* 0: known; 1: not known; 2: missing. */
static int state_in(const struct mb_handing *h, struct mb_str subject, size_t which)
{
    struct mb_str kinds = mb_str_of(asked[which].kinds), kind;
    int state = 2;

    while (next_word(&kinds, &kind)) {
        struct mb_str fields = mb_str_of(asked[which].fields), field;

        while (next_word(&fields, &field)) {
            const mb_json *value =
                mb_handing_value(h, subject, mb_arena_copy(h->arena, kind.at, kind.len),
                                 mb_arena_copy(h->arena, field.at, field.len));

            if (mb_handing_known(value) && (asked[which].none_will_do || !is_none(value)))
                return 0;
            if (is_none(value) && asked[which].none_will_do)
                return 0;
            if (value)
                state = 1;
        }
    }
    return state;
}

static const char *example_of(mb_arena *arena, const struct mb_kind_field *field)
{
    const mb_json *example = field ? mb_json_get(field->json, "example") : NULL;

    if (!example || example->type == MB_JSON_ARRAY || example->type == MB_JSON_OBJECT)
        return "...";
    return mb_words_value(arena, example);
}

/* The line to type. A value that is on record as not known is corrected; else a new entry. */
static const char *how(const struct mb_handing *h, struct mb_str subject, const char *kind,
                       const struct mb_kind_field *field)
{
    const struct mb_told *told = mb_handing_newest(h, subject, kind);
    const char *value = mb_arena_printf(h->arena, "\"%s=%s\"", field->name.at,
                                        example_of(h->arena, field));

    if (told && strcmp(kind, "preparation") != 0 && strcmp(kind, "condition") != 0)
        return mb_arena_printf(h->arena,
                               "markerbed record correction %.*s \"target=#%lld\" \"action=change"
                               " fields\" \"why=learned later\" changesFacts=yes %s",
                               MB_STR_ARG(subject), (long long)told->entry->seq, value);
    return mb_arena_printf(h->arena, "markerbed record %s %.*s --ask", kind, MB_STR_ARG(subject));
}

static void tell(const struct mb_handing *h, mb_json *out, size_t which, struct mb_str subject,
                 int state)
{
    struct mb_str rest = mb_str_of(asked[which].kinds), kind, field, fields;
    const char *kind_name;
    const struct mb_kind_field *known = NULL;
    mb_json *row = mb_json_add(out, mb_json_object(h->arena));

    next_word(&rest, &kind);
    /* what a piece that came out of another does not say of its finding, the other has to say */
    while (mb_str_is(kind, "collecting") && !mb_handing_newest(h, subject, "collecting")
           && !mb_handing_newest(h, subject, "arrival") && mb_handing_parent(h, subject).at)
        subject = mb_handing_parent(h, subject);
    while (subject.at && mb_str_starts(subject, "specimen/")
           && !mb_handing_newest(h, subject, mb_arena_copy(h->arena, kind.at, kind.len))
           && rest.len > 0)
        next_word(&rest, &kind); /* the kind that this piece began with */
    kind_name = mb_arena_copy(h->arena, kind.at, kind.len);
    fields = mb_str_of(asked[which].fields);
    while (!known && next_word(&fields, &field))
        known = mb_kind_field(mb_kind_find(kind), field);
    mb_json_put_int(h->arena, row, "rank", (int64_t)which + 1);
    mb_json_put_text(h->arena, row, "about", asked[which].about);
    mb_json_put_text(h->arena, row, "title", asked[which].title);
    mb_json_put_text(h->arena, row, "state", state == 1 ? "not known" : "missing");
    mb_json_put(h->arena, row, "subject", mb_json_string_str(h->arena, subject));
    mb_json_put_text(h->arena, row, "kind", kind_name);
    mb_json_put_text(h->arena, row, "field", known ? known->name.at : asked[which].fields);
    mb_json_put_text(h->arena, row, "why", asked[which].why);
    mb_json_put_text(h->arena, row, "how", known ? how(h, subject, kind_name, known) : "");
}

mb_json *mb_readiness_of(const struct mb_handing *h, struct mb_str specimen)
{
    mb_json *out = mb_json_array(h->arena);

    for (size_t i = 0; i < ASKED; i++) {
        struct mb_str subject = subject_of(h, specimen, asked[i].whose);
        int state;

        if (!subject.at) /* the reference itself is asked for already */
            continue;
        if (strcmp(asked[i].kinds, "collecting") == 0
            && !mb_handing_value(h, specimen, "collecting", "eventDate"))
            continue; /* it came in: nobody here saw it in the ground */
        state = state_in(h, subject, i);
        /* a find may have its own point */
        if (state != 0 && asked[i].whose == OF_SITE && strstr(asked[i].kinds, "collecting")
            && state_in(h, specimen, i) == 0)
            state = 0;
        if (state != 0)
            tell(h, out, i, subject, state);
    }
    return out;
}

enum mb_rc mb_readiness(mb_ledger *ledger, mb_arena *arena, const char *specimen,
                        const mb_json **out, struct mb_error *err)
{
    struct mb_handing h;
    enum mb_rc rc = mb_handing_look(ledger, arena, &specimen, 1, &h, err);

    if (!rc)
        *out = mb_readiness_of(&h, mb_handing_subject(&h, 0));
    return rc;
}
