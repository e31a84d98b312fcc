#include "registrar.h"

#include <string.h>

#include "buf.h"
#include "text.h"

enum { README_MAX = 16 << 20, NAMED = 6 };

/* ---- what the record says of all pieces ---- */

struct asking {
    const struct mb_handing *h;
    enum mb_handed_as as;
    mb_json *out;
};

typedef bool holds_fn(const struct mb_handing *h, struct mb_str specimen);

/* Numbers of those of which it does not hold; NULL if of none. */
static const char *lacking(const struct mb_handing *h, holds_fn *holds)
{
    char *out = NULL;
    size_t n = 0;

    for (size_t i = 0; i < h->count; i++) {
        if (holds(h, mb_handing_subject(h, i)))
            continue;
        if (n++ < NAMED)
            out = mb_arena_printf(h->arena, "%s%s%s", out ? out : "", out ? ", " : "",
                                  mb_handing_id(h, i));
    }
    if (n > NAMED)
        out = mb_arena_printf(h->arena, "%s and %zu more", out, n - NAMED);
    return out;
}

static void point(struct asking *a, int number, const char *title, bool open, const char *text)
{
    mb_json *row = mb_json_add(a->out, mb_json_object(a->h->arena));

    mb_json_put_int(a->h->arena, row, "point", number);
    mb_json_put_text(a->h->arena, row, "title", title);
    mb_json_put_bool(a->h->arena, row, "open", open);
    mb_json_put_text(a->h->arena, row, "text", text);
}

/* Answered where it holds for all; else open, with their numbers. */
static void by_record(struct asking *a, int number, const char *title, holds_fn *holds,
                      const char *answered, const char *missing)
{
    const char *which = lacking(a->h, holds);

    point(a, number, title, which != NULL,
          which ? mb_arena_printf(a->h->arena, "%s (%s)", missing, which) : answered);
}

static bool known(const struct mb_handing *h, struct mb_str subject, const char *kind,
                  const char *field)
{
    return subject.at && mb_handing_known(mb_handing_value(h, subject, kind, field));
}

static bool owner(const struct mb_handing *h, struct mb_str s)
{
    return known(h, s, "title", "to");
}

static bool land(const struct mb_handing *h, struct mb_str s)
{
    return strcmp(mb_handing_land(h, s), "not known") != 0;
}

static bool permission(const struct mb_handing *h, struct mb_str s)
{
    struct mb_str ref = mb_handing_ref(h, s, "permission", NULL);
    const mb_json *paper = ref.at ? mb_handing_value(h, ref, "permission", "document") : NULL;

    return mb_json_text_is(mb_handing_value(h, s, "collecting", "permission"), "not needed")
           || mb_handing_known(paper);
}

static bool from_the_ground(const struct mb_handing *h, struct mb_str s)
{
    const mb_story *story = mb_stories_of(h->check.stories, s);
    const mb_json *from = NULL;

    for (size_t i = 0; story && !from && i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);

        if (told->voided_by < 0 && mb_str_is(told->entry->kind, "title"))
            from = mb_told_field(told, "from", NULL, NULL);
    }
    return mb_json_text_is(from, "nobody before")
           || mb_json_text_is(mb_json_get(from, "answer"), "nobody before")
           || mb_json_text_is(mb_handing_value(h, s, "title", "fromLabel"), "nobody before");
}

static bool no_open_claim(const struct mb_handing *h, struct mb_str s)
{
    const struct mb_told *claim = mb_handing_newest(h, s, "claim");

    return !claim || mb_json_text_is(mb_told_field(claim, "status", NULL, NULL), "settled")
           || mb_json_text_is(mb_told_field(claim, "status", NULL, NULL), "withdrawn");
}

static bool country(const struct mb_handing *h, struct mb_str s)
{
    return known(h, s, "arrival", "countryOfDiscovery")
           || known(h, mb_handing_ref(h, s, "site", "statedSite"), "site", "countryCode");
}

static bool stays(const struct mb_handing *h, struct mb_str s)
{
    return known(h, s, "title", "conditions");
}

static bool hazards(const struct mb_handing *h, struct mb_str s)
{
    return known(h, s, "condition", "hazards");
}

static bool counted(const struct mb_handing *h, struct mb_str s)
{
    return known(h, s, NULL, "objectQuantity") && known(h, s, "condition", "numberOnObject");
}

