/* People on a sheet: by the name or label that this reader may know. And what they keep back. */
#include <string.h>

#include "sheet_page.h"
#include "text.h"
#include "words_rows.h"

/* ---- names ---- */

/* The newest value of a field in the party's story, as far as it is shown. */
static const mb_json *of_party(const struct mb_page *page, struct mb_str party, const char *name)
{
    const mb_story *story = mb_stories_of(page->check->stories, party);

    for (size_t i = story ? mb_story_count(story) : 0; i-- > 0;) {
        const struct mb_told *told = mb_story_at(story, i);
        const mb_json *value =
            told->voided_by < 0 ? mb_told_field(told, name, NULL, NULL) : NULL;

        if (mb_json_is(value, MB_JSON_STRING))
            return value;
    }
    return NULL;
}

static const char *party_words(const struct mb_page *page, struct mb_str party)
{
    const char *name = mb_json_cstr(page->arena, of_party(page, party, "name"));
    const char *label = mb_json_cstr(page->arena, of_party(page, party, "neutralLabel"));
    struct mb_str number = { party.at + 6, party.len - 6 };

    if (name)
        return name;
    if (label)
        return mb_arena_printf(page->arena, "%s (%.*s in this ledger)", label,
                               MB_STR_ARG(number));
    return mb_arena_printf(page->arena, "person %.*s of this ledger", MB_STR_ARG(number));
}

const mb_json *mb_page_named(const struct mb_page *page, const mb_json *value)
{
    struct mb_str ref = mb_json_str(mb_json_get(value, "ref"));
    mb_json *out;

    if (ref.at && mb_str_starts(ref, "party/"))
        return mb_json_string(page->arena, party_words(page, ref));
    if (mb_json_is(value, MB_JSON_OBJECT))
        out = mb_json_object(page->arena);
    else if (mb_json_is(value, MB_JSON_ARRAY))
        out = mb_json_array(page->arena);
    else
        return mb_json_copy(page->arena, value);
    MB_JSON_EACH(child, value)
    {
        mb_json *copy = mb_json_copy(page->arena, mb_page_named(page, child));

        if (mb_json_is(value, MB_JSON_OBJECT))
            mb_json_put_str(page->arena, out, child->name, copy);
        else
            mb_json_add(out, copy);
    }
    return out;
}

const char *mb_page_signers(const struct mb_page *page)
{
    const mb_json *list = mb_json_get(page->check->about, "signers");
    char *out = mb_arena_text(page->arena, "");

    MB_JSON_EACH(signer, list)
    {
        struct mb_str holder = mb_json_str(mb_json_get(signer, "holder"));
        long long n = (long long)mb_json_int(mb_json_get(signer, "entries"), 0);
        const char *who = !holder.at ? "a key whose holder is not shown"
                          : mb_str_starts(holder, "party/")
                              ? party_words(page, holder)
                              : mb_arena_printf(page->arena, "the %.*s of %s",
                                                MB_STR_ARG(holder), page->issuer);

        out = mb_arena_printf(page->arena, "%s%s%s (%lld %s)", out, *out ? ", " : "", who, n,
                              n == 1 ? "entry" : "entries");
    }
    return out;
}

/* ---- who held and owned it ---- */

static const char *cell(const struct mb_page *page, const mb_json *row, const char *name,
                        const char *otherwise)
{
    const char *text = mb_words_member(page->arena, row, name);

    return !text ? otherwise : strcmp(text, "us") == 0 ? "the issuer" : text;
}

static void hands(struct mb_page *page, const char *line, const char *day, const char *why,
                  const char *heading)
{
    static const size_t columns = 5;
    const mb_json *rows = mb_json_get(mb_page_line(page, line), "value");
    const char **cells, **at;
    struct mb_page_item *item;

    if (!mb_json_is(rows, MB_JSON_ARRAY) || rows->count == 0)
        return;
    rows = mb_page_named(page, rows);
    mb_page_add(page, MB_PAGE_GROUP)->text = heading;
    cells = at = MB_ARRAY(page->arena, columns * (rows->count + 1), const char *);
    *at++ = "Day";
    *at++ = "From";
    *at++ = "To";
    *at++ = "How";
    *at++ = "Acknowledged";
    MB_JSON_EACH(row, rows)
    {
        *at++ = cell(page, row, day, "not given");
        *at++ = cell(page, row, "fromLabel", "not given here");
        *at++ = cell(page, row, "toLabel", "not given here");
        *at++ = cell(page, row, why, "not given");
        *at++ = cell(page, row, "acknowledged", "not given");
    }
    item = mb_page_add(page, MB_PAGE_TABLE);
    item->cells = cells;
    item->columns = columns;
    item->rows = rows->count + 1;
}

/* Conditions and burdens do not fit a narrow column: each is a sentence. */
static void passed_on(struct mb_page *page)
{
    const mb_json *rows = mb_json_get(mb_page_line(page, "title"), "value");

    if (!mb_json_is(rows, MB_JSON_ARRAY))
        return;
    MB_JSON_EACH(row, rows)
    {
        static const char *const names[] = { "conditions", "burdens" };

        for (size_t i = 0; i < 2; i++) {
            const char *text = mb_words_member(page->arena, row, names[i]);

            if (text && strcmp(text, "none") != 0 && strcmp(text, "none stated") != 0)
                mb_page_pair(page,
                             mb_arena_printf(page->arena, "%s of %s", i ? "Burdens" : "Conditions",
                                             cell(page, row, "date", "a day not given")),
                             text);
        }
    }
}

