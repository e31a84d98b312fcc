#include "sheet_page.h"

#include <string.h>

#include "kinds.h"
#include "text.h"
#include "words.h"
#include "words_rows.h"

/* ---- making items ---- */

struct mb_page_item *mb_page_add(struct mb_page *page, enum mb_page_kind kind)
{
    struct mb_page_item *item = MB_NEW(page->arena, struct mb_page_item);

    item->kind = kind;
    *page->end = item;
    page->end = &item->next;
    return item;
}

void mb_page_section(struct mb_page *page, const char *title)
{
    mb_page_add(page, MB_PAGE_SECTION)->text = title;
}

void mb_page_say(struct mb_page *page, const char *text)
{
    mb_page_add(page, MB_PAGE_SAY)->text = text;
}

void mb_page_stress(struct mb_page *page, const char *text)
{
    struct mb_page_item *item = mb_page_add(page, MB_PAGE_SAY);

    item->text = text;
    item->strong = true;
}

void mb_page_pair(struct mb_page *page, const char *label, const char *text)
{
    struct mb_page_item *item = mb_page_add(page, MB_PAGE_PAIR);

    item->label = label;
    item->text = text;
}

const mb_json *mb_page_line(const struct mb_page *page, const char *name)
{
    if (!mb_json_get(page->told, name))
        mb_json_put(page->arena, page->told, name, mb_json_null(page->arena));
    MB_JSON_EACH(line, page->lines)
    {
        if (mb_json_text_is(mb_json_get(line, "name"), name))
            return line;
    }
    return NULL;
}

static char *line_words(const struct mb_page *page, const mb_json *line)
{
    return mb_words_line(page->arena, mb_page_named(page, line));
}

const char *mb_page_said(const struct mb_page *page, const char *name)
{
    const mb_json *line = mb_page_line(page, name);

    return line ? line_words(page, line) : NULL;
}

bool mb_page_rows(const struct mb_page *page, const char *name)
{
    const mb_json *value = mb_json_get(mb_page_line(page, name), "value");

    return mb_json_is(value, MB_JSON_ARRAY) && value->count > 0;
}

/* The vocabulary of a line whose values are codes that only the trade reads, else NULL. */
static const struct mb_choices *codes_of(struct mb_str line)
{
    static const char *const coded[][2] = { { "countryCode", "site" },
                                            { "countryOfDiscovery", "arrival" },
                                            { "landCategory", "land-status" } };

    for (size_t i = 0; i < sizeof coded / sizeof *coded; i++) {
        const struct mb_kind *kind = mb_kind_find(mb_str_of(coded[i][1]));
        const struct mb_kind_field *field =
            mb_str_is(line, coded[i][0]) && kind ? mb_kind_field(kind, line) : NULL;

        if (field)
            return field->choices;
    }
    return NULL;
}

/* "Bureau of Land Management (United States)" for BLM. */
static const char *spelled_out(const struct mb_page *page, struct mb_str name, const mb_json *line)
{
    const struct mb_choices *codes = codes_of(name);
    const mb_json *value = mb_json_get(line, "value");
    const mb_json *one = mb_json_is(value, MB_JSON_ARRAY) ? value->first : value;
    const char *out = NULL;

    if (!codes || !codes->titles)
        return line_words(page, line);
    for (; one; one = mb_json_is(value, MB_JSON_ARRAY) ? one->next : NULL) {
        int at = mb_json_str(one).at ? mb_choice_find(codes, mb_json_str(one)) : -1;
        const char *text = at >= 0 ? codes->titles[at] : NULL;

        if (!text)
            text = mb_words_value(page->arena, one);
        out = out ? mb_arena_printf(page->arena, "%s; %s", out, text) : text;
    }
    return out ? out : "";
}

static void pair_of(struct mb_page *page, struct mb_str name)
{
    const char *plain = mb_arena_copy(page->arena, name.at, name.len);
    const mb_json *line = mb_page_line(page, plain);
    struct mb_str title = mb_statement_title(page->check->table, name);
    const char *text;

    if (!line)
        return;
    text = spelled_out(page, name, line);
    if (mb_str_is(name, "placeHeldBackBy") && strcmp(text, "us") == 0)
        text = "the issuer of this sheet";
    if (*text)
        mb_page_pair(page,
                     mb_arena_printf(page->arena, "%.*s%s", MB_STR_ARG(title),
                                     mb_json_true(mb_json_get(line, "attested"))
                                         ? "\n(the issuer's word)"
                                         : ""),
                     text);
}

void mb_page_pairs(struct mb_page *page, const char *names)
{
    struct mb_str rest = mb_str_of(names), name;

    while (rest.len) {
        mb_str_cut(rest, ' ', &name, &rest);
        pair_of(page, name);
    }
}

