#include "value_scalar.h"

#include <string.h>
#include <strings.h>

#include "codec.h"
#include "date.h"
#include "decimal.h"
#include "note.h"
#include "text.h"

enum { OFFERED = 12, TAXON_MOST = 120, TAXON_WORDS = 12 };

static enum mb_rc give(const struct mb_value_in *in, struct mb_str text, mb_json **out)
{
    *out = mb_json_string_str(in->arena, text);
    return MB_OK;
}

/* ---- text and its checked forms ---- */

/* Line ends as other systems write them become plain ones. */
static struct mb_str plain_lines(mb_arena *arena, struct mb_str text)
{
    char *copy, *to;

    if (text.len == 0 || !memchr(text.at, '\r', text.len))
        return text;
    copy = to = mb_arena_copy(arena, text.at, text.len);
    for (size_t i = 0; i < text.len; i++) {
        if (text.at[i] == '\r' && i + 1 < text.len && text.at[i + 1] == '\n')
            continue;
        *to++ = text.at[i];
    }
    return (struct mb_str){ copy, (size_t)(to - copy) };
}

static enum mb_rc read_text(const struct mb_value_in *in, struct mb_str typed, mb_json **out,
                            struct mb_error *err)
{
    typed = plain_lines(in->arena, typed);
    if (typed.len > MB_VALUE_TEXT_MAX)
        return mb_fail(err, MB_REFUSED, "it is longer than %d bytes; attach it as a file",
                       MB_VALUE_TEXT_MAX);
    if (!mb_text_allowed(typed, true))
        return mb_fail(err, MB_REFUSED,
                       "it holds bytes that are no UTF-8, or characters that cannot be seen;"
                       " type it again");
    return give(in, typed, out);
}

static bool is_letter(uint32_t code)
{
    return (code >= 'A' && code <= 'Z') || (code >= 'a' && code <= 'z')
           || (code >= 0xc0 && code <= 0x24f && code != 0xd7 && code != 0xf7);
}

/* A hybrid's cross, and the marks of abbreviation, doubt and subgenus. */
static bool is_taxon_mark(uint32_t code)
{
    return code == 0xd7 || (code < 0x80 && code != 0 && strchr(" .-()?\"'", (int)code));
}

/* The international codes write names in Latin letters; marks of doubt and of new names stand
 * between them. Author and year are no part: an open field holds no person's name. */
static enum mb_rc read_taxon(const struct mb_value_in *in, struct mb_str typed, mb_json **out,
                             struct mb_error *err)
{
    struct mb_str rest = typed;
    size_t words = 1;
    bool letters = false, good = typed.len <= TAXON_MOST;
    uint32_t code;

    while (good && rest.len > 0) {
        size_t len = mb_utf8_next(rest, &code);

        letters |= len > 0 && is_letter(code);
        words += code == ' ';
        good = len > 0 && (is_letter(code) || is_taxon_mark(code));
        rest.at += len;
        rest.len -= len;
    }
    if (!good || !letters || words > TAXON_WORDS)
        return mb_fail(err, MB_REFUSED,
                       "'%.*s' is no scientific name; write it without author and year, like"
                       " Uintacrinus socialis",
                       MB_STR_ARG(typed));
    return give(in, typed, out);
}

static bool cut_prefix(struct mb_str *s, const char *prefix)
{
    size_t len = strlen(prefix);

    if (s->len < len || strncasecmp(s->at, prefix, len) != 0)
        return false;
    *s = (struct mb_str){ s->at + len, s->len - len };
    return true;
}

/* "10." registrant "/" suffix (DOI Handbook 2.2), in printable ASCII. */
static enum mb_rc read_doi(const struct mb_value_in *in, struct mb_str typed, mb_json **out,
                           struct mb_error *err)
{
    struct mb_str doi = typed;
    size_t digits = 0;
    bool good;