void mb_page_owners_before(struct mb_page *page)
{
    if (page->of)
        hands(page, "title", "date", "manner",
              mb_arena_printf(page->arena, "Owners of %s, which it came out of", page->of));
}

void mb_page_people(struct mb_page *page)
{
    mb_page_section(page, "Who held and owned it");
    mb_page_pairs(page, "receivedOn fromLabel labelLink");
    hands(page, "title", "date", "manner", "Owners");
    hands(page, "custody", "handedOver", "reason", "Keepers");
    if (!mb_page_rows(page, "title"))
        mb_page_say(page, "No owner is on record.");
    passed_on(page);
    mb_page_pairs(page, "loss claims");
    mb_page_sides(page);
    mb_page_say(page, "Hands that nobody recorded are not in this list.");
}

/* ---- what is not given here ---- */

static const char *about_what(struct mb_str kind)
{
    static const struct {
        const char *kind, *what;
    } words[] = {
        { "site", "the place where it was found" },
        { "horizon", "the layer" },
        { "land-status", "the land" },
        { "permission", "the permission to collect" },
        { "collecting", "the find" },
        { "field-day", "the day in the field" },
        { "arrival", "how it came in" },
        { "identification", "what it is" },
        { "preparation", "the work done on it" },
        { "condition", "its condition" },
        { "custody", "who held it" },
        { "title", "who owned it" },
        { "party", "a person" },
        { "claim", "a claim" },
        { "document", "a document" },
    };

    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (mb_str_is(kind, words[i].kind))
            return words[i].what;
    return "the record";
}

static const char *reason_words(mb_arena *arena, struct mb_str reason)
{
    if (mb_str_is(reason, "open claim or inquiry") || mb_str_is(reason, "unpublished study"))
        return mb_arena_printf(arena, "because of an %.*s", MB_STR_ARG(reason));
    if (mb_str_is(reason, "our own decision"))
        return "by the issuer's own decision";
    if (mb_str_is(reason, "a person's request"))
        return "at a person's request";
    return mb_arena_printf(arena, "at the %.*s", MB_STR_ARG(reason));
}

static bool same_sort(const mb_json *a, const mb_json *b)
{
    return mb_json_equal(mb_json_get(a, "kind"), mb_json_get(b, "kind"))
           && mb_json_equal(mb_json_get(a, "reason"), mb_json_get(b, "reason"));
}

/* What kind of entry an erasure is about, {NULL, 0} if its target is not in the file. */
static struct mb_str kind_erased(const struct mb_page *page, const struct mb_entry *erasure)
{
    struct mb_str leaf = mb_json_str(mb_json_get(mb_entry_open(erasure, "target"), "entry"));

    for (size_t i = 0; i < page->check->bundle->count; i++) {
        const struct mb_bundle_entry *e = &page->check->bundle->entries[i];

        if (e->readable && mb_str_equal(e->entry.sub, erasure->sub)
            && mb_str_equal(leaf, mb_b64u(page->arena, e->entry.leaf.b, sizeof e->entry.leaf.b)))
            return e->entry.kind;
    }
    return (struct mb_str){ NULL, 0 };
}

static void tell_erased(struct mb_page *page)
{
    bool first = true;

    for (size_t i = 0; i < page->check->bundle->count; i++) {
        const struct mb_bundle_entry *e = &page->check->bundle->entries[i];
        const mb_json *digests = mb_entry_open(&e->entry, "digests");
        struct mb_str of;

        if (!e->readable || !mb_str_is(e->entry.kind, "erasure"))
            continue;
        of = kind_erased(page, &e->entry);
        if (!of.at || mb_str_is(of, "certificate"))
            continue;
        if (first)
            mb_page_section(page, "Erased");
        first = false;
        mb_page_say(page, mb_arena_printf(
                              page->arena,
                              "About %s: %u %s erased for good by entry #%lld of the ledger. The"
                              " ground: %.*s.",
                              about_what(of), digests ? digests->count : 0,
                              digests && digests->count == 1 ? "fact was" : "facts were",
                              (long long)e->entry.seq,
                              MB_STR_ARG(mb_json_str(mb_entry_open(&e->entry, "ground")))));
    }
}

void mb_page_withheld(struct mb_page *page)
{
    const mb_json *withheld = mb_json_get(page->check->about, "withheld");

    tell_erased(page);
    if (!withheld || withheld->count == 0)
        return;
    mb_page_section(page, "Not given here");
    MB_JSON_EACH(row, withheld)
    {
        size_t before = 0, all = 0;
        bool passed = false;

        MB_JSON_EACH(other, withheld)
        {
            passed = passed || other == row;
            all += same_sort(row, other);
            before += !passed && same_sort(row, other);
        }
        if (before)
            continue;
        mb_page_say(page,
                    mb_arena_printf(page->arena, "About %s: %zu %s not given here, %s.",
                                    about_what(mb_json_str(mb_json_get(row, "kind"))), all,
                                    all == 1 ? "fact is" : "facts are",
                                    reason_words(page->arena,
                                                 mb_json_str(mb_json_get(row, "reason")))));
    }
}
