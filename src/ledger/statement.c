#include "statement.h"

#include <stdlib.h>
#include <string.h>

#include "asset.h"
#include "seen.h"
#include "sha256.h"
#include "text.h"

struct one {
    struct mb_str subject;
    mb_story *story;
};

struct mb_stories {
    mb_arena *arena;
    struct one *items;
    size_t count, room; /* room is a power of two */
    uint32_t *places;   /* twice the room: index + 1 of an item by its subject's hash, 0 for none */
};

mb_stories *mb_stories_new(mb_arena *arena)
{
    mb_stories *stories = MB_NEW(arena, mb_stories);

    stories->arena = arena;
    return stories;
}

/* FNV-1a, 32 bits */
static uint32_t hash_of(struct mb_str s)
{
    uint32_t hash = 2166136261u;

    for (size_t i = 0; i < s.len; i++)
        hash = (hash ^ (unsigned char)s.at[i]) * 16777619u;
    return hash;
}

/* Where the subject's item is told in places, or would be. */
static uint32_t *place_of(const mb_stories *stories, struct mb_str subject)
{
    size_t mask = stories->room * 2 - 1, at = hash_of(subject) & mask;

    while (stories->places[at]
           && !mb_str_equal(stories->items[stories->places[at] - 1].subject, subject))
        at = (at + 1) & mask;
    return &stories->places[at];
}

static void grow(mb_stories *stories)
{
    size_t room = stories->room ? stories->room * 2 : 16;
    struct one *more = MB_ARRAY(stories->arena, room, struct one);

    if (stories->count)
        memcpy(more, stories->items, stories->count * sizeof *more);
    stories->items = more;
    stories->room = room;
    stories->places = MB_ARRAY(stories->arena, room * 2, uint32_t);
    for (size_t i = 0; i < stories->count; i++)
        *place_of(stories, more[i].subject) = (uint32_t)i + 1;
}

void mb_stories_add(mb_stories *stories, const struct mb_entry *entry)
{
    uint32_t *place;

    if (stories->count == stories->room)
        grow(stories);
    place = place_of(stories, entry->sub);
    if (!*place) {
        stories->items[stories->count] = (struct one){ entry->sub, mb_story_new(stories->arena) };
        *place = (uint32_t)++stories->count;
    }
    mb_story_add(stories->items[*place - 1].story, entry);
}

const mb_story *mb_stories_of(const mb_stories *stories, struct mb_str subject)
{
    uint32_t *place = stories->count ? place_of(stories, subject) : NULL;

    return place && *place ? stories->items[*place - 1].story : NULL;
}

size_t mb_stories_count(const mb_stories *stories)
{
    return stories->count;
}

struct mb_str mb_stories_subject(const mb_stories *stories, size_t index)
{
    return stories->items[index].subject;
}

/* Tables of earlier releases lie under statements/, named by their digest; there are none yet. */
const mb_json *mb_statement_table(mb_arena *arena, struct mb_str derivation)
{
    const struct mb_asset *asset = mb_asset_find("statement.json");
    const mb_json *table;

    if (!mb_str_equal(derivation, mb_statement_current(arena))) {
        if (derivation.len != MB_HASH_B64U_LEN)
            return NULL;
        asset = mb_asset_find(
            mb_arena_printf(arena, "statements/%.*s.json", MB_STR_ARG(derivation)));
    }
    if (!asset
        || mb_json_read(arena, (struct mb_str){ asset->data, asset->size }, MB_JSON_STRICT, &table,
                        NULL))
        return NULL;
    return table;
}

struct mb_str mb_statement_current(mb_arena *arena)
{
    const struct mb_asset *asset = mb_asset_find("statement.json");
    struct mb_hash digest = mb_sha256(asset->data, asset->size);

    return mb_b64u(arena, digest.b, sizeof digest.b);
}

static const mb_json *rule_of(const mb_json *table, struct mb_str name)
{
    MB_JSON_EACH(rule, mb_json_get(table, "lines"))
    {
        if (mb_str_equal(mb_json_str(mb_json_get(rule, "name")), name))
            return rule;
    }
    return NULL;
}

bool mb_statement_may_attest(const mb_json *table, struct mb_str name)
{
    return mb_json_text_is(mb_json_get(rule_of(table, name), "op"), "attested");
}

struct mb_str mb_statement_title(const mb_json *table, struct mb_str name)
{
    struct mb_str title = mb_json_str(mb_json_get(rule_of(table, name), "title"));

    return title.at ? title : name;
}

