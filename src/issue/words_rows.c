#include "words_rows.h"

#include <string.h>

#include "buf.h"
#include "kinds.h"
#include "text.h"
#include "words.h"

#define WORDS_MAX (64u << 20) /* no certificate is longer */

const char *mb_words_member(mb_arena *arena, const mb_json *row, const char *name)
{
    const mb_json *value = mb_json_get(row, name);
    char *text = value ? mb_words_value(arena, value) : NULL;

    return text && *text ? text : NULL;
}

static bool says(const mb_json *row, const char *name, const char *word)
{
    return mb_json_text_is(mb_json_get(row, name), word);
}

/* Appends "BEFORE text AFTER" to a list divided by commas, where there is a text. */
static char *with(mb_arena *arena, char *out, const char *before, const char *text,
                  const char *after)
{
    if (!text || strcmp(text, "none") == 0)
        return out;
    return mb_arena_printf(arena, "%s%s%s%s%s", out, *out ? ", " : "", before, text, after);
}

/* The same of a member of a row. */
static char *and_of(mb_arena *arena, char *out, const char *before, const mb_json *row,
                    const char *name, const char *after)
{
    return with(arena, out, before, mb_words_member(arena, row, name), after);
}

char *mb_words_amount(mb_arena *arena, const mb_json *row)
{
    const char *percent = mb_words_member(arena, row, "percent");
    const char *low = mb_words_member(arena, row, "low");
    const char *high = mb_words_member(arena, row, "high");
    const char *band = mb_words_member(arena, row, "band");
    const char *extent = mb_words_member(arena, row, "extent");

    if (band)
        return mb_arena_printf(arena, strcmp(band, "none seen") == 0 ? "%s" : "%s %%", band);
    if (extent)
        return mb_arena_text(arena, extent);
    if (says(row, "how", "estimate"))
        return mb_arena_text(arena, "estimated, without a band");
    if (percent && high && strcmp(percent, "0.0") == 0)
        return mb_arena_printf(arena, "none found, but it could be up to %s %%", high);
    if (percent && low && high)
        return mb_arena_printf(arena, "%s %%, between %s and %s", percent, low, high);
    return percent ? mb_arena_printf(arena, "%s %%, range not given", percent)
                   : mb_arena_text(arena, "amount not given");
}

char *mb_words_how(mb_arena *arena, const mb_json *row)
{
    const char *n = mb_words_member(arena, row, "n");

    if (says(row, "how", "outline"))
        return mb_arena_text(arena, "drawn on the photo and measured");
    if (says(row, "how", "points"))
        return n ? mb_arena_printf(arena, "counted at %s points", n)
                 : mb_arena_text(arena, "counted at points");
    if (says(row, "how", "estimate"))
        return mb_arena_text(arena, "estimated by eye");
    return mb_arena_text(arena, "how it was obtained is not given");
}

static char *share_words(mb_arena *arena, const mb_json *row)
{
    const char *substance = mb_words_member(arena, row, "substance");
    char *out = mb_arena_printf(arena, "%s: %s", substance ? substance : "not named",
                                mb_words_amount(arena, row));

    out = and_of(arena, out, "", row, "individual", "");
    out = and_of(arena, out, "", row, "element", "");
    out = and_of(arena, out, "view ", row, "view", "");
    return with(arena, out, "", mb_words_how(arena, row), "");
}

static char *surface_words(mb_arena *arena, const mb_json *row)
{
    const char *surface = mb_words_member(arena, row, "surface");
    const char *on = mb_words_member(arena, row, "on");
    char *out = mb_arena_printf(arena, "%s%s%s: %s", surface ? surface : "not named",
                                on ? " on " : "", on ? on : "", mb_words_amount(arena, row));

    out = and_of(arena, out, "", row, "individual", "");
    out = and_of(arena, out, "", row, "element", "");
    return and_of(arena, out, "view ", row, "view", "");
}

static char *join_words(mb_arena *arena, const mb_json *row)
{
    const char *count = mb_words_member(arena, row, "count");
    const char *through = mb_words_member(arena, row, "through");
    bool one = count && strcmp(count, "1") == 0, both = through && strcmp(through, "both") == 0;
    char *out = mb_arena_printf(arena, "%s %s through %s", count ? count : "number not given:",
                                one ? "mended break" : "mended breaks",
                                both      ? "fossil and rock"
                                : through ? through
                                          : "what is not given");

    out = and_of(arena, out, "", row, "lengthMm", " mm long together");
    out = and_of(arena, out, "widest gap ", row, "widestGapMm", " mm");
    out = and_of(arena, out, "", row, "cause", "");
    return and_of(arena, out, "set with ", row, "adhesive", "");
}

