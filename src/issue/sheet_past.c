/*
 * What became of a piece and of its papers, in sentences: divided, joined, corrected, printed
 * before. And what a piece that came out of another takes over from it.
 */
#include <string.h>

#include "codec.h"
#include "date.h"
#include "kinds.h"
#include "sheet_page.h"
#include "text.h"
#include "words.h"
#include "words_rows.h"

static const char *field(const struct mb_page *page, const struct mb_told *told, const char *name)
{
    const mb_json *value = mb_told_field(told, name, NULL, NULL);

    return value ? mb_words_value(page->arena, mb_page_named(page, value)) : NULL;
}

static bool says(const struct mb_page *page, const struct mb_told *told, const char *name,
                 const char *word)
{
    const char *text = field(page, told, name);

    return text && strcmp(text, word) == 0;
}

static bool is_kind(const struct mb_told *told, const char *kind)
{
    return mb_str_is(told->entry->kind, kind);
}

/* The entries of the piece that count on this sheet: those before its own certificate. */
static size_t told_count(const struct mb_page *page)
{
    const mb_story *story = mb_stories_of(page->check->stories, page->sub);
    size_t n = 0;

    while (story && n < mb_story_count(story)
           && mb_story_at(story, n)->entry->seq < page->index)
        n++;
    return n;
}

static const struct mb_told *told_at(const struct mb_page *page, size_t index)
{
    return mb_story_at(mb_stories_of(page->check->stories, page->sub), index);
}

static const char *day_of(const struct mb_page *page, const struct mb_told *told)
{
    const char *day = field(page, told, "date");

    return day ? mb_arena_printf(page->arena, "on %s", day) : "on a day not given";
}

static const char *recorded_on(const struct mb_page *page, const struct mb_entry *entry)
{
    return mb_arena_copy(page->arena, mb_moment_write(page->arena, entry->iat), 10);
}

/* ---- divided, joined, related ---- */

static const char *number_of(const char *subject)
{
    return strncmp(subject, "specimen/", 9) == 0 ? subject + 9 : subject;
}

static const char *came_out(const struct mb_page *page, const struct mb_told *told)
{
    const char *parent = field(page, told, "parent"), *why = field(page, told, "purpose");

    return mb_arena_printf(page->arena, "This piece came out of %s %s%s%s.",
                           parent ? number_of(parent) : "another piece", day_of(page, told),
                           why ? ": " : "", why ? why : "");
}

static const char *divided(const struct mb_page *page, const struct mb_told *told)
{
    const char *why = field(page, told, "purpose"), *pieces = field(page, told, "intoCount");
    const char *left = field(page, told, "remainder"), *used = field(page, told, "consumed");
    char *out = mb_arena_printf(page->arena, "Pieces were taken from it %s%s%s",
                                day_of(page, told), why ? ": " : "", why ? why : "");

    if (pieces)
        out = mb_arena_printf(page->arena, "%s; %s new number%s", out, pieces,
                              strcmp(pieces, "1") == 0 ? "" : "s");
    if (used && strcmp(used, "0") != 0)
        out = mb_arena_printf(page->arena, "%s; %s used up", out, used);
    if (left)
        out = mb_arena_printf(page->arena, "%s; %s left under this number", out, left);
    return mb_arena_printf(page->arena, "%s.", out);
}

static const char *joined(const struct mb_page *page, const struct mb_told *told)
{
    const char *parts = field(page, told, "partCount"), *why = field(page, told, "why");
    const char *whole = field(page, told, "whole"), *lay = field(page, told, "association");
    bool part = says(page, told, "side", "part"), one = says(page, told, "sameIndividual", "yes");
    char *out;

    if (part)
        out = mb_arena_printf(page->arena, "It was put together with others %s into %s",
                              day_of(page, told), whole ? number_of(whole) : "a new piece");
    else if (parts && strcmp(parts, "1") == 0)
        out = mb_arena_printf(page->arena, "Another piece was joined to it %s",
                              day_of(page, told));
    else
        out = mb_arena_printf(page->arena, "It was put together %s out of %s pieces",
                              day_of(page, told), parts ? parts : "several");
    out = mb_arena_printf(page->arena, "%s%s%s", out, why ? ": " : "", why ? why : "");
    if (lay)
        out = mb_arena_printf(page->arena, "%s; %s", out, lay);
    if (one)
        out = mb_arena_printf(page->arena, "%s; all of one individual, as recorded", out);
    else if (says(page, told, "sameIndividual", "no"))
        out = mb_arena_printf(page->arena, "%s; of several individuals", out);
    return mb_arena_printf(page->arena, "%s.", out);
}