/* One line in the making. */
struct line {
    mb_arena *arena;
    const mb_stories *stories;
    const mb_json *rule;
    enum mb_class in; /* the class of the line's field */
    int64_t before;
    mb_json *from;
    const struct mb_entry **cited; /* the entries of `from`, by their seq; at most half full */
    size_t cited_room;
};

static bool names_kind(const mb_json *kinds, struct mb_str kind)
{
    MB_JSON_EACH(one, kinds)
    {
        if (mb_str_equal(mb_json_str(one), kind))
            return true;
    }
    return false;
}

/* Does an entry still stand for this line? Below the certificate, of the right kind, not voided. */
static bool counts(const struct line *line, const struct mb_told *told, const mb_json *kinds)
{
    return told->entry->seq < line->before && told->voided_by < 0
           && names_kind(kinds, told->entry->kind);
}

/* A digest of this class that is not shown could be the very field asked for. */
static bool hides(const struct mb_entry *entry, enum mb_class in)
{
    for (size_t i = 0; i < entry->slot_count; i++)
        if (entry->slots[i].in == in && entry->slots[i].shown < 0 && !entry->slots[i].element)
            return true;
    return false;
}

/* The same for the corrections of an entry. */
static bool correction_hides(const struct line *line, const struct mb_told *told, enum mb_class in)
{
    for (const struct mb_correcting *c = told->corrections; c; c = c->next)
        if (c->entry->seq < line->before && hides(c->entry, in))
            return true;
    return false;
}

/* A story is in rising order of seq. */
static const struct mb_entry *entry_of(const mb_story *story, int64_t seq)
{
    size_t low = 0, high = mb_story_count(story);

    while (low < high) {
        size_t middle = low + (high - low) / 2;
        const struct mb_entry *entry = mb_story_at(story, middle)->entry;

        if (entry->seq == seq)
            return entry;
        if (entry->seq < seq)
            low = middle + 1;
        else
            high = middle;
    }
    return NULL;
}

static const struct mb_entry **cited_at(const struct line *line, const struct mb_entry *entry)
{
    size_t mask = line->cited_room - 1;
    size_t at = (size_t)((uint64_t)entry->seq * UINT64_C(0x9e3779b97f4a7c15) >> 32) & mask;

    while (line->cited[at] && line->cited[at] != entry)
        at = (at + 1) & mask;
    return &line->cited[at];
}

static void cite_more(struct line *line)
{
    const struct mb_entry **old = line->cited;
    size_t room = line->cited_room;

    line->cited_room = room ? room * 2 : 16;
    line->cited = MB_ARRAY(line->arena, line->cited_room, const struct mb_entry *);
    for (size_t i = 0; i < room; i++)
        if (old[i])
            *cited_at(line, old[i]) = old[i];
}

/* Names the entry among those that the line is from, once. */
static void cite(struct line *line, const struct mb_entry *entry)
{
    const struct mb_entry **place;

    if (!entry) /* it says another number than its place: a finding by itself */
        return;
    if (line->from->count * 2 >= line->cited_room)
        cite_more(line);
    place = cited_at(line, entry);
    if (*place)
        return;
    *place = entry;
    mb_json_add(line->from,
                mb_json_string_str(line->arena,
                                   mb_b64u(line->arena, entry->leaf.b, sizeof entry->leaf.b)));
}

/* A field is there for a row in the row's class, or open: where nothing of it can be hidden. */
static bool is_in(enum mb_class where, enum mb_class in)
{
    return where == in || where == MB_OPEN;
}

static const mb_json *field_in(const struct mb_told *told, const char *field, enum mb_class in,
                               int64_t *seq)
{
    const mb_json *value;
    enum mb_class where;

    for (const struct mb_replacement *r = told->changes; r; r = r->next)
        if (mb_str_is(r->name, field) && is_in(r->in, in)) {
            *seq = r->seq;
            return mb_json_is(r->value, MB_JSON_NULL) ? NULL : r->value;
        }
    *seq = told->entry->seq;
    value = mb_entry_field(told->entry, field, &where);
    return value && is_in(where, in) ? value : NULL;
}

/* The field's value in one entry; NULL with *stop true where something hidden could change it. */
static const mb_json *value_in(struct line *line, const mb_story *story, const struct mb_told *told,
                               const char *field, enum mb_class in, bool *stop)
{
    int64_t seq;
    const mb_json *value = field_in(told, field, in, &seq);

    *stop = correction_hides(line, told, in) || (!value && hides(told->entry, in));
    if (*stop || !value)
        return NULL;
    cite(line, entry_of(story, seq));
    return value;
}