/* ---- the title ---- */

/* "Xiphactinus cf. audax": before the last word of two, before a word alone, else behind. */
static const char *qualified(const struct mb_page *page, const char *name)
{
    const char *doubt = mb_page_said(page, "identificationQualifier");
    const char *last = strrchr(name, ' ');

    if (!doubt || strcmp(doubt, "none") == 0 || strcmp(doubt, "not known") == 0
        || strstr(name, doubt))
        return name;
    if (strcmp(doubt, "cf.") != 0 && strcmp(doubt, "aff.") != 0)
        return mb_arena_printf(page->arena, "%s (%s)", name, doubt);
    return last ? mb_arena_printf(page->arena, "%.*s %s%s", (int)(last - name), name, doubt, last)
                : mb_arena_printf(page->arena, "%s %s", doubt, name);
}

static const char *plain_name(const struct mb_page *page)
{
    const char *group = mb_page_said(page, "vernacularName");
    const char *name = mb_page_said(page, "scientificName");
    const char *made = mb_page_said(page, "making");
    const char *field = mb_page_said(page, "verbatimIdentification");
    const char *out = made ? made : group ? group : field ? field : "not identified on the record";

    if (name && strcmp(name, "not known") != 0)
        name = qualified(page, name);
    if (name && strcmp(name, "not known") != 0)
        out = group ? mb_arena_printf(page->arena, "%s, %s", group, name) : name;
    return out;
}

/* "2 individuals, placed together: " where a plate holds more than one. */
static const char *association(const struct mb_page *page)
{
    const mb_json *rows = mb_json_get(mb_page_line(page, "individuals"), "value");
    const char *words = NULL;

    if (!mb_json_is(rows, MB_JSON_ARRAY) || rows->count < 2)
        return "";
    MB_JSON_EACH(row, rows)
    {
        const char *one = mb_words_member(page->arena, row, "association");

        if (!one)
            continue;
        if (!words)
            words = one;
        else if (strcmp(words, one) != 0)
            words = "not all of them found together";
    }
    if (words && strcmp(words, "not known") == 0)
        words = "whether found together is not known";
    return mb_arena_printf(page->arena, "%u individuals, %s: ", rows->count,
                           words ? words : "whether found together is not told");
}

static char *capital(char *text)
{
    if (*text >= 'a' && *text <= 'z')
        *text = (char)(*text - 'a' + 'A');
    return text;
}

/* Carved, cast, composite and placed together come first, then what it is. */
static const char *title_of(struct mb_page *page)
{
    static const struct {
        const char *word, *first;
    } kinds[] = {
        { "carved or worked from fossil", "Carved from fossil: " },
        { "cast or copy", "Cast, not a fossil: " },
        { "parts of several individuals", "Composite, parts of several individuals: " },
        { "fossil with made parts", "With made parts: " },
        { "not a fossil", "Not a fossil: " },
        { "not as described before", "Not as described before: " },
        { "not known", "What it is, is not known: " },
    };
    const char *what = mb_page_said(page, "whatItIs"), *first = "";

    for (size_t i = 0; what && i < sizeof kinds / sizeof *kinds; i++)
        if (strcmp(what, kinds[i].word) == 0)
            first = kinds[i].first;
    page->cast = (what && strcmp(what, "cast or copy") == 0) || mb_page_line(page, "making");
    return capital(mb_arena_printf(page->arena, "%s%s%s", first, association(page),
                                   plain_name(page)));
}

/* ---- sections, in the order of what a buyer has to know ---- */

static void what_it_is(struct mb_page *page)
{
    mb_page_section(page, "What it is");
    mb_page_pairs(page,
                  "whatItIs making vernacularName scientificName identificationQualifier"
                  " typeStatus objectForm objectQuantity recount individuals preservation elements"
                  " verbatimIdentification statedIdentification identifiedBy identifierTie"
                  " identificationSure materialClass form");
}

static void work(struct mb_page *page)
{
    const mb_json *sittings = mb_json_get(mb_page_line(page, "preparation"), "value");
    size_t n = 0;

    mb_page_section(page, "Joins, surface, rock");
    if (!mb_page_line(page, "joins"))
        mb_page_say(page, "Nobody has recorded whether it has mended breaks.");
    mb_page_pairs(page, "joins surfaces rock");
    mb_page_section(page, "What was done to it, in order");
    if (!mb_json_is(sittings, MB_JSON_ARRAY) || sittings->count == 0) {
        mb_page_say(page, "No work is on record. That does not say that none was done.");
        return;
    }
    mb_page_pairs(page, "preparationSittings");
    MB_JSON_EACH(row, sittings)
    {
        mb_json *one = mb_json_array(page->arena);

        mb_json_add(one, mb_json_copy(page->arena, row));
        mb_page_pair(page, mb_arena_printf(page->arena, "%zu", ++n),
                     mb_words_rows(page->arena, MB_STR("preparation"), one));
    }
    mb_page_say(page, "This is the work on record. Earlier work by others may not be in it.");
}

