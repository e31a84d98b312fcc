/*
 * The policy of disclosure. A field is shown if its class is one that the audience sees, or it is
 * revealed by name; and it is kept back, and said to be kept back, if
 *   - it was withheld by name for this export, or tells as much as one that was: a camera writes
 *     the position into its photo,
 *   - it is a party's name, and that party lets itself be named less far (namedTo),
 *   - it is a site's, and places it more finely than the site allows (placeFinestAllowed), unless
 *     the reader is an institution or auditor, who need the place for what they do,
 *   - it places a find on federal land more finely than the state, whoever reads, as guard.h says.
 * These are stronger than revealing, and reach corrections of the party or site too.
 */
#include "showing.h"

#include <string.h>

#include "text.h"

bool mb_showing_reveals(const struct mb_showing *showing, struct mb_str name)
{
    for (size_t i = 0; i < showing->issue->reveal_count; i++)
        if (mb_str_is(name, showing->issue->reveal[i]))
            return true;
    return false;
}

/* An entry of this kind, or one that corrects it. */
static bool speaks_for(const struct mb_entry *entry, const char *kind, const char *prefix)
{
    return mb_str_starts(entry->sub, prefix)
           && (mb_str_is(entry->kind, kind) || mb_str_is(entry->kind, "correction"));
}

/* The newest standing value of a field on a subject, whatever its class. */
static struct mb_str latest_word(const mb_story *story, const char *kind, const char *field)
{
    for (size_t i = story ? mb_story_count(story) : 0; i-- > 0;) {
        const struct mb_told *told = mb_story_at(story, i);
        const mb_json *value;

        if (told->voided_by >= 0 || !mb_str_is(told->entry->kind, kind))
            continue;
        value = mb_told_field(told, field, NULL, NULL);
        if (value)
            return mb_json_str(value);
    }
    return (struct mb_str){ NULL, 0 };
}

enum naming { NAME_BY_CLASS, NAME_SHOWN, NAME_KEPT };

static enum naming may_name(const struct mb_showing *showing, const mb_story *story)
{
    struct mb_str to = latest_word(story, "party", "namedTo");

    if (mb_str_is(to, "anyone"))
        return NAME_SHOWN;
    if (mb_str_is(to, "buyers"))
        return showing->audience == MB_PUBLIC ? NAME_KEPT : NAME_SHOWN;
    if (mb_str_starts(to, "institutions"))
        return showing->audience == MB_INSTITUTION || showing->audience == MB_AUDITOR
                   ? NAME_SHOWN
                   : NAME_KEPT;
    return mb_str_is(to, "nobody") ? NAME_KEPT : NAME_BY_CLASS;
}

/* How fine a place may be told, from coarse to fine. */
static int fineness(struct mb_str word)
{
    static const char *const words[] = { "country", "state",          "county",
                                         "0.1 degree cell", "1 km", "exact" };

    for (int i = 0; i < 6; i++)
        if (mb_str_is(word, words[i]))
            return i;
    return 2; /* the default of kind site: county */
}

/* The fineness that a field of a site gives away, -1 for fields that place nothing. */
static int gives_away(struct mb_str name)
{
    static const struct {
        const char *name;
        int fineness;
    } fields[] = {
        { "stateProvince", 1 },      { "county", 2 },           { "municipality", 3 },
        { "coarsePlace", 3 },        { "siteName", 5 },         { "siteNumber", 5 },
        { "verbatimLocality", 5 },   { "boundary", 5 },         { "decimalLatitude", 5 },
        { "decimalLongitude", 5 },   { "verbatimCoordinates", 5 },
        { "legalDescription", 5 },   { "administrativeUnit", 5 },
        { "uncertaintyParts", 5 },   { "fromFeature", 5 },
    };

    for (size_t i = 0; i < sizeof fields / sizeof *fields; i++)
        if (mb_str_is(name, fields[i].name))
            return fields[i].fineness;
    return -1;
}

static const char *held_by(const mb_story *story)
{
    struct mb_str by = latest_word(story, "site", "placeHeldBackBy");

    if (mb_str_is(by, "landowner"))
        return "landowner's request";
    if (mb_str_is(by, "agency"))
        return "agency's request";
    return mb_str_is(by, "institution") ? "institution's request" : "our own decision";
}

static const char *place_refuses(const struct mb_showing *showing, const struct mb_entry *entry,
                                 struct mb_str name, const mb_story *story)
{
    if (showing->audience == MB_INSTITUTION || showing->audience == MB_AUDITOR
        || !speaks_for(entry, "site", "site/"))
        return NULL;
    if (gives_away(name) <= fineness(latest_word(story, "site", "placeFinestAllowed")))
        return NULL;
    return held_by(story);
}

/* The site that a specimen's own entries name. */
static bool found_on_guarded(const struct mb_showing *showing, const mb_story *story)
{
    for (size_t i = story ? mb_story_count(story) : 0; i-- > 0;) {
        const struct mb_told *told = mb_story_at(story, i);
        static const char *const names[] = { "site", "statedSite" };

        for (size_t k = 0; k < 2; k++) {
            struct mb_str site = mb_ref_of(mb_told_field(told, names[k], NULL, NULL));

            if (site.at && mb_guard_has(showing->guard, site))
                return true;
        }
    }
    return false;
}

static bool allows_guarded(const struct mb_showing *showing, const mb_story *story)
{
    for (size_t i = story ? mb_story_count(story) : 0; i-- > 0;)
        MB_JSON_EACH(site, mb_told_field(mb_story_at(story, i), "sites", NULL, NULL))
        {
            if (mb_ref_of(site).at && mb_guard_has(showing->guard, mb_ref_of(site)))
                return true;
        }
    return false;
}

