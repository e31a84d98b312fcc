/*
 * Templates:
 *   {field}        its words; names in place of parties; "not recorded" if it is not there
 *   {a|b}          the first of them that says something
 *   {field#}       how many elements its list has
 *   {field*piece}  a number, or how many elements its list has, and the noun: 1 piece, 240 pieces
 *   {field.column} the different values of one column of its rows
 *   {@}            the entry that this one is about: entry #12
 *   [ ... ]        left out as a whole where one of its fields says nothing
 * The first letter is made a capital; a comma at the beginning is dropped.
 */
#include "sentence.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "kinds.h"
#include "text.h"

enum { PIECE_MOST = 120, SENTENCE_MOST = 400, WORDS_MOST = 1 << 21 };

struct template {
    const char *kind;
    const char *field, *is; /* only where the words of this field begin so; NULL: always */
    const char *text;
};

static const struct template templates[] = {
    { "founding", NULL, NULL, "Ledger {origin} founded[ by {name}]" },
    { "checkpoint-key", NULL, NULL, "New checkpoint key[ ({why})]" },
    { "key-enrolment", NULL, NULL, "Key added[ for {holder}][, may record {may}]" },
    { "key-retirement", NULL, NULL,
      "Key retired[ ({why})][, its entries in doubt from #{suspectFrom} on]" },

    { "party", NULL, NULL, "{name}[, {partyType}][ ({role})]" },
    { "site", NULL, NULL, "{siteName}[, {county}][, {stateProvince}][, {countryCode}]" },
    { "land-status", NULL, NULL,
      "Land: {landCategory}[, owner {surfaceOwner}][, managed by {landManager}][, from {from}]"
      "[ until {until}]" },
    { "horizon", NULL, NULL,
      "[{layerName}][, {formation}][, {member}][, {bed}][, {earliestStage}][ to {latestStage}]" },
    { "permission", "validUntil", "until ended",
      "Permission: {permissionType}[, given by {grantor}][ to {holder}][, from {validFrom}]"
      " until ended" },
    { "permission", NULL, NULL,
      "Permission: {permissionType}[, given by {grantor}][ to {holder}][, from {validFrom}]"
      "[ until {validUntil}]" },
    { "permission-change", NULL, NULL,
      "Permission {what}[ from {from}][ until {until}][, last day now {newValidUntil}]"
      "[, now held by {newHolder}]" },
    { "permission-report", NULL, NULL,
      "Report filed[ on {filedOn}][ with {to}][: {specimensReported*piece} reported]" },
    { "field-day", NULL, NULL,
      "Day in the field[ on {eventDate}][ at {site}][ with {recordedBy}]" },
    { "dealing", NULL, NULL, "{type}[, opened {opened}][, due back {dueBack}]" },
    { "placement", NULL, NULL, "{what#} put in {placeName|%}[ on {date}][ by {movedBy}]" },

    { "collecting", NULL, NULL,
      "Found[ by {recordedBy}][ on {eventDate}][ at {site}][ in {horizon}]"
      "[: {verbatimIdentification}][, {objectQuantity*piece}]" },
    { "arrival", NULL, NULL,
      "Came in[ from {receivedFrom|fromLabel}][ on {receivedOn}][ for {reason}]"
      "[: {statedIdentification}][, {objectQuantity*piece}]" },
    { "identification", NULL, NULL,
      "Identified[ by {identifiedBy}][ on {dateIdentified}]"
      "[ as {scientificName|vernacularName|verbatimIdentification}][, {whatItIs}][ ({sure})]" },
    { "numbering", NULL, NULL, "{numberType} number {number}[ given by {givenBy}][ on {date}]" },
    { "measurement", "recount", "", "Counted again[ on {on}][ by {by}]: {recount*piece}" },
    { "measurement", NULL, NULL, "{what}: {value} {unit}[, measured on {on}][ by {by}]" },
    { "preparation", NULL, NULL,
      "Worked on[ by {preparedBy}][ on {preparationDate}][: {steps.method}]" },
    { "condition", NULL, NULL, "Examined[ by {examinedBy}][ on {examinedOn}][ ({occasion})]" },
    { "custody", NULL, NULL,
      "Handed over[ by {from|fromLabel}][ to {to|toLabel}][ on {handedOver}][ for {reason}]"
      "[, due back {dueBack}]" },
    { "title", NULL, NULL,
      "Ownership passed[ from {from|fromLabel}][ to {to|toLabel}][ on {date}][ ({manner})]" },
    { "division", "side", "came out",
      "Came out of {parent}[ on {date}][ ({purpose})][, {objectQuantity*piece}]" },
    { "division", NULL, NULL,
      "Divided[ on {date}][ ({purpose})][ into {intoCount*new number}]"
      "[, {intoQuantity*piece} given out][, {remainder} left]" },
    { "descent", NULL, NULL, "Came out of {parent}[ on {date}][, {objectQuantity*piece}]" },
    { "joining", "side", "part", "Now part of {whole}[, since {date}][ ({why})]" },
    { "joining", NULL, NULL, "Joined[ on {date}] from {parts*part}[ ({why})]" },
    { "relation", NULL, NULL, "{relation} {other}[, as stated by {statedBy}]" },
    { "making", NULL, NULL, "{what} made[ from {takenFrom}][ by {madeBy}][ on {date}]" },
    { "loss", NULL, NULL, "{nature}[ on {date}][: {quantity*piece}]" },

    { "document", NULL, NULL, "Paper on file: {docType}[, {title}][, dated {docDate}]" },
    { "note", NULL, NULL, "Note: {text}" },
    { "claim", NULL, NULL,
      "Claim about {nature}, {status}[, by {by|byLabel}][, on {date}][; asks: {hold}]" },
    { "correction", "action", "void", "{@} struck out[: {action}][, because: {why}]" },
    { "correction", NULL, NULL, "{@} corrected[, because: {why}]" },
    { "erasure", NULL, NULL, "Fields of {@} erased[ ({ground})]" },
    { "certificate", NULL, NULL, "Certificate issued, audience {audience}[, to {to}]" },
    { "withdrawal", NULL, NULL, "Certificate of {@} withdrawn[ ({why})]" },
    { "countersign", NULL, NULL, "{@} signed by the other side[ as {role}][ ({how})]" },
};