    if (!cut_prefix(&doi, "https://doi.org/"))
        cut_prefix(&doi, "doi:");
    good = doi.len < 256 && mb_str_starts(doi, "10.");
    while (good && 3 + digits < doi.len && doi.at[3 + digits] >= '0' && doi.at[3 + digits] <= '9')
        digits++;
    good = good && digits >= 4 && digits <= 9 && doi.len > 4 + digits && doi.at[3 + digits] == '/';
    for (size_t i = 0; good && i < doi.len; i++)
        good = doi.at[i] > ' ' && doi.at[i] < 0x7f;
    if (!good)
        return mb_fail(err, MB_REFUSED, "'%.*s' is no DOI; write it like 10.1000/182",
                       MB_STR_ARG(typed));
    return give(in, doi, out);
}

static enum mb_rc read_hash(const struct mb_value_in *in, struct mb_str typed, mb_json **out,
                            struct mb_error *err)
{
    struct mb_hash hash;

    if (!mb_b64u_read_exact(typed, hash.b, sizeof hash.b))
        return mb_fail(err, MB_REFUSED, "'%.*s' is no hash: 43 characters of base64url",
                       MB_STR_ARG(typed));
    return give(in, typed, out);
}

static enum mb_rc read_vkey(const struct mb_value_in *in, struct mb_str typed, mb_json **out,
                            struct mb_error *err)
{
    struct mb_vkey vkey;
    enum mb_rc rc = mb_vkey_read(typed, &vkey, err);

    return rc ? rc : give(in, typed, out);
}

static enum mb_rc read_origin(const struct mb_value_in *in, struct mb_str typed, mb_json **out,
                              struct mb_error *err)
{
    if (!mb_origin_ok(typed))
        return mb_fail(err, MB_REFUSED,
                       "'%.*s' is no origin of a ledger; write it like ledger.example.org",
                       MB_STR_ARG(typed));
    return give(in, typed, out);
}

static bool is_b64u_char(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-'
           || c == '_';
}

/* Three runs of base64url between points (RFC 7515 section 7.1). */
static enum mb_rc read_jws(const struct mb_value_in *in, struct mb_str typed, mb_json **out,
                           struct mb_error *err)
{
    size_t points = 0;
    bool good = typed.len > 4;

    for (size_t i = 0; good && i < typed.len; i++) {
        points += typed.at[i] == '.';
        good = typed.at[i] == '.' || is_b64u_char(typed.at[i]);
    }
    if (!good || points != 2)
        return mb_fail(err, MB_REFUSED, "it is no signed statement in compact form (JWS)");
    return give(in, typed, out);
}

static enum mb_rc read_fraction(const struct mb_value_in *in, struct mb_str typed, mb_json **out,
                                struct mb_error *err)
{
    struct mb_str above, below;
    int64_t a, b;
    bool good = mb_str_cut(typed, '/', &above, &below) && above.len <= 6 && below.len <= 6
                && mb_decimal_ok(above) && mb_decimal_ok(below) && mb_decimal_nano(above, &a)
                && mb_decimal_nano(below, &b) && !memchr(typed.at, '.', typed.len) && a > 0
                && a <= b;

    if (!good)
        return mb_fail(err, MB_REFUSED, "'%.*s' is no part of a whole; write it like 1/2",
                       MB_STR_ARG(typed));
    return give(in, typed, out);
}

/* ---- numbers ---- */

static enum mb_rc check_bounds(const struct mb_kind_field *field, struct mb_str number,
                               struct mb_error *err)
{
    if (field->min.at && mb_decimal_compare(number, field->min) < 0)
        return mb_fail(err, MB_REFUSED, "'%.*s' is below %s, the least it can be",
                       MB_STR_ARG(number), field->min.at);
    if (field->max.at && mb_decimal_compare(number, field->max) > 0)
        return mb_fail(err, MB_REFUSED, "'%.*s' is above %s, the most it can be",
                       MB_STR_ARG(number), field->max.at);
    return MB_OK;
}