static const char *related(const struct mb_page *page, const struct mb_told *told)
{
    const char *what = field(page, told, "relation"), *other = field(page, told, "other");
    const char *by = field(page, told, "otherHeldBy");

    return mb_arena_printf(page->arena, "This one is %s %s%s%s.", what ? what : "related to",
                           other ? number_of(other) : "another piece",
                           by && strcmp(by, "us") != 0 ? "; the other is held by: " : "",
                           by ? strcmp(by, "us") == 0 ? ", which the issuer has" : by : "");
}

static const char *elsewhere_of(const struct mb_page *page, const struct mb_told *told)
{
    if (is_kind(told, "division"))
        return says(page, told, "side", "came out") ? came_out(page, told) : divided(page, told);
    if (is_kind(told, "joining"))
        return joined(page, told);
    return is_kind(told, "relation") ? related(page, told) : NULL;
}

void mb_page_elsewhere(struct mb_page *page)
{
    bool headed = false;

    for (size_t i = 0; i < told_count(page); i++) {
        const struct mb_told *told = told_at(page, i);
        const char *text = told->voided_by < 0 ? elsewhere_of(page, told) : NULL;

        if (text && !headed)
            mb_page_section(page, "Elsewhere: counterparts, pieces taken off or put together");
        if (text)
            mb_page_say(page, text);
        headed = headed || text;
    }
}

/* ---- corrections, earlier sheets ---- */

static const char *kind_words(const struct mb_page *page, const struct mb_entry *entry)
{
    const struct mb_kind *kind = mb_kind_find(entry->kind);

    return mb_arena_printf(page->arena, "“%s”",
                           kind ? kind->title
                                : mb_arena_copy(page->arena, entry->kind.at, entry->kind.len));
}

/* The entry of this piece with that leaf hash, NULL if there is none. */
static const struct mb_entry *target_of(const struct mb_page *page, const struct mb_entry *entry,
                                        const char *name)
{
    struct mb_hash leaf;

    if (!mb_b64u_read_exact(mb_json_str(mb_json_get(mb_entry_open(entry, name), "entry")), leaf.b,
                            sizeof leaf.b))
        return NULL;
    for (size_t i = 0; i < told_count(page); i++)
        if (mb_hash_equal(&told_at(page, i)->entry->leaf, &leaf))
            return told_at(page, i)->entry;
    return NULL;
}

static const char *corrected(const struct mb_page *page, const struct mb_told *told)
{
    const struct mb_entry *target = target_of(page, told->entry, "target");
    const char *action = field(page, told, "action"), *why = field(page, told, "why");
    const char *what = target ? kind_words(page, target) : "an entry";
    const char *then = target ? mb_arena_printf(page->arena, " (entry #%lld, of %s)",
                                                (long long)target->seq, recorded_on(page, target))
                              : "";

    if (!action || strcmp(action, "change fields") == 0)
        return mb_arena_printf(page->arena, "%s: %s%s was corrected. Why: %s.",
                               recorded_on(page, told->entry), what, then, why ? why : "not given");
    return mb_arena_printf(page->arena, "%s: %s%s was struck out, %s. Why: %s.",
                           recorded_on(page, told->entry), what, then,
                           strstr(action, "double")     ? "being a double"
                           : strstr(action, "specimen") ? "being about another specimen"
                                                        : "as it did not happen",
                           why ? why : "not given");
}