static const struct {
    const char *kind, *field;
} event_fields[] = {
    { "collecting", "eventDate" },
    { "arrival", "receivedOn" },
    { "identification", "dateIdentified" },
    { "numbering", "date" },
    { "measurement", "on" },
    { "preparation", "preparationDate" },
    { "condition", "examinedOn" },
    { "custody", "handedOver" },
    { "title", "date" },
    { "division", "date" },
    { "descent", "date" },
    { "joining", "date" },
    { "relation", "date" },
    { "making", "date" },
    { "loss", "date" },
    { "document", "docDate" },
    { "note", "date" },
    { "claim", "date" },
    { "field-day", "eventDate" },
    { "dealing", "opened" },
    { "placement", "date" },
    { "permission", "signedOn" },
    { "permission-change", "from" },
    { "permission-report", "filedOn" },
    { "countersign", "signedOn" },
};

#define COUNT_OF(a) (sizeof(a) / sizeof *(a))

const char *mb_event_field(struct mb_str kind)
{
    for (size_t i = 0; i < COUNT_OF(event_fields); i++)
        if (mb_str_is(kind, event_fields[i].kind))
            return event_fields[i].field;
    return NULL;
}

bool mb_kind_is_own_act(struct mb_str kind)
{
    static const char *const acts[] = { "founding",   "checkpoint-key", "key-enrolment",
                                        "key-retirement", "correction", "erasure",
                                        "certificate", "withdrawal" };

    for (size_t i = 0; i < COUNT_OF(acts); i++)
        if (mb_str_is(kind, acts[i]))
            return true;
    return false;
}

/* ---- words ---- */