static bool told_apart(const struct mb_handing *h, struct mb_str s)
{
    const mb_json *marks = mb_handing_value(h, s, "condition", "identifyingMarks");

    return mb_json_is(marks, MB_JSON_ARRAY) && marks->count >= 3
           && known(h, s, "condition", "dimensions") && known(h, s, "condition", "mass");
}

static bool dispatched(const struct mb_handing *h, struct mb_str s)
{
    const mb_json *occasion = mb_handing_value(h, s, "condition", "occasion");

    return mb_json_text_is(occasion, "dispatch") || mb_json_text_is(occasion, "for sale")
           || mb_json_text_is(occasion, "after work");
}

static bool field_data(const struct mb_handing *h, struct mb_str s)
{
    struct mb_str site = mb_handing_ref(h, s, "site", "statedSite");
    bool own = known(h, s, "collecting", "decimalLatitude");

    return (own || known(h, site, "site", "decimalLatitude"))
           && known(h, own ? s : site, NULL, "coordinateUncertaintyInMeters")
           && known(h, own ? s : site, NULL, "geodeticDatum")
           && mb_handing_ref(h, s, "horizon", "statedHorizon").at
           && known(h, s, "collecting", "eventDate") && known(h, s, "collecting", "recordedBy");
}

static bool treated(const struct mb_handing *h, struct mb_str s)
{
    return known(h, s, "preparation", "steps") && known(h, s, NULL, "fieldTreatment");
}

static bool label(const struct mb_handing *h, struct mb_str s)
{
    return !mb_handing_newest(h, s, "arrival") || known(h, s, "arrival", "verbatimLabel");
}

static bool ties(const struct mb_handing *h, struct mb_str s)
{
    return mb_handing_newest(h, s, "relation") || mb_handing_newest(h, s, "division")
           || mb_handing_newest(h, s, "joining") || mb_handing_newest(h, s, "making");
}

static bool type_status(const struct mb_handing *h, struct mb_str s)
{
    return known(h, s, "identification", "typeStatus");
}

static bool release(const struct mb_handing *h, struct mb_str s)
{
    struct mb_str site = mb_handing_ref(h, s, "site", "statedSite");

    return known(h, site, "site", "placeFinestAllowed");
}

static bool numbered(const struct mb_handing *h, struct mb_str s)
{
    return known(h, s, "numbering", "number");
}

/* ---- the points ---- */

static void before_the_box(struct asking *a)
{
    const struct mb_handing *h = a->h;
    const char *federal = NULL;

    for (size_t i = 0; i < h->count && !federal; i++)
        if (strcmp(mb_handing_land(h, mb_handing_subject(h, i)), "federal") == 0)
            federal = mb_handing_id(h, i);
    by_record(a, 1, "Who offers it, and in what capacity", owner,
              mb_arena_printf(h->arena, "%s, for the owner by the record: %s. Paper of authority:"
                                        " ask for it where they are not the same.",
                              h->issuer, mb_paper_giver(h, 0)),
              "The owner is not on record");
    by_record(a, 2, "Whose land it was on the day", land,
              federal ? mb_arena_printf(h->arena, "On record (record.pdf, The place and its"
                                                  " land). %s comes from federal land: no deed of"
                                                  " gift; see the receipt of a repository.",
                                        federal)
                      : "On record: record.pdf, The place and its land.",
              "The kind of land is not on record");
    by_record(a, 3, "The permission", permission,
              "Attached: record.pdf, The permission and its papers. Whether the issuer was asked"
              " to confirm it stands there too.",
              "The paper of the permission is not on record");
    by_record(a, 4, "Title from the ground to the giver, no open claim", from_the_ground,
              lacking(h, no_open_claim)
                  ? mb_arena_printf(h->arena, "On record from the ground on; but a claim is open"
                                              " (%s)", lacking(h, no_open_claim))
                  : "On record from the ground on: record.pdf, Owners. No claim is open by the"
                    " record. Check the issuer's list of withdrawn certificates.",
              "The record of title does not begin at the ground");
    by_record(a, 5, "Country of discovery, and leaving it", country,
              "The country is on record; border papers, where it crossed one, are with the changes"
              " of hands.",
              "The country is not on record");
    by_record(a, 6, "Conditions on it", stays, "Listed in record.pdf, Owners, and in the form.",
              "Whether there are conditions is not on record");
    by_record(a, 7, "Hazards", hazards,
              "Readings, or the word not tested: record.pdf, Cautions.",
              "Nothing is on record: treat it as not tested");
}