/* Does the field place a find on ground that is guarded from this reader? */
static bool guarded(const struct mb_showing *showing, const struct mb_entry *entry,
                    struct mb_str name, const mb_story *story)
{
    static const char of_site[] = "area closures placePhotos remarks file title siteHazards"
                                  " photosAsTaken";
    static const char of_find[] = "decimalLatitude decimalLongitude verbatimCoordinates"
                                  " fromFeature uncertaintyParts fieldNotes placePhotos"
                                  " statedLocality labelPhotos notebookPage photosAsTaken";
    static const char of_permission[] = "area areaText newArea restoration file title";
    static const char of_day[] = "notebookPages placePhotos groundLeft photosAsTaken";

    if (!showing->guard || !showing->guard->count)
        return false;
    if (mb_str_starts(entry->sub, "site/"))
        return mb_guard_has(showing->guard, entry->sub)
               && (gives_away(name) > 1 || mb_str_among(name, of_site));
    if (mb_is_specimen(entry->sub))
        return mb_str_among(name, of_find) && found_on_guarded(showing, story);
    if (mb_str_starts(entry->sub, "permission/"))
        return mb_str_among(name, of_permission) && allows_guarded(showing, story);
    return mb_str_starts(entry->sub, "field-day/") && mb_str_among(name, of_day)
           && found_on_guarded(showing, story);
}

static bool is_ours(const struct mb_showing *showing, struct mb_str specimen)
{
    for (size_t i = 0; i < showing->specimen_count; i++)
        if (mb_str_equal(showing->specimens[i], specimen))
            return true;
    return false;
}

/* What stands in an element: specimens, and ours among them. */
static void look_for_ours(const struct mb_showing *showing, const mb_json *value, bool *any,
                          bool *ours)
{
    struct mb_str ref = mb_ref_of(value);

    if (ref.at && mb_is_specimen(ref)) {
        *any = true;
        *ours = *ours || is_ours(showing, ref);
    } else if (!ref.at && value->type >= MB_JSON_ARRAY) {
        MB_JSON_EACH(child, value)
        {
            look_for_ours(showing, child, any, ours);
        }
    }
}

/* The pieces beside ours are others' business: an element that names specimens is shown if one of
 * them is ours; one that names none always; and the parts of a whole, which make it up, too. */
static bool element_shown(const struct mb_showing *showing, const struct mb_entry *entry,
                          const mb_json *value)
{
    bool any = false, ours = false;

    if (mb_str_is(entry->kind, "joining"))
        return true;
    look_for_ours(showing, value, &any, &ours);
    return !any || ours;
}

/* Who holds back what tells the very spot holds back what a camera wrote of it. */
static bool tells_too(struct mb_str name, struct mb_str held)
{
    return mb_str_among(name, "photosAsTaken placePhotos") && gives_away(held) == 5;
}

static const char *asked_back(const struct mb_issue *issue, struct mb_str name)
{
    const char *reason = NULL;

    for (size_t i = 0; i < issue->withhold_count; i++) {
        if (mb_str_is(name, issue->withhold[i].field))
            return issue->withhold[i].because;
        if (tells_too(name, mb_str_of(issue->withhold[i].field)))
            reason = issue->withhold[i].because;
    }
    return reason;
}

/* As it was when the certificate was issued. */
static const char *recall(const struct mb_recalled *recalled, const struct mb_hash *hash,
                          bool sees, bool *listed)
{
    char digest[MB_HASH_B64U_LEN + 1];

    mb_b64u_write(digest, hash->b, sizeof hash->b);
    for (size_t i = 0; sees && i < recalled->withheld_count; i++)
        MB_JSON_EACH(row, recalled->withheld[i])
        {
            if (mb_json_text_is(mb_json_get(row, "digest"), digest)) {
                *listed = true;
                return "held back";
            }
        }
    MB_JSON_EACH(one, recalled->revealed)
    {
        if (!sees && mb_json_text_is(one, digest))
            return NULL;
    }
    return sees ? NULL : "not for this audience";
}

static bool is_named(const struct mb_showing *showing, const struct mb_entry *entry,
                     const struct mb_disclosure *disclosure, const mb_story *own_story)
{
    return speaks_for(entry, "party", "party/") && mb_str_is(disclosure->name, "name")
           && may_name(showing, own_story) == NAME_SHOWN;
}

const char *mb_showing_refuses(const struct mb_showing *showing, const struct mb_entry *entry,
                               const struct mb_disclosure *disclosure, enum mb_class in,
                               bool element, const mb_story *own_story, bool *listed)
{
    bool sees = mb_audience_sees(showing->audience, in);
    const char *reason;

    *listed = false;
    if (element)
        return sees && element_shown(showing, entry, disclosure->value) ? NULL
                                                                         : "not of this piece";
    *listed = sees;
    reason = asked_back(showing->issue, disclosure->name);
    if (reason)
        return reason;
    if (showing->recalled && (sees || !is_named(showing, entry, disclosure, own_story))) {
        *listed = false;
        return recall(showing->recalled, &disclosure->digest, sees, listed);
    }
    if (speaks_for(entry, "party", "party/") && mb_str_is(disclosure->name, "name")) {
        enum naming naming = may_name(showing, own_story);

        if (naming == NAME_SHOWN)
            return NULL;
        if (naming == NAME_KEPT)
            return "a person's request";
    }
    if (!sees && !mb_showing_reveals(showing, disclosure->name))
        return "not for this audience";
    if (guarded(showing, entry, disclosure->name, own_story))
        return "agency's request";
    return place_refuses(showing, entry, disclosure->name, own_story);
}