/* The text of {"ref":...}, {"answer":...}, {"entry":...} or an attachment's hash. */
static struct mb_str single(const mb_json *object)
{
    static const char *const names[] = { "ref", "answer", "entry" };
    const mb_json *file = mb_json_get(object, "file");

    if (mb_json_is(file, MB_JSON_STRING))
        return file->text;
    if (object->count == 1 && mb_json_is(object->first, MB_JSON_STRING))
        for (size_t i = 0; i < COUNT_OF(names); i++)
            if (mb_str_is(object->first->name, names[i]))
                return object->first->text;
    return (struct mb_str){ NULL, 0 };
}

static bool is_geometry(const mb_json *object)
{
    return mb_json_get(object, "type")
           && (mb_json_get(object, "coordinates") || mb_json_get(object, "geometries"));
}

static void add_words(struct mb_buf *buf, const mb_json *value);

static void add_object(struct mb_buf *buf, const mb_json *object)
{
    struct mb_str text = single(object);
    const mb_json *number = mb_json_get(object, "value"), *unit = mb_json_get(object, "unit");
    bool first = true;

    if (text.at) {
        mb_buf_add_str(buf, text);
        return;
    }
    if (object->count == 2 && number && unit) {
        add_words(buf, number);
        mb_buf_add_char(buf, ' ');
        add_words(buf, unit);
        return;
    }
    if (is_geometry(object))
        return;
    MB_JSON_EACH(member, object)
    {
        mb_buf_add_text(buf, first ? "" : ", ");
        mb_buf_add_str(buf, member->name);
        mb_buf_add_text(buf, ": ");
        add_words(buf, member);
        first = false;
    }
}

static void add_words(struct mb_buf *buf, const mb_json *value)
{
    switch (value->type) {
    case MB_JSON_NULL:
        break;
    case MB_JSON_FALSE:
        mb_buf_add_text(buf, "no");
        break;
    case MB_JSON_TRUE:
        mb_buf_add_text(buf, "yes");
        break;
    case MB_JSON_INTEGER:
        mb_buf_printf(buf, "%" PRId64, value->integer);
        break;
    case MB_JSON_NUMBER:
    case MB_JSON_STRING:
        mb_buf_add_str(buf, value->text);
        break;
    case MB_JSON_ARRAY:
        MB_JSON_EACH(child, value)
        {
            mb_buf_add_text(buf, child == value->first ? "" : "; ");
            add_words(buf, child);
        }
        break;
    case MB_JSON_OBJECT:
        add_object(buf, value);
        break;
    }
}

struct mb_str mb_words(mb_arena *arena, const mb_json *value)
{
    MB_BUF_AUTO struct mb_buf buf = { 0 };
    struct mb_str text = { NULL, 0 };

    if (!value || value->type == MB_JSON_NULL)
        return text;
    if (value->type == MB_JSON_STRING || value->type == MB_JSON_NUMBER)
        return value->text;
    if (value->type == MB_JSON_OBJECT) {
        text = single(value);
        if (text.at || is_geometry(value))
            return text;
    }
    mb_buf_init(&buf, WORDS_MOST);
    add_words(&buf, value);
    return buf.len ? mb_arena_str(arena, mb_buf_str(&buf)) : (struct mb_str){ "", 0 };
}

bool mb_value_is_answer(const mb_json *value)
{
    return mb_json_is(value, MB_JSON_OBJECT) && value->count == 1
           && mb_str_is(value->first->name, "answer");
}

bool mb_value_count(const mb_json *value, int64_t *out)
{
    int64_t number = 0;

    if (mb_json_is(value, MB_JSON_INTEGER)) {
        number = value->integer;
    } else {
        if (!mb_json_is(value, MB_JSON_STRING) || value->text.len == 0 || value->text.len > 13)
            return false;
        for (size_t i = 0; i < value->text.len; i++) {
            if (value->text.at[i] < '0' || value->text.at[i] > '9')
                return false;
            number = number * 10 + (value->text.at[i] - '0');
        }
    }
    if (number < 0 || number > MB_COUNT_MOST)
        return false;
    *out = number;
    return true;
}