static const char *withdrawn(const struct mb_page *page, const struct mb_entry *certificate)
{
    for (size_t i = 0; i < told_count(page); i++) {
        const struct mb_told *told = told_at(page, i);

        if (is_kind(told, "withdrawal")
            && target_of(page, told->entry, "which") == certificate)
            return mb_arena_printf(page->arena, " It was withdrawn on %s: %s.",
                                   recorded_on(page, told->entry), field(page, told, "why"));
    }
    return "";
}

static const char *earlier(const struct mb_page *page, const struct mb_told *told)
{
    static const char *const for_whom[][2] = { { "buyer", "for a buyer" },
                                               { "institution", "for an institution" },
                                               { "auditor", "for a land audit" },
                                               { "public", "for the public" } };
    const char *audience = field(page, told, "audience"), *whom = "for a reader not named";

    for (size_t i = 0; audience && i < sizeof for_whom / sizeof *for_whom; i++)
        if (strcmp(audience, for_whom[i][0]) == 0)
            whom = for_whom[i][1];
    return mb_arena_printf(page->arena, "%s: a sheet %s (entry #%lld).%s",
                           recorded_on(page, told->entry), whom, (long long)told->entry->seq,
                           withdrawn(page, told->entry));
}

typedef const char *sentence_fn(const struct mb_page *page, const struct mb_told *told);

static void each_of(struct mb_page *page, const char *kind, const char *heading, const char *first,
                    sentence_fn *sentence)
{
    bool headed = false;

    for (size_t i = 0; i < told_count(page); i++) {
        const struct mb_told *told = told_at(page, i);

        if (!is_kind(told, kind) || told->voided_by >= 0
            || (strcmp(kind, "correction") == 0 && !says(page, told, "changesFacts", "yes")))
            continue;
        if (!headed) {
            mb_page_section(page, heading);
            mb_page_say(page, first);
        }
        headed = true;
        mb_page_say(page, sentence(page, told));
    }
}

void mb_page_changes(struct mb_page *page)
{
    each_of(page, "correction", "Corrected",
            "The record was corrected. What is printed here is what holds after the corrections;"
            " what was written first is in the file as well.",
            corrected);
    each_of(page, "certificate", "Earlier sheets",
            "Sheets were issued for this piece before. Where they differ, this one is the newer.",
            earlier);
}

/* ---- taken over from the piece that it came out of ---- */

struct mb_str mb_page_parent(const struct mb_page *page)
{
    for (size_t i = 0; i < told_count(page); i++) {
        const struct mb_told *told = told_at(page, i);
        struct mb_str parent = mb_ref_of(mb_told_field(told, "parent", NULL, NULL));

        if (is_kind(told, "division") && told->voided_by < 0 && parent.at
            && mb_stories_of(page->check->stories, parent))
            return parent;
    }
    return (struct mb_str){ NULL, 0 };
}

/* ---- the dig and its permission ---- */

static void fields_of(struct mb_page *page, struct mb_str subject, const char *kind,
                      const char *const names[][2], size_t count)
{
    const mb_story *story = mb_stories_of(page->check->stories, subject);

    for (size_t i = 0; story && i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);

        if (!is_kind(told, kind) || told->voided_by >= 0 || told->entry->seq >= page->index)
            continue;
        for (size_t j = 0; j < count; j++) {
            const mb_json *value = mb_told_field(told, names[j][0], NULL, NULL);
            const char *text = mb_json_is(value, MB_JSON_ARRAY)
                                   ? mb_words_rows(page->arena, mb_str_of(names[j][0]), value)
                                   : NULL;

            if (!text)
                text = field(page, told, names[j][0]);

            if (text && *text)
                mb_page_pair(page, names[j][1], text);
        }
    }
}