/* "in 2 pieces, joined, backed with nothing, edges broken": what was not asked is not said. */
static char *rock_words(mb_arena *arena, const mb_json *row)
{
    static const char *const asked[][3] = {
        { "tinted", "tinted", "not tinted" },
        { "carved", "carved or levelled", "not carved or levelled" },
    };
    const char *pieces = mb_words_member(arena, row, "pieces");
    const char *edges = mb_words_member(arena, row, "edges");
    bool one = pieces && strcmp(pieces, "1") == 0;
    char *out = mb_arena_text(arena, "");

    if (pieces)
        out = one ? mb_arena_text(arena, "the rock is one piece")
                  : mb_arena_printf(arena, "the rock is in %s pieces", pieces);
    if (!one && says(row, "joined", "yes"))
        out = with(arena, out, "", "joined to each other", "");
    else if (says(row, "joined", "yes") || says(row, "joined", "not known"))
        out = and_of(arena, out, "joined: ", row, "joined", "");
    out = and_of(arena, out, "backed with ", row, "backedWith", "");
    out = and_of(arena, out, "", row, "patchedPercent", " % patched");
    for (size_t i = 0; i < 2; i++) {
        const char *text = mb_words_member(arena, row, asked[i][0]);

        if (text)
            out = with(arena, out, "",
                       strcmp(text, "yes") == 0  ? asked[i][1]
                       : strcmp(text, "no") == 0 ? asked[i][2]
                                                 : mb_arena_printf(arena, "%s: %s", asked[i][1],
                                                                   text),
                       "");
    }
    if (edges && strcmp(edges, "not known") == 0)
        return with(arena, out, "", "edges not known", "");
    return with(arena, out, "", edges, " edges");
}

/* "2024-07-01: landowner's share, claimed by: landowner; open; until it is settled: do not sell" */
static char *claim_words(mb_arena *arena, const mb_json *row)
{
    const char *date = mb_words_member(arena, row, "date");
    const char *nature = mb_words_member(arena, row, "nature");
    const char *by = mb_words_member(arena, row, "byLabel");
    const char *status = mb_words_member(arena, row, "status");
    const char *hold = mb_words_member(arena, row, "hold");
    char *out = mb_arena_printf(arena, "%s: %s", date ? date : "day not given",
                                nature ? nature : "what is claimed is not given");

    if (by)
        out = mb_arena_printf(arena, "%s, claimed by: %s", out, by);
    if (status)
        out = mb_arena_printf(arena, "%s; %s", out, status);
    if (hold && strcmp(hold, "none") != 0)
        out = mb_arena_printf(arena, "%s; until it is settled: %s", out, hold);
    return out;
}

static char *individual_words(mb_arena *arena, const mb_json *row)
{
    char *out = and_of(arena, mb_arena_text(arena, ""), "", row, "label", "");

    out = and_of(arena, out, "", row, "name", "");
    out = and_of(arena, out, "", row, "association", "");
    out = and_of(arena, out, "setting: ", row, "setting", "");
    return and_of(arena, out, "shown by ", row, "shownBy", "");
}

static char *mark_words(mb_arena *arena, const mb_json *row)
{
    char *out = and_of(arena, mb_arena_text(arena, ""), "", row, "mark", "");

    out = and_of(arena, out, "", row, "where", "");
    return mb_json_get(row, "photo") ? out : with(arena, out, "", "no photo of it", "");
}

static char *size_words(mb_arena *arena, const mb_json *row)
{
    const char *which = mb_words_member(arena, row, "which");
    const char *value = mb_words_member(arena, row, "value");
    const char *unit = mb_words_member(arena, row, "unit");

    return mb_arena_printf(arena, "%s %s %s", which ? which : "size", value ? value : "not given",
                           unit ? unit : "");
}

static char *hazard_words(mb_arena *arena, const mb_json *row)
{
    const char *what = mb_words_member(arena, row, "what");
    const char *state = mb_words_member(arena, row, "state");
    const char *reading = mb_words_member(arena, row, "reading");
    const char *unit = mb_words_member(arena, row, "unit");
    char *out = mb_arena_printf(arena, "%s: %s", what ? what : "not named",
                                state ? state : "not given");

    if (reading)
        out = mb_arena_printf(arena, "%s %s %s", out, reading, unit ? unit : "");
    out = and_of(arena, out, "", row, "instrument", "");
    out = and_of(arena, out, "at ", row, "distance", "");
    return and_of(arena, out, "on ", row, "date", "");
}