bool mb_value_days(const mb_json *value, struct mb_days *out)
{
    return mb_json_is(value, MB_JSON_STRING) && mb_days_read(value->text, out);
}

/* ---- filling a template in ---- */

struct filling {
    mb_arena *arena;
    const struct mb_told *told;
    int64_t about;
    const struct mb_naming *naming;
    struct mb_buf *out;
};

static bool says_nothing(const mb_json *value)
{
    return !value || value->type == MB_JSON_NULL || mb_value_is_answer(value)
           || (value->type == MB_JSON_ARRAY && value->count == 0)
           || (value->type == MB_JSON_STRING
               && (value->text.len == 0 || mb_str_is(value->text, "none")
                   || mb_str_is(value->text, "not known")));
}

static void add_cut(struct mb_buf *out, struct mb_str text)
{
    size_t len = 0;

    while (len < text.len) {
        uint32_t code;
        size_t step =
            mb_utf8_next((struct mb_str){ text.at + len, text.len - len }, &code);

        if (step == 0 || len + step > PIECE_MOST)
            break;
        mb_buf_add(out, code == '\n' || code == '\t' ? " " : text.at + len,
                   code == '\n' || code == '\t' ? 1 : step);
        len += step;
    }
    if (len < text.len)
        mb_buf_add_text(out, "\xe2\x80\xa6");
}

static void add_one(struct filling *f, const mb_json *value)
{
    struct mb_str ref = mb_ref_of(value), name = { NULL, 0 };

    if (ref.at && f->naming)
        name = f->naming->name(f->naming->ctx, ref);
    add_cut(f->out, name.at ? name : mb_words(f->arena, value));
}

/* A list of names and words: a, b and c. */
static void add_list(struct filling *f, const mb_json *list)
{
    size_t left = list->count;

    MB_JSON_EACH(child, list)
    {
        if (list->count - left == 5 && left > 1) {
            mb_buf_printf(f->out, " and %zu more", left);
            return;
        }
        if (child != list->first)
            mb_buf_add_text(f->out, left == 1 ? " and " : ", ");
        add_one(f, child);
        left--;
    }
}

static void add_column(struct filling *f, const mb_json *rows, struct mb_str column)
{
    mb_json *seen = mb_json_array(f->arena);

    MB_JSON_EACH(row, rows)
    {
        const mb_json *cell = mb_json_get_str(row, column);
        bool known = !cell;

        MB_JSON_EACH(one, seen)
        {
            known = known || mb_json_equal(one, cell);
        }
        if (!known)
            mb_json_add(seen, mb_json_copy(f->arena, cell));
    }
    if (seen->count)
        add_list(f, seen);
}

static const mb_json *first_said(const struct filling *f, struct mb_str names)
{
    struct mb_str name, rest = names;

    while (rest.len) {
        char word[64];
        const mb_json *value;

        mb_str_cut(rest, '|', &name, &rest);
        snprintf(word, sizeof word, "%.*s", MB_STR_ARG(name));
        value = mb_told_field(f->told, word, NULL, NULL);
        if (!says_nothing(value))
            return value;
    }
    return NULL;
}

static bool counted(const mb_json *value, int64_t *number)
{
    if (value->type != MB_JSON_ARRAY)
        return mb_value_count(value, number);
    *number = value->count;
    return true;
}

