#include "substance.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "text.h"

const char *const mb_substance_words[MB_SUBSTANCES] = {
    "original", "repaired", "filled", "restored", "replica", "foreign", "unexamined",
};

const char *const mb_surface_words[MB_SURFACES] = {
    "bare", "consolidated", "coated", "inpainted", "overpainted", "reworked",
};

const char *const mb_how_words[MB_HOWS] = { "outline", "points", "estimate" };

const char *const mb_band_words[MB_BANDS] = {
    "none seen", "under 5", "5-10", "10-25", "25-50", "over 50",
};

const char *const mb_extent_words[MB_EXTENTS] = { "none seen", "in places", "throughout" };

const char *const mb_through_words[MB_THROUGHS] = { "fossil", "rock", "both" };

const char *const mb_setting_words[MB_SETTINGS] = {
    "own rock", "reset in its own rock", "reset in other rock", "freed", "mounted", "not known",
};

const char *const mb_association_words[MB_ASSOCIATIONS] = {
    "found together",
    "same layer, placed together",
    "different place, placed together",
    "not known",
};

const enum mb_substance mb_substance_precedence[MB_SUBSTANCES] = {
    MB_SUBSTANCE_REPLICA,    MB_SUBSTANCE_RESTORED, MB_SUBSTANCE_FILLED,   MB_SUBSTANCE_FOREIGN,
    MB_SUBSTANCE_UNEXAMINED, MB_SUBSTANCE_REPAIRED, MB_SUBSTANCE_ORIGINAL,
};

enum mb_sum mb_substance_sum(enum mb_substance substance)
{
    switch (substance) {
    case MB_SUBSTANCE_ORIGINAL:
    case MB_SUBSTANCE_REPAIRED:
        return MB_SUM_ORIGINAL;
    case MB_SUBSTANCE_UNEXAMINED:
        return MB_SUM_UNEXAMINED;
    default:
        return MB_SUM_NOT_ORIGINAL;
    }
}

static bool same_word(struct mb_str a, const char *b)
{
    size_t len = strlen(b);

    if (a.len != len)
        return false;
    for (size_t i = 0; i < len; i++)
        if (tolower((unsigned char)a.at[i]) != tolower((unsigned char)b[i]))
            return false;
    return true;
}

enum mb_rc mb_word_find(struct mb_str word, const char *what, const char *const *words,
                        size_t count, size_t *out, struct mb_error *err)
{
    char list[400];
    size_t len = 0;
    const char *near;

    for (size_t i = 0; i < count; i++) {
        if (same_word(word, words[i])) {
            *out = i;
            return MB_OK;
        }
        if (len < sizeof list)
            len += (size_t)snprintf(list + len, sizeof list - len, "%s%s", i ? ", " : "", words[i]);
    }
    near = mb_nearest(word, words, count);
    return mb_fail(err, MB_REFUSED, "%s '%.*s' is none of: %s%s%s%s", what,
                   word.len < 60 ? (int)word.len : 60, word.at ? word.at : "", list,
                   near ? "; did you mean " : "", near ? near : "", near ? "?" : "");
}
