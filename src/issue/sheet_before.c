/*
 * The story of a piece before it came into the issuer's ledger, out of the certificates of other
 * ledgers inside the file; and whether what was handed on stands on one side's word or on two.
 */
#include <string.h>

#include "countersign.h"
#include "date.h"
#include "sheet_page.h"
#include "text.h"
#include "words.h"

/* ---- one side, or two ---- */

static const struct mb_entry *signed_for(const struct mb_page *page, const mb_story *story,
                                         const struct mb_entry *over)
{
    struct mb_str leaf = mb_b64u(page->arena, over->leaf.b, sizeof over->leaf.b);

    for (size_t i = mb_story_count(story); i-- > 0;) {
        const struct mb_entry *entry = mb_story_at(story, i)->entry;
        const mb_json *which = mb_entry_open(entry, "whichEntry");

        if (mb_str_is(entry->kind, "countersign")
            && mb_str_equal(mb_json_str(mb_json_get(which, "entry")), leaf))
            return entry;
    }
    return NULL;
}

static const char *by_whom(const struct mb_page *page, const struct mb_entry *entry)
{
    struct mb_countersign what;

    if (mb_countersign_of(page->arena, entry, &what, NULL))
        return mb_arena_printf(page->arena, "signed by the other side, on paper: %.*s",
                               MB_STR_ARG(mb_json_str(mb_entry_open(entry, "how"))));
    if (mb_str_starts(what.iss, "key/"))
        return mb_arena_printf(page->arena,
                               "countersigned as %.*s with the key %s. It is two-sided if you know"
                               " that key",
                               MB_STR_ARG(what.role), what.kid);
    return mb_arena_printf(page->arena,
                           "countersigned as %.*s for the ledger %.*s with the key %s. It is"
                           " two-sided if you know that key",
                           MB_STR_ARG(what.role), MB_STR_ARG(what.iss), what.kid);
}

static const char *on_day(const struct mb_page *page, const struct mb_told *told)
{
    bool custody = mb_str_is(told->entry->kind, "custody");
    const char *day = mb_json_cstr(
        page->arena, mb_told_field(told, custody ? "handedOver" : "date", NULL, NULL));

    return mb_arena_printf(page->arena, "%s%s%s", custody ? "Handing over" : "Change of owner",
                           day ? " of " : "", day ? day : "");
}

static void sides(struct mb_page *page, const struct mb_bundle_check *here, struct mb_str sub,
                  int64_t until)
{
    const mb_story *story = mb_stories_of(here->stories, sub);

    for (size_t i = 0; story && i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);
        const struct mb_entry *entry = told->entry;
        const struct mb_entry *other;

        if (told->voided_by >= 0 || entry->seq >= until
            || !(mb_str_is(entry->kind, "custody") || mb_str_is(entry->kind, "title")))
            continue;
        other = signed_for(page, story, entry);
        if (other)
            mb_page_say(page, mb_arena_printf(page->arena, "%s: %s.", on_day(page, told),
                                              by_whom(page, other)));
        else if (mb_json_text_is(mb_told_field(told, "acknowledged", NULL, NULL),
                                 "one side only"))
            mb_page_say(page, mb_arena_printf(page->arena,
                                              "%s: one-sided, the word of the issuer alone.",
                                              on_day(page, told)));
    }
}

void mb_page_sides(struct mb_page *page)
{
    sides(page, page->check, page->sub, page->index);
}

/* ---- before ---- */

/* What a reader asks of the years elsewhere; the rest is in the file. */
static const char *const told_of[] = {
    "whatItIs",       "vernacularName",   "scientificName",
    "verbatimIdentification",             "statedIdentification",
    "objectForm",     "objectQuantity",   "eventDate",
    "recordedBy",     "inPlace",          "countryCode",
    "countryOfDiscovery",                 "stateProvince",
    "county",         "coarsePlace",      "siteName",
    "decimalLatitude", "decimalLongitude", "verbatimCoordinates", "coordinateUncertaintyInMeters",
    "formation",      "member",           "bed",
    "earliestStage",  "latestStage",      "landCategory",
    "permissionType", "receivedOn",       "fromLabel",
    "preparation",    "examinedOn",       "shares",
    "custody",        "title",            "loss",
    "claims",
};

static bool is_told(const mb_json *line)
{
    for (size_t i = 0; i < sizeof told_of / sizeof *told_of; i++)
        if (mb_json_text_is(mb_json_get(line, "name"), told_of[i]))
            return true;
    return false;
}