/* One {field}; false if it says nothing. */
static bool add_field(struct filling *f, struct mb_str spec)
{
    struct mb_str name = spec, noun = { NULL, 0 }, column = { NULL, 0 };
    bool count_it = spec.len && spec.at[spec.len - 1] == '#';
    const mb_json *value;
    int64_t number;

    if (mb_str_is(spec, "@")) {
        if (f->about >= 0)
            mb_buf_printf(f->out, "entry #%" PRId64, f->about);
        else
            mb_buf_add_text(f->out, "an entry");
        return true;
    }
    if (count_it)
        name.len--;
    if (!mb_str_cut(name, '*', &name, &noun))
        mb_str_cut(name, '.', &name, &column);
    value = first_said(f, name);
    if (!value && name.len && name.at[name.len - 1] == '%') {
        mb_buf_add_str(f->out, f->told->entry->sub);
        return true;
    }
    if (!value)
        return false;
    if (count_it)
        mb_buf_printf(f->out, "%u", value->type == MB_JSON_ARRAY ? value->count : 1);
    else if (noun.len && counted(value, &number))
        mb_buf_printf(f->out, "%" PRId64 " %.*s%s", number, MB_STR_ARG(noun),
                      number == 1 ? "" : "s");
    else if (column.len)
        add_column(f, value, column);
    else if (value->type == MB_JSON_ARRAY)
        add_list(f, value);
    else
        add_one(f, value);
    return true;
}

static void fill(struct filling *f, const char *text)
{
    size_t group = 0;
    bool in_group = false, complete = true;

    for (const char *at = text; *at; at++) {
        if (*at == '[') {
            in_group = complete = true;
            group = f->out->len;
        } else if (*at == ']') {
            if (!complete)
                f->out->len = group;
            in_group = false;
        } else if (*at == '{') {
            const char *end = strchr(at, '}');
            bool said = add_field(f, (struct mb_str){ at + 1, (size_t)(end - at) - 1 });

            if (!said && !in_group)
                mb_buf_add_text(f->out, "not recorded");
            complete = complete && said;
            at = end;
        } else {
            mb_buf_add_char(f->out, *at);
        }
    }
}

static const char *template_of(const struct mb_told *told)
{
    for (size_t i = 0; i < COUNT_OF(templates); i++) {
        const struct template *t = &templates[i];
        const mb_json *value;

        if (!mb_str_is(told->entry->kind, t->kind))
            continue;
        if (!t->field)
            return t->text;
        value = mb_told_field(told, t->field, NULL, NULL);
        if (value && (t->is[0] == '\0' ? !says_nothing(value)
                                       : mb_str_starts(mb_json_str(value), t->is)))
            return t->text;
    }
    return NULL;
}

/* Without what a left-out group left behind, and with a capital. */
static struct mb_str tidy(mb_arena *arena, struct mb_str text)
{
    char *copy;

    while (text.len && strchr(", :;", text.at[0]))
        text = (struct mb_str){ text.at + 1, text.len - 1 };
    while (text.len && strchr(" ,:", text.at[text.len - 1]))
        text.len--;
    if (text.len > SENTENCE_MOST) {
        text.len = SENTENCE_MOST;
        while (text.len && ((unsigned char)text.at[text.len] & 0xc0) == 0x80)
            text.len--;
    }
    copy = mb_arena_copy(arena, text.at, text.len);
    if (text.len && copy[0] >= 'a' && copy[0] <= 'z')
        copy[0] = (char)(copy[0] - 'a' + 'A');
    return (struct mb_str){ copy, text.len };
}

bool mb_sentence_knows(struct mb_str kind)
{
    for (size_t i = 0; i < COUNT_OF(templates); i++)
        if (mb_str_is(kind, templates[i].kind))
            return true;
    return false;
}

struct mb_str mb_sentence(mb_arena *arena, const struct mb_told *told, int64_t about,
                          const struct mb_naming *naming)
{
    MB_BUF_AUTO struct mb_buf buf;
    struct filling f = { arena, told, about, naming, &buf };
    const char *text = template_of(told);
    const struct mb_kind *kind;
    struct mb_str out = { NULL, 0 };

    mb_buf_init(&buf, 1 << 16);
    if (text) {
        fill(&f, text);
        out = tidy(arena, mb_buf_str(&buf));
    }
    if (out.len)
        return out;
    kind = mb_kind_find(told->entry->kind);
    return kind ? mb_str_of(kind->title) : told->entry->kind;
}