/* The value in the first or the latest entry that has it. Search ends where something is hidden:
 * an older value must not stand for a newer one that the issuer keeps back. */
static const mb_json *search(struct line *line, const mb_story *story, const mb_json *kinds,
                             const char *field, enum mb_class in, bool latest)
{
    size_t count = mb_story_count(story);

    for (size_t i = 0; i < count; i++) {
        const struct mb_told *told = mb_story_at(story, latest ? count - 1 - i : i);
        const mb_json *value;
        bool stop;

        if (!counts(line, told, kinds))
            continue;
        value = value_in(line, story, told, field, in, &stop);
        if (value || stop)
            return value;
    }
    return NULL;
}

static bool any_standing(const struct line *line, const mb_story *story, const mb_json *kinds)
{
    for (size_t i = 0; i < mb_story_count(story); i++)
        if (counts(line, mb_story_at(story, i), kinds))
            return true;
    return false;
}

/* A party by the name it may bear here, or by its neutral label; else the reference. */
static const mb_json *label_of(struct line *line, const mb_json *value, struct mb_str ref)
{
    const mb_story *story = mb_stories_of(line->stories, ref);
    mb_json *kinds = mb_json_array(line->arena);
    const mb_json *name = NULL;

    mb_json_add_text(line->arena, kinds, "party");
    if (story)
        name = search(line, story, kinds, "name", MB_SCIENCE, true);
    if (!name && story)
        name = search(line, story, kinds, "neutralLabel", MB_SALE, true);
    return name ? name : value;
}

/* A list may name one party many times, and a party may have many entries: each is looked up
 * once. */
static mb_json *party_label(struct line *line, struct mb_seen *seen, const mb_json *value)
{
    struct mb_str ref = mb_ref_of(value);
    const mb_json **label;
    bool known;

    if (mb_json_is(value, MB_JSON_ARRAY)) {
        mb_json *list = mb_json_array(line->arena);

        MB_JSON_EACH(child, value)
        {
            mb_json_add(list, party_label(line, seen, child));
        }
        return list;
    }
    if (!ref.at)
        return mb_json_copy(line->arena, value);
    label = mb_seen_at(seen, ref, &known);
    if (!known)
        *label = label_of(line, value, ref);
    return mb_json_copy(line->arena, *label);
}

static void add_once(struct mb_seen *seen, mb_json *list, const mb_json *value)
{
    bool known;

    if (mb_json_is(value, MB_JSON_ARRAY)) {
        MB_JSON_EACH(child, value)
        {
            add_once(seen, list, child);
        }
        return;
    }
    mb_seen_at(seen, mb_json_write(seen->arena, value), &known);
    if (!known)
        mb_json_add(list, mb_json_copy(seen->arena, value));
}

static mb_json *collect_all(struct line *line, const mb_story *story, const mb_json *kinds,
                            const char *field)
{
    mb_json *list = mb_json_array(line->arena);
    struct mb_seen seen = { .arena = line->arena };

    for (size_t i = 0; i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);
        const mb_json *value;
        bool stop;

        if (!counts(line, told, kinds))
            continue;
        value = value_in(line, story, told, field, line->in, &stop);
        if (stop)
            return NULL;
        if (value)
            add_once(&seen, list, value);
    }
    return list->count ? list : NULL;
}

static mb_json *collect_rows(struct line *line, const mb_story *story, const mb_json *kinds)
{
    mb_json *list = mb_json_array(line->arena);

    for (size_t i = 0; i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);
        mb_json *row;

        if (!counts(line, told, kinds))
            continue;
        row = mb_json_object(line->arena);
        MB_JSON_EACH(column, mb_json_get(line->rule, "columns"))
        {
            const char *field = mb_json_cstr(line->arena, column);
            bool stop;
            const mb_json *value = value_in(line, story, told, field, line->in, &stop);

            if (value)
                mb_json_put(line->arena, row, field, mb_json_copy(line->arena, value));
        }
        if (row->count) {
            cite(line, told->entry);
            mb_json_add(list, row);
        }
    }
    return list->count ? list : NULL;
}

static mb_json *count_all(struct line *line, const mb_story *story, const mb_json *kinds)
{
    int64_t n = 0;

    for (size_t i = 0; i < mb_story_count(story); i++)
        if (counts(line, mb_story_at(story, i), kinds)) {
            cite(line, mb_story_at(story, i)->entry);
            n++;
        }
    return mb_json_integer(line->arena, n);
}