/* A piece that came out of another has no find of its own: what follows is the other's record,
 * worked out by the same table out of the same file. */
static void as_its_parent(struct mb_page *page, void (*section)(struct mb_page *))
{
    struct mb_str parent = mb_page_parent(page);
    const mb_json *own = page->lines;

    if (mb_page_line(page, "eventDate") || !parent.at) {
        section(page);
        return;
    }
    page->lines = mb_statement_lines(page->arena, page->check->table, page->check->stories, parent,
                                     page->index);
    page->of = mb_arena_copy(page->arena, parent.at + 9, parent.len - 9);
    section(page);
    page->lines = own;
    page->of = NULL;
}

static void say_of(struct mb_page *page)
{
    if (page->of)
        mb_page_say(page, mb_arena_printf(page->arena, "As recorded of %s, which this piece came"
                                                       " out of:",
                                          page->of));
}

static void where(struct mb_page *page)
{
    mb_page_section(page, "Where, when and in which layer it was found");
    say_of(page);
    mb_page_pairs(page,
                  "eventDate recordedBy inPlace collectingMadeFrom countryCode countryOfDiscovery"
                  " stateProvince county coarsePlace coarsePlaceHolds siteName decimalLatitude"
                  " decimalLongitude coordinateUncertaintyInMeters placeHeldBackBy formation member"
                  " bed earliestStage latestStage");
}

static void land(struct mb_page *page)
{
    mb_page_section(page, "The land, as the record shows it");
    say_of(page);
    mb_page_pairs(page, "landCategory permissionType saleAllowed");
    mb_page_dig(page);
    if (!mb_page_line(page, "landCategory"))
        mb_page_say(page, "Whose land it was is not on record, or not shown to this reader.");
    if (!mb_page_line(page, "permissionType"))
        mb_page_say(page,
                    "No permission to collect is on record, or none is shown to this reader.");
    if (!page->of)
        mb_page_standing(page);
    mb_page_say(page, "This is what was written down. It is no finding of law.");
}

static void care(struct mb_page *page)
{
    mb_page_section(page, "Hazards and care");
    if (!mb_page_line(page, "hazards") && !mb_page_line(page, "hazardsSeen"))
        mb_page_say(page, "Hazards were not looked for, or are not on record. Treat dust of any"
                          " fossil as harmful to breathe.");
    mb_page_pairs(page, "hazards hazardsSeen stability care");
    mb_page_cautions(page);
}

/* Lines that no section above knows are not lost for it. Those that are named here are told in
 * sentences, or left out by a section where they say nothing. */
static void also(struct mb_page *page)
{
    static const char *const known[] = {
        "relations", "divided", "joined", "corrections", "earlierCertificates",
        "preparationSittings", "notExamined", "examinedOn", "examinerTie", "means", "frame",
        "shares", "elementsCount", "elementScheme", "lotSummary", "lotExamined", "standing",
    };
    bool headed = false;

    for (size_t i = 0; i < sizeof known / sizeof *known; i++)
        mb_page_line(page, known[i]);
    MB_JSON_EACH(line, page->lines)
    {
        struct mb_str name = mb_json_str(mb_json_get(line, "name"));

        if (mb_json_get_str(page->told, name))
            continue;
        if (!headed)
            mb_page_section(page, "Also on the record");
        headed = true;
        pair_of(page, name);
    }
}

/* ---- the whole ---- */

/* The first of that severity, NULL if there is none. Whose ledger it is, the page leaves to its
 * reader. */
static const char *first_of(const mb_findings *findings, enum mb_severity severity)
{
    for (const struct mb_finding *f = mb_findings_first(findings); f; f = f->next)
        if (mb_finding_kinds[f->id].severity == severity && f->id != MB_F_UNKNOWN_LEDGER)
            return f->text;
    return NULL;
}

static enum mb_rc take_apart(mb_arena *arena, const mb_json *json, struct mb_bundle_check *check,
                             struct mb_error *err)
{
    enum mb_rc rc;

    check->arena = arena;
    check->bundle = MB_NEW(arena, struct mb_bundle);
    check->findings = mb_findings_new(arena, 10);
    check->foreign_left = MB_FOREIGN_MAX;
    rc = mb_bundle_read(arena, json, check->bundle, err);
    if (!rc)
        mb_bundle_verify(check);
    return rc;
}