/* How a number that is none is mended. */
static const char *number_hint(struct mb_str typed, bool whole)
{
    bool comma = memchr(typed.at, ',', typed.len), point = memchr(typed.at, '.', typed.len);

    if (comma && !point)
        return whole ? "write it without commas, like 1512" : "write it with a point, like 12.5";
    if (comma)
        return "write it without commas, like 1512.5";
    return whole ? "write a whole number, like 240" : "write digits with a point, like 12.50";
}

static enum mb_rc read_integer(const struct mb_value_in *in, const struct mb_kind_field *field,
                               struct mb_str typed, mb_json **out, struct mb_error *err)
{
    int64_t number = 0;
    bool good = mb_decimal_ok(typed) && !memchr(typed.at, '.', typed.len) && typed.len <= 16;
    enum mb_rc rc;

    if (!good)
        return mb_fail(err, MB_REFUSED, "'%.*s' is no count; %s", MB_STR_ARG(typed),
                       number_hint(typed, true));
    rc = check_bounds(field, typed, err);
    if (rc)
        return rc;
    if (typed.at[0] == '-')
        return mb_fail(err, MB_REFUSED, "'%.*s' is below 0, the least it can be",
                       MB_STR_ARG(typed));
    for (size_t i = 0; i < typed.len; i++)
        number = number * 10 + (typed.at[i] - '0');
    if (number > MB_JSON_INTEGER_MAX)
        return mb_fail(err, MB_REFUSED, "'%.*s' is more than can be counted here",
                       MB_STR_ARG(typed));
    *out = mb_json_integer(in->arena, number);
    return MB_OK;
}

static const char *unit_of(const struct mb_words *units, struct mb_str typed)
{
    const char *found = NULL;

    for (size_t i = 0; i < units->count; i++)
        if (mb_str_is(typed, units->at[i]))
            return units->at[i];
    for (size_t i = 0; i < units->count; i++)
        if (strlen(units->at[i]) == typed.len
            && strncasecmp(units->at[i], typed.at, typed.len) == 0)
            found = units->at[i];
    return found;
}

static enum mb_rc wrong_unit(const struct mb_value_in *in, const struct mb_kind_field *field,
                             struct mb_str typed, struct mb_str unit, struct mb_error *err)
{
    if (field->unit_in)
        return mb_fail(err, MB_REFUSED, "'%.*s': write the number here and its unit under %s",
                       MB_STR_ARG(typed), field->unit_in);
    if (field->units.count == 0)
        return mb_fail(err, MB_REFUSED, "'%.*s': write the number alone, it has no unit here",
                       MB_STR_ARG(typed));
    if (unit.len == 0)
        return mb_fail(err, MB_REFUSED, "'%.*s' has no unit; write it behind the number: %s",
                       MB_STR_ARG(typed),
                       mb_kinds_join(in->arena, field->units.at, field->units.count, OFFERED));
    return mb_fail(err, MB_REFUSED, "'%.*s' is no unit of this; allowed: %s", MB_STR_ARG(unit),
                   mb_kinds_join(in->arena, field->units.at, field->units.count, OFFERED));
}

static enum mb_rc read_decimal(const struct mb_value_in *in, const struct mb_kind_field *field,
                               struct mb_str typed, mb_json **out, struct mb_error *err)
{
    struct mb_str number = typed, rest;
    const char *unit = NULL;
    size_t at = 0;
    enum mb_rc rc;