static const struct mb_choices *choices_of(const char *name, const char *column)
{
    const struct mb_kind *kind = mb_kind_find(MB_STR("preparation"));
    const struct mb_kind_field *field = kind ? mb_kind_field(kind, mb_str_of(name)) : NULL;

    for (size_t i = 0; field && i < field->column_count; i++)
        if (mb_str_is(field->columns[i].name, column))
            return field->columns[i].choices;
    return NULL;
}

/* Of a list of the trade's words: in full, or marked as the recorder's own. */
static const char *listed(mb_arena *arena, const mb_json *row, const char *name, bool in_full)
{
    const struct mb_choices *choices = choices_of("steps", name);
    struct mb_str word = mb_json_str(mb_json_get(row, name));
    int at = choices && word.len ? mb_choice_find(choices, word) : -1;

    if (!word.len || !choices)
        return mb_words_member(arena, row, name);
    if (at < 0)
        return mb_arena_printf(arena, "%.*s (in the recorder's own words)", MB_STR_ARG(word));
    return in_full && choices->titles && choices->titles[at] ? choices->titles[at]
                                                             : mb_words_member(arena, row, name);
}

static char *step_words(mb_arena *arena, const mb_json *row)
{
    char *out = with(arena, mb_arena_text(arena, ""), "", listed(arena, row, "method", true), "");

    out = and_of(arena, out, "with ", row, "tool", "");
    out = with(arena, out, "medium: ", listed(arena, row, "medium", false), "");
    out = and_of(arena, out, "grain ", row, "grainUm", " µm");
    out = and_of(arena, out, "hardness ", row, "mohs", " Mohs");
    out = and_of(arena, out, "on a fossil of ", row, "fossilMohs", " Mohs");
    out = and_of(arena, out, "at ", row, "pressure", "");
    out = with(arena, out, "put in or on: ", listed(arena, row, "material", false), "");
    out = and_of(arena, out, "strength ", row, "strength", "");
    out = and_of(arena, out, "in ", row, "solvent", "");
    out = and_of(arena, out, "comes out with ", row, "removableWith", "");
    out = and_of(arena, out, "where: ", row, "where", "");
    return and_of(arena, out, "area ", row, "area", "");
}

static char *bath_words(mb_arena *arena, const mb_json *row)
{
    char *out = and_of(arena, mb_arena_text(arena, ""), "", row, "acid", " acid bath");

    out = and_of(arena, out, "", row, "percent", " %");
    out = and_of(arena, out, "buffered with ", row, "buffer", "");
    out = and_of(arena, out, "", row, "hoursIn", " h in");
    out = and_of(arena, out, "", row, "hoursRinse", " h of rinse");
    out = and_of(arena, out, "protected with ", row, "protectedWith", "");
    out = and_of(arena, out, "mass before ", row, "massBefore", "");
    return and_of(arena, out, "after ", row, "massAfter", "");
}

static char *made_words(mb_arena *arena, const mb_json *row)
{
    char *out = and_of(arena, mb_arena_text(arena, ""), "made part: ", row, "part", "");

    out = and_of(arena, out, "", row, "substance", "");
    out = and_of(arena, out, "made of ", row, "madeOf", "");
    out = and_of(arena, out, "shaped after: ", row, "basis", "");
    out = and_of(arena, out, "taken from ", row, "basisSpecimen", "");
    out = and_of(arena, out, "edge can be seen: ", row, "edgeVisible", "");
    return and_of(arena, out, "comes off: ", row, "removable", "");
}

static char *colour_words(mb_arena *arena, const mb_json *row)
{
    char *out = and_of(arena, mb_arena_text(arena, ""), "colour on ", row, "on", "");

    out = and_of(arena, out, "with ", row, "medium", "");
    out = and_of(arena, out, "layer between: ", row, "layerBetween", "");
    return and_of(arena, out, "where: ", row, "where", "");
}

static char *rock_work_words(mb_arena *arena, const mb_json *row)
{
    char *out = and_of(arena, mb_arena_text(arena, ""), "rock ", row, "what", "");

    return and_of(arena, out, "where: ", row, "where", "");
}

typedef char *row_fn(mb_arena *arena, const mb_json *row);

static char *each_row(mb_arena *arena, const mb_json *rows, row_fn *words, const char *before)
{
    struct mb_buf out;
    char *text;

    mb_buf_init(&out, WORDS_MAX);
    MB_JSON_EACH(row, rows)
    {
        if (row != rows->first)
            mb_buf_add_char(&out, '\n');
        mb_buf_add_text(&out, before);
        mb_buf_add_text(&out, mb_json_is(row, MB_JSON_OBJECT) && !mb_json_get(row, "answer")
                                  ? words(arena, row)
                                  : mb_words_value(arena, row));
    }
    text = mb_arena_copy(arena, mb_buf_str(&out).at, mb_buf_str(&out).len);
    mb_buf_done(&out);
    return text;
}