static void on_opening(struct asking *a)
{
    by_record(a, 8, "Pieces counted, numbers found on them", counted,
              "Number and place of the number on the piece are on record; count again on opening.",
              "The count or the number on the object is not on record");
    by_record(a, 9, "Three marks, size and mass", told_apart, "On record: record.pdf; compare.",
              "Three marks, size or mass are not on record");
    by_record(a, 10, "Condition on receipt against condition at dispatch", dispatched,
              "The condition at dispatch is on record; yours on receipt is to be written.",
              "No condition at dispatch is on record");
    point(a, 11, "Entry receipt signed by both", true,
          "forms/entry-receipt.pdf is ready; it is open until both have signed.");
}

static void data_points(struct asking *a)
{
    by_record(a, 12, "Place, datum, uncertainty, layer, day, collector, notes", field_data,
              "On record: record.pdf and darwin-core/occurrence.txt; notes among the attachments.",
              "Some of it is not on record; see what is missing below");
    by_record(a, 13, "Materials in it", treated,
              "On record: record.pdf, Materials in it. Where it was consolidated, sampling for"
              " isotopes may not be possible.",
              "Treatment in the field or at the bench is not on record");
    by_record(a, 14, "Label text verbatim", label,
              "Kept word for word beside our reading, where there was a label.",
              "It came with a label that is not on record word for word");
    by_record(a, 15, "Parts elsewhere", ties,
              "Relations on record: record.pdf, darwin-core/resourcerelationship.txt.",
              "No counterpart, section, cast or other part is on record, which is no word that"
              " there is none");
    by_record(a, 16, "Publications, type status, embargo", type_status,
              "On record: record.pdf, identification and documents.", "Not on record");
    by_record(a, 17, "Release of the place, photos checked by eye", release,
              "How fine the place may be told in public is on record, and who decided. Look at the"
              " photos yourself: a background shows a place as surely as a tag.",
              "How fine the place may be told is not on record");
    point(a, 18, "The archive opens in your tools, all files hash", false,
          "darwin-core.zip, plain text with headings; sha512sum -c manifest-sha512.txt in the"
          " folder of the bag.");
}

static void paper_points(struct asking *a)
{
    static const char *const forms[] = {
        [MB_AS_GIFT] = "forms/deed-of-gift-draft.pdf: objects by number, and nothing of money."
                       " Open until counsel has read it and your officer signs.",
        [MB_AS_LOAN] = "forms/loan-draft.pdf. Open until counsel has read it and both sign.",
        [MB_AS_DEPOSIT] = "forms/repository-receipt-draft.pdf, and the agency's papers, which it"
                          " lists. Open until they lie with it.",
        [MB_AS_NOTHING] = "No form is in the bag; forms/README.txt says why.",
    };

    point(a, 19, "Deed, loan or repository receipt", true, forms[a->as]);
    point(a, 20, "Rights of images, casts, scans, naming", true,
          "To be agreed in the form; the record says nothing binding of it.");
    by_record(a, 21, "Your numbers sent back, the giver's ledger countersigned", numbered,
              "A number of yours is on record; countersign on paper if you run no key.",
              "Accession and catalogue numbers are yours to give, and to send back");
    point(a, 22, "What the ledger cannot show", false,
          "Whether the statements are true, work that nobody disclosed, and whether an old label"
          " belongs to this stone. Note it in your file.");
}

mb_json *mb_registrar_points(const struct mb_handing *h, enum mb_handed_as as)
{
    struct asking a = { h, as, mb_json_array(h->arena) };

    before_the_box(&a);
    on_opening(&a);
    data_points(&a);
    paper_points(&a);
    return a.out;
}

/* ---- README.txt ---- */