static void paper(struct mb_page *page, const struct mb_told *told, const struct mb_entry *first)
{
    const char *type = field(page, told, "docType"), *title = field(page, told, "title");
    const char *dated = field(page, told, "docDate"), *on = recorded_on(page, told->entry);
    bool later = first && told->entry->seq > first->seq
                 && strcmp(on, recorded_on(page, first)) != 0;

    mb_page_pair(page, "Paper on file",
                 mb_arena_printf(page->arena, "%s%s%s%s%s%s%s", type ? type : "a paper",
                                 title ? ", " : "", title ? title : "", dated ? ", dated " : "",
                                 dated ? dated : "", later ? "; attached later, on " : "",
                                 later ? on : ""));
}

/* The entry with that leaf hash, wherever it is in the file; NULL if it is not shown. */
static const struct mb_told *told_of(const struct mb_page *page, const mb_json *value)
{
    const struct mb_bundle *bundle = page->check->bundle;
    const mb_story *story = NULL;
    struct mb_hash leaf;

    if (!mb_b64u_read_exact(mb_json_str(mb_json_get(value, "entry")), leaf.b, sizeof leaf.b))
        return NULL;
    for (size_t i = 0; i < bundle->count && !story; i++)
        if (mb_hash_equal(&bundle->entries[i].entry.leaf, &leaf))
            story = mb_stories_of(page->check->stories, bundle->entries[i].entry.sub);
    for (size_t i = 0; story && i < mb_story_count(story); i++)
        if (mb_hash_equal(&mb_story_at(story, i)->entry->leaf, &leaf))
            return mb_story_at(story, i);
    return NULL;
}

/* The papers of a permission: the one that it names, and those that were put on file on it, which
 * may be later. */
static void papers(struct mb_page *page, struct mb_str permission)
{
    const mb_story *story = mb_stories_of(page->check->stories, permission);
    const struct mb_entry *first = NULL;

    for (size_t i = 0; story && i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i), *named = NULL;

        if (told->voided_by >= 0 || told->entry->seq >= page->index)
            continue;
        if (is_kind(told, "permission")) {
            first = first ? first : told->entry;
            named = told_of(page, mb_told_field(told, "document", NULL, NULL));
        }
        if (named && !mb_str_equal(named->entry->sub, permission))
            paper(page, named, NULL);
        if (is_kind(told, "document"))
            paper(page, told, first);
    }
}

/* What a land audit and an institution may see, and a buyer's file does not hold. */
void mb_page_dig(struct mb_page *page)
{
    static const char *const find[][2] = {
        { "purpose", "Collected for" },     { "tools", "Tools" },
        { "mass", "Mass as collected" },    { "massHow", "Mass, how" },
        { "massWithMatrix", "Rock in the mass" }, { "commonKind", "Common kind" },
    };
    static const char *const permission[][2] = {
        { "permitNumber", "Permit number" }, { "grantor", "Permission given by" },
        { "grantorCapacity", "Given as" },   { "holder", "Held by" },
        { "signedOn", "Signed on" },         { "validFrom", "In force from" },
        { "validUntil", "In force until" },  { "areaText", "Area, in words" },
        { "materials", "Materials allowed" }, { "methods", "Methods allowed" },
        { "limits", "Limits" },              { "repository", "Repository" },
        { "otherConditions", "Other conditions" },
    };
    static const char *const change[][2] = {
        { "what", "The permission was" }, { "from", "From" }, { "newValidUntil", "New end" },
    };
    struct mb_str sub = page->of ? mb_page_parent(page) : page->sub;
    const mb_story *story = mb_stories_of(page->check->stories, sub);

    fields_of(page, sub, "collecting", find, sizeof find / sizeof *find);
    for (size_t i = 0; story && i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);
        struct mb_str of = mb_ref_of(mb_told_field(told, "permission", NULL, NULL));

        if (!of.at || !is_kind(told, "collecting") || told->voided_by >= 0)
            continue;
        fields_of(page, of, "permission", permission, sizeof permission / sizeof *permission);
        fields_of(page, of, "permission-change", change, sizeof change / sizeof *change);
        papers(page, of);
    }
}