/* One sitting: the day and whose work it was, then a line for each thing done. */
static char *sitting_words(mb_arena *arena, const mb_json *row)
{
    static const struct {
        const char *name;
        row_fn *words;
    } parts[] = {
        { "steps", step_words },   { "baths", bath_words },       { "madeParts", made_words },
        { "colour", colour_words }, { "rockWork", rock_work_words },
    };
    const char *day = mb_words_member(arena, row, "preparationDate");
    const char *whose = mb_words_member(arena, row, "whose");
    const char *lost = mb_words_member(arena, row, "lostInWork");
    char *out;

    if (day && strcmp(day, "not known") == 0)
        day = "day not known";
    out = mb_arena_printf(arena, "%s%s%s", day ? day : "day not given", whose ? ": " : "",
                          whose ? whose : "");

    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        const mb_json *rows = mb_json_get(row, parts[i].name);

        if (mb_json_is(rows, MB_JSON_ARRAY))
            out = mb_arena_printf(arena, "%s\n%s", out,
                                  each_row(arena, rows, parts[i].words, "– "));
        else if (rows)
            out = mb_arena_printf(arena, "%s\n– %s: %s", out,
                                  mb_words_name(arena, mb_str_of(parts[i].name)),
                                  mb_words_value(arena, rows));
    }
    if (lost)
        out = mb_arena_printf(arena, "%s\n– lost in the work: %s", out, lost);
    return out;
}

static char *measurement_words(mb_arena *arena, const mb_json *row)
{
    const char *on = mb_words_member(arena, row, "on"), *what = mb_words_member(arena, row, "what");
    const char *value = mb_words_member(arena, row, "value");
    const char *unit = mb_words_member(arena, row, "unit");
    const char *recount = mb_words_member(arena, row, "recount");
    char *out = mb_arena_printf(arena, "%s: ", on ? on : "day not given");

    if (recount)
        return mb_arena_printf(arena, "%s%s pieces counted", out, recount);
    out = mb_arena_printf(arena, "%s%s %s%s%s", out, what ? what : "not named",
                          value ? value : "not given", unit ? " " : "", unit ? unit : "");
    out = and_of(arena, out, "to ", row, "accuracy", "");
    return and_of(arena, out, "", row, "how", "");
}

/* "at most 25 lb a day, each person" */
static char *limit_words(mb_arena *arena, const mb_json *row)
{
    const char *amount = mb_words_member(arena, row, "amount");
    const char *unit = mb_words_member(arena, row, "unit");
    const char *per = mb_words_member(arena, row, "per");
    char *out = mb_arena_printf(arena, "at most %s %s", amount ? amount : "(not given)",
                                unit ? unit : "");

    if (per)
        out = mb_arena_printf(arena, "%s %s%s", out, strcmp(per, "in all") == 0 ? "" : "per ",
                              per);
    out = and_of(arena, out, "", row, "what", "");
    out = and_of(arena, out, "", row, "material", "");
    return and_of(arena, out, "", row, "whose", "");
}

static char *handover_words(mb_arena *arena, const mb_json *row)
{
    const char *on = mb_words_member(arena, row, "handedOver");
    const char *from = mb_words_member(arena, row, "fromLabel");
    const char *to = mb_words_member(arena, row, "toLabel");
    char *out;

    if (!on)
        on = mb_words_member(arena, row, "date");
    out = mb_arena_printf(arena, "%s: from %s to %s", on ? on : "day not given",
                          from ? from : "(not given here)", to ? to : "(not given here)");
    out = and_of(arena, out, "", row, "reason", "");
    out = and_of(arena, out, "", row, "manner", "");
    out = and_of(arena, out, "conditions: ", row, "conditions", "");
    out = and_of(arena, out, "burdens: ", row, "burdens", "");
    return and_of(arena, out, "", row, "acknowledged", "");
}

char *mb_words_rows(mb_arena *arena, struct mb_str name, const mb_json *rows)
{
    static const struct {
        const char *name;
        row_fn *words;
    } lines[] = {
        { "shares", share_words },         { "surfaces", surface_words },
        { "joins", join_words },           { "rock", rock_words },
        { "individuals", individual_words }, { "identifyingMarks", mark_words },
        { "dimensions", size_words },      { "hazards", hazard_words },
        { "preparation", sitting_words },  { "custody", handover_words },
        { "title", handover_words },
        { "measurements", measurement_words }, { "limits", limit_words },
        { "claims", claim_words },
    };

    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        if (mb_str_is(name, lines[i].name))
            return each_row(arena, rows, lines[i].words, "");
    return NULL;
}