    while (at < typed.len && memchr("+-0123456789.,", typed.at[at], 14))
        at++;
    number.len = at;
    rest = mb_str_trim((struct mb_str){ typed.at + at, typed.len - at });
    if (!mb_decimal_ok(number))
        return mb_fail(err, MB_REFUSED, "'%.*s' is no number; %s", MB_STR_ARG(typed),
                       number_hint(number, false));
    if (rest.len > 0)
        unit = unit_of(&field->units, rest);
    if ((rest.len > 0 && !unit) || (rest.len == 0 && field->units.count > 1))
        return wrong_unit(in, field, typed, rest, err);
    rc = check_bounds(field, number, err);
    if (rc || field->units.count < 2)
        return rc ? rc : give(in, number, out);
    *out = mb_json_object(in->arena);
    mb_json_put_text(in->arena, *out, "unit", unit);
    mb_json_put(in->arena, *out, "value", mb_json_string_str(in->arena, number));
    return MB_OK;
}

/* ---- days, choices, yes and no ---- */

/* What somebody may have meant who wrote a date in another way. */
static const char *date_hint(struct mb_str typed)
{
    bool digits = typed.len > 0, other_order = false;

    for (size_t i = 0; i < typed.len; i++) {
        digits = digits && typed.at[i] >= '0' && typed.at[i] <= '9';
        other_order = other_order || typed.at[i] == '.'
                      || (typed.at[i] == '/' && (i < 7 || typed.at[4] != '-'));
    }
    if (digits && typed.len == 5)
        return "it looks like the number that a spreadsheet has for a day; have the column shown"
               " as 2026-05-02";
    if (other_order)
        return "write the year, the month and the day, like 2026-05-02";
    return memchr(typed.at, '/', typed.len)
               ? "write the first day, then the last: 2026-05-02/2026-05-04"
               : "write 2026-05-02, 2026-05 or 2026";
}

static enum mb_rc read_date(const struct mb_value_in *in, const struct mb_kind_field *field,
                            struct mb_str typed, mb_json **out, struct mb_error *err)
{
    struct mb_days days;

    if (!mb_days_read(typed, &days))
        return mb_fail(err, MB_REFUSED, "'%.*s' is no date; %s", MB_STR_ARG(typed),
                       date_hint(typed));
    if (!field->future && days.first > in->today + 1)
        return mb_fail(err, MB_REFUSED,
                       "'%.*s' is in the future; today is %s", MB_STR_ARG(typed),
                       mb_day_write(in->arena, in->today));
    return give(in, typed, out);
}

static bool same_word(const char *word, struct mb_str typed)
{
    return word && strlen(word) == typed.len && strncasecmp(word, typed.at, typed.len) == 0;
}

int mb_scalar_choice(const struct mb_choices *choices, struct mb_str typed)
{
    int found = mb_choice_find(choices, typed);

    for (size_t i = 0; found < 0 && choices && i < choices->ids.count; i++)
        if (same_word(choices->ids.at[i], typed))
            found = (int)i;
    for (size_t i = 0; found < 0 && choices && choices->titles && i < choices->ids.count; i++)
        if (same_word(choices->titles[i], typed))
            found = (int)i;
    return found;
}

/* The only one of the words that holds the text, at its beginning or anywhere. */
static const char *only_with(const struct mb_words *ids, struct mb_str typed, bool anywhere)
{
    const char *found = NULL, *text;
    char part[64];

    if (typed.len < 3 || typed.len >= sizeof part)
        return NULL;
    memcpy(part, typed.at, typed.len);
    part[typed.len] = '\0';
    for (size_t i = 0; i < ids->count; i++) {
        text = strcasestr(ids->at[i], part);
        if (!text || (!anywhere && text != ids->at[i]))
            continue;
        if (found)
            return NULL;
        found = ids->at[i];
    }
    return found;
}

const char *mb_scalar_near(const struct mb_words *ids, struct mb_str typed)
{
    const char *near = mb_nearest(typed, ids->at, ids->count);

    if (!near)
        near = only_with(ids, typed, false);
    return near ? near : only_with(ids, typed, true);
}

static enum mb_rc no_choice(mb_arena *arena, const char *kind, const struct mb_kind_field *field,
                            struct mb_str typed, struct mb_error *err)
{
    size_t ids = field->choices->ids.count, all = ids + field->answers.count;
    struct mb_words words = { MB_ARRAY(arena, all, const char *), all };
    const char *near;