static mb_json *sum_all(struct line *line, const mb_story *story, const mb_json *kinds,
                        const char *field)
{
    int64_t sum = 0;
    bool any = false;

    for (size_t i = 0; i < mb_story_count(story); i++) {
        const struct mb_told *told = mb_story_at(story, i);
        const mb_json *value;
        bool stop;

        if (!counts(line, told, kinds))
            continue;
        value = value_in(line, story, told, field, line->in, &stop);
        if (stop || (value && value->type != MB_JSON_INTEGER)
            || (value && __builtin_add_overflow(sum, value->integer, &sum)))
            return NULL;
        any = any || value;
    }
    return any && sum <= MB_JSON_INTEGER_MAX ? mb_json_integer(line->arena, sum) : NULL;
}

/* Whose story the rule is about: the specimen's own, or that of the subject it names. */
static const mb_story *followed(struct line *line, const mb_story *own)
{
    const mb_json *follow = mb_json_get(line->rule, "follow");
    enum mb_class in = MB_OPEN;

    if (!follow)
        return own;
    mb_class_of(mb_json_str(mb_json_get(follow, "class")), &in);
    MB_JSON_EACH(field, mb_json_get(follow, "fields"))
    {
        const mb_json *ref = search(line, own, mb_json_get(follow, "of"),
                                    mb_json_cstr(line->arena, field), in, true);
        const mb_story *story = mb_stories_of(line->stories, mb_ref_of(ref));

        if (story)
            return story;
        line->from = mb_json_array(line->arena); /* it led nowhere */
    }
    return NULL;
}

static mb_json *work_out(struct line *line, const mb_story *story)
{
    const mb_json *kinds = mb_json_get(line->rule, "of");
    const mb_json *op = mb_json_get(line->rule, "op");
    const mb_json *otherwise = mb_json_get(line->rule, "else");
    const char *field = mb_json_cstr(line->arena, mb_json_get(line->rule, "field"));
    struct mb_seen seen = { .arena = line->arena };
    const mb_json *value = NULL;

    if (mb_json_text_is(op, "count"))
        return count_all(line, story, kinds);
    if (mb_json_text_is(op, "sum"))
        return sum_all(line, story, kinds, field);
    if (mb_json_text_is(op, "rows"))
        return collect_rows(line, story, kinds);
    if (mb_json_text_is(op, "all"))
        value = collect_all(line, story, kinds, field);
    else
        value = search(line, story, kinds, field, line->in, mb_json_text_is(op, "latest"));
    if (value)
        return mb_json_true(mb_json_get(line->rule, "party")) ? party_label(line, &seen, value)
                                                                : mb_json_copy(line->arena, value);
    if (otherwise && !any_standing(line, story, kinds)) {
        mb_json *answer = mb_json_object(line->arena);

        mb_json_put_text(line->arena, answer, "answer",
                         mb_json_cstr(line->arena, otherwise));
        return answer;
    }
    return NULL;
}

static void add_line(mb_json *lines, struct line *line, const mb_story *own)
{
    const mb_json *unit = mb_json_get(line->rule, "unit");
    const mb_story *story;
    mb_json *value, *out;

    line->from = mb_json_array(line->arena);
    story = followed(line, own);
    value = story ? work_out(line, story) : NULL;
    if (!value)
        return;
    out = mb_json_add(lines, mb_json_object(line->arena));
    mb_json_put(line->arena, out, "name",
                mb_json_copy(line->arena, mb_json_get(line->rule, "name")));
    mb_json_put(line->arena, out, "value", value);
    if (unit && !mb_json_get(value, "answer"))
        mb_json_put(line->arena, out, "unit", mb_json_copy(line->arena, unit));
    mb_json_put(line->arena, out, "from", line->from);
}

mb_json *mb_statement_lines(mb_arena *arena, const mb_json *table, const mb_stories *stories,
                            struct mb_str specimen, int64_t before)
{
    const mb_story *own = mb_stories_of(stories, specimen);
    mb_json *lines = mb_json_array(arena);

    MB_JSON_EACH(rule, mb_json_get(table, "lines"))
    {
        struct line line = { .arena = arena, .stories = stories, .rule = rule, .before = before };

        if (!own || mb_json_text_is(mb_json_get(rule, "op"), "attested"))
            continue;
        mb_class_of(mb_json_str(mb_json_get(rule, "class")), &line.in);
        add_line(lines, &line, own);
    }
    return lines;
}