enum mb_rc mb_page_open_draft(mb_arena *arena, const mb_json *draft,
                              struct mb_bundle_check *check, struct mb_error *err)
{
    enum mb_rc rc = take_apart(arena, draft, check, err);

    if (!rc && (check->unreadable || check->certificate_count == 0))
        rc = mb_fail(err, MB_UNABLE, "an entry that the sheet would hold cannot be read: run"
                                     " `markerbed verify` over the ledger");
    if (!rc)
        check->about = mb_bundle_about(arena, check);
    return rc;
}

enum mb_rc mb_page_open(mb_arena *arena, struct mb_str certificate,
                        struct mb_bundle_check *check, struct mb_error *err)
{
    const mb_json *json;
    const char *bad;
    enum mb_rc rc = mb_json_read(arena, certificate, MB_JSON_STRICT, &json, err);

    if (!rc)
        rc = take_apart(arena, json, check, err);
    if (rc)
        return rc;
    bad = first_of(check->findings, MB_FAULT);
    if (bad)
        return mb_fail(err, MB_REFUSED,
                       "the certificate does not hold, so no sheet is printed of it: %s", bad);
    bad = first_of(check->findings, MB_UNSURE);
    if (bad || check->certificate_count == 0)
        return mb_fail(err, MB_UNABLE,
                       "the certificate cannot be checked, so no sheet is printed of it: %s",
                       bad ? bad : "it is newer than this program");
    check->about = mb_bundle_about(arena, check);
    return MB_OK;
}

static const char *audience_words(enum mb_audience audience)
{
    static const char *const words[MB_AUDIENCE_COUNT] = {
        [MB_PUBLIC] = "For the public. This is not a disclosure for a sale.",
        [MB_BUYER] = "Disclosure to a buyer.",
        [MB_INSTITUTION] = "For an institution, with place and permissions.",
        [MB_AUDITOR] = "For a land audit. This is not a disclosure for a sale.",
    };

    return words[audience];
}

static const char *of(const struct mb_page *page, const mb_json *about, const char *name)
{
    const char *text = mb_json_cstr(page->arena, mb_json_get(about, name));

    return text ? text : "";
}

static void identify(struct mb_page *page, const struct mb_bundle_entry *certificate)
{
    const mb_json *about = page->check->about;
    char id[MB_HASH_B64U_LEN + 1];

    mb_b64u_write(id, certificate->entry.leaf.b, 32);
    page->id = mb_arena_text(page->arena, id);
    page->number = mb_arena_copy(page->arena, certificate->entry.sub.at + 9,
                                 certificate->entry.sub.len - 9);
    page->audience = audience_words(page->check->audience);
    page->as_of = of(page, about, "asOf");
    page->issuer = of(page, about, "name");
    page->origin = of(page, about, "origin");
    page->fingerprint = of(page, about, "fingerprintGrouped");
    page->index = certificate->index;
    page->preview = !certificate->signed_well;
    page->sub = certificate->entry.sub;
    page->photo = mb_page_photo(page);
    page->signers = mb_page_signers(page);
}

/* "Disclosure to a buyer, made out to Priya Lindqvist." */
static const char *made_out(const struct mb_page *page, const mb_json *to)
{
    const char *who = to ? mb_words_value(page->arena, mb_page_named(page, to)) : NULL;

    if (!who)
        return page->audience;
    if (strcmp(who, "bearer") == 0)
        who = "whoever holds it";
    return mb_arena_printf(page->arena, "%s\nMade out to %s.", page->audience, who);
}

struct mb_page *mb_page_new(mb_arena *arena, const struct mb_bundle_check *check,
                            const struct mb_bundle_entry *certificate)
{
    struct mb_page *page = MB_NEW(arena, struct mb_page);

    page->arena = arena;
    page->check = check;
    page->end = &page->items;
    page->told = mb_json_object(arena);
    page->lines = mb_json_get(mb_entry_field(&certificate->entry, "statement", NULL), "lines");
    identify(page, certificate);
    page->title = title_of(page);
    page->audience = made_out(page, mb_entry_field(&certificate->entry, "to", NULL));
    return page;
}

struct mb_page *mb_page_make(mb_arena *arena, const struct mb_bundle_check *check,
                             const struct mb_bundle_entry *certificate)
{
    struct mb_page *page = mb_page_new(arena, check, certificate);

    what_it_is(page);
    mb_page_piece(page);
    mb_page_shares(page);
    work(page);
    as_its_parent(page, where);
    as_its_parent(page, land);
    mb_page_people(page);
    if (mb_page_parent(page).at && !mb_page_line(page, "eventDate"))
        as_its_parent(page, mb_page_owners_before);
    mb_page_elsewhere(page);
    mb_page_before(page);
    care(page);
    mb_page_changes(page);
    also(page);
    mb_page_withheld(page);
    return page;
}