    memcpy(words.at, field->choices->ids.at, ids * sizeof *words.at);
    if (field->answers.count)
        memcpy(words.at + ids, field->answers.at, field->answers.count * sizeof *words.at);
    near = mb_scalar_near(&words, typed);
    return mb_fail(err, MB_REFUSED, "'%.*s' is none of its values%s%s%s; allowed: %s%s%s%s",
                   MB_STR_ARG(typed), near ? " (did you mean '" : "", near ? near : "",
                   near ? "'?)" : "", mb_kinds_join(arena, words.at, all, OFFERED),
                   all > OFFERED && kind ? "; see `markerbed record " : "",
                   all > OFFERED && kind ? kind : "", all > OFFERED && kind ? " --help`" : "");
}

static enum mb_rc read_choice(const struct mb_value_in *in, const struct mb_kind_field *field,
                              struct mb_str typed, mb_json **out, struct mb_error *err)
{
    int found = mb_scalar_choice(field->choices, typed);

    if (found < 0)
        return no_choice(in->arena, in->kind, field, typed, err);
    *out = mb_json_string(in->arena, field->choices->ids.at[found]);
    return MB_OK;
}

enum mb_rc mb_value_choice(mb_arena *arena, const struct mb_kind_field *field,
                           struct mb_str typed, mb_json **out, struct mb_error *err)
{
    const struct mb_value_in in = { .arena = arena };

    return read_choice(&in, field, typed, out, err);
}

static enum mb_rc read_boolean(const struct mb_value_in *in, struct mb_str typed, mb_json **out,
                               struct mb_error *err)
{
    bool yes = same_word("yes", typed) || same_word("true", typed);

    if (!yes && !same_word("no", typed) && !same_word("false", typed))
        return mb_fail(err, MB_REFUSED, "'%.*s' is neither yes nor no", MB_STR_ARG(typed));
    *out = mb_json_bool(in->arena, yes);
    return MB_OK;
}

enum mb_rc mb_scalar_read(const struct mb_value_in *in, const struct mb_kind_field *field,
                          enum mb_value_type type, struct mb_str typed, mb_json **out,
                          struct mb_error *err)
{
    switch (type) {
    case MB_V_TEXT:
        return read_text(in, typed, out, err);
    case MB_V_DATE:
        return read_date(in, field, typed, out, err);
    case MB_V_DECIMAL:
        return read_decimal(in, field, typed, out, err);
    case MB_V_INTEGER:
        return read_integer(in, field, typed, out, err);
    case MB_V_CHOICE:
        return read_choice(in, field, typed, out, err);
    case MB_V_TAXON:
        return read_taxon(in, typed, out, err);
    case MB_V_DOI:
        return read_doi(in, typed, out, err);
    case MB_V_HASH:
    case MB_V_DIGEST:
        return read_hash(in, typed, out, err);
    case MB_V_VKEY:
        return read_vkey(in, typed, out, err);
    case MB_V_ORIGIN:
        return read_origin(in, typed, out, err);
    case MB_V_FRACTION:
        return read_fraction(in, typed, out, err);
    case MB_V_JWS:
        return read_jws(in, typed, out, err);
    case MB_V_BOOLEAN:
        return read_boolean(in, typed, out, err);
    default:
        return mb_fail(err, MB_REFUSED, "a %s cannot be typed; give it as JSON",
                       mb_value_type_name[type]);
    }
}

struct mb_str mb_scalar_typed(mb_arena *arena, const mb_json *json)
{
    switch (json->type) {
    case MB_JSON_INTEGER:
        return mb_str_of(mb_arena_printf(arena, "%lld", (long long)json->integer));
    case MB_JSON_TRUE:
        return MB_STR("yes");
    case MB_JSON_FALSE:
        return MB_STR("no");
    default:
        return json->text; /* of texts and other numbers */
    }
}