/* Broken at blanks, at most 78 characters a line, `indent` blanks before each. */
static void flow(struct mb_buf *buf, const char *text, size_t indent)
{
    struct mb_str rest = mb_str_of(text), word;
    size_t at = 0;

    while (rest.len > 0) {
        mb_str_cut(rest, ' ', &word, &rest);
        if (at > 0 && at + 1 + word.len > 78) {
            mb_buf_add_char(buf, '\n');
            at = 0;
        }
        if (at == 0) {
            mb_buf_printf(buf, "%*s", (int)indent, "");
            at = indent;
        } else {
            mb_buf_add_char(buf, ' ');
            at++;
        }
        mb_buf_add_str(buf, word);
        at += word.len;
    }
    mb_buf_add_char(buf, '\n');
}

static void what_is_where(const struct mb_handing *h, struct mb_buf *buf)
{
    mb_buf_printf(buf,
                  "FOR THE REGISTRAR\n=================\n\n"
                  "From    %s (ledger %s)\nTo      %s\nMade    %s\nPieces  %zu\n\n",
                  h->issuer, h->origin, h->to_words, h->day, h->count);
    for (size_t i = 0; i < h->count; i++)
        flow(buf, mb_arena_printf(h->arena, "%s  %s", mb_handing_id(h, i), mb_paper_object(h, i)),
             2);
    mb_buf_add_text(
        buf,
        "\nWhat lies here (all of it under data/)\n"
        "  record.pdf        the whole record of each piece, to read and to print\n"
        "  sheet.pdf         the same in short, with the certificate inside\n"
        "  certificate.json  the signed record itself; everything else is made from it\n"
        "  attachments/      photos and papers at full size, with all the camera wrote\n"
        "  attachments.tsv   which file belongs to which entry\n"
        "  sections/         the measured section of each layer, where it was measured\n"
        "  measurements/     outlines and counts that the shares come from\n"
        "  darwin-core/      the same data as tables (Darwin Core Archive); also as .zip\n"
        "  forms/            receipts and a draft to sign\n\n"
        "How to check it\n"
        "  Nothing was changed:  sha512sum -c manifest-sha512.txt   (or sha256sum)\n"
        "  Who says so:          markerbed verify .   with a trust file; compare the\n"
        "                        fingerprint with one that you got by another way\n"
        "  Shares worked out again:  markerbed measure FILE   under measurements/\n\n");
}

static void missing_lines(const struct mb_handing *h, struct mb_buf *buf,
                          const mb_json *readiness)
{
    mb_buf_add_text(buf, "\nWhat is missing, most important first\n");
    MB_JSON_EACH(one, readiness)
    {
        const mb_json *missing = mb_json_get(one, "missing");

        mb_buf_printf(buf, "  %.*s: %s\n", MB_STR_ARG(mb_json_str(mb_json_get(one, "specimen"))),
                      missing->count ? "" : "nothing that is asked for here");
        MB_JSON_EACH(row, missing)
            flow(buf,
                 mb_arena_printf(h->arena, "- %.*s (%.*s): %.*s",
                                 MB_STR_ARG(mb_json_str(mb_json_get(row, "title"))),
                                 MB_STR_ARG(mb_json_str(mb_json_get(row, "about"))),
                                 MB_STR_ARG(mb_json_str(mb_json_get(row, "state")))),
                 4);
    }
}

struct mb_str mb_registrar_readme(const struct mb_handing *h, const mb_json *points,
                                  const mb_json *readiness)
{
    MB_BUF_AUTO struct mb_buf buf = { 0 };

    mb_buf_init(&buf, README_MAX);
    what_is_where(h, &buf);
    mb_buf_add_text(&buf, "Your 22 questions\n");
    MB_JSON_EACH(one, points)
    {
        mb_buf_printf(&buf, "%3lld. %.*s: %s\n",
                      (long long)mb_json_int(mb_json_get(one, "point"), 0),
                      MB_STR_ARG(mb_json_str(mb_json_get(one, "title"))),
                      mb_json_true(mb_json_get(one, "open")) ? "OPEN" : "answered");
        flow(&buf, mb_json_cstr(h->arena, mb_json_get(one, "text")), 5);
    }
    missing_lines(h, &buf, readiness);
    mb_buf_add_text(&buf, "\n");
    flow(&buf, "This is what the record shows, and when it was written down. It is no legal advice"
               " and does not say whether the find was allowed: that is for the land manager and"
               " for licensed counsel.", 0);
    return mb_arena_str(h->arena, mb_buf_str(&buf));
}