/* The piece there, by the row that carried it on here; NULL if it is not in the certificate. */
static const struct mb_bundle_entry *piece_in(const struct mb_page *page,
                                              const struct mb_bundle_check *there,
                                              const mb_json *row)
{
    for (size_t i = 0; i < there->certificate_count; i++) {
        const struct mb_bundle_entry *e = there->certificates[i];

        if (mb_str_equal(mb_json_str(mb_json_get(row, "entry")),
                         mb_b64u(page->arena, e->entry.leaf.b, sizeof e->entry.leaf.b)))
            return e;
    }
    return NULL;
}

static void tell_lines(struct mb_page *page, const struct mb_bundle_check *there,
                       const struct mb_bundle_entry *piece)
{
    const mb_json *table = mb_statement_table(page->arena, mb_statement_current(page->arena));
    const mb_json *lines = mb_statement_lines(page->arena, table, there->stories,
                                              piece->entry.sub, piece->index);
    /* people there are named by the entries there */
    struct mb_page other = { .arena = page->arena, .check = there };

    MB_JSON_EACH(line, lines)
    {
        struct mb_str title = mb_statement_title(table, mb_json_str(mb_json_get(line, "name")));
        mb_json *named;

        if (!is_told(line))
            continue;
        named = mb_json_copy(page->arena, line);
        mb_json_put(page->arena, named, "value",
                    mb_json_copy(page->arena, mb_page_named(&other, mb_json_get(line, "value"))));
        mb_page_pair(page, mb_arena_copy(page->arena, title.at, title.len),
                     mb_words_line(page->arena, named));
    }
}

static void tell_there(struct mb_page *page, const struct mb_bundle_check *there,
                       const struct mb_bundle_entry *piece)
{
    const struct mb_bundle_entry *first = &there->bundle->entries[0];
    struct mb_str name = mb_json_str(mb_entry_open(&first->entry, "name")), head, number;

    mb_str_cut(piece->entry.sub, '/', &head, &number);
    mb_page_section(page, mb_arena_printf(page->arena, "Its story before: from the ledger %.*s",
                                          MB_STR_ARG(there->bundle->origin)));
    mb_page_say(page,
                mb_arena_printf(
                    page->arena,
                    "As %.*s recorded it, as number %.*s, until %.10s. Their certificate is inside"
                    " this file and is checked with it, under their own fingerprint:",
                    MB_STR_ARG(name.at ? name : there->bundle->origin), MB_STR_ARG(number),
                    mb_moment_write(page->arena, piece->entry.iat)));
    mb_page_pair(page, "Fingerprint",
                 mb_base32(page->arena, first->entry.leaf.b, 32, true).at);
    mb_page_pair(page, "Certificate", mb_b64u(page->arena, piece->entry.leaf.b, 32).at);
    tell_lines(page, there, piece);
    sides(page, there, piece->entry.sub, piece->index);
}

static void tell_missing(struct mb_page *page, const mb_json *row)
{
    const char *origin = mb_json_cstr(page->arena, mb_json_get(row, "origin"));

    mb_page_section(page, "Its story before");
    mb_page_say(page, mb_arena_printf(page->arena,
                                      "It came with a certificate of the ledger %s, which is not in"
                                      " this file: what was before cannot be checked here.",
                                      origin ? origin : "of somebody else"));
}

static void before(struct mb_page *page, const struct mb_bundle_check *here, struct mb_str sub,
                   size_t depth)
{
    const mb_story *story = mb_stories_of(here->stories, sub);

    for (size_t i = 0; story && depth <= MB_FOREIGN_MAX && i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);
        const mb_json *rows = mb_entry_open(told->entry, "foreignEvidence");

        if (told->voided_by >= 0 || !mb_str_is(told->entry->kind, "arrival")
            || !mb_json_is(rows, MB_JSON_ARRAY))
            continue;
        MB_JSON_EACH(row, rows)
        {
            const struct mb_bundle_check *there = mb_foreign_find(page->check, row);
            const struct mb_bundle_entry *piece = there ? piece_in(page, there, row) : NULL;

            if (!piece) {
                tell_missing(page, row);
                continue;
            }
            tell_there(page, there, piece);
            before(page, there, piece->entry.sub, depth + 1);
        }
    }
}

void mb_page_before(struct mb_page *page)
{
    before(page, page->check, page->sub, 0);
}
